//! A reading moves an engine's hours and leaves its due lines alone.

use super::sample::{
    Bench, TYPE, aircraft, belt, component, day, engine, engine_type, fact, fitted, hours,
    inspected, installed, item, post, read, registered, story,
};
use crate::Programmes;
use diesel::prelude::*;
use diesel::sql_types::BigInt;
use gudgeon_databases::Kind;
use gudgeon_life::due::due_list;
use gudgeon_life::fact::{
    Condition, Content, EngineRegistered, Fact, Finding, Host, Inspection, OverhaulScope, Stream,
    WorkDone,
};
use gudgeon_life::hours::{Basis, Hours};
use gudgeon_life::ids::{EngineId, PartKind};
use gudgeon_life::line::{AskedBy, DueLine};
use gudgeon_life::programme::{Action, CountsFrom, EngineType, Item, Limit, Subject};
use gudgeon_life::sure::engine::Forecasts;
use gudgeon_life::sure::prior::Evidence;
use std::sync::Arc;

/// Lets the database note every due line that is written, changed or deleted from now on.
fn note_writes(bench: &Bench) {
    let mut statements = vec!["CREATE TABLE written (engine BIGINT, ordinal BIGINT)".to_owned()];
    for (event, row) in [("INSERT", "NEW"), ("UPDATE", "NEW"), ("DELETE", "OLD")] {
        let once = format!("INSERT INTO written VALUES ({row}.engine_id, {row}.ordinal)");
        let does = match bench.database.kind() {
            Kind::Sqlite => format!("BEGIN {once}; END"),
            Kind::Postgres => {
                let body = format!("BEGIN {once}; RETURN NULL; END");
                statements.push(format!(
                    "CREATE FUNCTION note_{event}() RETURNS trigger LANGUAGE plpgsql AS '{body}'"
                ));
                format!("FOR EACH ROW EXECUTE FUNCTION note_{event}()")
            }
        };
        statements.push(format!("CREATE TRIGGER {event}_noted AFTER {event} ON due_line {does}"));
    }
    for statement in statements {
        let run = bench.store.write(|conn| Ok(diesel::sql_query(&statement).execute(conn)?));
        run.expect("the database takes it");
    }
}

#[derive(QueryableByName)]
struct Written {
    #[diesel(sql_type = BigInt)]
    count: i64,
}

/// How many lines that was.
fn written(bench: &Bench) -> i64 {
    let count = |conn: &mut _| {
        let lines = "SELECT DISTINCT engine, ordinal FROM written";
        let count = format!("SELECT COUNT(*) AS count FROM ({lines}) AS line");
        Ok(diesel::sql_query(count).get_result::<Written>(conn)?)
    };
    bench.store.read(count).expect("readable").count
}

fn lines(bench: &Bench, id: EngineId) -> Vec<DueLine> {
    let row = bench.store.engine(id).expect("readable").expect("an engine");
    let lines = bench.store.due_lines(&[row.key]).expect("readable");
    lines.into_iter().map(|(_, line)| line).collect()
}

// Inspected at 1032.5 h, every 100 h: due at 1132.5 h. Read at 1040.0 h, then at 1050.0 h: 82.5 h left.
#[test]
fn a_reading_that_crosses_nothing_writes_no_due_line() {
    let bench = Bench::with_type();
    for fact in story() {
        bench.append(fact);
    }
    note_writes(&bench);
    assert_eq!(lines(&bench, engine(1))[0].hours_left(), Some(hours("92.5")));
    bench.append(read(7, "2026-03-10", Host::Aircraft(aircraft(50)), "550"));
    assert_eq!(lines(&bench, engine(1))[0].hours_left(), Some(hours("82.5")));
    assert_eq!(lines(&bench, engine(1))[0].hours_on, Some(day("2026-03-10")));
    assert_eq!(written(&bench), 0);
    bench.append(inspected(8, "2026-03-20", 1, "560"));
    assert_ne!(written(&bench), 0, "work does write its line anew");
}

