//! The first part of a working: the rule in words, so that whoever redoes the sums needs nothing else.

use crate::calendar::{CalendarMode, CalendarSpan};
use crate::programme::{Granted, Interval, Limit, NextPolicy, Tolerance};
use crate::rule::{Counted, Rule};
use crate::status::Beyond;

/// Where the next interval starts after work, and how far past due is permitted.
pub(crate) fn rule_words(rule: &Rule) -> [String; 2] {
    let next = match rule.next {
        NextPolicy::FromDue => {
            "counts on from due if it was late, from done if not; a renewal or overhaul always from done"
        }
        NextPolicy::FromDone => "always counts from done",
        NextPolicy::Window => {
            "counts on from due if done inside the tolerance before or after due, else from done; \
             a renewal or overhaul always from done"
        }
    };
    [format!("After work: {next}."), format!("Past due: {}.", past_due(rule))]
}

fn past_due(rule: &Rule) -> String {
    if let (Beyond::Extension, Some(percent)) = (rule.beyond(), rule.extension_percent) {
        return format!(
            "extension of {percent} % of the interval from its start, months and days rounded down, then on condition"
        );
    }
    let parts = rule.tolerance.map(tolerance_parts).unwrap_or_default();
    if parts.is_empty() || !rule.class.permits_tolerance() {
        return "overdue at once".to_owned();
    }
    let strictest = if parts.len() > 1 { ", the strictest on each side" } else { "" };
    let granted = match rule.granted {
        Granted::Automatic => "",
        Granted::BeforeDue => "; it needs a permission recorded before due, else overdue at once",
        Granted::EnRoute => {
            "; it is only for reaching a place where the work can be done, so overdue at once"
        }
    };
    format!("tolerance of {}{strictest}{granted}", parts.join(" or "))
}

/// The parts of a tolerance, each as it was given.
fn tolerance_parts(tolerance: Tolerance) -> Vec<String> {
    let share = tolerance.percent.map(|percent| {
        let hours = tolerance.hours_max.map(|most| format!("{most} h"));
        let days = tolerance.days_max.map(|most| format!("{most} days"));
        let most: Vec<String> = hours.into_iter().chain(days).collect();
        let most = if most.is_empty() {
            String::new()
        } else {
            format!(" (at most {})", most.join(" and "))
        };
        format!("{percent} % of the interval{most}")
    });
    let hours = tolerance.hours.map(|hours| format!("{hours} h"));
    let months = tolerance.months.map(|months| CalendarSpan::months(months).to_string());
    let days = tolerance.days.map(|days| CalendarSpan::days(days).to_string());
    hours.into_iter().chain(months).chain(days).chain(share).collect()
}

/// A limit and its intervals: steps, then the first, then the repeat.
pub(crate) fn limit_words(limit: &Limit) -> String {
    let name = limit.name.as_ref().map_or_else(String::new, |name| format!(" {name}"));
    let steps: Vec<String> = limit.once.iter().map(|step| format!("{step} h")).collect();
    let steps = (!steps.is_empty()).then(|| format!("once at {}", steps.join(", ")));
    let first = limit.first.as_ref().map(|first| interval_words(first, limit.calendar, "within"));
    let every = Some(&limit.every).filter(|every| !every.is_empty());
    let every = every.map(|every| interval_words(every, limit.calendar, "every"));
    let all: Vec<String> = steps.into_iter().chain(first).chain(every).collect();
    format!("Limit{name}: {}.", all.join("; then "))
}

/// An interval by all its sides, each after a word such as `every`.
pub(crate) fn interval_words(interval: &Interval, mode: CalendarMode, word: &str) -> String {
    let spans = interval.spans.iter().map(|span| match mode {
        CalendarMode::EndOfMonth if span.months > 0 => {
            format!("{word} {span}, to the end of the month")
        }
        _ => format!("{word} {span}"),
    });
    let hours = interval.hours.map(|hours| format!("{word} {hours} h"));
    let all: Vec<String> = hours.into_iter().chain(spans).collect();
    let first = if all.len() > 1 { ", whichever comes first" } else { "" };
    format!("{}{first}", all.join(" or "))
}

/// What a permission to run past due is called.
pub(crate) fn allowance(rule: &Rule) -> String {
    match (rule.beyond(), rule.extension_percent) {
        (Beyond::Extension, Some(percent)) => format!("extension of {percent} %"),
        _ => "tolerance".to_owned(),
    }
}

/// Why the next due counts from where it does.
pub(crate) fn reason_words(counted: Counted) -> String {
    match counted {
        Counted::Afresh => "the count starts afresh from when it was done".to_owned(),
        Counted::FromDone => "this rule counts from when it was done".to_owned(),
        Counted::EarlyFromDone => "not late, so it counts from when it was done".to_owned(),
        Counted::LateFromDue => "late, so it counts from when it was due".to_owned(),
        Counted::Skipped(times) => {
            format!("so late that it counts from when it was due by {times} whole intervals")
        }
        Counted::InWindow => "inside the window, so it counts from when it was due".to_owned(),
        Counted::OutsideWindow => {
            "outside the window, so it counts from when it was done".to_owned()
        }
    }
}
