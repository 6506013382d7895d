//! Measured limits: how readings bring an item forward, and what begins them anew.
//!
//! Bounds are those of the line of least squares with Student's t of 95 of 100 from published tables (6.3138 with
//! one degree of freedom, 2.9200 with two), worked out in a program of their own (319.7897 h of three readings,
//! 439.8321 h of four) and rounded down to the tenth.

use crate::bench_shop::{Shop, d, h, item};
use chrono::NaiveDate;
use gudgeon_life::decimal::Decimal;
use gudgeon_life::due::due_list;
use gudgeon_life::fact::{Measurement, OverhaulScope, Taken};
use gudgeon_life::history::History;
use gudgeon_life::ids::{EngineId, PartKind, PositionId, Quantity};
use gudgeon_life::line::{Count, DueLine};
use gudgeon_life::measure::{Bounds, Gauge, QuantityRule, Unit, Wear as Goes};
use gudgeon_life::programme::{Action, EngineType, Item, Subject};
use gudgeon_life::sheet::Bench;
use gudgeon_life::status::Status;
use gudgeon_life::sure::prior::Evidence;
use gudgeon_life::wear::{Caution, Says, TrendRule, WhyNot};
use gudgeon_life::words::line_words;
use gudgeon_life::working::working;
use proptest::prelude::*;

const BORE: &str = "bore";

pub(crate) fn decimal(text: &str) -> Decimal {
    Decimal::parse(text).unwrap()
}

/// A bore of at most 67.62 mm, measured within 0.005 mm.
pub(crate) fn bore() -> QuantityRule {
    QuantityRule {
        id: Quantity::new(BORE).unwrap(),
        title: "Bore".to_owned(),
        unit: Unit::parse("mm").unwrap(),
        positions: Vec::new(),
        source: "worked by hand".to_owned(),
        new: Bounds::default(),
        limit: Bounds { min: None, max: Some(decimal("67.62")) },
        range: Bounds { min: Some(decimal("60")), max: Some(decimal("80")) },
        gauge: Some(Gauge { name: "bore gauge".to_owned(), uncertainty: decimal("0.005") }),
        wear: Some(Goes::Rises),
        group: None,
        apart_max: None,
        feeds: None,
        correction: None,
        derived: None,
    }
}

pub(crate) fn cylinder(hours: &str) -> Item {
    let trend = TrendRule { quantity: Quantity::new(BORE).unwrap(), run_in: h("50") };
    Item { trend: Some(trend), ..item("cylinder", Some(hours), None) }
}

pub(crate) fn type_with(rule: QuantityRule, item: Item) -> EngineType {
    let bench = Bench { strokes: None, quantities: vec![rule], sheets: Vec::new() };
    EngineType { bench, ..Shop::engine_type(vec![item]) }
}

fn measured(value: &str, position: Option<&str>) -> Measurement {
    Measurement {
        quantity: Quantity::new(BORE).unwrap(),
        position: position.map(|it| PositionId::new(it).unwrap()),
        taken: Taken::One(value.to_owned()),
        unit: "mm".to_owned(),
        gauge: None,
        uncertainty: None,
        temperature: None,
        wrench: None,
    }
}

/// Engine 1, new and in aircraft 1 from 2024-01-01 at no hours; the bore measured at these days and hours.
fn shop(readings: &[(&str, &str, &str)]) -> Shop {
    let mut shop = Shop::new();
    shop.engine(1, "2024-01-01", Some("0"), Some("2024-01-01"));
    shop.install(1, 1, "2024-01-01", "0");
    for (on, meter, value) in readings {
        measure(&mut shop, on, meter, value);
    }
    shop
}

pub(crate) fn measure(shop: &mut Shop, on: &str, meter: &str, value: &str) {
    shop.work(1, on, meter, "looked-at", Action::Inspected);
    shop.last().measurements.push(measured(value, None));
}

fn line_on(shop: &Shop, engine: EngineId, engine_type: &EngineType) -> DueLine {
    let lines = due_list(&History::fold(&shop.facts()), engine, engine_type, &Evidence::default());
    let [line] = lines.as_slice() else { panic!("one line expected: {lines:#?}") };
    line.clone()
}

fn line(shop: &Shop, engine_type: &EngineType) -> DueLine {
    line_on(shop, Shop::engine_id(1), engine_type)
}

const THREE: [(&str, &str, &str); 3] = [
    ("2024-03-01", "60", "67.520"),
    ("2024-05-01", "110", "67.531"),
    ("2024-07-01", "160", "67.540"),
];

fn says(readings: &[(&str, &str, &str)]) -> Says {
    let line = line(&shop(readings), &type_with(bore(), cylinder("400")));
    line.wear[0].says
}

