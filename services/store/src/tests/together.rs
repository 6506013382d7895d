//! Several writers at once: whatever meets, the same facts give the same rows.

use super::sample::{
    Bench, NOW, Programme, TYPE, activated, aircraft, aircraft_registered, belt, engine, fact,
    fitted, hours, inspected, installed, migrate, owned, owner, party, post, read, registered,
    verify,
};
use crate::engines::{SpanRow, StatusRow};
use crate::lines::LineRow;
use crate::schema::{due_line, engine_span, engine_status};
use crate::{Appended, Store};
use diesel::prelude::*;
use gudgeon_databases::Database;
use gudgeon_life::fact::{Content, Custody, Fact, Host};
use std::sync::Barrier;

const THREADS: usize = 8;

/// Six engines that go round three aircraft, belts that go round the engines and aircraft, readings that
/// move them all, owners and a workshop: nearly everything rests on nearly everything.
pub(super) fn facts() -> Vec<Fact> {
    let mut ids = 1..;
    let mut id = || ids.next().expect("there are enough");
    let mut facts = vec![owner(id(), 70), owner(id(), 71)];
    for n in 0..3 {
        facts.push(aircraft_registered(id(), "2025-01-01", 50 + n));
        facts.push(owned(id(), "2025-01-01", Host::Aircraft(aircraft(50 + n)), 70 + n % 2));
        facts.push(read(id(), "2026-03-01", Host::Aircraft(aircraft(50 + n)), "300"));
    }
    for n in 1..=6 {
        facts.push(registered(id(), "2025-01-01", n, "1000"));
        facts.push(installed(id(), "2025-01-01", n, 50 + n % 3, "100"));
        facts.push(installed(id(), "2025-06-01", n, 50 + (n + 1) % 3, "200"));
        facts.push(inspected(id(), "2025-09-01", n, "250"));
        facts.push(read(id(), "2026-01-01", Host::Engine(engine(n)), "280"));
        facts.push(belt(id(), "2025-01-01", 60 + n));
        facts.push(fitted(id(), "2025-02-01", 60 + n, Host::Engine(engine(n))));
        facts.push(fitted(id(), "2025-07-01", 60 + n, Host::Aircraft(aircraft(50 + n % 3))));
        let custody = Custody { engine: engine(n), shop: party(90), until: None };
        facts.push(fact(id(), "2025-03-01", Content::Custody(custody)));
    }
    facts
}

/// The same facts in another order for each seed: a shuffle by a linear congruential generator.
pub(super) fn shuffled(mut seed: usize) -> Vec<Fact> {
    let mut facts = facts();
    for at in (1..facts.len()).rev() {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        facts.swap(at, (seed >> 33) % (at + 1));
    }
    facts
}

pub(super) type Rows = Vec<(StatusRow, Vec<SpanRow>, Vec<LineRow>)>;

/// All that was worked out, without the keys that follow the order of arrival.
pub(super) fn rows(store: &Store) -> Rows {
    let load = |conn: &mut _| {
        let engines: Vec<StatusRow> = engine_status::table
            .order(engine_status::engine)
            .select(StatusRow::as_select())
            .load(conn)?;
        let mut all = Vec::new();
        for engine in engines {
            let key = engine.engine_id;
            let spans: Vec<SpanRow> = engine_span::table
                .filter(engine_span::engine_id.eq(key))
                .order(engine_span::from_day)
                .select(SpanRow::as_select())
                .load(conn)?;
            let lines: Vec<LineRow> = due_line::table
                .filter(due_line::engine_id.eq(key))
                .order(due_line::ordinal)
                .select(LineRow::as_select())
                .load(conn)?;
            let spans = spans.into_iter().map(|row| SpanRow { engine_id: 0, ..row }).collect();
            let lines = lines.into_iter().map(|row| LineRow { engine_id: 0, ..row }).collect();
            all.push((StatusRow { engine_id: 0, ..engine }, spans, lines));
        }
        Ok(all)
    };
    store.read(load).expect("readable")
}

#[test]
fn two_services_and_eight_writers_end_where_one_does() {
    let alone = Bench::of(Database::sqlite(migrate)).with_the_type();
    for fact in facts() {
        alone.append(fact);
    }
    let expected = rows(&alone.store);
    assert_eq!(expected.len(), 6);

    let first = Bench::of(Database::postgres(migrate)).with_the_type();
    let second = Store::open(first.database.url(), false).expect("it opens twice");
    std::thread::scope(|scope| {
        for (seed, store) in [&first.store, &second].into_iter().cycle().take(THREADS).enumerate() {
            scope.spawn(move || {
                for fact in shuffled(seed) {
                    let appended = store.append(&post(fact), &Programme).expect("stored");
                    assert!(!matches!(appended, Appended::Differs(_)), "{appended:?}");
                }
            });
        }
    });
    assert_eq!(rows(&second), expected);
    let kept = verify(&second).expect("whole").facts;
    // Of the facts beside these, one activated the engine type.
    assert_eq!(usize::try_from(kept).ok(), Some(facts().len() + 1), "each fact is kept once");
}

