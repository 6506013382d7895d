//! How fast hours come: what an aircraft's readings say about its flying, steadied by what is usual.
//!
//! We start from what private, club and school aircraft usually fly in each month, move towards what this
//! aircraft really flew (recent readings count more), and keep how sure that is.
//!
//! Hours come in lumps, so between readings they scatter more than their number: a gamma-Poisson model with an
//! over-dispersion (the size of a lump), a mixture of three kinds of owner as its prior, and month factors that
//! are drawn from the fleet's towards the aircraft's own. Five fixed passes, with no test for convergence: the
//! same readings give the same rate, bit for bit.

use super::season::{Hemisphere, Months, days_by_month};
use super::special::ln_gamma;
use super::{decimal_hours, real};
use crate::calendar::days_between;
use crate::hours::Hours;
use chrono::NaiveDate;

/// Days in a mean year.
const YEAR_DAYS: f64 = 365.25;
/// After so many days a reading counts half.
const HALF_LIFE_DAYS: f64 = 365.0;
/// The lump of hours before any reading: [`LUMP_HOURS`] + [`LUMP_WEEKS`] × the hours of a week, weighing as much
/// as [`LUMP_READINGS`] readings.
const LUMP_HOURS: f64 = 3.0;
/// See [`LUMP_HOURS`].
const LUMP_WEEKS: f64 = 1.5;
/// See [`LUMP_HOURS`].
const LUMP_READINGS: f64 = 20.0;
/// How many lumps of flying the fleet's month factors weigh.
const SEASON_LUMPS: f64 = 3.0;
/// Fewer stretches than this say nothing about an aircraft's own season, and little about its rate.
const OWN_READINGS_MIN: u32 = 3;
/// The least exposure of a day: a winter with no flying at all is still some chance to fly.
const DAY_EXPOSURE_MIN: f64 = 0.02;
/// How often the rate, the lump and the season are worked out from one another.
const PASSES: u32 = 5;

/// Who flies an aircraft.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Owner {
    /// One person, or a few friends.
    Private,
    /// A club.
    Club,
    /// A school.
    School,
    /// Not told.
    #[default]
    Unknown,
}

impl Owner {
    /// All of them, in the order in which messages list them.
    pub const ALL: [Self; 4] = [Self::Private, Self::Club, Self::School, Self::Unknown];

    /// The word used in files and in the API.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Private => "private",
            Self::Club => "club",
            Self::School => "school",
            Self::Unknown => "unknown",
        }
    }

    /// What each kind of owner usually flies, and how likely this owner is of that kind.
    fn usual(self) -> [Usual; 3] {
        let mut usual = [
            Usual { weight: 0.50, shape: 2.0, hours_per_year: 45.0 },
            Usual { weight: 0.35, shape: 2.0, hours_per_year: 120.0 },
            Usual { weight: 0.15, shape: 3.0, hours_per_year: 380.0 },
        ];
        let kinds = [Self::Private, Self::Club, Self::School];
        if self != Self::Unknown {
            for (usual, kind) in usual.iter_mut().zip(kinds) {
                usual.weight = if kind == self { 1.0 } else { 0.0 };
            }
        }
        usual
    }
}

/// What a kind of owner usually flies: a gamma distribution of rates.
#[derive(Clone, Copy, Debug)]
struct Usual {
    weight: f64,
    shape: f64,
    hours_per_year: f64,
}

impl Usual {
    /// The exposure that goes with the shape, in days of average flying.
    fn exposure_days(self) -> f64 {
        self.shape * YEAR_DAYS / self.hours_per_year
    }
}

/// What the meter did since the reading before.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Meter {
    /// It ran on.
    Same,
    /// A new one began, and nobody wrote down how the old one ended: the hours between are not known.
    New,
    /// A new one began, and both figures of the change are known.
    Replaced {
        /// What the old meter showed when it came off.
        old_final: Hours,
        /// What the new meter showed when it went on.
        new_start: Hours,
    },
}

/// A reading of the hours.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Reading {
    /// The day it was read.
    pub on: NaiveDate,
    /// What it showed.
    pub hours: Hours,
    /// What the meter did since the reading before.
    pub meter: Meter,
}

/// Why nothing can be said about how fast hours come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CannotSay {
    /// There is no reading.
    NoReading,
    /// The meter shows less than before, and nobody said that it is another one.
    MeterDecreases {
        /// The day of the reading that is too low.
        on: NaiveDate,
    },
    /// The last reading is more than two years old.
    ReadingsTooOld {
        /// The day of that reading.
        last: NaiveDate,
    },
    /// Records contradict one another about the hours.
    RecordsContradict {
        /// The day from which they do.
        from: NaiveDate,
    },
    /// The engine is in no aircraft, so nobody flies it.
    NotInAircraft,
    /// The hours of the part were read on another day than the engine's.
    ReadApart,
}

