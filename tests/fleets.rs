//! Generated fleets: the same for the same seed, plausible, and loaded whole.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

use chrono::NaiveDate;
use gudgeon_databases::Database;
use gudgeon_store::{FleetQuery, Post, Store};
use gudgeon_tests::generator::{Fleet, Types, load};

fn store(database: &Database) -> Store {
    Store::open(database.url(), false).unwrap()
}

fn database() -> Database {
    Database::fresh(|url| {
        Store::open(url, true).unwrap().migrate().unwrap();
    })
}

#[test]
fn one_seed_gives_one_fleet_and_a_larger_fleet_begins_with_the_smaller() {
    let database = database();
    let types = Types::put(&store(&database));
    let fleet = |seed, engines| -> Vec<Post> { Fleet::new(seed, engines, types.all()).collect() };
    let small = fleet(1, 20);
    assert_eq!(small, fleet(1, 20));
    assert_ne!(small, fleet(2, 20));
    assert_eq!(small, fleet(1, 40)[..small.len()]);
}

#[test]
fn a_fleet_is_loaded_whole_and_without_contradictions() {
    let database = database();
    let store = store(&database);
    let facts = load(&store, 7, 60);
    let kept = store.verify(&mut |_| {}).unwrap().unwrap().facts;
    // Of the facts beside those of the fleet, each activated one of three engine types.
    assert_eq!(usize::try_from(kept).unwrap(), facts + 3);
    let as_of = NaiveDate::from_ymd_opt(2026, 11, 25).unwrap();
    let query = FleetQuery { as_of, sight: None, status: None, after: None, limit: 100 };
    let rows = store.fleet(&query).unwrap();
    assert_eq!(rows.len(), 60);
    for (_, row) in rows {
        assert_eq!(row.conflicts, Vec::<String>::new(), "{row:?}");
    }
}

#[test]
fn all_of_these_pass_on_postgres_too() {
    gudgeon_tests::repeat_on_postgres();
}
