//! What was measured of an engine, drawn against hours: readings, their line, its bound and the limit.
//!
//! A chart is plain text for whoever draws it: coordinates in a field of [`WIDTH`] by [`HEIGHT`], and the words for
//! those who cannot see it. Only readings of the part that is there now are drawn.

use super::decimal_hours;
use super::limit::{basis, drawn, limit_words, real, run_in_until, used};
use super::line::Edge;
use super::prior::{Evidence, Steadying, run_in};
use super::trend::{Early, Trend};
use crate::decimal::Decimal;
use crate::history::History;
use crate::hours::Hours;
use crate::ids::{EngineId, PositionId};
use crate::measure::QuantityRule;
use crate::programme::EngineType;
use crate::series::{Series, worn_places};
use crate::subject::{LineSubject, subjects};
use crate::wear::Basis;

/// The width of the field.
pub const WIDTH: u32 = 360;
/// The height of the field.
pub const HEIGHT: u32 = 210;
/// Readings needed for a chart of this engine's own.
const READINGS_MIN: usize = 2;
/// Where the plot lies in the field: left, right, top, bottom.
const PLOT: [f64; 4] = [52.0, 350.0, 12.0, 178.0];
/// No further than so many times the stretch that was measured is drawn past it.
const AHEAD_MAX: f64 = 3.0;
/// Room above and below what is drawn, as a share of it.
const ROOM: f64 = 0.08;
/// Stretches that a bent edge is drawn in.
const STEPS: u32 = 24;

/// One quantity at one place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Chart {
    /// What people call the quantity.
    pub title: String,
    /// Where it is measured.
    pub position: Option<PositionId>,
    /// The limit with its unit; empty where there is none.
    pub limit: String,
    /// Every reading of the part that is there now, in order.
    pub readings: Vec<Dot>,
    /// How many readings there were before the part was changed.
    pub earlier: usize,
    /// The corners of the line through the readings, as an SVG polyline has them; empty without one.
    pub line: String,
    /// The same for the edge of its uncertainty.
    pub edge: String,
    /// The height of the limit in the field.
    pub limit_y: Option<String>,
    /// Where the bound meets the limit, across the field, and at which hours.
    pub bound: Option<(String, Hours)>,
    /// Values beside the plot: the height in the field and the figure.
    pub levels: Vec<(String, String)>,
    /// Hours below the plot: across the field and the figure.
    pub hours: Vec<(String, String)>,
    /// What the readings say, in one sentence without its full stop.
    pub says: String,
    /// What the line rests on; `None` without one.
    pub basis: Option<Basis>,
}

/// A reading in a chart.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Dot {
    /// Across the field.
    pub x: String,
    /// Down the field.
    pub y: String,
    /// The hours of the count.
    pub at: Hours,
    /// The value with its unit.
    pub value: String,
    /// Whether the line goes through it: it is not of the running-in.
    pub used: bool,
}

/// Charts of everything that was measured on the parts that are there now, twice or more unless the type's lines
/// steady one reading, in the order of the engine type; of what bears on no item, no record tells when its part was
/// changed, and it is left out.
#[must_use]
pub fn charts(
    history: &History,
    id: EngineId,
    engine_type: &EngineType,
    evidence: &Evidence,
) -> Vec<Chart> {
    let all: Vec<LineSubject<'_>> = subjects(history, id, engine_type).collect();
    let places = worn_places(&all, &engine_type.bench).into_iter();
    places
        .filter_map(|(subject, rule, place)| {
            let series = subject.series(rule, place);
            chart(subject, &series, evidence.steadying(subject, &series))
        })
        .collect()
}

fn chart(
    subject: &LineSubject<'_>,
    series: &Series<'_>,
    steadying: Option<Steadying<'_>>,
) -> Option<Chart> {
    let rule = series.rule;
    let run_in = run_in(subject, rule);
    let read = series.readings.iter().filter_map(|it| Some((it.at?, real(it.value.value), it)));
    let read: Vec<_> = read.collect();
    let trend = drawn(series, run_in, steadying);
    let basis = match &trend {
        Trend::Estimate(line) => Some(basis(line, steadying)),
        Trend::AlreadyReached(_) | Trend::CannotSay(_) => None,
    };
    // A steadied line is drawn from when the part was new: one reading would show nothing of it.
    let new_at = steadying.filter(|_| matches!(basis, Some(Basis::Fleet { .. })));
    let new_at = new_at.map(|it| decimal_hours(it.new_at));
    if new_at.is_none() && read.len() < READINGS_MIN {
        return None;
    }
    let limit = limit_of(rule);
    let points: Vec<(f64, f64)> = read.iter().map(|it| (decimal_hours(it.0), it.1)).collect();
    let field = Field::around(&points, new_at, limit, &trend);
    let from = run_in_until(series, run_in);
    let dots = read.iter().map(|(at, value, read)| Dot {
        x: px(field.x(decimal_hours(*at))),
        y: px(field.y(*value)),
        at: *at,
        value: format!("{} {}", read.value.value, rule.unit),
        used: *at >= from,
    });
    let (line, edge, bound) = match &trend {
        Trend::Estimate(found) => {
            let until = found.early().map_or(field.until, decimal_hours).min(field.until);
            let first = used(series, run_in).first().and_then(|it| it.at).map(decimal_hours);
            let first = new_at.or(first).unwrap_or_default();
            let bound = match found.early {
                Early::At(hours) if hours <= field.until => found.early().zip(Some(hours)),
                _ => None,
            };
            let line = field.polyline(first, field.until, |hours| found.edge.line.at(hours));
            let edge = field.polyline(first, until, |hours| Edge::at(&found.edge, hours));
            (line, edge, bound.map(|(at, hours)| (px(field.x(hours)), at)))
        }
        Trend::AlreadyReached(_) | Trend::CannotSay(_) => Default::default(),
    };
    Some(Chart {
        title: rule.title.clone(),
        position: series.place.or(subject.position).cloned(),
        limit: limit_words(rule),
        readings: dots.collect(),
        earlier: series.earlier,
        line,
        edge,
        limit_y: limit.map(|it| px(field.y(it))),
        bound,
        levels: ticks(field.low, field.high, |value| field.y(value)),
        hours: ticks(field.from, field.until, |hours| field.x(hours)),
        says: trend.to_string(),
        basis,
    })
}

