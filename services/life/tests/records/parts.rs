//! Parts with hours and age of their own, worked by hand: overhauls, papers, work that follows a part, shelf
//! lives, extensions, and bounds on what cannot be told.

use crate::bench_shop::{Shop, d, h, item, limit};
use gudgeon_life::calendar::{CalendarMode, CalendarSpan};
use gudgeon_life::date_code::{CodeDay, Scheme};
use gudgeon_life::due::due_list;
use gudgeon_life::fact::{
    Code, ComponentFitted, ComponentOverhauled, ComponentRegistered, Content, EngineRegistered,
    Fact, Host, Papers,
};
use gudgeon_life::history::History;
use gudgeon_life::hours::Basis;
use gudgeon_life::ids::{ItemId, PartKind, PositionId};
use gudgeon_life::line::{Axis, Count, DueLine, Missing, NoLater, Note};
use gudgeon_life::programme::{Action, CountsFrom, Item, Limit, NextPolicy, Subject, Tolerance};
use gudgeon_life::status::Status;
use gudgeon_life::sure::prior::Evidence;

fn gearbox(item: Item) -> Item {
    Item { subject: Subject::Component(PartKind::new("gearbox").unwrap()), ..item }
}

fn lines(facts: &[Fact], engine: usize, item: &Item) -> Vec<DueLine> {
    let engine_type = Shop::engine_type(vec![item.clone()]);
    due_list(&History::fold(facts), Shop::engine_id(engine), &engine_type, &Evidence::default())
}

fn line(shop: &Shop, engine: usize, item: &Item) -> DueLine {
    lines(&shop.facts(), engine, item).remove(0)
}

fn registered(number: usize, hours: Option<&str>, papers: Option<Papers>) -> ComponentRegistered {
    ComponentRegistered {
        component: Shop::component_id(number),
        kind: PartKind::new("gearbox").unwrap(),
        serial: None,
        lot: None,
        maker_part: None,
        code: Some(Code { scheme: Scheme::Quarter, text: "3Q15".to_owned() }),
        hours: hours.map(h),
        cured_on: None,
        first_fitted_on: None,
        overhauled: papers,
    }
}

/// Engines 1 and 2 new in aircraft 1 and 2 at meter 0.0.
fn two_engines() -> Shop {
    let mut shop = Shop::new();
    for number in [1, 2] {
        shop.engine(number, "2020-01-01", Some("0"), None);
        shop.install(number, number, "2020-01-01", "0.0");
    }
    shop
}

fn overhaul_every_300() -> Item {
    let limits = vec![limit(Some("300"), Some(60), CountsFrom::Overhaul)];
    gearbox(Item { limits, ..item("gearbox-overhaul", None, None) })
}

// A gearbox with 120.0 h runs 80.0 h, is overhauled on 2021-06-01 at 200.0 h and runs 30.0 h more: TSO 30.0,
// due at 500.0 h or 2026-06-01. Its total goes on: 230.0 h.
#[test]
fn an_overhauled_assembly_counts_from_its_overhaul() {
    let mut shop = two_engines();
    shop.record("2020-01-01", Content::ComponentRegistered(registered(7, Some("120.0"), None)));
    shop.fit(7, 1, "2020-01-01");
    shop.reading(1, "2021-05-01", "80.0");
    let new = line(&shop, 1, &overhaul_every_300());
    assert_eq!((new.due_hours(), new.due_on()), (Some(h("300.0")), Some(d("2020-07-01"))));
    assert!(
        new.notes.contains(&Note::CountedFromNew),
        "never overhauled, its hours known from new"
    );
    let component = Shop::component_id(7);
    let overhauled = ComponentOverhauled { component, released: true };
    shop.record("2021-06-01", Content::ComponentOverhauled(overhauled));
    shop.reading(1, "2022-01-01", "110.0");
    let due = line(&shop, 1, &overhaul_every_300());
    assert_eq!((due.due_hours(), due.hours_now), (Some(h("500.0")), Some(h("230.0"))));
    assert_eq!(due.due_on(), Some(d("2026-06-01")));
    assert!(due.notes.is_empty());
    let history = History::fold(&shop.facts());
    assert_eq!(history.component_tso(component), Some(h("30.0")));
}

