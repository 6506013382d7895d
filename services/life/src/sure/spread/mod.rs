//! Values of one kind beside each other, cylinder by cylinder or stud by stud: is one impossible, outside its limit,
//! or unlike the others?
//!
//! In this order, and the later steps never overrule the earlier:
//!
//! 1. what no gauge can show is impossible; a slip of the decimal point or of the unit is suggested;
//! 2. the published limit, with the gauge's uncertainty U: inside by more than U is inside, outside by more than U is
//!    outside, between the two nobody can decide: measure again;
//! 3. the spread of the group against the published spread, if there is one;
//! 4. the statistical screen: each value against the middle of its group, in units of how much such values scatter.
//!
//! The screen marks one value at a time and deletes none; a person decides. Which screen depends on what is known
//! ([`Method`]). With fewer than eight values and no scatter known from the fleet, a screen finds little (one value
//! five sigma off: 9 in 100 with three values, 52 with six; two such values hide each other), so a group in which it
//! finds nothing is "too few to judge", not "alike".

mod screen;

pub use screen::{
    FleetScatter, Grubbs, Method, Robust, Screen, grubbs, grubbs_critical, pooled, robust,
};

use crate::decimal::Decimal;
use std::fmt;
use std::ops::RangeInclusive;

/// The largest value, either way, that a sum is made with.
const VALUE_MAX: f64 = 1e9;
/// The most values of a group.
pub const VALUES_MAX: usize = 1000;
/// Factors by which a value may have slipped: the decimal point, inches for millimetres, psi for bar.
const SLIPS: [(f64, Slip); 6] = [
    (10.0, Slip::DecimalPoint),
    (0.1, Slip::DecimalPoint),
    (25.4, Slip::Inches),
    (1.0 / 25.4, Slip::Inches),
    (14.503_77, Slip::PsiForBar),
    (1.0 / 14.503_77, Slip::PsiForBar),
];

/// What is known about a group of values besides the values.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Known {
    /// What a gauge can show at all.
    pub possible: Option<RangeInclusive<f64>>,
    /// The published lower limit.
    pub low: Option<f64>,
    /// The published upper limit.
    pub high: Option<f64>,
    /// The gauge's expanded uncertainty U; 0 if it is not known.
    pub gauge_u: f64,
    /// The gauge's resolution.
    pub resolution: Option<f64>,
    /// The published spread.
    pub spread_max: Option<SpreadMax>,
    /// How much such values scatter within engines of the fleet.
    pub fleet: Option<FleetScatter>,
}

/// A published limit of the spread in a group.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum SpreadMax {
    /// Largest less smallest.
    Range(f64),
    /// Largest over smallest.
    Ratio(f64),
    /// Standard deviation in percent of the mean.
    CvPercent(f64),
}

/// What a value is, by itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Verdict {
    /// No gauge shows this; the slip that would explain it, if one does.
    Impossible(Option<Slip>),
    /// Inside the published limits by more than the gauge's uncertainty.
    Inside,
    /// Outside by more than that.
    Outside,
    /// So close to a limit that this gauge cannot decide: measure again.
    CannotDecide,
    /// There is no published limit.
    NoLimit,
}

/// How a value may have gone wrong on its way to the sheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Slip {
    /// The decimal point is one place off.
    DecimalPoint,
    /// Inches and millimetres.
    Inches,
    /// Psi and bar.
    PsiForBar,
}

/// The spread of a group.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread {
    /// Largest less smallest.
    pub range: f64,
    /// Largest over smallest; `None` unless all are above zero.
    pub max_over_min: Option<f64>,
    /// Standard deviation in percent of the mean; `None` for a single value or a mean of zero.
    pub cv_percent: Option<f64>,
}

/// A group of values, judged.
#[derive(Clone, Debug, PartialEq)]
pub struct Judged {
    /// Each value by itself, in order.
    pub verdicts: Vec<Verdict>,
    /// The spread of the possible values; `None` if there is none.
    pub spread: Option<Spread>,
    /// Whether that is within the published spread; `None` if it cannot be told or none is published.
    pub spread_within: Option<bool>,
    /// The screen of the possible values; its index is that of the group.
    pub screen: Screen,
}

/// Why a group cannot be judged. The message says what would be right.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum SpreadError {
    /// A value out of range.
    Value,
    /// Too many values.
    TooMany,
    /// A limit, uncertainty, resolution or scatter that makes no sense.
    Known,
}

impl SpreadError {
    /// The word used in the API.
    #[must_use]
    pub const fn slug(self) -> &'static str {
        match self {
            Self::Value => "value-out-of-range",
            Self::TooMany => "too-many",
            Self::Known => "limit-out-of-range",
        }
    }
}

