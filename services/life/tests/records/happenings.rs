//! Events, storage and rechecks, worked by hand from the rows `events`, `findings` and `calendar` of the rules.

use crate::bench_shop::{Shop, d, h, item, limit};
use gudgeon_life::due::due_list;
use gudgeon_life::fact::{
    Affected, Condition, Content, Event, EventKind, Finding, MakerRestart, Preserved, Recheck,
};
use gudgeon_life::history::History;
use gudgeon_life::hours::Hours;
use gudgeon_life::ids::PartKind;
use gudgeon_life::line::{AskedBy, DueLine};
use gudgeon_life::programme::{Action, CountsFrom, Item, Subject};
use gudgeon_life::status::Status;
use gudgeon_life::sure::prior::Evidence;
use gudgeon_life::working::working;

fn lines(shop: &Shop, engine: usize, items: &[Item]) -> Vec<DueLine> {
    let engine_type = Shop::engine_type(items.to_vec());
    due_list(
        &History::fold(&shop.facts()),
        Shop::engine_id(engine),
        &engine_type,
        &Evidence::default(),
    )
}

fn happened(shop: &mut Shop, of: Affected, kind: EventKind, on: &str, meter: Option<&str>) {
    shop.record(on, Content::Event(Event { of, kind, meter: meter.map(h) }));
}

fn engine(number: usize) -> Affected {
    Affected::Engine(Shop::engine_id(number))
}

fn since(line: &DueLine) -> Option<Hours> {
    match line.asked_by {
        AskedBy::Event(happened) => Some(line.hours_now? - happened.hours?),
        _ => None,
    }
}

/// Due after a strike, on the engine or on every part of a kind, with no interval of its own.
fn strike_item(kind: Option<&str>) -> Item {
    let subject =
        kind.map_or(Subject::Engine, |kind| Subject::Component(PartKind::new(kind).unwrap()));
    let after = vec![EventKind::PropellerStrike, EventKind::SuddenStoppage];
    Item { subject, after, limits: Vec::new(), ..item("strike-check", None, None) }
}

/// An engine new at meter 0.0 with a gearbox on it, the propeller struck at 31.4, and a reading of 33.0.
fn struck() -> Shop {
    let mut shop = Shop::new();
    shop.engine(1, "2026-01-01", Some("0"), None);
    shop.engine(2, "2026-01-01", Some("200.0"), None);
    shop.component(7, "gearbox", "2026-01-01", Some("0"), None);
    shop.fit(7, 1, "2026-01-01");
    shop.install(1, 1, "2026-01-02", "0.0");
    happened(&mut shop, engine(1), EventKind::PropellerStrike, "2026-05-03", Some("31.4"));
    shop.reading(1, "2026-05-10", "33.0");
    shop
}

// Row events: due at once, hours run since 33.0 - 31.4 = 1.6; not due the day before.
#[test]
fn a_strike_is_due_at_once_and_shows_the_hours_run_since() {
    let shop = struck();
    let line = lines(&shop, 1, &[strike_item(None)]).remove(0);
    assert_eq!(line.status(d("2026-05-02")), Status::NotDue);
    assert_eq!(line.status(d("2026-05-03")), Status::Overdue);
    assert_eq!(since(&line), Some(h("1.6")));
    assert_eq!(line.title, "strike-check, after propeller strike");
    let engine_type = Shop::engine_type(vec![strike_item(None)]);
    let history = History::fold(&shop.facts());
    let words = working(
        &history,
        Shop::engine_id(1),
        &engine_type,
        &Evidence::default(),
        &line,
        d("2026-05-11"),
    );
    for sentence in ["Never done on record.", "Hours since: 33.0 h - 31.4 h = 1.6 h."] {
        assert!(words.iter().any(|word| word == sentence), "{sentence}\n{words:#?}");
    }
}

// A strike and the check after it on one day: whichever came later that day counts. Without a word of their order,
// something that happened comes before the work of its day.
#[test]
fn on_one_day_the_order_in_the_day_decides() {
    for (strike_order, work_order, is_open) in [(0, 0, false), (1, 2, false), (2, 1, true)] {
        let mut shop = Shop::new();
        shop.engine(1, "2026-01-01", Some("0"), None);
        happened(&mut shop, engine(1), EventKind::PropellerStrike, "2026-05-03", None);
        shop.inspection(1, "2026-05-03").work.push(Shop::done("strike-check", Action::Inspected));
        let mut facts = shop.facts();
        facts[1].entry.order_in_day = strike_order;
        facts[2].entry.order_in_day = work_order;
        let engine_type = Shop::engine_type(vec![strike_item(None)]);
        let found = due_list(
            &History::fold(&facts),
            Shop::engine_id(1),
            &engine_type,
            &Evidence::default(),
        );
        let open = found.iter().any(|it| it.status(d("2026-05-04")) == Status::Overdue);
        assert_eq!(open, is_open, "strike {strike_order}, work {work_order}: {found:#?}");
    }
}

