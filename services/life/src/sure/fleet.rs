//! How fast engines of a type normally wear, and a line through one engine's readings that is steadied by it.
//!
//! Each logged engine has a line of its own; how these lines differ tells how much a new engine's line may differ
//! from their mean. Their spread is taken wider than it looks, for it is known from few engines and later ones
//! are not bound to be alike.

use super::line::{Edge, Fit, Line, Point};
use super::real;

/// Fewer engines than this say nothing about the type.
pub const ENGINES_MIN: usize = 6;
/// Readings that an engine needs to count.
const READINGS_MIN: usize = 3;
/// An engine whose hours have less than this share of the usual sum of squares has a line that says little.
const SPAN_SHARE_MIN: f64 = 0.25;
/// How much wider the spread of lines is taken than it looks.
const WIDENED: f64 = 3.0;
/// From so many engines on the spread of their lines is known well enough for that. Of fewer it is taken wider
/// still, in proportion: the early figure of a trend would hold in 91 of 100 cases otherwise, not in 93.
const ENGINES_ENOUGH: f64 = 30.0;
/// Of the raw spread at least this share is of the engines, however much their readings scatter.
const SPREAD_SHARE_MIN: f64 = 0.15;
/// Intercept and slope are taken to go together at most this much.
const CORRELATION_MAX: f64 = 0.7;
/// However many readings a fleet has, its scatter counts as known from so many degrees of freedom.
const FREEDOM_MAX: f64 = 8.0;
/// How often the scatter and the line are worked out from one another.
const STEPS: u32 = 3;
/// The least relative spread: lines or readings that agree to the last digit would divide by nothing.
const LEAST: f64 = 1e-9;

/// Variances of a line's intercept and slope, and their covariance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Covariance {
    /// The variance of the intercept.
    pub intercept: f64,
    /// The covariance of both.
    pub both: f64,
    /// The variance of the slope.
    pub slope: f64,
}

impl Covariance {
    fn determinant(self) -> f64 {
        self.intercept * self.slope - self.both * self.both
    }

    /// The matrix whose product with this one is the unit matrix.
    fn inverse(self) -> Self {
        let determinant = self.determinant();
        Self {
            intercept: self.slope / determinant,
            both: -self.both / determinant,
            slope: self.intercept / determinant,
        }
    }

    fn plus(self, other: Self, times: f64) -> Self {
        Self {
            intercept: self.intercept + times * other.intercept,
            both: self.both + times * other.both,
            slope: self.slope + times * other.slope,
        }
    }

    fn apply(self, line: Line) -> Line {
        Line {
            intercept: self.intercept * line.intercept + self.both * line.slope,
            slope: self.both * line.intercept + self.slope * line.slope,
        }
    }

    /// The hours at which the line's variance is least, and that variance.
    #[must_use]
    pub fn surest(self) -> (f64, f64) {
        (-self.both / self.slope, (self.determinant() / self.slope).max(0.0))
    }
}

impl From<&Edge> for Covariance {
    /// The same uncertainty, told at no hours instead of where it is least.
    fn from(edge: &Edge) -> Self {
        let both = -edge.centre_hours * edge.slope_variance;
        Self {
            intercept: edge.variance - edge.centre_hours * both,
            both,
            slope: edge.slope_variance,
        }
    }
}

/// The lines of a fleet's logged engines of one type, in one quantity: plain numbers, to be kept and shown.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fleet {
    /// Their mean.
    pub mean: Line,
    /// How far one engine's line may be from it.
    pub covariance: Covariance,
    /// The standard deviation of readings about an engine's own line.
    pub scatter_sd: f64,
    /// From how many degrees of freedom that is known.
    pub scatter_freedom: f64,
    /// How many engines it was learnt from.
    pub engines: usize,
}

/// A line steadied by a fleet's.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Steadied {
    /// The line.
    pub line: Line,
    /// How uncertain it is.
    pub covariance: Covariance,
    /// The standard deviation of readings about it.
    pub scatter_sd: f64,
    /// From how many degrees of freedom that is known.
    pub freedom: f64,
}

impl Fleet {
    /// Learns from the readings of logged engines of one type, each after its running-in and of one part.
    ///
    /// Passed over are engines with fewer than three readings, and those whose readings lie so close together that
    /// their line says little; `None` when fewer than [`ENGINES_MIN`] are left.
    #[must_use]
    pub fn learn(engines: &[Vec<Point>]) -> Option<Self> {
        Self::of_lines(engines.iter().filter_map(|points| line_of_engine(points)).collect())
    }

    /// The same from the lines of the engines that have one, in any order.
    pub(super) fn of_lines(mut fits: Vec<Fit>) -> Option<Self> {
        fits.sort_by(|a, b| a.hours_squares.total_cmp(&b.hours_squares));
        let usual = fits.get(fits.len() / 2).map_or(0.0, |fit| fit.hours_squares);
        fits.retain(|fit| fit.hours_squares >= SPAN_SHARE_MIN * usual);
        if fits.len() < ENGINES_MIN {
            return None;
        }
        let freedom: f64 = fits.iter().map(Fit::freedom).sum();
        let squares: f64 = fits.iter().map(|fit| fit.residual_squares).sum();
        let count = real(fits.len());
        let mean = |of: fn(&Fit) -> f64| fits.iter().map(of).sum::<f64>() / count;
        let line =
            Line { intercept: mean(|it| it.line.intercept), slope: mean(|it| it.line.slope) };
        let scatter = (squares / freedom).max((LEAST * line.intercept).powi(2) + LEAST.powi(3));
        let fleet = Self {
            mean: line,
            covariance: widened(&fits, line, scatter),
            scatter_sd: scatter.sqrt(),
            scatter_freedom: freedom.min(FREEDOM_MAX),
            engines: fits.len(),
        };
        fleet.is_usable().then_some(fleet)
    }

