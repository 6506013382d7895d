//! Records and what they amount to: stories worked by hand, and what must hold for any records.

#[cfg(test)]
mod afresh;
#[cfg(test)]
mod applicability;
#[cfg(test)]
mod bench_shop;
#[cfg(test)]
mod doubles;
#[cfg(test)]
mod estimates;
#[cfg(test)]
mod evidence;
#[cfg(test)]
mod fleet;
#[cfg(test)]
mod fleet_facts;
#[cfg(test)]
mod happenings;
#[cfg(test)]
mod intervals;
#[cfg(test)]
mod on_condition;
#[cfg(test)]
mod part_lives;
#[cfg(test)]
mod parts;
#[cfg(test)]
mod permissions;
#[cfg(test)]
mod properties;
#[cfg(test)]
mod redone;
#[cfg(test)]
mod shelf;
#[cfg(test)]
mod steadied;
#[cfg(test)]
mod stories;
#[cfg(test)]
mod trends;
