//! Histories worked by hand: swaps, meter changes, belts, regimes, corrections, contradictions.

use crate::bench_shop::{Shop, belt_item, d, h, item};
use gudgeon_life::conflict::ConflictKind;
use gudgeon_life::due::due_list;
use gudgeon_life::fact::{Condition, OverhaulScope};
use gudgeon_life::history::History;
use gudgeon_life::line::{Count, DueLine, Missing, Note};
use gudgeon_life::programme::{Action, CountsFrom, Item, NextPolicy};
use gudgeon_life::status::Status;
use gudgeon_life::sure::prior::Evidence;
use gudgeon_life::working::working;

/// An engine overhauled at 412.0 h, swapped between two aircraft, one meter change. Every 300 h or 5 years.
fn swap() -> Shop {
    let mut shop = Shop::new();
    shop.engine(1, "2016-03-01", Some("0"), None);
    let overhaul = shop.inspection(1, "2022-05-10");
    overhaul.tsn = Some(h("412.0"));
    overhaul.overhaul = Some(OverhaulScope::Full);
    overhaul.test_run = Some(h("1.0"));
    shop.install(1, 1, "2022-06-01", "1210.0");
    shop.remove(1, "2024-03-01", "1318.5");
    shop.install(1, 2, "2024-04-01", "87.2");
    shop.meter_change(2, "2025-02-01", "140.0", "0.0");
    shop.reading(2, "2026-01-10", "41.3");
    shop
}

fn overhaul_line(shop: &Shop) -> DueLine {
    let mut item = item("overhaul", Some("300"), Some(60));
    item.limits.iter_mut().for_each(|limit| limit.counts_from = CountsFrom::Overhaul);
    let history = History::fold(&shop.facts());
    due_list(&history, Shop::engine_id(1), &Shop::engine_type(vec![item]), &Evidence::default())
        .remove(0)
}

// TSO 1.0 + 108.5 + 52.8 + 41.3 = 203.6; TSN 412.0 + 203.6 = 615.6; left 300.0 - 203.6 = 96.4.
#[test]
fn a_swapped_engine_carries_its_hours_over_aircraft_and_meters() {
    let shop = swap();
    let history = History::fold(&shop.facts());
    let engine = history.engine(Shop::engine_id(1)).unwrap();
    assert_eq!(engine.tso(), Some(h("203.6")));
    assert_eq!(engine.tsn(), Some(h("615.6")));
    let line = overhaul_line(&shop);
    assert_eq!(line.hours_left(), Some(h("96.4")));
    assert_eq!(line.due_on(), Some(d("2027-05-10")));
    assert_eq!(line.meter_due(), Some(h("137.7")), "41.3 on the meter and 96.4 left");
}

#[test]
fn the_gearbox_that_stays_on_the_aircraft_counts_the_aircrafts_hours() {
    let mut shop = swap();
    shop.component(7, "gearbox", "2021-01-01", Some("0"), None);
    shop.fit_to_aircraft(7, 1, "2021-01-01", "1000.0");
    shop.reading(1, "2026-01-05", "1502.0");
    let history = History::fold(&shop.facts());
    let now = gudgeon_life::clock::Moment::end_of(d("2026-01-31"));
    assert_eq!(history.component_hours(Shop::component_id(7), now), Some(h("502.0")));
}

fn belt_shop() -> Shop {
    let mut shop = Shop::new();
    shop.engine(1, "2020-01-01", Some("0"), None);
    shop.engine(2, "2020-01-01", Some("0"), None);
    shop.install(1, 1, "2020-01-02", "0");
    shop.install(2, 2, "2020-01-02", "0");
    shop.reading(1, "2022-06-01", "50.0");
    shop.component(5, "fan-belt", "2022-05-20", Some("0"), Some("3Q19"));
    shop.fit(5, 1, "2022-06-01");
    shop.reading(1, "2023-09-01", "170.0");
    shop.take_off(5, "2023-09-01");
    shop.reading(2, "2024-02-01", "80.0");
    shop.fit(5, 2, "2024-02-01");
    shop
}

