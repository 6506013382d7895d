//! The statistical screen of a group: is the value furthest from the others further than chance explains?
//!
//! The cut-offs are for one false alarm in twenty groups, whatever their size. Those of the fleet's scatter and of the
//! median deviation have no closed form for small groups; they were simulated (`NumPy` 2.4.6, seed 20261126, 400 000
//! normal groups of each size), and agree with the published 7.9 (n = 5) and 3.8 (n = 30) of the usual rule where the
//! customary 3.5 raises 17 false alarms in 100 groups of four.

use super::super::real;
use super::super::special::student_t_quantile;

/// Of |value - median| in units of the fleet's sigma, for 3 to 30 values.
const FLEET_CUTS: [f64; 28] = [
    2.505, 2.514, 2.688, 2.696, 2.790, 2.791, 2.859, 2.865, 2.912, 2.922, 2.953, 2.967, 2.991,
    3.005, 3.027, 3.037, 3.058, 3.064, 3.080, 3.093, 3.107, 3.117, 3.123, 3.136, 3.150, 3.155,
    3.168, 3.175,
];
/// Of |value - median| in units of 1.4826 times the median deviation, for 8 to 30 values.
const ROBUST_CUTS: [f64; 23] = [
    4.90, 5.09, 4.59, 4.69, 4.37, 4.43, 4.22, 4.28, 4.13, 4.17, 4.05, 4.09, 3.99, 4.02, 3.95, 3.97,
    3.92, 3.94, 3.89, 3.91, 3.86, 3.88, 3.84,
];
/// A fleet's scatter counts with at least this many degrees of freedom.
const FREEDOM_MIN: usize = 20;
/// From this many values on, the median deviation is a fair measure of scatter.
const ROBUST_MIN: usize = 8;
/// One false alarm in twenty groups.
const ALPHA: f64 = 0.05;
/// The median deviation of a normal distribution in units of sigma.
const MAD_OF_SIGMA: f64 = 0.674_489_750_196_081_7;
/// Below this share of the values, a scatter is nothing but rounding.
const ROUNDING: f64 = 1e-13;

/// How much values of one kind scatter within engines of the fleet.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FleetScatter {
    /// The pooled standard deviation within engines.
    pub sigma: f64,
    /// Its degrees of freedom; fewer than 20 are too few to be used.
    pub freedom: usize,
}

/// How a group was screened.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Method {
    /// Against the fleet's scatter: finds one error of five sigma in 95 groups of 100, from three values on.
    Fleet,
    /// Against the group's own median deviation: from eight values on, and not if more than half are equal.
    Robust,
    /// Grubbs's test, where neither can be used.
    Grubbs,
    /// Not at all: fewer than three values, or no scatter.
    None,
}

/// What a screen found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Screen {
    /// How it was done.
    pub method: Method,
    /// How far the furthest value is from the others, in units of scatter.
    pub statistic: Option<f64>,
    /// What that exceeds in one group of twenty by chance.
    pub critical: Option<f64>,
    /// Which value to look at again; one at a time.
    pub flagged: Option<usize>,
    /// Nothing is flagged, and so few values say nothing: only limits and range count.
    pub too_few: bool,
}

/// The pooled scatter of groups, one group an engine; `None` unless some group has two values that differ.
#[must_use]
pub fn pooled(groups: &[Vec<f64>]) -> Option<FleetScatter> {
    let (mut squares, mut freedom) = (0.0, 0);
    for (group, many) in groups.iter().map(|group| (group, group.len())) {
        if let Some((_, Some(sd))) = mean_and_sd(group) {
            squares += sd * sd * (real(many) - 1.0);
            freedom += many - 1;
        }
    }
    let sigma = (squares / real(freedom)).sqrt();
    sigma.is_normal().then_some(FleetScatter { sigma, freedom })
}

/// Grubbs's test of the value furthest from the mean.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Grubbs {
    /// The mean.
    pub mean: f64,
    /// The standard deviation; 0 if all are equal.
    pub sd: f64,
    /// The distance of the furthest value in standard deviations; `None` if all are equal.
    pub g: Option<f64>,
    /// What it exceeds by chance with probability alpha.
    pub critical: f64,
    /// Which value that is.
    pub index: usize,
}

impl Grubbs {
    /// Whether the furthest value is further than chance explains.
    #[must_use]
    pub fn is_outlier(&self) -> bool {
        self.g.is_some_and(|g| g > self.critical)
    }
}

