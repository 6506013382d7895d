//! The arithmetic of one leg: where the next interval starts, and how far a tolerance or an extension
//! reaches. Both sides, hours and calendar, are counted apart.

use crate::calendar::{self, CalendarMode, CalendarSpan, days_before, days_between};
use crate::hours::Hours;
use crate::programme::{Class, Granted, Item, NextPolicy, Notice, Tolerance};
use crate::status::Beyond;
use chrono::NaiveDate;

/// Whole intervals tried when work was very late: a bound on the loop, not a rule of the trade.
const SKIPPED_INTERVALS_MAX: u32 = 100_000;

/// How an item is counted, apart from its interval.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Rule {
    /// How binding the item is.
    pub class: Class,
    /// Where the next interval starts.
    pub next: NextPolicy,
    /// Permission to run late.
    pub tolerance: Option<Tolerance>,
    /// What that permission needs.
    pub granted: Granted,
    /// Percent beyond the recommended life.
    pub extension_percent: Option<u32>,
    /// How long before due it counts as coming due.
    pub notice: Notice,
}

impl From<&Item> for Rule {
    fn from(item: &Item) -> Self {
        Self {
            class: item.class,
            next: item.next,
            tolerance: item.tolerance,
            granted: item.granted,
            extension_percent: item.extension_percent,
            notice: item.notice,
        }
    }
}

/// Where the interval after a piece of work was counted from, and why.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Counted {
    /// From done: nothing was due before, or a renewal or overhaul starts afresh.
    Afresh,
    /// From done: the rule says so.
    FromDone,
    /// From done: it was not late, and early work counts from when it was done.
    EarlyFromDone,
    /// From due: it was late, and late work counts from when it was due.
    LateFromDue,
    /// From due, so many whole intervals on, because the next due had already passed.
    Skipped(u32),
    /// From due: it was inside the window.
    InWindow,
    /// From done: it was outside the window.
    OutsideWindow,
}

/// A calendar due day as its anchor and the span from it, so that repeats never drift off the anchor.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DueDay {
    /// The day the count begins.
    pub anchor: NaiveDate,
    /// All intervals since.
    pub span: CalendarSpan,
    /// How it ends.
    pub mode: CalendarMode,
}

impl DueDay {
    /// A bare day, as its own anchor.
    #[must_use]
    pub const fn on(day: NaiveDate, mode: CalendarMode) -> Self {
        Self { anchor: day, span: CalendarSpan { months: 0, days: 0 }, mode }
    }

    /// So much later, still counted from the anchor.
    #[must_use]
    pub const fn plus(self, span: CalendarSpan) -> Self {
        Self { anchor: self.anchor, span: self.span.plus(span), mode: self.mode }
    }

    /// The day itself.
    #[must_use]
    pub fn day(self) -> NaiveDate {
        calendar::add(self.anchor, self.span, self.mode)
    }
}

/// The next due after a piece of work, on one side.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Next<T, D> {
    /// Due next.
    pub due: T,
    /// Where it was counted from.
    pub counted: Counted,
    /// How far past due the work was done; zero if it was not.
    pub overrun: D,
    /// Whether that was beyond the tolerance or extension.
    pub beyond_tolerance: bool,
}

impl Rule {
    /// A rule with nothing special about it: advice, from done, no permission to run late.
    #[must_use]
    pub fn plain() -> Self {
        Self {
            class: Class::Recommended,
            next: NextPolicy::FromDone,
            tolerance: None,
            granted: Granted::Automatic,
            extension_percent: None,
            notice: Notice::default(),
        }
    }

    /// How far past due hours may run: the strictest part of the tolerance, or the extension.
    #[must_use]
    pub fn allowance_hours(&self, every: Hours) -> Hours {
        if !self.class.permits_tolerance() {
            return Hours::ZERO;
        }
        if let Some(percent) = self.extension_percent {
            return percent_of(every, percent);
        }
        let Some(tolerance) = self.tolerance else { return Hours::ZERO };
        let share = tolerance.percent.map(|percent| {
            let share = percent_of(every, percent);
            tolerance.hours_max.map_or(share, |most| share.min(most))
        });
        tolerance.hours.into_iter().chain(share).min().unwrap_or(Hours::ZERO)
    }

    /// The latest hours for this due.
    #[must_use]
    pub fn latest_hours(&self, due: Hours, every: Hours) -> Hours {
        due + self.allowance_hours(every)
    }