// In service 300.0 - 120.0 = 180.0 h left, or 2022-06-01 + 5 years; total 2019-07-01 + 8 years.
#[test]
fn a_belt_carries_its_hours_and_its_age_from_engine_to_engine() {
    let history = History::fold(&belt_shop().facts());
    let line = due_list(
        &history,
        Shop::engine_id(2),
        &Shop::engine_type(vec![belt_item()]),
        &Evidence::default(),
    )
    .remove(0);
    assert_eq!(line.hours_left(), Some(h("180.0")));
    let days: Vec<_> = line
        .legs
        .iter()
        .filter_map(|leg| match leg.count {
            Count::Calendar { due, .. } => Some((leg.limit.clone().unwrap(), due)),
            _ => None,
        })
        .collect();
    let expected = [("in service", d("2027-06-01")), ("total", d("2027-07-01"))];
    assert_eq!(days, expected.map(|(name, day)| (name.to_owned(), day)));
    assert_eq!(line.status(d("2026-11-25")), Status::NotDue);
}

#[test]
fn a_belt_without_its_code_is_unknown() {
    let mut shop = belt_shop();
    shop.recode(5, None);
    let history = History::fold(&shop.facts());
    let line = due_list(
        &history,
        Shop::engine_id(2),
        &Shop::engine_type(vec![belt_item()]),
        &Evidence::default(),
    )
    .remove(0);
    assert_eq!(line.status(d("2026-11-25")), Status::Unknown);
    assert!(line.legs.iter().any(|leg| matches!(leg.count, Count::Missing(_, Missing::NoCode))));
}

// Due 1040.0, done 1043.2, every 100: 14 CFR 91.409(b) gives 1140.0, ML.A.302(d)(1) gives 1143.2.
#[test]
fn two_regimes_answer_the_same_records_differently() {
    let mut shop = Shop::new();
    shop.engine(1, "2010-01-01", Some("840.0"), None);
    shop.install(1, 1, "2010-01-01", "840.0");
    shop.work(1, "2023-01-10", "940.0", "hundred-hour", Action::Inspected);
    shop.work(1, "2024-01-10", "1043.2", "hundred-hour", Action::Inspected);
    shop.reading(1, "2024-12-01", "1141.0");
    let line = |next| {
        let mut item = item("hundred-hour", Some("100"), None);
        item.next = next;
        item.limits[0].counts_from = CountsFrom::Done;
        let history = History::fold(&shop.facts());
        due_list(&history, Shop::engine_id(1), &Shop::engine_type(vec![item]), &Evidence::default())
            .remove(0)
    };
    let from_due = line(NextPolicy::FromDue);
    assert_eq!(from_due.due_hours(), Some(h("1140.0")));
    assert_eq!(from_due.status(d("2024-12-02")), Status::Overdue);
    assert_eq!(from_due.last_overrun.hours, h("3.2"));
    let from_done = line(NextPolicy::FromDone);
    assert_eq!(from_done.due_hours(), Some(h("1143.2")));
    assert_eq!(from_done.hours_left(), Some(h("2.2")));
}

// TB 1-1500-341-01 3i: hours since new are not zeroed, hours since overhaul are, overhauls count one up.
#[test]
fn an_overhaul_restarts_tso_and_keeps_tsn() {
    let mut shop = Shop::new();
    shop.engine(1, "2010-01-01", Some("812.4"), None);
    let overhaul = shop.inspection(1, "2011-01-01");
    overhaul.overhaul = Some(OverhaulScope::Full);
    overhaul.test_run = Some(h("0"));
    let history = History::fold(&shop.facts());
    let engine = history.engine(Shop::engine_id(1)).unwrap();
    assert_eq!((engine.tsn(), engine.tso()), (Some(h("812.4")), Some(h("0"))));
    assert_eq!(engine.full_overhauls(), 1);
}

#[test]
fn a_meter_that_fell_makes_hours_unknown_until_it_is_corrected() {
    let mut shop = Shop::new();
    shop.engine(1, "2020-01-01", Some("0"), None);
    shop.install(1, 1, "2020-01-01", "100.0");
    shop.reading(1, "2021-01-01", "150.0");
    let slip = shop.reading(1, "2022-01-01", "15.2");
    let history = History::fold(&shop.facts());
    let engine = history.engine(Shop::engine_id(1)).unwrap();
    assert_eq!(engine.tsn(), None);
    let kind = ConflictKind::MeterFell { from: h("150.0"), to: h("15.2") };
    assert!(history.conflicts.iter().any(|conflict| conflict.kind == kind));

    shop.correct_reading(slip, 1, "2022-01-01", "152.0");
    let history = History::fold(&shop.facts());
    assert_eq!(history.engine(Shop::engine_id(1)).unwrap().tsn(), Some(h("52.0")));
    assert!(history.conflicts.is_empty());
}

