//! The hours at which wear reaches a limit.

use super::answer;
use gudgeon_api::read::{Fields, Value};
use gudgeon_life::hours::Hours;
use gudgeon_life::sure::fleet::{Covariance, ENGINES_MIN, Fleet};
use gudgeon_life::sure::line::Line;
use gudgeon_life::sure::trend::{
    Basis, CONFIDENCE, CannotSay, Early, Estimate, Measured, Question, Trend, trend as ask,
};
use serde::Serialize;
use std::ops::RangeInclusive;

/// How many engines a prior is from: [`ENGINES_MIN`] at least.
const ENGINES_RANGE: RangeInclusive<i64> = 6..=1_000_000;
/// The most readings of one quantity of one engine.
const READINGS_MAX: usize = 5000;

#[derive(Serialize)]
struct EstimateOut {
    status: &'static str,
    intercept: f64,
    slope: f64,
    point_hours: Option<f64>,
    lower_bound_hours: Option<f64>,
    confidence: f64,
    noise_sd: f64,
    cov: [[f64; 2]; 2],
    n: usize,
    basis: &'static str,
    warnings: Vec<&'static str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    words: Option<String>,
}

#[derive(Serialize)]
struct NoEstimateOut {
    status: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    reason: Option<&'static str>,
    point_hours: Option<f64>,
    lower_bound_hours: Option<f64>,
    words: String,
}

/// Hours `x`, values `y` and a limit: where their line reaches it, and not before which hours; with `prior_mean`,
/// `prior_cov`, `noise_sd` and `noise_df` steadied by a fleet's lines, those of `prior_engines` engines.
pub(super) fn trend(fields: &Fields<'_>) -> Option<String> {
    let hours = fields.required("x").and_then(|it| all(&it, Value::hours));
    let values = fields.required("y").and_then(|it| all(&it, Value::float));
    let question = question(fields);
    let fleet = match fields.optional("prior_mean") {
        Some(mean) => fleet(fields, &mean).map(Some),
        None => Some(None),
    };
    let (hours, values) = (hours?, values?);
    if hours.len() != values.len() {
        let detail =
            format!("{} hours have {} values; give each its own", hours.len(), values.len());
        fields.fault("y", "wrong-length", detail);
        return None;
    }
    let pairs = hours.into_iter().zip(values);
    let measured: Vec<Measured> = pairs.map(|(at, value)| Measured { at, value }).collect();
    let found = ask(&measured, &question?, fleet?.as_ref());
    let nothing = |status, reason| {
        let words = found.to_string();
        let (point_hours, lower_bound_hours) = (None, None);
        answer(&NoEstimateOut { status, reason, point_hours, lower_bound_hours, words })
    };
    match &found {
        Trend::Estimate(estimate) => {
            // Words name the number of engines, so they need it.
            let has_words =
                estimate.basis == Basis::Own || fields.optional("prior_engines").is_some();
            answer(&estimate_out(estimate, has_words.then(|| found.to_string())))
        }
        Trend::AlreadyReached(_) => nothing("already_reached", None),
        Trend::CannotSay(why) => nothing("cannot_say", Some(reason(*why))),
    }
}

/// Every entry of a list, or none when one of them is wrong; all wrong ones are reported.
fn all<'a, T>(list: &Value<'a>, read: impl Fn(&Value<'a>) -> Option<T>) -> Option<Vec<T>> {
    let read: Vec<Option<T>> = list.list(READINGS_MAX).iter().map(read).collect();
    read.into_iter().collect()
}

fn question(fields: &Fields<'_>) -> Option<Question> {
    // What is given and wrong has its fault, which stands in the place of the answer.
    let number = |name| fields.optional(name).and_then(|it| it.float());
    let hours = |name| fields.optional(name).and_then(|it| it.hours());
    if fields.optional("limit").is_none() && fields.optional("lower_limit").is_none() {
        fields.fault("limit", "missing", "give `limit`, `lower_limit` or both");
    }
    let confidence = match fields.optional("confidence") {
        None => Some(CONFIDENCE),
        Some(it) => it.float().and_then(|confidence| {
            if (0.5..=0.9999).contains(&confidence) {
                Some(confidence)
            } else {
                it.fault("out-of-range", "a confidence is between 0.5 and 0.9999, such as 0.95")
            }
        }),
    };
    Some(Question {
        upper: number("limit"),
        lower: number("lower_limit"),
        confidence: confidence?,
        run_in_until: hours("run_in_hours").unwrap_or(Hours::ZERO),
        part_changed_at: hours("part_changed_at"),
        gauge_step: number("gauge_resolution"),
    })
}

