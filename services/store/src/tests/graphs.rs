//! An engine is touched by exactly the streams that its due lines rest on.

use super::sample::streams as all_streams;
use super::sample::{
    Bench, aircraft, amended, belt, component, engine, fitted, hours, inspected, installed,
    numbered_belt, numbered_engine, read, registered, story,
};
use crate::graph;
use crate::streams;
use gudgeon_life::fact::{Host, Stream};

/// Engine 1 was in aircraft 50, then engine 2; engine 3 is in aircraft 52. Belt 60 was on engine 1 and went
/// to engine 3; belt 61 stays on aircraft 50; belt 62 and engine 4 stand apart. Engines 5 and 6 carry the
/// serial number of engine 1; belt 63 on engine 7 carries that of belt 64, which is on engine 6.
fn tangled() -> Bench {
    let bench = Bench::with_type();
    for fact in story() {
        bench.append(fact);
    }
    for fact in [
        registered(20, "2026-01-01", 2, "0"),
        registered(21, "2026-01-01", 3, "0"),
        registered(22, "2026-01-01", 4, "0"),
        installed(23, "2026-04-01", 2, 50, "550"),
        installed(24, "2026-01-01", 3, 52, "0"),
        belt(25, "2026-01-01", 60),
        belt(26, "2026-01-01", 61),
        belt(27, "2026-01-01", 62),
        fitted(28, "2026-01-02", 60, Host::Engine(engine(1))),
        fitted(29, "2026-02-02", 60, Host::Engine(engine(3))),
        fitted(30, "2026-01-02", 61, Host::Aircraft(aircraft(50))),
        numbered_engine(31, "2026-03-01", 5, "F-1"),
        numbered_engine(32, "2026-03-02", 6, "f1"),
        registered(33, "2026-01-01", 7, "0"),
        numbered_belt(34, "2026-01-01", 63, "B 7"),
        numbered_belt(35, "2026-01-01", 64, "b-7"),
        fitted(36, "2026-01-02", 63, Host::Engine(engine(7))),
        fitted(37, "2026-03-03", 64, Host::Engine(engine(6))),
    ] {
        bench.append(fact);
    }
    bench
}

#[test]
fn touched_is_the_inverse_of_closure() {
    let bench = tangled();
    let streams = all_streams(&bench.store);
    assert!(streams.len() > 7, "{streams:?}");
    bench
        .store
        .read(|conn| {
            for (engine_key, engine) in streams
                .iter()
                .filter(|(_, it)| *it == Stream::engine(gudgeon_life::ids::EngineId(it.id)))
            {
                let closure = graph::closure(conn, *engine_key, *engine)?;
                for (key, stream) in &streams {
                    let touched = graph::touched(conn, *key, *stream)?;
                    assert_eq!(
                        closure.contains_key(key),
                        touched.contains_key(engine_key),
                        "{engine:?} and {stream:?}"
                    );
                }
            }
            Ok(())
        })
        .expect("readable");
}

#[test]
fn apart_is_apart_and_a_moved_belt_ties() {
    let bench = tangled();
    bench
        .store
        .read(|conn| {
            let mut touched = |of: Stream| {
                let key = streams::find(conn, of)?.expect("the stream is there").id;
                let nodes = graph::touched(conn, key, of)?;
                let engines: Vec<_> =
                    graph::engines_in_id_order(&nodes).map(|(engine, _)| engine).collect();
                Ok::<_, crate::StoreError>(engines)
            };
            assert_eq!(touched(Stream::engine(engine(4)))?, [engine(4)]);
            assert_eq!(touched(Stream::component(component(62)))?, []);
            assert_eq!(touched(Stream::component(component(60)))?, [engine(1), engine(3)]);
            assert_eq!(touched(Stream::component(component(61)))?, [engine(1), engine(2)]);
            assert_eq!(touched(Stream::component(component(63)))?, [engine(6), engine(7)]);
            Ok(())
        })
        .expect("readable");
}

// The meter of an aircraft with two engines is one meter, whichever engine it was told of: 1000.0 h at meter
// 500.0 is 1045.0 h at meter 545.0.
#[test]
fn a_reading_told_of_one_engine_moves_the_other() {
    let bench = Bench::with_type();
    for fact in story() {
        bench.append(fact);
    }
    bench.append(registered(20, "2026-01-01", 2, "0"));
    bench.append(installed(21, "2026-01-01", 2, 50, "500"));
    bench.append(read(22, "2026-03-05", Host::Engine(engine(2)), "542"));
    bench.append(inspected(23, "2026-03-10", 2, "545"));
    let row = bench.store.engine(engine(1)).expect("readable").expect("the engine is there");
    assert_eq!((row.tsn, row.meter), (Some(hours("1045")), Some(hours("545"))));
}

// Design of the records: one serial number on two engines makes the hours of both unknown, in whatever order
// the posts came, until one of the two is corrected.
#[test]
fn one_serial_number_on_two_engines_shows_on_both_until_it_is_corrected() {
    let bench = Bench::with_type();
    for fact in story() {
        bench.append(fact);
    }
    let states = || [1, 5].map(|n| bench.store.engine(engine(n)).expect("readable"));
    let told = |row: Option<crate::EngineRow>| row.map(|it| (it.tsn.is_none(), it.conflicts.len()));
    assert_eq!(states().map(told), [Some((false, 0)), None]);
    bench.append(numbered_engine(31, "2026-03-01", 5, "f 1"));
    assert_eq!(states().map(told), [Some((true, 1)), Some((true, 1))]);
    let right = numbered_engine(31, "2026-03-01", 5, "F-2");
    bench.append(amended(32, 31, Stream::engine(engine(5)), Some(right)));
    assert_eq!(states().map(told), [Some((false, 0)), Some((false, 0))]);
}
