//! Findings that are still open, as due lines: what an inspection found stands until work answers it.

use crate::fact::Condition;
use crate::history::{EngineState, FindingRecord, WorkRecord};
use crate::ids::{ItemId, PositionId};
use crate::line::{AskedBy, Axis, Count, DueLine, LastDone, Leg, Missing, Overrun};
use crate::programme::{Action, Class, EngineType};
use crate::rule::Rule;
use crate::status::StatusDays;
use std::collections::BTreeMap;

type Place<'a> = (&'a ItemId, Option<&'a PositionId>);

/// One line for each open finding, in order of item and place.
pub(crate) fn finding_lines(engine: &EngineState, engine_type: &EngineType) -> Vec<DueLine> {
    let open = open_lines(engine).into_iter();
    open.map(|finding| finding_line(finding, engine, engine_type)).collect()
}

/// The findings that have a line, in order of item and place.
pub(crate) fn open_lines(engine: &EngineState) -> Vec<&FindingRecord> {
    open(engine).into_values().collect()
}

/// The findings still open. `repair`, `renew` and `scrap` stand until work at that place answers them;
/// `monitor` until somebody looks again. In one inspection the finding comes before the work.
fn open(engine: &EngineState) -> BTreeMap<Place<'_>, &FindingRecord> {
    let mut open: BTreeMap<Place<'_>, &FindingRecord> = BTreeMap::new();
    let mut work = engine.own_work().peekable();
    for finding in engine.own_findings() {
        while let Some(done) = work.next_if(|done| done.moment < finding.moment) {
            close(&mut open, done);
        }
        let place = (&finding.item, finding.position.as_ref());
        let before = open.get(&place).map_or(0, |before| severity(before.condition));
        match severity(finding.condition) {
            // Whoever did not look changes nothing, and what was found worse before stays: a scrapped
            // part does not become one to repair.
            _ if finding.condition == Condition::NotInspected => {}
            found if before > MONITOR && found <= before => {}
            0 => {
                open.remove(&place);
            }
            _ => {
                open.insert(place, finding);
            }
        }
    }
    for done in work {
        close(&mut open, done);
    }
    open
}

const MONITOR: u8 = 1;

/// How bad a condition is; 0 needs nothing.
fn severity(condition: Condition) -> u8 {
    match condition {
        Condition::Serviceable | Condition::NotInspected => 0,
        Condition::Monitor => MONITOR,
        Condition::Repair => 2,
        Condition::Renew => 3,
        Condition::Scrap => 4,
    }
}

fn close(open: &mut BTreeMap<Place<'_>, &FindingRecord>, work: &WorkRecord) {
    open.retain(|(item, position), finding| {
        let here = position.map_or_else(
            || work.positions.is_empty(),
            |position| work.positions.contains(position),
        );
        !(**item == work.item && here && answers(work.action, finding.condition))
    });
}

/// Whether an action answers a condition: only another part answers `renew` and `scrap`.
pub(crate) fn answers(action: Action, condition: Condition) -> bool {
    match condition {
        Condition::Renew | Condition::Scrap => action == Action::Renewed,
        Condition::Repair => !matches!(action, Action::Inspected | Action::Refitted),
        Condition::Monitor => true,
        Condition::Serviceable | Condition::NotInspected => false,
    }
}

pub(crate) fn finding_line(
    finding: &FindingRecord,
    engine: &EngineState,
    engine_type: &EngineType,
) -> DueLine {
    let item = engine_type.item(&finding.item);
    let name =
        item.map_or_else(|| finding.item.as_str().replace('-', " "), |item| item.title.clone());
    let on = Some(finding.moment.on);
    let legs = recheck_legs(finding, engine);
    let days = if finding.condition == Condition::Monitor {
        let days = StatusDays { coming_from: on, ..StatusDays::default() };
        legs.iter().fold(days, |days, leg| days.with(leg.days))
    } else {
        StatusDays { due_from: on, late_from: on, ..StatusDays::default() }
    };
    let now = engine.clock.now();
    DueLine {
        item: finding.item.clone(),
        title: format!("{name}: {}", asked(finding.condition)),
        asked_by: AskedBy::Finding(finding.moment.fact),
        position: finding.position.clone(),
        component: None,
        class: item.map_or(Class::Recommended, |item| item.class),
        source: format!("found at the inspection released {}", finding.moment.on),
        legs,
        hours_now: now.map(|point| point.hours),
        hours_on: now.map(|point| point.moment.on),
        meter_now: None,
        plan_by: None,
        last: None::<LastDone>,
        last_overrun: Overrun::default(),
        last_overrun_beyond_tolerance: false,
        days,
        wear: Vec::new(),
        notes: Vec::new(),
    }
}

/// What a condition asks for, in the words of a title.
const fn asked(condition: Condition) -> &'static str {
    match condition {
        Condition::Monitor => "look again",
        Condition::Repair => "to be repaired",
        Condition::Renew => "to be renewed",
        Condition::Scrap => "to be scrapped",
        Condition::Serviceable | Condition::NotInspected => "nothing to be done",
    }
}

/// When a part to be watched has to be looked at again, as legs.
fn recheck_legs(finding: &FindingRecord, engine: &EngineState) -> Vec<Leg> {
    let Some(recheck) = finding.recheck else { return Vec::new() };
    let then = engine.clock.at(finding.moment).map(|point| point.hours);
    let by_hours = recheck.hours.map(|hours| match then {
        Some(from) => Count::Hours { from, due: from + hours, latest: from + hours },
        None => Count::Missing(Axis::Hours, Missing::NoHours),
    });
    let from = finding.moment.on;
    let by_day = recheck.on.map(|due| Count::Calendar { from, due, latest: due });
    let now = engine.clock.now().map(|point| (point.hours, point.moment.on));
    let leg =
        |count| Leg { limit: None, count, no_later: None, days: Rule::plain().days_of(count, now) };
    by_hours.into_iter().chain(by_day).map(leg).collect()
}
