//! Counts one limit of one item through everything that was done, leg by leg.
//!
//! The numbers come first. Whoever wants to see them come about passes a recorder, and gets each step as a
//! value; words are made from those steps elsewhere, and only when somebody asks.

use crate::calendar::{CalendarMode, CalendarSpan};
use crate::hours::Hours;
use crate::ids::FactId;
use crate::line::{Axis, Count, Missing, Overrun};
use crate::programme::{Action, CountsFrom, Limit};
use crate::rule::{Counted, DueDay, Next, Rule};
use chrono::NaiveDate;

/// Where a count begins: each side known, or the reason why not.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Start {
    /// What it begins with.
    pub(crate) from: CountsFrom,
    /// Hours on the line's own count.
    pub(crate) hours: Result<Hours, Missing>,
    /// The day.
    pub(crate) day: Result<NaiveDate, Missing>,
}

/// One time the item was done.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct DoneOnce {
    /// The day; a history always knows it.
    pub(crate) on: Option<NaiveDate>,
    /// Hours on the line's own count.
    pub(crate) hours: Option<Hours>,
    pub(crate) action: Action,
    /// Whether the next interval counts from done whatever the policy says.
    pub(crate) afresh: bool,
    /// The record that says so, if there is one.
    pub(crate) fact: Option<FactId>,
}

/// One step of a count, as a value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Step<'a> {
    /// The limit that is counted next.
    Limit(&'a Limit),
    /// Where the count begins.
    Start(Start, Axis),
    /// The first due hours from there.
    FirstHours { from: Hours, every: Hours, due: Hours },
    /// The first due day from there.
    FirstDay { from: NaiveDate, every: CalendarSpan, due: DueDay },
    /// Done, with the due hours that follow.
    DoneHours { done: DoneOnce, was_due: Option<Hours>, every: Hours, next: Next<Hours, Hours> },
    /// Done, with the due day that follows.
    DoneDay {
        done: DoneOnce,
        was_due: Option<DueDay>,
        every: CalendarSpan,
        next: Next<DueDay, i64>,
    },
    /// Done, but nobody knows at how many hours.
    DoneUnread(DoneOnce),
    /// The latest hours.
    LatestHours { due: Hours, latest: Hours },
    /// The latest day.
    LatestDay { due: DueDay, every: CalendarSpan, latest: NaiveDate },
    /// The part was fitted within its shelf life, which counts no more.
    ShelfKept { fitted: NaiveDate, due: NaiveDate },
    /// This side cannot be told.
    Missing(Axis, Missing),
}

/// Takes the steps of a count as they are made.
pub(crate) trait Recorder<'a> {
    fn step(&mut self, step: Step<'a>);
}

/// Nobody is looking.
impl Recorder<'_> for () {
    fn step(&mut self, _: Step<'_>) {}
}

impl<'a> Recorder<'a> for Vec<Step<'a>> {
    fn step(&mut self, step: Step<'a>) {
        self.push(step);
    }
}

/// What counting a limit came to, on one side.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Counting {
    pub(crate) count: Count,
    /// How late the last work was: hours in seconds or days, by the side.
    pub(crate) last_overrun: i64,
    pub(crate) last_beyond: bool,
    /// Whether the last work skipped whole intervals.
    pub(crate) skipped: bool,
}

impl Counting {
    /// How late the last work was, on the side that was counted.
    pub(crate) fn overrun(&self) -> Overrun {
        match self.count {
            Count::Hours { .. } => {
                Overrun { hours: Hours::from_seconds(self.last_overrun), days: 0 }
            }
            _ => Overrun { hours: Hours::ZERO, days: self.last_overrun },
        }
    }

    fn missing(axis: Axis, why: Missing) -> Self {
        Self {
            count: Count::Missing(axis, why),
            last_overrun: 0,
            last_beyond: false,
            skipped: false,
        }
    }
}

