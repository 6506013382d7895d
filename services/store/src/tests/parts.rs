//! Searches for parts: what they find as parts come and go, their order, their pages, and how a database answers.

use super::sample::{
    Bench, aircraft, amended, component, day, engine, fact, fitted, given, party, registered,
};
use super::transfers::{backup, restore};
use crate::dialect::{self, AnyConn};
use crate::parts::page;
use crate::{PartPlace, PartQuery, PartRow, Sight, StoreError};
use diesel::connection::{InstrumentationEvent, SimpleConnection};
use diesel::prelude::*;
use diesel::sql_types::Text;
use gudgeon_life::date_code::Scheme;
use gudgeon_life::fact::{
    Code, ComponentRegistered, ComponentRemoved, Content, Fact, Host, RemovalCause, Stream,
};
use gudgeon_life::hours::Hours;
use gudgeon_life::ids::PartKind;
use std::sync::{Arc, Mutex};

/// A part of a kind and lot; a code is a quarter of a year.
fn part(id: u8, n: u8, kind: &str, lot: Option<&str>, code: Option<&str>) -> Fact {
    let content = ComponentRegistered {
        component: component(n),
        kind: PartKind::new(kind).expect("a short name"),
        serial: None,
        lot: lot.map(str::to_owned),
        maker_part: Some("10 x 750".to_owned()),
        code: code.map(|text| Code { scheme: Scheme::Quarter, text: text.to_owned() }),
        cured_on: None,
        hours: Some(Hours::ZERO),
        first_fitted_on: None,
        overhauled: None,
    };
    fact(id, "2026-01-01", Content::ComponentRegistered(content))
}

fn removed(id: u8, on: &str, n: u8) -> Fact {
    let cause = Some(RemovalCause::Exchange);
    let removed = ComponentRemoved { component: component(n), meter: None, cause };
    fact(id, on, Content::ComponentRemoved(removed))
}

fn append_all(bench: &Bench, facts: Vec<Fact>) {
    for fact in facts {
        bench.append(fact);
    }
}

fn all() -> PartQuery {
    PartQuery { limit: 100, ..PartQuery::default() }
}

fn of_kind(kind: &str) -> PartQuery {
    PartQuery { kind: Some(kind.to_owned()), ..all() }
}

/// What a search finds: the part, and the engine that it is on.
fn found(bench: &Bench, query: &PartQuery) -> Vec<(u8, Option<u8>)> {
    let rows = bench.store.parts(query).expect("readable");
    rows.iter().map(|row| (row.component.0.bytes()[0], engine_of(bench, row))).collect()
}

fn engine_of(bench: &Bench, row: &PartRow) -> Option<u8> {
    let engines = bench.store.engine_rows(&[row.place.engine]).expect("readable");
    engines.first().map(|it| it.engine.0.bytes()[0])
}

/// Belts 60 (3Q19) on engine 1 and 61 (1Q24) on engine 2, both of lot L7; 62 of unknown age on engine 1; 63 (2Q18)
/// on a shelf; a hose of lot L7.
fn belts() -> Vec<Fact> {
    vec![
        registered(1, "2026-01-01", 1, "0"),
        registered(2, "2026-01-01", 2, "0"),
        part(60, 60, "fan-belt", Some("L7"), Some("3Q19")),
        part(61, 61, "fan-belt", Some("L7"), Some("1Q24")),
        part(62, 62, "spare-belt", None, None),
        part(63, 63, "fan-belt", Some("L8"), Some("2Q18")),
        part(64, 64, "hose", Some("L7"), Some("3Q19")),
        fitted(10, "2026-02-01", 60, Host::Engine(engine(1))),
        fitted(11, "2026-02-01", 61, Host::Engine(engine(2))),
        fitted(12, "2026-02-01", 62, Host::Engine(engine(1))),
    ]
}

