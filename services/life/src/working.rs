//! The working of a due line: the steps that gave it, so that a person can redo it by hand.
//!
//! Every step is one sentence that names its record and its rule and writes its arithmetic out, with exact
//! hours (tenths, else `h:mm`) and ISO dates. The count is made again here by the very code that made the
//! line, with a recorder looking on.

use crate::calendar::{CalendarMode, CalendarSpan, days_between};
use crate::clock::{Clock, Moment, Segment};
use crate::count::{DoneOnce, Step};
use crate::due::line;
use crate::fact::Host;
use crate::history::{ConcessionRecord, History};
use crate::hours::Hours;
use crate::ids::EngineId;
use crate::line::{AskedBy, Axis, Count, DueLine};
use crate::on_condition::{inspection_rule, on_condition_line};
use crate::programme::{CountsFrom, EngineType, Interval};
use crate::rule::{Counted, DueDay, Next, Rule, by_months, extension_span};
use crate::start::Start;
use crate::status::Beyond;
use crate::subject::{LineSubject, Part, subjects};
use crate::sure::prior::Evidence;
use crate::working_applies::applies_words;
use crate::working_asked::{event_words, finding_words, preservation_words};
use crate::working_rule::{allowance, interval_words, limit_words, reason_words, rule_words};
use crate::working_status::{governing, left, leg_status, no_later_words, planned};
use crate::working_wear::wear_words;
use chrono::NaiveDate;

/// The working of one line of an engine, as of a day, one sentence a step; with the programme and the evidence that
/// gave the line.
#[must_use]
pub fn working(
    history: &History,
    id: EngineId,
    engine_type: &EngineType,
    evidence: &Evidence,
    due_line: &DueLine,
    as_of: NaiveDate,
) -> Vec<String> {
    let mut words = vec![format!("As of {as_of}.")];
    match due_line.asked_by {
        AskedBy::Programme | AskedBy::Event(_) | AskedBy::OnCondition => {
            let subject = subjects(history, id, engine_type).find(|subject| {
                subject.item.id == due_line.item
                    && subject.position == due_line.position.as_ref()
                    && due_line.component == subject.component()
            });
            words.extend(subject.into_iter().flat_map(|subject| match due_line.asked_by {
                AskedBy::Event(happened) => event_words(&subject, due_line, happened),
                _ => counted_words(&subject, evidence, due_line, as_of),
            }));
        }
        AskedBy::Finding(fact) => {
            words.extend(finding_words(history.engine(id), due_line, fact, as_of));
        }
        AskedBy::Preservation(fact) => words.extend(preservation_words(due_line, fact, as_of)),
    }
    words.extend(planned(due_line, as_of));
    words.push(format!("Status: {}.", due_line.status(as_of).printed()));
    words
}

/// The working of a line that a programme counts: of a life, or on through it of the inspection past it.
fn counted_words(
    subject: &LineSubject<'_>,
    evidence: &Evidence,
    due_line: &DueLine,
    as_of: NaiveDate,
) -> Vec<String> {
    let mut steps = Vec::new();
    let rule = Rule::from(subject.item);
    let life = line(subject, evidence, &mut steps);
    let inspected = due_line.asked_by == AskedBy::OnCondition;
    if inspected {
        on_condition_line(subject, &life, &mut steps);
    }
    let mut words = vec![hours_now(subject)];
    words.push(format!("Rule: {}, {}.", due_line.source, due_line.class.printed()));
    words.extend(rule_words(&rule));
    words.extend(applies_words(subject));
    words.extend(steps.iter().filter_map(|step| step_words(step, &rule)));
    words.extend(wear_words(subject, evidence, &life.wear));
    words.extend(due_line.legs.iter().filter_map(|leg| left(leg, due_line, as_of)));
    words.extend(due_line.legs.iter().map(|leg| {
        if inspected {
            return leg_status(leg, (&inspection_rule(subject.item), None), due_line, as_of);
        }
        let (rule, given) = subject.permitted(leg.count);
        leg_status(leg, (&rule, given.and_then(|it| it.until)), due_line, as_of)
    }));
    words.extend(governing(due_line, as_of));
    words
}

