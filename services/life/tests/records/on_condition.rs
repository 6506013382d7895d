//! Running on condition, worked by hand: the inspection that lets an item go on past its life and extension.
//!
//! 300 h / 60 months and 20 percent beyond (UK CAP 747 GR No. 24): the extension ends at 360 h / 72 months;
//! then inspected every 100 h / 12 months (the same source).

use crate::bench_shop::{Shop, d, h, interval, item, limit};
use crate::fleet::World;
use gudgeon_life::calendar::{CalendarMode, add};
use gudgeon_life::due::due_list;
use gudgeon_life::history::History;
use gudgeon_life::hours::Hours;
use gudgeon_life::ids::PartKind;
use gudgeon_life::line::{AskedBy, Axis, Count, DueLine, Missing, NoLater};
use gudgeon_life::programme::{Action, Class, CountsFrom, Interval, Item, Subject};
use gudgeon_life::status::Status;
use gudgeon_life::sure::prior::Evidence;
use gudgeon_life::words::line_words;
use gudgeon_life::working::working;

fn rebuild() -> Item {
    Item {
        class: Class::Recommended,
        extension_percent: Some(20),
        on_condition: Some(interval(Some("100"), Some(12))),
        done_by: vec![Action::Overhauled],
        ..item("rebuild", Some("300"), Some(60))
    }
}

/// Engine 1, new on 2020-01-01, in aircraft 1 at meter 0.0.
fn new_engine() -> Shop {
    let mut shop = Shop::new();
    shop.engine(1, "2020-01-01", Some("0"), Some("2020-01-01"));
    shop.install(1, 1, "2020-01-01", "0.0");
    shop
}

/// The line of the life, and that of the inspection.
fn both(shop: &Shop, item: &Item) -> [DueLine; 2] {
    let engine_type = Shop::engine_type(vec![item.clone()]);
    let lines = due_list(
        &History::fold(&shop.facts()),
        Shop::engine_id(1),
        &engine_type,
        &Evidence::default(),
    );
    lines.try_into().expect("a life and its inspection")
}

fn inspection(shop: &Shop) -> DueLine {
    let [_, inspection] = both(shop, &rebuild());
    inspection
}

fn due(line: &DueLine) -> (Option<Hours>, Option<chrono::NaiveDate>) {
    (line.due_hours(), line.due_on())
}

// 360.0 h or 2026-01-01, with the usual notice of 10 h or 30 days: nobody looked, so it is overdue after that.
#[test]
fn never_inspected_it_is_overdue_when_the_extension_ends() {
    for (meter, on, life_is, inspection_is) in [
        ("349.9", "2021-06-01", Status::InExtension, Status::NotDue),
        ("350.0", "2021-06-01", Status::InExtension, Status::ComingDue),
        ("360.0", "2021-06-01", Status::InExtension, Status::ComingDue),
        ("360.1", "2021-06-01", Status::OnCondition, Status::Overdue),
        ("100.0", "2025-12-01", Status::InExtension, Status::NotDue),
        ("100.0", "2025-12-02", Status::InExtension, Status::ComingDue),
        ("100.0", "2026-01-01", Status::InExtension, Status::ComingDue),
        ("100.0", "2026-01-02", Status::OnCondition, Status::Overdue),
    ] {
        let mut shop = new_engine();
        shop.reading(1, "2021-06-01", meter);
        let [life, inspection] = both(&shop, &rebuild());
        assert_eq!(due(&inspection), (Some(h("360.0")), Some(d("2026-01-01"))));
        let statuses = (life.status(d(on)), inspection.status(d(on)));
        assert_eq!(statuses, (life_is, inspection_is), "{meter} h, {on}");
    }
    let words = line_words(&inspection(&new_engine()), d("2021-06-01"));
    assert_eq!(words.last.as_deref(), Some("no inspection on record since the life ran out"));
}

