//! Parts that move: their hours over several engines, what was found on them, and the sets they belong to.

use crate::bench_shop::{Shop, d, h, item, limit};
use chrono::Days;
use gudgeon_life::clock::Moment;
use gudgeon_life::due::due_list;
use gudgeon_life::fact::{
    ComponentFitted, ComponentRemoved, Condition, Content, Finding, Host, MatchedPart, MatchedSet,
    RemovalCause, WorkDone,
};
use gudgeon_life::history::History;
use gudgeon_life::hours::Hours;
use gudgeon_life::ids::{PartKind, PartyId, PositionId, Uid};
use gudgeon_life::line::{AskedBy, DueLine};
use gudgeon_life::matched::{MismatchKind, mismatches};
use gudgeon_life::programme::{Action, CountsFrom, EngineType, Item, Subject};
use gudgeon_life::status::Status;
use gudgeon_life::sure::prior::Evidence;
use gudgeon_life::working::working;
use proptest::prelude::*;

fn at(name: &str) -> PositionId {
    PositionId::new(name).unwrap()
}

fn kind(name: &str) -> PartKind {
    PartKind::new(name).unwrap()
}

/// A crankshaft's life of 300 h from new.
fn crankshaft_life() -> Item {
    let limits = vec![limit(Some("300"), None, CountsFrom::New)];
    let done_by = vec![Action::Renewed];
    let subject = Subject::Component(kind("crankshaft"));
    Item { subject, limits, done_by, ..item("crankshaft-life", None, None) }
}

fn programme() -> EngineType {
    Shop::engine_type(vec![crankshaft_life()])
}

fn lines(shop: &Shop, engine: usize) -> Vec<DueLine> {
    due_list(
        &History::fold(&shop.facts()),
        Shop::engine_id(engine),
        &programme(),
        &Evidence::default(),
    )
}

fn take_off(shop: &mut Shop, number: usize, on: &str, cause: RemovalCause) {
    let component = Shop::component_id(number);
    let removed = ComponentRemoved { component, meter: None, cause: Some(cause) };
    shop.record(on, Content::ComponentRemoved(removed));
}

/// Engines 1 to 3, each in an aircraft of its own whose meter begins where it pleases.
fn three_engines() -> Shop {
    let mut shop = Shop::new();
    for (number, meter) in [(1, "100.0"), (2, "40.0"), (3, "10.0")] {
        shop.engine(number, "2023-01-01", Some("0"), None);
        shop.install(number, number, "2023-01-01", meter);
    }
    shop.component(7, "crankshaft", "2023-01-01", Some("0"), None);
    shop
}

// On engine 1 from meter 100.0 to 160.0: 60.0 h. On engine 2 from 40.0 to 85.5, first told as 95.5 and then
// corrected: 45.5 h. On engine 3 from 10.0 to 31.2: 21.2 h. 60.0 + 45.5 + 21.2 = 126.7 h; before the correction
// 60.0 + 55.5 + 21.2 = 136.7 h. Due at 300.0 h of its own, whatever the engines have run.
#[test]
fn a_part_keeps_its_hours_over_three_engines_two_shops_and_a_correction() {
    let mut shop = three_engines();
    shop.fit(7, 1, "2023-01-01");
    shop.work(1, "2023-06-01", "160.0", "crankshaft-life", Action::Inspected);
    take_off(&mut shop, 7, "2023-06-01", RemovalCause::Transfer);
    shop.fit(7, 2, "2023-07-01");
    shop.work(2, "2024-01-10", "80.0", "crankshaft-life", Action::Inspected);
    shop.last().shop = PartyId(Uid::from_bytes([44; 16]));
    let wrong = shop.reading(2, "2024-02-01", "95.5");
    take_off(&mut shop, 7, "2024-02-01", RemovalCause::Exchange);
    shop.fit(7, 3, "2024-03-01");
    shop.reading(3, "2024-09-01", "31.2");
    let hours = |shop: &Shop| {
        let history = History::fold(&shop.facts());
        history.component_hours(Shop::component_id(7), Moment::end_of(d("2024-12-31")))
    };
    assert_eq!(hours(&shop), Some(h("136.7")));
    shop.correct_reading(wrong, 2, "2024-02-01", "85.5");
    assert_eq!(hours(&shop), Some(h("126.7")));
    let line = lines(&shop, 3).remove(0);
    assert_eq!((line.hours_now, line.due_hours()), (Some(h("126.7")), Some(h("300.0"))));
    let history = History::fold(&shop.facts());
    let part = history.component(Shop::component_id(7)).unwrap();
    let stays: Vec<_> = part.fits.iter().map(|fit| (fit.host, fit.cause)).collect();
    let on = |number| Host::Engine(Shop::engine_id(number));
    let expected = [
        (on(1), Some(RemovalCause::Transfer)),
        (on(2), Some(RemovalCause::Exchange)),
        (on(3), None),
    ];
    assert_eq!(stays, expected);
}

