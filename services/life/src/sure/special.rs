//! The special functions that the methods need, each with the domain on which it was checked.
//!
//! Logarithm of gamma, incomplete gamma and beta, and the error function come from the crate `statrs`; quantiles
//! are found here, by solving for them in the tail where the probability is small, so that it keeps its digits.
//!
//! Every argument is finite. What lies outside of a function's domain is taken as the nearest value inside it, so
//! that no result is NaN or infinite.

use statrs::function::{beta, erf, gamma};
use std::f64::consts::SQRT_2;
use std::ops::RangeInclusive;

/// Shapes of gamma distributions.
const SHAPES: RangeInclusive<f64> = 1e-3..=1e6;
/// Parameters of the incomplete beta function: beyond these its continued fraction needs more terms than the
/// crate takes.
const BETA_SHAPES: RangeInclusive<f64> = 1e-3..=1e4;
/// Degrees of freedom: twice [`BETA_SHAPES`].
const FREEDOMS: RangeInclusive<f64> = 2e-3..=2e4;
/// Probabilities for which a quantile is asked.
const PROBABILITIES: RangeInclusive<f64> = 1e-300..=1.0 - f64::EPSILON;
/// Logarithms of the positive numbers among which a quantile is searched.
const LN_QUANTILES: RangeInclusive<f64> = -680.0..=680.0;

fn within(value: f64, range: &RangeInclusive<f64>) -> f64 {
    value.clamp(*range.start(), *range.end())
}

/// ln Γ(x), for x from 1e-300 to 1e300.
#[must_use]
pub fn ln_gamma(x: f64) -> f64 {
    gamma::ln_gamma(within(x, &(1e-300..=1e300)))
}

/// The lower regularised incomplete gamma function P(shape, x): the probability that a gamma variable of this
/// shape and scale 1 is at most `x`. Shapes from 0.001 to a million, x from 0.
#[must_use]
pub fn gamma_p(shape: f64, x: f64) -> f64 {
    if x <= 0.0 {
        return 0.0;
    }
    gamma::gamma_lr(within(shape, &SHAPES), x).clamp(0.0, 1.0)
}

/// The upper regularised incomplete gamma function Q(shape, x) = 1 - P(shape, x), with its own digits where it
/// is small. Domain as [`gamma_p`].
#[must_use]
pub fn gamma_q(shape: f64, x: f64) -> f64 {
    if x <= 0.0 {
        return 1.0;
    }
    gamma::gamma_ur(within(shape, &SHAPES), x).clamp(0.0, 1.0)
}

/// A bound that Q(shape, x) never exceeds, for a shape above 0: exp(shape - x) (x / shape)^shape where x is the larger,
/// and 1 where it is not.
///
/// It is Chernoff's: P(X >= x) is at most E[exp(t (X - x))] for every t from 0 to 1, which is (1 - t)^-shape exp(-t x),
/// and least for t = 1 - shape / x.
#[must_use]
pub fn gamma_q_bound(shape: f64, x: f64) -> f64 {
    if x <= shape { 1.0 } else { (shape - x + shape * (x / shape).ln()).exp() }
}

/// The regularised incomplete beta function I(x; a, b), for a and b from 0.001 to 10 000 and x from 0 to 1.
#[must_use]
pub fn beta_i(x: f64, a: f64, b: f64) -> f64 {
    let (a, b) = (within(a, &BETA_SHAPES), within(b, &BETA_SHAPES));
    beta::beta_reg(a, b, x.clamp(0.0, 1.0)).clamp(0.0, 1.0)
}

/// The normal quantile: the value that a standard normal variable stays below with probability `p`.
#[must_use]
pub fn normal_quantile(p: f64) -> f64 {
    -SQRT_2 * erf::erfc_inv(2.0 * within(p, &PROBABILITIES))
}

/// Student's t quantile, for degrees of freedom from 0.002 to 20 000.
#[must_use]
pub fn student_t_quantile(p: f64, df: f64) -> f64 {
    let p = within(p, &PROBABILITIES);
    // |t| has t² distributed as F(1, df); the sign is that of the side which p is on.
    let (tail, sign) = if p < 0.5 { (p, -1.0) } else { (1.0 - p, 1.0) };
    sign * f_upper_quantile(2.0 * tail, 1.0, df).sqrt()
}