/// The sample's item, and the same for each fan belt and each hose from the day it was first fitted.
struct WithParts;

impl Programmes for WithParts {
    fn get(&self, _: &[u8; 32], _: &str) -> Option<Arc<EngineType>> {
        Some(Arc::new(with_parts()))
    }
}

fn with_parts() -> EngineType {
    let mut engine_type = engine_type();
    let inspection = engine_type.items[0].clone();
    let limit = Limit { counts_from: CountsFrom::FirstFitted, ..inspection.limits[0].clone() };
    engine_type.items.extend(["fan-belt", "hose"].map(|kind| Item {
        id: item(kind),
        subject: Subject::Component(PartKind::new(kind).expect("a short name")),
        limits: vec![limit.clone()],
        ..inspection.clone()
    }));
    engine_type
}

fn append(bench: &Bench, facts: impl IntoIterator<Item = Fact>) {
    for fact in facts {
        bench.store.append(&post(fact), &WithParts).expect("the fact is stored");
    }
}

/// An engine without a log.
fn without_log(id: u8, n: u8) -> Fact {
    let content = EngineRegistered {
        engine: engine(n),
        engine_type: item(TYPE),
        serial: "F-0".to_owned(),
        basis: Basis::EngineRun,
        tsn: None,
        made_on: None,
        overhauled: None,
    };
    fact(id, "2026-01-01", Content::EngineRegistered(content))
}

/// The inspection of the sample, with something besides.
fn inspected_with(mut fact: Fact, besides: impl FnOnce(&mut Inspection)) -> Fact {
    if let Content::Inspection(it) = &mut fact.entry.content {
        besides(it);
    }
    fact
}

fn belt_of_unknown_hours(id: u8, n: u8) -> Fact {
    let mut fact = belt(id, "2026-01-01", n);
    if let Content::ComponentRegistered(it) = &mut fact.entry.content {
        it.hours = None;
    }
    fact
}

/// Engine 1 of the story has belt 60 on itself since 2 February at 1032.5 h, belt 61 on its aircraft since
/// 2 January, where the aircraft counted from 0, a hose renewed on 15 February and a finding. Engine 2 has no
/// log, belt 62 of unknown hours and belt 63 on its aircraft. The meter of engine 3 fell. The hours stated of
/// engine 4 fell, but the meter of its aircraft, which has belt 64, did not. Engine 5 is on the shelf with
/// belt 65.
fn tangled() -> Bench {
    let bench = Bench::new();
    bench.activate("with parts", [8; 32], &WithParts);
    append(&bench, story());
    append(&bench, [60, 61, 63, 64, 65].map(|n| belt(n, "2026-01-01", n)));
    let hose = |it: &mut Inspection| {
        it.work =
            vec![WorkDone { item: item("hose"), positions: Vec::new(), action: Action::Renewed }];
        it.findings = vec![Finding {
            item: item("fan-belt"),
            position: None,
            condition: Condition::Monitor,
            recheck: None,
            photos: Vec::new(),
        }];
    };
    append(
        &bench,
        [
            fitted(20, "2026-02-02", 60, Host::Engine(engine(1))),
            fitted(21, "2026-01-02", 61, Host::Aircraft(aircraft(50))),
            inspected_with(inspected(22, "2026-02-15", 1, "535"), hose),
            without_log(23, 2),
            installed(24, "2026-01-01", 2, 51, "100"),
            belt_of_unknown_hours(25, 62),
            fitted(26, "2026-01-02", 62, Host::Engine(engine(2))),
            fitted(27, "2026-01-02", 63, Host::Aircraft(aircraft(51))),
            registered(28, "2026-01-01", 3, "10"),
            installed(29, "2026-01-01", 3, 52, "50"),
            read(30, "2026-02-01", Host::Engine(engine(3)), "40"),
            registered(31, "2026-01-01", 4, "10"),
            installed(32, "2026-01-01", 4, 53, "0"),
            fitted(33, "2026-01-02", 64, Host::Aircraft(aircraft(53))),
            inspected_with(inspected(34, "2026-02-01", 4, "20"), |it| it.tsn = Some(hours("5"))),
            registered(35, "2026-01-01", 5, "10"),
            fitted(36, "2026-01-02", 65, Host::Engine(engine(5))),
        ],
    );
    bench
}

