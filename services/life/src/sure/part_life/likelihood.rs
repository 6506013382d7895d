//! The log-likelihood of a Weibull life, with its first and second derivatives.
//!
//! Written in the shape b and c = -b ln(scale), the cumulative hazard of a part at time t is H = exp(c + b ln t).
//! In these two numbers the log-likelihood of what was seen is concave, whatever was seen (a Gumbel density is
//! log-concave, and so is its integral over an interval: Prékopa 1973), as long as no part entered late. Late
//! entries add a convex term; the search copes with it by looking along the whole range of shapes first.
//!
//! Times are divided by the longest before anything else, so that no power of them overflows.

use super::Part;
use std::iter::Sum;
use std::ops::{Add, Neg};

/// Beyond this exponent a hazard is as good as endless, and still a number.
const EXPONENT_MAX: f64 = 650.0;
/// The smallest chance of an interval that is told from none.
const GAP_MIN: f64 = 1e-300;

/// A value with its derivatives by the shape (`b`) and by `c`.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Jet {
    pub(super) value: f64,
    pub(super) by_b: f64,
    pub(super) by_c: f64,
    pub(super) by_bb: f64,
    pub(super) by_bc: f64,
    pub(super) by_cc: f64,
}

impl Jet {
    /// H(t) = exp(c + b ln t).
    fn hazard(b: f64, c: f64, ln_t: f64) -> Self {
        let hazard = ln_t.mul_add(b, c).min(EXPONENT_MAX).exp();
        Self {
            value: hazard,
            by_b: hazard * ln_t,
            by_c: hazard,
            by_bb: hazard * ln_t * ln_t,
            by_bc: hazard * ln_t,
            by_cc: hazard,
        }
    }

    /// ln(1 - exp(-gap)): the chance of failing while the hazard grows by this gap.
    fn ln_failing(gap: Self) -> Self {
        let size = gap.value.max(GAP_MIN);
        let first = 1.0 / size.exp_m1();
        let second = -first * (1.0 + first);
        Self {
            value: (-(-size).exp_m1()).ln(),
            by_b: first * gap.by_b,
            by_c: first * gap.by_c,
            by_bb: first * gap.by_bb + second * gap.by_b * gap.by_b,
            by_bc: first * gap.by_bc + second * gap.by_b * gap.by_c,
            by_cc: first * gap.by_cc + second * gap.by_c * gap.by_c,
        }
    }
}

impl Add for Jet {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self {
            value: self.value + other.value,
            by_b: self.by_b + other.by_b,
            by_c: self.by_c + other.by_c,
            by_bb: self.by_bb + other.by_bb,
            by_bc: self.by_bc + other.by_bc,
            by_cc: self.by_cc + other.by_cc,
        }
    }
}

impl Neg for Jet {
    type Output = Self;
    fn neg(self) -> Self {
        Self {
            value: -self.value,
            by_b: -self.by_b,
            by_c: -self.by_c,
            by_bb: -self.by_bb,
            by_bc: -self.by_bc,
            by_cc: -self.by_cc,
        }
    }
}

impl Sum for Jet {
    fn sum<I: Iterator<Item = Self>>(jets: I) -> Self {
        jets.fold(Self::default(), Add::add)
    }
}

/// How a part ended, in logarithms of scaled time; `None` stands for time zero, where no hazard is used up.
enum End {
    Running,
    Failed,
    Between { ln_bad: f64 },
}

struct Seen {
    ln_entry: Option<f64>,
    ln_good: Option<f64>,
    end: End,
}

/// Everything that was seen of the parts, ready to be weighed against a shape and a scale.
pub(super) struct Likelihood {
    seen: Vec<Seen>,
    /// ln of the longest time, by which all others are divided.
    ln_unit: f64,
    exact: f64,
}

impl Likelihood {
    pub(super) fn new(parts: &[Part]) -> Self {
        let longest = parts.iter().map(|part| part.bad.unwrap_or(part.good)).fold(0.0, f64::max);
        let ln_unit = if longest > 0.0 { longest.ln() } else { 0.0 };
        let ln = |time: f64| (time > 0.0).then(|| time.ln() - ln_unit);
        let mut exact = 0.0;
        let seen = parts.iter().map(|part| {
            let end = match part.bad.and_then(ln) {
                None => End::Running,
                Some(_) if part.is_exact() => {
                    exact += 1.0;
                    End::Failed
                }
                Some(ln_bad) => End::Between { ln_bad },
            };
            Seen { ln_entry: ln(part.entry), ln_good: ln(part.good), end }
        });
        let seen = seen.collect();
        Self { seen, ln_unit, exact }
    }

    /// The logarithm of the unit of time, to bring scaled times back to hours.
    pub(super) const fn ln_unit(&self) -> f64 {
        self.ln_unit
    }

    /// The log-likelihood in hours, from its value in scaled time: each density carries one unit of time.
    pub(super) fn in_hours(&self, scaled: f64) -> f64 {
        scaled - self.exact * self.ln_unit
    }

    /// The log-likelihood of scaled times, with its derivatives.
    pub(super) fn at(&self, b: f64, c: f64) -> Jet {
        let hazard = |ln_t: Option<f64>| ln_t.map_or_else(Jet::default, |it| Jet::hazard(b, c, it));
        let of = |part: &Seen| {
            let good = hazard(part.ln_good);
            let end = match part.end {
                End::Running => Jet::default(),
                End::Failed => {
                    let ln_t = part.ln_good.unwrap_or_default();
                    Jet {
                        value: b.ln() + c + (b - 1.0) * ln_t,
                        by_b: 1.0 / b + ln_t,
                        by_c: 1.0,
                        by_bb: -1.0 / (b * b),
                        ..Jet::default()
                    }
                }
                End::Between { ln_bad } => Jet::ln_failing(hazard(Some(ln_bad)) + -good),
            };
            hazard(part.ln_entry) + -good + end
        };
        self.seen.iter().map(of).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // The derivatives against differences of the value itself.
    #[test]
    fn derivatives_agree_with_differences() {
        let parts = [
            Part::failed(300.0),
            Part::running(500.0),
            Part::found_bad(200.0, 400.0),
            Part::found_bad(0.0, 350.0),
            Part::running(600.0).and_then(|part| part.entered(150.0)),
        ];
        let parts: Vec<Part> = parts.into_iter().map(|part| part.expect("possible")).collect();
        let likelihood = Likelihood::new(&parts);
        let (b, c, step) = (1.7, 0.4, 1e-6);
        let at = likelihood.at(b, c);
        let (b_up, b_down) = (likelihood.at(b + step, c), likelihood.at(b - step, c));
        let (c_up, c_down) = (likelihood.at(b, c + step), likelihood.at(b, c - step));
        for (found, up, down) in [
            (at.by_b, b_up.value, b_down.value),
            (at.by_c, c_up.value, c_down.value),
            (at.by_bb, b_up.by_b, b_down.by_b),
            (at.by_bc, b_up.by_c, b_down.by_c),
            (at.by_cc, c_up.by_c, c_down.by_c),
        ] {
            let difference = (up - down) / (2.0 * step);
            assert!(
                (found - difference).abs() < 1e-6 * (1.0 + found.abs()),
                "{found} {difference}"
            );
        }
    }
}
