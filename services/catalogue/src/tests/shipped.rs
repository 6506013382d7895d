//! The engine types that are shipped: they are accepted, their figures are the published ones, and between
//! them they show every key of the format.

use crate::parse;
use gudgeon_life::calendar::{CalendarMode, CalendarSpan};
use gudgeon_life::date_code::CodeDay;
use gudgeon_life::hours::{Basis, Hours};
use gudgeon_life::ids::{ItemId, PartKind};
use gudgeon_life::programme::{
    Action, Class, CountsFrom, EngineType, Granted, Interval, Item, NextPolicy, Subject,
};

const OARLOCK: &str = include_str!("../../../../config/engine-types/oarlock-twin.toml");
const THWART: &str = include_str!("../../../../config/engine-types/thwart-twin.toml");
const TRANSOM: &str = include_str!("../../../../config/engine-types/transom-flat.toml");
/// Each type by its name, with its file.
pub(super) const SHIPPED: [(&str, &str); 3] =
    [("oarlock-twin", OARLOCK), ("thwart-twin", THWART), ("transom-flat", TRANSOM)];

pub(super) fn read(name: &str, text: &str) -> EngineType {
    match parse(name, text) {
        Ok(engine_type) => engine_type,
        Err(faults) => panic!("{faults:#?}"),
    }
}

fn oarlock() -> EngineType {
    read("oarlock-twin", OARLOCK)
}

fn item(engine_type: &EngineType, id: &str) -> Item {
    let id = ItemId::new(id).expect("a short name");
    engine_type.item(&id).unwrap_or_else(|| panic!("no item {id}")).clone()
}

#[test]
fn they_are_accepted_and_say_that_they_are_invented() {
    for (name, text) in SHIPPED {
        let engine_type = read(name, text);
        assert_eq!(engine_type.name.as_str(), name);
        assert!(engine_type.invented, "{name}");
        assert!(engine_type.items.len() >= 30, "{name}: {} items", engine_type.items.len());
    }
    let bases = SHIPPED.map(|(name, text)| read(name, text).basis);
    assert_eq!(bases, [Basis::EngineRun, Basis::EngineRun, Basis::Tach]);
}

/// Interval, whichever comes first, as the trade or the regulation states it.
#[test]
fn its_intervals_are_the_published_ones() {
    let engine_type = oarlock();
    let cases = [
        // Common practice for small two-stroke twins: rebuild at 300 h or 5 years.
        ("full-overhaul", Some(300), Some(60)),
        // The crankshaft at 150 to 300 h.
        ("crankshaft", Some(300), Some(60)),
        // 14 CFR 91.409(a): twelve calendar months; (b): 100 hours.
        ("annual-inspection", None, Some(12)),
        ("hundred-hour-inspection", Some(100), None),
        // Two-stroke practice: plugs renewed at 25 h.
        ("spark-plugs", Some(25), None),
        // Pistons and rings 50 to 150 h; ports looked through every 50 to 150 h.
        ("pistons-and-rings", Some(150), None),
        ("decarbonise", Some(75), None),
        // Flammable-fluid rubber hose: 5 years.
        ("fuel-lines", None, Some(60)),
        // Rubber sockets and pump diaphragm: 1 to 5 years.
        ("carburettor-socket", Some(150), Some(24)),
        ("fuel-pump-diaphragm", Some(150), Some(24)),
        // Gearbox oil 100 h.
        ("gearbox-oil", Some(100), Some(12)),
    ];
    for (id, hours, months) in cases {
        let item = item(&engine_type, id);
        let [limit] = item.limits.as_slice() else { panic!("{id} has one limit") };
        assert_eq!(limit.every.hours, hours.map(Hours::from_whole), "{id}");
        let months: Vec<_> = months.map(CalendarSpan::months).into_iter().collect();
        assert_eq!(limit.every.spans, months, "{id}");
    }
}

/// 14 CFR 91.409: twelve calendar months counted from done; 100 hours counted from due, ten more en route
/// only; an annual serves as the 100-hour inspection.
#[test]
fn its_required_inspections_follow_the_regulation() {
    let engine_type = oarlock();
    let annual = item(&engine_type, "annual-inspection");
    assert_eq!(annual.class, Class::RequiredInspection);
    assert_eq!(annual.next, NextPolicy::FromDone);
    assert_eq!(annual.tolerance, None);
    assert!(annual.limits.iter().all(|limit| limit.calendar == CalendarMode::EndOfMonth));
    let hundred = item(&engine_type, "hundred-hour-inspection");
    assert_eq!(hundred.class, Class::RequiredInspection);
    assert_eq!(hundred.next, NextPolicy::FromDue);
    assert_eq!(hundred.granted, Granted::EnRoute);
    assert_eq!(hundred.tolerance.and_then(|it| it.hours), Some(Hours::from_whole(10)));
    assert_eq!(hundred.satisfied_by, [annual.id]);
}

