//! The fleet, worst first and page by page.

use super::sample::{
    Bench, Programme, aircraft_registered, day, engine, inspected, installed, party, post,
    registered,
};
use crate::{FleetQuery, Post, Sight};
use gudgeon_life::ids::EngineId;
use gudgeon_life::status::Status;

/// Four engines, told for 2026-06-01. Engine 1 was never inspected since it was made in 2020: overdue.
/// Engines 2 and 4 were inspected on 2026-05-01 and are due on 2027-05-01: not due. Engine 3 was inspected
/// on 2025-06-20 and is due on 2026-06-20, inside 30 days: coming due.
fn fleet() -> Bench {
    let bench = Bench::with_type();
    for (n, done_on) in
        [(1, None), (2, Some("2026-05-01")), (3, Some("2025-06-20")), (4, Some("2026-05-01"))]
    {
        let post =
            Post { by: Some(party(90 + n % 2)), ..post(registered(n, "2025-01-01", n, "10")) };
        bench.store.append(&post, &Programme).expect("stored");
        bench.append(aircraft_registered(10 + n, "2025-01-01", 50 + n));
        bench.append(installed(20 + n, "2025-01-01", n, 50 + n, "10"));
        if let Some(on) = done_on {
            bench.append(inspected(30 + n, on, n, "20"));
        }
    }
    bench
}

fn query() -> FleetQuery {
    FleetQuery { as_of: day("2026-06-01"), sight: None, status: None, after: None, limit: 2 }
}

fn sight(shop: u8) -> Sight {
    Sight { shop: party(shop), on: day("2026-06-01") }
}

/// Statuses and engines of a page, and where the next one begins.
type Page = (Vec<(Status, EngineId)>, Option<(i16, i64)>);

fn page(bench: &Bench, query: FleetQuery) -> Page {
    let rows = bench.store.fleet(&query).expect("readable");
    let last = rows.last().map(|(status, row)| (status.rank(), row.key));
    (rows.into_iter().map(|(status, row)| (status, row.engine)).collect(), last)
}

#[test]
fn pages_come_worst_first() {
    let bench = fleet();
    let (first, last) = page(&bench, query());
    assert_eq!(first, [(Status::Overdue, engine(1)), (Status::ComingDue, engine(3))]);
    let (second, last) = page(&bench, FleetQuery { after: last, ..query() });
    assert_eq!(second, [(Status::NotDue, engine(2)), (Status::NotDue, engine(4))]);
    assert_eq!(page(&bench, FleetQuery { after: last, ..query() }).0, []);
}

#[test]
fn a_status_and_a_workshop_narrow_it() {
    let bench = fleet();
    let not_due = FleetQuery { status: Some(Status::NotDue), ..query() };
    assert_eq!(page(&bench, not_due).0, [(Status::NotDue, engine(2)), (Status::NotDue, engine(4))]);
    let odd = FleetQuery { sight: Some(sight(91)), ..query() };
    assert_eq!(page(&bench, odd).0, [(Status::Overdue, engine(1)), (Status::ComingDue, engine(3))]);
    let even = bench.store.fleet_counts(day("2026-06-01"), Some(sight(90)));
    assert_eq!(even.expect("readable"), [(Status::NotDue, 2)]);
}

// Nothing is rewritten as days pass: the same rows tell of any day.
#[test]
fn counts_follow_the_day() {
    let bench = fleet();
    let counts = |on: &str| bench.store.fleet_counts(day(on), None).expect("readable");
    assert_eq!(
        counts("2026-06-01"),
        [(Status::Overdue, 1), (Status::ComingDue, 1), (Status::NotDue, 2)]
    );
    assert_eq!(counts("2026-06-21"), [(Status::Overdue, 2), (Status::NotDue, 2)]);
    assert_eq!(counts("9999-12-31"), [(Status::Overdue, 4)]);
    let far: i64 = bench
        .store
        .fleet_counts(chrono::NaiveDate::MAX, None)
        .expect("readable")
        .iter()
        .map(|(_, count)| count)
        .sum();
    assert_eq!(far, 4);
}

#[test]
fn engines_of_owners_follow_the_aircraft() {
    use super::sample::{aircraft, owned};
    use gudgeon_life::fact::Host;
    let bench = fleet();
    bench.append(owned(40, "2026-01-01", Host::Aircraft(aircraft(51)), 70));
    bench.append(owned(41, "2026-01-01", Host::Engine(engine(2)), 71));
    let of = |owners: &[u8]| -> Vec<EngineId> {
        let owners: Vec<_> = owners.iter().map(|n| party(*n)).collect();
        let rows = bench.store.engines_of_owners(&owners).expect("readable");
        rows.into_iter().map(|row| row.engine).collect()
    };
    assert_eq!(of(&[70]), [engine(1)]);
    assert_eq!(of(&[71, 70]), [engine(1), engine(2)]);
    assert_eq!(of(&[72]), []);
}
