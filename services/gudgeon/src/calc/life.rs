//! `calc life`: what parts that failed, were found bad or still run say about how long such parts last.

use super::answer;
use super::lists::{all, nullable, optional, same_length};
use gudgeon_api::read::{Fields, Node, Value};
use gudgeon_life::sure::part_life::assumed::{self, Assumed};
use gudgeon_life::sure::part_life::kaplan_meier::{KaplanMeier, Step};
use gudgeon_life::sure::part_life::turnbull::Turnbull;
use gudgeon_life::sure::part_life::weibull::{self, Weibull};
use gudgeon_life::sure::part_life::{Evidence, Part, PartError, Survival};
use serde::Serialize;

/// The hours at which an assumed shape tells its share of survivors.
const RELIABILITY_AT_H: f64 = 500.0;

#[derive(Serialize)]
struct LifeOut {
    parts: usize,
    failures: usize,
    says: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    against_limit: Option<String>,
    weibull: Option<WeibullOut>,
    survival: SurvivalOut,
}

#[derive(Serialize)]
struct WeibullOut {
    shape: f64,
    shape_95: [f64; 2],
    scale: f64,
    log_likelihood: f64,
    se_log_shape: f64,
    se_log_scale: f64,
    corr_log: f64,
    b10: f64,
    b10_lower95_wald_log: f64,
    b10_lower95_likelihood_ratio: Option<f64>,
    median_life: f64,
    mean_life: f64,
}

impl From<Weibull> for WeibullOut {
    fn from(life: Weibull) -> Self {
        Self {
            shape: life.shape,
            shape_95: [life.shape_95.0, life.shape_95.1],
            scale: life.scale_h,
            log_likelihood: life.log_likelihood,
            se_log_shape: life.se_log_shape,
            se_log_scale: life.se_log_scale,
            corr_log: life.corr_log,
            b10: life.b10_h,
            b10_lower95_wald_log: life.b10_lower95_wald_log_h,
            b10_lower95_likelihood_ratio: life.b10_lower95_h,
            median_life: life.median_h,
            mean_life: life.mean_h,
        }
    }
}

#[derive(Serialize)]
#[serde(untagged)]
enum SurvivalOut {
    Known {
        steps: Vec<StepOut>,
        median: Option<f64>,
    },
    Inspected {
        innermost: Vec<[EndOut; 2]>,
        mass: Vec<f64>,
        survival_after: Vec<f64>,
        log_likelihood: f64,
    },
    None,
}