// 1000.0 h at meter 100.0 is 1050.0 h at meter 150.0, whichever of the two facts comes first: the installation
// has to find the reading, or the reading the installation.
#[test]
fn an_installation_and_a_reading_that_meet_do_not_miss_one_another() {
    let first = Bench::new().with_the_type();
    let second = Store::open(first.database.url(), false).expect("it opens twice");
    for n in 1..=40 {
        first.append(registered(n, "2026-01-01", n, "1000"));
        first.append(aircraft_registered(50 + n, "2026-01-01", n));
        let at_once = Barrier::new(2);
        let meet = |store: &Store, fact: Fact| {
            at_once.wait();
            store.append(&post(fact), &Programme).expect("stored");
        };
        std::thread::scope(|scope| {
            scope.spawn(|| meet(&first.store, installed(100 + n, "2026-01-01", n, n, "100")));
            let reading = read(150 + n, "2026-02-01", Host::Aircraft(aircraft(n)), "150");
            scope.spawn(|| meet(&second, reading));
        });
        let row = second.engine(engine(n)).expect("readable").expect("there");
        assert_eq!(row.tsn, Some(hours("1050")), "engine {n}");
    }
}

// Whichever comes first, the engine's lines follow the version that is active in the end.
#[test]
fn an_engine_and_a_new_version_of_its_type_that_meet_do_not_miss_one_another() {
    let first = Bench::new().with_the_type();
    let second = Store::open(first.database.url(), false).expect("it opens twice");
    for n in 1..=20 {
        let digest = [100 + n; 32];
        let added = second.add_engine_type(TYPE, "sample", digest, NOW, &Programme);
        assert!(added.expect("the version is stored"));
        let at_once = Barrier::new(2);
        std::thread::scope(|scope| {
            scope.spawn(|| {
                at_once.wait();
                first.append(registered(n, "2026-01-01", n, "1000"));
            });
            scope.spawn(|| {
                at_once.wait();
                let on = format!("2026-02-{n:02}");
                second.append(&post(activated(100 + n, &on, digest)), &Programme).expect("stored");
            });
        });
        // The engine was counted by the new version, or it is found among those that were not.
        while second.recount_some(10, &Programme).expect("the database works") > 0 {}
        let row = second.engine(engine(n)).expect("readable").expect("there");
        assert_eq!(row.type_digest, Some(digest), "engine {n}");
    }
}

// The serial number of each is on the other as well: whichever comes second has to see it on both.
#[test]
fn two_engines_of_one_serial_number_that_meet_both_show_it() {
    let first = Bench::new().with_the_type();
    let second = Store::open(first.database.url(), false).expect("it opens twice");
    for n in 1..=20 {
        let at_once = Barrier::new(2);
        let meet = |store: &Store, n: u8| {
            let mut fact = registered(n, "2026-01-01", n, "0");
            if let Content::EngineRegistered(it) = &mut fact.entry.content {
                it.serial = format!("TWIN-{}", n % 100);
            }
            at_once.wait();
            store.append(&post(fact), &Programme).expect("stored");
        };
        std::thread::scope(|scope| {
            scope.spawn(|| meet(&first.store, n));
            scope.spawn(|| meet(&second, 100 + n));
        });
        for n in [n, 100 + n] {
            let row = second.engine(engine(n)).expect("readable").expect("there");
            assert_eq!(row.conflicts.len(), 1, "engine {n}: {:?}", row.conflicts);
        }
    }
}

// Two posts under one id about different engines share no row but the fact's own.
#[test]
fn of_two_records_under_one_id_one_is_kept() {
    let bench = Bench::new();
    for id in 1..=20 {
        let answers: Vec<Appended> = std::thread::scope(|scope| {
            let threads: Vec<_> = [2 * id, 2 * id + 1]
                .map(|n| {
                    let store = &bench.store;
                    let post = post(registered(id, "2026-01-01", n, "0"));
                    scope.spawn(move || store.append(&post, &Programme).expect("an answer"))
                })
                .into_iter()
                .collect();
            threads.into_iter().map(|thread| thread.join().expect("no panic")).collect()
        });
        let created = answers.iter().filter(|it| matches!(it, Appended::Created(_))).count();
        let differs = answers.iter().filter(|it| matches!(it, Appended::Differs(_))).count();
        assert_eq!((created, differs), (1, 1), "{answers:?}");
    }
}