/// The sum that makes the hours now, each piece with where it comes from.
pub(crate) fn hours_now(subject: &LineSubject<'_>) -> String {
    let Some((now, on)) = subject.now() else {
        return "Hours now: not known.".to_owned();
    };
    let sum = match subject.part {
        Part::Engine | Part::Absent => pieces(subject.engine.clock.segments()),
        Part::RenewedOnly(renewal) => {
            let then = subject.engine.clock.at(renewal.moment).map(|point| point.hours);
            let then = then.unwrap_or_default();
            format!("{} [on the engine] - {then} [when the part was renewed]", now + then)
        }
        Part::Component(id, component) => {
            let base = component.registered.and_then(|(_, hours)| hours).unwrap_or_default();
            let end = crate::clock::Moment::end_of(NaiveDate::MAX);
            let stays = subject.history.component_stays(id, end).filter_map(|(fit, (from, to))| {
                let host = match fit.host {
                    Host::Engine(id) => format!("engine {id}"),
                    Host::Aircraft(id) => format!("aircraft {id}"),
                };
                Some(format!(" + ({} - {}) [on {host}]", to?, from?))
            });
            format!("{base} [when registered]{}", stays.collect::<String>())
        }
    };
    hours_now_words(&sum, now, on)
}

/// The hours on the engine itself, as a sum.
pub(crate) fn engine_hours_now(clock: &Clock) -> String {
    clock.now().map_or_else(
        || "Hours now: not known.".to_owned(),
        |now| hours_now_words(&pieces(clock.segments()), now.hours, now.moment.on),
    )
}

fn hours_now_words(sum: &str, now: Hours, on: NaiveDate) -> String {
    format!("Hours now: {sum} = {now} h, read {on}.")
}

fn pieces(segments: &[Segment]) -> String {
    let words: Vec<String> = segments
        .iter()
        .map(|segment| match segment {
            Segment::Stated(hours, fact) => format!("{hours} [stated, record {fact}]"),
            Segment::Bench(hours, fact) => format!("{hours} [test bench, record {fact}]"),
            Segment::Meter { aircraft, from, to } => {
                format!("({to} - {from}) [meter of aircraft {aircraft}]")
            }
        })
        .collect();
    words.join(" + ")
}

/// One step in words; steps that say nothing to a reader give none.
pub(crate) fn step_words(step: &Step<'_>, rule: &Rule) -> Option<String> {
    Some(match *step {
        Step::Limit(limit) => limit_words(limit),
        Step::Start(start, axis) => start_words(start, axis)?,
        Step::FirstHours { from, every, due } => {
            format!("First due: {from} h + {every} h = {due} h.")
        }
        Step::FirstDay { due, .. } => format!("First due: {}.", day_sum(due)),
        Step::DoneHours { done, was, every, next } => done_hours(done, was, every, next, rule),
        Step::DoneDay { done, was, next } => done_day(done, was, next, rule),
        Step::ShelfKept { fitted, due } => {
            format!("First fitted {fitted}, not past {due}: the shelf life is over and done with.")
        }
        Step::DoneUnread(done) => {
            format!("Done{} ({}), but the hours then are not on record.", on(done), what(done))
        }
        Step::LatestHours { due, latest } if due == latest => return None,
        Step::LatestHours { due, latest } => {
            format!("Latest: {due} h + {} h = {latest} h ({}).", latest - due, allowance(rule))
        }
        Step::LatestDay { due, every, latest } => latest_day(due, every, latest, rule)?,
        Step::Steps { from, next } => format!("First step: {}.", next_step(from, next)?),
        Step::DoneSteps { done, from, was, next } => done_steps(done, from, was, next),
        Step::FirstOver(done, axis) => format!(
            "Done{} ({}): the first interval is over, and nothing repeats by {}.",
            on(done),
            what(done),
            axis_word(axis)
        ),
        Step::Span(span) => format!("By itself: {span}."),
        Step::Permission { count, given, at } => permission_words(count, given, at),
        Step::NoLaterHours { from, every, due, estimated } => {
            let why = no_later_words(from, estimated);
            format!(
                "No later than: {from} h + {every} h = {due} h, because {why} and it was not done since."
            )
        }
        Step::NoLaterDay { due } => format!(
            "No later than: {}, because the records begin {} and it was not done since.",
            day_sum(due),
            due.anchor
        ),
        Step::OnCondition(every) => on_condition_words(every),
        Step::Inspected { done, run_out } => inspected_words(done, run_out),
        Step::Missing(axis, why) => {
            format!("Not known by {}: {}.", axis_word(axis), why.printed())
        }
    })
}

