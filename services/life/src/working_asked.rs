//! Workings of lines that no interval asks for: events, findings with a recheck, preservations.

use crate::history::{EngineState, FindingRecord};
use crate::hours::Hours;
use crate::ids::FactId;
use crate::line::{Count, DueLine, Happened};
use crate::rule::Rule;
use crate::subject::LineSubject;
use crate::working::{engine_hours_now, hours_now};
use crate::working_applies::applies_words;
use crate::working_status::{governing, left, leg_status};
use chrono::NaiveDate;

/// What happened, that it was not answered since, and how much was run since.
pub(crate) fn event_words(
    subject: &LineSubject<'_>,
    line: &DueLine,
    happened: Happened,
) -> Vec<String> {
    let Happened { kind, on, hours, fact } = happened;
    let mut words = vec![hours_now(subject)];
    words.push(format!("Rule: {}, {}.", line.source, line.class.printed()));
    words.extend(applies_words(subject));
    let kinds: Vec<&str> = subject.item.after.iter().map(|kind| kind.printed()).collect();
    words.push(format!("Due at once after: {}.", kinds.join(", ")));
    let at = hours.map_or_else(String::new, |hours| format!(" at {hours} h"));
    words.push(format!("Happened {on}{at}: {} (record {fact}).", kind.printed()));
    words.push(subject.last_answer().map_or_else(
        || "Never done on record.".to_owned(),
        |(moment, action)| {
            let (on, fact) = (moment.on, moment.fact);
            format!("Last done {on} ({}, record {fact}), before it happened.", action.word())
        },
    ));
    words.extend(
        line.hours_now
            .zip(hours)
            .map(|(now, then)| format!("Hours since: {now} h - {then} h = {} h.", now - then)),
    );
    words
}

/// What was found, and when to look again.
pub(crate) fn finding_words(
    engine: Option<&EngineState>,
    line: &DueLine,
    fact: FactId,
    as_of: NaiveDate,
) -> Vec<String> {
    let mut words = vec![format!(
        "{} (record {fact}, {}); no later work there answers it.",
        line.title, line.source
    )];
    if line.legs.is_empty() {
        return words;
    }
    let finding = engine.and_then(|engine| {
        engine.findings.iter().rfind(|it| {
            it.moment.fact == fact && it.item == line.item && it.position == line.position
        })
    });
    words.extend(engine.map(|engine| engine_hours_now(&engine.clock)));
    words.extend(finding.map(recheck_words));
    for leg in &line.legs {
        words.extend(match leg.count {
            Count::Hours { from, due, .. } => Some(recheck_hours(from, due)),
            Count::Calendar { .. } => None,
            Count::Missing(_, why) => Some(format!("Not known by hours: {}.", why.printed())),
        });
    }
    words.extend(legs(line, as_of));
    words
}

fn recheck_words(finding: &FindingRecord) -> String {
    let recheck = finding.recheck;
    let hours = recheck.and_then(|it| it.hours).map(|hours| format!("within {hours} h"));
    let day = recheck.and_then(|it| it.on).map(|on| format!("by {on}"));
    let both = if hours.is_some() && day.is_some() { ", whichever comes first" } else { "" };
    let parts: Vec<String> = hours.into_iter().chain(day).collect();
    format!("Look again {}{both}.", parts.join(" or "))
}

fn recheck_hours(from: Hours, due: Hours) -> String {
    format!("Found at {from} h: {from} h + {} h = {due} h.", due - from)
}

/// How long a preservation is good for.
pub(crate) fn preservation_words(line: &DueLine, fact: FactId, as_of: NaiveDate) -> Vec<String> {
    let good = line.legs.iter().find_map(|leg| match leg.count {
        Count::Calendar { from, due, .. } => Some((from, due)),
        _ => None,
    });
    let mut words = Vec::new();
    words.extend(good.map(|(from, due)| {
        format!("Preserved {from} (record {fact}), good until {due}; not back in use since.")
    }));
    words.extend(legs(line, as_of));
    words
}

/// What is left of each leg, how it stands, and which one governs, by no rule but the day or hour itself.
fn legs(line: &DueLine, as_of: NaiveDate) -> Vec<String> {
    let rule = Rule::plain();
    let left = line.legs.iter().filter_map(|leg| left(leg, line, as_of));
    let statuses = line.legs.iter().map(|leg| leg_status(leg, (&rule, None), line, as_of));
    left.chain(statuses).chain(governing(line, as_of)).collect()
}