#[test]
fn three_readings_bring_the_due_hours_forward() {
    let line = line(&shop(&THREE), &type_with(bore(), cylinder("400")));
    // The middle of the line: 67.52033 at 110 h, 0.0002 mm an hour, so 67.62 at 558 h 20 min.
    let point = Some(h("558:20") - gudgeon_life::hours::Hours::from_seconds(1));
    let Says::Reaches { bound, point: found } = line.wear[0].says else { panic!("{line:#?}") };
    assert_eq!(bound, h("319.7"));
    assert!(found == point || found == Some(h("558:20")), "{found:?}");
    assert_eq!(line.due_hours(), Some(h("319.7")));
    assert_eq!(line.latest_hours(), Some(h("319.7")));
    let leg = line.legs.last().unwrap();
    assert_eq!(leg.limit.as_deref(), Some("trend of Bore"));
    let due = h("319.7");
    assert_eq!(leg.count, Count::Hours { from: h("160"), due, latest: due });
    // The scatter of 0.0008 mm is less than half of the gauge's 0.005; 558 h is more than twice 160.
    assert_eq!(line.wear[0].cautions, [Caution::Extrapolated, Caution::ScatterOfGauge]);
    let legs = line_words(&line, d("2024-07-02")).legs;
    assert_eq!(legs[1].name, "Hours, trend of Bore");
    assert!(legs[1].governs && !legs[0].governs);
    assert_eq!(legs[2].name, "Measured, trend of Bore");
    assert_eq!(
        legs[2].words,
        "reaches its limit, at most 67.62 mm, at about 560 h, not before 319.7 h in 95 of 100 cases (3 readings, from this engine's own readings alone); far beyond the hours of its readings; readings agree better than the gauge can: its uncertainty was used"
    );
}

#[test]
fn another_reading_sharpens_the_bound() {
    let four = [THREE.as_slice(), &[("2024-09-01", "210", "67.552")]].concat();
    let line = line(&shop(&four), &type_with(bore(), cylinder("500")));
    assert_eq!(line.due_hours(), Some(h("439.8")));
}

#[test]
fn evidence_never_moves_a_due_hour_on() {
    let line = line(&shop(&THREE), &type_with(bore(), cylinder("300")));
    assert_eq!(line.due_hours(), Some(h("300")));
    assert_eq!(line.wear[0].due(), Some(h("319.7")));
}

#[test]
fn past_the_bound_it_is_overdue_with_no_tolerance() {
    let tolerant = Item {
        tolerance: Some(gudgeon_life::programme::Tolerance {
            hours: Some(h("10")),
            ..gudgeon_life::programme::Tolerance::default()
        }),
        ..cylinder("400")
    };
    let mut shop = shop(&THREE);
    shop.reading(1, "2024-12-01", "319.8");
    let line = line(&shop, &type_with(bore(), tolerant));
    assert_eq!(line.status(d("2024-11-30")), Status::NotDue);
    assert_eq!(line.status(d("2024-12-01")), Status::Overdue);
}

#[test]
fn other_work_than_on_the_part_leaves_the_readings_alone() {
    let mut shop = shop(&THREE);
    shop.work(1, "2024-08-01", "170", "cylinder", Action::Inspected);
    let line = line(&shop, &type_with(bore(), cylinder("400")));
    assert_eq!(line.due_hours(), Some(h("319.7")), "due 170 + 400 but for the wear");
}

#[test]
fn a_changed_part_begins_the_readings_anew() {
    for action in [Action::Renewed, Action::Overhauled, Action::Machined] {
        let mut shop = shop(&THREE);
        shop.work(1, "2024-08-01", "170", "cylinder", action);
        // What that inspection measured is of the part that it found.
        shop.last().measurements.push(measured("67.70", None));
        let engine_type = type_with(bore(), cylinder("400"));
        let fresh = line(&shop, &engine_type);
        assert_eq!(fresh.wear[0].says, Says::CannotSay(WhyNot::NoReading), "{action:?}");
        assert_eq!(fresh.due_hours(), Some(h("570")));
        // The running-in goes to 220 h.
        measure(&mut shop, "2024-09-01", "219", "67.50");
        measure(&mut shop, "2024-10-01", "220", "67.50");
        let [wear] = line(&shop, &engine_type).wear.try_into().unwrap();
        assert_eq!((wear.says, wear.readings), (Says::CannotSay(WhyNot::NeedsReadings), 1));
    }
}

#[test]
fn an_overhaul_in_full_begins_them_anew_too() {
    let mut shop = shop(&THREE);
    let overhaul = shop.inspection(1, "2024-08-01");
    overhaul.overhaul = Some(OverhaulScope::Full);
    let line = line(&shop, &type_with(bore(), cylinder("400")));
    assert_eq!(line.wear[0].says, Says::CannotSay(WhyNot::NoReading));
}