// An exchange unit with papers: overhauled 2019-09-01, 12.0 h since; 20.0 h run here: 32.0 h since overhaul.
// Total 512.0 + 20.0; due 500.0 + 300.0 = 800.0 h or 2024-09-01. Without papers or hours it is unknown, and
// overdue five years after it came here, 2025-01-01.
#[test]
fn an_exchange_unit_has_papers_or_is_unknown() {
    let papers = Papers { on: d("2019-09-01"), hours_since: h("12.0") };
    let mut shop = two_engines();
    let with = registered(7, Some("512.0"), Some(papers));
    shop.record("2020-01-01", Content::ComponentRegistered(with));
    shop.fit(7, 1, "2020-01-01");
    shop.record("2020-01-01", Content::ComponentRegistered(registered(8, None, None)));
    shop.fit(8, 2, "2020-01-01");
    shop.reading(1, "2020-06-01", "20.0");
    let due = line(&shop, 1, &overhaul_every_300());
    assert_eq!((due.due_hours(), due.due_on()), (Some(h("800.0")), Some(d("2024-09-01"))));
    let history = History::fold(&shop.facts());
    assert_eq!(history.component_tso(Shop::component_id(7)), Some(h("32.0")));
    let unknown = line(&shop, 2, &overhaul_every_300());
    let counts: Vec<Count> = unknown.legs.iter().map(|leg| leg.count).collect();
    let lost = |axis| Count::Missing(axis, Missing::NoOverhaul);
    assert_eq!(counts, [lost(Axis::Hours), lost(Axis::Calendar)]);
    assert_eq!(unknown.status(d("2025-01-01")), Status::Unknown);
    assert_eq!(unknown.status(d("2025-01-02")), Status::Overdue);
}

fn engine_with_papers(tsn: Option<&str>) -> Shop {
    let mut shop = Shop::new();
    let papers = Papers { on: d("2022-05-10"), hours_since: h("40.0") };
    shop.record(
        "2023-01-01",
        Content::EngineRegistered(EngineRegistered {
            engine: Shop::engine_id(1),
            engine_type: ItemId::new("test-twin").unwrap(),
            serial: "7".to_owned(),
            basis: Basis::EngineRun,
            tsn: tsn.map(h),
            made_on: None,
            overhauled: Some(papers),
        }),
    );
    shop.install(1, 1, "2023-01-01", "0.0");
    shop.reading(1, "2023-06-01", "25.0");
    shop
}

// Overhauled 40.0 h before it came: 300 - 40.0 - 25.0 = 235.0 h left, with or without a log from new.
#[test]
fn an_engine_comes_with_papers_of_its_overhaul() {
    let overhaul = Item {
        limits: vec![limit(Some("300"), Some(60), CountsFrom::Overhaul)],
        ..item("overhaul", None, None)
    };
    for tsn in [Some("612.0"), None] {
        let shop = engine_with_papers(tsn);
        let due = line(&shop, 1, &overhaul);
        assert_eq!(due.hours_left(), Some(h("235.0")), "TSN {tsn:?}");
        assert_eq!(due.due_on(), Some(d("2027-05-10")));
        let history = History::fold(&shop.facts());
        let engine = history.engine(Shop::engine_id(1)).unwrap();
        assert_eq!(engine.tso(), Some(h("65.0")));
        assert_eq!(engine.tsn(), tsn.map(|_| h("637.0")));
    }
}

