//! Whether one shop's gauge reads systematically high or low, for one quantity on one engine type.
//!
//! **Method.** A mixed model of all readings: an offset for each shop, one wear rate for the type, a rate of its own for
//! each engine around it (random), and a level of its own for each engine (fixed); by restricted maximum likelihood
//! (`model`). What speaks for it:
//!
//! - *the level is fixed, not random*: only readings of the same engine are compared. Had it been random, a shop whose
//!   customers fly in dust would look like a shop whose gauge reads high;
//! - *the rate is random*: two readings far apart say less about two gauges than two readings close together, by just
//!   as much as engines of this type differ in wear. Taking only neighbouring readings would throw the others away,
//!   and taking all alike would be too sure;
//! - it is in the libraries, so that it can be checked (`MixedLM` of statsmodels, in the tests).
//!
//! **Judging.** Each shop is held against the mean of the others. With m comparisons (one for each shop, one for two
//! shops) each is made at 5 %/m, so that when all gauges agree, at most one quantity in twenty raises any alarm. As
//! degrees of freedom counts, cautiously, the number of engines that a shop shares with others, less one; a shop that
//! shares fewer than [`SHARED_MIN`] is not judged. One bad gauge makes the good ones look off the other way, so the most
//! certain is taken out before the others are judged again, until none is left.
//!
//! Against each other is all that gauges can be held here: of two shops that differ, nothing tells which is right.
//! Leave out readings below the run-in hours, where wear is no line, and give an engine another number when the part
//! measured was changed.
//!
//! # Whether it holds
//!
//! Simulated fleets, seed 20261126 (`backtest -- shops`): wear that differs by 23 % between engines, two to six readings of
//! each, mostly at one shop. 1500 fleets a row for false alarms, the chance that any shop is blamed:
//!
//! | shops | engines | comparisons | any false alarm (at most 5 %) |
//! | ---: | ---: | ---: | ---: |
//! | 2 | 8 | 1 | 1.5 % |
//! | 2 | 20 | 1 | 3.1 % |
//! | 3 | 12 | 3 | 0.7 % |
//! | 3 | 30 | 3 | 2.5 % |
//! | 5 | 60 | 5 | 2.5 % |
//! | 5, one whose customers wear engines twice as fast | 60 | 5 | 2.1 % |
//!
//! and 400 a row for power, one gauge reading high by so many times its own scatter:
//!
//! | shops | engines | high by | found | another blamed besides |
//! | ---: | ---: | ---: | ---: | ---: |
//! | 3 | 30 | 2 | 99.3 % | 1.8 % |
//! | 5 | 60 | 1 | 79.5 % | 3.0 % |
//! | 5 | 60 | 2 | 100 % | 1.5 % |
//! | 5 | 150 | 1 | 100 % | 4.3 % |

mod model;

use super::special::student_t_quantile;
use model::{Effect, Unidentified};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

/// A shop is judged from so many engines on that were measured there and elsewhere.
pub const SHARED_MIN: usize = 5;
/// One quantity in twenty raises an alarm when all gauges agree.
const ALPHA: f64 = 0.05;
/// The most readings that are weighed; the first so many are.
pub const READINGS_MAX: usize = 20_000;
/// The most shops that are compared.
pub const SHOPS_MAX: usize = 50;

/// One reading of the quantity.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// Which shop.
    pub shop: u64,
    /// Which engine, with the part that was on it: readings of one number are of one part.
    pub engine: u64,
    /// Its hours, 0 to 100 000.
    pub hours: f64,
    /// The value, -1e9 to 1e9, at reference conditions.
    pub value: f64,
}

/// What the readings say about the shops.
#[derive(Clone, Debug, PartialEq)]
pub struct Agreement {
    /// Each shop, by its number.
    pub shops: Vec<Shop>,
    /// Among how many comparisons the 5 % are shared.
    pub comparisons: usize,
}

/// One shop.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shop {
    /// Its number.
    pub shop: u64,
    /// Its readings.
    pub readings: usize,
    /// Engines measured there and elsewhere.
    pub shared: usize,
    /// Its offset with all shops taken together, or why none can be told.
    pub together: Result<Offset, Cannot>,
    /// The same once every shop with a more certain alarm is taken out: the answer.
    pub answer: Result<Offset, Cannot>,
}

/// How much a shop reads above the others.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Offset {
    /// Its offset against the mean of the others: above zero it reads high.
    pub offset: f64,
    /// Its standard error.
    pub se: f64,
    /// The interval around it, so wide that all of them together hold 95 times in 100.
    pub low: f64,
    /// Its upper end.
    pub high: f64,
    /// How many other shops it was held against.
    pub others: usize,
}

/// What that means.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Verdict {
    /// It reads high.
    High,
    /// It reads low.
    Low,
    /// No difference is seen; the interval says how large one may be.
    NoneSeen,
}

impl Offset {
    fn new(effect: Effect, shared: usize, comparisons: usize, others: usize) -> Self {
        let freedom = super::real(shared.saturating_sub(1)).min(effect.freedom);
        let tail = ALPHA / (2.0 * super::real(comparisons.max(1)));
        let half = student_t_quantile(1.0 - tail, freedom) * effect.se;
        let (low, high) = (effect.offset - half, effect.offset + half);
        Self { offset: effect.offset, se: effect.se, low, high, others }
    }

    /// What the interval means.
    #[must_use]
    pub fn verdict(&self) -> Verdict {
        if self.low > 0.0 {
            Verdict::High
        } else if self.high < 0.0 {
            Verdict::Low
        } else {
            Verdict::NoneSeen
        }
    }

    /// How far the interval is from zero, in its half-widths: above 1 it is an alarm.
    fn certainty(&self) -> f64 {
        self.offset.abs() / ((self.high - self.low) / 2.0).max(f64::MIN_POSITIVE)
    }
}

