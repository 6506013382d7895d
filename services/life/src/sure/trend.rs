//! At how many hours wear reaches a limit: the middle figure, and an early one that holds 95 times in 100.
//!
//! A straight line through this engine's readings, steadied by how fast engines of this type normally wear; the
//! early figure is where the edge of the line's uncertainty touches the limit.
//!
//! With no fleet the line is that of least squares, from three readings on. With a [`Fleet`] of at least six
//! engines one reading is enough. Either way readings from before the running-in ended, and from before the last
//! change of the part, are left out; and the line of Theil and Sen, which one reading cannot bend, tells whether
//! one reading has bent this one.

use super::fleet::Fleet;
use super::line::{Edge, Fit, Line, Point, TheilSen};
use super::special::{root, student_t_quantile};
use super::{decimal_hours, whole_seconds};
use crate::hours::Hours;
use std::ops::RangeInclusive;

/// The confidence of the early figure unless another is asked for.
pub const CONFIDENCE: f64 = 0.95;
/// The confidences that can be asked for: below one half the figure is not early, and above the upper end nothing
/// is known of the scatter.
pub const CONFIDENCES: RangeInclusive<f64> = 0.5..=0.9999;
/// Running-in usually ends after so many hours since new or overhaul.
pub const RUN_IN: Hours = Hours::from_whole(50);
/// Fewer readings than this have no line of their own with a known scatter.
pub const OWN_READINGS_MIN: usize = 3;
/// Crossings are searched up to here, or to twice the hours of the last reading where that is more.
const HORIZON_HOURS: f64 = 5000.0;
/// A crossing beyond so many times the hours of the last reading is marked.
const EXTRAPOLATED: f64 = 2.0;
/// Two lines that differ by more than this share of the hours do not tell the same.
const DISAGREEMENT: f64 = 0.25;
/// No gauge shows more than this, in whatever unit.
const VALUE_MAX: f64 = 1e9;

/// A value measured at some hours.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measured {
    /// The hours of the count at which it was measured.
    pub at: Hours,
    /// The value, in the unit of the limits.
    pub value: f64,
}

/// What is asked of a series of readings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Question {
    /// The value that must not be exceeded.
    pub upper: Option<f64>,
    /// The value that must not be fallen below, as of a compression.
    pub lower: Option<f64>,
    /// How often the early figure holds, within [`CONFIDENCES`]; usually [`CONFIDENCE`].
    pub confidence: f64,
    /// Readings below these hours are of the running-in; usually [`RUN_IN`] after new or overhaul.
    pub run_in_until: Hours,
    /// The hours at which the part was last changed: what was measured before is of another part.
    pub part_changed_at: Option<Hours>,
    /// The smallest step of the gauge, in the unit of the limits.
    pub gauge_step: Option<f64>,
}

/// Which limit a crossing is of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Side {
    /// The value rises to it.
    Upper,
    /// The value falls to it.
    Lower,
}

impl Side {
    const fn sign(self) -> f64 {
        match self {
            Self::Upper => 1.0,
            Self::Lower => -1.0,
        }
    }
}

/// What readings say about a limit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Trend {
    /// A line, and where it and its edge touch the limit.
    Estimate(Estimate),
    /// The last reading is at the limit or beyond it, whatever a line says.
    AlreadyReached(Side),
    /// Nothing can be said, and why.
    CannotSay(CannotSay),
}

/// Why no line can be drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CannotSay {
    /// Nothing was measured since the running-in and the last change of the part.
    NoReading,
    /// Too few readings, and too few engines of the type to steady them.
    NeedsReadings {
        /// How many there are.
        count: usize,
    },
    /// All readings are at the same hours.
    SameHours,
    /// No limit was given.
    NoLimit,
    /// A value, a limit or a gauge's step that no gauge shows, or a confidence that cannot be asked for.
    OutOfRange,
}

/// What an estimate rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Basis {
    /// This engine's readings alone.
    Own,
    /// This engine's readings and the fleet's.
    Fleet {
        /// How many engines of the fleet.
        engines: usize,
    },
}

/// Where wear may reach its limit at the earliest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Early {
    /// At these hours.
    At(f64),
    /// It cannot be excluded that it is beyond the limit now: measure again.
    AtLastReading,
    /// Not before these hours, as far as it was searched.
    NotWithin(f64),
    /// No wear towards the limit is visible within the gauge's error.
    NoWear,
}

