//! One due sum on its own, without a history: what `gudgeon calc due` works out, by the code that the
//! service uses.

use crate::calendar::{CalendarMode, CalendarSpan, shift};
use crate::count::{Counting, DoneOnce, Pace, Step, days_from, hours_from};
use crate::date_code::CodeDay;
use crate::hours::Hours;
use crate::ids::ItemId;
use crate::line::{AskedBy, Count, DueLine, Leg, Missing, Overrun};
use crate::programme::{Action, CountsFrom, Interval, Limit};
use crate::rule::{DueDay, Rule};
use crate::status::StatusDays;
use crate::working::step_words;
use crate::working_rule::{limit_words, rule_words};
use crate::working_status::{governing, left, leg_status};
use chrono::NaiveDate;

/// What a due sum starts from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DueSum {
    /// The day it is worked out for.
    pub as_of: NaiveDate,
    /// Hours now, read on that day.
    pub hours_now: Option<Hours>,
    /// How it is counted.
    pub rule: Rule,
    /// Every so many hours.
    pub every_hours: Option<Hours>,
    /// Every so much calendar time: so many months, so many days, or each of the two.
    pub every_spans: Vec<CalendarSpan>,
    /// How the calendar time ends.
    pub calendar: CalendarMode,
    /// When it was last done: the day and the hours, as far as known.
    pub last: (Option<NaiveDate>, Option<Hours>),
    /// When that was due: the day and the hours, as far as known.
    pub was_due: (Option<NaiveDate>, Option<Hours>),
}

/// The due line of a sum, and its working.
#[must_use]
pub fn due_sum(sum: &DueSum) -> (DueLine, Vec<String>) {
    let mut steps = Vec::new();
    let rule = &sum.rule;
    let mut countings: Vec<Counting> = count_hours(sum, &mut steps).into_iter().collect();
    no_permission(rule, &countings, &mut steps);
    for every in sum.every_spans.iter().copied() {
        if sum.every_spans.len() > 1 {
            steps.push(Step::Span(every));
        }
        let counting = count_days(sum, every, &mut steps);
        no_permission(rule, counting.as_slice(), &mut steps);
        countings.extend(counting);
    }
    let now = sum.hours_now.map(|hours| (hours, sum.as_of));
    let legs: Vec<Leg> = countings
        .iter()
        .map(|it| Leg {
            limit: None,
            count: it.count,
            no_later: None,
            days: rule.days_of(it.count, now),
        })
        .collect();
    let beyond = StatusDays { beyond: rule.beyond(), ..StatusDays::default() };
    let line = DueLine {
        item: sum_item(),
        title: String::new(),
        asked_by: AskedBy::Programme,
        position: None,
        component: None,
        class: rule.class,
        source: String::new(),
        days: legs.iter().fold(beyond, |days, leg| days.with(leg.days)),
        legs,
        hours_now: sum.hours_now,
        hours_on: now.map(|(_, on)| on),
        meter_now: None,
        plan_by: None,
        last: None,
        last_overrun: countings.iter().fold(Overrun::default(), |late, it| late.with(it.overrun())),
        last_overrun_beyond_tolerance: countings.iter().any(|it| it.last_beyond),
        wear: Vec::new(),
        notes: Vec::new(),
    };
    let words = words(sum, &line, &steps);
    (line, words)
}

/// A sum on its own has no records, so no permission either.
fn no_permission(rule: &Rule, countings: &[Counting], steps: &mut Vec<Step<'_>>) {
    let counted = countings.iter().map(|it| it.count);
    let told = counted.filter(|it| rule.needs_permission() && !matches!(it, Count::Missing(..)));
    steps.extend(told.map(|count| Step::Permission { count, given: None, at: None }));
}

fn words(sum: &DueSum, line: &DueLine, steps: &[Step<'_>]) -> Vec<String> {
    let (rule, as_of) = (&sum.rule, sum.as_of);
    let mut words = vec![format!("As of {as_of}.")];
    words.push(sum.hours_now.map_or_else(
        || "Hours now: not known.".to_owned(),
        |now| format!("Hours now: {now} [as given] = {now} h, read {as_of}."),
    ));
    words.push(format!("Rule: as given, {}.", rule.class.printed()));
    words.extend(rule_words(rule));
    words.push(limit_words(&limit(sum)));
    let was_hours = sum.was_due.1.filter(|_| sum.every_hours.is_some());
    let was_day = sum.was_due.0.filter(|_| !sum.every_spans.is_empty() && !done_undated(sum));
    words.extend(was_hours.map(|hours| format!("Was due: {hours} h.")));
    words.extend(was_day.map(|day| format!("Was due: {day}.")));
    words.extend(steps.iter().filter_map(|step| step_words(step, rule)));
    words.extend(line.legs.iter().filter_map(|leg| left(leg, line, as_of)));
    words.extend(line.legs.iter().map(|leg| leg_status(leg, (rule, None), line, as_of)));
    words.extend(governing(line, as_of));
    words.push(format!("Status: {}.", line.status(as_of).printed()));
    words
}

/// The only limit of a sum.
fn limit(sum: &DueSum) -> Limit {
    Limit {
        name: None,
        counts_from: CountsFrom::Done,
        once: Vec::new(),
        first: None,
        every: Interval { hours: sum.every_hours, spans: sum.every_spans.clone() },
        calendar: sum.calendar,
        shelf: false,
        code_day: CodeDay::First,
    }
}

/// Nothing done since: what was due still is.
fn count_hours(sum: &DueSum, steps: &mut Vec<Step<'_>>) -> Option<Counting> {
    let every = sum.every_hours?;
    let missing = if sum.last.0.is_none() { Missing::NeverDone } else { Missing::NoHours };
    let first = sum.was_due.1.ok_or(missing);
    // Done, but nobody knows at how many hours: what was due before says nothing any more.
    let known = sum.last.0.is_some() || sum.last.1.is_some();
    let done: Vec<DoneOnce> = known.then(|| once(sum)).into_iter().collect();
    hours_from(&sum.rule, Pace::even(every), first, &done, steps)
}

fn count_days(sum: &DueSum, every: CalendarSpan, steps: &mut Vec<Step<'_>>) -> Option<Counting> {
    let missing = Missing::NeverDone;
    let was_due = sum.was_due.0.map(|day| DueDay::on(day, sum.calendar));
    let first = was_due.filter(|_| !done_undated(sum)).ok_or(missing);
    let done: Vec<DoneOnce> = sum.last.0.map(|_| once(sum)).into_iter().collect();
    // An interval that began before anything was recorded began one interval before it was due.
    let from = sum.last.0.or_else(|| before(sum.was_due.0?, every)).ok_or(missing);
    days_from(&sum.rule, sum.calendar, Pace::even(every), (from, first), &done, steps)
}

/// Done, but nobody knows on which day: what was due before says nothing any more.
fn done_undated(sum: &DueSum) -> bool {
    sum.last.0.is_none() && sum.last.1.is_some()
}

fn before(due: NaiveDate, every: CalendarSpan) -> Option<NaiveDate> {
    shift(due, -i32::try_from(every.months).ok()?, -i64::from(every.days))
}

fn once(sum: &DueSum) -> DoneOnce {
    let (on, hours) = sum.last;
    DoneOnce { on, hours, action: Action::Inspected, afresh: false, fact: None }
}

fn sum_item() -> ItemId {
    ItemId::new("sum").unwrap_or_else(|| unreachable!("`sum` is a plain word"))
}
