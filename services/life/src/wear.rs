//! What the trend of a measured quantity says on a due line: plain values.
//!
//! The line through the readings is a matter of real numbers and is drawn in [`sure`](crate::sure). What comes over
//! from there is rounded down to the tenth of an hour, the strict side: evidence may shorten an interval, never lengthen it.

use crate::hours::Hours;
use crate::ids::{PositionId, Quantity};
use chrono::NaiveDate;

/// A measured limit of an item: it is due too when the cautious bound of the readings' trend reaches the limit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TrendRule {
    /// What is measured. Its limit on the side of its wear is the one that counts.
    pub quantity: Quantity,
    /// Readings within so many hours of new, or of the last change of the part, are of the running-in.
    pub run_in: Hours,
}

/// How often the bound holds, in 100 cases.
pub const HOLDS_PERCENT: u32 = 95;

/// What the figures rest on, printed beside them.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Basis {
    /// This engine's own readings alone.
    Own,
    /// This engine's readings, steadied by how its type wears.
    Fleet {
        /// How many engines of the type that was learnt from.
        engines: usize,
        /// The version of it.
        version: u32,
        /// The day on which that was worked out.
        on: NaiveDate,
    },
}

impl Basis {
    /// The word used in the API.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Own => "own",
            Self::Fleet { .. } => "fleet",
        }
    }

    /// The words printed on paper and pages.
    #[must_use]
    pub fn printed(self) -> String {
        match self {
            Self::Own => "from this engine's own readings alone".to_owned(),
            Self::Fleet { engines, on, .. } => {
                format!("steadied by {engines} engines of the type, as worked out on {on}")
            }
        }
    }
}

/// What the readings of a quantity at one place say about its limit, on the line's own count.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Wear {
    /// What was measured.
    pub quantity: Quantity,
    /// What people call it.
    pub title: String,
    /// Where, if that is not the line's own position.
    pub position: Option<PositionId>,
    /// The limit, with its unit.
    pub limit: String,
    /// How many readings it rests on.
    pub readings: usize,
    /// The hours of the last reading of the part, where there is one at known hours.
    pub last: Option<Hours>,
    /// What they say.
    pub says: Says,
    /// What that rests on.
    pub basis: Basis,
    /// What to mind.
    pub cautions: Vec<Caution>,
}

/// What readings say about a limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Says {
    /// The bound of their line reaches it.
    Reaches {
        /// Not before these hours, [`HOLDS_PERCENT`] times in 100.
        bound: Hours,
        /// The middle of the line reaches it at these hours, if as far as was looked.
        point: Option<Hours>,
    },
    /// It cannot be excluded that it was beyond the limit at the last reading.
    MeasureAgain,
    /// The last reading is at the limit or beyond it.
    Reached,
    /// The bound does not reach it within these hours.
    NotWithin(Hours),
    /// No wear towards it is visible within the error of the gauge.
    NoWear,
    /// Nothing can be said, and why.
    CannotSay(WhyNot),
}

/// Why nothing can be said of a trend.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum WhyNot {
    /// Nothing was measured since the running-in and the last change of the part.
    NoReading,
    /// Too few readings for a line with a known scatter.
    NeedsReadings,
    /// All readings are at the same hours.
    SameHours,
    /// The hours of the last reading are not known.
    NoHours,
    /// A figure that no gauge shows.
    OutOfRange,
}

/// What to mind about a trend.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Caution {
    /// One reading decides where the line leads.
    OneReadingDominates,
    /// It leads to more than twice the hours of the last reading.
    Extrapolated,
    /// The readings agree better than the gauge can: its uncertainty was used.
    ScatterOfGauge,
}

impl WhyNot {
    /// All reasons.
    pub const ALL: [Self; 5] =
        [Self::NoReading, Self::NeedsReadings, Self::SameHours, Self::NoHours, Self::OutOfRange];

    /// The word used in the API and in stored rows.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::NoReading => "no-reading",
            Self::NeedsReadings => "needs-readings",
            Self::SameHours => "same-hours",
            Self::NoHours => "no-hours",
            Self::OutOfRange => "out-of-range",
        }
    }
}

impl Caution {
    /// All cautions, in the order in which they are told.
    pub const ALL: [Self; 3] =
        [Self::OneReadingDominates, Self::Extrapolated, Self::ScatterOfGauge];

