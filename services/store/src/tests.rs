//! The store through its public calls, on a new database each time, of every kind.

mod anchored;
mod appends;
mod batches;
mod calendars;
mod chains;
mod custody;
mod databases;
mod deliveries;
mod erasures;
mod files;
mod fleet;
mod foresight;
mod graphs;
mod mails;
mod overview;
mod parts;
mod photos;
mod preferences;
mod priors;
mod raw;
mod readings;
mod sample;
mod servers;
mod suppressions;
mod tampering;
#[cfg(feature = "postgres-tls")]
mod tls;
mod together;
mod transfers;

pub(crate) use sample::migrate;

#[test]
fn all_of_these_pass_on_postgres_too() {
    gudgeon_databases::repeat_on_postgres();
}