proptest! {
    // Each stay adds what the meter ran during it, and nothing else does: engines run on without the part.
    #[test]
    fn hours_of_a_part_are_the_sum_over_its_installations(
        stays in prop::collection::vec((0_usize..3, 0_i64..9_000, 0_i64..9_000), 0..12),
        before in 0_i64..40_000,
    ) {
        let mut shop = Shop::new();
        let mut meters = [Hours::ZERO; 3];
        for number in 0..3 {
            shop.engine(number + 1, "2020-01-01", Some("0"), None);
            shop.install(number + 1, number + 1, "2020-01-01", "0");
        }
        let tenths = |tenths: i64| Hours::from_seconds(tenths * 360);
        let base = tenths(before);
        shop.component(7, "crankshaft", "2020-01-01", Some(&base.to_string()), None);
        let mut on = d("2020-01-02");
        let mut expected = base;
        for (engine, with, without) in stays {
            shop.fit(7, engine + 1, &on.to_string());
            on = on + Days::new(5);
            meters[engine] += tenths(with);
            expected += tenths(with);
            shop.reading(engine + 1, &on.to_string(), &meters[engine].to_string());
            shop.take_off(7, &on.to_string());
            on = on + Days::new(5);
            meters[engine] += tenths(without);
            shop.reading(engine + 1, &on.to_string(), &meters[engine].to_string());
            on = on + Days::new(1);
        }
        let history = History::fold(&shop.facts());
        let hours = history.component_hours(Shop::component_id(7), Moment::end_of(on));
        prop_assert_eq!(hours, Some(expected));
    }
}

/// The lines that findings ask for, each with its status on a day.
fn found(shop: &Shop, engine: usize, on: &str) -> Vec<Status> {
    let lines = lines(shop, engine).into_iter();
    let found = lines.filter(|line| matches!(line.asked_by, AskedBy::Finding(_)));
    found.map(|line| line.status(d(on))).collect()
}

fn find(shop: &mut Shop, engine: usize, on: &str, condition: Condition) {
    shop.inspection(engine, on).findings.push(Shop::finding("crankshaft", condition));
}

// Rule of the house: only another part answers `scrap`. Whatever is said of the old one afterwards, on whichever
// engine, it is overdue wherever it is fitted, from the day it was found.
#[test]
fn a_scrapped_crankshaft_is_overdue_wherever_it_is_refitted() {
    let mut shop = three_engines();
    shop.fit(7, 1, "2023-01-01");
    find(&mut shop, 1, "2023-06-01", Condition::Scrap);
    assert_eq!(found(&shop, 1, "2023-06-01"), [Status::Overdue]);
    let refitted = Shop::done("crankshaft-life", Action::Refitted);
    shop.inspection(1, "2023-06-02").work.push(refitted);
    assert_eq!(found(&shop, 1, "2023-06-02"), [Status::Overdue]);
    for action in [Action::Inspected, Action::Cleaned, Action::Machined, Action::Overhauled] {
        shop.inspection(1, "2023-06-03").work.push(Shop::done("crankshaft-life", action));
    }
    find(&mut shop, 1, "2023-06-04", Condition::Serviceable);
    assert_eq!(found(&shop, 1, "2023-06-04"), [Status::Overdue]);
    // To another engine, where it is looked at again and found good.
    take_off(&mut shop, 7, "2023-06-05", RemovalCause::Transfer);
    shop.fit(7, 2, "2023-06-06");
    find(&mut shop, 2, "2023-06-07", Condition::Serviceable);
    assert_eq!(found(&shop, 2, "2023-06-08"), [Status::Overdue]);
    assert!(found(&shop, 3, "2023-06-08").is_empty(), "engine 3 never had it");
    // A new one answers it there, and the old one goes back to the first engine, renewed in the meantime.
    shop.inspection(1, "2023-06-09").work.push(Shop::done("crankshaft", Action::Renewed));
    assert!(found(&shop, 1, "2023-06-10").is_empty());
    take_off(&mut shop, 7, "2023-06-11", RemovalCause::Transfer);
    assert!(found(&shop, 2, "2023-06-12").is_empty(), "it is gone from engine 2");
    shop.fit(7, 1, "2023-06-12");
    assert_eq!(found(&shop, 1, "2023-06-12"), [Status::Overdue]);
    let history = History::fold(&shop.facts());
    for line in lines(&shop, 1) {
        let words = working(
            &history,
            Shop::engine_id(1),
            &programme(),
            &Evidence::default(),
            &line,
            d("2023-06-12"),
        );
        assert!(!words.is_empty());
    }
}