// A gearbox looked at on engine 1 at its 60.0 h is due again at 160.0 h, on engine 2 too; what engine 2 had
// done to its own gearbox before, and engine 1 to its next one, is not about this one.
#[test]
fn what_was_done_to_a_part_follows_it() {
    let check = gearbox(Item {
        done_by: vec![Action::Inspected],
        ..item("gearbox-check", Some("100"), None)
    });
    let mut shop = two_engines();
    for part in [7, 8] {
        let fresh = registered(part, Some("0"), None);
        shop.record("2020-01-01", Content::ComponentRegistered(fresh));
    }
    shop.fit(7, 1, "2020-01-01");
    shop.fit(8, 2, "2020-01-01");
    shop.work(1, "2020-06-01", "60.0", "gearbox-check", Action::Inspected);
    shop.work(2, "2020-07-01", "90.0", "gearbox-check", Action::Inspected);
    shop.take_off(7, "2020-08-01");
    shop.take_off(8, "2020-08-01");
    shop.fit(8, 1, "2020-08-02");
    shop.fit(7, 2, "2020-08-02");
    shop.work(1, "2020-09-01", "60.5", "gearbox-check", Action::Inspected);
    let moved = line(&shop, 2, &check);
    assert_eq!(
        (moved.component, moved.due_hours()),
        (Some(Shop::component_id(7)), Some(h("160.0")))
    );
    assert_eq!(line(&shop, 1, &check).due_hours(), Some(h("190.5")));
    // An overhaul of the gearbox named on an engine's job card is no other gearbox.
    shop.work(2, "2020-10-01", "95.0", "gearbox-check", Action::Overhauled);
    assert_eq!(line(&shop, 2, &check).component, Some(Shop::component_id(7)));
}

// The part moves from the `mag` to the `pto` place: what was done to it there is still done.
#[test]
fn what_was_done_to_a_part_follows_it_to_another_place() {
    let places = ["mag", "pto"].map(|place| PositionId::new(place).unwrap());
    let check = gearbox(Item {
        positions: places.to_vec(),
        done_by: vec![Action::Cleaned],
        ..item("carburettor-clean", Some("50"), None)
    });
    let mut shop = two_engines();
    shop.record("2020-01-01", Content::ComponentRegistered(registered(7, Some("0"), None)));
    let fit = |shop: &mut Shop, place: &PositionId, on: &str| {
        let host = Host::Engine(Shop::engine_id(1));
        let component = Shop::component_id(7);
        let position = Some(place.clone());
        let fitted = ComponentFitted { component, host, position, meter: None };
        shop.record(on, Content::ComponentFitted(fitted));
    };
    fit(&mut shop, &places[0], "2020-01-01");
    shop.work(1, "2020-03-01", "30.0", "carburettor-clean", Action::Cleaned);
    shop.last().work[0].positions = vec![places[0].clone()];
    shop.take_off(7, "2020-04-01");
    fit(&mut shop, &places[1], "2020-04-01");
    let found = lines(&shop.facts(), 1, &check);
    let at_pto = found.iter().find(|line| line.component.is_some()).unwrap();
    assert_eq!((at_pto.position.as_ref(), at_pto.due_hours()), (Some(&places[1]), Some(h("80.0"))));
}

// Nobody knows when a part passed an hour before it was registered: no count starts there.
#[test]
fn hours_before_a_part_was_registered_are_not_known() {
    let mut shop = two_engines();
    let overhauled = ComponentOverhauled { component: Shop::component_id(7), released: true };
    shop.record("2019-06-01", Content::ComponentOverhauled(overhauled));
    shop.record("2020-01-01", Content::ComponentRegistered(registered(7, Some("200.0"), None)));
    shop.fit(7, 1, "2020-01-01");
    let due = line(&shop, 1, &overhaul_every_300());
    assert_eq!(due.legs[0].count, Count::Missing(Axis::Hours, Missing::NoHours));
    let bound = NoLater::Hours { due: h("500.0"), latest: h("500.0") };
    assert_eq!(due.legs[0].no_later, Some(bound), "300 h after it came with 200.0 h");
    assert_eq!(due.due_on(), Some(d("2024-06-01")));
}

fn belt_line(limits: Vec<Limit>, fitted: &str, quarter: &str) -> DueLine {
    let mut shop = two_engines();
    shop.component(5, "gearbox", fitted, Some("0"), Some(quarter));
    shop.fit(5, 1, fitted);
    line(&shop, 1, &gearbox(Item { limits, ..item("belt", None, None) }))
}