// Inspected on 2021-07-01 at 362.0 h, 2.0 h after the extension ended: next at 462.0 h or 2022-07-01, and at
// 460.0 h on 2022-06-30 next at 560.0 h or 2023-06-30.
#[test]
fn each_inspection_lets_it_run_on_from_when_it_was_done() {
    let mut shop = new_engine();
    shop.work(1, "2021-07-01", "362.0", "rebuild", Action::Inspected);
    let first = inspection(&shop);
    assert_eq!(due(&first), (Some(h("462.0")), Some(d("2022-07-01"))));
    assert_eq!((first.last_overrun.hours, first.last_overrun_beyond_tolerance), (h("2.0"), true));
    for (meter, on, status) in [
        ("400.0", "2021-08-01", Status::NotDue),
        ("452.0", "2021-08-01", Status::ComingDue),
        ("462.1", "2021-08-01", Status::Overdue),
        ("400.0", "2022-06-01", Status::ComingDue),
        ("400.0", "2022-07-02", Status::Overdue),
    ] {
        let mut shop = shop.clone();
        shop.reading(1, "2021-07-20", meter);
        let [life, inspection] = both(&shop, &rebuild());
        assert_eq!(life.status(d(on)), Status::OnCondition);
        assert_eq!(inspection.status(d(on)), status, "{meter} h, {on}");
    }
    shop.work(1, "2022-06-30", "460.0", "rebuild", Action::Inspected);
    let second = inspection(&shop);
    assert_eq!(due(&second), (Some(h("560.0")), Some(d("2023-06-30"))));
    assert_eq!(second.last_overrun.hours, Hours::ZERO);
}

// At 299.9 h there is life left, and looking then says nothing about the time beyond; at 300.0 h there is none,
// and the repeats begin: 400.0 h or 2022-05-01. Neither moves the life.
#[test]
fn an_inspection_before_the_life_has_run_out_starts_nothing() {
    for (meter, expected) in [
        ("299.9", (Some(h("360.0")), Some(d("2026-01-01")))),
        ("300.0", (Some(h("400.0")), Some(d("2022-05-01")))),
    ] {
        let mut shop = new_engine();
        shop.work(1, "2021-05-01", meter, "rebuild", Action::Inspected);
        let [life, inspection] = both(&shop, &rebuild());
        assert_eq!(due(&inspection), expected, "{meter} h");
        assert_eq!(due(&life), (Some(h("300.0")), Some(d("2025-01-01"))));
    }
}

// By the calendar the life ends on 2025-01-01, and looking at it on that day counts.
#[test]
fn the_life_may_have_run_out_by_the_calendar_alone() {
    for (on, expected) in [
        ("2024-12-31", (Some(h("360.0")), Some(d("2026-01-01")))),
        ("2025-01-01", (Some(h("150.0")), Some(d("2026-01-01")))),
        ("2025-03-10", (Some(h("150.0")), Some(d("2026-03-10")))),
    ] {
        let mut shop = new_engine();
        shop.work(1, on, "50.0", "rebuild", Action::Inspected);
        assert_eq!(due(&inspection(&shop)), expected, "{on}");
    }
}

// Overhauled at 380.0 h on 2021-09-01: a new life to 680.0 h or 2026-09-01, its extension to 740.0 h or 2027-09-01.
#[test]
fn an_overhaul_starts_the_life_afresh() {
    let mut shop = new_engine();
    shop.work(1, "2021-07-01", "362.0", "rebuild", Action::Inspected);
    shop.work(1, "2021-09-01", "380.0", "rebuild", Action::Overhauled);
    shop.work(1, "2021-09-01", "380.0", "rebuild", Action::Inspected);
    let [life, inspection] = both(&shop, &rebuild());
    assert_eq!(due(&life), (Some(h("680.0")), Some(d("2026-09-01"))));
    assert_eq!(due(&inspection), (Some(h("740.0")), Some(d("2027-09-01"))));
    assert_eq!(inspection.last, None);
}

// Only looking at it closes it: not cleaning or adjusting. Where an inspection is what the item asks for, it
// starts the life again, and lets nothing run beyond it.
#[test]
fn other_work_is_no_inspection() {
    for action in [Action::Cleaned, Action::Adjusted, Action::Machined, Action::Refitted] {
        let mut shop = new_engine();
        shop.work(1, "2021-07-01", "362.0", "rebuild", action);
        assert_eq!(due(&inspection(&shop)).0, Some(h("360.0")), "{action:?}");
    }
    let mut shop = new_engine();
    shop.work(1, "2021-07-01", "362.0", "rebuild", Action::Inspected);
    let [life, inspection] = both(&shop, &Item { done_by: vec![Action::Inspected], ..rebuild() });
    assert_eq!((life.due_hours(), inspection.due_hours()), (Some(h("662.0")), Some(h("722.0"))));
}