/// A line through readings and where it leads.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// The limit that is reached first.
    pub side: Side,
    /// That limit.
    pub limit: f64,
    /// The early figure, in hours of the count.
    pub early: Early,
    /// The middle figure, in hours of the count; `None` when the line does not lead to the limit, or not as far
    /// as it was searched.
    pub point_hours: Option<f64>,
    /// The line, and how uncertain it is.
    pub edge: Edge,
    /// How often the early figure holds.
    pub confidence: f64,
    /// The standard deviation of readings about the line.
    pub scatter_sd: f64,
    /// What it rests on.
    pub basis: Basis,
    /// How many readings it rests on.
    pub count: usize,
    /// The hours of the last of them.
    pub last_hours: f64,
    /// Whether the crossing is more than twice as far as the last reading.
    pub extrapolated: bool,
    /// Whether one reading decides where the line leads.
    pub one_reading_dominates: bool,
    /// Whether the scatter is that of the gauge's step, the readings having less.
    pub scatter_of_gauge: bool,
}

/// What readings, in any order, say about the limits asked for; with both limits, about the one reached first.
#[must_use]
pub fn trend(measured: &[Measured], question: &Question, fleet: Option<&Fleet>) -> Trend {
    let sides = [(Side::Upper, question.upper), (Side::Lower, question.lower)];
    let limits = sides.into_iter().filter_map(|(side, limit)| Some((side, limit?)));
    let asked: Vec<(Side, f64)> = limits.collect();
    let sane = |value: f64| value.abs() <= VALUE_MAX;
    let numbers = asked.iter().map(|it| it.1).chain(question.gauge_step);
    if !numbers.chain(measured.iter().map(|it| it.value)).all(sane)
        || !CONFIDENCES.contains(&question.confidence)
    {
        return Trend::CannotSay(CannotSay::OutOfRange);
    }
    let of_part = readings(measured, question.part_changed_at);
    for (side, limit) in &asked {
        if last_is_beyond(&of_part, *side, *limit) {
            return Trend::AlreadyReached(*side);
        }
    }
    let run_in = decimal_hours(question.run_in_until);
    let points: Vec<Point> = of_part.into_iter().filter(|it| it.0 >= run_in).collect();
    let fleet = fleet.filter(|fleet| fleet.is_usable());
    let estimates =
        asked.iter().map(|(side, limit)| estimate(&points, question, fleet, *side, *limit));
    let estimates: Result<Vec<Estimate>, CannotSay> = estimates.collect();
    match estimates.map(|all| all.into_iter().min_by(|a, b| a.order().total_cmp(&b.order()))) {
        Ok(Some(first)) => Trend::Estimate(first),
        Ok(None) => Trend::CannotSay(CannotSay::NoLimit),
        Err(why) => Trend::CannotSay(why),
    }
}

/// The readings of the part that is fitted now, by hours.
fn readings(measured: &[Measured], part_changed_at: Option<Hours>) -> Vec<Point> {
    let of_part =
        measured.iter().filter(|it| part_changed_at.is_none_or(|changed| it.at >= changed));
    let mut points: Vec<Point> = of_part.map(|it| (decimal_hours(it.at), it.value)).collect();
    points.sort_by(|a, b| a.0.total_cmp(&b.0));
    points
}

/// Whether any reading at the last hours is at the limit or beyond it.
fn last_is_beyond(points: &[Point], side: Side, limit: f64) -> bool {
    let last = points.last().map(|it| it.0);
    let at_last = points.iter().rev().take_while(|it| Some(it.0) == last);
    at_last.map(|it| it.1).any(|value| side.sign() * (value - limit) >= 0.0)
}

/// A line before it is asked for its crossing.
struct Drawn {
    edge: Edge,
    scatter_sd: f64,
    scatter_of_gauge: bool,
    basis: Basis,
}

fn estimate(
    points: &[Point],
    question: &Question,
    fleet: Option<&Fleet>,
    side: Side,
    limit: f64,
) -> Result<Estimate, CannotSay> {
    let (last_hours, _) = *points.last().ok_or(CannotSay::NoReading)?;
    let confidence = question.confidence;
    let drawn = match fleet {
        Some(fleet) => steadied(points, fleet, confidence),
        None => own(points, question.gauge_step, confidence)?,
    };
    let Drawn { mut edge, scatter_sd, scatter_of_gauge, basis } = drawn;
    edge.reach *= side.sign();
    if !edge.is_finite() {
        return Err(CannotSay::OutOfRange);
    }
    let horizon = HORIZON_HOURS.max(EXTRAPOLATED * last_hours);
    let point_hours = crossing(edge.line, side, limit).filter(|hours| *hours <= horizon);
    let early = if side.sign() * edge.line.slope > 0.0 {
        touches(&edge, side, limit, last_hours, horizon)
    } else {
        Early::NoWear
    };
    let furthest = match early {
        Early::At(hours) => point_hours.unwrap_or(hours).max(hours),
        _ => point_hours.unwrap_or_default(),
    };
    Ok(Estimate {
        side,
        limit,
        early,
        point_hours,
        edge,
        confidence,
        scatter_sd,
        basis,
        count: points.len(),
        last_hours,
        extrapolated: furthest > EXTRAPOLATED * last_hours,
        one_reading_dominates: one_reading_dominates(points, side, limit),
        scatter_of_gauge,
    })
}