/// Common practice: re-torque at 2, 10, 25 and 50 hours on the way to overhaul, each step once.
#[test]
fn heads_are_retorqued_in_steps() {
    let steps = [2, 10, 25, 50].map(Hours::from_whole);
    let settling = item(&oarlock(), "head-nuts-settling");
    let [limit] = settling.limits.as_slice() else { panic!("one limit") };
    assert_eq!((limit.once.as_slice(), &limit.every), (&steps[..], &Interval::default()));
    let bolts = item(&read("thwart-twin", THWART), "head-bolts");
    let [limit] = bolts.limits.as_slice() else { panic!("one limit") };
    assert_eq!(
        (limit.once.as_slice(), limit.every.hours),
        (&steps[..], Some(Hours::from_whole(100)))
    );
}

/// UK CAP 747 GR No. 24: not more than 20 percent beyond the recommended hours or calendar time; on condition
/// after that, inspections at 100 hours or 12 months.
#[test]
fn an_extension_is_what_its_source_permits() {
    let transom = read("transom-flat", TRANSOM);
    let extended: Vec<_> =
        transom.items.iter().filter(|item| item.extension_percent.is_some()).collect();
    let [overhaul] = extended.as_slice() else { panic!("one item is extended: {extended:#?}") };
    assert_eq!((overhaul.id.as_str(), overhaul.extension_percent), ("full-overhaul", Some(20)));
    assert!(overhaul.source.contains("CAP 747 GR No. 24"));
    let hundred =
        Interval { hours: Some(Hours::from_whole(100)), spans: vec![CalendarSpan::months(12)] };
    assert_eq!(overhaul.on_condition, Some(hundred));
    for (name, text) in [("oarlock-twin", OARLOCK), ("thwart-twin", THWART)] {
        let pressed = read(name, text);
        assert!(pressed.items.iter().all(|item| item.extension_percent.is_none()), "{name}");
    }
}

/// ML.A.302(d)(1)(a): annual or 100 hours, whichever comes first, one month or 10 hours of tolerance, the next
/// from when the inspection took place.
#[test]
fn the_minimum_programme_follows_the_regulation() {
    let minimum = item(&read("thwart-twin", THWART), "minimum-inspection");
    let tolerance = minimum.tolerance.expect("it has a tolerance");
    assert_eq!((tolerance.hours, tolerance.months), (Some(Hours::from_whole(10)), Some(1)));
    assert_eq!((minimum.next, minimum.granted), (NextPolicy::FromDone, Granted::Automatic));
    let every = &minimum.limits.first().expect("one limit").every;
    assert_eq!(every.hours, Some(Hours::from_whole(100)));
    assert_eq!(every.spans, [CalendarSpan::months(12)]);
}

/// SAE ARP5316: nitrile 15 years, from the last day of the cure quarter as suppliers take it.
#[test]
fn a_seal_lies_as_long_as_its_standard_says() {
    let seal = item(&read("thwart-twin", THWART), "water-pump-seal");
    let shelf = seal.limits.first().expect("a shelf life");
    assert_eq!((shelf.shelf, shelf.code_day), (true, CodeDay::Last));
    assert_eq!(shelf.every.spans, [CalendarSpan::months(180)]);
}

/// The worked story of the belt: shelf 4 years, in service 5 years or 300 h, total 8 years from the first
/// day of its code; only a new belt closes the line.
#[test]
fn its_fan_belt_is_a_part_with_three_limits() {
    let belt = item(&oarlock(), "fan-belt");
    assert_eq!(belt.subject, Subject::Component(PartKind::new("fan-belt").expect("a short name")));
    assert_eq!(belt.done_by, [Action::Renewed]);
    assert_eq!((belt.tolerance, belt.extension_percent), (None, None));
    let limits: Vec<_> = belt
        .limits
        .iter()
        .map(|it| {
            (it.name.as_deref(), it.counts_from, it.every.hours, it.every.spans.clone(), it.shelf)
        })
        .collect();
    let months = |months| vec![CalendarSpan::months(months)];
    assert_eq!(
        limits,
        [
            (Some("shelf"), CountsFrom::Made, None, months(48), true),
            (
                Some("in service"),
                CountsFrom::FirstFitted,
                Some(Hours::from_whole(300)),
                months(60),
                false
            ),
            (Some("total"), CountsFrom::Made, None, months(96), false),
        ]
    );
    assert!(belt.limits.iter().all(|limit| limit.code_day == CodeDay::First));
}

/// What is never extended and never runs late: pressed crankshafts, and whatever holds fuel.
#[test]
fn nothing_that_must_not_run_late_has_a_tolerance() {
    let engine_type = oarlock();
    for id in ["full-overhaul", "crankshaft", "fan-belt", "fuel-lines", "annual-inspection"] {
        let item = item(&engine_type, id);
        assert_eq!((item.tolerance, item.extension_percent), (None, None), "{id}");
    }
}

/// A file saved on another system reads the same.
#[test]
fn line_ends_do_not_matter() {
    for (name, text) in SHIPPED {
        assert_eq!(parse(name, &text.replace('\n', "\r\n")), Ok(read(name, text)));
    }
}

/// A file cut off anywhere is refused or read, and never stops the program.
#[test]
fn a_file_cut_short_is_no_accident() {
    for at in (0..OARLOCK.len()).step_by(131).filter(|at| OARLOCK.is_char_boundary(*at)) {
        let (start, _) = OARLOCK.split_at(at);
        if let Err(faults) = parse("oarlock-twin", start) {
            assert!(!faults.is_empty(), "cut at {at}");
        }
    }
}
