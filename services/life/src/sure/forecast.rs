//! On which day a number of hours will be used up: early, middle and late.
//!
//! From the rate that [`Rate`] keeps, each day ahead has a distribution of the hours flown until then; a day is
//! the P10 day when the hours left are used up by then with a probability of one tenth. That is the day to plan
//! by: nine times in ten the hours last longer. The P50 day is as likely too early as too late.
//!
//! Everything is counted from the last reading. Days never move because time passes; only a reading moves them.

use super::rate::{Basis, CannotSay, Kind, Rate};
use super::special::{gamma_p, gamma_q, gamma_q_bound, root};
use super::{decimal_hours, real, season};
use crate::calendar::{days_between, shift};
use crate::hours::Hours;
use chrono::{Datelike, NaiveDate};
use std::collections::BTreeMap;

/// How far ahead days are searched: ten years.
pub const DAYS_MAX: usize = 3650;
/// From this age of the last reading on, a forecast is marked as stale.
pub const STALE_DAYS: i64 = 180;
/// From this age of the last reading on, there is no forecast.
pub const TOO_OLD_DAYS: i64 = 730;
/// A late day further than this behind the early one says nothing.
const SPREAD_DAYS_MAX: i64 = 1096;
/// Squared relative scatter because owners change their habits.
const HABITS: f64 = 0.05;
/// Squared relative scatter because a season does not come like the last one, at its beginning.
const SEASONS: f64 = 0.25;
/// After so many days seasons have evened out.
const SEASONS_DAYS: f64 = 180.0;
/// How many days are searched at first.
const STRETCH_DAYS: usize = 32;
/// The probabilities of the early, the middle and the late day.
const LEVELS: [f64; 3] = [0.10, 0.50, 0.90];

/// When hours will be used up, or why nobody can say.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Forecast {
    /// Days, and how sure they are.
    Days(Days),
    /// No hours are left.
    AlreadyReached,
    /// Nothing can be said, and why.
    CannotSay(CannotSay),
}

/// The days of a forecast and what to mind about them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Days {
    /// The early day, the one to plan by; `None` when it is not within ten years.
    pub p10: Option<NaiveDate>,
    /// The middle day; `None` when it is not within ten years.
    pub p50: Option<NaiveDate>,
    /// The late day; `None` when it is not within ten years.
    pub p90: Option<NaiveDate>,
    /// What it rests on.
    pub basis: Basis,
    /// How many stretches between readings it rests on.
    pub gaps: u32,
    /// The day of the last reading, from which it is counted.
    pub last_reading: NaiveDate,
    /// Whether that reading is more than half a year old.
    pub stale: bool,
    /// How the days lie about the day of asking.
    pub today: Today,
}

impl Days {
    /// Whether the late day lies so far behind the early one, or so far ahead, that only the early one says
    /// anything: "not before".
    #[must_use]
    pub fn only_early(&self) -> bool {
        match (self.p10, self.p90) {
            (Some(p10), Some(p90)) => days_between(p10, p90) > SPREAD_DAYS_MAX,
            _ => true,
        }
    }
}

/// How a forecast lies about the day on which it is asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Today {
    /// The early day is still ahead.
    Ahead,
    /// The early day is past: the hours may be used up. Only a reading can tell.
    MayBeDue,
    /// The late day is past: the hours are probably used up. No line may be shown as not due on such a forecast.
    ProbablyPassed,
}

/// The hours that may have been flown until some day, at the three levels.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HoursFlown {
    /// One time in ten less than this is flown.
    pub p10: f64,
    /// As often more as less.
    pub p50: f64,
    /// One time in ten more than this is flown.
    pub p90: f64,
}

/// A rate with the exposure of the months ahead added up, out of which any number of forecasts are told.
#[derive(Clone, Debug)]
pub struct Ahead {
    rate: Rate,
    /// The months that any of the days ahead are in, in order.
    months: Vec<Month>,
}

/// What of a month lies ahead.
#[derive(Clone, Copy, Debug)]
struct Month {
    /// How many days after the last reading it begins.
    from_days: usize,
    /// Days of average flying from the last reading until then.
    exposure_days: f64,
    /// Days of average flying in a day of it.
    factor: f64,
}

