//! How much may be said of a kind of part, as one answer, and how it stands to the programme's limit.

use super::Part;
use super::assumed::{self, Assumed};
use super::kaplan_meier::{self, KaplanMeier};
use super::turnbull::{self, Turnbull};
use super::weibull::{self, Weibull};
use std::fmt;

/// Fewer failures than this pin down no shape.
const FAILURES_FOR_A_SHAPE: usize = 4;
/// Fewer than this are few.
const FAILURES_IN_FULL: usize = 10;
/// The shape assumed where none can be told: a constant failure rate.
const SHAPE_ASSUMED: f64 = 1.0;
/// A B10 beyond so many times the longest running time is drawn past the data.
const EXTRAPOLATION: f64 = 2.0;

/// Everything that may be said of a kind of part.
#[derive(Clone, Debug, PartialEq)]
pub struct Evidence {
    /// Parts counted.
    pub parts: usize,
    /// How many of them failed or were found bad.
    pub failures: usize,
    /// The longest that any was known good, h.
    pub longest_h: f64,
    /// The life, its bound, or why there is none.
    pub says: Says,
    /// The survival curve.
    pub survival: Survival,
}

/// What may be said about the life.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Says {
    /// Nothing.
    Cannot(Cannot),
    /// A lower bound under an assumed shape.
    Assumed {
        /// The bound, one-sided 95 %.
        bound: Assumed,
        /// Why a shape had to be assumed.
        why: WhyAssumed,
    },
    /// A Weibull life.
    Weibull {
        /// The life with its bounds.
        life: Weibull,
        /// Fewer than ten failures: to be said beside every figure.
        few_failures: bool,
        /// The B10 lies beyond twice the longest running time.
        extrapolated: bool,
    },
    /// No form of life fits: look at the survival curve alone.
    SurvivalOnly,
}

/// Why nothing can be said about the life.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Cannot {
    /// There are no parts.
    NoParts,
    /// No part has run.
    NothingRan,
    /// All failures fell on one hour, which is given: any steepness would fit.
    AllAtOneHour(f64),
}

/// Why a shape had to be assumed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum WhyAssumed {
    /// Fewer than four failures.
    FewFailures,
    /// No failed part was ever inspected before it was found bad.
    NeverInspectedBefore,
    /// All failures lie in one and the same interval.
    OneInterval,
}

/// The survival curve that fits what was seen.
#[derive(Clone, Debug, PartialEq)]
pub enum Survival {
    /// All times of failure are known.
    KaplanMeier(KaplanMeier),
    /// Some were found bad at an inspection.
    Turnbull(Turnbull),
    /// No curve: no parts, or parts found bad at an inspection together with parts that entered late.
    CannotSay,
}

impl Evidence {
    /// Weighs what is known of parts of one kind, in one place of one engine type.
    #[must_use]
    pub fn weigh(parts: &[Part]) -> Self {
        let survival = if parts.is_empty() {
            Survival::CannotSay
        } else if let Some(curve) = kaplan_meier::curve(parts) {
            Survival::KaplanMeier(curve)
        } else {
            turnbull::curve(parts).map_or(Survival::CannotSay, Survival::Turnbull)
        };
        Self {
            parts: parts.len(),
            failures: parts.iter().filter(|part| part.bad.is_some()).count(),
            longest_h: parts.iter().map(|part| part.good).fold(0.0, f64::max),
            says: says(parts),
            survival,
        }
    }

    /// How a limit of the programme, in hours, stands to the evidence.
    #[must_use]
    pub fn against(&self, limit_h: f64) -> Against {
        match self.says {
            Says::Weibull { life, .. } if life.b10_h < limit_h => Against::FailsEarlier {
                b10_h: life.b10_h,
                lower_h: life.b10_lower95_h.unwrap_or_default(),
            },
            Says::Weibull { life, .. } => match life.b10_lower95_h {
                Some(lower_h) if lower_h >= limit_h => Against::Supports { lower_h },
                lower => Against::NotExcluded { lower_h: lower.unwrap_or_default() },
            },
            Says::Assumed { bound, .. } if bound.b10_lower_h >= limit_h => {
                Against::Supports { lower_h: bound.b10_lower_h }
            }
            Says::Assumed { .. } | Says::Cannot(_) | Says::SurvivalOnly => Against::CannotSay,
        }
    }
}

