//! Accepted estimates of hours: what they worsen, and that they better nothing. Worked by hand.

use crate::bench_shop::{Shop, d, h, item, limit};
use gudgeon_life::due::due_list;
use gudgeon_life::fact::{Content, HoursAccepted};
use gudgeon_life::history::History;
use gudgeon_life::line::{DueLine, NoLater, Note};
use gudgeon_life::programme::{Action, CountsFrom, Item};
use gudgeon_life::status::Status;
use gudgeon_life::sure::prior::Evidence;
use proptest::prelude::*;

/// A life of 300 hours since the overhaul, which only another overhaul begins again.
fn life() -> Item {
    Item {
        limits: vec![limit(Some("300"), None, CountsFrom::Overhaul)],
        done_by: vec![Action::Overhauled],
        ..item("overhaul", None, None)
    }
}

/// An engine without a log, registered at no hours, in an aircraft whose meter shows 500 then.
fn shop() -> Shop {
    let mut shop = Shop::new();
    shop.engine(1, "2024-01-01", None, None);
    shop.install(1, 1, "2024-01-01", "500");
    shop.reading(1, "2024-03-01", "512");
    shop
}

fn accept(shop: &mut Shop, on: &str, hours: &str) {
    let accepted =
        HoursAccepted { engine: Shop::engine_id(1), hours: h(hours), until: d("2025-01-01") };
    shop.record(on, Content::HoursAccepted(accepted));
}

fn line(shop: &Shop, item: &Item) -> DueLine {
    let engine_type = Shop::engine_type(vec![item.clone()]);
    let lines = due_list(
        &History::fold(&shop.facts()),
        Shop::engine_id(1),
        &engine_type,
        &Evidence::default(),
    );
    let [line] = lines.as_slice() else { panic!("one line expected: {lines:#?}") };
    line.clone()
}

fn bound(line: &DueLine) -> Option<NoLater> {
    line.legs[0].no_later
}

// 400 h by the day on which these records stood at 12 h: new at -388 h, due at -88 h.
#[test]
fn a_life_that_is_over_by_the_estimate_is_overdue() {
    let mut shop = shop();
    assert_eq!(line(&shop, &life()).status(d("2024-04-02")), Status::Unknown);
    accept(&mut shop, "2024-04-01", "400");
    let line = line(&shop, &life());
    assert_eq!(line.status(d("2024-04-02")), Status::Overdue);
    let due = h("300") - h("388");
    assert_eq!(bound(&line), Some(NoLater::Hours { due, latest: due }));
    assert_eq!(line.notes, [Note::EstimatedHours]);
    assert_eq!(line.due_hours(), None, "it is no due hour, and nothing is left of it");
}

#[test]
fn a_life_that_is_not_over_by_it_stays_unknown() {
    let mut shop = shop();
    accept(&mut shop, "2024-04-01", "100");
    let line = line(&shop, &life());
    assert_eq!(line.status(d("2024-04-02")), Status::Unknown);
    // New at 12 - 100 = -88 h, so due at 212 h of these records at the latest.
    let due = h("212");
    assert_eq!(bound(&line), Some(NoLater::Hours { due, latest: due }));
    let state = History::fold(&shop.facts());
    let engine = state.engine(Shop::engine_id(1)).unwrap();
    assert_eq!((engine.tsn(), engine.tso()), (None, None));
}

#[test]
fn the_last_one_accepted_holds_and_fewer_hours_than_recorded_say_nothing() {
    let mut shop = shop();
    accept(&mut shop, "2024-04-01", "400");
    accept(&mut shop, "2024-04-02", "100");
    assert_eq!(line(&shop, &life()).status(d("2024-04-03")), Status::Unknown);
    accept(&mut shop, "2024-04-03", "12");
    let line = line(&shop, &life());
    // The records themselves begin at 0 h: no later than 300 h, by no estimate.
    assert_eq!(bound(&line), Some(NoLater::Hours { due: h("300"), latest: h("300") }));
    assert!(line.notes.is_empty());
}

#[test]
fn an_overhaul_on_record_and_an_inspection_are_no_matter_of_estimates() {
    let mut shop = shop();
    accept(&mut shop, "2024-04-01", "400");
    let inspected = Item { done_by: vec![Action::Inspected], ..life() };
    assert_eq!(
        bound(&line(&shop, &inspected)),
        Some(NoLater::Hours { due: h("300"), latest: h("300") })
    );
    shop.work(1, "2024-05-01", "520", "overhaul", Action::Overhauled);
    let line = line(&shop, &life());
    assert_eq!((line.due_hours(), bound(&line)), (Some(h("320")), None));
}

proptest! {
    // Whatever is accepted, and whenever: never later, never better, and the same in any order.
    #[test]
    fn an_estimate_never_betters_a_line(
        hours in 0_i64..20_000, day in 1_u32..28, counts in 0_usize..3, logged in any::<bool>(), turn in 0_usize..5,
    ) {
        let from = [CountsFrom::New, CountsFrom::Overhaul, CountsFrom::Done][counts];
        let item = Item { limits: vec![limit(Some("300"), Some(24), from)], ..life() };
        let mut shop = Shop::new();
        shop.engine(1, "2024-01-01", logged.then_some("250"), None);
        shop.install(1, 1, "2024-01-01", "500");
        shop.reading(1, "2024-03-01", "560");
        let without = line(&shop, &item);
        accept(&mut shop, &format!("2024-02-{day:02}"), &format!("{hours}.0"));
        let with = line(&shop, &item);
        for on in ["2024-02-01", "2024-03-01", "2026-06-01"].map(d) {
            prop_assert!(with.status(on) <= without.status(on));
            prop_assert!(with.status(on) == without.status(on) || with.status(on) == Status::Overdue);
        }
        prop_assert_eq!((with.due_hours(), with.hours_left()), (without.due_hours(), without.hours_left()));
        let mut facts = shop.facts();
        let turn = turn % facts.len();
        facts.rotate_left(turn);
        let engine_type = Shop::engine_type(vec![item]);
        prop_assert_eq!(due_list(&History::fold(&facts), Shop::engine_id(1), &engine_type, &Evidence::default()), vec![with]);
    }
}
