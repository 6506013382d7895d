//! How long a kind of part lasts, from parts that failed, parts found bad, and parts still running.
//!
//! Each part tells between which two inspections it failed, or that it had not failed yet; the life sought is the one
//! that makes all of that most likely. Taking "found bad" for the hour of the failure is always too hopeful: with
//! inspections 400 h apart it put a B10 of 488 h a third too high, so an interval stays an interval here. So does a
//! late entry: a part first seen at 500 h says nothing about failures before.
//!
//! [`Evidence::weigh`] says how much may be said, by how many failures there are:
//!
//! | failures | what is said |
//! | --- | --- |
//! | no part | cannot say |
//! | 0 to 3, or intervals that tell no shape | a lower bound under an assumed shape, labelled as such |
//! | 4 to 9 | a Weibull life with its likelihood-ratio bound, labelled "few failures" |
//! | 10 and more | the same in full |
//! | all failures at one hour | cannot say; that hour |
//! | a shape above 20, or a flat likelihood | the survival curve alone |
//!
//! What is said may shorten an interval; it never lengthens one.
//!
//! # Whether it holds
//!
//! 400 simulated fleets of 60 parts for each row, seed 20261126 (`backtest -- part-life`); the bound judged at 90 %:
//!
//! | shape | true B10 | inspected every | 90 % bound holds (85 to 95 %) | B10 off, median (within 6 %) |
//! | ---: | ---: | ---: | ---: | ---: |
//! | 2.5 | 488 h | 50 h | 89.5 % | 1.5 % |
//! | 2.5 | 488 h | 200 h | 85.8 % | -1.2 % |
//! | 2.5 | 488 h | 400 h | 86.8 % | 2.3 % |
//! | 1.3 | 266 h | 100 h | 87.3 % | 2.1 % |
//! | 1.3 | 266 h | 400 h | 88.3 % | 1.0 % |
//!
//! So a bound called 90 % holds nearer to 88: likelihood ratios are bold by that much with some 20 to 30 failures.

pub mod assumed;
mod evidence;
pub mod kaplan_meier;
mod likelihood;
pub mod turnbull;
pub mod weibull;

pub use evidence::{Against, Cannot, Evidence, Says, Survival, WhyAssumed};

use std::fmt;

/// The most hours that a part can have run.
const HOURS_MAX: f64 = 1e7;

/// What is known of one part, in hours since it was new.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Part {
    /// First seen at these hours.
    entry: f64,
    /// Last known good.
    good: f64,
    /// First known bad.
    bad: Option<f64>,
}

/// Why a part's hours make no sense. The message says what would be right.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum PartError {
    /// Not a number of hours.
    Hours,
    /// Failed, or found bad, at no hours at all.
    Bad,
    /// Bad before it was last good.
    Order,
    /// First seen after it was last seen, or only when it failed.
    Entry,
}

impl PartError {
    /// The word used in the API.
    #[must_use]
    pub const fn slug(self) -> &'static str {
        match self {
            Self::Hours => "hours-out-of-range",
            Self::Bad => "failed-at-zero",
            Self::Order => "bad-before-good",
            Self::Entry => "entry-too-late",
        }
    }
}

impl fmt::Display for PartError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Hours => "hours of a part are between 0 and 10 000 000",
            Self::Bad => "a part that failed has run: its hours are above 0",
            Self::Order => "a part is found bad at more hours than it was last good, or at as many if it failed then",
            Self::Entry => "a part is first seen at no more hours than it was last good, and before it failed",
        })
    }
}

impl std::error::Error for PartError {}

impl Part {
    /// A part that failed at this very hour.
    ///
    /// # Errors
    /// [`PartError`] for hours that make no sense; so for all of these.
    pub fn failed(at: f64) -> Result<Self, PartError> {
        Self::seen(at, Some(at))
    }

    /// A part that was last known good at this hour: still running, or taken off good.
    ///
    /// # Errors
    /// As above.
    pub fn running(until: f64) -> Result<Self, PartError> {
        Self::seen(until, None)
    }

    /// A part that one inspection found good and the next found bad; `good` is 0 if it was never inspected before.
    ///
    /// # Errors
    /// As above.
    pub fn found_bad(good: f64, bad: f64) -> Result<Self, PartError> {
        Self::seen(good, Some(bad))
    }

    fn seen(good: f64, bad: Option<f64>) -> Result<Self, PartError> {
        let sensible = |hours: f64| (0.0..=HOURS_MAX).contains(&hours);
        if !sensible(good) || !bad.is_none_or(sensible) {
            return Err(PartError::Hours);
        }
        match bad {
            Some(bad) if bad <= 0.0 => Err(PartError::Bad),
            Some(bad) if bad < good => Err(PartError::Order),
            _ => Ok(Self { entry: 0.0, good, bad }),
        }
    }

    /// The same part, first seen at this hour: what failed before then was never seen.
    ///
    /// # Errors
    /// [`PartError::Entry`] if it was last good before that, or failed at that very hour.
    pub fn entered(self, at: f64) -> Result<Self, PartError> {
        if !(0.0..=HOURS_MAX).contains(&at) {
            return Err(PartError::Hours);
        }
        if at > self.good || self.bad.is_some_and(|bad| bad <= at) {
            return Err(PartError::Entry);
        }
        Ok(Self { entry: at, ..self })
    }

    /// Whether the hour of its failure is known exactly.
    fn is_exact(&self) -> bool {
        self.bad.is_some_and(|bad| bad <= self.good)
    }

    /// Whether it failed in the same interval as another.
    fn same_end(&self, other: &Self) -> bool {
        let key = |part: &Self| [part.good.to_bits(), part.bad.unwrap_or(-1.0).to_bits()];
        key(self) == key(other)
    }
}

#[cfg(test)]
mod tests;
