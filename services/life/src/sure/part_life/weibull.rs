//! The Weibull life that makes what was seen most likely, and how early its B10 may be.
//!
//! The shape is found along its whole range (the best scale for each shape is the root of a falling function), so
//! that no start value can lead astray. The bound on B10, the time by which one part in ten has failed, comes from
//! the likelihood itself: the earliest B10 whose best shape makes the data less likely by no more than
//! z²/2, z = 1.645 (one-sided 95 %). Meeker & Escobar, "Statistical Methods for Reliability Data", chapter 8.

use super::Part;
use super::likelihood::{Jet, Likelihood};
use crate::sure::special::{ln_gamma, normal_quantile, root};

/// Shapes that are looked at, as logarithms: 0.02 to 80.
const LN_SHAPES: (f64, f64) = (-3.912_023_005_428_146, 4.382_026_634_673_881);
/// How many shapes the first look takes.
const LOOKS: u32 = 32;
/// The logarithm of c that brackets every scale of scaled times.
const C_RANGE: (f64, f64) = (-60.0, 400.0);
/// A larger shape than this is a cliff, not a wear-out: no Weibull is told from it.
pub const SHAPE_MAX: f64 = 20.0;
/// How far below the point the bound is looked for, in logarithms: a billionth.
const LN_BOUND_DEPTH: f64 = 20.8;
/// The confidence of the bounds, one-sided.
const CONFIDENCE: f64 = 0.95;

/// A Weibull life with what it says of B10. Times in the hours that the parts were given in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Weibull {
    /// The shape: below 1 early failures, 1 chance, above 1 wear-out.
    pub shape: f64,
    /// The scale: 63 % have failed by then.
    pub scale_h: f64,
    /// The log-likelihood at its maximum.
    pub log_likelihood: f64,
    /// Standard error of ln(shape), from the observed information.
    pub se_log_shape: f64,
    /// Standard error of ln(scale).
    pub se_log_scale: f64,
    /// Correlation of the two.
    pub corr_log: f64,
    /// One part in ten has failed by then: the point.
    pub b10_h: f64,
    /// Its one-sided 95 % lower bound from the curvature at the maximum: quick, and too bold for few failures.
    pub b10_lower95_wald_log_h: f64,
    /// Its one-sided 95 % lower bound from the likelihood ratio: the one to use. `None` if the data exclude no B10,
    /// however early.
    pub b10_lower95_h: Option<f64>,
    /// Half have failed by then.
    pub median_h: f64,
    /// The mean life.
    pub mean_h: f64,
    /// The 95 % limits of the shape, from its standard error.
    pub shape_95: (f64, f64),
}

/// Cumulative hazard at B10: -ln(0.9).
fn b10_hazard() -> f64 {
    -(0.9_f64.ln())
}

/// Fits a Weibull life.
///
/// `None` where the data do not pin one down: fewer than two failures, failures all at one time, a shape beyond
/// [`SHAPE_MAX`], or a likelihood that is flat at its maximum.
#[must_use]
pub fn fit(parts: &[Part]) -> Option<Weibull> {
    let (likelihood, shape, c) = best(parts)?;
    let at = likelihood.at(shape, c);
    let (se_log_shape, se_log_scale, corr_log) = errors(shape, c, &at)?;
    let ln_scale = -c / shape + likelihood.ln_unit();
    let ln_hazard = b10_hazard().ln();
    let b10 = |ln_scale: f64| (ln_scale + ln_hazard / shape).exp();
    let slope = -ln_hazard / shape;
    let z = normal_quantile(CONFIDENCE);
    let se_b10 = (slope * slope * se_log_shape * se_log_shape
        + se_log_scale * se_log_scale
        + 2.0 * slope * corr_log * se_log_shape * se_log_scale)
        .max(0.0)
        .sqrt();
    let z95 = normal_quantile(0.975);
    let fitted = Weibull {
        shape,
        scale_h: ln_scale.exp(),
        log_likelihood: likelihood.in_hours(at.value),
        se_log_shape,
        se_log_scale,
        corr_log,
        b10_h: b10(ln_scale),
        b10_lower95_wald_log_h: b10(ln_scale) * (-z * se_b10).exp(),
        b10_lower95_h: lower_b10(&likelihood, (shape, c), CONFIDENCE),
        median_h: (ln_scale + 2.0_f64.ln().ln() / shape).exp(),
        mean_h: (ln_scale + ln_gamma(1.0 + 1.0 / shape)).exp(),
        shape_95: (shape * (-z95 * se_log_shape).exp(), shape * (z95 * se_log_shape).exp()),
    };
    fitted.is_finite().then_some(fitted)
}

/// The most likely shape and c, where the failures pin down a shape at all.
fn best(parts: &[Part]) -> Option<(Likelihood, f64, f64)> {
    let failures: Vec<&Part> = parts.iter().filter(|part| part.bad.is_some()).collect();
    let first = failures.first()?;
    if failures.iter().all(|part| part.same_end(first)) {
        return None;
    }
    let likelihood = Likelihood::new(parts);
    let shape = best_shape(&likelihood)?;
    let c = best_c(&likelihood, shape);
    Some((likelihood, shape, c))
}

impl Weibull {
    fn is_finite(&self) -> bool {
        let figures = [
            self.shape,
            self.scale_h,
            self.log_likelihood,
            self.se_log_shape,
            self.se_log_scale,
            self.corr_log,
            self.b10_h,
            self.b10_lower95_wald_log_h,
            self.median_h,
            self.mean_h,
            self.shape_95.0,
            self.shape_95.1,
            self.b10_lower95_h.unwrap_or_default(),
        ];
        figures.iter().all(|figure| figure.is_finite())
    }
}