/// The quantile of the F distribution with `df1` and `df2` degrees of freedom, each from 0.002 to 20 000.
#[must_use]
pub fn f_quantile(p: f64, df1: f64, df2: f64) -> f64 {
    let p = within(p, &PROBABILITIES);
    if p < 0.5 {
        // The lower tail is the upper tail of the inverse ratio.
        1.0 / f_upper_quantile(p, df2, df1)
    } else {
        f_upper_quantile(1.0 - p, df1, df2)
    }
}

/// The value that an F variable exceeds with probability `tail`.
fn f_upper_quantile(tail: f64, df1: f64, df2: f64) -> f64 {
    let (df1, df2) = (within(df1, &FREEDOMS), within(df2, &FREEDOMS));
    // P(F > f) = I(df2 / (df2 + df1 f); df2/2, df1/2): Abramowitz & Stegun 26.6.2.
    let above = |ln_f: f64| {
        let x = df2 / (df2 + df1 * ln_f.exp());
        // Close to 1, x has lost the digits of f: the other side has them.
        if x < 0.9 {
            beta_i(x, df2 / 2.0, df1 / 2.0) - tail
        } else {
            let y = df1 * ln_f.exp() / (df2 + df1 * ln_f.exp());
            (1.0 - tail) - beta_i(y, df1 / 2.0, df2 / 2.0)
        }
    };
    root(above, *LN_QUANTILES.start(), *LN_QUANTILES.end()).exp()
}

/// The quantile of a gamma distribution of this shape and scale 1. Domain as [`gamma_p`].
#[must_use]
pub fn gamma_quantile(p: f64, shape: f64) -> f64 {
    let p = within(p, &PROBABILITIES);
    let below = |ln_x: f64| {
        if p < 0.5 {
            gamma_p(shape, ln_x.exp()) - p
        } else {
            (1.0 - p) - gamma_q(shape, ln_x.exp())
        }
    };
    root(below, *LN_QUANTILES.start(), *LN_QUANTILES.end()).exp()
}

/// The chi-square quantile, for degrees of freedom from 0.002 to two million.
#[must_use]
pub fn chi_square_quantile(p: f64, df: f64) -> f64 {
    2.0 * gamma_quantile(p, df / 2.0)
}

/// The probability that a negative binomial variable is at most `count`: so many failures before `shape`
/// successes, each trial succeeding with probability `success`. Abramowitz & Stegun 26.5.26; the shape need not
/// be whole. Shapes and counts up to 10 000.
#[must_use]
pub fn negative_binomial_cdf(count: u32, shape: f64, success: f64) -> f64 {
    beta_i(success, shape, f64::from(count) + 1.0)
}

