//! A lower bound for a life with few failures or none, where the shape has to be assumed.
//!
//! With a known shape b, the powers t^b of the times run are those of a constant failure rate, whose bound is a
//! chi-square quantile: scale ≥ (2 Σt^b / χ²(confidence, 2r + 2))^(1/b); NIST/SEMATECH e-Handbook 8.3. Everything
//! hangs on the shape: simulated with an assumed 2 where the truth was 1.3, a "90 %" bound held in 1 % of fleets.
//! So the default is 1, which assumes no wear-out at all, and whoever reads the bound is told the assumption.

use super::Part;
use crate::sure::special::chi_square_quantile;

/// Shapes that may be assumed.
pub const SHAPES: std::ops::RangeInclusive<f64> = 0.1..=20.0;
/// Confidences that may be asked for.
pub const CONFIDENCES: std::ops::RangeInclusive<f64> = 0.5..=0.999;

/// What an assumed shape says. Times in the hours that were given.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Assumed {
    /// The shape assumed; 1 is a constant failure rate.
    pub shape: f64,
    /// The confidence of the bounds, one-sided.
    pub confidence: f64,
    /// Failures seen.
    pub failures: usize,
    /// The scale, if anything failed.
    pub scale_h: Option<f64>,
    /// Its lower bound.
    pub scale_lower_h: f64,
    /// One part in ten may have failed by then, at the earliest.
    pub b10_lower_h: f64,
}

impl Assumed {
    /// The share of parts, at the least, that still run after so many hours; 0 to 1.
    #[must_use]
    pub fn surviving_lower(&self, hours: f64) -> f64 {
        (-(hours.max(0.0) / self.scale_lower_h).powf(self.shape)).exp()
    }
}

/// The bound for times run in hours, each from 0, of which `failures` ended in a failure.
///
/// `None` for a shape or a confidence outside [`SHAPES`] and [`CONFIDENCES`], or when nothing ran.
#[must_use]
pub fn bound(hours: &[f64], failures: usize, shape: f64, confidence: f64) -> Option<Assumed> {
    let spans: Vec<(f64, f64)> = hours.iter().map(|hours| (0.0, *hours)).collect();
    between(&spans, failures, shape, confidence)
}

/// The bound for parts, at a confidence of 95 %: what each ran from its entry until it was last known good. A part
/// found bad has run longer than that, which makes the bound lower than it might be, never higher.
#[must_use]
pub fn of_parts(parts: &[Part], shape: f64) -> Option<Assumed> {
    let spans: Vec<(f64, f64)> = parts.iter().map(|part| (part.entry, part.good)).collect();
    let failures = parts.iter().filter(|part| part.bad.is_some()).count();
    between(&spans, failures, shape, 0.95)
}

fn between(spans: &[(f64, f64)], failures: usize, shape: f64, confidence: f64) -> Option<Assumed> {
    if !SHAPES.contains(&shape) || !CONFIDENCES.contains(&confidence) {
        return None;
    }
    // Divided by the longest first: no power overflows.
    let longest = spans.iter().map(|(_, to)| *to).fold(0.0, f64::max);
    let run: f64 = spans
        .iter()
        .map(|(from, to)| (to / longest).powf(shape) - (from / longest).powf(shape))
        .sum();
    if !run.is_normal() || run < 0.0 {
        return None;
    }
    let count = crate::sure::real(failures);
    let scale = |sum: f64| longest * sum.powf(1.0 / shape);
    let scale_lower_h = scale(2.0 * run / chi_square_quantile(confidence, 2.0 * count + 2.0));
    let found = Assumed {
        shape,
        confidence,
        failures,
        scale_h: (failures > 0).then(|| scale(run / count)),
        scale_lower_h,
        b10_lower_h: scale_lower_h * (-(0.9_f64.ln())).powf(1.0 / shape),
    };
    (found.scale_lower_h.is_normal() && found.scale_h.unwrap_or_default().is_finite())
        .then_some(found)
}

#[cfg(test)]
mod tests {
    use super::*;

    // No failure in 2000 h at a constant rate: χ²(0.95, 2) = -2 ln 0.05 = 5.9915, scale 4000 / 5.9915 = 667.6 h,
    // B10 667.6 × 0.10536 = 70.34 h; by hand.
    #[test]
    fn no_failure_at_a_constant_rate_by_hand() {
        let found = bound(&[500.0, 1500.0], 0, 1.0, 0.95).expect("something ran");
        assert!((found.scale_lower_h - 667.616).abs() < 0.01, "{found:?}");
        assert!((found.b10_lower_h - 70.34).abs() < 0.01, "{found:?}");
        assert_eq!(found.scale_h, None);
        assert!((found.surviving_lower(found.b10_lower_h) - 0.9).abs() < 1e-12);
    }

    #[test]
    fn nothing_ran_or_nothing_sensible_is_assumed() {
        assert_eq!(bound(&[], 0, 1.0, 0.95), None);
        assert_eq!(bound(&[0.0], 0, 1.0, 0.95), None);
        assert_eq!(bound(&[100.0], 0, 0.0, 0.95), None);
        assert_eq!(bound(&[100.0], 0, 1.0, 1.0), None);
        assert_eq!(bound(&[100.0], 0, f64::NAN, 0.95), None);
    }
}
