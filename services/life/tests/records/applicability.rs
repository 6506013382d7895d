//! What an item applies to, worked by hand from the row `applies-to`: undeterminable is unknown, a clear no
//! drops the line.

use crate::bench_shop::{Shop, d, h, interval, item, limit};
use gudgeon_life::due::due_list;
use gudgeon_life::fact::{Attribute, ComponentRegistered, Content, Described, Fact, Host};
use gudgeon_life::history::History;
use gudgeon_life::ids::PartKind;
use gudgeon_life::line::{Count, DueLine, Missing};
use gudgeon_life::programme::{Action, Applies, CountsFrom, Item, Limit, SerialRange, Subject};
use gudgeon_life::status::Status;
use gudgeon_life::sure::prior::Evidence;

fn range(prefix: &str, first: u64, last: u64) -> SerialRange {
    SerialRange { prefix: prefix.to_owned(), first, last }
}

fn kind(kind: &str) -> PartKind {
    PartKind::new(kind).unwrap()
}

fn lines(facts: &[Fact], engine: usize, item: &Item) -> Vec<DueLine> {
    let engine_type = Shop::engine_type(vec![item.clone()]);
    due_list(&History::fold(facts), Shop::engine_id(engine), &engine_type, &Evidence::default())
}

/// An engine of a serial number at 88.0 h on 2026-01-01.
fn engine_of_serial(serial: &str) -> Shop {
    let mut shop = Shop::new();
    shop.engine(1, "2026-01-01", Some("88.0"), None);
    shop.serial(1, serial);
    shop
}

fn crankshaft(shop: &mut Shop, number: usize, serial: Option<&str>, lot: Option<&str>) {
    shop.record(
        "2026-01-01",
        Content::ComponentRegistered(ComponentRegistered {
            component: Shop::component_id(number),
            kind: kind("crankshaft"),
            serial: serial.map(str::to_owned),
            lot: lot.map(str::to_owned),
            maker_part: None,
            code: None,
            hours: Some(h("88.0")),
            cured_on: None,
            first_fitted_on: None,
            overhauled: None,
        }),
    );
}

fn verdict(found: &[DueLine]) -> Option<Status> {
    found.first().map(|line| line.status(d("2026-11-25")))
}

// Engines 2000 to 2349 or K100 to K299: the letters in front have to match, the ends belong to the range.
#[test]
fn serial_numbers_of_the_engine() {
    let serials = vec![range("", 2000, 2349), range("K", 100, 299)];
    let applies = Applies { serials, ..Applies::default() };
    let bulletin = Item { applies, ..item("bulletin", Some("200"), None) };
    for (serial, expected) in [
        ("2000", Some(Status::NotDue)),
        ("2349", Some(Status::NotDue)),
        ("2350", None),
        ("1999", None),
        ("02107", Some(Status::NotDue)),
        ("K100", Some(Status::NotDue)),
        ("K300", None),
        ("K2107", None),
        ("plate-missing", Some(Status::Unknown)),
    ] {
        let found = lines(&engine_of_serial(serial).facts(), 1, &bulletin);
        assert_eq!(verdict(&found), expected, "{serial}");
    }
}

// Effective 2026-05-01: first within 10 h or 30 days, then every 25 h. Crankshaft 2107 stood at 88.0 h: due at
// 98.0 h or 2026-05-31; done at 97.0: next 122.0. The line follows the crankshaft: moved at 97.0 to engine 2.
#[test]
fn a_bulletin_follows_the_crankshaft() {
    let mut first = interval(Some("10"), None);
    first.spans = vec![gudgeon_life::calendar::CalendarSpan::days(30)];
    let effective = CountsFrom::Effective(d("2026-05-01"));
    let bulletin = Item {
        subject: Subject::Component(kind("crankshaft")),
        limits: vec![Limit { first: Some(first), ..limit(Some("25"), None, effective) }],
        applies: Applies { serials: vec![range("", 2000, 2349)], ..Applies::default() },
        ..item("crankshaft-check", None, None)
    };
    let mut shop = engine_of_serial("7");
    shop.engine(2, "2026-01-01", Some("300.0"), None);
    crankshaft(&mut shop, 1, Some("2107"), None);
    shop.fit(1, 1, "2026-01-01");
    let line = lines(&shop.facts(), 1, &bulletin).remove(0);
    assert_eq!((line.due_hours(), line.due_on()), (Some(h("98.0")), Some(d("2026-05-31"))));
    let done = shop.inspection(1, "2026-05-20");
    done.tsn = Some(h("97.0"));
    done.work = vec![Shop::done("crankshaft-check", Action::Inspected)];
    let line = lines(&shop.facts(), 1, &bulletin).remove(0);
    assert_eq!((line.due_hours(), line.due_on()), (Some(h("122.0")), None));
    shop.take_off(1, "2026-06-01");
    shop.fit(1, 2, "2026-06-02");
    let line = lines(&shop.facts(), 2, &bulletin).remove(0);
    assert_eq!((line.due_hours(), line.hours_now), (Some(h("122.0")), Some(h("97.0"))));
    // Engine 1 has no crankshaft on record now: nobody can tell.
    assert_eq!(verdict(&lines(&shop.facts(), 1, &bulletin)), Some(Status::Unknown));
}