pub(crate) fn axis_word(axis: Axis) -> &'static str {
    match axis {
        Axis::Hours => "hours",
        Axis::Calendar => "calendar",
    }
}

fn start_words(start: Start, axis: Axis) -> Option<String> {
    let what = match start.from {
        CountsFrom::New => "new",
        CountsFrom::Overhaul => "the last full overhaul",
        CountsFrom::FirstFitted => "when the part was first fitted",
        CountsFrom::Fitted => "when the part was fitted",
        CountsFrom::Made => "when the part was made",
        CountsFrom::Effective(_) => "when the directive took effect",
        CountsFrom::Done => return None,
    };
    let (side, at) = match axis {
        Axis::Hours => ("Hours count", start.hours.ok().map(|hours| format!("{hours} h"))),
        Axis::Calendar => ("Calendar counts", start.day.ok().map(|day| day.to_string())),
    };
    Some(format!("{side} from {what}: {}.", at?))
}

/// The permission that a leg needs to run past due, and how it stands to it.
fn permission_words(count: Count, given: Option<&ConcessionRecord>, at: Option<Hours>) -> String {
    let (axis, due, then) = match count {
        Count::Hours { due, .. } => {
            let then = at.map_or_else(String::new, |at| format!(" at {at} h"));
            (Axis::Hours, format!("{due} h"), then)
        }
        Count::Calendar { due, .. } => (Axis::Calendar, due.to_string(), String::new()),
        Count::Missing(axis, _) => (axis, String::new(), String::new()),
    };
    let side = axis_word(axis);
    let Some(given) = given else {
        return format!("Permission by {side}: none on record that was given before due {due}.");
    };
    let until = given.until.map_or_else(String::new, |until| format!(", until {until}"));
    let Moment { on, fact, .. } = given.moment;
    format!("Permission by {side}: record {fact}, given {on}{then}, not after due {due}{until}.")
}

/// A due day as a sum from its anchor.
fn day_sum(due: DueDay) -> String {
    let end = match due.mode {
        CalendarMode::EndOfMonth if due.span.months > 0 => ", to the end of the month",
        _ => "",
    };
    format!("{} + {}{end} = {}", due.anchor, due.span, due.day())
}

fn done_hours(
    done: DoneOnce,
    was: Option<(Hours, Hours)>,
    every: Hours,
    next: Next<Hours, Hours>,
    rule: &Rule,
) -> String {
    let at = done.hours.unwrap_or_default();
    let (interval, due) = was.unwrap_or_default();
    let window = rule.window_hours(interval);
    let (why, sum) = match next.counted {
        Counted::LateFromDue | Counted::InWindow => {
            (reason_words(next.counted), format!("{due} h + {every} h"))
        }
        Counted::Skipped(times) => {
            (reason_words(next.counted), format!("{due} h + {times} x {every} h"))
        }
        _ => (reason_words(next.counted), format!("{at} h + {every} h")),
    };
    let against = match next.counted {
        Counted::InWindow | Counted::OutsideWindow => {
            format!(", due {due} h with a window of {window} h either side")
        }
        _ => was.map_or_else(String::new, |(_, due)| format!(", due {due} h")),
    };
    format!(
        "Done{} at {at} h ({}){against}: {why}. Next due: {sum} = {} h.",
        on(done),
        what(done),
        next.due
    )
}