impl fmt::Display for SpreadError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Value => "a value is between -1e9 and 1e9",
            Self::TooMany => "a group has at most 1000 values",
            Self::Known => "limits are between -1e9 and 1e9, the lower not above the upper; an uncertainty is not negative; a resolution and a scatter are above zero",
        })
    }
}

impl std::error::Error for SpreadError {}

fn sensible(value: f64) -> bool {
    (-VALUE_MAX..=VALUE_MAX).contains(&value)
}

impl Known {
    fn check(&self) -> Result<(), SpreadError> {
        let limits = [self.low, self.high].into_iter().flatten();
        let bounds = self.possible.iter().flat_map(|it| [*it.start(), *it.end()]);
        let ordered = self.low.zip(self.high).is_none_or(|(low, high)| low <= high)
            && self.possible.as_ref().is_none_or(|it| !it.is_empty());
        let above_zero = |value: Option<f64>| value.is_none_or(|it| it >= 1e-12 && sensible(it));
        let fine = limits.chain(bounds).all(sensible)
            && ordered
            && (0.0..=VALUE_MAX).contains(&self.gauge_u)
            && above_zero(self.resolution)
            && above_zero(self.fleet.map(|it| it.sigma));
        if fine { Ok(()) } else { Err(SpreadError::Known) }
    }

    fn verdict(&self, value: f64) -> Verdict {
        if let Some(possible) = &self.possible
            && !possible.contains(&value)
        {
            let slip = SLIPS.iter().find(|(factor, _)| possible.contains(&(value * factor)));
            return Verdict::Impossible(slip.map(|(_, slip)| *slip));
        }
        let above = self.low.map(|low| value - low);
        let below = self.high.map(|high| high - value);
        match above.into_iter().chain(below).reduce(f64::min) {
            None => Verdict::NoLimit,
            // On the limit is within it, as far as the gauge can tell.
            Some(margin) if margin >= self.gauge_u => Verdict::Inside,
            Some(margin) if margin < -self.gauge_u => Verdict::Outside,
            Some(_) => Verdict::CannotDecide,
        }
    }
}

/// The spread of values; `None` without any.
#[must_use]
pub fn spread(values: &[f64]) -> Option<Spread> {
    let low = values.iter().copied().reduce(f64::min)?;
    let high = values.iter().copied().reduce(f64::max)?;
    let (mean, sd) = screen::mean_and_sd(values)?;
    let finite = |value: f64| value.is_finite().then_some(value);
    Some(Spread {
        range: high - low,
        max_over_min: (low > 0.0).then(|| high / low).and_then(finite),
        cv_percent: sd.map(|sd| 100.0 * sd / mean.abs()).and_then(finite),
    })
}

/// Judges a group of values.
///
/// # Errors
/// [`SpreadError`] for values or limits that make no sense.
pub fn judge(values: &[f64], known: &Known) -> Result<Judged, SpreadError> {
    if values.len() > VALUES_MAX {
        return Err(SpreadError::TooMany);
    }
    if !values.iter().all(|value| sensible(*value)) {
        return Err(SpreadError::Value);
    }
    known.check()?;
    let verdicts: Vec<Verdict> = values.iter().map(|value| known.verdict(*value)).collect();
    let possible = || {
        let numbered = values.iter().enumerate().zip(&verdicts);
        numbered.filter(|(_, it)| !matches!(it, Verdict::Impossible(_))).map(|(value, _)| value)
    };
    let kept: Vec<f64> = possible().map(|(_, value)| *value).collect();
    let places: Vec<usize> = possible().map(|(place, _)| place).collect();
    let mut screen = screen::screen(&kept, known.fleet, known.resolution);
    screen.flagged = screen.flagged.and_then(|at| places.get(at).copied());
    let spread = spread(&kept);
    let spread_within = spread.zip(known.spread_max).and_then(|(found, most)| match most {
        SpreadMax::Range(most) => Some(found.range <= most),
        SpreadMax::Ratio(most) => found.max_over_min.map(|ratio| ratio <= most),
        SpreadMax::CvPercent(most) => found.cv_percent.map(|cv| cv <= most),
    });
    Ok(Judged { verdicts, spread, spread_within, screen })
}