// 1Q10 and 15 years by the last day of the code, 2010-03-31: 2025-03-31. By its first day: 2025-01-01.
#[test]
fn a_code_counts_from_its_first_or_its_last_day() {
    let life = limit(None, Some(180), CountsFrom::Made);
    let last = Limit { code_day: CodeDay::Last, ..life.clone() };
    assert_eq!(belt_line(vec![life], "2020-01-01", "1Q10").due_on(), Some(d("2025-01-01")));
    assert_eq!(belt_line(vec![last], "2020-01-01", "1Q10").due_on(), Some(d("2025-03-31")));
}

// Shelf 4 years from 3Q15, so through 2019-07-01: fitted after it, the line stays overdue and says so; fitted
// within it, the shelf counts no more.
#[test]
fn a_part_fitted_past_its_shelf_life_stays_overdue() {
    let shelf = Limit { shelf: true, ..limit(None, Some(48), CountsFrom::Made) };
    let service = limit(None, Some(60), CountsFrom::FirstFitted);
    let limits = vec![shelf, service];
    let late = belt_line(limits.clone(), "2020-01-02", "3Q15");
    assert_eq!(late.status(d("2020-01-02")), Status::Overdue);
    assert_eq!(late.due_on(), Some(d("2019-07-01")));
    assert!(late.notes.contains(&Note::FittedPastShelfLife));
    let on_the_day = belt_line(limits.clone(), "2019-07-01", "3Q15");
    assert_eq!(on_the_day.due_on(), Some(d("2024-07-01")), "through its last day");
    let fresh = belt_line(limits, "2020-01-02", "3Q16");
    assert_eq!(fresh.due_on(), Some(d("2025-01-02")));
    assert_eq!(fresh.status(d("2021-01-01")), Status::NotDue);
    assert!(fresh.notes.is_empty());
}

// 300 h / 5 years and 20 %: in extension past 300 h, on condition past 360 h; by the calendar past 72 months.
// No tolerance on top. The condition then governs, whatever the other side shows.
#[test]
fn an_extension_ends_on_condition() {
    let tolerance = Some(Tolerance { hours: Some(h("10")), ..Tolerance::default() });
    let life =
        Item { extension_percent: Some(20), tolerance, ..item("rebuild", Some("300"), Some(60)) };
    let at = |hours: &str, day: &str| {
        let mut shop = Shop::new();
        shop.engine(1, "2020-01-01", Some("0"), Some("2020-01-01"));
        shop.inspection(1, "2020-12-01").tsn = Some(h(hours));
        let due = line(&shop, 1, &life);
        assert_eq!((due.latest_hours(), due.latest_on()), (Some(h("360")), Some(d("2026-01-01"))));
        (due.status(d(day)), due.governs(d(day)).word())
    };
    assert_eq!(at("300.0", "2021-01-01"), (Status::ComingDue, "hours"));
    assert_eq!(at("300.1", "2021-01-01"), (Status::InExtension, "hours"));
    assert_eq!(at("360.0", "2021-01-01"), (Status::InExtension, "hours"));
    assert_eq!(at("360.1", "2021-01-01"), (Status::OnCondition, "hours"));
    assert_eq!(at("360.1", "2025-06-01"), (Status::OnCondition, "hours"));
    assert_eq!(at("310.0", "2026-01-02"), (Status::OnCondition, "calendar"));
    assert_eq!(at("360.1", "2026-01-02"), (Status::OnCondition, "both"));
}

// Days alone run to no month's end, nor does a month of tolerance after them: 2024-01-10 + 45 days is
// 2024-02-24, and one month more 2024-03-24.
#[test]
fn a_tolerance_of_months_after_days_counts_from_the_due_day() {
    let mut every = limit(None, None, CountsFrom::New);
    every.every.spans = vec![CalendarSpan::days(45)];
    every.calendar = CalendarMode::EndOfMonth;
    let tolerance = Some(Tolerance { months: Some(1), ..Tolerance::default() });
    let check = Item { limits: vec![every], tolerance, ..item("check", None, None) };
    let mut shop = Shop::new();
    shop.engine(1, "2024-02-01", Some("0"), Some("2024-01-10"));
    let due = line(&shop, 1, &check);
    assert_eq!((due.due_on(), due.latest_on()), (Some(d("2024-02-24")), Some(d("2024-03-24"))));
}