/// (n - 1)/√n · √(t²/(n - 2 + t²)), t at 1 - alpha/n one-sided or 1 - alpha/2n: NIST/SEMATECH e-Handbook 1.3.5.17.1.
/// `None` for fewer than three values, or alpha outside 1e-9 to 0.5.
#[must_use]
pub fn grubbs_critical(n: usize, alpha: f64, two_sided: bool) -> Option<f64> {
    if n < 3 || !(1e-9..=0.5).contains(&alpha) {
        return None;
    }
    let n = real(n);
    let sides = if two_sided { 2.0 } else { 1.0 };
    let t = student_t_quantile(1.0 - alpha / (sides * n), n - 2.0);
    Some((n - 1.0) / n.sqrt() * (t * t / (n - 2.0 + t * t)).sqrt())
}

/// Grubbs's test; `None` as for [`grubbs_critical`]. For values between -1e9 and 1e9.
#[must_use]
pub fn grubbs(values: &[f64], alpha: f64, two_sided: bool) -> Option<Grubbs> {
    let critical = grubbs_critical(values.len(), alpha, two_sided)?;
    let (mean, sd) = mean_and_sd(values)?;
    let sd = sd.unwrap_or_default();
    let (index, distance) = furthest(values, mean)?;
    let g = (sd > 0.0).then(|| distance / sd);
    Some(Grubbs { mean, sd, g, critical, index })
}

/// The middle of a group and its median deviation.
#[derive(Clone, Debug, PartialEq)]
pub struct Robust {
    /// The median.
    pub median: f64,
    /// The median of the distances from it.
    pub mad: f64,
    /// The same as a standard deviation, if the values are normal: 1.4826 times it.
    pub mad_sigma: f64,
    /// Each value's distance in these units; `None` if more than half are equal.
    pub z: Option<Vec<f64>>,
}

/// The median and the median deviation; `None` without values. For values between -1e9 and 1e9.
#[must_use]
pub fn robust(values: &[f64]) -> Option<Robust> {
    let middle = median(values)?;
    let away: Vec<f64> = values.iter().map(|value| (value - middle).abs()).collect();
    let mad = median(&away)?;
    let mad_sigma = mad / MAD_OF_SIGMA;
    let z = (mad > rounding(values))
        .then(|| values.iter().map(|value| (value - middle) / mad_sigma).collect());
    Some(Robust { median: middle, mad, mad_sigma, z })
}

/// What is no more than rounding among these values.
fn rounding(values: &[f64]) -> f64 {
    values.iter().map(|value| value.abs()).fold(0.0, f64::max) * ROUNDING
}

fn median(values: &[f64]) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let half = sorted.len() / 2;
    let upper = *sorted.get(half)?;
    if sorted.len() % 2 == 1 {
        return Some(upper);
    }
    sorted.get(half.checked_sub(1)?).map(|lower| f64::midpoint(*lower, upper))
}

/// The mean and, of two values or more, the standard deviation: 0 if it is nothing but rounding.
pub(super) fn mean_and_sd(values: &[f64]) -> Option<(f64, Option<f64>)> {
    let n = real(values.len());
    if values.is_empty() {
        return None;
    }
    let mean = values.iter().sum::<f64>() / n;
    let squares: f64 = values.iter().map(|value| (value - mean) * (value - mean)).sum();
    let sd = (values.len() > 1).then(|| (squares / (n - 1.0)).sqrt());
    Some((mean, sd.map(|sd| if sd > rounding(values) { sd } else { 0.0 })))
}

/// The value furthest from a middle, and how far that is; of several the first.
fn furthest(values: &[f64], middle: f64) -> Option<(usize, f64)> {
    let far = values.iter().map(|value| (value - middle).abs()).enumerate();
    far.reduce(|most, next| if next.1 > most.1 { next } else { most })
}

/// A cut-off for so many values, from a table that begins at `first`.
fn cut(table: &[f64], first: usize, n: usize) -> Option<f64> {
    table.get(n.checked_sub(first)?).copied()
}