/// Counts the hours side of a limit.
pub(crate) fn count_hours<'a>(
    rule: &Rule,
    every: Hours,
    start: Start,
    done: &[DoneOnce],
    recorder: &mut impl Recorder<'a>,
) -> Counting {
    recorder.step(Step::Start(start, Axis::Hours));
    let first = start.hours.map(|from| from + every);
    if let (Ok(from), Ok(due)) = (start.hours, first) {
        recorder.step(Step::FirstHours { from, every, due });
    }
    hours_from(rule, every, first, done, recorder)
}

/// Counts on from a due hour through the times it was done.
pub(crate) fn hours_from<'a>(
    rule: &Rule,
    every: Hours,
    mut due: Result<Hours, Missing>,
    done: &[DoneOnce],
    recorder: &mut impl Recorder<'a>,
) -> Counting {
    let (mut last_overrun, mut last_beyond, mut skipped) = (0, false, false);
    for once in done {
        let Some(hours) = once.hours else {
            due = Err(Missing::NoHours);
            recorder.step(Step::DoneUnread(*once));
            continue;
        };
        let was_due = due.ok();
        let next = rule.next_hours(every, was_due, hours, once.afresh);
        recorder.step(Step::DoneHours { done: *once, was_due, every, next });
        due = Ok(next.due);
        last_overrun = next.overrun.seconds();
        last_beyond = next.beyond_tolerance;
        skipped = matches!(next.counted, Counted::Skipped(_));
    }
    match due {
        Err(why) => {
            recorder.step(Step::Missing(Axis::Hours, why));
            Counting::missing(Axis::Hours, why)
        }
        Ok(due) => {
            let latest = rule.latest_hours(due, every);
            recorder.step(Step::LatestHours { due, latest });
            let count = Count::Hours { from: due - every, due, latest };
            Counting { count, last_overrun, last_beyond, skipped }
        }
    }
}

/// Counts the calendar side of a limit.
pub(crate) fn count_days<'a>(
    rule: &Rule,
    limit: &Limit,
    every: CalendarSpan,
    start: Start,
    done: &[DoneOnce],
    recorder: &mut impl Recorder<'a>,
) -> Counting {
    recorder.step(Step::Start(start, Axis::Calendar));
    let first = start.day.map(|day| DueDay::on(day, limit.calendar).plus(every));
    if let (Ok(from), Ok(due)) = (start.day, first) {
        recorder.step(Step::FirstDay { from, every, due });
    }
    days_from(rule, (every, limit.calendar), (start.day, first), done, recorder)
}

/// Counts on from a due day, and the day its interval began, through the times it was done.
pub(crate) fn days_from<'a>(
    rule: &Rule,
    (every, mode): (CalendarSpan, CalendarMode),
    (mut from, mut due): (Result<NaiveDate, Missing>, Result<DueDay, Missing>),
    done: &[DoneOnce],
    recorder: &mut impl Recorder<'a>,
) -> Counting {
    let (mut last_overrun, mut last_beyond, mut skipped) = (0, false, false);
    for once in done {
        let Some(on) = once.on else { continue };
        let was_due = due.ok();
        let next = rule.next_day(every, mode, was_due, on, once.afresh);
        recorder.step(Step::DoneDay { done: *once, was_due, every, next });
        from = Ok(on);
        due = Ok(next.due);
        last_overrun = next.overrun;
        last_beyond = next.beyond_tolerance;
        skipped = matches!(next.counted, Counted::Skipped(_));
    }
    match (from, due) {
        (Ok(from), Ok(due)) => {
            let latest = rule.latest_day(due, every);
            recorder.step(Step::LatestDay { due, every, latest });
            let count = Count::Calendar { from, due: due.day(), latest };
            Counting { count, last_overrun, last_beyond, skipped }
        }
        (Err(why), _) | (_, Err(why)) => {
            recorder.step(Step::Missing(Axis::Calendar, why));
            Counting::missing(Axis::Calendar, why)
        }
    }
}