// Row events: an earlier inspection posted late does not close it; a later one does.
#[test]
fn only_work_after_the_strike_answers_it() {
    let mut shop = struck();
    shop.work(1, "2026-05-01", "30.0", "strike-check", Action::Inspected);
    assert_eq!(since(&lines(&shop, 1, &[strike_item(None)])[0]), Some(h("1.6")));
    shop.work(1, "2026-05-12", "33.0", "strike-check", Action::Inspected);
    assert!(lines(&shop, 1, &[strike_item(None)]).is_empty());
    // Another strike opens it again, and only that one counts: 33.5 - 33.2 = 0.3.
    happened(&mut shop, engine(1), EventKind::SuddenStoppage, "2026-06-01", Some("33.2"));
    happened(&mut shop, engine(1), EventKind::PropellerStrike, "2026-06-02", Some("33.5"));
    let line = lines(&shop, 1, &[strike_item(None)]).remove(0);
    assert_eq!(since(&line), Some(h("0.3")), "from the first that nobody answered");
    assert_eq!(line.title, "strike-check, after sudden stoppage");
}

// Row events: on every part the event touches, follows the part. The gearbox moves at 33.0 to engine 2, which
// runs 200.0 to 202.5 there: 1.6 + 2.5 = 4.1 h since. A gearbox fitted to engine 1 afterwards was not touched.
#[test]
fn a_strike_follows_the_part_to_another_engine() {
    let mut shop = struck();
    shop.take_off(7, "2026-05-20");
    shop.component(8, "gearbox", "2026-05-21", Some("0"), None);
    shop.fit(8, 1, "2026-05-21");
    shop.fit(7, 2, "2026-05-21");
    shop.install(2, 2, "2026-05-22", "500.0");
    shop.reading(2, "2026-06-01", "502.5");
    let items = [strike_item(Some("gearbox"))];
    assert!(lines(&shop, 1, &items).is_empty());
    let line = lines(&shop, 2, &items).remove(0);
    assert_eq!((line.component, since(&line)), (Some(Shop::component_id(7)), Some(h("4.1"))));
    // The maker's new record of engine 1 does not undo what happened to the gearbox on it.
    let restart = MakerRestart { engine: Shop::engine_id(1) };
    shop.record("2026-06-10", Content::MakerRestart(restart));
    assert_eq!(since(&lines(&shop, 2, &items)[0]), Some(h("4.1")));
    // Work on the engine it is on now answers it there.
    shop.work(2, "2026-06-12", "502.5", "strike-check", Action::Inspected);
    assert!(lines(&shop, 2, &items).is_empty());
}

// A gearbox that stays on the aircraft is touched by what happens to the engine in it.
#[test]
fn a_strike_touches_the_parts_on_the_aircraft_too() {
    let mut shop = struck();
    shop.component(9, "propeller", "2026-02-01", Some("0"), None);
    shop.fit_to_aircraft(9, 1, "2026-02-01", "3.0");
    let line = lines(&shop, 1, &[strike_item(Some("propeller"))]).remove(0);
    assert_eq!(since(&line), Some(h("1.6")));
    // A strike of the propeller alone, with the meter looked at: 40.0 - 40.0.
    shop.work(1, "2026-05-12", "33.0", "strike-check", Action::Inspected);
    let propeller = Affected::Component(Shop::component_id(9));
    happened(&mut shop, propeller, EventKind::PropellerStrike, "2026-07-01", Some("40.0"));
    let items = [strike_item(Some("propeller")), strike_item(None)];
    let found = lines(&shop, 1, &items);
    assert_eq!(found.len(), 1, "the engine was not said to be struck");
    assert_eq!(since(&found[0]), Some(h("0")));
    assert_eq!(found[0].hours_now, Some(h("37.0")), "40.0 on the meter, fitted at 3.0");
}

// Row calendar: legs never pause in storage. Preserved until 2026-06-30: coming due 30 days before, overdue
// after it; back in use it is gone, and an item that asks for it is due.
#[test]
fn a_preservation_runs_out_and_a_return_to_use_ends_it() {
    let yearly = item("yearly", None, Some(12));
    let corrosion = Item { after: vec![EventKind::ReturnToUse], ..strike_item(None) };
    let items = [yearly, corrosion];
    let mut shop = Shop::new();
    shop.engine(1, "2026-01-01", Some("50.0"), Some("2025-10-01"));
    let due_on = lines(&shop, 1, &items)[0].due_on();
    assert_eq!(due_on, Some(d("2026-10-01")));
    let preserved = Preserved { engine: Shop::engine_id(1), until: Some(d("2026-06-30")) };
    shop.record("2026-01-10", Content::Preserved(preserved));
    let stored = lines(&shop, 1, &items);
    assert_eq!(stored.len(), 2);
    let statuses = ["2026-05-30", "2026-05-31", "2026-06-30", "2026-07-01"];
    let statuses = statuses.map(|day| stored[1].status(d(day)));
    let expected = [Status::NotDue, Status::ComingDue, Status::ComingDue, Status::Overdue];
    assert_eq!(statuses, expected);
    happened(&mut shop, engine(1), EventKind::ReturnToUse, "2026-07-05", None);
    let back = lines(&shop, 1, &items);
    let asked: Vec<&str> = back.iter().map(|line| line.item.as_str()).collect();
    assert_eq!(asked, ["yearly", "strike-check"]);
    assert_eq!(back[0].due_on(), due_on, "the calendar did not pause");
}

