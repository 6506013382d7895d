//! Calendar arithmetic: months are months, days are days, and a limit is always counted from its anchor.
//!
//! Two policies exist side by side. `day`: the same day-number so many months on, clipped to the last day
//! of a shorter month (own reading; agrees with python-dateutil's `relativedelta`). `end-of-month`: through
//! the last day of that month (FAA calendar months, 14 CFR 91.409(a) and FAA-H-8083-25).

use chrono::{Datelike, Days, Months, NaiveDate};

/// How a calendar interval ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum CalendarMode {
    /// The same day-number, clipped to a shorter month.
    Day,
    /// The last day of the month reached.
    EndOfMonth,
}

impl CalendarMode {
    /// Both modes, in the order in which messages list them.
    pub const ALL: [Self; 2] = [Self::Day, Self::EndOfMonth];

    /// The word used in files and in the API.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Day => "day",
            Self::EndOfMonth => "end-of-month",
        }
    }
}

/// A calendar interval: months first, then days. Either may be zero, not both in a rule.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct CalendarSpan {
    /// Whole months.
    pub months: u32,
    /// Whole days, added after the months.
    pub days: u32,
}

impl CalendarSpan {
    /// So many months.
    #[must_use]
    pub const fn months(months: u32) -> Self {
        Self { months, days: 0 }
    }

    /// So many days.
    #[must_use]
    pub const fn days(days: u32) -> Self {
        Self { months: 0, days }
    }

    /// This span, so many times over: how repeats are counted without drifting off the anchor.
    #[must_use]
    pub const fn times(self, count: u32) -> Self {
        Self { months: self.months.saturating_mul(count), days: self.days.saturating_mul(count) }
    }

    /// Both spans, one after the other.
    #[must_use]
    pub const fn plus(self, other: Self) -> Self {
        Self {
            months: self.months.saturating_add(other.months),
            days: self.days.saturating_add(other.days),
        }
    }

    /// Days for a percentage: a month counts 30 days (US Army TM 1-1500-328-23 para 2-10).
    #[must_use]
    pub fn days_nominal(self) -> i64 {
        i64::from(self.months) * 30 + i64::from(self.days)
    }
}

/// In words, as a working prints it: `12 months`, `14 days`, `12 months 5 days`.
impl std::fmt::Display for CalendarSpan {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let plural = |n: u32| if n == 1 { "" } else { "s" };
        match (self.months, self.days) {
            (0, days) => write!(f, "{days} day{}", plural(days)),
            (months, 0) => write!(f, "{months} month{}", plural(months)),
            (months, days) => {
                write!(f, "{months} month{} {days} day{}", plural(months), plural(days))
            }
        }
    }
}

/// The day a span after `anchor` ends. Months first (clipped), then the end of the month if the mode says
/// so, then days. Days beyond the calendar's range stay at its last day.
#[must_use]
pub fn add(anchor: NaiveDate, span: CalendarSpan, mode: CalendarMode) -> NaiveDate {
    let moved = anchor.checked_add_months(Months::new(span.months)).unwrap_or(NaiveDate::MAX);
    // An interval of days alone has no month to run to the end of.
    let moved = match mode {
        CalendarMode::EndOfMonth if span.months > 0 => end_of_month(moved),
        _ => moved,
    };
    moved.checked_add_days(Days::new(u64::from(span.days))).unwrap_or(NaiveDate::MAX)
}

/// The last day of the month that holds `day`.
#[must_use]
pub fn end_of_month(day: NaiveDate) -> NaiveDate {
    day.with_day(u32::from(day.num_days_in_month())).unwrap_or(NaiveDate::MAX)
}

/// Whole days from `from` to `to`; negative when `to` is earlier.
#[must_use]
pub fn days_between(from: NaiveDate, to: NaiveDate) -> i64 {
    to.signed_duration_since(from).num_days()
}

/// The next day; the calendar's last day stays where it is.
#[must_use]
pub fn day_after(day: NaiveDate) -> NaiveDate {
    day.succ_opt().unwrap_or(NaiveDate::MAX)
}

/// So many days earlier; the calendar's first day stays where it is.
#[must_use]
pub fn days_before(day: NaiveDate, days: u32) -> NaiveDate {
    day.checked_sub_days(Days::new(u64::from(days))).unwrap_or(NaiveDate::MIN)
}

/// A general shift as the calendar helper takes it: years and months first (clipped), then weeks and days,
/// any of them negative. Source of the rule: python-dateutil's `relativedelta`.
#[must_use]
pub fn shift(start: NaiveDate, months: i32, days: i64) -> Option<NaiveDate> {
    let size = Months::new(months.unsigned_abs());
    let moved =
        if months < 0 { start.checked_sub_months(size) } else { start.checked_add_months(size) };
    let size = Days::new(days.unsigned_abs());
    moved.and_then(
        |day| {
            if days < 0 { day.checked_sub_days(size) } else { day.checked_add_days(size) }
        },
    )
}