// The item is about the engine, the serial number and lot about the crankshaft on it: in the range and of the
// lot, in the range of another lot, outside, unmarked, none on record.
#[test]
fn marks_of_a_part_on_the_engine() {
    let applies = Applies {
        serials: vec![range("", 2000, 2349)],
        part: Some(kind("crankshaft")),
        lots: vec!["A17".to_owned()],
        ..Applies::default()
    };
    let check = Item { applies, ..item("case-check", Some("200"), None) };
    for (serial, lot, expected) in [
        (Some("2107"), Some("A17"), Some(Status::NotDue)),
        (Some("2107"), Some("B2"), None),
        (Some("1999"), Some("A17"), None),
        (Some("2107"), None, Some(Status::Unknown)),
        (None, Some("A17"), Some(Status::Unknown)),
        (None, Some("B2"), None),
    ] {
        let mut shop = engine_of_serial("7");
        crankshaft(&mut shop, 1, serial, lot);
        shop.fit(1, 1, "2026-01-01");
        let found = lines(&shop.facts(), 1, &check);
        assert_eq!(verdict(&found), expected, "{serial:?} {lot:?}");
    }
    let none = lines(&engine_of_serial("7").facts(), 1, &check);
    assert_eq!(
        none[0].legs[0].count,
        Count::Missing(gudgeon_life::line::Axis::Hours, Missing::Applicability)
    );
}

fn uses(shop: &mut Shop, of: Host, on: &str, words: &[&str]) {
    let words = words.iter().map(|word| (*word).to_owned()).collect();
    let values = [(Attribute::Use, words)].into();
    shop.record(on, Content::Described(Described { of, values }));
}

// An aircraft goes from private to school use at 1120.0, last done at 1000.0: the 100-hour line appears, overdue
// by 20.0 h. Told of the engine itself, that counts before what is told of the aircraft.
#[test]
fn use_is_told_of_the_aircraft_or_of_the_engine() {
    let words = [(Attribute::Use, ["hire", "school"].map(str::to_owned).into())].into();
    let applies = Applies { described: words, ..Applies::default() };
    let hundred = Item { applies, ..item("hundred-hour", Some("100"), None) };
    let mut shop = Shop::new();
    shop.engine(1, "2025-01-01", Some("900.0"), None);
    shop.install(1, 1, "2025-01-02", "0.0");
    shop.work(1, "2025-06-01", "100.0", "hundred-hour", Action::Inspected);
    shop.reading(1, "2026-05-01", "220.0");
    assert_eq!(verdict(&lines(&shop.facts(), 1, &hundred)), Some(Status::Unknown));
    let aircraft = Host::Aircraft(Shop::aircraft_id(1));
    uses(&mut shop, aircraft, "2025-02-01", &["private"]);
    assert!(lines(&shop.facts(), 1, &hundred).is_empty());
    uses(&mut shop, aircraft, "2026-05-02", &["private", "school"]);
    let line = lines(&shop.facts(), 1, &hundred).remove(0);
    assert_eq!(line.overdue_by(d("2026-05-02")).hours, h("20.0"));
    assert_eq!(line.status(d("2026-05-02")), Status::Overdue);
    uses(&mut shop, Host::Engine(Shop::engine_id(1)), "2026-05-03", &["private"]);
    assert!(lines(&shop.facts(), 1, &hundred).is_empty());
}

// Forty engines, crankshaft serials worked out by hand: 12 in the range, 25 outside, 3 that cannot be told.
#[test]
fn a_fleet_is_divided_by_serial_number() {
    let bulletin = Item {
        subject: Subject::Component(kind("crankshaft")),
        applies: Applies { serials: vec![range("", 2000, 2349)], ..Applies::default() },
        ..item("crankshaft-check", Some("200"), None)
    };
    let mut counts = [0; 3];
    for number in 0..40 {
        let serial = match number {
            0..12 => Some((2000 + number * 30).to_string()),
            12..37 => Some((2350 + number).to_string()),
            37 => Some("worn-off".to_owned()),
            _ => None,
        };
        let mut shop = engine_of_serial("7");
        crankshaft(&mut shop, 1, serial.as_deref(), None);
        if number < 39 {
            shop.fit(1, 1, "2026-01-01");
        }
        match verdict(&lines(&shop.facts(), 1, &bulletin)) {
            Some(Status::Unknown) => counts[2] += 1,
            Some(_) => counts[0] += 1,
            None => counts[1] += 1,
        }
    }
    assert_eq!(counts, [12, 25, 3]);
}