/// What an estimate rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Basis {
    /// What such aircraft usually fly; this one has one reading, or none that can be compared.
    PriorOnly,
    /// One or two stretches between readings of this aircraft.
    FewReadings,
    /// At least three stretches between readings of this aircraft.
    OwnReadings,
}

impl Basis {
    /// The word used in files and in the API.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::PriorOnly => "prior-only",
            Self::FewReadings => "few-readings",
            Self::OwnReadings => "own-readings",
        }
    }
}

/// What was learnt on the assumption of one kind of owner: the rate is gamma distributed, with mean
/// `shape / exposure_days` hours a day of average flying.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Kind {
    /// How likely this kind of owner is; the three add up to 1.
    pub weight: f64,
    /// The shape of the gamma distribution.
    pub shape: f64,
    /// Its rate, in days of average flying.
    pub exposure_days: f64,
}

impl Kind {
    /// The mean rate, in hours a day of average flying.
    pub(super) fn hours_per_day(self) -> f64 {
        self.shape / self.exposure_days
    }
}

/// How fast hours come, and how sure that is: plain numbers, small enough to keep, out of which
/// [`Ahead`](super::forecast::Ahead) tells the days.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rate {
    /// The day of the last reading, from which everything is counted.
    pub last: NaiveDate,
    /// How many stretches between readings it was learnt from.
    pub gaps: u32,
    /// How many hours usually come at once.
    pub lump_hours: f64,
    /// Private, club and school.
    pub kinds: [Kind; 3],
    /// How much is flown in each month; their mean is 1.
    pub months: Months,
}

impl Rate {
    /// Learns from readings, in any order; of those of one day the last given counts.
    ///
    /// # Errors
    /// [`CannotSay::NoReading`] and [`CannotSay::MeterDecreases`].
    pub fn learn(
        readings: &[Reading],
        hemisphere: Hemisphere,
        owner: Owner,
    ) -> Result<Self, CannotSay> {
        let readings = one_a_day(readings);
        let last = readings.last().ok_or(CannotSay::NoReading)?.on;
        let gaps = gaps(&readings, last)?;
        let count = u32::try_from(gaps.len()).unwrap_or(u32::MAX);
        let usual_months = hemisphere.months();
        let mut rate = Self {
            last,
            gaps: count,
            lump_hours: LUMP_HOURS,
            kinds: [Kind::default(); 3],
            months: usual_months,
        };
        let days: f64 = gaps.iter().map(|gap| gap.days).sum();
        let hours: f64 = gaps.iter().map(|gap| gap.hours).sum();
        let mut per_day = (hours / days.max(1.0)).max(1.0 / 365.0);
        for pass in 1..=PASSES {
            rate.lump_hours = lump_hours(&gaps, &rate.months, per_day);
            rate.kinds = kinds(&gaps, &rate, owner.usual());
            per_day = rate.hours_per_day();
            if count >= OWN_READINGS_MIN && pass < PASSES {
                rate.months = own_months(&gaps, &rate, &usual_months, per_day);
            }
        }
        Ok(rate)
    }

    /// What it rests on.
    #[must_use]
    pub const fn basis(&self) -> Basis {
        match self.gaps {
            0 => Basis::PriorOnly,
            1..OWN_READINGS_MIN => Basis::FewReadings,
            _ => Basis::OwnReadings,
        }
    }

    /// The mean rate in hours a year. A forecast is more than this: it must never be shown as one.
    #[must_use]
    pub fn hours_per_year(&self) -> f64 {
        self.hours_per_day() * YEAR_DAYS
    }

    fn hours_per_day(&self) -> f64 {
        self.kinds.iter().map(|kind| kind.weight * kind.hours_per_day()).sum()
    }
}

/// A stretch between two readings.
struct Gap {
    days: f64,
    /// From its middle to the last reading.
    age_days: f64,
    by_month: Months,
    hours: f64,
}

impl Gap {
    /// How many days of average flying it held.
    fn exposure_days(&self, months: &Months) -> f64 {
        let seasonal: f64 =
            self.by_month.iter().zip(months).map(|(days, factor)| days * factor).sum();
        seasonal.max(DAY_EXPOSURE_MIN * self.days)
    }
}

/// The readings by day, the last of each day. A change of meter on a day stays known.
fn one_a_day(readings: &[Reading]) -> Vec<Reading> {
    let mut sorted = readings.to_vec();
    sorted.sort_by_key(|reading| reading.on);
    sorted.dedup_by(|later, kept| {
        let same_day = later.on == kept.on;
        if same_day {
            let meter = match (kept.meter, later.meter) {
                (meter, Meter::Same) | (Meter::Same, meter) => meter,
                // Changed twice in a day: what the meter between them counted is not known.
                _ => Meter::New,
            };
            *kept = Reading { meter, ..*later };
        }
        same_day
    });
    sorted
}