#[test]
fn degenerate_readings_have_their_answers() {
    assert_eq!(says(&[]), Says::CannotSay(WhyNot::NoReading));
    assert_eq!(says(&THREE[..2]), Says::CannotSay(WhyNot::NeedsReadings));
    // The reading at 40 h is of the running-in: two are left.
    let early = [("2024-02-01", "40", "67.51"), THREE[0], THREE[1]];
    assert_eq!(says(&early), Says::CannotSay(WhyNot::NeedsReadings));
    let same = [
        ("2024-03-01", "60", "67.52"),
        ("2024-03-02", "60", "67.53"),
        ("2024-03-03", "60", "67.54"),
    ];
    assert_eq!(says(&same), Says::CannotSay(WhyNot::SameHours));
    let level = [THREE[0], ("2024-05-01", "110", "67.520"), ("2024-07-01", "160", "67.520")];
    assert_eq!(says(&level), Says::NoWear);
    // From 67.520 to 67.521 mm in 1000 h: the edge of 6.31 standard deviations of 0.0025 mm rises 0.022 mm in 1000 h.
    let slow = [THREE[0], ("2024-05-01", "1060", "67.5205"), ("2024-07-01", "2060", "67.521")];
    assert_eq!(says(&slow), Says::NotWithin(h("5000")));
    let at_limit = [THREE[0], ("2024-05-01", "110", "67.62")];
    assert_eq!(says(&at_limit), Says::Reached);
    let near = [THREE[0], ("2024-05-01", "110", "67.57"), ("2024-07-01", "160", "67.615")];
    assert_eq!(says(&near), Says::MeasureAgain);
}

#[test]
fn at_the_limit_it_is_due_at_the_reading_and_overdue_after_it() {
    let mut shop = shop(&[("2024-05-01", "110", "67.63")]);
    let engine_type = type_with(bore(), cylinder("400"));
    assert_eq!(line(&shop, &engine_type).due_hours(), Some(h("110")));
    assert_eq!(line(&shop, &engine_type).status(d("2024-05-01")), Status::ComingDue);
    shop.reading(1, "2024-05-03", "110.1");
    assert_eq!(line(&shop, &engine_type).status(d("2024-05-03")), Status::Overdue);
}

// The same figures upside down: what falls to its least has the bound of what rises to its most.
#[test]
fn what_falls_is_due_at_its_least() {
    let falls = QuantityRule {
        wear: Some(Goes::Falls),
        limit: Bounds { min: Some(decimal("67.38")), max: Some(decimal("67.50")) },
        ..bore()
    };
    let readings = [
        ("2024-03-01", "60", "67.480"),
        ("2024-05-01", "110", "67.469"),
        ("2024-07-01", "160", "67.460"),
    ];
    let line = line(&shop(&readings), &type_with(falls, cylinder("400")));
    assert_eq!(line.due_hours(), Some(h("319.7")));
    assert_eq!(line.wear[0].limit, "at least 67.38 mm");
}

#[test]
fn an_item_of_the_whole_engine_follows_each_place() {
    let places = ["mag", "pto"].map(|it| PositionId::new(it).unwrap());
    let rule = QuantityRule { positions: places.to_vec(), ..bore() };
    let mut shop = shop(&[]);
    for (on, meter, value) in THREE {
        shop.work(1, on, meter, "looked-at", Action::Inspected);
        shop.last().measurements.push(measured(value, Some("pto")));
    }
    shop.last().measurements.push(measured("67.62", Some("mag")));
    let line = line(&shop, &type_with(rule, cylinder("400")));
    let told: Vec<(String, Says)> = line.wear.iter().map(|it| (it.name(), it.says)).collect();
    assert_eq!(told[0], ("trend of Bore at mag".to_owned(), Says::Reached));
    assert_eq!(told[1].0, "trend of Bore at pto");
    assert_eq!(line.wear[1].due(), Some(h("319.7")));
    assert_eq!(line.due_hours(), Some(h("160")), "at the last reading of the worse one");
}

// A part takes its readings along to another engine, at the hours on the part itself.
#[test]
fn readings_go_with_a_part() {
    let barrel =
        Item { subject: Subject::Component(PartKind::new("barrel").unwrap()), ..cylinder("400") };
    let mut shop = Shop::new();
    for engine in [1, 2] {
        shop.engine(engine, "2024-01-01", Some("0"), Some("2024-01-01"));
        shop.install(engine, engine, "2024-01-01", "0");
    }
    shop.component(1, "barrel", "2024-01-01", Some("0"), None);
    shop.fit(1, 1, "2024-01-02");
    measure(&mut shop, "2024-03-01", "60", "67.520");
    measure(&mut shop, "2024-05-01", "110", "67.531");
    shop.take_off(1, "2024-05-02");
    shop.reading(2, "2024-05-03", "1000");
    shop.fit(1, 2, "2024-05-04");
    // What is measured on the first engine now is of another part.
    measure(&mut shop, "2024-06-01", "130", "67.70");
    shop.work(2, "2024-07-01", "1050", "looked-at", Action::Inspected);
    shop.last().measurements.push(measured("67.540", None));
    let line = line_on(&shop, Shop::engine_id(2), &type_with(bore(), barrel));
    assert_eq!((line.hours_now, line.due_hours()), (Some(h("160")), Some(h("319.7"))));
}