    /// The latest day for this due: the strictest part of the tolerance, or the extension.
    #[must_use]
    pub fn latest_day(&self, due: DueDay, every: CalendarSpan) -> NaiveDate {
        if !self.class.permits_tolerance() {
            return due.day();
        }
        if let Some(percent) = self.extension_percent {
            return due.plus(extension_span(every, percent)).day();
        }
        let Some(tolerance) = self.tolerance else { return due.day() };
        let by_months = tolerance.months.map(|months| by_months(due, every, months).day());
        let by_days = tolerance.days.map(|days| later_by_days(due.day(), days));
        let by_percent = share_days(&tolerance, every).map(|days| later_by_days(due.day(), days));
        let all = by_months.into_iter().chain(by_days).chain(by_percent);
        all.min().unwrap_or_else(|| due.day())
    }

    /// How far the window reaches either side of due: as far as the tolerance. An extension opens none.
    pub(crate) fn window_hours(&self, every: Hours) -> Hours {
        if self.extension_percent.is_some() { Hours::ZERO } else { self.allowance_hours(every) }
    }

    /// The first and last day of the window, which reaches back as far as the tolerance reaches on.
    pub(crate) fn window_days(&self, due: DueDay, every: CalendarSpan) -> (NaiveDate, NaiveDate) {
        let closed = !self.class.permits_tolerance() || self.extension_percent.is_some();
        let Some(tolerance) = self.tolerance.filter(|_| !closed) else {
            return (due.day(), due.day());
        };
        let by_months = tolerance
            .months
            .and_then(|months| calendar::shift(due.day(), -i32::try_from(months).ok()?, 0));
        let by_days = tolerance.days.map(|days| days_before(due.day(), days));
        let by_percent = share_days(&tolerance, every).map(|days| days_before(due.day(), days));
        let all = by_months.into_iter().chain(by_days).chain(by_percent);
        (all.max().unwrap_or_else(|| due.day()), self.latest_day(due, every))
    }

    /// Due hours after work done at `done`, when `was` gives the interval that had run and when it was due;
    /// `afresh` for a renewal or an overhaul.
    #[must_use]
    pub fn next_hours(
        &self,
        every: Hours,
        was: Option<(Hours, Hours)>,
        done: Hours,
        afresh: bool,
    ) -> Next<Hours, Hours> {
        let from_done = done + every;
        let Some((interval, was_due)) = was else {
            let (overrun, counted) = (Hours::ZERO, Counted::Afresh);
            return Next { due: from_done, counted, overrun, beyond_tolerance: false };
        };
        let overrun = (done - was_due).max(Hours::ZERO);
        let window = self.window_hours(interval);
        let (due, counted) = match self.next {
            _ if afresh => (from_done, Counted::Afresh),
            NextPolicy::FromDone => (from_done, Counted::FromDone),
            NextPolicy::FromDue if done <= was_due => (from_done, Counted::EarlyFromDone),
            NextPolicy::FromDue => on_from_hours(was_due, every, done, Counted::LateFromDue),
            NextPolicy::Window if done < was_due - window || done > was_due + window => {
                (from_done, Counted::OutsideWindow)
            }
            NextPolicy::Window => on_from_hours(was_due, every, done, Counted::InWindow),
        };
        let beyond_tolerance = overrun > self.allowance_hours(interval);
        Next { due, counted, overrun, beyond_tolerance }
    }

    /// Due day after work released on `done`, when `was` gives the interval that had run and when it was due;
    /// `afresh` for a renewal or an overhaul.
    #[must_use]
    pub fn next_day(
        &self,
        every: CalendarSpan,
        mode: CalendarMode,
        was: Option<(CalendarSpan, DueDay)>,
        done: NaiveDate,
        afresh: bool,
    ) -> Next<DueDay, i64> {
        let from_done = DueDay::on(done, mode).plus(every);
        let Some((interval, was_due)) = was else {
            let counted = Counted::Afresh;
            return Next { due: from_done, counted, overrun: 0, beyond_tolerance: false };
        };
        let overrun = days_between(was_due.day(), done).max(0);
        let is_outside = || {
            let (first, last) = self.window_days(was_due, interval);
            done < first || done > last
        };
        let (due, counted) = match self.next {
            _ if afresh => (from_done, Counted::Afresh),
            NextPolicy::FromDone => (from_done, Counted::FromDone),
            NextPolicy::FromDue if overrun == 0 => (from_done, Counted::EarlyFromDone),
            NextPolicy::FromDue => on_from_day(was_due, every, done, Counted::LateFromDue),
            NextPolicy::Window if is_outside() => (from_done, Counted::OutsideWindow),
            NextPolicy::Window => on_from_day(was_due, every, done, Counted::InWindow),
        };
        let beyond_tolerance = overrun > 0 && done > self.latest_day(was_due, interval);
        Next { due, counted, overrun, beyond_tolerance }
    }

