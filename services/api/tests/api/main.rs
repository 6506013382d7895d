//! The API over real HTTP: a server with a database of its own, and a client of a few lines.

#[cfg(test)]
mod access;
#[cfg(test)]
mod amendments;
#[cfg(test)]
mod calendars;
#[cfg(test)]
mod custody;
#[cfg(test)]
mod engine_types;
#[cfg(test)]
mod erasures;
#[cfg(test)]
mod evidence;
#[cfg(test)]
mod forecasts;
#[cfg(test)]
mod happenings;
#[cfg(test)]
mod hostile;
#[cfg(test)]
mod links;
#[cfg(test)]
mod outage;
#[cfg(test)]
mod owners;
#[cfg(test)]
mod pages_door;
#[cfg(test)]
mod parts;
#[cfg(test)]
mod photos;
#[cfg(test)]
mod readings;
#[cfg(test)]
mod report;
#[cfg(test)]
mod server;
#[cfg(test)]
mod story;
#[cfg(test)]
mod weeks;

#[test]
fn all_of_these_pass_on_postgres_too() {
    gudgeon_databases::repeat_on_postgres();
}