#[derive(Serialize)]
#[serde(untagged)]
enum EndOut {
    Hours(f64),
    Endless(&'static str),
}

#[derive(Serialize)]
struct StepOut {
    time: f64,
    at_risk: usize,
    events: usize,
    survival: f64,
    greenwood_se: Option<f64>,
    lower95_loglog: Option<f64>,
    upper95_loglog: Option<f64>,
    nelson_aalen: f64,
}

impl From<&Step> for StepOut {
    fn from(step: &Step) -> Self {
        Self {
            time: step.time_h,
            at_risk: step.at_risk,
            events: step.events,
            survival: step.survival,
            greenwood_se: step.limits.map(|it| it.greenwood_se),
            lower95_loglog: step.limits.map(|it| it.lower95),
            upper95_loglog: step.limits.map(|it| it.upper95),
            nelson_aalen: step.nelson_aalen,
        }
    }
}

impl From<Survival> for SurvivalOut {
    fn from(survival: Survival) -> Self {
        match survival {
            Survival::KaplanMeier(KaplanMeier { steps, median_h }) => {
                Self::Known { steps: steps.iter().map(StepOut::from).collect(), median: median_h }
            }
            Survival::Turnbull(Turnbull { innermost, log_likelihood }) => {
                let end = |hours: Option<f64>| hours.map_or(EndOut::Endless("inf"), EndOut::Hours);
                Self::Inspected {
                    innermost: innermost
                        .iter()
                        .map(|it| [EndOut::Hours(it.from_h), end(it.to_h)])
                        .collect(),
                    mass: innermost.iter().map(|it| it.mass).collect(),
                    survival_after: innermost.iter().map(|it| it.survival_after).collect(),
                    log_likelihood,
                }
            }
            Survival::CannotSay => Self::None,
        }
    }
}

#[derive(Serialize)]
struct AssumedOut {
    assumed_shape: BoundOut,
}

#[derive(Serialize)]
struct BoundOut {
    shape: f64,
    confidence: f64,
    failures: usize,
    scale_point: Option<f64>,
    scale_lower: f64,
    b10_lower: f64,
    reliability_lower_at_500: f64,
}

impl From<Assumed> for BoundOut {
    fn from(bound: Assumed) -> Self {
        Self {
            shape: bound.shape,
            confidence: bound.confidence,
            failures: bound.failures,
            scale_point: bound.scale_h,
            scale_lower: bound.scale_lower_h,
            b10_lower: bound.b10_lower_h,
            reliability_lower_at_500: bound.surviving_lower(RELIABILITY_AT_H),
        }
    }
}

/// `{"time":[...],"event":[1,0,...],"entry":[...]}` or `{"interval":[[good,bad],...],"entry":[...]}`, with `limit` for
/// the programme's limit; or `{"time_run":[...],"failures":0,"shape_assumed":1,"confidence":0.9}`.
pub(super) fn life(fields: &Fields<'_>) -> Option<String> {
    if let Some(hours) = fields.optional("time_run") {
        return assumed_shape(fields, &hours);
    }
    let parts = parts(fields);
    let limit = optional(fields, "limit");
    let parts = parts?;
    let evidence = Evidence::weigh(&parts);
    answer(&LifeOut {
        parts: evidence.parts,
        failures: evidence.failures,
        says: evidence.says.to_string(),
        against_limit: limit.map(|limit| evidence.against(limit).to_string()),
        weibull: weibull::fit(&parts).map(WeibullOut::from),
        survival: evidence.survival.into(),
    })
}

fn assumed_shape(fields: &Fields<'_>, hours: &Value<'_>) -> Option<String> {
    let hours = all(hours, |it| {
        let hours = it.float()?;
        // The same bounds as for any part.
        Part::running(hours)
            .or_else(|error| it.fault(error.slug(), error.to_string()).ok_or(error))
            .ok()?;
        Some(hours)
    });
    let failures = fields.required("failures").and_then(|it| it.whole(0..=1_000_000));
    let shape = fields.required("shape_assumed").and_then(|it| it.float());
    let confidence = fields.required("confidence").and_then(|it| it.float());
    let (hours, failures, shape, confidence) = (hours?, failures?, shape?, confidence?);
    for (name, value, range) in [
        ("shape_assumed", shape, assumed::SHAPES),
        ("confidence", confidence, assumed::CONFIDENCES),
    ] {
        if !range.contains(&value) {
            let detail = format!("write a number from {} to {}", range.start(), range.end());
            fields.fault(name, "out-of-range", detail);
            return None;
        }
    }
    let failures = usize::try_from(failures).unwrap_or_default();
    let Some(bound) = assumed::bound(&hours, failures, shape, confidence) else {
        fields.fault("time_run", "nothing-ran", "cannot say: no part has run yet");
        return None;
    };
    answer(&AssumedOut { assumed_shape: bound.into() })
}

/// The parts of either form, each with its entry.
fn parts(fields: &Fields<'_>) -> Option<Vec<Part>> {
    let interval = fields.optional("interval");
    let name = if interval.is_some() { "interval" } else { "time" };
    let parts = match interval {
        Some(list) => all(&list, part),
        None => timed(fields),
    };
    let entries = match fields.optional("entry") {
        Some(list) => Some(all(&list, |it| Some(nullable(it)))?),
        None => None,
    };
    let parts = parts?;
    let Some(entries) = entries else { return Some(parts) };
    same_length(fields, "entry", entries.len(), parts.len())?;
    let entered = parts.into_iter().zip(entries).enumerate().map(|(at, (part, entry))| {
        let refuse = |error: PartError| {
            fields.fault(name, error.slug(), format!("entry {at}: {error}"));
        };
        part.entered(entry.unwrap_or_default()).map_err(refuse).ok()
    });
    let entered: Vec<Option<Part>> = entered.collect();
    entered.into_iter().collect()
}

fn timed(fields: &Fields<'_>) -> Option<Vec<Part>> {
    let times = fields.required("time");
    let events = fields.required("event").and_then(|it| all(&it, |it| it.whole(0..=1)));
    let (times, events) = (times?, events?);
    let mut failed = events.iter();
    let parts = all(&times, |it| {
        let failed = failed.next().is_some_and(|event| *event == 1);
        let hours = it.float()?;
        checked(it, if failed { Part::failed(hours) } else { Part::running(hours) })
    })?;
    same_length(fields, "event", events.len(), parts.len())?;
    Some(parts)
}

/// `[good, bad]`; bad is `"inf"` or `null` for a part that was never found bad, and equal to good if it failed then.
fn part(value: &Value<'_>) -> Option<Part> {
    let ends = value.list(2);
    let [good, bad] = ends.as_slice() else {
        return value.fault("wrong-type", "write the hours last known good and first known bad, such as [100, 200] or [100, \"inf\"]");
    };
    let good_h = good.float();
    let part = match bad.node() {
        Node::Null => Part::running(good_h?),
        Node::Text(text) if text == "inf" => Part::running(good_h?),
        _ => Part::found_bad(good_h?, bad.float()?),
    };
    checked(value, part)
}

fn checked(value: &Value<'_>, part: Result<Part, PartError>) -> Option<Part> {
    part.or_else(|error| value.fault(error.slug(), error.to_string()).ok_or(error)).ok()
}
