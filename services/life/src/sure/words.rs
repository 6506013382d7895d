//! Estimates in words: what a mail and a page say about them, so that both say the same.

use super::forecast::{Days, Forecast, Today};
use super::rate::{Basis, CannotSay};
use super::trend::{self, Early, Estimate, Trend};
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
            Self::RecordsContradict { from } => {
                write!(f, "records contradict one another about the hours from {} on", day(*from))
            }
            Self::NotInAircraft => write!(f, "the engine is in no aircraft"),
            Self::ReadApart => {
                write!(f, "its hours were read on another day than the engine's")
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

impl fmt::Display for trend::CannotSay {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoReading => {
                write!(f, "nothing was measured since running-in and the last change of the part")
            }
            Self::NeedsReadings { count } => {
                write!(f, "needs 3 readings at different hours, and there are {count}")
            }
            Self::SameHours => write!(f, "all readings are at the same hours"),
            Self::NoLimit => write!(f, "no limit is given"),
            Self::OutOfRange => write!(
                f,
                "a reading or a limit is not one that a gauge shows, or the confidence is not one to ask for"
            ),
        }
    }
}

impl fmt::Display for Trend {
    /// One sentence without its full stop.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Estimate(estimate) => estimate.fmt(f),
            Self::AlreadyReached(_) => write!(f, "the last reading is at its limit or beyond"),
            Self::CannotSay(why) => write!(f, "cannot say: {why}"),
        }
    }
}

impl fmt::Display for Estimate {
    /// One sentence without its full stop. Hours are told in tens, and those of the early figure in fives,
    /// downwards: the interval supports no more.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let holds = 100.0 * self.confidence;
        match (self.early, self.point_hours) {
            (Early::At(early), point) => {
                let early = (early / 5.0).floor() * 5.0;
                if let Some(point) = point {
                    write!(
                        f,
                        "reaches its limit at about {:.0} h, ",
                        (point / 10.0).round() * 10.0
                    )?;
                }
                write!(f, "not before {early:.0} h in {holds:.0} of 100 cases")?;
            }
            (Early::AtLastReading, _) => {
                write!(f, "it cannot be excluded that it is beyond its limit now: measure again")?;
            }
            (Early::NotWithin(hours), _) => {
                write!(f, "does not reach its limit within {hours:.0} h")?;
            }
            (Early::NoWear, _) => write!(f, "no wear is visible within the gauge's error")?,
        }
        let readings = if self.count == 1 { "reading" } else { "readings" };
        write!(f, " (from {} {readings} of this engine", self.count)?;
        if let trend::Basis::Fleet { engines } = self.basis {
            write!(f, " and {engines} engines of this type")?;
        }
        write!(f, ")")?;
        for (applies, warning) in [
            (self.one_reading_dominates, "one reading dominates"),
            (self.extrapolated, "far beyond the hours of its readings"),
            (self.scatter_of_gauge, "readings agree better than the gauge can: its step was used"),
        ] {
            if applies {
                write!(f, "; {warning}")?;
            }
        }
        Ok(())
    }
}
