//! Straight lines through readings: least squares with its uncertainty, and two that no single reading can bend.

use super::real;
use super::special::normal_quantile;

/// A point: hours, and the value measured at them.
pub type Point = (f64, f64);

/// A straight line, value = intercept + slope × hours.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// The value at no hours.
    pub intercept: f64,
    /// How much the value grows in an hour.
    pub slope: f64,
}

impl Line {
    /// Its value at some hours.
    #[must_use]
    pub fn at(self, hours: f64) -> f64 {
        self.intercept + self.slope * hours
    }
}

/// The edge of a line's uncertainty: the line plus or minus a number of standard deviations.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Edge {
    /// The line.
    pub line: Line,
    /// The hours at which the line is surest.
    pub centre_hours: f64,
    /// The variance of the line there.
    pub variance: f64,
    /// The variance of its slope.
    pub slope_variance: f64,
    /// How many standard deviations the edge is off the line; negative for the lower edge.
    pub reach: f64,
}

impl Edge {
    /// Its value at some hours.
    #[must_use]
    pub fn at(&self, hours: f64) -> f64 {
        let aside = hours - self.centre_hours;
        self.line.at(hours)
            + self.reach * (self.variance + aside * aside * self.slope_variance).sqrt()
    }

    /// Whether all its numbers are; a fleet's that fit no readings may be too large or too small to reckon with.
    pub(super) fn is_finite(&self) -> bool {
        let Self { line, centre_hours, variance, slope_variance, reach } = *self;
        [line.intercept, line.slope, centre_hours, variance, slope_variance, reach]
            .iter()
            .all(|number| number.abs() < 1e60)
    }
}

/// The line of least squares and how uncertain it is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fit {
    /// The line.
    pub line: Line,
    /// How many points it goes through.
    pub count: usize,
    /// The mean of the hours.
    pub hours_mean: f64,
    /// The sum of the squared distances of the hours from their mean.
    pub hours_squares: f64,
    /// The sum of the squared distances of the values from their mean.
    pub values_squares: f64,
    /// The sum of the squared distances of the values from the line.
    pub residual_squares: f64,
}

impl Fit {
    /// The line of least squares; `None` for fewer than two points or all at the same hours.
    #[must_use]
    pub fn of(points: &[Point]) -> Option<Self> {
        let count = points.len();
        let mean = |of: fn(&Point) -> f64| points.iter().map(of).sum::<f64>() / real(count);
        let (hours_mean, value_mean) = (mean(|it| it.0), mean(|it| it.1));
        let centred = points.iter().map(|(hours, value)| (hours - hours_mean, value - value_mean));
        let sum = |of: fn(Point) -> f64| centred.clone().map(of).sum::<f64>();
        let hours_squares = sum(|(hours, _)| hours * hours);
        let slope = sum(|(hours, value)| hours * value) / hours_squares;
        let line = Line { intercept: value_mean - slope * hours_mean, slope };
        let residual_squares = centred.map(|(hours, value)| (value - slope * hours).powi(2)).sum();
        let values_squares = points.iter().map(|(_, value)| (value - value_mean).powi(2)).sum();
        let fit = Self { line, count, hours_mean, hours_squares, values_squares, residual_squares };
        // Hours that differ by rounding alone have no slope either.
        let spread = hours_squares > 1e-12 * (1.0 + hours_mean * hours_mean);
        let finite = line.intercept.is_finite() && (residual_squares + values_squares).is_finite();
        (count >= 2 && spread && finite).then_some(fit)
    }

    /// Degrees of freedom of the scatter: two points leave none.
    #[must_use]
    pub fn freedom(&self) -> f64 {
        real(self.count.saturating_sub(2))
    }

    /// The standard deviation of the values about the line; zero for two points.
    #[must_use]
    pub fn residual_sd(&self) -> f64 {
        (self.residual_squares / self.freedom().max(1.0)).sqrt()
    }

    /// The variance of the line at some hours, for values that scatter with variance 1.
    #[must_use]
    pub fn leverage(&self, hours: f64) -> f64 {
        1.0 / real(self.count) + (hours - self.hours_mean).powi(2) / self.hours_squares
    }
}