/// Which of some readings is unlike all the others, by how these scatter; `None` if none is, or so few that nobody
/// can tell. One at a time.
#[must_use]
pub fn unlike_the_others(readings: &[Decimal]) -> Option<usize> {
    let values: Result<Vec<f64>, _> = readings.iter().map(|it| it.to_string().parse()).collect();
    judge(&values.ok()?, &Known::default()).ok()?.screen.flagged
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn verdicts(values: &[f64], known: &Known) -> Vec<Verdict> {
        judge(values, known).expect("sensible").verdicts
    }

    // Limit 10 with U 0.2, by hand: 9.8 is inside by just U, 10.2 is not outside by more than U.
    #[test]
    fn a_limit_is_widened_by_the_gauge() {
        let known = Known { low: Some(9.0), high: Some(10.0), gauge_u: 0.25, ..Known::default() };
        assert_eq!(
            verdicts(&[9.5, 9.75, 9.9, 10.25, 10.5, 8.5, 9.25], &known),
            [
                Verdict::Inside,
                Verdict::Inside,
                Verdict::CannotDecide,
                Verdict::CannotDecide,
                Verdict::Outside,
                Verdict::Outside,
                Verdict::Inside,
            ]
        );
        assert_eq!(verdicts(&[9.5], &Known::default()), [Verdict::NoLimit]);
    }

    // 8.1 bar is 117.5 psi; 1 inch is 25.4 mm.
    #[test]
    fn the_impossible_is_rejected_first_with_the_slip_that_explains_it() {
        let bar = Known { possible: Some(5.0..=11.0), low: Some(7.0), ..Known::default() };
        assert_eq!(
            verdicts(&[8.1, 81.0, 0.81, 117.5, 1e6], &bar),
            [
                Verdict::Inside,
                Verdict::Impossible(Some(Slip::DecimalPoint)),
                Verdict::Impossible(Some(Slip::DecimalPoint)),
                Verdict::Impossible(Some(Slip::PsiForBar)),
                Verdict::Impossible(None),
            ]
        );
        let bore = Known { possible: Some(67.0..=68.0), ..Known::default() };
        assert_eq!(verdicts(&[2.658], &bore), [Verdict::Impossible(Some(Slip::Inches))]);
    }

    // The impossible value is no part of the group: without it 10, 11 and 12 spread over 2, 18 % of 11.
    #[test]
    fn the_spread_is_that_of_what_is_possible() {
        let known = Known {
            possible: Some(5.0..=20.0),
            spread_max: Some(SpreadMax::Range(1.5)),
            ..Known::default()
        };
        let judged = judge(&[10.0, 110.0, 11.0, 12.0], &known).expect("sensible");
        let spread = judged.spread.expect("three values");
        assert!((spread.range - 2.0).abs() < 1e-12, "{spread:?}");
        assert!((spread.max_over_min.expect("positive") - 1.2).abs() < 1e-12);
        assert!((spread.cv_percent.expect("three") - 100.0 / 11.0).abs() < 1e-12);
        assert_eq!(judged.spread_within, Some(false));
    }

    // The index is that of the whole group, with the impossible value counted.
    #[test]
    fn the_mark_stands_at_its_own_place() {
        let fleet = FleetScatter { sigma: 0.1, freedom: 40 };
        let known = Known { possible: Some(5.0..=20.0), fleet: Some(fleet), ..Known::default() };
        let judged = judge(&[110.0, 10.0, 10.1, 10.0, 12.0], &known).expect("sensible");
        assert_eq!(judged.screen.flagged, Some(4));
    }

    #[test]
    fn nonsense_is_refused() {
        let plain = Known::default();
        assert_eq!(judge(&[f64::NAN], &plain), Err(SpreadError::Value));
        assert_eq!(judge(&vec![1.0; 1001], &plain), Err(SpreadError::TooMany));
        for known in [
            Known { low: Some(2.0), high: Some(1.0), ..plain.clone() },
            Known { gauge_u: -1.0, ..plain.clone() },
            Known { resolution: Some(0.0), ..plain.clone() },
            Known { fleet: Some(FleetScatter { sigma: f64::NAN, freedom: 30 }), ..plain },
        ] {
            assert_eq!(judge(&[1.0], &known), Err(SpreadError::Known), "{known:?}");
        }
    }

    proptest! {
        #[test]
        fn no_figure_is_ever_nan_or_infinite(
            values in prop::collection::vec(
                prop_oneof![-1e9..1e9_f64, Just(0.0), Just(1e-300), Just(25.0), 24.9..25.1_f64], 0..12),
            resolution in prop::option::of(1e-12..1.0_f64),
            sigma in prop::option::of(1e-12..1e9_f64),
        ) {
            let fleet = sigma.map(|sigma| FleetScatter { sigma, freedom: 25 });
            let known = Known { resolution, fleet, ..Known::default() };
            let judged = judge(&values, &known).expect("sensible");
            let figures = judged.screen.statistic.into_iter().chain(judged.screen.critical)
                .chain(judged.spread.into_iter().flat_map(|it| {
                    [Some(it.range), it.max_over_min, it.cv_percent].into_iter().flatten()
                }));
            for figure in figures {
                prop_assert!(figure.is_finite(), "{judged:?}");
            }
        }
    }
}
