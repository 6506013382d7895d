//! Permissions to run past due, worked by hand from the row `tolerance`, `granted` = `before-due`.

use crate::bench_shop::{Shop, d, h, item};
use gudgeon_life::due::due_list;
use gudgeon_life::fact::{Concession, Content};
use gudgeon_life::history::History;
use gudgeon_life::ids::ItemId;
use gudgeon_life::line::{DueLine, Note};
use gudgeon_life::programme::{Action, Class, Granted, Item, Tolerance};
use gudgeon_life::status::Status;
use gudgeon_life::sure::prior::Evidence;
use gudgeon_life::working::working;

/// Every 100 h or 12 months; 10 h or 2 months late with a permission recorded before due.
fn annual() -> Item {
    let tolerance = Tolerance { hours: Some(h("10")), months: Some(2), ..Tolerance::default() };
    Item {
        tolerance: Some(tolerance),
        granted: Granted::BeforeDue,
        ..item("annual", Some("100"), Some(12))
    }
}

/// Made on 2025-04-15, so due through 2026-04-15; at 50.0 h.
fn shop() -> Shop {
    let mut shop = Shop::new();
    shop.engine(1, "2025-05-01", Some("50.0"), Some("2025-04-15"));
    shop
}

fn permit(shop: &mut Shop, on: &str, until: Option<&str>) {
    let content = Concession {
        engine: Shop::engine_id(1),
        item: ItemId::new("annual").unwrap(),
        position: None,
        until: until.map(d),
    };
    shop.record(on, Content::Concession(content));
}

fn line(shop: &Shop, item: &Item) -> DueLine {
    let engine_type = Shop::engine_type(vec![item.clone()]);
    due_list(&History::fold(&shop.facts()), Shop::engine_id(1), &engine_type, &Evidence::default())
        .remove(0)
}

fn statuses(shop: &Shop, item: &Item, days: [&str; 4]) -> [Status; 4] {
    days.map(|day| line(shop, item).status(d(day)))
}

const DAYS: [&str; 4] = ["2026-04-15", "2026-04-16", "2026-05-31", "2026-06-16"];

#[test]
fn without_a_permission_it_is_overdue_at_once() {
    let [at_due, past, later, latest] = statuses(&shop(), &annual(), DAYS);
    assert_eq!(at_due, Status::ComingDue);
    assert_eq!([past, later, latest], [Status::Overdue; 3]);
    assert!(line(&shop(), &annual()).notes.contains(&Note::NoGrant));
}

// Given on the due day it counts, to its own end or the end of the tolerance (2026-06-15), whichever is first.
#[test]
fn a_permission_before_due_opens_the_tolerance_until_its_end() {
    let (tolerated, overdue) = (Status::InTolerance, Status::Overdue);
    for (given, until, expected) in [
        ("2026-04-15", None, [tolerated, tolerated, overdue]),
        ("2026-03-01", Some("2026-12-31"), [tolerated, tolerated, overdue]),
        ("2026-03-01", Some("2026-05-30"), [tolerated, overdue, overdue]),
        ("2026-03-01", Some("2026-04-01"), [overdue, overdue, overdue]),
        ("2026-04-16", None, [overdue, overdue, overdue]),
    ] {
        let mut shop = shop();
        permit(&mut shop, given, until);
        let [_, past, later, latest] = statuses(&shop, &annual(), DAYS);
        assert_eq!([past, later, latest], expected, "given {given}, until {until:?}");
    }
}

// "Permission to run late, never a new due date."
#[test]
fn a_permission_never_moves_due() {
    let mut permitted = shop();
    permit(&mut permitted, "2026-03-01", Some("2026-05-30"));
    let (before, after) = (line(&shop(), &annual()), line(&permitted, &annual()));
    assert_eq!((before.due_hours(), before.due_on()), (after.due_hours(), after.due_on()));
    assert_eq!(
        (before.latest_hours(), before.latest_on()),
        (after.latest_hours(), after.latest_on())
    );
}

// Due at 100.0 h. Given at 98.0 h it holds at 105.0 and not at 110.1; given at 101.0 h it is too late, though
// the calendar is still before due; on the day itself the reading of that day counts.
#[test]
fn by_hours_it_has_to_be_given_before_the_hour() {
    for (reading, given, now, expected) in [
        ("98.0", "2025-09-02", "105.0", Status::InTolerance),
        ("98.0", "2025-09-02", "110.1", Status::Overdue),
        ("101.0", "2025-09-02", "105.0", Status::Overdue),
        ("101.0", "2025-09-01", "105.0", Status::Overdue),
        ("100.0", "2025-09-01", "105.0", Status::InTolerance),
    ] {
        let mut shop = shop();
        shop.install(1, 1, "2025-05-01", "50.0");
        shop.reading(1, "2025-09-01", reading);
        permit(&mut shop, given, None);
        shop.reading(1, "2025-10-01", now);
        let found = line(&shop, &annual()).status(d("2025-10-01"));
        assert_eq!(found, expected, "{reading}, given {given}, now {now}");
    }
}

// One permission is for one occasion: the next year needs another.
#[test]
fn work_uses_a_permission_up() {
    let mut shop = shop();
    permit(&mut shop, "2026-03-01", None);
    let done = shop.inspection(1, "2026-05-20");
    done.tsn = Some(h("60.0"));
    done.work = vec![Shop::done("annual", Action::Inspected)];
    let next = line(&shop, &annual());
    assert_eq!(next.due_on(), Some(d("2027-05-20")));
    assert_eq!(next.status(d("2027-05-21")), Status::Overdue);
    assert!(next.notes.contains(&Note::NoGrant));
}

// "None for airworthiness-limitation and directive."
#[test]
fn what_must_not_run_late_has_no_permission() {
    let directive = Item { class: Class::Directive, ..annual() };
    let mut shop = shop();
    permit(&mut shop, "2026-03-01", None);
    assert_eq!(line(&shop, &directive).status(d("2026-04-16")), Status::Overdue);
}

#[test]
fn a_working_says_which_record_permits_it_and_until_when() {
    let mut shop = shop();
    permit(&mut shop, "2026-03-01", Some("2026-05-30"));
    let engine_type = Shop::engine_type(vec![annual()]);
    let history = History::fold(&shop.facts());
    let due = line(&shop, &annual());
    let words = |day| {
        working(&history, Shop::engine_id(1), &engine_type, &Evidence::default(), &due, d(day))
            .join("\n")
    };
    for sentence in [
        "Permission by calendar: record 09000000-0000-0000-0000-000000000002, given 2026-03-01, not after due 2026-04-15, until 2026-05-30.",
        "By calendar: in tolerance, because 2026-05-01 is past 2026-04-15 but not past 2026-06-15.",
    ] {
        assert!(words("2026-05-01").contains(sentence), "{sentence}\n{}", words("2026-05-01"));
    }
    let ended = "By calendar: overdue, because 2026-06-01 is past 2026-04-15, and the permission ended 2026-05-30.";
    assert!(words("2026-06-01").contains(ended), "{}", words("2026-06-01"));
    assert!(!words("2026-05-01").contains("Permission by calendar: none"));
}
