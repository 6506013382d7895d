//! Whether a reading proves a limit kept or broken, once its gauge's uncertainty is counted (ISO 14253-1).
//!
//! The rule: what is within the limits with the whole of its uncertainty is proved to be within; what is beyond
//! with the whole of it is proved to be beyond; in between nothing is proved, and the thing to do is to measure
//! again with a better gauge.

use super::interval::Interval;
use super::ratio::Ratio;
use crate::decimal::Decimal;
use std::fmt;

/// The least and the most that is allowed; either may be missing.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct Bounds {
    /// Not less than this.
    pub min: Option<Decimal>,
    /// Not more than this.
    pub max: Option<Decimal>,
}

impl Bounds {
    /// Whether nothing is given.
    #[must_use]
    pub const fn is_empty(&self) -> bool {
        self.min.is_none() && self.max.is_none()
    }

    /// Whether a value lies within, uncertainty or not.
    #[must_use]
    pub fn hold(&self, value: Ratio) -> bool {
        self.min.is_none_or(|min| value >= min.into())
            && self.max.is_none_or(|max| value <= max.into())
    }
}

/// In words: `at least 0.2, at most 0.6`.
impl fmt::Display for Bounds {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.min, self.max) {
            (Some(min), Some(max)) => write!(f, "at least {min}, at most {max}"),
            (Some(min), None) => write!(f, "at least {min}"),
            (None, Some(max)) => write!(f, "at most {max}"),
            (None, None) => f.write_str("no limit"),
        }
    }
}

/// What a reading proves; the worst comes last.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Verdict {
    /// Proved to be within.
    Within,
    /// Neither is proved.
    CannotDecide,
    /// Proved to be beyond.
    Beyond,
}

impl Verdict {
    /// All verdicts.
    pub const ALL: [Self; 3] = [Self::Within, Self::CannotDecide, Self::Beyond];

    /// The word used in the API.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Within => "within-limit",
            Self::CannotDecide => "cannot-decide",
            Self::Beyond => "beyond-limit",
        }
    }

    /// The words printed on paper and pages.
    #[must_use]
    pub const fn printed(self) -> &'static str {
        match self {
            Self::Within => "within limit",
            Self::CannotDecide => "cannot decide, measure again",
            Self::Beyond => "beyond limit",
        }
    }
}

/// Judges a reading by ISO 14253-1's rule: the whole interval within the limits, the whole of it beyond one of
/// them, or neither. A bound that falls on the limit is within it.
#[must_use]
pub fn judge(reading: Interval, limits: Bounds) -> Verdict {
    let beyond = limits.min.is_some_and(|min| reading.high < min.into())
        || limits.max.is_some_and(|max| reading.low > max.into());
    if beyond {
        Verdict::Beyond
    } else if limits.hold(reading.low) && limits.hold(reading.high) {
        Verdict::Within
    } else {
        Verdict::CannotDecide
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn decimal(text: &str) -> Decimal {
        Decimal::parse(text).expect("a decimal")
    }

    fn judged(value: &str, uncertainty: &str, limits: Bounds) -> Verdict {
        let (value, uncertainty) = (decimal(value).into(), decimal(uncertainty).into());
        judge(Interval::around(value, uncertainty).expect("possible"), limits)
    }

    // ISO 14253-1, worked by hand. A bore may grow to 67.60 mm; the gauge is good for 0.01 mm. Proved within up
    // to 67.60 - 0.01 = 67.59; proved beyond above 67.60 + 0.01 = 67.61; nothing is proved between the two.
    #[test]
    fn one_limit_from_above() {
        let limits = Bounds { min: None, max: Some(decimal("67.60")) };
        for (value, expected) in [
            ("67.59", Verdict::Within),
            ("67.591", Verdict::CannotDecide),
            ("67.60", Verdict::CannotDecide),
            ("67.61", Verdict::CannotDecide),
            ("67.611", Verdict::Beyond),
        ] {
            assert_eq!(judged(value, "0.01", limits), expected, "{value}");
        }
        // Without any uncertainty the limit itself is within.
        assert_eq!(judged("67.60", "0", limits), Verdict::Within);
        assert_eq!(judged("67.600000001", "0", limits), Verdict::Beyond);
    }

    // A ring gap of 0.20 to 0.60 mm by a feeler of 0.05: proved within from 0.25 to 0.55. By one of 0.25 nothing
    // can be proved within, since the zone is 0.40 wide and 0.20 + 0.25 = 0.45 lies above 0.60 - 0.25 = 0.35.
    #[test]
    fn limits_on_both_sides() {
        let limits = Bounds { min: Some(decimal("0.2")), max: Some(decimal("0.6")) };
        for (value, uncertainty, expected) in [
            ("0.14", "0.05", Verdict::Beyond),
            ("0.15", "0.05", Verdict::CannotDecide),
            ("0.25", "0.05", Verdict::Within),
            ("0.55", "0.05", Verdict::Within),
            ("0.56", "0.05", Verdict::CannotDecide),
            ("0.66", "0.05", Verdict::Beyond),
            ("0.40", "0.25", Verdict::CannotDecide),
        ] {
            assert_eq!(judged(value, uncertainty, limits), expected, "{value} {uncertainty}");
        }
        assert_eq!(judged("1", "0.05", Bounds::default()), Verdict::Within);
    }
}
