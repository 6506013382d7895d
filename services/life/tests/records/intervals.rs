//! Intervals that do not simply repeat: steps, a first interval, an end, and bounds on what cannot be told.

use crate::bench_shop::{Shop, d, h, interval, item, limit};
use gudgeon_life::due::due_list;
use gudgeon_life::fact::OverhaulScope;
use gudgeon_life::history::History;
use gudgeon_life::line::{DueLine, Missing, NoLater};
use gudgeon_life::programme::{Action, CountsFrom, Interval, Item, Limit};
use gudgeon_life::status::Status;
use gudgeon_life::sure::prior::Evidence;

fn lines(shop: &Shop, item: &Item) -> Vec<DueLine> {
    let engine_type = Shop::engine_type(vec![item.clone()]);
    due_list(&History::fold(&shop.facts()), Shop::engine_id(1), &engine_type, &Evidence::default())
}

fn line(shop: &Shop, item: &Item) -> DueLine {
    lines(shop, item).remove(0)
}

fn done(shop: &mut Shop, item: &str, on: &str, tsn: &str, action: Action) {
    let inspection = shop.inspection(1, on);
    inspection.tsn = Some(h(tsn));
    inspection.work = vec![Shop::done(item, action)];
}

/// Re-torque steps at 2, 10, 25 and 50 h after a full overhaul.
fn torque_steps() -> Item {
    let steps = Limit {
        once: ["2", "10", "25", "50"].map(h).to_vec(),
        ..limit(None, None, CountsFrom::Overhaul)
    };
    Item { limits: vec![steps], ..item("head-nuts", None, None) }
}

// The 10-hour step was done at 14.0, the 25-hour step at 26.0: next 50.0, whatever ran late before.
#[test]
fn a_late_step_never_moves_the_later_ones() {
    let mut shop = Shop::new();
    shop.engine(1, "2020-01-01", Some("412.0"), None);
    shop.inspection(1, "2022-05-10").overhaul = Some(OverhaulScope::Full);
    shop.last().test_run = Some(h("0"));
    let steps = torque_steps();
    assert_eq!(line(&shop, &steps).due_hours(), Some(h("414.0")));
    for (on, tsn, next) in [
        ("2022-05-20", "414.1", Some("422.0")),
        ("2022-06-10", "426.0", Some("437.0")),
        ("2022-07-10", "438.0", Some("462.0")),
        ("2022-09-10", "461.0", None),
    ] {
        done(&mut shop, "head-nuts", on, tsn, Action::Adjusted);
        assert_eq!(line(&shop, &steps).due_hours(), next.map(h), "done at {tsn}");
    }
    assert_eq!(line(&shop, &steps).status(d("2030-01-01")), Status::NotDue);
}

#[test]
fn work_long_after_several_steps_closes_all_that_it_has_reached() {
    let mut shop = Shop::new();
    shop.engine(1, "2020-01-01", Some("0"), None);
    done(&mut shop, "head-nuts", "2020-05-10", "11.0", Action::Adjusted);
    assert_eq!(line(&shop, &torque_steps()).due_hours(), Some(h("25")));
}

// Effective 2026-05-01: first within 10 h or 30 days, then every 25 h. At 88.0 h then: due at 98.0 h or on
// 2026-05-31; done at 97.0: next 122.0, and the calendar counts no more.
#[test]
fn a_first_interval_comes_before_the_repeat() {
    let mut first = interval(Some("10"), None);
    first.spans = vec![gudgeon_life::calendar::CalendarSpan::days(30)];
    let bulletin = Limit {
        first: Some(first),
        ..limit(Some("25"), None, CountsFrom::Effective(d("2026-05-01")))
    };
    let bulletin = Item { limits: vec![bulletin], ..item("crankshaft-check", None, None) };
    let mut shop = Shop::new();
    shop.engine(1, "2020-01-01", Some("88.0"), None);
    let due = line(&shop, &bulletin);
    assert_eq!((due.due_hours(), due.due_on()), (Some(h("98.0")), Some(d("2026-05-31"))));
    done(&mut shop, "crankshaft-check", "2026-05-20", "97.0", Action::Inspected);
    let due = line(&shop, &bulletin);
    assert_eq!((due.due_hours(), due.due_on()), (Some(h("122.0")), None));
}

#[test]
fn a_terminating_action_ends_an_item() {
    let check = Item { until: vec![Action::Renewed], ..item("old-pump", Some("25"), None) };
    let mut shop = Shop::new();
    shop.engine(1, "2020-01-01", Some("0"), None);
    done(&mut shop, "old-pump", "2020-02-01", "20.0", Action::Inspected);
    assert_eq!(line(&shop, &check).due_hours(), Some(h("45.0")));
    done(&mut shop, "old-pump", "2020-03-01", "40.0", Action::Renewed);
    assert!(lines(&shop, &check).is_empty());
}

// On record since 2020-01-01 without a log; five years or 300 h from then prove it, neither before.
#[test]
fn what_was_never_done_is_overdue_once_the_records_prove_it() {
    let overhaul = Item {
        limits: vec![Limit {
            every: Interval { ..interval(Some("300"), Some(60)) },
            ..limit(None, None, CountsFrom::Overhaul)
        }],
        ..item("overhaul", None, None)
    };
    let mut shop = Shop::new();
    shop.engine(1, "2020-01-01", None, None);
    shop.install(1, 1, "2020-01-02", "1000.0");
    let unknown = line(&shop, &overhaul);
    assert_eq!(unknown.due_on(), None, "a bound is no due date");
    assert_eq!(unknown.status(d("2025-01-01")), Status::Unknown);
    assert_eq!(unknown.status(d("2025-01-02")), Status::Overdue);
    let bound = NoLater::Day { due: d("2025-01-01"), latest: d("2025-01-01") };
    assert!(unknown.legs.iter().any(|leg| leg.no_later == Some(bound)));
    shop.reading(1, "2022-06-01", "1300.0");
    assert_eq!(line(&shop, &overhaul).status(d("2022-06-02")), Status::Unknown);
    shop.reading(1, "2022-07-01", "1300.1");
    assert_eq!(line(&shop, &overhaul).status(d("2022-07-02")), Status::Overdue);
    assert_eq!(line(&shop, &overhaul).governs(d("2022-07-02")).word(), "hours");
}

#[test]
fn records_that_contradict_prove_nothing() {
    let mut shop = Shop::new();
    shop.engine(1, "2020-01-01", Some("500.0"), None);
    shop.inspection(1, "2021-01-01").tsn = Some(h("400.0"));
    let line = line(&shop, &item("hundred", Some("100"), None));
    assert_eq!(line.status(d("2022-01-01")), Status::Unknown);
    let missing = |why| gudgeon_life::line::Count::Missing(gudgeon_life::line::Axis::Hours, why);
    assert_eq!(line.legs[0].count, missing(Missing::Conflict));
}
