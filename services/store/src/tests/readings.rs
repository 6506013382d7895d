//! A reading moves an engine's hours and leaves its due lines alone.

use super::sample::{
    Bench, TYPE, aircraft, belt, day, engine, engine_type, fact, fitted, hours, inspected,
    installed, item, read, registered, story,
};
use diesel::prelude::*;
use diesel::sql_types::BigInt;
use gudgeon_life::due::due_list;
use gudgeon_life::fact::{Content, EngineRegistered, Fact, Host, Stream};
use gudgeon_life::hours::Basis;
use gudgeon_life::ids::EngineId;
use gudgeon_life::line::DueLine;

/// Lets the database count every due line that is written from now on.
fn count_writes(bench: &Bench) {
    let statements = [
        "CREATE TABLE written (n INTEGER)",
        "CREATE TRIGGER due_line_written AFTER INSERT ON due_line BEGIN INSERT INTO written VALUES (1); END",
    ];
    for statement in statements {
        let run = bench.store.write(|conn| Ok(diesel::sql_query(statement).execute(conn)?));
        run.expect("the database takes it");
    }
}

#[derive(QueryableByName)]
struct Written {
    #[diesel(sql_type = BigInt)]
    count: i64,
}

fn written(bench: &Bench) -> i64 {
    let count = |conn: &mut _| {
        Ok(diesel::sql_query("SELECT COUNT(*) AS count FROM written")
            .get_result::<Written>(conn)?)
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
    count_writes(&bench);
    assert_eq!(lines(&bench, engine(1))[0].hours_left(), Some(hours("92.5")));
    bench.append(read(7, "2026-03-10", Host::Aircraft(aircraft(50)), "550"));
    assert_eq!(lines(&bench, engine(1))[0].hours_left(), Some(hours("82.5")));
    assert_eq!(lines(&bench, engine(1))[0].hours_on, Some(day("2026-03-10")));
    assert_eq!(written(&bench), 0);
    bench.append(inspected(8, "2026-03-20", 1, "560"));
    assert_eq!(written(&bench), 1, "work does write its line");
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
    };
    fact(id, "2026-01-01", Content::EngineRegistered(content))
}

#[test]
fn lines_read_back_are_the_due_list() {
    let bench = Bench::with_type();
    for fact in story() {
        bench.append(fact);
    }
    for fact in [
        without_log(20, 2),
        installed(21, "2026-01-01", 2, 51, "100"),
        read(22, "2026-02-01", Host::Engine(engine(2)), "120"),
        registered(23, "2026-01-01", 3, "10"),
        installed(24, "2026-01-01", 3, 52, "50"),
        read(25, "2026-02-01", Host::Engine(engine(3)), "40"),
        belt(26, "2026-01-01", 60),
        fitted(27, "2026-01-02", 60, Host::Engine(engine(1))),
        belt(28, "2026-01-01", 61),
        fitted(29, "2026-01-02", 61, Host::Aircraft(aircraft(51))),
    ] {
        bench.append(fact);
    }
    for n in [1, 2, 3] {
        let history = bench.store.history_of(Stream::engine(engine(n))).expect("readable");
        let expected = due_list(&history, engine(n), &engine_type());
        assert_eq!(lines(&bench, engine(n)), expected, "engine {n}");
    }
}