    /// The same to nine significant figures, as many as are printed: whoever redoes a sum has all of them. `None`
    /// where a line cannot be steadied by those.
    #[must_use]
    pub fn rounded(self) -> Option<Self> {
        let Self { mean, covariance, scatter_sd, scatter_freedom, engines } = self;
        let rounded = Self {
            mean: Line { intercept: nine_figures(mean.intercept), slope: nine_figures(mean.slope) },
            covariance: Covariance {
                intercept: nine_figures(covariance.intercept),
                both: nine_figures(covariance.both),
                slope: nine_figures(covariance.slope),
            },
            scatter_sd: nine_figures(scatter_sd),
            scatter_freedom,
            engines,
        };
        rounded.is_usable().then_some(rounded)
    }

    /// The same lines told on a count that stood at some hours when the part was new.
    #[must_use]
    pub fn begun_at(self, hours: f64) -> Self {
        let Covariance { intercept, both, slope } = self.covariance;
        let mean = Line { intercept: self.mean.intercept - hours * self.mean.slope, ..self.mean };
        let covariance = Covariance {
            intercept: intercept - hours * (2.0 * both - hours * slope),
            both: both - hours * slope,
            slope,
        };
        Self { mean, covariance, ..self }
    }

    /// Whether its numbers are ones that a line can be steadied by.
    #[must_use]
    pub fn is_usable(&self) -> bool {
        let Self { mean, covariance, scatter_sd, scatter_freedom, engines } = *self;
        let inverse = covariance.inverse();
        let numbers = [mean.intercept, mean.slope, scatter_sd, scatter_freedom];
        let spread = [
            covariance.intercept,
            covariance.slope,
            covariance.determinant(),
            inverse.intercept,
            inverse.slope,
        ];
        engines >= ENGINES_MIN
            && numbers.iter().all(|it| it.abs() < 1e12)
            && spread.iter().all(|it| *it > 0.0 && *it < 1e60)
            && scatter_sd > 1e-15
            && scatter_freedom >= 1.0
    }

    /// The line through an engine's readings, steadied by the fleet's: a normal prior for the line, and a scatter
    /// that the readings may correct, in a fixed number of steps.
    #[must_use]
    pub fn steady(&self, points: &[Point]) -> Steadied {
        let prior = self.covariance.inverse();
        let pull = prior.apply(self.mean);
        let sum = |of: fn(&Point) -> f64| points.iter().map(of).sum::<f64>();
        let squares = Covariance {
            intercept: real(points.len()),
            both: sum(|it| it.0),
            slope: sum(|it| it.0 * it.0),
        };
        let products = Line { intercept: sum(|it| it.1), slope: sum(|it| it.0 * it.1) };
        let freedom = self.scatter_freedom + real(points.len());
        let mut found = Steadied {
            line: self.mean,
            covariance: self.covariance,
            scatter_sd: self.scatter_sd,
            freedom,
        };
        let mut variance = self.scatter_sd.powi(2);
        for _ in 0..STEPS {
            found.covariance = prior.plus(squares, 1.0 / variance).inverse();
            found.line = found.covariance.apply(Line {
                intercept: pull.intercept + products.intercept / variance,
                slope: pull.slope + products.slope / variance,
            });
            let residuals: f64 =
                points.iter().map(|(hours, value)| (value - found.line.at(*hours)).powi(2)).sum();
            variance = (self.scatter_freedom * self.scatter_sd.powi(2) + residuals) / freedom;
        }
        Steadied { scatter_sd: variance.sqrt(), ..found }
    }
}

/// The line of an engine that has one: three readings, not all at the same hours.
pub(super) fn line_of_engine(points: &[Point]) -> Option<Fit> {
    Fit::of(points).filter(|_| points.len() >= READINGS_MIN)
}

/// A number to nine significant figures.
fn nine_figures(value: f64) -> f64 {
    format!("{value:.8e}").parse().unwrap_or(value)
}

/// How far another engine's line may be from the mean of these: their spread without what is due to the scatter
/// of their readings, taken wider, and the uncertainty of the mean itself.
fn widened(fits: &[Fit], mean: Line, scatter: f64) -> Covariance {
    let none = Covariance { intercept: 0.0, both: 0.0, slope: 0.0 };
    let (mut raw, mut due_to_scatter) = (none, none);
    for fit in fits {
        let (intercept, slope) = (fit.line.intercept - mean.intercept, fit.line.slope - mean.slope);
        let apart = Covariance {
            intercept: intercept.powi(2),
            both: intercept * slope,
            slope: slope.powi(2),
        };
        raw = raw.plus(apart, 1.0 / (real(fits.len()) - 1.0));
        let own = Covariance {
            intercept: fit.leverage(0.0),
            both: -fit.hours_mean / fit.hours_squares,
            slope: 1.0 / fit.hours_squares,
        };
        due_to_scatter = due_to_scatter.plus(own, scatter / real(fits.len()));
    }
    let left = raw.plus(due_to_scatter, -1.0);
    let least =
        |raw: f64, mean: f64| (SPREAD_SHARE_MIN * raw).max((LEAST * mean).powi(2) + LEAST.powi(3));
    let intercept = left.intercept.max(least(raw.intercept, mean.intercept));
    let slope = left.slope.max(least(raw.slope, mean.slope));
    let together = (intercept * slope).sqrt();
    let both = left.both.clamp(-CORRELATION_MAX * together, CORRELATION_MAX * together);
    let wider = WIDENED * (ENGINES_ENOUGH / real(fits.len())).max(1.0);
    none.plus(Covariance { intercept, both, slope }, wider).plus(raw, 1.0 / real(fits.len()))
}