/// The best c for a shape: the slope by c falls all the way, so it has one root.
fn best_c(likelihood: &Likelihood, shape: f64) -> f64 {
    root(|c| likelihood.at(shape, c).by_c, C_RANGE.0, C_RANGE.1)
}

/// The logarithms of the shapes of the first look.
fn looks() -> impl Iterator<Item = f64> {
    let step = (LN_SHAPES.1 - LN_SHAPES.0) / f64::from(LOOKS);
    (0..=LOOKS).map(move |at| f64::from(at).mul_add(step, LN_SHAPES.0))
}

/// The look at which a function is highest, with those on both sides of it.
fn highest(function: impl Fn(f64) -> f64) -> (f64, f64) {
    let best = looks()
        .map(|it| (it, function(it)))
        .fold((LN_SHAPES.0, f64::NEG_INFINITY), |best, it| if it.1 > best.1 { it } else { best });
    let step = (LN_SHAPES.1 - LN_SHAPES.0) / f64::from(LOOKS);
    ((best.0 - step).max(LN_SHAPES.0), (best.0 + step).min(LN_SHAPES.1))
}

/// The most likely shape, if it is no cliff.
fn best_shape(likelihood: &Likelihood) -> Option<f64> {
    let profile = |ln_shape: f64| {
        let shape = ln_shape.exp();
        likelihood.at(shape, best_c(likelihood, shape))
    };
    let (low, high) = highest(|ln_shape| profile(ln_shape).value);
    let shape = root(|ln_shape| profile(ln_shape).by_b, low, high).exp();
    (shape <= SHAPE_MAX && shape > LN_SHAPES.0.exp() * 1.01).then_some(shape)
}

/// Standard errors of ln(shape) and ln(scale) and their correlation, from the information at the maximum; `None`
/// unless it is a maximum in every direction.
fn errors(shape: f64, c: f64, at: &Jet) -> Option<(f64, f64, f64)> {
    // From (b, c) to (ln b, u = ln scale): c = -b u, so dc = -b u d(ln b) - b du.
    let u = -c / shape;
    let (b_by_a, c_by_a, c_by_u) = (shape, -shape * u, -shape);
    let a_a = -(at.by_bb * b_by_a * b_by_a
        + 2.0 * at.by_bc * b_by_a * c_by_a
        + at.by_cc * c_by_a * c_by_a);
    let a_u = -(at.by_bc * b_by_a + at.by_cc * c_by_a) * c_by_u;
    let u_u = -at.by_cc * c_by_u * c_by_u;
    let determinant = a_a * u_u - a_u * a_u;
    let definite = a_a > 0.0 && u_u > 0.0 && determinant > 1e-12 * a_a * u_u;
    definite.then(|| {
        ((u_u / determinant).sqrt(), (a_a / determinant).sqrt(), -a_u / (a_a * u_u).sqrt())
    })
}

/// The likelihood-ratio lower bound of B10 at another one-sided confidence than 95 %, 0.5 to 0.999; `None` as for
/// [`fit`], or if the data exclude no B10, however early.
#[must_use]
pub fn b10_lower(parts: &[Part], confidence: f64) -> Option<f64> {
    let (likelihood, shape, c) = best(parts)?;
    errors(shape, c, &likelihood.at(shape, c))?;
    lower_b10(&likelihood, (shape, c), confidence.clamp(0.5, 0.999))
}

/// The earliest B10 that the data do not exclude, given the best shape and c.
fn lower_b10(likelihood: &Likelihood, (shape, c): (f64, f64), confidence: f64) -> Option<f64> {
    let best = likelihood.at(shape, c).value;
    let ln_b10 = (b10_hazard().ln() - c) / shape;
    let z = normal_quantile(confidence);
    let beyond = |ln_b10: f64| best - 0.5 * z * z - best_at(likelihood, ln_b10);
    let deepest = ln_b10 - LN_BOUND_DEPTH;
    let is_bounded = beyond(deepest) > 0.0;
    is_bounded.then(|| (root(beyond, deepest, ln_b10) + likelihood.ln_unit()).exp())
}

/// The highest log-likelihood of any life with this B10.
fn best_at(likelihood: &Likelihood, ln_b10: f64) -> f64 {
    let ln_hazard = b10_hazard().ln();
    let at = |ln_shape: f64| {
        let shape = ln_shape.exp();
        likelihood.at(shape, shape.mul_add(-ln_b10, ln_hazard)).value
    };
    let (low, high) = highest(at);
    golden(at, low, high)
}

/// The highest value of a function with one peak between two points: golden-section search. So flat is a peak at its top
/// that these steps find its height to a dozen digits.
fn golden(function: impl Fn(f64) -> f64, mut low: f64, mut high: f64) -> f64 {
    let share = (5.0_f64.sqrt() - 1.0) / 2.0;
    let mut left = high - share * (high - low);
    let mut right = low + share * (high - low);
    let (mut f_left, mut f_right) = (function(left), function(right));
    for _ in 0..26 {
        if f_left < f_right {
            (low, left, f_left) = (left, right, f_right);
            right = low + share * (high - low);
            f_right = function(right);
        } else {
            (high, right, f_right) = (right, left, f_left);
            left = high - share * (high - low);
            f_left = function(left);
        }
    }
    f_left.max(f_right)
}
