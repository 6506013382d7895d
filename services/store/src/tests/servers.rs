//! A `PostgreSQL` server: going away and coming back, its limits and its locks.

use super::sample::{Bench, Programme, engine, migrate, owner, party, post, registered, streams};
use crate::{Store, StoreError};
use diesel::prelude::*;
use diesel::sql_types::BigInt;
use gudgeon_databases::{Database, Server};
use std::num::NonZeroUsize;
use std::sync::Barrier;

fn bench() -> Bench {
    Bench::of(Database::postgres(migrate))
}

pub(super) fn unavailable<T>(done: &Result<T, StoreError>) {
    let error = done.as_ref().err();
    assert!(matches!(error, Some(StoreError::Unavailable(_))), "{error:?}");
}

#[test]
fn a_server_that_goes_away_is_missed_and_found_again() {
    let server = Server::start();
    let Bench { store, database } = Bench::of(Database::of_server(&server, migrate));
    store.append(&post(owner(1, 70)), &Programme).expect("stored");

    server.stop();
    unavailable(&store.party(party(70)));
    unavailable(&store.append(&post(owner(2, 71)), &Programme));
    unavailable(&Store::open(database.url(), false));

    server.start_again();
    store.append(&post(owner(2, 71)), &Programme).expect("stored once it is back");
    assert!(store.party(party(70)).expect("readable").is_some(), "what was stored is there");

    // Gone and back between two calls: nobody notices.
    server.stop();
    server.start_again();
    assert!(store.party(party(71)).expect("readable").is_some());
    store.append(&post(owner(3, 72)), &Programme).expect("stored");
}

#[test]
fn a_database_that_is_not_there_is_refused() {
    let url = bench().database.url().replace("/test_", "/no_test_");
    unavailable(&Store::open(&url, true));
}

#[test]
fn a_read_only_database_takes_nothing_for_now() {
    let bench = bench();
    let read_only = "DO $$ BEGIN EXECUTE format('ALTER DATABASE %I SET default_transaction_read_only = on', current_database()); END $$";
    bench.store.write(|conn| Ok(diesel::sql_query(read_only).execute(conn)?)).expect("set");
    let store = Store::open(bench.database.url(), false).expect("it opens");
    unavailable(&store.append(&post(owner(1, 70)), &Programme));
    assert_eq!(store.party(party(70)).expect("readable"), None);
}

#[derive(QueryableByName)]
struct Count {
    #[diesel(sql_type = BigInt)]
    count: i64,
}

#[test]
fn no_more_connections_are_opened_than_allowed() {
    let bench = bench();
    let max = NonZeroUsize::new(2).expect("not zero");
    let store = Store::open_with(bench.database.url(), false, max).expect("it opens");
    std::thread::scope(|scope| {
        for n in 1..=8 {
            let store = &store;
            scope.spawn(move || {
                store
                    .append(&post(registered(n, "2026-01-01", n, "0")), &Programme)
                    .expect("stored");
                store.engine(engine(n)).expect("readable").expect("there");
            });
        }
    });
    let open = "SELECT COUNT(*) AS count FROM pg_stat_activity WHERE datname = current_database()";
    let open = bench.store.read(|conn| Ok(diesel::sql_query(open).get_result::<Count>(conn)?));
    // Those two, and the one that is asking.
    assert_eq!(open.expect("readable").count, 3);
}

// Each holds one row and wants the other's: the server ends one of them, which is then tried again.
#[test]
fn of_two_that_wait_for_one_another_both_get_through() {
    let bench = bench();
    bench.append(owner(1, 70));
    bench.append(owner(2, 71));
    let both_hold_one = Barrier::new(2);
    std::thread::scope(|scope| {
        for turn in [false, true] {
            let (store, both_hold_one) = (&bench.store, &both_hold_one);
            scope.spawn(move || {
                let mut keys: Vec<i64> = streams(store).iter().map(|(key, _)| *key).collect();
                if turn {
                    keys.reverse();
                }
                let mut first_try = true;
                let done = store.write(|conn| {
                    for key in &keys {
                        let lock = format!("SELECT FROM stream WHERE id = {key} FOR UPDATE");
                        diesel::sql_query(lock).execute(conn)?;
                        if std::mem::take(&mut first_try) {
                            both_hold_one.wait();
                        }
                    }
                    Ok(())
                });
                done.expect("it got through");
            });
        }
    });
}