    /// The word used in the API and in stored rows.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::OneReadingDominates => "one-reading-dominates",
            Self::Extrapolated => "extrapolated",
            Self::ScatterOfGauge => "scatter-of-gauge",
        }
    }

    /// The words printed on paper and pages.
    #[must_use]
    pub const fn printed(self) -> &'static str {
        match self {
            Self::OneReadingDominates => "one reading dominates",
            Self::Extrapolated => "far beyond the hours of its readings",
            Self::ScatterOfGauge => {
                "readings agree better than the gauge can: its uncertainty was used"
            }
        }
    }
}

impl Wear {
    /// The hours at which the item is due for it; `None` where nothing sets a time.
    #[must_use]
    pub fn due(&self) -> Option<Hours> {
        match self.says {
            Says::Reaches { bound, .. } => Some(bound),
            Says::MeasureAgain | Says::Reached => self.last,
            Says::NotWithin(_) | Says::NoWear | Says::CannotSay(_) => None,
        }
    }

    /// What it is called beside other limits: `trend of Bore`, `trend of Big end, radial play at mag`.
    #[must_use]
    pub fn name(&self) -> String {
        let place = self.position.as_ref().map_or_else(String::new, |it| format!(" at {it}"));
        format!("trend of {}{place}", self.title)
    }

    /// What the readings say, in one sentence without its full stop.
    #[must_use]
    pub fn in_words(&self) -> String {
        let Self { limit, readings, .. } = self;
        let from = match readings {
            1 => "1 reading".to_owned(),
            count => format!("{count} readings"),
        };
        let says = match self.says {
            Says::Reaches { bound, point } => {
                let point = point.map_or_else(String::new, |point| {
                    format!("reaches its limit, {limit}, at about {} h, ", tens(point, bound))
                });
                let bound = bound.tenths_down();
                format!("{point}not before {bound} h in {HOLDS_PERCENT} of 100 cases")
            }
            Says::MeasureAgain => format!(
                "it cannot be excluded that it is beyond its limit, {limit}, now: measure again"
            ),
            Says::Reached => {
                return format!("the last reading is at its limit, {limit}, or beyond");
            }
            Says::NotWithin(hours) => {
                format!("does not reach its limit, {limit}, within {} h", hours.tenths_down())
            }
            Says::NoWear => format!(
                "no wear towards its limit, {limit}, is visible within the error of the gauge"
            ),
            Says::CannotSay(why) => return format!("cannot say: {}", why_not(why, *readings)),
        };
        let cautions = self.cautions.iter().map(|it| format!("; {}", it.printed()));
        format!("{says} ({from}, {}){}", self.basis.printed(), cautions.collect::<String>())
    }
}

/// Why nothing can be said, in words.
fn why_not(why: WhyNot, readings: usize) -> String {
    match why {
        WhyNot::NoReading => {
            "nothing was measured since the running-in and the last change of the part".to_owned()
        }
        WhyNot::NeedsReadings => {
            format!("needs 3 readings at different hours, and there are {readings}")
        }
        WhyNot::SameHours => "all readings are at the same hours".to_owned(),
        WhyNot::NoHours => "the hours of the last reading are not known".to_owned(),
        WhyNot::OutOfRange => "a reading or the limit is not one that a gauge shows".to_owned(),
    }
}

/// Hours to the nearest ten, as an interval of wear supports no more; to the next ten where the nearest one lies before
/// what they cannot be before.
fn tens(hours: Hours, not_before: Hours) -> i64 {
    let nearest = (hours.seconds() + 18_000).div_euclid(36_000);
    let least = (not_before.seconds() + 35_999).div_euclid(36_000);
    nearest.max(least) * 10
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn about_when_is_never_before_what_it_is_not_before() {
        let of = |tenths: i64| Hours::from_seconds(tenths * 360);
        // Rounded by hand. 1083.0 h would be about 1080, but not when it is not before 1080.1.
        assert_eq!(tens(of(9_549), of(9_433)), 950);
        assert_eq!(tens(of(9_550), of(9_433)), 960);
        assert_eq!(tens(of(10_830), of(10_800)), 1080);
        assert_eq!(tens(of(10_830), of(10_801)), 1090);
        assert_eq!(tens(of(10_801), of(10_801)), 1090);
    }
}