    /// Whether past due is already overdue, because the allowance needs what the records do not show.
    #[must_use]
    pub fn late_at_due(&self) -> bool {
        self.extension_percent.is_none() && self.granted != Granted::Automatic
    }

    /// Whether a tolerance is given, and the class permits one.
    #[must_use]
    pub fn tolerates(&self) -> bool {
        let given = self.tolerance.is_some_and(|it| it != Tolerance::default());
        given && self.class.permits_tolerance()
    }

    /// Whether running past due takes a permission recorded before due.
    #[must_use]
    pub fn needs_permission(&self) -> bool {
        self.granted == Granted::BeforeDue && self.extension_percent.is_none() && self.tolerates()
    }

    /// What comes after due for this rule.
    #[must_use]
    pub fn beyond(&self) -> Beyond {
        if self.extension_percent.is_some() && self.class.permits_tolerance() {
            Beyond::Extension
        } else {
            Beyond::Tolerance
        }
    }
}

/// So many percent of an interval of hours; parts of a second are dropped, which is the strict side.
fn percent_of(every: Hours, percent: u32) -> Hours {
    Hours::from_seconds((every.seconds() * i64::from(percent)).div_euclid(100))
}

/// The percentage of a calendar interval in whole days, fractions dropped, within its cap.
fn share_days(tolerance: &Tolerance, every: CalendarSpan) -> Option<u32> {
    let days = every.days_nominal() * i64::from(tolerance.percent?) / 100;
    let days = u32::try_from(days).unwrap_or(u32::MAX);
    Some(tolerance.days_max.map_or(days, |most| days.min(most)))
}

/// The extension of a calendar interval, whole months and days each rounded down (14.4 years: 172 months).
pub(crate) fn extension_span(every: CalendarSpan, percent: u32) -> CalendarSpan {
    let share =
        |count: u32| u32::try_from(u64::from(count) * u64::from(percent) / 100).unwrap_or(u32::MAX);
    CalendarSpan { months: share(every.months), days: share(every.days) }
}

/// So many months after due: from the same anchor, like the due day itself. An interval of days alone has no
/// month to run to the end of, and they count from the due day.
pub(crate) fn by_months(due: DueDay, every: CalendarSpan, months: u32) -> DueDay {
    let due = if every.months > 0 { due } else { DueDay::on(due.day(), CalendarMode::Day) };
    due.plus(CalendarSpan::months(months))
}

fn later_by_days(day: NaiveDate, days: u32) -> NaiveDate {
    calendar::add(day, CalendarSpan::days(days), CalendarMode::Day)
}

/// From due by one interval or, if that has passed already, by as many whole ones as it takes.
fn on_from_hours(was_due: Hours, every: Hours, done: Hours, once: Counted) -> (Hours, Counted) {
    let late = (done - was_due).seconds().max(0);
    let intervals = late.div_euclid(every.seconds().max(1)) + 1;
    let due = Hours::from_seconds(was_due.seconds() + every.seconds() * intervals);
    match u32::try_from(intervals) {
        Ok(1) => (due, once),
        Ok(intervals) => (due, Counted::Skipped(intervals)),
        Err(_) => (due, Counted::Skipped(u32::MAX)),
    }
}

/// The same on the calendar, where intervals differ in length and are tried one after another.
fn on_from_day(
    was_due: DueDay,
    every: CalendarSpan,
    done: NaiveDate,
    once: Counted,
) -> (DueDay, Counted) {
    let first = was_due.plus(every);
    if first.day() > done {
        return (first, once);
    }
    let intervals = (2..SKIPPED_INTERVALS_MAX)
        .find(|count| was_due.plus(every.times(*count)).day() > done)
        .unwrap_or(SKIPPED_INTERVALS_MAX);
    (was_due.plus(every.times(intervals)), Counted::Skipped(intervals))
}

#[cfg(test)]
#[path = "rule_tests.rs"]
mod tests;
