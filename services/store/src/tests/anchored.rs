//! Anchors: what they stand for, who makes them, and that they stay.

use super::chains::tamper;
use super::sample::{
    Bench, NOW, aircraft, aircraft_registered, day, engine, installed, read, registered, story,
};
use crate::{Anchor, Instant, Store};
use gudgeon_databases::Kind;
use gudgeon_life::fact::{Host, Stream, StreamKind};
use gudgeon_life::week::ReportWeek;
use sha2::{Digest as _, Sha256};

pub(super) fn anchor(store: &Store, on: &str) -> Option<Anchor> {
    store.anchor(ReportWeek::of(day(on)), NOW).expect("an answer")
}

fn sha256(parts: &[&[u8]]) -> [u8; 32] {
    Sha256::digest(parts.concat()).into()
}

/// The last hash of a stream.
fn head(store: &Store, of: Stream) -> [u8; 32] {
    store.facts_of(of).expect("readable").last().expect("it holds facts").hash
}

// The definition of the chapter on top of `anchors`, written out a second time for three heads: an aircraft (kind
// 2), two engines (kind 3). RFC 6962 section 2.1 splits three leaves as two and one.
#[test]
fn an_anchor_is_what_the_definition_says() {
    let bench = Bench::new();
    bench.append(registered(1, "2026-01-01", 2, "0"));
    bench.append(registered(2, "2026-01-01", 1, "0"));
    bench.append(aircraft_registered(3, "2026-01-01", 50));
    bench.append(read(4, "2026-02-01", Host::Aircraft(aircraft(50)), "10"));
    let found = anchor(&bench.store, "2026-11-25").expect("three streams moved");
    let leaf = |of: Stream, kind: u8, seq: u8| {
        let head = head(&bench.store, of);
        let seq = [0, 0, 0, 0, 0, 0, 0, seq];
        sha256(&[&[0], b"gudgeon/head/v1", &[0, kind], &of.id.bytes(), &seq, &head])
    };
    let node = |left: &[u8], right: &[u8]| sha256(&[&[1], left, right]);
    let first = leaf(Stream::aircraft(aircraft(50)), 2, 2);
    let second = leaf(Stream::engine(engine(1)), 3, 1);
    let third = leaf(Stream::engine(engine(2)), 3, 1);
    let root = node(&node(&first, &second), &third);
    let mut bytes: Vec<u8> = Vec::new();
    for part in [
        b"gudgeon/anchor/v1".as_slice(),
        &[0; 32],
        &[0, 0, 0, 0, 0, 0, 0, 1],
        b"2026-W48",
        &NOW.0.to_be_bytes(),
        &[0, 0, 0, 0, 0, 0, 0, 3],
        &root,
    ] {
        bytes.extend(u64::try_from(part.len()).expect("short").to_be_bytes());
        bytes.extend(part);
    }
    assert_eq!((found.seq, found.heads, found.hash), (1, 3, sha256(&[&bytes])));
    assert_eq!(bench.store.last_anchor().expect("readable"), Some(found));
}

#[test]
fn only_what_moved_is_anchored_again() {
    let bench = Bench::with_type();
    assert_eq!(anchor(&bench.store, "2026-11-25").map(|it| (it.seq, it.heads)), Some((1, 1)));
    for fact in story() {
        bench.append(fact);
    }
    // The engine and the aircraft: its owner is named, and holds no fact.
    assert_eq!(anchor(&bench.store, "2026-11-25").map(|it| (it.seq, it.heads)), Some((2, 2)));
    assert_eq!(anchor(&bench.store, "2026-11-25"), None);
    assert_eq!(anchor(&bench.store, "2026-12-02"), None);
    bench.append(read(7, "2026-04-01", Host::Aircraft(aircraft(50)), "550"));
    assert_eq!(anchor(&bench.store, "2026-12-02").map(|it| (it.seq, it.heads)), Some((3, 1)));

    let heads = |kind, ids: &[_]| bench.store.anchored_heads(kind, ids).expect("readable");
    let aircraft = Stream::aircraft(aircraft(50));
    let of_aircraft = heads(StreamKind::Aircraft, &[aircraft.id, engine(9).0]);
    assert_eq!(of_aircraft.len(), 1);
    // Registered, owned, read, read again.
    let last = of_aircraft.get(&aircraft.id).expect("it is anchored");
    assert_eq!((last.seq, last.anchor, last.hash), (4, 3, head(&bench.store, aircraft)));
    let of_engine = heads(StreamKind::Engine, &[engine(1).0]);
    assert_eq!(of_engine.get(&engine(1).0).map(|it| (it.seq, it.anchor)), Some((3, 2)));
    bench.store.verify(&mut |_| {}).expect("readable").expect("whole");
}

#[test]
fn of_several_that_anchor_at_once_one_does() {
    let bench = Bench::new();
    let second = Store::open(bench.database.url(), false).expect("it opens twice");
    for n in 1..=5 {
        bench.append(registered(n, "2026-01-01", n, "0"));
        let made: Vec<Option<Anchor>> = std::thread::scope(|scope| {
            let stores = [&bench.store, &second, &bench.store, &second];
            let threads: Vec<_> = stores
                .into_iter()
                .map(|store| scope.spawn(|| anchor(store, "2026-11-25")))
                .collect();
            threads.into_iter().map(|thread| thread.join().expect("no panic")).collect()
        });
        let made: Vec<i64> = made.into_iter().flatten().map(|it| it.seq).collect();
        assert_eq!(made, [i64::from(n)]);
    }
}

// Posts go on while anchors are made; every anchor holds afterwards.
#[test]
fn anchors_made_among_posts_hold() {
    let bench = Bench::with_type();
    let store = &bench.store;
    std::thread::scope(|scope| {
        scope.spawn(|| {
            for n in 1..=20 {
                bench.append(registered(2 * n, "2026-01-01", n, "0"));
                bench.append(installed(2 * n + 1, "2026-01-02", n, 50, "0"));
            }
        });
        for _ in 0..20 {
            store.anchor(ReportWeek::of(day("2026-11-25")), NOW).expect("an answer");
        }
    });
    anchor(store, "2026-11-25");
    let found = store.verify(&mut |_| {}).expect("readable").expect("whole");
    assert_eq!(found.facts, 41);
}

#[test]
fn anchors_are_never_changed_or_deleted() {
    let bench = Bench::with_type();
    anchor(&bench.store, "2026-11-25").expect("one stream moved");
    for table in ["anchor", "anchored_head"] {
        let mut statements = vec![
            format!("UPDATE {table} SET seq = 7"),
            format!("DELETE FROM {table}"),
            format!("INSERT OR REPLACE INTO {table} SELECT * FROM {table}"),
        ];
        if bench.database.kind() == Kind::Postgres {
            statements.pop();
            statements.push(format!("TRUNCATE {table} CASCADE"));
        }
        for sql in statements {
            let refused = tamper(&bench, &sql).expect_err("refused").to_string();
            assert!(refused.contains("an anchor is never"), "{sql}: {refused}");
        }
    }
    assert_eq!(
        bench.store.last_anchor().expect("readable").map(|it| it.made_at),
        Some(Instant(NOW.0))
    );
}