impl Ahead {
    /// Looks ahead from the last reading of a rate.
    #[must_use]
    pub fn of(rate: Rate) -> Self {
        let mut months = Vec::with_capacity(DAYS_MAX / 28);
        let (mut from_days, mut exposure_days) = (0, 0.0);
        let mut day = rate.last;
        while from_days <= DAYS_MAX {
            let factor = season::of_day(&rate.months, day);
            months.push(Month { from_days, exposure_days, factor });
            // At the end of the calendar the days go on as they were: nobody flies there.
            let days = u32::from(day.num_days_in_month()) - day.day0();
            let Some(next) = shift(day, 0, days.into()) else { break };
            from_days += usize::try_from(days).unwrap_or(1);
            exposure_days += f64::from(days) * factor;
            day = next;
        }
        Self { rate, months }
    }

    /// Days of average flying from the last reading until so many days later, of at most ten years.
    fn exposure_days(&self, days: usize) -> f64 {
        let days = days.min(DAYS_MAX);
        let begun = self.months.partition_point(|it| it.from_days <= days);
        let month = begun.checked_sub(1).and_then(|last| self.months.get(last));
        month.map_or(0.0, |it| it.exposure_days + real(days - it.from_days) * it.factor)
    }

    /// The rate it was made of.
    #[must_use]
    pub const fn rate(&self) -> &Rate {
        &self.rate
    }

    /// When so many hours, left at the last reading, will be used up, as seen on a day.
    #[must_use]
    pub fn reach(&self, hours_left: Hours, as_of: NaiveDate) -> Forecast {
        let Rate { last, gaps, .. } = self.rate;
        if hours_left <= Hours::ZERO {
            return Forecast::AlreadyReached;
        }
        let age_days = days_between(last, as_of);
        if age_days > TOO_OLD_DAYS {
            return Forecast::CannotSay(CannotSay::ReadingsTooOld { last });
        }
        let hours = decimal_hours(hours_left);
        let mut from = 1;
        let [p10, p50, p90] = LEVELS.map(|level| {
            // A later level is never reached earlier.
            from = self.first_day_from(from, hours, level)?;
            shift(last, 0, i64::try_from(from).ok()?)
        });
        let past = |day: Option<NaiveDate>| day.is_some_and(|day| day < as_of);
        let today = match (past(p10), past(p90)) {
            (_, true) => Today::ProbablyPassed,
            (true, false) => Today::MayBeDue,
            (false, false) => Today::Ahead,
        };
        let (basis, stale) = (self.rate.basis(), age_days > STALE_DAYS);
        Forecast::Days(Days { p10, p50, p90, basis, gaps, last_reading: last, stale, today })
    }

    /// The early day alone: when so many hours, left at the last reading, may be used up. `None` when none are
    /// left, or that is not within ten years.
    #[must_use]
    pub fn early_day(&self, hours_left: Hours) -> Option<NaiveDate> {
        self.early_days([hours_left]).into_values().next()?
    }

    /// The early day of each of several numbers of hours, as [`Ahead::early_day`] tells it.
    ///
    /// More hours are never used up earlier, so that the search for the day of each begins where the one before ended.
    pub(super) fn early_days(
        &self,
        hours_left: impl IntoIterator<Item = Hours>,
    ) -> BTreeMap<Hours, Option<NaiveDate>> {
        let [early, ..] = LEVELS;
        let mut days: BTreeMap<Hours, Option<NaiveDate>> =
            hours_left.into_iter().map(|left| (left, None)).collect();
        let mut from = 1;
        for (left, day) in days.range_mut(Hours::from_seconds(1)..) {
            let Some(found) = self.first_day_from(from, decimal_hours(*left), early) else { break };
            from = found;
            *day = i64::try_from(found).ok().and_then(|days| shift(self.rate.last, 0, days));
        }
        days
    }

    /// The first day from one on by which more than these hours are flown with the probability of a level, searched for
    /// in stretches that double: it is seldom far.
    fn first_day_from(&self, mut from: usize, hours: f64, level: f64) -> Option<usize> {
        let mut stretch = STRETCH_DAYS;
        while from <= DAYS_MAX {
            let until = (from + stretch).min(DAYS_MAX);
            if let Some(day) = self.first_day(from, until, hours, level) {
                return Some(day);
            }
            from = until + 1;
            stretch *= 2;
        }
        None
    }