// Work on the part itself answers `repair`, on whichever engine; renewing it on paper takes it off.
#[test]
fn repair_goes_with_the_part_until_work_answers_it() {
    let mut shop = three_engines();
    shop.fit(7, 1, "2023-01-01");
    find(&mut shop, 1, "2023-06-01", Condition::Repair);
    shop.take_off(7, "2023-06-02");
    shop.fit(7, 2, "2023-06-03");
    assert_eq!(found(&shop, 2, "2023-06-03"), [Status::Overdue]);
    let mut machined = shop.clone();
    machined.inspection(2, "2023-06-04").work.push(Shop::done("crankshaft", Action::Machined));
    assert!(found(&machined, 2, "2023-06-05").is_empty());
    shop.inspection(2, "2023-06-04").work.push(Shop::done("crankshaft-life", Action::Renewed));
    assert!(found(&shop, 2, "2023-06-05").is_empty(), "another one is there now");
}

// Rings at `mag` and `pto` both to be renewed, and a gasket at `mag` too: renewing the rings at `mag` closes that
// finding and that count, and none of its three rivals.
#[test]
fn work_closes_what_it_names_at_its_positions_and_no_others() {
    let rings = Item {
        positions: vec![at("mag"), at("pto")],
        limits: vec![limit(Some("50"), None, CountsFrom::New)],
        ..item("rings", None, None)
    };
    let gasket =
        Item { id: item("gasket", None, None).id, title: "gasket".to_owned(), ..rings.clone() };
    let programme = Shop::engine_type(vec![rings, gasket]);
    let mut shop = Shop::new();
    shop.engine(1, "2023-01-01", Some("0"), None);
    shop.install(1, 1, "2023-01-01", "0");
    let places = [("rings", "mag"), ("rings", "pto"), ("gasket", "mag"), ("gasket", "pto")];
    for (name, place) in places {
        let finding = Shop::finding(name, Condition::Renew);
        let finding = Finding { position: PositionId::new(place), ..finding };
        shop.inspection(1, "2023-02-01").findings.push(finding);
    }
    let positions = vec![at("mag")];
    let done = WorkDone { positions, ..Shop::done("rings", Action::Renewed) };
    shop.reading(1, "2023-03-01", "20.0");
    shop.inspection(1, "2023-03-01").work.push(done);
    let lines = due_list(
        &History::fold(&shop.facts()),
        Shop::engine_id(1),
        &programme,
        &Evidence::default(),
    );
    let place = |line: &DueLine| {
        (line.item.as_str().to_owned(), line.position.as_ref().unwrap().as_str().to_owned())
    };
    let open: Vec<_> = lines
        .iter()
        .filter(|line| matches!(line.asked_by, AskedBy::Finding(_)))
        .map(place)
        .collect();
    let named = |(name, place): (&str, &str)| (name.to_owned(), place.to_owned());
    assert_eq!(open, [("gasket", "mag"), ("gasket", "pto"), ("rings", "pto")].map(named));
    let due: Vec<_> = lines
        .iter()
        .filter(|line| line.asked_by == AskedBy::Programme)
        .map(|line| (place(line), line.due_hours().unwrap()))
        .collect();
    let expected =
        places.map(|it| (named(it), if it == ("rings", "mag") { "70.0" } else { "50.0" }));
    assert_eq!(due, expected.map(|(place, hours)| (place, h(hours))));
}

fn set(position: &str, parts: &[(&str, &str)]) -> MatchedSet {
    let part = |(part, mark): &(&str, &str)| MatchedPart {
        part: kind(part),
        mark: (*mark).to_owned(),
        is_new: false,
        component: None,
    };
    MatchedSet { position: at(position), parts: parts.iter().map(part).collect() }
}