impl Estimate {
    /// The early figure as hours of the count, rounded down to the second; `None` when it is beyond what was
    /// searched or no wear is visible.
    #[must_use]
    pub fn early(&self) -> Option<Hours> {
        match self.early {
            Early::At(hours) => Some(whole_seconds(hours)),
            Early::AtLastReading => Some(whole_seconds(self.last_hours)),
            Early::NotWithin(_) | Early::NoWear => None,
        }
    }

    /// The middle figure as hours of the count, rounded down to the second.
    #[must_use]
    pub fn point(&self) -> Option<Hours> {
        self.point_hours.map(whole_seconds)
    }

    /// What comes first of two limits: the lower number.
    fn order(&self) -> f64 {
        match self.early {
            Early::AtLastReading => -1.0,
            Early::At(hours) => hours,
            Early::NotWithin(hours) => 2.0 * hours,
            Early::NoWear => f64::MAX,
        }
    }
}

/// Where an edge touches a limit first, from some hours on.
///
/// The square root makes the edge bend away from the line, so towards the limit it is crossed only once.
fn touches(edge: &Edge, side: Side, limit: f64, from: f64, until: f64) -> Early {
    let beyond = |hours: f64| side.sign() * (edge.at(hours) - limit);
    if beyond(from) >= 0.0 {
        Early::AtLastReading
    } else if beyond(until) < 0.0 {
        Early::NotWithin(until)
    } else {
        Early::At(root(beyond, from, until))
    }
}

/// Where a line reaches a limit, if it leads there.
fn crossing(line: Line, side: Side, limit: f64) -> Option<f64> {
    let hours = (limit - line.intercept) / line.slope;
    (side.sign() * line.slope > 0.0 && hours.is_finite()).then_some(hours)
}

/// The line of this engine's readings alone.
fn own(points: &[Point], gauge_step: Option<f64>, confidence: f64) -> Result<Drawn, CannotSay> {
    let count = points.len();
    if count < OWN_READINGS_MIN {
        return Err(CannotSay::NeedsReadings { count });
    }
    let fit = Fit::of(points).ok_or(CannotSay::SameHours)?;
    // A value rounded to the gauge's step is off by up to half of it, all errors as likely.
    let gauge_sd = gauge_step.unwrap_or_default().abs() / 12.0_f64.sqrt();
    let scatter_of_gauge = fit.residual_sd() < gauge_sd;
    let scatter_sd = fit.residual_sd().max(gauge_sd);
    let edge = Edge {
        line: fit.line,
        centre_hours: fit.hours_mean,
        variance: scatter_sd.powi(2) * fit.leverage(fit.hours_mean),
        slope_variance: scatter_sd.powi(2) / fit.hours_squares,
        reach: student_t_quantile(confidence, fit.freedom()),
    };
    Ok(Drawn { edge, scatter_sd, scatter_of_gauge, basis: Basis::Own })
}

/// The line of this engine's readings, steadied by the fleet's.
fn steadied(points: &[Point], fleet: &Fleet, confidence: f64) -> Drawn {
    let found = fleet.steady(points);
    let (centre_hours, variance) = found.covariance.surest();
    let edge = Edge {
        line: found.line,
        centre_hours,
        variance,
        slope_variance: found.covariance.slope,
        reach: student_t_quantile(confidence, found.freedom),
    };
    let basis = Basis::Fleet { engines: fleet.engines };
    Drawn { edge, scatter_sd: found.scatter_sd, scatter_of_gauge: false, basis }
}

/// Whether the line of least squares and the one that no single reading can bend lead to different hours.
fn one_reading_dominates(points: &[Point], side: Side, limit: f64) -> bool {
    if points.len() < OWN_READINGS_MIN {
        return false;
    }
    let squares = Fit::of(points).map(|fit| crossing(fit.line, side, limit));
    let robust = TheilSen::of(points, CONFIDENCE).map(|it| crossing(it.line, side, limit));
    match (squares.flatten(), robust.flatten()) {
        (Some(squares), Some(robust)) => (squares - robust).abs() > DISAGREEMENT * squares.abs(),
        (None, None) => false,
        _ => true,
    }
}