    /// How many hours may be flown within so many days of the last reading, of at most ten years.
    #[must_use]
    pub fn hours_within(&self, days: usize) -> HoursFlown {
        let parts = self.parts(days, days);
        let quantile = |level: f64| {
            // Each side is worked out where it is small, so that it keeps its digits.
            let excess = |ln_hours: f64| {
                let sum = |tail: fn(f64, f64) -> f64| -> f64 {
                    parts
                        .iter()
                        .map(|it| it.weight * tail(it.shape, ln_hours.exp() / it.scale))
                        .sum()
                };
                if level < 0.5 { sum(gamma_p) - level } else { (1.0 - level) - sum(gamma_q) }
            };
            root(excess, -600.0, 600.0).exp()
        };
        let [p10, p50, p90] = LEVELS.map(quantile);
        HoursFlown { p10, p50, p90 }
    }

    /// The first day of a range by which more than these hours are flown with the probability of a level.
    ///
    /// The probability is not bound to rise from day to day while seasons even out, so halving alone could miss
    /// an early crossing: a half is passed over only when not even its upper bound reaches the level.
    fn first_day(&self, from: usize, until: usize, hours: f64, level: f64) -> Option<usize> {
        let reached = from <= until && self.may_reach(from, until, hours, level);
        if reached { self.first_day_within(from, until, hours, level) } else { None }
    }

    /// The same of a range whose bound reaches the level.
    fn first_day_within(&self, from: usize, until: usize, hours: f64, level: f64) -> Option<usize> {
        if from == until {
            return Some(from);
        }
        let middle = usize::midpoint(from, until);
        self.first_day(from, middle, hours, level).or_else(|| {
            // Once seasons have evened out, the bound of a range is the probability on its last day.
            if real(from) >= SEASONS_DAYS {
                self.first_day_within(middle + 1, until, hours, level)
            } else {
                self.first_day(middle + 1, until, hours, level)
            }
        })
    }

    /// Whether the bound of a range, on the probability that more than these hours are flown, is a level or more.
    ///
    /// Most ranges are far from it, which a bound on that bound shows for less.
    fn may_reach(&self, from: usize, until: usize, hours: f64, level: f64) -> bool {
        let mut parts = self.parts(from, until);
        parts.sort_by(|a, b| b.weight.total_cmp(&a.weight));
        // A thousandth covers what rounding may have taken off the bound.
        let is_near =
            reaches(&parts, level * 0.999, |it| gamma_q_bound(it.shape, hours / it.scale));
        is_near && reaches(&parts, level, |it| gamma_q(it.shape, hours / it.scale))
    }

    /// A bound on the probability that more than these hours are flown, for every day of a range; for a single
    /// day the probability itself.
    ///
    /// A gamma variable grows with its shape and with its scale, so the largest of each bounds them all.
    #[cfg(test)]
    pub(super) fn at_most(&self, from: usize, until: usize, hours: f64) -> f64 {
        let parts = self.parts(from, until);
        parts.iter().map(|it| it.weight * gamma_q(it.shape, hours / it.scale)).sum()
    }

    /// The hours flown, for each kind of owner, as gamma variables that are at least as large as those of every
    /// day of a range.
    ///
    /// Mean M and variance V = lump × M + M² × scatter make the shape M²/V and the scale V/M. The mean rises and
    /// the scatter falls from day to day, so the shape is largest at the end.
    fn parts(&self, from: usize, until: usize) -> [Part; 3] {
        let scatter = |kind: &Kind, day: usize| {
            1.0 / kind.shape + HABITS + SEASONS * (1.0 - real(day) / SEASONS_DAYS).max(0.0)
        };
        let lump = self.rate.lump_hours;
        let exposure_days = self.exposure_days(until);
        self.rate.kinds.map(|kind| {
            let mean = kind.hours_per_day() * exposure_days;
            Part {
                weight: kind.weight,
                shape: mean / (lump + mean * scatter(&kind, until)),
                scale: lump + mean * scatter(&kind, from),
            }
        })
    }
}

/// Whether the weighted sum of a probability of each part reaches a level. The likeliest come first, and the others
/// are asked only while they can make a difference.
fn reaches(parts: &[Part], level: f64, probability: impl Fn(&Part) -> f64) -> bool {
    let (mut sure, mut open) = (0.0, parts.iter().map(|it| it.weight).sum::<f64>());
    for it in parts {
        sure += it.weight * probability(it);
        open -= it.weight;
        if sure >= level || sure + open < level {
            break;
        }
    }
    sure >= level
}

/// A weighted gamma variable.
struct Part {
    weight: f64,
    shape: f64,
    scale: f64,
}