// Without a log nobody knows where the running-in was: every reading counts, at the hours since the registration.
#[test]
fn without_a_log_every_reading_counts() {
    let mut shop = Shop::new();
    shop.engine(1, "2024-01-01", None, None);
    shop.install(1, 1, "2024-01-01", "500");
    for (on, meter, value) in [
        ("2024-03-01", "510", "67.520"),
        ("2024-05-01", "560", "67.531"),
        ("2024-07-01", "610", "67.540"),
    ] {
        measure(&mut shop, on, meter, value);
    }
    let line = line(&shop, &type_with(bore(), cylinder("400")));
    // 50 h less than above on every reading, so on the bound.
    assert_eq!(line.wear[0].due(), Some(h("269.7")));
    assert_eq!(line.status(d("2024-07-01")), Status::Unknown, "an estimate never makes it better");
}

#[test]
fn hours_that_contradict_say_nothing() {
    let mut shop = shop(&THREE);
    shop.work(1, "2024-08-01", "20", "looked-at", Action::Inspected);
    shop.last().measurements.push(measured("67.70", None));
    let line = line(&shop, &type_with(bore(), cylinder("400")));
    assert_eq!(line.wear[0].says, Says::CannotSay(WhyNot::NoHours));
}

#[test]
fn the_working_shows_the_readings() {
    let mut shop = shop(&[("2024-02-01", "40", "67.51")]);
    for (on, meter, value) in THREE {
        measure(&mut shop, on, meter, value);
    }
    let engine_type = type_with(bore(), cylinder("400"));
    let line = line(&shop, &engine_type);
    let history = History::fold(&shop.facts());
    let words = working(
        &history,
        Shop::engine_id(1),
        &engine_type,
        &Evidence::default(),
        &line,
        d("2024-07-02"),
    );
    let told = |start: &str| words.iter().find(|it| it.starts_with(start)).unwrap().as_str();
    assert_eq!(
        told("Readings"),
        "Readings, trend of Bore (at most 67.62 mm): 67.51 mm at 40.0 h, 67.52 mm at 60.0 h, 67.531 mm at 110.0 h, 67.54 mm at 160.0 h."
    );
    assert_eq!(told("Running-in"), "Running-in until 50.0 h: 1 left out.");
    assert_eq!(
        told("Trend"),
        "Trend: by a line through 3 readings, uncertainty 0.005 each, the limit is not reached before that in 95 of 100 cases. Due: 319.7 h."
    );
}

proptest! {
    // Whatever was measured, in whatever order it was posted: the same line, never later and never better than
    // without.
    #[test]
    fn evidence_shortens_only_and_order_does_not_matter(
        readings in prop::collection::vec((1_u64..400, 0_i64..2000, 67_000_u32..68_000), 0..8),
        seed in any::<u64>(),
        logged in any::<bool>(),
    ) {
        let mut shop = Shop::new();
        shop.engine(1, "2018-01-01", logged.then_some("0"), Some("2018-01-01"));
        shop.install(1, 1, "2018-01-01", "0");
        let (mut on, mut meter) = (d("2018-01-01"), h("0"));
        for (days, tenths, value) in &readings {
            on = on + chrono::Days::new(*days);
            meter += gudgeon_life::hours::Hours::from_seconds(tenths * 360);
            let value = format!("{}.{:03}", value / 1000, value % 1000);
            measure(&mut shop, &on.to_string(), &meter.to_string(), &value);
        }
        let (worn, plain) = (type_with(bore(), cylinder("300")), type_with(bore(), item("cylinder", Some("300"), None)));
        let with = line(&shop, &worn);
        let without = line(&shop, &plain);
        let day: NaiveDate = on + chrono::Days::new(seed % 500);
        prop_assert!(with.status(day) <= without.status(day));
        if let Some(due) = without.due_hours() {
            prop_assert!(with.due_hours().unwrap() <= due);
        }
        let mut facts = shop.facts();
        let turn = usize::try_from(seed % 1000).unwrap() % facts.len();
        facts.rotate_left(turn);
        facts.extend(shop.facts());
        let again = due_list(&History::fold(&facts), Shop::engine_id(1), &worn, &Evidence::default());
        prop_assert_eq!(again, vec![with]);
    }
}