/// The end of the limit to which a quantity wears.
fn limit_of(rule: &QuantityRule) -> Option<f64> {
    let end: Option<Decimal> = match rule.wear? {
        crate::measure::Wear::Rises => rule.limit.max,
        crate::measure::Wear::Falls => rule.limit.min,
    };
    end.map(|it| real(it.into()))
}

/// The stretch of hours and of values that is drawn.
struct Field {
    from: f64,
    until: f64,
    low: f64,
    high: f64,
}

impl Field {
    fn around(
        points: &[(f64, f64)],
        new_at: Option<f64>,
        limit: Option<f64>,
        trend: &Trend,
    ) -> Self {
        let ends = |of: fn(&(f64, f64)) -> f64| {
            let all = points.iter().map(of);
            (all.clone().fold(f64::MAX, f64::min), all.fold(f64::MIN, f64::max))
        };
        let (first, last) = ends(|it| it.0);
        let from = new_at.map_or(first, |new_at| first.min(new_at));
        let ahead = match trend {
            Trend::Estimate(found) => found.early().map_or(last, decimal_hours),
            Trend::AlreadyReached(_) | Trend::CannotSay(_) => last,
        };
        let stretch = (last - from).max(1.0);
        let until = ahead.min(last + AHEAD_MAX * stretch).max(last) + ROOM * stretch;
        let from = (from - ROOM * stretch).max(0.0);
        let (mut low, mut high) = ends(|it| it.1);
        if let Some(limit) = limit {
            (low, high) = (low.min(limit), high.max(limit));
        }
        if let (Some(new_at), Trend::Estimate(found)) = (new_at, trend) {
            let begins = found.edge.line.at(new_at);
            (low, high) = (low.min(begins), high.max(begins));
        }
        let room = (ROOM * (high - low)).max(1e-6);
        Self { from, until, low: low - room, high: high + room }
    }

    fn x(&self, hours: f64) -> f64 {
        let [left, right, ..] = PLOT;
        left + (right - left) * (hours - self.from) / (self.until - self.from)
    }

    fn y(&self, value: f64) -> f64 {
        let [.., top, bottom] = PLOT;
        bottom - (bottom - top) * (value - self.low) / (self.high - self.low)
    }

    /// A curve between two hours, as far as it lies within the values that are drawn.
    fn polyline(&self, from: f64, until: f64, value: impl Fn(f64) -> f64) -> String {
        let at = |step: u32| from + (until - from) * f64::from(step) / f64::from(STEPS);
        let corners = (0..=STEPS).map(|step| (at(step), value(at(step))));
        let within = corners.filter(|(_, value)| (self.low..=self.high).contains(value));
        let corners =
            within.map(|(hours, value)| format!("{},{}", px(self.x(hours)), px(self.y(value))));
        corners.collect::<Vec<_>>().join(" ")
    }
}

/// A coordinate to the tenth.
fn px(value: f64) -> String {
    format!("{value:.1}")
}

/// Round figures between two ends, three to six of them, each with its coordinate.
fn ticks(low: f64, high: f64, place: impl Fn(f64) -> f64) -> Vec<(String, String)> {
    let raw = ((high - low) / 4.0).max(1e-9);
    let ten = 10.0_f64.powf(raw.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0].map(|it| it * ten).into_iter().find(|it| *it >= raw);
    let step = step.unwrap_or(raw);
    let first = (low / step).ceil();
    let places = (0..4).find(|places| step * 10.0_f64.powi(*places) >= 0.999).unwrap_or(4);
    let places = usize::try_from(places).unwrap_or(0);
    let figures = (0..8).map(|number| (first + f64::from(number)) * step);
    let within = figures.take_while(|figure| *figure <= high);
    within.map(|figure| (px(place(figure)), format!("{figure:.places$}"))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    // Worked by hand: from 0 to 400 in steps of 100, from 67.51 to 67.63 in steps of 0.05.
    #[test]
    fn figures_beside_the_plot_are_round() {
        let figures = |low, high| -> Vec<String> {
            ticks(low, high, |it| it).into_iter().map(|it| it.1).collect()
        };
        assert_eq!(figures(0.0, 400.0), ["0", "100", "200", "300", "400"]);
        assert_eq!(figures(67.51, 67.63), ["67.55", "67.60"]);
        assert_eq!(figures(-1.5, 1.5), ["-1", "0", "1"]);
    }
}
