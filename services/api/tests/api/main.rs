//! The API over real HTTP: a server with a temporary database file, and a client of a few lines.

#[cfg(test)]
mod access;
#[cfg(test)]
mod amendments;
#[cfg(test)]
mod engine_types;
#[cfg(test)]
mod happenings;
#[cfg(test)]
mod hostile;
#[cfg(test)]
mod pages_door;
#[cfg(test)]
mod server;
#[cfg(test)]
mod story;