// Never done on record, and the first interval is the shorter: it may have been done before the records, so
// due no later than one repeat after they begin (500.0 + 100.0 h). A window proves nothing: early work inside
// it may have counted from a later due.
#[test]
fn a_bound_is_only_what_the_records_prove() {
    let mut shop = Shop::new();
    shop.engine(1, "2020-01-01", Some("500.0"), None);
    let done = limit(Some("100"), None, CountsFrom::Done);
    let first = Some(crate::bench_shop::interval(Some("10"), None));
    let check = Item { limits: vec![Limit { first, ..done }], ..item("check", None, None) };
    let bound = NoLater::Hours { due: h("600.0"), latest: h("600.0") };
    assert_eq!(line(&shop, 1, &check).legs[0].no_later, Some(bound));
    let window = Item { next: NextPolicy::Window, ..check };
    assert_eq!(line(&shop, 1, &window).legs[0].no_later, None);
    // A part first fitted long before: what was done to it since is not on record either.
    let check = gearbox(Item {
        limits: vec![limit(None, Some(24), CountsFrom::Done)],
        ..item("gearbox-check", None, None)
    });
    let mut known = registered(7, Some("0"), None);
    known.first_fitted_on = Some(d("2015-01-01"));
    shop.record("2020-01-01", Content::ComponentRegistered(known));
    shop.fit(7, 1, "2020-01-01");
    let bound = NoLater::Day { due: d("2022-01-01"), latest: d("2022-01-01") };
    assert_eq!(line(&shop, 1, &check).legs[0].no_later, Some(bound));
}

// Taken off at 10.0 h and fitted again: the nuts are due 2 h after that fitting, not after the first.
#[test]
fn steps_after_fitting_begin_again_with_each_fitting() {
    let steps = Limit { once: vec![h("2"), h("10")], ..limit(None, None, CountsFrom::Fitted) };
    let nuts = gearbox(Item {
        limits: vec![steps],
        done_by: vec![Action::Adjusted],
        ..item("gearbox-nuts", None, None)
    });
    let mut shop = two_engines();
    shop.record("2020-01-01", Content::ComponentRegistered(registered(7, Some("0"), None)));
    shop.fit(7, 1, "2020-01-01");
    shop.work(1, "2020-02-01", "2.0", "gearbox-nuts", Action::Adjusted);
    assert_eq!(line(&shop, 1, &nuts).due_hours(), Some(h("10.0")));
    shop.work(1, "2020-03-01", "10.0", "gearbox-nuts", Action::Adjusted);
    shop.take_off(7, "2020-03-02");
    shop.fit(7, 1, "2020-03-03");
    assert_eq!(line(&shop, 1, &nuts).due_hours(), Some(h("12.0")));
}

// A gearbox on the aircraft: what the engine before it had done to it at 60.0 h counts for engine 2, due at
// 160.0 h; what engine 3 beside it has done at 90.0 h is about what engine 3 drives.
#[test]
fn a_part_on_the_aircraft_keeps_what_was_done_to_it_when_the_engine_changes() {
    let check = gearbox(Item {
        done_by: vec![Action::Inspected],
        ..item("gearbox-check", Some("100"), None)
    });
    let mut shop = Shop::new();
    for number in [1, 2, 3] {
        shop.engine(number, "2020-01-01", Some("0"), None);
    }
    shop.install(1, 1, "2020-01-01", "0.0");
    shop.record("2020-01-01", Content::ComponentRegistered(registered(7, Some("0"), None)));
    shop.fit_to_aircraft(7, 1, "2020-01-01", "0.0");
    shop.work(1, "2020-06-01", "60.0", "gearbox-check", Action::Inspected);
    shop.remove(1, "2020-07-01", "70.0");
    shop.install(2, 1, "2020-07-02", "70.0");
    shop.install(3, 1, "2020-07-02", "70.0");
    shop.work(3, "2020-09-01", "90.0", "gearbox-check", Action::Inspected);
    assert_eq!(line(&shop, 2, &check).due_hours(), Some(h("160.0")));
    shop.work(2, "2020-09-02", "90.0", "gearbox-check", Action::Inspected);
    assert_eq!(line(&shop, 2, &check).due_hours(), Some(h("190.0")));
}
