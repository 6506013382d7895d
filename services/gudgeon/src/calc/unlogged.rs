//! `calc unlogged`: the hours of an engine with no log, from its measurements and the logged engines of its type.

use super::answer;
use super::lists::{all, nullable, numbers, optional, same_length};
use gudgeon_api::read::{Fields, Node, Value};
use gudgeon_life::sure::unlogged::{
    Bounds, Calibration, Estimate, FiellerError, Fleet, Hours, Measured, Role, Row, UnloggedError,
    Warning, invert,
};
use serde::Serialize;

/// Hours between overhauls where none are given.
const OVERHAUL_H: f64 = 1500.0;
/// The most measurements that a mean is made of.
const REPEATS_MAX: i64 = 1000;

#[derive(Serialize)]
struct HoursOut {
    status: &'static str,
    reason: Option<String>,
    engines: usize,
    p10: Option<f64>,
    p50: Option<f64>,
    p90: Option<f64>,
    p95: Option<f64>,
    p97_5: Option<f64>,
    disagreement: Option<f64>,
    disagreement_max: Option<f64>,
    indicators_used: Vec<usize>,
    indicators: Vec<&'static str>,
    warnings: Vec<&'static str>,
}

impl From<Estimate> for HoursOut {
    fn from(estimate: Estimate) -> Self {
        let Estimate { roles, engines, answer, warnings } = estimate;
        let used = roles.iter().enumerate().filter(|(_, role)| **role == Role::Used);
        let hours = answer.as_ref().ok();
        let upper = hours.and_then(Hours::upper);
        Self {
            status: match (hours, upper) {
                (None, _) => "cannot_say",
                (Some(_), None) => "at_least_p10",
                (Some(_), Some(_)) => "ok",
            },
            reason: answer.as_ref().err().map(ToString::to_string),
            engines,
            p10: hours.map(|it| it.p10),
            p50: hours.map(|it| it.p50),
            p90: upper.map(|it| it.p90),
            p95: upper.map(|it| it.p95),
            p97_5: upper.map(|it| it.p97_5),
            disagreement: hours.map(|it| it.disagreement),
            disagreement_max: hours.map(|it| it.disagreement_max),
            indicators_used: if hours.is_some() {
                used.map(|(at, _)| at).collect()
            } else {
                vec![]
            },
            indicators: roles.iter().map(|it| role(*it)).collect(),
            warnings: warnings.into_iter().map(warning).collect(),
        }
    }
}

const fn role(role: Role) -> &'static str {
    match role {
        Role::Used => "used",
        Role::Missing => "missing",
        Role::Renewed => "renewed",
        Role::NotInformative => "not-informative",
    }
}

const fn warning(warning: Warning) -> &'static str {
    match warning {
        Warning::CompatibleWithNew => "compatible-with-new",
        Warning::Disagreement => "disagreement",
        Warning::RowsLeftOut => "rows-left-out",
    }
}

#[derive(Serialize)]
struct InverseOut {
    status: &'static str,
    estimate: f64,
    g: f64,
    lower: Option<f64>,
    upper: Option<f64>,
}

/// `fleet_engine`, `fleet_hours` and `fleet_y` of the logged engines, row by row, and `y0` of the engine without a log:
/// a number, `null` if it was not measured, `"renewed"` if the part is newer than its engine. Or, with `x` in place of
/// these, one indicator's line read backwards.
pub(super) fn unlogged(fields: &Fields<'_>) -> Option<String> {
    if fields.optional("x").is_some() {
        return single(fields);
    }
    let engines =
        fields.required("fleet_engine").and_then(|it| all(&it, |it| it.whole(0..=i64::MAX)));
    let hours = numbers(fields, "fleet_hours");
    let values =
        fields.required("fleet_y").and_then(|it| all(&it, |row| all(row, |it| Some(nullable(it)))));
    let measured = fields.required("y0").and_then(|it| all(&it, measured));
    let overhaul_h = optional(fields, "overhaul_hours");
    let (low_h, high_h) = (optional(fields, "at_least"), optional(fields, "at_most"));
    let (engines, hours, values) = (engines?, hours?, values?);
    same_length(fields, "fleet_hours", hours.len(), engines.len())?;
    same_length(fields, "fleet_y", values.len(), engines.len())?;
    let rows = engines.iter().zip(hours).zip(values).map(|((engine, hours), values)| Row {
        engine: engine.unsigned_abs(),
        hours,
        values,
    });
    let bounds = Bounds { low_h, high_h };
    let measured = measured?;
    match Fleet::new(rows.collect(), overhaul_h.unwrap_or(OVERHAUL_H)) {
        Err(error) => refused(fields, "fleet_y", error),
        Ok(fleet) => match fleet.estimate(&measured, bounds) {
            Err(error) => refused(fields, "y0", error),
            Ok(estimate) => answer(&HoursOut::from(estimate)),
        },
    }
}

fn measured(value: &Value<'_>) -> Option<Measured> {
    match value.node() {
        Node::Null => Some(Measured::Missing),
        Node::Text(text) if text == "renewed" => Some(Measured::Renewed),
        _ => value.float().map(Measured::Value),
    }
}

/// A fault at the field that the error is about; `about` where the error itself does not say.
fn refused(fields: &Fields<'_>, about: &str, error: UnloggedError) -> Option<String> {
    let name = match error {
        UnloggedError::Hours => "fleet_hours",
        UnloggedError::Overhaul => "overhaul_hours",
        UnloggedError::Bounds => "at_least",
        UnloggedError::Value | UnloggedError::Shape => about,
    };
    fields.fault(name, error.slug(), error.to_string());
    None
}

/// One indicator's line read backwards.
fn single(fields: &Fields<'_>) -> Option<String> {
    let (x, y) = (numbers(fields, "x"), numbers(fields, "y"));
    let y0 = fields.required("y0").and_then(|it| it.float());
    let confidence = fields.required("confidence").and_then(|it| it.float());
    let repeats = fields.optional("repeats").map_or(Some(1), |it| it.whole(1..=REPEATS_MAX));
    let mean_response = fields.optional("mean_response").map_or(Some(false), |it| it.flag());
    let asked = Calibration {
        x: x?,
        y: y?,
        y0: y0?,
        repeats: u32::try_from(repeats?).unwrap_or(u32::MAX),
        confidence: confidence?,
        mean_response: mean_response?,
    };
    match invert(&asked) {
        Ok(found) => answer(&InverseOut {
            status: if found.limits.is_some() { "ok" } else { "unbounded" },
            estimate: found.estimate,
            g: found.g,
            lower: found.limits.map(|it| it.0),
            upper: found.limits.map(|it| it.1),
        }),
        Err(error) => {
            let name = match error {
                FiellerError::Confidence => "confidence",
                FiellerError::Repeats => "repeats",
                FiellerError::Points | FiellerError::Value | FiellerError::Level => "y",
            };
            fields.fault(name, error.slug(), error.to_string());
            None
        }
    }
}