fn fleet(fields: &Fields<'_>, mean: &Value<'_>) -> Option<Fleet> {
    let mean_read = pair(mean, Value::float);
    let covariance =
        fields.required("prior_cov").and_then(|it| pair(&it, |row| pair(row, Value::float)));
    let scatter_sd = fields.required("noise_sd").and_then(|it| it.float());
    let scatter_freedom = fields.required("noise_df").and_then(|it| it.float());
    // A prior from fewer engines is none; of one that is given it is taken to be from enough.
    let engines = fields.optional("prior_engines").and_then(|it| it.whole(ENGINES_RANGE));
    let engines = engines.and_then(|engines| usize::try_from(engines).ok());
    let ([intercept, slope], [[own, both], [both_again, slope_own]]) = (mean_read?, covariance?);
    let fleet = Fleet {
        mean: Line { intercept, slope },
        covariance: Covariance { intercept: own, both, slope: slope_own },
        scatter_sd: scatter_sd?,
        scatter_freedom: scatter_freedom?,
        engines: engines.unwrap_or(ENGINES_MIN),
    };
    if fleet.is_usable() && both.total_cmp(&both_again).is_eq() {
        return Some(fleet);
    }
    mean.fault(
        "not-a-prior",
        "a fleet has a symmetric `prior_cov` with a positive determinant, a `noise_sd` above 0 and a `noise_df` of at least 1",
    )
}

/// Both entries of a list of two.
fn pair<'a, T>(list: &Value<'a>, read: impl Fn(&Value<'a>) -> Option<T>) -> Option<[T; 2]> {
    match list.list(READINGS_MAX).as_slice() {
        [first, second] => {
            let (first, second) = (read(first), read(second));
            Some([first?, second?])
        }
        _ => list.fault("wrong-length", "expected a list of two: intercept and slope"),
    }
}

fn estimate_out(estimate: &Estimate, words: Option<String>) -> EstimateOut {
    let line = estimate.edge.line;
    let Covariance { intercept, both, slope } = Covariance::from(&estimate.edge);
    let (status, lower_bound_hours) = match estimate.early {
        Early::At(hours) => ("ok", Some(hours)),
        Early::AtLastReading => ("bound_already_reached_at_last_reading", None),
        Early::NotWithin(_) => ("ok", None),
        Early::NoWear => ("slope_not_positive", None),
    };
    let warnings = [
        (estimate.one_reading_dominates, "one_reading_dominates"),
        (estimate.extrapolated, "extrapolated"),
        (estimate.scatter_of_gauge, "scatter_of_gauge"),
        (matches!(estimate.early, Early::NotWithin(_)), "bound_not_within_hours_searched"),
    ];
    EstimateOut {
        status,
        intercept: line.intercept,
        slope: line.slope,
        point_hours: estimate.point_hours,
        lower_bound_hours,
        confidence: estimate.confidence,
        noise_sd: estimate.scatter_sd,
        cov: [[intercept, both], [both, slope]],
        n: estimate.count,
        basis: if estimate.basis == Basis::Own { "own" } else { "fleet" },
        warnings: warnings.into_iter().filter(|it| it.0).map(|it| it.1).collect(),
        words,
    }
}

const fn reason(why: CannotSay) -> &'static str {
    match why {
        CannotSay::NoReading => "no reading",
        CannotSay::NeedsReadings { .. } => "needs 3 readings",
        CannotSay::SameHours => "all readings at the same hours",
        CannotSay::NoLimit => "no limit",
        CannotSay::OutOfRange => "out of range",
    }
}
