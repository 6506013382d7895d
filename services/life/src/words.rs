//! A due line in words: what a mail and a page say about it, so that both say the same.
//!
//! Days print as `Mon 2026-12-07`, always with how far off they are. Hours print in tenths: hours used and
//! hours late round up, hours left and due hours round down, both the cautious side.

use crate::calendar::{days_before, days_between};
use crate::hours::Hours;
use crate::ids::Uid;
use crate::line::{
    AskedBy, Axis, Count, DueLine, Governs, Happened, LastDone, Leg, Missing, NoLater, Overrun,
};
use crate::programme::Class;
use crate::status::Status;
use chrono::NaiveDate;

/// What stands where a date would stand when only hours set it.
pub const NO_FORECAST: &str = "no date can be forecast from hours yet";

/// One due line in words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LineWords {
    /// When it is due, by the leg or legs that govern.
    pub due: String,
    /// Which leg governs, and what could still come first.
    pub governing: Option<String>,
    /// What stands where a date would stand, unless a forecast is told beside it.
    pub no_date: Option<&'static str>,
    /// By when to plan for it, where its hours may be used up before a day of the calendar comes.
    pub plan: Option<String>,
    /// How far past due it is, and what permission is left.
    pub late: Option<String>,
    /// Every leg, in the order of the line, then what measurements say of those that wear sets.
    pub legs: Vec<LegWords>,
    /// When it was last done and how late that was, or that no record says so; `None` for a finding, which
    /// is not a thing to repeat.
    pub last: Option<String>,
    /// The finding that asks for it, when one does.
    pub finding: Option<String>,
}

/// One leg in words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LegWords {
    /// What is counted, with the name of the limit: `Hours`, `Calendar, in service`.
    pub name: String,
    /// Whether this leg governs.
    pub governs: bool,
    /// How it stands.
    pub words: String,
}

/// A day: `Mon 2026-12-07`.
#[must_use]
pub fn day(on: NaiveDate) -> String {
    on.format("%a %Y-%m-%d").to_string()
}

/// How far off a day is: `today`, `in 1 day`, `24 days ago`.
#[must_use]
pub fn distance(on: NaiveDate, as_of: NaiveDate) -> String {
    match days_between(as_of, on) {
        0 => "today".to_owned(),
        ahead if ahead > 0 => format!("in {}", counted(ahead, "day")),
        behind => format!("{} ago", counted(-behind, "day")),
    }
}

/// A day and how far off it is: `Mon 2026-12-07 (in 12 days)`.
#[must_use]
pub fn day_from(on: NaiveDate, as_of: NaiveDate) -> String {
    format!("{} ({})", day(on), distance(on, as_of))
}

/// A number with its noun: `1 day`, `2 days`.
#[must_use]
pub fn counted(count: i64, noun: &str) -> String {
    format!("{count} {noun}{}", if count == 1 { "" } else { "s" })
}

/// What a lost log needs, in words (FAA AC 43-9C, paragraph 12).
pub const LOST_LOG: &str = "a total can only be a best estimate, on the owner's statement (notarised) that describes the loss and the basis of the estimate (FAA AC 43-9C, paragraph 12)";

/// The last eight digits of an identifier. The first ones of a version 7 UUID are the time and nearly alike.
#[must_use]
pub fn short_id(id: Uid) -> String {
    id.to_string().chars().skip(28).collect()
}

/// Foreign text made fit to print anywhere: one line, no control or direction-changing characters, and
/// no longer than `chars`, the cut marked.
#[must_use]
pub fn clean(text: &str, chars: usize) -> String {
    let one_line: String = text
        .chars()
        .map(|c| if c.is_control() || matches!(c, '\u{2028}' | '\u{2029}') { ' ' } else { c })
        .filter(|c| !turns_direction(*c))
        .collect();
    let words: Vec<&str> = one_line.split_whitespace().collect();
    let words = words.join(" ");
    if words.chars().count() <= chars {
        return words;
    }
    let kept: String = words.chars().take(chars.saturating_sub(1)).collect();
    format!("{}\u{2026}", kept.trim_end())
}

