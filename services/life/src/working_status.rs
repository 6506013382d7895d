//! The last part of a working: what is left, how each leg stands and why, and which governs.

use crate::calendar::days_between;
use crate::history::AcceptedRecord;
use crate::hours::Hours;
use crate::line::{Count, DueLine, Governs, Leg, Missing, NoLater, PLAN_DAYS};
use crate::rule::Rule;
use crate::start::Estimated;
use crate::status::Status;
use crate::working::axis_word;
use chrono::NaiveDate;

/// What is left of a leg, as a sum.
pub(crate) fn left(leg: &Leg, line: &DueLine, as_of: NaiveDate) -> Option<String> {
    let limit = limit_name(leg);
    match leg.count {
        Count::Hours { due, .. } => {
            let now = line.hours_now?;
            Some(format!("Hours left{limit}: {due} h - {now} h = {} h.", due - now))
        }
        Count::Calendar { due, .. } => {
            Some(format!("Days left{limit}: {due} - {as_of} = {} days.", days_between(as_of, due)))
        }
        Count::Missing(..) => None,
    }
}

/// How a leg stands, and the comparison that says so. A permission may end before its tolerance does.
pub(crate) fn leg_status(
    leg: &Leg,
    (rule, until): (&Rule, Option<NaiveDate>),
    line: &DueLine,
    as_of: NaiveDate,
) -> String {
    let status = leg.days.on(as_of);
    let (side, why) = match leg.count {
        Count::Hours { due, latest, .. } => {
            let why = match line.hours_now {
                Some(now)
                    if line.hours_on.is_some_and(|on| on > as_of) && status == Status::NotDue =>
                {
                    format!("the reading of {now} h was made after this day")
                }
                Some(now) => {
                    let ended = until.filter(|_| status == Status::Overdue && now <= latest);
                    let by_end = ended.map(|until| {
                        format!("{now} h is past {due} h, and {}", ended_words(until))
                    });
                    by_end.unwrap_or_else(|| by_hours(status, due, latest, now, rule))
                }
                None => "the hours now are not known".to_owned(),
            };
            ("hours", why)
        }
        Count::Calendar { due, latest, .. } => {
            let ended = until.filter(|_| status == Status::Overdue && as_of <= latest);
            let by_end =
                ended.map(|until| format!("{as_of} is past {due}, and {}", ended_words(until)));
            let why = by_end.unwrap_or_else(|| by_calendar(status, due, latest, as_of, rule));
            ("calendar", why)
        }
        Count::Missing(axis, why) => (axis_word(axis), missing(leg, why, rule, line, as_of)),
    };
    format!("By {side}{}: {}, because {why}.", limit_name(leg), status.printed())
}

fn ended_words(until: NaiveDate) -> String {
    format!("the permission ended {until}")
}

/// The name of a leg's limit after a comma, where the item has several.
fn limit_name(leg: &Leg) -> String {
    leg.limit.as_ref().map_or_else(String::new, |name| format!(", {name}"))
}

/// Why a leg cannot be told; or, past its bound, that it is overdue all the same.
fn missing(leg: &Leg, why: Missing, rule: &Rule, line: &DueLine, as_of: NaiveDate) -> String {
    let bound = leg.no_later.filter(|_| leg.days.on(as_of) == Status::Overdue);
    match (bound, line.hours_now) {
        (Some(NoLater::Hours { due, latest }), Some(now)) => {
            let late = if rule.late_at_due() { due } else { latest };
            format!("it was due no later than {due} h, and {now} h is past {late} h")
        }
        (Some(NoLater::Day { due, latest }), _) => {
            let late = if rule.late_at_due() { due } else { latest };
            format!("it was due no later than {due}, and {as_of} is past {late}")
        }
        _ => why.printed().to_owned(),
    }
}

/// Why the bound on a count that cannot be told begins where it does.
pub(crate) fn no_later_words(from: Hours, estimated: Option<Estimated>) -> String {
    let Some(Estimated { accepted, at }) = estimated else {
        return format!("the records begin at {from} h");
    };
    let AcceptedRecord { moment, hours, .. } = accepted;
    format!(
        "by the estimate of {hours} h accepted {} at {at} h (record {}) it was new at {at} h - {hours} h = {from} h",
        moment.on, moment.fact
    )
}

fn by_hours(status: Status, due: Hours, latest: Hours, now: Hours, rule: &Rule) -> String {
    let notice = rule.notice.hours;
    let left = due - now;
    match status {
        Status::Overdue | Status::OnCondition if rule.late_at_due() => {
            format!("{now} h is past {due} h")
        }
        Status::Overdue | Status::OnCondition => format!("{now} h is past {latest} h"),
        Status::InTolerance | Status::InExtension => {
            format!("{now} h is past {due} h but not past {latest} h")
        }
        Status::ComingDue => format!("{left} h left is not more than the notice of {notice} h"),
        Status::NotDue | Status::Unknown => {
            format!("{left} h left is more than the notice of {notice} h")
        }
    }
}

fn by_calendar(
    status: Status,
    due: NaiveDate,
    latest: NaiveDate,
    as_of: NaiveDate,
    rule: &Rule,
) -> String {
    let notice = rule.notice.days;
    let left = days_between(as_of, due);
    match status {
        Status::Overdue | Status::OnCondition if rule.late_at_due() => {
            format!("{as_of} is past {due}")
        }
        Status::Overdue | Status::OnCondition => format!("{as_of} is past {latest}"),
        Status::InTolerance | Status::InExtension => {
            format!("{as_of} is past {due} but not past {latest}")
        }
        Status::ComingDue => {
            format!("{left} days left is not more than the notice of {notice} days")
        }
        Status::NotDue | Status::Unknown => {
            format!("{left} days left is more than the notice of {notice} days")
        }
    }
}

/// Why a line counts as coming due, where none of its own counts says so.
pub(crate) fn planned(line: &DueLine, as_of: NaiveDate) -> Option<String> {
    let by_count = line.legs.iter().any(|leg| leg.days.on(as_of) != Status::NotDue);
    let by = line.plan_by.filter(|_| !by_count && line.status(as_of) == Status::ComingDue)?;
    let left = days_between(as_of, by);
    // What is watched counts as coming due by itself.
    (left <= i64::from(PLAN_DAYS)).then(|| format!(
        "By forecast: coming due, because one time in ten the hours are used up by {by}, and {by} - {as_of} = {left} \
         days is not more than {PLAN_DAYS} days."
    ))
}

/// Which leg governs; while neither is due, the shares of the intervals that decide it.
pub(crate) fn governing(line: &DueLine, as_of: NaiveDate) -> Vec<String> {
    let mut words = Vec::new();
    let shares: Vec<String> = line
        .legs
        .iter()
        .filter_map(|leg| match leg.count {
            Count::Hours { from, due, .. } => {
                Some(format!("{} of {} h", due - line.hours_now?, due - from))
            }
            Count::Calendar { from, due, .. } => {
                Some(format!("{} of {} days", days_between(as_of, due), days_between(from, due)))
            }
            Count::Missing(..) => None,
        })
        .collect();
    if shares.len() > 1 {
        words.push(format!("Left of each interval: {}.", shares.join(", ")));
    }
    match line.governs(as_of) {
        Governs::None => {}
        Governs::Both => words.push("Governs: both.".to_owned()),
        Governs::Hours => words.push("Governs: hours.".to_owned()),
        Governs::Calendar => words.push("Governs: calendar.".to_owned()),
    }
    words
}
