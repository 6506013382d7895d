//! The engine type that is shipped: it is accepted, and its figures are the published ones.

use crate::parse;
use gudgeon_life::calendar::{CalendarMode, CalendarSpan};
use gudgeon_life::date_code::CodeDay;
use gudgeon_life::hours::{Basis, Hours};
use gudgeon_life::ids::{ItemId, PartKind};
use gudgeon_life::programme::{
    Action, Class, CountsFrom, EngineType, Granted, Item, NextPolicy, Subject,
};

const FILE: &str = "oarlock-twin.toml";
const TEXT: &str = include_str!("../../../../config/engine-types/oarlock-twin.toml");

fn shipped() -> EngineType {
    match parse(FILE, TEXT) {
        Ok(engine_type) => engine_type,
        Err(faults) => panic!("{faults:#?}"),
    }
}

fn item(engine_type: &EngineType, id: &str) -> Item {
    let id = ItemId::new(id).expect("a short name");
    engine_type.item(&id).unwrap_or_else(|| panic!("no item {id}")).clone()
}

#[test]
fn it_is_accepted_and_says_that_it_is_invented() {
    let engine_type = shipped();
    assert_eq!(engine_type.name.as_str(), "oarlock-twin");
    assert!(engine_type.invented);
    assert_eq!(engine_type.basis, Basis::EngineRun);
    assert!(engine_type.items.len() >= 18, "{} items", engine_type.items.len());
}

/// Interval, whichever comes first, as the trade or the regulation states it.
#[test]
fn its_intervals_are_the_published_ones() {
    let engine_type = shipped();
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
        assert_eq!(limit.hours, hours.map(Hours::from_whole), "{id}");
        let months: Vec<_> = months.map(CalendarSpan::months).into_iter().collect();
        assert_eq!(limit.spans, months, "{id}");
    }
}

/// 14 CFR 91.409: twelve calendar months counted from done; 100 hours counted from due, ten more en route
/// only; an annual serves as the 100-hour inspection.
#[test]
fn its_required_inspections_follow_the_regulation() {
    let engine_type = shipped();
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

/// The worked story of the belt: shelf 4 years, in service 5 years or 300 h, total 8 years from the first
/// day of its code; only a new belt closes the line.
#[test]
fn its_fan_belt_is_a_part_with_three_limits() {
    let belt = item(&shipped(), "fan-belt");
    assert_eq!(belt.subject, Subject::Component(PartKind::new("fan-belt").expect("a short name")));
    assert_eq!(belt.done_by, [Action::Renewed]);
    assert_eq!((belt.tolerance, belt.extension_percent), (None, None));
    let limits: Vec<_> = belt
        .limits
        .iter()
        .map(|it| (it.name.as_deref(), it.counts_from, it.hours, it.spans.clone(), it.shelf))
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
    let engine_type = shipped();
    for id in ["full-overhaul", "crankshaft", "fan-belt", "fuel-lines", "annual-inspection"] {
        let item = item(&engine_type, id);
        assert_eq!((item.tolerance, item.extension_percent), (None, None), "{id}");
    }
}

/// A file saved on another system reads the same.
#[test]
fn line_ends_do_not_matter() {
    assert_eq!(parse(FILE, &TEXT.replace('\n', "\r\n")), Ok(shipped()));
}

/// A file cut off anywhere is refused or read, and never stops the program.
#[test]
fn a_file_cut_short_is_no_accident() {
    for at in (0..TEXT.len()).step_by(131).filter(|at| TEXT.is_char_boundary(*at)) {
        let (start, _) = TEXT.split_at(at);
        if let Err(faults) = parse(FILE, start) {
            assert!(!faults.is_empty(), "cut at {at}");
        }
    }
}