// Row findings: `monitor` is its own line until the recheck, here within 10 h or by 2026-09-30. Found at
// 100.0: due at 110.0; at 110.1 it is overdue, and a second look closes it.
#[test]
fn a_part_to_be_watched_is_due_again_by_hours_or_day() {
    let mut shop = Shop::new();
    shop.engine(1, "2026-01-01", Some("90.0"), None);
    shop.install(1, 1, "2026-01-02", "0.0");
    shop.inspection(1, "2026-06-01")
        .readings
        .push(gudgeon_life::fact::InspectionReading { on: d("2026-06-01"), meter: h("10.0") });
    let recheck = Some(Recheck { hours: Some(h("10")), on: Some(d("2026-09-30")) });
    shop.last().findings =
        vec![Finding { recheck, ..Shop::finding("crankcase", Condition::Monitor) }];
    let line = lines(&shop, 1, &[]).remove(0);
    assert_eq!((line.due_hours(), line.due_on()), (Some(h("110.0")), Some(d("2026-09-30"))));
    assert_eq!(line.status(d("2026-06-02")), Status::ComingDue);
    assert_eq!(line.status(d("2026-10-01")), Status::Overdue);
    shop.reading(1, "2026-08-01", "20.1");
    let line = lines(&shop, 1, &[]).remove(0);
    assert_eq!(line.status(d("2026-08-01")), Status::Overdue, "110.1 h is past 110.0 h");
    shop.inspection(1, "2026-08-05").findings =
        vec![Shop::finding("crankcase", Condition::Serviceable)];
    assert!(lines(&shop, 1, &[]).is_empty());
}

// 14 CFR 91.421: the maker's record starts at zero. At 480.0 h, with 12 h run since: TSN 12.0; a strike, a
// finding, an overhaul and work from before count no more; the hundred hours are due at 100.0.
#[test]
fn a_makers_record_starts_at_zero() {
    let mut shop = Shop::new();
    shop.engine(1, "2020-01-01", Some("400.0"), Some("2015-01-01"));
    shop.component(7, "gearbox", "2020-01-01", Some("400.0"), None);
    shop.fit(7, 1, "2020-01-01");
    shop.install(1, 1, "2020-01-02", "1000.0");
    happened(&mut shop, engine(1), EventKind::PropellerStrike, "2021-01-01", Some("1020.0"));
    shop.work(1, "2022-01-01", "1080.0", "hundred", Action::Inspected);
    shop.last().findings = vec![Shop::finding("crankcase", Condition::Repair)];
    shop.record("2022-03-01", Content::MakerRestart(MakerRestart { engine: Shop::engine_id(1) }));
    shop.reading(1, "2022-06-01", "1092.0");
    let gearbox = Item {
        subject: Subject::Component(PartKind::new("gearbox").unwrap()),
        limits: vec![limit(Some("1000"), None, CountsFrom::New)],
        ..item("gearbox-life", None, None)
    };
    let items = [item("hundred", Some("100"), Some(12)), strike_item(None), gearbox];
    let found = lines(&shop, 1, &items);
    assert_eq!(found.len(), 2, "neither the strike nor the finding");
    assert_eq!((found[0].due_hours(), found[0].hours_now), (Some(h("100.0")), Some(h("12.0"))));
    assert_eq!(found[0].due_on(), Some(d("2023-03-01")));
    // The gearbox keeps what it ran: 400.0 + 80.0 before and 12.0 since.
    assert_eq!(found[1].hours_now, Some(h("492.0")));
    let engine = History::fold(&shop.facts());
    let engine = engine.engine(Shop::engine_id(1)).unwrap();
    assert_eq!((engine.tsn(), engine.tso(), engine.full_overhauls()), (Some(h("12.0")), None, 0));
}

// Hours that contradict are unknown; the maker's new record is known again, from zero.
#[test]
fn a_makers_record_leaves_contradictions_behind() {
    let mut shop = Shop::new();
    shop.engine(1, "2020-01-01", Some("400.0"), None);
    shop.inspection(1, "2021-01-01").tsn = Some(h("300.0"));
    let hundred = [item("hundred", Some("100"), None)];
    assert_eq!(lines(&shop, 1, &hundred)[0].status(d("2022-01-01")), Status::Unknown);
    shop.record("2022-03-01", Content::MakerRestart(MakerRestart { engine: Shop::engine_id(1) }));
    assert_eq!(lines(&shop, 1, &hundred)[0].hours_left(), Some(h("100.0")));
}
