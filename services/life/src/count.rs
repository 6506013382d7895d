//! Counts one limit of one item through everything that was done, leg by leg.
//!
//! The numbers come first. Whoever wants to see them come about passes a recorder, and gets each step as a
//! value; words are made from those steps elsewhere, and only when somebody asks.

use crate::calendar::{CalendarMode, CalendarSpan};
use crate::history::ConcessionRecord;
use crate::hours::Hours;
use crate::ids::FactId;
use crate::line::{Axis, Count, Missing, NoLater, Overrun};
use crate::programme::{Action, Interval, Limit};
use crate::rule::{Counted, DueDay, Next, Rule};
use crate::start::{Estimated, Start};
use chrono::NaiveDate;

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
    /// Done, with the interval and due hours before, and the due hours that follow.
    DoneHours {
        done: DoneOnce,
        was: Option<(Hours, Hours)>,
        every: Hours,
        next: Next<Hours, Hours>,
    },
    /// Done, with the interval and due day before, and the due day that follows.
    DoneDay { done: DoneOnce, was: Option<(CalendarSpan, DueDay)>, next: Next<DueDay, i64> },
    /// Done, but nobody knows at how many hours.
    DoneUnread(DoneOnce),
    /// The latest hours.
    LatestHours { due: Hours, latest: Hours },
    /// The latest day.
    LatestDay { due: DueDay, every: CalendarSpan, latest: NaiveDate },
    /// The part was fitted within its shelf life, which counts no more.
    ShelfKept { fitted: NaiveDate, due: NaiveDate },
    /// Done, and with that over and done with on this side: nothing repeats there.
    FirstOver(DoneOnce, Axis),
    /// The calendar leg that is counted next, where a limit has one by months and one by days.
    Span(CalendarSpan),
    /// Steps from here, and the first of them.
    Steps { from: Hours, next: Option<Hours> },
    /// Done, with the step that was due and the step that follows, both from the start.
    DoneSteps { done: DoneOnce, from: Hours, was: Hours, next: Option<Hours> },
    /// Due no later than this, because the records begin here and it was never done since.
    NoLaterHours { from: Hours, every: Hours, due: Hours, estimated: Option<Estimated> },
    /// The same on the calendar.
    NoLaterDay { due: DueDay },
    /// The permission that a leg needs to run past due, if one was recorded before that.
    Permission { count: Count, given: Option<&'a ConcessionRecord>, at: Option<Hours> },
    /// The life of the item is counted; from here on, the inspections that let it run on condition.
    OnCondition(&'a Interval),
    /// It was inspected, and whether its life had run out by then.
    Inspected { done: DoneOnce, run_out: bool },
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
    /// When it is due at the latest, though it cannot be told when exactly.
    pub(crate) no_later: Option<NoLater>,
}

impl Counting {
    /// Whether it cannot be told: only then a bound means something.
    fn is_missing(&self) -> bool {
        matches!(self.count, Count::Missing(..))
    }

    /// How late the last work was, on the side that was counted.
    pub(crate) fn overrun(&self) -> Overrun {
        match self.count {
            Count::Hours { .. } => {
                Overrun { hours: Hours::from_seconds(self.last_overrun), days: 0 }
            }
            _ => Overrun { hours: Hours::ZERO, days: self.last_overrun },
        }
    }

    pub(crate) fn missing(axis: Axis, why: Missing) -> Self {
        Self::plain(Count::Missing(axis, why))
    }

    /// A count with nothing behind it.
    pub(crate) fn plain(count: Count) -> Self {
        Self { count, last_overrun: 0, last_beyond: false, skipped: false, no_later: None }
    }
}

/// The intervals of one leg: until it is first done, and after that. Either may be missing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Pace<T> {
    pub(crate) first: Option<T>,
    pub(crate) then: Option<T>,
}

impl<T: Copy + Ord> Pace<T> {
    /// The longer of the two, where both are known: whether it was ever done nobody can tell.
    fn longest(self) -> Option<T> {
        Some(self.first?.max(self.then?))
    }
}

impl<T: Copy> Pace<T> {
    /// The same interval all along.
    pub(crate) fn even(every: T) -> Self {
        Self { first: Some(every), then: Some(every) }
    }
}

impl Limit {
    /// The intervals of its hours leg.
    pub(crate) fn hours_pace(&self) -> Pace<Hours> {
        let then = self.every.hours;
        Pace { first: self.first.as_ref().map_or(then, |first| first.hours), then }
    }

