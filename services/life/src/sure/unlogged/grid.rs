//! The chance of each number of hours, on a grid, and its quantiles.

use super::super::real;
use super::super::special::f_quantile;
use super::lines::Fitted;

/// The step of the grid, h.
pub(super) const STEP_H: f64 = 5.0;
/// Indicators contradict each other this rarely when nothing is wrong.
const AGREE: f64 = 0.99;

/// The chances of hours from `start`, in steps of [`STEP_H`].
pub(super) struct Posterior {
    hours: Vec<f64>,
    /// The chance of each of them or fewer.
    cumulative: Vec<f64>,
    disagreement: f64,
    disagreement_max: f64,
}

impl Posterior {
    /// Multivariate t around the fleet's lines, all hours of the grid taken as equally likely before; `None` if the
    /// chances are not numbers.
    pub(super) fn new(fitted: &Fitted, seen: &[f64], kappa: f64, grid: (f64, f64)) -> Option<Self> {
        let indicators = real(seen.len());
        let hours: Vec<f64> = (0..100_000_u32)
            .map(|at| f64::from(at).mul_add(STEP_H, grid.0))
            .take_while(|at| *at <= grid.1)
            .collect();
        let mut nearest = f64::INFINITY;
        let logarithms: Vec<f64> = hours
            .iter()
            .map(|hours| {
                let (away, wider) = fitted.residual(seen, *hours);
                let distance = fitted.precision.quadratic(&away) / wider;
                nearest = nearest.min(distance);
                -indicators / 2.0 * wider.ln()
                    - f64::midpoint(fitted.freedom, indicators)
                        * (distance / (fitted.freedom * kappa * kappa)).ln_1p()
            })
            .collect();
        let most = logarithms.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let chances: Vec<f64> = logarithms.iter().map(|it| (it - most).exp()).collect();
        let sum: f64 = chances.iter().sum();
        let cumulative: Vec<f64> = chances
            .iter()
            .scan(0.0, |so_far, chance| {
                *so_far += chance / sum;
                Some(*so_far)
            })
            .collect();
        let others = (indicators - 1.0).max(1.0);
        (sum.is_finite() && sum > 0.0 && nearest.is_finite()).then(|| Self {
            hours,
            cumulative,
            disagreement: if seen.len() > 1 { nearest / others } else { 0.0 },
            disagreement_max: f_quantile(AGREE, others, fitted.freedom),
        })
    }

    /// The hours that are not exceeded with this chance, interpolated between points of the grid.
    pub(super) fn quantile(&self, level: f64) -> f64 {
        let mut before: Option<(f64, f64)> = None;
        for (hours, chance) in self.hours.iter().zip(&self.cumulative) {
            if *chance >= level {
                return before.map_or(*hours, |(low, below)| {
                    low + (hours - low) * (level - below) / (chance - below).max(f64::MIN_POSITIVE)
                });
            }
            before = Some((*hours, *chance));
        }
        before.map_or(0.0, |(hours, _)| hours)
    }

    /// The chance of the first point of the grid.
    pub(super) fn share_at_start(&self) -> f64 {
        self.cumulative.first().copied().unwrap_or_default()
    }

    /// How far the indicators contradict each other at the hours that suit them best, and what that exceeds in 1
    /// engine of 100.
    pub(super) const fn disagreement(&self) -> (f64, f64) {
        (self.disagreement, self.disagreement_max)
    }
}