fn done_day(
    done: DoneOnce,
    was: Option<(CalendarSpan, DueDay)>,
    next: Next<DueDay, i64>,
    rule: &Rule,
) -> String {
    let window = |interval, due| {
        let (first, last) = rule.window_days(due, interval);
        match next.counted {
            Counted::InWindow | Counted::OutsideWindow => {
                format!(" with a window from {first} to {last}")
            }
            _ => String::new(),
        }
    };
    let against = was.map_or_else(String::new, |(interval, due)| {
        format!(", due {}{}", due.day(), window(interval, due))
    });
    let start = match next.counted {
        Counted::LateFromDue | Counted::InWindow | Counted::Skipped(_) => ", from the same start",
        _ => "",
    };
    format!(
        "Done{} ({}){against}: {}. Next due{start}: {}.",
        on(done),
        what(done),
        reason_words(next.counted),
        day_sum(next.due)
    )
}

/// The day something was done, if it is known.
fn on(done: DoneOnce) -> String {
    done.on.map_or_else(String::new, |day| format!(" {day}"))
}

/// The next step as a sum from the start.
fn next_step(from: Hours, step: Option<Hours>) -> Option<String> {
    step.map(|step| format!("{from} h + {step} h = {} h", from + step))
}

fn done_steps(done: DoneOnce, from: Hours, was: Hours, next: Option<Hours>) -> String {
    let at = done.hours.unwrap_or_default();
    let due = from + was;
    let closes =
        if at < due { "the next step, a little early" } else { "every step it has reached" };
    let next = next_step(from, next)
        .map_or_else(|| "No step is left.".to_owned(), |sum| format!("Next step: {sum}."));
    format!("Done{} at {at} h ({}), due {due} h: closes {closes}. {next}", on(done), what(done))
}

/// The inspections that let an item run on condition, as a rule.
fn on_condition_words(every: &Interval) -> String {
    format!(
        "On condition when the extension ends: inspected by then, and again {}; always counted from done, overdue at once.",
        interval_words(every, CalendarMode::Day, "every")
    )
}

/// An inspection, and whether it is one of those.
fn inspected_words(done: DoneOnce, run_out: bool) -> String {
    let at = done.hours.map_or_else(String::new, |hours| format!(" at {hours} h"));
    let counts = if run_out {
        "the life had run out, so it counts"
    } else {
        "the life had not run out on record, so it does not count"
    };
    let record = done.fact.map_or_else(String::new, |fact| format!(" (record {fact})"));
    format!("Inspected{}{at}{record}: {counts}.", on(done))
}

/// What was done, and the record that says so.
fn what(done: DoneOnce) -> String {
    let action = done.action.word();
    done.fact.map_or_else(|| action.to_owned(), |fact| format!("{action}, record {fact}"))
}

fn latest_day(due: DueDay, every: CalendarSpan, latest: NaiveDate, rule: &Rule) -> Option<String> {
    let extra = days_between(due.day(), latest);
    if extra == 0 {
        return None;
    }
    // An extension, and a tolerance in months, count from the anchor like the due day itself; a tolerance in
    // days counts from the due day.
    let months = rule.tolerance.and_then(|it| it.months);
    let by_anchor = match (rule.beyond(), rule.extension_percent) {
        (Beyond::Extension, Some(percent)) => Some(due.plus(extension_span(every, percent))),
        _ => months.map(|months| by_months(due, every, months)),
    };
    let by_anchor = by_anchor.filter(|it| it.day() == latest);
    let sum = by_anchor.map_or_else(
        || {
            format!(
                "{} + {} = {latest}",
                due.day(),
                CalendarSpan::days(u32::try_from(extra).unwrap_or(u32::MAX))
            )
        },
        day_sum,
    );
    Some(format!("Latest: {sum} ({}).", allowance(rule)))
}