fn told(shop: &Shop) -> Vec<(String, String, MismatchKind)> {
    let found = mismatches(&History::fold(&shop.facts()), Shop::engine_id(1)).into_iter();
    found.map(|it| (it.part, it.position.unwrap().as_str().to_owned(), it.kind)).collect()
}

/// Both sides put together on 2023-01-01, each piston, cylinder and head with a mark of its own.
fn put_together() -> Shop {
    let mut shop = Shop::new();
    shop.engine(1, "2023-01-01", Some("0"), None);
    shop.inspection(1, "2023-01-01").matched = vec![
        set("mag", &[("piston", "M1"), ("cylinder", "M1"), ("head", "X")]),
        set("pto", &[("piston", "P1"), ("cylinder", "P1"), ("head", "X")]),
    ];
    shop
}

// The same parts back where they ran say nothing; crossed pistons are told at both places. Both heads bear the
// mark X, so that nobody can tell which is which.
#[test]
fn parts_of_a_set_that_swap_places_are_told() {
    let mut shop = put_together();
    assert!(told(&shop).is_empty());
    let same = [("piston", "M1"), ("cylinder", "M1"), ("head", "X")];
    shop.inspection(1, "2023-06-01").matched = vec![set("mag", &same)];
    assert!(told(&shop).is_empty());
    shop.inspection(1, "2024-01-01").matched = vec![
        set("mag", &[("piston", "P1"), ("cylinder", "M1"), ("head", "X")]),
        set("pto", &[("piston", "M1"), ("cylinder", "P1"), ("head", "X")]),
    ];
    let moved = |part: &str, here: &str, ran: &str| {
        (part.to_owned(), here.to_owned(), MismatchKind::RanAt(at(ran)))
    };
    assert_eq!(told(&shop), [moved("piston P1", "mag", "pto"), moved("piston M1", "pto", "mag")]);
    // Put right again: the last statement at each place is what counts, against what was before it.
    shop.inspection(1, "2024-02-01").matched = vec![set("mag", &same)];
    assert_eq!(told(&shop).first(), Some(&moved("piston M1", "mag", "pto")));
}

// A piston that nobody knows is a stranger; a new one is not, and from then on it belongs.
#[test]
fn a_stranger_in_a_set_is_told_and_a_new_part_is_not() {
    let mut shop = put_together();
    let parts = [("piston", "M2"), ("cylinder", "M1"), ("head", "X")];
    let mut renewed = shop.clone();
    shop.inspection(1, "2023-06-01").matched = vec![set("mag", &parts)];
    let stranger = ("piston M2".to_owned(), "mag".to_owned(), MismatchKind::Stranger);
    assert_eq!(told(&shop), [stranger]);
    let mut with_new = set("mag", &parts);
    with_new.parts[0].is_new = true;
    renewed.inspection(1, "2023-06-01").matched = vec![with_new];
    assert!(told(&renewed).is_empty());
    renewed.inspection(1, "2023-09-01").matched = vec![set("mag", &parts)];
    assert!(told(&renewed).is_empty());
}

// A cylinder with a record of its own ran at `mag` of engine 1: fitted at `pto`, or to engine 2, it is told.
#[test]
fn a_part_with_a_record_that_is_fitted_outside_its_set_is_told() {
    let mut shop = put_together();
    shop.engine(2, "2023-01-01", Some("0"), None);
    shop.component(9, "cylinder", "2023-01-01", Some("0"), None);
    let mut own = set("mag", &[("cylinder", "M1")]);
    own.parts[0].component = Some(Shop::component_id(9));
    shop.inspection(1, "2023-02-01").matched = vec![own];
    let fit = |shop: &Shop, engine: usize, place: &str| {
        let mut shop = shop.clone();
        let fitted = ComponentFitted {
            component: Shop::component_id(9),
            host: Host::Engine(Shop::engine_id(engine)),
            position: PositionId::new(place),
            meter: None,
        };
        shop.record("2023-03-01", Content::ComponentFitted(fitted));
        let history = History::fold(&shop.facts());
        mismatches(&history, Shop::engine_id(engine))
            .into_iter()
            .map(|it| it.kind)
            .collect::<Vec<_>>()
    };
    let nothing: Vec<MismatchKind> = Vec::new();
    assert_eq!(fit(&shop, 1, "mag"), nothing);
    assert_eq!(fit(&shop, 1, "pto"), [MismatchKind::RanAt(at("mag"))]);
    assert_eq!(fit(&shop, 2, "mag"), [MismatchKind::OfEngine(Shop::engine_id(1))]);
}