/// The line of Theil and Sen, whose slope is the median of the slopes of all pairs, with limits of that slope.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TheilSen {
    /// The line, which leaves as many readings above it as below.
    pub line: Line,
    /// The lower limit of the slope.
    pub slope_low: f64,
    /// The upper limit of the slope.
    pub slope_high: f64,
}

impl TheilSen {
    /// The line and the limits of its slope at a two-sided confidence; `None` when no two points differ in hours.
    ///
    /// P. K. Sen, "Estimates of the regression coefficient based on Kendall's tau", Journal of the American
    /// Statistical Association 63 (1968) 1379-1389, with its correction for ties.
    #[must_use]
    pub fn of(points: &[Point], confidence: f64) -> Option<Self> {
        let mut slopes = slopes(points);
        slopes.sort_by(f64::total_cmp);
        let slope = middle(&slopes)?;
        let line = through_the_middle(points, slope)?;
        let count = real(points.len());
        let kendall = |count: f64| count * (count - 1.0) * (2.0 * count + 5.0);
        let ties = |of: fn(&Point) -> f64| {
            ties(points.iter().map(of).collect()).into_iter().map(kendall).sum::<f64>()
        };
        let variance = (kendall(count) - ties(|it| it.0) - ties(|it| it.1)) / 18.0;
        let reach = normal_quantile(f64::midpoint(1.0, confidence)) * variance.max(0.0).sqrt();
        let pairs = real(slopes.len());
        let rank = |place: f64| ranked(&slopes, place);
        Some(Self {
            line,
            slope_low: rank((pairs - reach) / 2.0 - 1.0)?,
            slope_high: rank(f64::midpoint(pairs, reach))?,
        })
    }
}

/// The line of repeated medians, which up to half of the readings cannot bend: for each point the median of the
/// slopes to all others, and the median of these.
///
/// A. F. Siegel, "Robust regression using repeated medians", Biometrika 69 (1982) 242-244.
#[must_use]
pub fn siegel(points: &[Point]) -> Option<Line> {
    let slopes = points.iter().filter_map(|point| {
        let others = points.iter().map(|other| slope(*point, *other));
        median(others.filter(|slope| slope.is_finite()).collect())
    });
    through_the_middle(points, median(slopes.collect())?)
}

/// The line of a slope that leaves as many points above it as below.
fn through_the_middle(points: &[Point], slope: f64) -> Option<Line> {
    let residuals = points.iter().map(|(hours, value)| value - slope * hours);
    median(residuals.collect()).map(|intercept| Line { intercept, slope })
}

fn slope(from: Point, to: Point) -> f64 {
    (to.1 - from.1) / (to.0 - from.0)
}

/// The slopes of all pairs that differ in hours.
fn slopes(points: &[Point]) -> Vec<f64> {
    let pairs = points
        .iter()
        .enumerate()
        .flat_map(|(at, first)| points.iter().skip(at + 1).map(move |second| (*first, *second)));
    pairs.map(|(a, b)| slope(a, b)).filter(|slope| slope.is_finite()).collect()
}

/// How many values there are of each, where a value comes more than once.
fn ties(mut values: Vec<f64>) -> Vec<f64> {
    values.sort_by(f64::total_cmp);
    let groups = values.chunk_by(|a, b| a.total_cmp(b).is_eq());
    groups.map(|group| real(group.len())).filter(|count| *count > 1.0).collect()
}

/// The value at a place of a sorted list, rounded to the nearest and kept within the list.
fn ranked(sorted: &[f64], place: f64) -> Option<f64> {
    let place = place.round_ties_even();
    let at = sorted.iter().zip(0_i32..).find(|(_, at)| f64::from(*at) >= place);
    at.map(|it| *it.0).or(sorted.last().copied())
}

fn median(mut values: Vec<f64>) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    middle(&values)
}

/// The median of a sorted list.
fn middle(sorted: &[f64]) -> Option<f64> {
    let half = sorted.len() / 2;
    let upper = *sorted.get(half)?;
    if sorted.len() % 2 == 1 {
        return Some(upper);
    }
    sorted.get(half.wrapping_sub(1)).map(|lower| f64::midpoint(*lower, upper))
}