#[test]
fn parts_are_found_by_kind_lot_and_age() {
    let bench = Bench::with_type();
    append_all(&bench, belts());
    let lot = PartQuery { lot: Some("L7".to_owned()), ..all() };
    assert_eq!(found(&bench, &lot), [(60, Some(1)), (64, None), (61, Some(2))]);
    let belts_of_lot = PartQuery { lot: Some("L7".to_owned()), ..of_kind("fan-belt") };
    assert_eq!(found(&bench, &belts_of_lot), [(60, Some(1)), (61, Some(2))]);
    // Made in 2019 or earlier: 2Q18 from 2018-04-01 on, 3Q19 from 2019-07-01 on; not the one of unknown age.
    let old = PartQuery { made_until: Some(day("2019-12-31")), ..all() };
    assert_eq!(found(&bench, &old), [(63, None), (60, Some(1)), (64, None)]);
    assert_eq!(
        found(&bench, &PartQuery { made_until: Some(day("2019-06-30")), ..all() }),
        [(63, None)]
    );
    let undated = PartQuery { undated: true, ..all() };
    assert_eq!(found(&bench, &undated), [(62, Some(1))]);
    let both = PartQuery { undated: true, ..old };
    assert_eq!(found(&bench, &both), [(62, Some(1)), (63, None), (60, Some(1)), (64, None)]);
    let first = bench.store.parts(&of_kind("hose")).expect("readable").remove(0);
    assert_eq!(first.made, Some((day("2019-07-01"), day("2019-09-30"))));
    assert_eq!(first.maker_part.as_deref(), Some("10 x 750"));
}

// Off, onto another engine, replaced there by the next of its kind, and corrected away: whatever order the facts
// come in, and from a backup, the same is found.
#[test]
fn a_search_follows_a_part_whatever_order_its_records_come_in() {
    let mut facts = belts();
    facts.extend([
        removed(20, "2026-03-01", 60),
        fitted(21, "2026-03-02", 60, Host::Engine(engine(2))),
        fitted(22, "2026-03-03", 63, Host::Engine(engine(2))),
        fitted(23, "2026-03-04", 64, Host::Aircraft(aircraft(50))),
    ]);
    // Belt 60 took 61 off, and 63 took 60 off.
    let expected = [(63, Some(2)), (60, None), (61, None)];
    for turn in 0..facts.len() {
        let bench = Bench::with_type();
        facts.rotate_left(1);
        let mut order = facts.clone();
        if turn % 2 == 1 {
            order.reverse();
        }
        append_all(&bench, order);
        assert_eq!(found(&bench, &of_kind("fan-belt")), expected, "turn {turn}");
        assert_eq!(found(&bench, &of_kind("hose")), [(64, None)]);
        if turn == 0 {
            let second = Bench::new();
            restore(&second.store, &backup(&bench.store)).expect("restored");
            assert_eq!(found(&second, &of_kind("fan-belt")), expected);
            assert_eq!(found(&second, &of_kind("hose")), [(64, None)]);
        }
        let stream = Stream::component(component(63));
        bench.append(amended(30, 22, stream, None));
        let after = [(63, None), (60, Some(2)), (61, None)];
        assert_eq!(found(&bench, &of_kind("fan-belt")), after, "turn {turn}");
    }
}

#[test]
fn pages_follow_one_another_without_gap_or_overlap() {
    let bench = Bench::with_type();
    append_all(&bench, belts());
    let whole = bench.store.parts(&all()).expect("readable");
    for limit in 1..4 {
        let (mut after, mut pages): (Option<PartPlace>, Vec<PartRow>) = (None, Vec::new());
        loop {
            let page = bench.store.parts(&PartQuery { after, limit, ..all() }).expect("readable");
            let Some(last) = page.last() else { break };
            after = Some(last.place);
            pages.extend(page);
        }
        assert_eq!(pages, whole, "{limit} a page");
    }
}

// Workshop 90 holds engine 1 from 1 March on.
#[test]
fn a_workshop_finds_what_is_on_the_engines_it_holds() {
    let bench = Bench::with_type();
    append_all(&bench, belts());
    bench.append(given(40, "2026-03-01", 1, 90, None));
    let on = |day_text| {
        let sight = Some(Sight { shop: party(90), on: day(day_text) });
        found(&bench, &PartQuery { sight, ..all() })
    };
    assert_eq!(on("2026-03-01"), [(62, Some(1)), (60, Some(1))]);
    assert!(on("2026-02-28").is_empty());
}

/// How the database would go about each statement of a search.
fn plans(bench: &Bench, query: &PartQuery) -> Vec<String> {
    plans_of(bench, |conn| Ok(page(conn, query).map(|_| ())?))
}