fn assert_read_back_as_worked_out(bench: &Bench) {
    for n in 1..=5 {
        let history = bench.store.history_of(Stream::engine(engine(n))).expect("readable");
        let mut expected = due_list(&history, engine(n), &with_parts(), &Evidence::default());
        Forecasts::of(&history, engine(n)).plan(&mut expected);
        assert_eq!(lines(bench, engine(n)), expected, "engine {n}");
    }
}

/// Hours left of the line on a belt.
fn left_of(bench: &Bench, n: u8, belt: u8) -> Option<String> {
    let lines = lines(bench, engine(n));
    let line = lines.iter().find(|line| line.component == Some(component(belt)));
    line.expect("a line on the belt").hours_left().map(Hours::tenths_down)
}

// Belt 60 ran 1040.0 - 1032.5 = 7.5 of its 100 h, belt 61 ran 540.0 - 500.0 = 40.0, belt 64 ran 20.0 by the
// meter, whatever is said of its engine. Meter 550.0 takes 10.0 h more from the first two.
#[test]
fn lines_read_back_are_the_due_list() {
    let bench = tangled();
    assert_read_back_as_worked_out(&bench);
    assert_eq!(left_of(&bench, 1, 60).as_deref(), Some("92.5"));
    assert_eq!(left_of(&bench, 1, 61).as_deref(), Some("60.0"));
    assert_eq!(left_of(&bench, 2, 62), None);
    assert_eq!(left_of(&bench, 4, 64).as_deref(), Some("80.0"));
    let found = lines(&bench, engine(1));
    assert!(found.iter().any(|line| matches!(line.asked_by, AskedBy::Finding(_))), "{found:?}");

    note_writes(&bench);
    append(
        &bench,
        [
            read(40, "2026-03-10", Host::Aircraft(aircraft(50)), "550"),
            read(41, "2026-03-10", Host::Engine(engine(2)), "110"),
            read(42, "2026-03-10", Host::Engine(engine(3)), "60"),
        ],
    );
    assert_eq!(written(&bench), 0);
    assert_eq!(left_of(&bench, 1, 60).as_deref(), Some("82.5"));
    assert_eq!(left_of(&bench, 1, 61).as_deref(), Some("50.0"));
    // The belt's hours no longer go with those of its engine, so its line is written, and no other.
    append(&bench, [read(43, "2026-03-10", Host::Aircraft(aircraft(53)), "30")]);
    assert_eq!(written(&bench), 1);
    assert_eq!(left_of(&bench, 4, 64).as_deref(), Some("70.0"));
    assert_read_back_as_worked_out(&bench);
}

// Of three overhauls one was in full and completed by a test run.
#[test]
fn full_overhauls_are_counted() {
    let bench = Bench::with_type();
    bench.append(registered(1, "2026-01-01", 1, "1000"));
    let overhauled = |id: u8, on: &str, scope: OverhaulScope, run: Option<&str>| {
        inspected_with(inspected(id, on, 1, "0"), |it| {
            it.readings = Vec::new();
            it.overhaul = Some(scope);
            it.test_run = run.map(hours);
        })
    };
    bench.append(overhauled(2, "2026-02-01", OverhaulScope::Full, Some("1")));
    bench.append(overhauled(3, "2026-03-01", OverhaulScope::TopEnd, Some("1")));
    bench.append(overhauled(4, "2026-04-01", OverhaulScope::Full, None));
    let row = bench.store.engine(engine(1)).expect("readable").expect("an engine");
    assert_eq!(row.overhauls, 1);
}