// What never runs late has no inspection that would let it, nor has what asks for none.
#[test]
fn nothing_binding_runs_on_condition() {
    let binding = [Class::Directive, Class::AirworthinessLimitation];
    let binding = binding.map(|class| Item { class, ..rebuild() });
    let silent =
        [Item { on_condition: None, ..rebuild() }, Item { extension_percent: None, ..rebuild() }];
    for item in binding.into_iter().chain(silent) {
        let engine_type = Shop::engine_type(vec![item]);
        let history = History::fold(&new_engine().facts());
        assert_eq!(
            due_list(&history, Shop::engine_id(1), &engine_type, &Evidence::default()).len(),
            1
        );
    }
}

// A repeat by months alone: 2021-07-01 and a year. Months and days are sides of their own: 45 days are sooner.
#[test]
fn the_repeat_counts_its_own_sides() {
    let mut shop = new_engine();
    shop.work(1, "2021-07-01", "362.0", "rebuild", Action::Inspected);
    let by_months = Item { on_condition: Some(interval(None, Some(12))), ..rebuild() };
    let [_, yearly] = both(&shop, &by_months);
    assert_eq!(due(&yearly), (None, Some(d("2022-07-01"))));
    let mut both_spans = interval(None, Some(12));
    both_spans.spans.push(gudgeon_life::calendar::CalendarSpan::days(45));
    let [_, sooner] = both(&shop, &Item { on_condition: Some(both_spans), ..rebuild() });
    assert_eq!((sooner.legs.len(), due(&sooner)), (2, (None, Some(d("2021-08-15")))));
}

// No log: the records begin at 0.0 h, so the life ends no later than at 300.0 h and its extension at 360.0 h.
// Looked at at 310.0 h, beyond all doubt, it runs to 410.0 h or 2022-07-01; at 290.0 h nobody can tell.
#[test]
fn a_life_that_cannot_be_told_is_unknown_until_the_records_prove_more() {
    let unlogged = || {
        let mut shop = Shop::new();
        shop.engine(1, "2020-01-01", None, None);
        shop.install(1, 1, "2020-01-01", "0.0");
        shop
    };
    for (meter, status) in [("360.0", Status::Unknown), ("360.1", Status::Overdue)] {
        let mut shop = unlogged();
        shop.reading(1, "2021-06-01", meter);
        let inspection = inspection(&shop);
        assert_eq!(inspection.status(d("2021-06-01")), status, "{meter} h");
        assert_eq!(inspection.legs[0].count, Count::Missing(Axis::Hours, Missing::NoStart));
        let bound = NoLater::Hours { due: h("360.0"), latest: h("360.0") };
        assert_eq!(inspection.legs[0].no_later, Some(bound));
    }
    for (meter, expected) in
        [("290.0", (None, None)), ("310.0", (Some(h("410.0")), Some(d("2022-07-01"))))]
    {
        let mut shop = unlogged();
        shop.work(1, "2021-07-01", meter, "rebuild", Action::Inspected);
        assert_eq!(due(&inspection(&shop)), expected, "{meter} h");
    }
}

// A gearbox looked at on engine 2 at its 310.0 h goes to engine 1: due at its 410.0 h.
#[test]
fn an_inspection_follows_the_part() {
    let life = limit(Some("300"), None, CountsFrom::New);
    let gearbox = Item {
        subject: Subject::Component(PartKind::new("gearbox").unwrap()),
        limits: vec![life],
        on_condition: Some(interval(Some("100"), None)),
        ..rebuild()
    };
    let mut shop = new_engine();
    shop.engine(2, "2020-01-01", Some("0"), None);
    shop.install(2, 2, "2020-01-01", "0.0");
    shop.component(7, "gearbox", "2020-01-01", Some("200.0"), None);
    shop.fit(7, 2, "2020-01-01");
    shop.work(2, "2021-01-01", "110.0", "rebuild", Action::Inspected);
    shop.take_off(7, "2021-02-01");
    shop.fit(7, 1, "2021-02-02");
    let [_, inspection] = both(&shop, &gearbox);
    assert_eq!(inspection.component, Some(Shop::component_id(7)));
    assert_eq!(inspection.due_hours(), Some(h("410.0")));
}