/// How the database would go about each statement that some work asks.
pub(super) fn plans_of(
    bench: &Bench,
    work: impl FnOnce(&mut AnyConn) -> Result<(), StoreError>,
) -> Vec<String> {
    let said: Arc<Mutex<Vec<String>>> = Arc::default();
    let planned = bench.store.write_once(|conn| {
        let heard = Arc::clone(&said);
        conn.set_instrumentation(move |event: InstrumentationEvent<'_>| {
            if let InstrumentationEvent::StartQuery { query, .. } = event {
                heard.lock().expect("one thread").push(query.to_string());
            }
        });
        work(conn)?;
        conn.set_instrumentation(|_: InstrumentationEvent<'_>| {});
        let statements = said.lock().expect("one thread").clone();
        let mut plans = Vec::new();
        for statement in statements {
            let statement = statement.split(" -- binds").next().unwrap_or_default().to_owned();
            plans.push(plan(conn, &statement)?);
        }
        Ok(plans)
    });
    planned.expect("planned")
}

#[derive(QueryableByName)]
struct Step {
    #[diesel(sql_type = Text)]
    detail: String,
}

#[derive(QueryableByName)]
struct ServerStep {
    #[diesel(sql_type = Text, column_name = "QUERY PLAN")]
    line: String,
}

/// What a server is told, so that it plans for more rows than a test has and for whatever values come.
const AS_IF_LARGE: &str = "SET LOCAL enable_seqscan = off; SET LOCAL enable_bitmapscan = off; \
    SET LOCAL enable_sort = off; SET LOCAL enable_incremental_sort = off; \
    SET LOCAL plan_cache_mode = force_generic_plan";

/// The plan of one statement, whatever its values are.
fn plan(conn: &mut AnyConn, statement: &str) -> Result<String, StoreError> {
    let lines: Vec<String> = match conn {
        AnyConn::Sqlite(conn) => {
            let steps = diesel::sql_query(format!("EXPLAIN QUERY PLAN {statement}"));
            steps.load::<Step>(conn)?.into_iter().map(|it| it.detail).collect()
        }
        AnyConn::Postgres(conn) => {
            let values = (1..20).take_while(|at| statement.contains(&format!("${at}")));
            let values: Vec<&str> = values.map(|_| "NULL").collect();
            conn.batch_execute(AS_IF_LARGE)?;
            conn.batch_execute(&format!("PREPARE asked AS {statement}"))?;
            let explain = format!("EXPLAIN EXECUTE asked ({})", values.join(", "));
            let steps = diesel::sql_query(explain).load::<ServerStep>(conn)?;
            conn.batch_execute("DEALLOCATE asked")?;
            steps.into_iter().map(|it| it.line).collect()
        }
    };
    Ok(lines.join("; "))
}

/// Whether `SQLite` goes to its rows by an index, or to the rows of one part.
fn led_by(index: &str, plan: &str) -> bool {
    let of_one_part = plan.contains("PRIMARY KEY (fleet_id=? AND stream_id=?");
    plan.starts_with("SEARCH part USING") && (of_one_part || plan.contains(&format!("{index} ")))
}

// https://www.sqlite.org/eqp.html: SEARCH reads a part of an index, SCAN reads all of a table, and USE TEMP B-TREE
// FOR ORDER BY sorts what it read. A million parts allow neither of the last two.
#[test]
fn no_search_reads_the_table_through_or_sorts_it() {
    let bench = Bench::with_type();
    let is_server = bench.store.read(|conn| Ok(dialect::has_other_writers(conn))).expect("known");
    let place = PartPlace { made_first: day("2019-07-01"), part: 7, engine: 3 };
    let until = Some(day("2019-12-31"));
    for kind in [None, Some("fan-belt".to_owned())] {
        for lot in [None, Some("L7".to_owned())] {
            for (made_until, undated) in
                [(None, false), (until, false), (until, true), (None, true)]
            {
                for after in [None, Some(place)] {
                    let (kind, lot) = (kind.clone(), lot.clone());
                    let query = PartQuery { kind, lot, made_until, undated, after, ..all() };
                    for plan in plans(&bench, &query) {
                        let index = match (&query.kind, &query.lot) {
                            (None, None) => "part_by_made",
                            (Some(_), None) => "part_by_kind",
                            (None, Some(_)) => "part_by_lot",
                            (Some(_), Some(_)) => "part_by_kind_and_lot",
                        };
                        let goes = if is_server {
                            plan.contains("Index Scan")
                        } else {
                            led_by(index, &plan)
                        };
                        let sorts = plan.contains("TEMP B-TREE") || plan.contains("Sort");
                        assert!(goes && !sorts, "{query:?}: {plan}");
                    }
                }
            }
        }
    }
}
