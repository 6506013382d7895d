//! What records tell of the lives of parts, worked by hand.

use crate::bench_shop::{Shop, belt_item, d};
use gudgeon_life::fact::{ComponentRemoved, Condition, Content, InspectionReading, RemovalCause};
use gudgeon_life::history::History;
use gudgeon_life::hours::Hours;
use gudgeon_life::ids::PartKind;
use gudgeon_life::sure::lives::{Lives, lives};
use gudgeon_life::sure::part_life::{Part, PartError};

fn off(shop: &mut Shop, belt: usize, on: &str, cause: Option<RemovalCause>) {
    let component = Shop::component_id(belt);
    shop.record(on, Content::ComponentRemoved(ComponentRemoved { component, meter: None, cause }));
}

fn belt(shop: &mut Shop, number: usize, on: &str, hours: Option<&str>) {
    shop.component(number, "fan-belt", on, hours, None);
    shop.fit(number, 1, on);
}

fn found(shop: &mut Shop, on: &str, meter: &str, condition: Condition) {
    let inspection = shop.inspection(1, on);
    let meter = Hours::parse(meter).unwrap();
    inspection.readings.push(InspectionReading { on: d(on), meter });
    inspection.findings.push(Shop::finding("fan-belt", condition));
}

/// Seven belts one after the other on an engine whose meter begins at 0.
fn seven_belts() -> Shop {
    let mut shop = Shop::new();
    shop.engine(1, "2023-01-01", Some("0"), None);
    shop.install(1, 1, "2023-01-01", "0");
    // Serviceable at 40 h, found bad at 100 h.
    belt(&mut shop, 1, "2023-01-01", Some("0"));
    found(&mut shop, "2023-03-01", "40", Condition::Serviceable);
    shop.reading(1, "2023-06-01", "100");
    off(&mut shop, 1, "2023-06-01", Some(RemovalCause::Condition));
    // Failed after 170 - 100 = 70 h.
    belt(&mut shop, 2, "2023-06-01", Some("0"));
    shop.reading(1, "2023-09-01", "170");
    off(&mut shop, 2, "2023-09-01", Some(RemovalCause::Failure));
    // Came with 30 h, and off when due: 30 + (220 - 170) = 80 h.
    belt(&mut shop, 3, "2023-09-01", Some("30"));
    shop.reading(1, "2024-01-01", "220");
    off(&mut shop, 3, "2024-01-01", Some(RemovalCause::Due));
    // To be renewed after 250 - 220 = 30 h, and never looked at before; that it came off later says no more.
    belt(&mut shop, 4, "2024-01-01", Some("0"));
    found(&mut shop, "2024-04-01", "250", Condition::Renew);
    off(&mut shop, 4, "2024-04-02", None);
    // Off after 300 - 250 = 50 h, and nobody said why.
    belt(&mut shop, 5, "2024-04-02", Some("0"));
    shop.reading(1, "2024-06-01", "300");
    off(&mut shop, 5, "2024-06-01", None);
    // Nobody knows what it had run.
    belt(&mut shop, 6, "2024-06-01", None);
    off(&mut shop, 6, "2024-06-02", Some(RemovalCause::Transfer));
    // Still on, after 360 - 300 = 60 h.
    belt(&mut shop, 7, "2024-06-02", Some("0"));
    shop.reading(1, "2024-10-01", "360");
    shop
}

fn told(shop: &Shop) -> Lives {
    let engine_type = Shop::engine_type(vec![belt_item()]);
    let history = History::fold(&shop.facts());
    let mut all = lives(&history, Shop::engine_id(1), &engine_type, d("2024-11-01"));
    all.remove(&PartKind::new("fan-belt").unwrap()).unwrap()
}

#[test]
fn every_part_tells_when_it_was_good_and_when_bad() {
    let parts: Result<Vec<Part>, PartError> = [
        Part::found_bad(40.0, 100.0),
        Part::failed(70.0),
        Part::running(80.0).and_then(|it| it.entered(30.0)),
        Part::found_bad(0.0, 30.0),
        Part::running(50.0),
        Part::running(60.0),
    ]
    .into_iter()
    .collect();
    let expected = Lives {
        parts: parts.unwrap(),
        failed: 1,
        found_bad: 2,
        entered_late: 1,
        no_cause: 1,
        no_hours: 1,
    };
    let found = told(&seven_belts());
    assert_eq!(found, expected);
    assert_eq!(found.good(), 3);
}

// The belt that is on now is told of the engine that it is on, and of no other.
#[test]
fn a_part_is_told_of_one_engine() {
    let mut shop = seven_belts();
    shop.engine(2, "2024-10-02", Some("0"), None);
    shop.install(2, 2, "2024-10-02", "0");
    off(&mut shop, 7, "2024-10-02", Some(RemovalCause::Transfer));
    shop.fit(7, 2, "2024-10-02");
    shop.reading(2, "2024-10-30", "15");
    let engine_type = Shop::engine_type(vec![belt_item()]);
    let history = History::fold(&shop.facts());
    let of = |engine| {
        let all = lives(&history, Shop::engine_id(engine), &engine_type, d("2024-11-01"));
        all.into_values().flat_map(|it| it.parts).collect::<Vec<_>>()
    };
    assert_eq!(of(1).len(), 5);
    assert_eq!(of(2), [Part::running(75.0).unwrap()]);
}