/// Where a continuous function crosses zero between `low` and `high`, to the last digits of a double.
///
/// Inverse quadratic interpolation where it is safe and bisection elsewhere: T. R. Chandrupatla, "A new hybrid
/// quadratic/bisection algorithm", Advances in Engineering Software 28 (1997) 145-149. Fixed order of steps, at
/// most 200 of them. Where both ends have the same sign, the end that is closer to zero.
#[must_use]
pub fn root(function: impl Fn(f64) -> f64, low: f64, high: f64) -> f64 {
    let (mut newest, mut other) = (high, low);
    let (mut f_newest, mut f_other) = (function(newest), function(other));
    if f_newest.signum() * f_other.signum() > 0.0 {
        return if f_newest.abs() < f_other.abs() { newest } else { other };
    }
    let mut share = 0.5;
    for _ in 0..200 {
        let tried = newest + share * (other - newest);
        let f_tried = function(tried);
        let (oldest, f_oldest) = if f_tried.signum() == f_newest.signum() {
            (newest, f_newest)
        } else {
            let old = (other, f_other);
            (other, f_other) = (newest, f_newest);
            old
        };
        (newest, f_newest) = (tried, f_tried);
        let (best, f_best) =
            if f_newest.abs() < f_other.abs() { (newest, f_newest) } else { (other, f_other) };
        let close = f64::EPSILON * best.abs() + f64::MIN_POSITIVE;
        let share_min = close / (other - newest).abs();
        if f_best == 0.0 || share_min > 0.5 {
            return best;
        }
        let place = (newest - other) / (oldest - other);
        let rise = (f_newest - f_other) / (f_oldest - f_other);
        let interpolates = rise * rise < place && (1.0 - rise) * (1.0 - rise) < 1.0 - place;
        let next = if interpolates {
            f_newest / (f_other - f_newest) * f_oldest / (f_other - f_oldest)
                + (oldest - newest) / (other - newest) * f_newest / (f_oldest - f_newest) * f_other
                    / (f_oldest - f_other)
        } else {
            0.5
        };
        // Kept off the ends, so that every step shortens the bracket.
        share = next.clamp(share_min, 1.0 - share_min);
    }
    newest
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn near(found: f64, expected: f64, relative: f64) {
        assert!(
            (found - expected).abs() <= relative * expected.abs(),
            "expected {expected}, found {found}"
        );
    }

    // Abramowitz & Stegun tables 26.10, 26.9, 26.8 and 26.1, as printed.
    #[test]
    fn quantiles_agree_with_printed_tables() {
        near(student_t_quantile(0.95, 8.0), 1.860, 3e-4);
        near(f_quantile(0.95, 3.0, 12.0), 3.49, 2e-3);
        near(chi_square_quantile(0.95, 10.0), 18.307, 1e-5);
        near(normal_quantile(0.975), 1.959_964, 1e-7);
        near(ln_gamma(0.5), 0.572_364_942_924_700, 1e-13);
    }

    // Γ of a small shape: P(a, x) = x^a / Γ(a + 1) times 1 - a x / (a + 1) + ..., DLMF 8.7.1.
    #[test]
    fn small_shapes_keep_their_digits() {
        let (shape, x): (f64, f64) = (0.01, 1e-5);
        let series =
            shape.mul_add(x.ln(), -ln_gamma(shape + 1.0)).exp() * (1.0 - shape * x / (shape + 1.0));
        near(gamma_p(shape, x), series, 1e-9);
        near(gamma_q(shape, x), 1.0 - series, 1e-9);
        near(gamma_quantile(gamma_p(shape, x), shape), x, 1e-9);
    }

    #[test]
    fn a_root_is_found_even_where_the_function_is_flat() {
        near(root(|x| x.powi(9), -1.0, 2.0) + 1.0, 1.0, 1e-9);
        near(root(|x| x.exp() - 5.0, 0.0, 700.0), 5.0_f64.ln(), 1e-15);
        near(root(|x| x + 3.0, 1.0, 2.0), 1.0, 0.0);
    }

    proptest! {
        #[test]
        fn the_bound_is_never_below(ln_shape in -6.0_f64..9.0, ratio in 0.01_f64..20.0) {
            let shape = ln_shape.exp();
            let (found, bound) = (gamma_q(shape, ratio * shape), gamma_q_bound(shape, ratio * shape));
            prop_assert!(found <= bound * (1.0 + 1e-9), "Q is {found}, the bound {bound}");
        }

        #[test]
        fn whatever_goes_in_the_result_is_finite(
            a in proptest::num::f64::NORMAL | proptest::num::f64::ZERO,
            b in proptest::num::f64::NORMAL | proptest::num::f64::ZERO,
            x in proptest::num::f64::NORMAL | proptest::num::f64::ZERO,
        ) {
            for found in [
                ln_gamma(a), gamma_p(a, x), gamma_q(a, x), beta_i(x, a, b), normal_quantile(x),
                student_t_quantile(x, a), f_quantile(x, a, b), gamma_quantile(x, a),
                chi_square_quantile(x, a), negative_binomial_cdf(7, a, x),
            ] {
                prop_assert!(found.is_finite(), "{found} from {a}, {b}, {x}");
            }
        }
    }
}