#[test]
fn a_scrapped_part_put_back_stays_overdue_until_it_is_renewed() {
    let mut shop = Shop::new();
    shop.engine(1, "2020-01-01", Some("0"), None);
    let found = shop.inspection(1, "2021-01-01");
    found.findings = vec![Shop::finding("crankshaft", Condition::Scrap)];
    found.work = vec![Shop::done("crankshaft", Action::Refitted)];
    let lines = |shop: &Shop| {
        due_list(
            &History::fold(&shop.facts()),
            Shop::engine_id(1),
            &Shop::engine_type(vec![]),
            &Evidence::default(),
        )
    };
    assert_eq!(lines(&shop)[0].status(d("2021-01-01")), Status::Overdue);
    shop.inspection(1, "2021-02-01").findings =
        vec![Shop::finding("crankshaft", Condition::Serviceable)];
    assert_eq!(lines(&shop)[0].status(d("2021-03-01")), Status::Overdue);
    shop.inspection(1, "2021-04-01").work = vec![Shop::done("crankshaft", Action::Renewed)];
    assert!(lines(&shop).is_empty());
}

#[test]
fn an_engine_with_no_log_is_unknown_until_its_overhaul() {
    let mut shop = Shop::new();
    shop.engine(1, "2020-01-01", None, None);
    assert_eq!(overhaul_line(&shop).status(d("2020-01-02")), Status::Unknown);
    let overhaul = shop.inspection(1, "2020-05-10");
    overhaul.overhaul = Some(OverhaulScope::Full);
    let line = overhaul_line(&shop);
    assert_eq!(line.status(d("2020-06-01")), Status::Unknown);
    assert!(line.notes.contains(&Note::NoTestRun));
    shop.inspection(1, "2020-05-11").overhaul = Some(OverhaulScope::Full);
    shop.last().test_run = Some(h("1.0"));
    let line = overhaul_line(&shop);
    assert_eq!(line.status(d("2020-06-01")), Status::NotDue);
    assert_eq!(line.hours_left(), Some(h("299.0")));
}

// Only what an item asks for closes it, also when a larger one is named; only a test run completes an overhaul.
#[test]
fn a_larger_item_closes_a_smaller_one_only_when_it_was_really_done() {
    let overhaul =
        Item { done_by: vec![Action::Overhauled], ..item("overhaul", Some("300"), None) };
    let smaller =
        Item { satisfied_by: vec![overhaul.id.clone()], ..item("crankshaft", Some("300"), None) };
    let engine_type = Shop::engine_type(vec![overhaul, smaller]);
    let due = |shop: &Shop| {
        let history = History::fold(&shop.facts());
        let lines = due_list(&history, Shop::engine_id(1), &engine_type, &Evidence::default());
        lines.iter().map(|line| line.due_hours().unwrap()).collect::<Vec<_>>()
    };
    let mut shop = Shop::new();
    shop.engine(1, "2020-01-01", Some("310.0"), None);
    shop.inspection(1, "2020-02-01").work = vec![Shop::done("overhaul", Action::Inspected)];
    assert_eq!(due(&shop), [h("300"), h("300")]);
    shop.inspection(1, "2020-03-01").work = vec![Shop::done("overhaul", Action::Overhauled)];
    shop.last().overhaul = Some(OverhaulScope::Full);
    assert_eq!(due(&shop), [h("300"), h("300")]);
    shop.last().test_run = Some(h("1.0"));
    assert_eq!(due(&shop), [h("610"), h("610")]);
}

#[test]
fn a_working_reads_as_sums() {
    let shop = swap();
    let mut overhaul = item("overhaul", Some("300"), Some(60));
    overhaul.limits[0].counts_from = CountsFrom::Overhaul;
    let engine_type = Shop::engine_type(vec![overhaul]);
    let history = History::fold(&shop.facts());
    let line = due_list(&history, Shop::engine_id(1), &engine_type, &Evidence::default()).remove(0);
    let words = working(
        &history,
        Shop::engine_id(1),
        &engine_type,
        &Evidence::default(),
        &line,
        d("2026-11-25"),
    );
    for sentence in [
        "First due: 412.0 h + 300.0 h = 712.0 h.",
        "First due: 2022-05-10 + 60 months = 2027-05-10.",
        "Hours left: 712.0 h - 615.6 h = 96.4 h.",
        "Status: not due on record.",
    ] {
        assert!(words.iter().any(|step| step == sentence), "{sentence}\n{words:#?}");
    }
}