// The sums of the two inspections above, as anybody can redo them.
#[test]
fn a_working_goes_through_the_life_and_on() {
    let mut shop = new_engine();
    shop.work(1, "2021-05-01", "280.0", "rebuild", Action::Inspected);
    shop.work(1, "2021-07-01", "362.0", "rebuild", Action::Inspected);
    let [_, inspection] = both(&shop, &rebuild());
    let history = History::fold(&shop.facts());
    let engine_type = Shop::engine_type(vec![rebuild()]);
    let as_of = d("2021-08-01");
    let words = working(
        &history,
        Shop::engine_id(1),
        &engine_type,
        &Evidence::default(),
        &inspection,
        as_of,
    );
    let from = words.iter().position(|it| it.starts_with("On condition")).unwrap();
    let record = |at: usize| history_record(&shop, at);
    let (early, late) = (record(2), record(3));
    let expected = [
        "On condition when the extension ends: inspected by then, and again every 100.0 h or every \
         12 months, whichever comes first; always counted from done, overdue at once."
            .to_owned(),
        format!(
            "Inspected 2021-05-01 at 280.0 h (record {early}): the life had not run out on record, \
             so it does not count."
        ),
        format!("Inspected 2021-07-01 at 362.0 h (record {late}): the life had run out, so it counts."),
        format!(
            "Done 2021-07-01 at 362.0 h (inspected, record {late}), due 360.0 h: this rule counts \
             from when it was done. Next due: 362.0 h + 100.0 h = 462.0 h."
        ),
        format!(
            "Done 2021-07-01 (inspected, record {late}), due 2026-01-01: this rule counts from when \
             it was done. Next due: 2021-07-01 + 12 months = 2022-07-01."
        ),
    ];
    assert_eq!(words[from..from + 5], expected);
    assert!(words.contains(&"Latest: 300.0 h + 60.0 h = 360.0 h (extension of 20 %).".to_owned()));
}

fn history_record(shop: &Shop, at: usize) -> String {
    shop.facts()[at].id.to_string()
}

/// Whatever the records, the first inspection is due where the extension of the life ends, and every later one
/// an interval after the last, which was done when the life had run out.
#[test]
fn on_a_random_fleet_it_follows_the_life_or_the_last_inspection() {
    let (mut first, mut later) = (0, 0);
    for seed in 30_000..32_000 {
        let world = World::new(seed);
        let lines = due_list(
            &world.history(),
            Shop::engine_id(1),
            &world.engine_type,
            &Evidence::default(),
        );
        for pair in lines.windows(2) {
            let [life, inspection] = pair else { panic!("windows of two") };
            if inspection.asked_by != AskedBy::OnCondition {
                continue;
            }
            assert_eq!((&life.item, life.asked_by), (&inspection.item, AskedBy::Programme));
            let item = world.engine_type.item(&life.item).unwrap();
            let every = item.on_condition.as_ref().unwrap();
            if inspection.last.is_some() {
                later += 1;
                follows_the_last(seed, inspection, life, every);
            } else {
                first += 1;
                let ends = (life.latest_hours(), life.latest_on());
                assert_eq!(due(inspection), ends, "engine {seed}: {inspection:#?}");
            }
        }
    }
    assert!(first > 1000 && later > 100, "both come up: {first}, {later}");
}

fn follows_the_last(seed: u64, inspection: &DueLine, life: &DueLine, every: &Interval) {
    let last = inspection.last.unwrap();
    assert_eq!(last.action, Action::Inspected, "engine {seed}");
    let next = |span| add(last.on, span, CalendarMode::Day);
    let on = every.spans.iter().copied().map(next).min();
    let hours = last.hours.zip(every.hours).map(|(at, every)| at + every);
    assert_eq!(due(inspection), (hours, on), "engine {seed}: {inspection:#?}");
    let bounds = |leg: &gudgeon_life::line::Leg| match (leg.count, leg.no_later) {
        (Count::Hours { due, .. }, _) | (_, Some(NoLater::Hours { due, .. })) => {
            last.hours.is_some_and(|at| due <= at)
        }
        (Count::Calendar { due, .. }, _) | (_, Some(NoLater::Day { due, .. })) => due <= last.on,
        (Count::Missing(..), None) => false,
    };
    assert!(life.legs.iter().any(bounds), "engine {seed}: {life:#?}");
}