/// Screens a group: by the fleet's scatter, else by its own.
pub(super) fn screen(
    values: &[f64],
    fleet: Option<FleetScatter>,
    resolution: Option<f64>,
) -> Screen {
    let n = values.len();
    let none = Screen {
        method: Method::None,
        statistic: None,
        critical: None,
        flagged: None,
        too_few: n < ROBUST_MIN,
    };
    let Some(found) = robust(values).filter(|_| n >= 3) else { return none };
    let Some((index, distance)) = furthest(values, found.median) else { return none };
    let result = |method, statistic: f64, critical: f64, index, too_few: bool| {
        let flagged = (statistic > critical).then_some(index);
        let (statistic, critical) = (Some(statistic), Some(critical));
        Screen { method, statistic, critical, flagged, too_few: too_few && flagged.is_none() }
    };
    if let Some(scatter) = fleet.filter(|it| it.freedom >= FREEDOM_MIN)
        && let Some(critical) = cut(&FLEET_CUTS, 3, n)
    {
        return result(Method::Fleet, distance / scatter.sigma, critical, index, false);
    }
    if let Some(critical) = cut(&ROBUST_CUTS, ROBUST_MIN, n)
        && found.z.is_some()
    {
        return result(Method::Robust, distance / found.mad_sigma, critical, index, false);
    }
    // Grubbs's test calls a single step of the gauge an outlier where all others agree to the last digit.
    let one_step = resolution.is_some_and(|step| distance <= step * 1.000_001);
    match grubbs(values, ALPHA, true) {
        Some(test) if !one_step => match test.g {
            Some(g) => result(Method::Grubbs, g, test.critical, test.index, n < ROBUST_MIN),
            None => none,
        },
        _ => none,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const FLEET: FleetScatter = FleetScatter { sigma: 0.5, freedom: 20 };

    // 2.51 sigma is the cut-off for four values: 1.3 off is 2.6 sigma, 1.2 off is 2.4.
    #[test]
    fn the_fleets_scatter_judges_even_three_values() {
        let far = screen(&[25.0, 25.2, 26.4, 25.0], Some(FLEET), None);
        assert_eq!((far.method, far.flagged, far.too_few), (Method::Fleet, Some(2), false));
        let near = screen(&[25.0, 25.0, 26.2, 25.0], Some(FLEET), None);
        assert_eq!((near.flagged, near.too_few), (None, false));
        let thin = FleetScatter { freedom: 19, ..FLEET };
        assert_eq!(screen(&[25.0, 25.2, 26.4, 25.0], Some(thin), None).method, Method::Grubbs);
    }

    #[test]
    fn a_few_values_alone_are_too_few_unless_one_stands_out() {
        let calm = screen(&[25.1, 24.8, 25.0, 25.3], None, None);
        assert_eq!((calm.method, calm.flagged, calm.too_few), (Method::Grubbs, None, true));
        let loud = screen(&[25.0, 25.1, 25.05, 39.0, 25.02], None, None);
        assert_eq!((loud.method, loud.flagged, loud.too_few), (Method::Grubbs, Some(3), false));
        let two = screen(&[25.0, 35.0], None, None);
        assert_eq!((two.method, two.flagged, two.too_few), (Method::None, None, true));
    }

    // Two wrong values of eight: Grubbs misses both, the median deviation finds one.
    #[test]
    fn from_eight_values_on_two_errors_do_not_hide_each_other() {
        let values = [25.0, 24.7, 25.2, 24.9, 25.1, 25.3, 33.0, 33.1];
        let found = screen(&values, None, None);
        assert_eq!((found.method, found.flagged), (Method::Robust, Some(7)));
        assert!(!grubbs(&values, 0.05, true).expect("eight values").is_outlier());
    }

    #[test]
    fn equal_values_have_no_outlier_and_a_step_of_the_gauge_is_none() {
        let equal = screen(&[0.1; 9], None, None);
        assert_eq!((equal.method, equal.flagged, equal.too_few), (Method::None, None, false));
        let mut step = [25.0; 9];
        step[4] = 25.1;
        assert_eq!(screen(&step, None, Some(0.1)).flagged, None);
        assert_eq!(screen(&step, None, Some(0.01)).flagged, Some(4));
        assert_eq!(screen(&step, None, None).flagged, Some(4));
    }

    // By hand: {1, 3} has variance 2, {10, 10, 13} has 3; pooled (2 + 2·3)/3.
    #[test]
    fn scatter_is_pooled_within_groups() {
        let found = pooled(&[vec![1.0, 3.0], vec![10.0, 10.0, 13.0], vec![7.0]]).expect("scatter");
        assert!((found.sigma - (8.0_f64 / 3.0).sqrt()).abs() < 1e-12, "{found:?}");
        assert_eq!(found.freedom, 3);
        assert_eq!(pooled(&[vec![1.0], vec![2.0]]), None);
    }
}