/// The stretches whose hours are known.
fn gaps(readings: &[Reading], last: NaiveDate) -> Result<Vec<Gap>, CannotSay> {
    let mut gaps = Vec::with_capacity(readings.len());
    for (before, after) in readings.iter().zip(readings.iter().skip(1)) {
        let span = |from: Hours, to: Hours| decimal_hours(to) - decimal_hours(from);
        let (first, second) = match after.meter {
            Meter::Same => (span(before.hours, after.hours), 0.0),
            Meter::New => continue,
            Meter::Replaced { old_final, new_start } => {
                (span(before.hours, old_final), span(new_start, after.hours))
            }
        };
        if first < 0.0 || second < 0.0 {
            return Err(CannotSay::MeterDecreases { on: after.on });
        }
        let days = days_between(before.on, after.on);
        gaps.push(Gap {
            days: real(days),
            age_days: real(days_between(after.on, last)) + real(days) / 2.0,
            by_month: days_by_month(before.on, after.on),
            hours: first + second,
        });
    }
    Ok(gaps)
}

/// How many hours usually come at once: how far the stretches scatter about the rate, steadied.
fn lump_hours(gaps: &[Gap], months: &Months, per_day: f64) -> f64 {
    let scatter = |gap: &Gap| {
        let expected = per_day * gap.exposure_days(months);
        (gap.hours - expected).powi(2) / expected
    };
    let usual = LUMP_HOURS + LUMP_WEEKS * 7.0 * per_day;
    let freedom = real(gaps.len().saturating_sub(1));
    (LUMP_READINGS * usual + gaps.iter().map(scatter).sum::<f64>()) / (LUMP_READINGS + freedom)
}

/// What the stretches say on the assumption of each kind of owner, and how likely each kind then is.
fn kinds(gaps: &[Gap], rate: &Rate, usual: [Usual; 3]) -> [Kind; 3] {
    let (mut lumps, mut exposure) = (0.0, 0.0);
    for gap in gaps {
        let weight = 0.5_f64.powf(gap.age_days / HALF_LIFE_DAYS);
        lumps += weight * gap.hours / rate.lump_hours;
        exposure += weight * gap.exposure_days(&rate.months) / rate.lump_hours;
    }
    let kinds = usual.map(|usual| Kind {
        weight: usual.weight,
        shape: usual.shape + lumps,
        exposure_days: usual.exposure_days() + exposure,
    });
    // The logarithm of how likely these readings are for each kind. Subtracting the largest keeps its
    // exponential from overflowing.
    let mut likely = [0.0; 3];
    for (likely, (usual, kind)) in likely.iter_mut().zip(usual.iter().zip(kinds)) {
        *likely = ln_gamma(kind.shape) - ln_gamma(usual.shape)
            + usual.shape * usual.exposure_days().ln()
            - kind.shape * kind.exposure_days.ln();
    }
    let told = likely.iter().zip(usual).filter(|(_, usual)| usual.weight > 0.0);
    let most = told.map(|it| *it.0).fold(f64::MIN, f64::max);
    let mut weighed = kinds;
    for (kind, likely) in weighed.iter_mut().zip(likely) {
        if kind.weight > 0.0 {
            kind.weight *= (likely - most).exp();
        }
    }
    let total: f64 = weighed.iter().map(|kind| kind.weight).sum();
    weighed.map(|kind| Kind { weight: kind.weight / total, ..kind })
}

/// The aircraft's own month factors, drawn towards the usual ones by as much as its hours leave open.
fn own_months(gaps: &[Gap], rate: &Rate, usual: &Months, per_day: f64) -> Months {
    let (mut flown, mut expected) = ([0.0; 12], [0.0; 12]);
    for gap in gaps {
        let seasonal: f64 =
            gap.by_month.iter().zip(rate.months).map(|(days, factor)| days * factor).sum();
        let months = gap.by_month.iter().zip(rate.months);
        for ((flown, expected), (days, factor)) in flown.iter_mut().zip(&mut expected).zip(months) {
            *flown += gap.hours * days * factor / seasonal;
            *expected += per_day * days;
        }
    }
    let mut own = *usual;
    for ((own, flown), expected) in own.iter_mut().zip(flown).zip(expected) {
        let prior = SEASON_LUMPS * rate.lump_hours;
        *own *= (prior + flown) / (prior + *own * expected);
    }
    let mean = own.iter().sum::<f64>() / 12.0;
    own.map(|factor| factor / mean)
}