    /// The intervals of its calendar legs: months and days are legs of their own.
    pub(crate) fn day_paces(&self) -> impl Iterator<Item = Pace<CalendarSpan>> {
        let first = self.first.as_ref().unwrap_or(&self.every);
        let of = |interval: &Interval, months: bool| {
            interval.spans.iter().copied().find(|span| (span.months > 0) == months)
        };
        let pace = |months| Pace { first: of(first, months), then: of(&self.every, months) };
        let paces = [pace(true), pace(false)];
        paces.into_iter().filter(|pace| pace.first.is_some() || pace.then.is_some())
    }
}

/// Counts the hours side of a limit; `None` when it counts none any more, or not yet.
pub(crate) fn count_hours<'a>(
    rule: &Rule,
    pace: Pace<Hours>,
    start: Start,
    done: &[DoneOnce],
    recorder: &mut impl Recorder<'a>,
) -> Option<Counting> {
    pace.first.or(pace.then)?;
    if pace.first.is_some() {
        recorder.step(Step::Start(start, Axis::Hours));
    }
    let first = start.hours.map(|from| from + pace.first.unwrap_or_default());
    if let (Ok(from), Ok(due), Some(every)) = (start.hours, first, pace.first) {
        recorder.step(Step::FirstHours { from, every, due });
    }
    let counting = hours_from(rule, pace, first, done, recorder)?;
    // Never done since the records begin means due no later than one interval after they begin.
    let begins = start.no_later.and_then(|(hours, _)| hours);
    let begins = start.estimated.map(|it| it.new_at()).or(begins).zip(pace.longest());
    let bound = begins.filter(|_| counting.is_missing() && done.is_empty());
    let no_later = bound.map(|(from, every)| {
        let due = from + every;
        let latest = rule.latest_hours(due, every);
        recorder.step(Step::NoLaterHours { from, every, due, estimated: start.estimated });
        recorder.step(Step::LatestHours { due, latest });
        NoLater::Hours { due, latest }
    });
    Some(Counting { no_later, ..counting })
}

/// Counts on from a due hour through the times it was done.
pub(crate) fn hours_from<'a>(
    rule: &Rule,
    pace: Pace<Hours>,
    first: Result<Hours, Missing>,
    done: &[DoneOnce],
    recorder: &mut impl Recorder<'a>,
) -> Option<Counting> {
    let mut leg = pace.first.map(|every| (every, first));
    let mut tally = Counting::missing(Axis::Hours, Missing::NoHours);
    for once in done {
        let Some(every) = pace.then else {
            if leg.take().is_some() {
                recorder.step(Step::FirstOver(*once, Axis::Hours));
            }
            continue;
        };
        let Some(hours) = once.hours else {
            recorder.step(Step::DoneUnread(*once));
            leg = Some((every, Err(Missing::NoHours)));
            continue;
        };
        let was = leg.and_then(|(interval, due)| Some((interval, due.ok()?)));
        let next = rule.next_hours(every, was, hours, once.afresh);
        recorder.step(Step::DoneHours { done: *once, was, every, next });
        leg = Some((every, Ok(next.due)));
        tally.last_overrun = next.overrun.seconds();
        tally.last_beyond = next.beyond_tolerance;
        tally.skipped = matches!(next.counted, Counted::Skipped(_));
    }
    let (every, due) = leg?;
    match due {
        Err(why) => {
            recorder.step(Step::Missing(Axis::Hours, why));
            Some(Counting::missing(Axis::Hours, why))
        }
        Ok(due) => {
            let latest = rule.latest_hours(due, every);
            recorder.step(Step::LatestHours { due, latest });
            Some(Counting { count: Count::Hours { from: due - every, due, latest }, ..tally })
        }
    }
}

