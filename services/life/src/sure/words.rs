//! Estimates in words: what a mail and a page say about them, so that both say the same.

use super::forecast::{Days, Forecast, Today};
use super::rate::{Basis, CannotSay};
use crate::calendar::days_between;
use crate::week::ReportWeek;
use crate::words::day;
use std::fmt;

/// An early and a late day further apart than this are told by their weeks: the days would say too much.
const BY_DAY_MAX: i64 = 60;

impl fmt::Display for CannotSay {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoReading => write!(f, "there is no reading of the hours yet"),
            Self::MeterDecreases { on } => write!(
                f,
                "the reading of {} is lower than the one before; say whether a new meter was fitted",
                day(*on)
            ),
            Self::ReadingsTooOld { last } => {
                write!(f, "the last reading, of {}, is more than two years old", day(*last))
            }
        }
    }
}

impl fmt::Display for Forecast {
    /// One sentence without its full stop.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Days(days) => days.fmt(f),
            Self::AlreadyReached => write!(f, "no hours are left"),
            Self::CannotSay(why) => write!(f, "cannot say: {why}"),
        }
    }
}

impl fmt::Display for Days {
    /// One sentence without its full stop.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.fmt_days(f)?;
        match self.today {
            Today::Ahead => {}
            Today::MayBeDue => write!(f, "; may already be due, read the meter")?,
            Today::ProbablyPassed => write!(f, "; probably passed, read the meter")?,
        }
        match self.basis {
            Basis::PriorOnly => write!(f, " (from typical use, not from this aircraft)")?,
            Basis::FewReadings => write!(f, " (from few readings and typical use)")?,
            Basis::OwnReadings => {}
        }
        if self.stale {
            write!(
                f,
                " (the last reading, of {}, is more than half a year old)",
                day(self.last_reading)
            )?;
        }
        Ok(())
    }
}

impl Days {
    /// The days alone.
    fn fmt_days(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (p10, p90) = match (self.p10, self.p90) {
            (None, _) => return write!(f, "not within ten years"),
            (Some(p10), Some(p90)) if !self.only_early() => (p10, p90),
            (Some(p10), p90) => {
                write!(f, "not before {}, plan by then", day(p10))?;
                return if p90.is_none() {
                    write!(f, "; may not be reached in ten years")
                } else {
                    Ok(())
                };
            }
        };
        if days_between(p10, p90) > BY_DAY_MAX {
            let monday = |on| day(ReportWeek::of(on).monday());
            write!(f, "likely between the weeks of {} and {}", monday(p10), monday(p90))?;
        } else {
            write!(f, "likely between {} and {}", day(p10), day(p90))?;
        }
        write!(f, ", plan by {}", day(p10))
    }
}