/// The characters of Unicode that change the direction of the text after them.
const fn turns_direction(c: char) -> bool {
    matches!(c, '\u{061c}' | '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// How far past due, in words: `12.3 h and 24 days past due`; `None` when not past it.
#[must_use]
pub fn overrun(by: Overrun) -> Option<String> {
    let hours = (by.hours > Hours::ZERO).then(|| format!("{} h", by.hours.tenths_up()));
    let days = (by.days > 0).then(|| counted(by.days, "day"));
    let parts: Vec<String> = hours.into_iter().chain(days).collect();
    (!parts.is_empty()).then(|| parts.join(" and "))
}

/// What decides which line is named first; the smaller comes first. The worse status; past due, the more
/// binding class; then an open finding, which is due at once; then what has the least left of its interval,
/// in thousandths, so that hours and days can stand in one order without a rate between them.
#[must_use]
pub fn urgency(line: &DueLine, as_of: NaiveDate) -> (Status, Option<Class>, i64) {
    let status = line.status(as_of);
    let class = (status < Status::ComingDue).then_some(line.class);
    let left = line.legs.iter().filter_map(|leg| match leg.count {
        Count::Hours { from, due, .. } => {
            Some(thousandths((due - line.hours_now?).seconds(), (due - from).seconds()))
        }
        Count::Calendar { from, due, .. } => {
            Some(thousandths(days_between(as_of, due), days_between(from, due)))
        }
        Count::Missing(..) => None,
    });
    (status, class, left.min().unwrap_or(i64::MIN))
}

fn thousandths(left: i64, of: i64) -> i64 {
    left.saturating_mul(1000).div_euclid(of.max(1))
}

/// One due line in words, as it stands on a day.
#[must_use]
pub fn line_words(line: &DueLine, as_of: NaiveDate) -> LineWords {
    LineWords {
        due: due(line, as_of),
        governing: governing(line, as_of),
        no_date: needs_forecast(line, as_of).then_some(NO_FORECAST),
        plan: plan(line, as_of),
        late: late(line, as_of),
        legs: legs(line, as_of),
        last: match (line.asked_by, line.last) {
            (AskedBy::Finding(_) | AskedBy::Event(_) | AskedBy::Preservation(_), _) => None,
            (AskedBy::Programme, None) => Some("not on record".to_owned()),
            (AskedBy::OnCondition, None) => {
                Some("no inspection on record since the life ran out".to_owned())
            }
            (AskedBy::Programme | AskedBy::OnCondition, Some(last)) => Some(last_done(line, last)),
        },
        finding: match line.asked_by {
            AskedBy::Programme | AskedBy::OnCondition => None,
            AskedBy::Finding(fact) => {
                Some(format!("asked for by an open finding, record ending {}", short_id(fact.0)))
            }
            AskedBy::Event(happened) => Some(happened_words(line, happened)),
            AskedBy::Preservation(fact) => {
                Some(format!("preserved, record ending {}", short_id(fact.0)))
            }
        },
    }
}

fn due(line: &DueLine, as_of: NaiveDate) -> String {
    let by_hours = || line.due_hours().map(|at| due_at_hours(line, at));
    let by_calendar = || line.due_on().map(|on| due_on_day(on, as_of));
    let governed = match line.governs(as_of) {
        Governs::Hours => by_hours(),
        Governs::Calendar => by_calendar(),
        Governs::Both => by_calendar().zip(by_hours()).map(|(on, at)| format!("{on}, and {at}")),
        Governs::None => None,
    };
    let missing = line.legs.iter().find_map(|leg| match leg.count {
        Count::Missing(_, why) => Some(format!("cannot be told: {}", why.printed())),
        _ => None,
    });
    match (line.status(as_of), missing, governed) {
        (Status::Unknown, Some(missing), Some(governed)) => {
            format!("{missing}; otherwise {governed}")
        }
        (_, Some(missing), None) => missing,
        (_, _, Some(governed)) => governed,
        (_, None, None) => match line.asked_by {
            AskedBy::Finding(_) if line.status(as_of) == Status::Overdue => {
                "due now, until work at this place closes it".to_owned()
            }
            AskedBy::Finding(_) => {
                "to be looked at again, until work at this place closes it".to_owned()
            }
            AskedBy::Event(_) => "due now, until it is done".to_owned(),
            AskedBy::Programme | AskedBy::OnCondition if line.legs.is_empty() => {
                "nothing more is due on record".to_owned()
            }
            AskedBy::Programme | AskedBy::OnCondition | AskedBy::Preservation(_) => {
                "cannot be told".to_owned()
            }
        },
    }
}

/// By when to plan for a line, unless its calendar comes first.
fn plan(line: &DueLine, as_of: NaiveDate) -> Option<String> {
    let by = line.plan_by.filter(|by| line.due_on().is_none_or(|due| *by < due))?;
    Some(if by < as_of {
        format!("its hours may already be used up, as forecast for {}: read the meter", day(by))
    } else {
        format!("plan by {}", day(by))
    })
}

/// What happened, when, and how much was run since.
fn happened_words(line: &DueLine, happened: Happened) -> String {
    let Happened { kind, on, hours, fact } = happened;
    let at = hours.map_or_else(String::new, |hours| format!(" at {} h", hours.tenths_up()));
    let since = line.hours_now.zip(hours).map_or_else(
        || "hours run since are not known".to_owned(),
        |(now, then)| format!("{} h run since", (now - then).tenths_up()),
    );
    format!("{} on {on}{at}, record ending {}: {since}", kind.printed(), short_id(fact.0))
}

fn due_on_day(on: NaiveDate, as_of: NaiveDate) -> String {
    if on < as_of { format!("was due {}", day(on)) } else { format!("due {}", day_from(on, as_of)) }
}

fn due_at_hours(line: &DueLine, due: Hours) -> String {
    let at = at_hours(line, due);
    match line.hours_left() {
        None => format!("due {at}; the hours now are not known"),
        Some(left) if left < Hours::ZERO => format!("was due {at}"),
        Some(left) => format!("due {at}, {} h left at the last reading", left.tenths_down()),
    }
}

/// Which side governs, and what could still come first.
fn governing(line: &DueLine, as_of: NaiveDate) -> Option<String> {
    let hours_ahead = line.hours_left().filter(|left| *left >= Hours::ZERO);
    let day_ahead = line.due_on().filter(|on| *on >= as_of);
    Some(match (line.governs(as_of), hours_ahead, day_ahead) {
        (Governs::None, _, _) => return None,
        (Governs::Hours, Some(_), Some(on)) => {
            format!("hours govern, unless {} comes first", day(on))
        }
        (Governs::Hours, ..) => "hours govern".to_owned(),
        (Governs::Calendar, Some(left), Some(_)) => {
            format!("the calendar governs, unless {} h are run first", left.tenths_down())
        }
        (Governs::Calendar, _, _) => "the calendar governs".to_owned(),
        (Governs::Both, _, _) => "hours and calendar govern alike".to_owned(),
    })
}

/// Whether hours could end before any day that is known.
fn needs_forecast(line: &DueLine, as_of: NaiveDate) -> bool {
    let hours_ahead = line.hours_left().is_some_and(|left| left >= Hours::ZERO);
    let day_ahead = line.due_on().is_none_or(|on| on >= as_of);
    hours_ahead && day_ahead && line.governs(as_of) != Governs::None
}

fn late(line: &DueLine, as_of: NaiveDate) -> Option<String> {
    let by = line.overdue_by(as_of);
    let past = overrun(by)?;
    // Past a recommended life that may be extended is not late: nobody has to be told that it is due.
    let (what, permission) = match line.status(as_of) {
        Status::InTolerance => ("due", "tolerance"),
        Status::InExtension => ("its recommended life", "extension"),
        Status::OnCondition => return Some(format!("{past} past its recommended life")),
        _ => return Some(format!("{past} past due")),
    };
    // Only a side that is past due uses its permission up. One that somebody gave may end before its tolerance.
    let past_due = line.legs.iter().filter(|leg| leg.days.due_from.is_some_and(|due| due <= as_of));
    let days = past_due.filter_map(|leg| leg.days.late_from).min().map(|late| days_before(late, 1));
    let hours = line.latest_hours().filter(|_| by.hours > Hours::ZERO);
    let days = days.map(|on| format!("on {}", day_from(on, as_of)));
    let ends: Vec<String> = days.into_iter().chain(hours.map(|at| at_hours(line, at))).collect();
    Some(format!("{past} past {what}; the {permission} ends {}", ends.join(" or ")))
}

/// A value of the line's own count as the hour meter will show it, where there is a meter.
fn at_hours(line: &DueLine, at: Hours) -> String {
    match (line.meter_now, line.hours_now) {
        (Some(meter), Some(now)) => {
            format!("at hour meter {}", (meter + (at - now)).tenths_down())
        }
        _ => format!("at {} h", at.tenths_down()),
    }
}

/// Every leg, and what was measured of what it wears by.
fn legs(line: &DueLine, as_of: NaiveDate) -> Vec<LegWords> {
    let legs = line.legs.iter().map(|leg| leg_words(line, leg, as_of));
    let worn = line.wear.iter().filter(|wear| wear.readings > 0).map(|wear| LegWords {
        name: format!("Measured, {}", wear.name()),
        governs: false,
        words: wear.in_words(),
    });
    legs.chain(worn).collect()
}

fn leg_words(line: &DueLine, leg: &Leg, as_of: NaiveDate) -> LegWords {
    let axis = match leg.count {
        Count::Hours { .. } | Count::Missing(Axis::Hours, _) => "Hours",
        Count::Calendar { .. } | Count::Missing(Axis::Calendar, _) => "Calendar",
    };
    LegWords {
        name: leg
            .limit
            .as_ref()
            .map_or_else(|| axis.to_owned(), |limit| format!("{axis}, {limit}")),
        governs: line.governing_legs(as_of).contains(&leg),
        words: match leg.count {
            Count::Hours { from, due, latest } => hours_leg(line, from, due, latest),
            Count::Calendar { from, due, latest } => calendar_leg(from, due, latest, as_of),
            Count::Missing(_, why) => missing_leg(leg, why, as_of),
        },
    }
}

/// A leg that cannot be told, and what the records prove all the same.
fn missing_leg(leg: &Leg, why: Missing, as_of: NaiveDate) -> String {
    let bound = match leg.no_later {
        Some(NoLater::Hours { due, .. }) if due < Hours::ZERO => {
            let before = (-due).tenths_down();
            format!("; by an accepted estimate it was due {before} h before these records begin")
        }
        Some(NoLater::Hours { due, .. }) => format!("; due no later than {} h", due.tenths_down()),
        Some(NoLater::Day { due, .. }) => format!("; due no later than {}", day_from(due, as_of)),
        None => String::new(),
    };
    format!("cannot be told: {}{bound}", why.printed())
}

fn hours_leg(line: &DueLine, from: Hours, due: Hours, latest: Hours) -> String {
    let mut parts = vec![format!("from {} h, due at {} h", from.tenths_up(), due.tenths_down())];
    parts.extend((latest != due).then(|| format!("latest {} h", latest.tenths_down())));
    let limits = parts.join(", ");
    let Some(now) = line.hours_now else {
        return format!("{limits}; the hours now are not known");
    };
    let left = due - now;
    let stands = if left < Hours::ZERO {
        format!("{} h past", (-left).tenths_up())
    } else {
        format!("{} h left", left.tenths_down())
    };
    let stands = format!("{limits}; now {} h, {stands}", now.tenths_up());
    match line.meter_now {
        Some(meter) => format!("{stands}; due at hour meter {}", (meter + left).tenths_down()),
        None => stands,
    }
}

fn calendar_leg(from: NaiveDate, due: NaiveDate, latest: NaiveDate, as_of: NaiveDate) -> String {
    let mut parts = vec![format!("from {from}, due {}", day_from(due, as_of))];
    parts.extend((latest != due).then(|| format!("latest {}", day_from(latest, as_of))));
    parts.join(", ")
}

fn last_done(line: &DueLine, last: LastDone) -> String {
    let at = last.hours.map(|hours| format!(" at {} h", hours.tenths_up())).unwrap_or_default();
    let beyond = if line.last_overrun_beyond_tolerance { ", beyond its tolerance" } else { "" };
    let late =
        overrun(line.last_overrun).map(|late| format!(", {late} late{beyond}")).unwrap_or_default();
    format!(
        "{} {}{at}{late} (record ending {})",
        last.action.word(),
        last.on,
        short_id(last.fact.0)
    )
}

#[cfg(test)]
#[path = "words_tests.rs"]
mod tests;