/// Counts steps that are done once each, at hours fixed from the start: work closes every step it has
/// reached or, if it has reached none, the next one. What repeats after the last step counts from there.
pub(crate) fn count_steps<'a>(
    rule: &Rule,
    limit: &'a Limit,
    start: Start,
    done: &[DoneOnce],
    recorder: &mut impl Recorder<'a>,
) -> Option<Counting> {
    recorder.step(Step::Start(start, Axis::Hours));
    let Ok(from) = start.hours else {
        let why = start.hours.err().unwrap_or(Missing::NoHours);
        recorder.step(Step::Missing(Axis::Hours, why));
        return Some(Counting::missing(Axis::Hours, why));
    };
    let mut open = limit.once.as_slice();
    let mut tally = Counting::missing(Axis::Hours, Missing::NoHours);
    let mut rest = done.iter();
    recorder.step(Step::Steps { from, next: open.first().copied() });
    while let (Some(next), Some(once)) = (open.first().copied(), rest.as_slice().first()) {
        rest.next();
        let Some(hours) = once.hours else {
            recorder.step(Step::DoneUnread(*once));
            continue;
        };
        let reached = open.partition_point(|step| from + *step <= hours).max(1);
        open = open.get(reached..).unwrap_or_default();
        tally.last_overrun = (hours - (from + next)).max(Hours::ZERO).seconds();
        tally.last_beyond = tally.last_overrun > rule.allowance_hours(next).seconds();
        recorder.step(Step::DoneSteps {
            done: *once,
            from,
            was: next,
            next: open.first().copied(),
        });
    }
    match (open.first(), limit.every.hours) {
        (Some(step), _) => {
            let due = from + *step;
            let latest = rule.latest_hours(due, *step);
            recorder.step(Step::LatestHours { due, latest });
            Some(Counting { count: Count::Hours { from, due, latest }, ..tally })
        }
        (None, Some(every)) => {
            let last = done.len() - rest.as_slice().len();
            let since = last.checked_sub(1).and_then(|at| done.get(at..)).unwrap_or_default();
            let counting =
                hours_from(rule, Pace::even(every), Err(Missing::NoHours), since, recorder)?;
            // The first repeat follows the work that closed the last step: that one may have been late.
            Some(if since.len() == 1 {
                let Counting { last_overrun, last_beyond, .. } = tally;
                Counting { last_overrun, last_beyond, ..counting }
            } else {
                counting
            })
        }
        (None, None) => None,
    }
}

/// Counts one calendar leg of a limit; `None` when it counts none any more, or not yet.
pub(crate) fn count_days<'a>(
    rule: &Rule,
    mode: CalendarMode,
    pace: Pace<CalendarSpan>,
    start: Start,
    done: &[DoneOnce],
    recorder: &mut impl Recorder<'a>,
) -> Option<Counting> {
    if pace.first.is_some() {
        recorder.step(Step::Start(start, Axis::Calendar));
    }
    let first = start.day.map(|day| DueDay::on(day, mode).plus(pace.first.unwrap_or_default()));
    if let (Ok(from), Ok(due), Some(every)) = (start.day, first, pace.first) {
        recorder.step(Step::FirstDay { from, every, due });
    }
    let counting = days_from(rule, mode, pace, (start.day, first), done, recorder)?;
    let bound = start.no_later.map(|(_, day)| day).zip(pace.longest());
    let bound = bound.filter(|_| counting.is_missing() && done.is_empty());
    let no_later = bound.map(|(from, every)| {
        let due = DueDay::on(from, mode).plus(every);
        let latest = rule.latest_day(due, every);
        recorder.step(Step::NoLaterDay { due });
        recorder.step(Step::LatestDay { due, every, latest });
        NoLater::Day { due: due.day(), latest }
    });
    Some(Counting { no_later, ..counting })
}

/// Counts on from a due day, and the day its interval began, through the times it was done.
pub(crate) fn days_from<'a>(
    rule: &Rule,
    mode: CalendarMode,
    pace: Pace<CalendarSpan>,
    (from, first): (Result<NaiveDate, Missing>, Result<DueDay, Missing>),
    done: &[DoneOnce],
    recorder: &mut impl Recorder<'a>,
) -> Option<Counting> {
    let begun = from.and_then(|from| first.map(|due| (from, due)));
    let mut leg = pace.first.map(|every| (every, begun));
    let mut tally = Counting::missing(Axis::Calendar, Missing::NeverDone);
    for once in done {
        let Some(every) = pace.then else {
            if leg.take().is_some() {
                recorder.step(Step::FirstOver(*once, Axis::Calendar));
            }
            continue;
        };
        let Some(on) = once.on else { continue };
        let was = leg.and_then(|(interval, begun)| Some((interval, begun.ok()?.1)));
        let next = rule.next_day(every, mode, was, on, once.afresh);
        recorder.step(Step::DoneDay { done: *once, was, next });
        leg = Some((every, Ok((on, next.due))));
        tally.last_overrun = next.overrun;
        tally.last_beyond = next.beyond_tolerance;
        tally.skipped = matches!(next.counted, Counted::Skipped(_));
    }
    let (every, begun) = leg?;
    match begun {
        Ok((from, due)) => {
            let latest = rule.latest_day(due, every);
            recorder.step(Step::LatestDay { due, every, latest });
            let count = Count::Calendar { from, due: due.day(), latest };
            Some(Counting { count, ..tally })
        }
        Err(why) => {
            recorder.step(Step::Missing(Axis::Calendar, why));
            Some(Counting::missing(Axis::Calendar, why))
        }
    }
}