fn says(parts: &[Part]) -> Says {
    if parts.is_empty() {
        return Says::Cannot(Cannot::NoParts);
    }
    if let Some(why) = no_shape(parts) {
        return assumed::of_parts(parts, SHAPE_ASSUMED)
            .map_or(Says::Cannot(Cannot::NothingRan), |bound| Says::Assumed { bound, why });
    }
    let failed: Vec<&Part> = parts.iter().filter(|part| part.bad.is_some()).collect();
    if let Some(first) = failed.first()
        && failed.iter().all(|part| part.same_end(first))
    {
        return Says::Cannot(Cannot::AllAtOneHour(first.good));
    }
    let longest = parts.iter().map(|part| part.good).fold(0.0, f64::max);
    weibull::fit(parts).map_or(Says::SurvivalOnly, |life| Says::Weibull {
        life,
        few_failures: failed.len() < FAILURES_IN_FULL,
        extrapolated: life.b10_h > EXTRAPOLATION * longest,
    })
}

/// Why the failures pin down no shape, if they do not.
fn no_shape(parts: &[Part]) -> Option<WhyAssumed> {
    let failed: Vec<&Part> = parts.iter().filter(|part| part.bad.is_some()).collect();
    if failed.len() < FAILURES_FOR_A_SHAPE {
        return Some(WhyAssumed::FewFailures);
    }
    if failed.iter().any(|part| part.is_exact()) {
        return None;
    }
    if failed.iter().all(|part| part.good <= 0.0) {
        return Some(WhyAssumed::NeverInspectedBefore);
    }
    let first = failed.first()?;
    failed.iter().all(|part| part.same_end(first)).then_some(WhyAssumed::OneInterval)
}

/// How a limit of the programme stands to the evidence. Its text is a sentence.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Against {
    /// One part in ten fails before the limit, by the best estimate.
    FailsEarlier {
        /// When one part in ten has failed, h.
        b10_h: f64,
        /// The earliest that may be, one-sided 95 %, h.
        lower_h: f64,
    },
    /// The best estimate is beyond the limit, and the data do not exclude that it is before.
    NotExcluded {
        /// The earliest that may be, h.
        lower_h: f64,
    },
    /// Even the bound is beyond the limit. That lengthens nothing.
    Supports {
        /// The bound, h.
        lower_h: f64,
    },
    /// The evidence is too thin to say anything about the limit.
    CannotSay,
}

/// Rounded down to what such a bound supports: 10 hours, 5 below 100.
pub(super) fn down(hours: f64) -> f64 {
    let step = if hours < 100.0 { 5.0 } else { 10.0 };
    (hours / step).floor() * step
}

impl fmt::Display for Against {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::FailsEarlier { b10_h, lower_h } => write!(
                f,
                "one part in ten has failed by about {} h (it may be as early as {} h), before the programme's limit: consider a shorter interval",
                down(*b10_h),
                down(*lower_h)
            ),
            Self::NotExcluded { lower_h } => write!(
                f,
                "the records do not exclude that one part in ten fails before the programme's limit, as early as {} h",
                down(*lower_h)
            ),
            Self::Supports { lower_h } => write!(
                f,
                "the records agree with the programme's limit: one part in ten fails no earlier than {} h (95 % sure); this lengthens no interval",
                down(*lower_h)
            ),
            Self::CannotSay => {
                f.write_str("cannot say: too few failures on record to judge the programme's limit")
            }
        }
    }
}

impl fmt::Display for Says {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Cannot(Cannot::NoParts) => f.write_str("cannot say: no parts on record"),
            Self::Cannot(Cannot::NothingRan) => f.write_str("cannot say: no part has run yet"),
            Self::Cannot(Cannot::AllAtOneHour(hours)) => {
                write!(f, "cannot say: all failures on record are at {hours:.1} h")
            }
            Self::Assumed { bound, why } => write!(
                f,
                "{why}: one part in ten fails no earlier than {} h (95 % sure), which assumes {}",
                down(bound.b10_lower_h),
                Rate(bound.shape)
            ),
            Self::Weibull { life, few_failures, extrapolated } => {
                write!(f, "one part in ten has failed by about {} h, ", down(life.b10_h))?;
                match life.b10_lower95_h {
                    Some(lower) => write!(f, "no earlier than {} h (95 % sure)", down(lower))?,
                    None => f.write_str("with no lower bound")?,
                }
                let (low, high) = life.shape_95;
                write!(f, "; shape {:.1} (between {low:.1} and {high:.1})", life.shape)?;
                f.write_str(if *few_failures { "; few failures" } else { "" })?;
                f.write_str(if *extrapolated { "; beyond what any part has run" } else { "" })
            }
            Self::SurvivalOnly => {
                f.write_str("no wear-out curve fits: look at how many survive, step by step")
            }
        }
    }
}

struct Rate(f64);

impl fmt::Display for Rate {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if (self.0 - 1.0).abs() < 1e-9 {
            f.write_str("a constant failure rate")
        } else {
            write!(f, "a shape of {:.1}", self.0)
        }
    }
}

impl fmt::Display for WhyAssumed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::FewFailures => "fewer than four failures",
            Self::NeverInspectedBefore => "no failed part was inspected before it was found bad",
            Self::OneInterval => "all failures lie between the same two inspections",
        })
    }
}