/// For each shop the answer with all taken together, and the last.
type Answers = BTreeMap<u64, [Result<Offset, Cannot>; 2]>;

/// Why a shop cannot be judged.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Cannot {
    /// Fewer than five engines were measured there and at another shop.
    FewShared {
        /// How many were.
        engines: usize,
    },
    /// Every engine was at one shop first and at the other so many hours later: wear and gauge look the same.
    Confounded,
    /// The readings follow their lines without any scatter, or there are too few to tell it.
    NoScatter,
}

impl fmt::Display for Cannot {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::FewShared { engines } => write!(
                f,
                "cannot say: {engines} engines were measured here and at another shop, five are needed"
            ),
            Self::Confounded => f.write_str("cannot say: engines come to these shops always in the same order, so that wear and gauge look the same"),
            Self::NoScatter => f.write_str("cannot say: too few readings to tell how much they scatter"),
        }
    }
}

impl fmt::Display for Offset {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { offset, low, high, others, .. } = self;
        let than = if *others == 1 {
            "the other shop".to_owned()
        } else {
            format!("{others} other shops")
        };
        let size = offset.abs();
        match self.verdict() {
            Verdict::NoneSeen => write!(
                f,
                "no difference seen against {than}; it lies between {low:.3} and {high:.3}"
            ),
            verdict => {
                let way = if verdict == Verdict::High { "higher" } else { "lower" };
                let both = if *others == 1 {
                    "; which of the two is right, the readings do not tell"
                } else {
                    ""
                };
                write!(
                    f,
                    "reads {size:.3} {way} than {than} (between {low:.3} and {high:.3}){both}"
                )
            }
        }
    }
}

/// Compares the shops that took these readings. Readings that are out of range are left out.
#[must_use]
pub fn compare(readings: &[Reading]) -> Agreement {
    let sensible = |reading: &&Reading| {
        (0.0..=1e5).contains(&reading.hours) && (-1e9..=1e9).contains(&reading.value)
    };
    let readings: Vec<Reading> =
        readings.iter().filter(sensible).take(READINGS_MAX).copied().collect();
    let shops: BTreeSet<u64> =
        readings.iter().map(|reading| reading.shop).take(READINGS_MAX).collect();
    let shops: Vec<u64> = shops.into_iter().take(SHOPS_MAX).collect();
    let judged = judged(&readings, &shops);
    let groups = model::connected(&readings, &judged);
    let comparisons =
        groups.iter().map(|group| if group.len() == 2 { 1 } else { group.len() }).sum();
    let mut answers: Answers = BTreeMap::new();
    for group in groups {
        judge(&readings, group, comparisons, &mut answers);
    }
    let shops = shops.into_iter().map(|shop| {
        let shared = shared(&readings, shop, None);
        let few = [Err(Cannot::FewShared { engines: shared }); 2];
        let own = readings.iter().filter(|reading| reading.shop == shop).count();
        let [together, answer] = answers.get(&shop).copied().unwrap_or(few);
        Shop { shop, readings: own, shared, together, answer }
    });
    Agreement { shops: shops.collect(), comparisons }
}

/// Engines measured at a shop and at another; at one `among` these, if they are given.
fn shared(readings: &[Reading], shop: u64, among: Option<&[u64]>) -> usize {
    let here: BTreeSet<u64> =
        readings.iter().filter(|it| it.shop == shop).map(|it| it.engine).collect();
    let other =
        |it: &&Reading| it.shop != shop && among.is_none_or(|among| among.contains(&it.shop));
    let elsewhere: BTreeSet<u64> = readings.iter().filter(other).map(|it| it.engine).collect();
    here.intersection(&elsewhere).count()
}

/// The shops that share enough engines with others of these shops, when those that do not are left out in turn.
fn judged(readings: &[Reading], shops: &[u64]) -> Vec<u64> {
    let mut kept = shops.to_vec();
    loop {
        let enough = |shop: &&u64| shared(readings, **shop, Some(&kept)) >= SHARED_MIN;
        let next: Vec<u64> = kept.iter().filter(enough).copied().collect();
        if next.len() == kept.len() {
            return next;
        }
        kept = next;
    }
}

/// Judges the shops of one group against each other: the most certain alarm is taken out, and the rest judged again.
fn judge(readings: &[Reading], group: Vec<u64>, comparisons: usize, answers: &mut Answers) {
    let mut left = vec![group];
    while let Some(group) = left.pop() {
        let effects = match model::effects(readings, &group) {
            Ok(effects) => effects,
            Err(why) => {
                let why = match why {
                    Unidentified::Confounded => Cannot::Confounded,
                    Unidentified::NoScatter => Cannot::NoScatter,
                };
                for shop in group {
                    answers.entry(shop).or_insert([Err(why); 2]);
                }
                continue;
            }
        };
        let mut worst: Option<(u64, Offset)> = None;
        for (shop, effect) in group.iter().zip(effects) {
            let shared = shared(readings, *shop, Some(&group));
            let offset = Offset::new(effect, shared, comparisons, group.len() - 1);
            answers.entry(*shop).or_insert([Ok(offset); 2])[1] = Ok(offset);
            if offset.verdict() != Verdict::NoneSeen
                && worst.as_ref().is_none_or(|(_, most)| offset.certainty() > most.certainty())
            {
                worst = Some((*shop, offset));
            }
        }
        if let Some((worst, _)) = worst.filter(|_| group.len() > 2) {
            let rest: Vec<u64> = group.into_iter().filter(|shop| *shop != worst).collect();
            // What no longer shares enough keeps the answer that it has.
            left.extend(model::connected(readings, &judged(readings, &rest)));
        }
    }
}

#[cfg(test)]
mod tests;
