//! How long the parts of an engine type last, by what is on record, beside what its programme says.

#![expect(
    clippy::float_arithmetic,
    reason = "estimates are rounded here to what they support; none of them reaches a due hour"
)]

use super::each_chunk;
use crate::app::App;
use crate::problem::Problem;
use chrono::NaiveDate;
use gudgeon_life::hours::Hours;
use gudgeon_life::ids::PartKind;
use gudgeon_life::programme::{Action, EngineType, Item, Subject};
use gudgeon_life::sure::lives::{Lives, lives};
use gudgeon_life::sure::part_life::{Evidence, Says, Survival};
use serde::Serialize;
use std::collections::BTreeMap;

/// The most steps of a survival curve that are told; of more, evenly spread ones.
const STEPS_MAX: usize = 20;

/// What the engines of a type tell about the life of their parts.
#[derive(Serialize)]
pub(crate) struct LifeOut {
    pub(crate) engine_type: String,
    pub(crate) title: String,
    engines: usize,
    /// Whether these were all of them.
    all_engines: bool,
    kinds: Vec<KindOut>,
}

/// One kind of part.
#[derive(Serialize)]
struct KindOut {
    kind: String,
    /// What is said about it, in words.
    in_words: String,
    status: &'static str,
    parts: usize,
    failed: usize,
    /// Found bad at an inspection: they went bad some time since the one before.
    found_bad: usize,
    good: usize,
    entered_late: usize,
    #[serde(skip_serializing_if = "Option::is_none")]
    weibull: Option<WeibullOut>,
    #[serde(skip_serializing_if = "Option::is_none")]
    assumed: Option<AssumedOut>,
    survival: Vec<StepOut>,
    /// What to mind.
    warnings: Vec<String>,
    /// What the programme says of it, and how the records stand to that.
    limits: Vec<LimitOut>,
}

/// Hours by which so many parts have failed.
#[derive(Serialize)]
struct WeibullOut {
    /// One part in ten, and the earliest that this may be, 95 % sure.
    b10_hours: f64,
    b10_lower95_hours: Option<f64>,
    /// Below 1 early failures, above 1 wear-out; between these, 95 % sure.
    shape: f64,
    shape_low95: f64,
    shape_high95: f64,
}

/// A lower bound where the records tell no shape.
#[derive(Serialize)]
struct AssumedOut {
    shape: f64,
    b10_lower95_hours: f64,
}

/// One step of the survival curve.
#[derive(Serialize)]
struct StepOut {
    /// Parts went bad in this stretch; without a beginning, at its end.
    after_hours: Option<f64>,
    /// Without it, later than anything was seen.
    until_hours: Option<f64>,
    surviving_percent: f64,
    surviving_low95_percent: Option<f64>,
    surviving_high95_percent: Option<f64>,
}

#[derive(Serialize)]
struct LimitOut {
    item: String,
    title: String,
    hours: String,
    in_words: String,
}

/// What the engines of a type tell, by kind of part, or of one kind.
pub(crate) fn life(
    app: &App,
    engine_type: &EngineType,
    kind: Option<&str>,
    as_of: NaiveDate,
) -> Result<LifeOut, Problem> {
    let mut all: BTreeMap<PartKind, Lives> = BTreeMap::new();
    let (engines, all_engines) = each_chunk(app, engine_type, |chunk| {
        for row in &chunk.engines {
            for (kind, told) in lives(&chunk.history, row.engine, engine_type, as_of) {
                all.entry(kind).or_default().extend(told);
            }
        }
    })?;
    all.retain(|known, _| kind.is_none_or(|kind| known.as_str() == kind));
    Ok(LifeOut {
        engine_type: engine_type.name.to_string(),
        title: engine_type.title.clone(),
        engines,
        all_engines,
        kinds: all.iter().map(|(kind, lives)| kind_out(kind, lives, engine_type)).collect(),
    })
}

fn kind_out(kind: &PartKind, lives: &Lives, engine_type: &EngineType) -> KindOut {
    let evidence = Evidence::weigh(&lives.parts);
    let (weibull, assumed, status) = match evidence.says {
        Says::Cannot(_) | Says::SurvivalOnly => (None, None, "cannot-say"),
        Says::Assumed { bound, .. } => {
            let out =
                AssumedOut { shape: bound.shape, b10_lower95_hours: tenth(bound.b10_lower_h) };
            (None, Some(out), "assumed-shape")
        }
        Says::Weibull { life, .. } => {
            let out = WeibullOut {
                b10_hours: tenth(life.b10_h),
                b10_lower95_hours: life.b10_lower95_h.map(tenth),
                shape: tenth(life.shape),
                shape_low95: tenth(life.shape_95.0),
                shape_high95: tenth(life.shape_95.1),
            };
            (Some(out), None, "ok")
        }
    };
    KindOut {
        kind: kind.as_str().to_owned(),
        in_words: evidence.says.to_string(),
        status,
        parts: lives.parts.len(),
        failed: lives.failed,
        found_bad: lives.found_bad,
        good: lives.good(),
        entered_late: lives.entered_late,
        weibull,
        assumed,
        survival: steps(&evidence.survival),
        warnings: warnings(lives),
        limits: limits(kind, engine_type)
            .map(|(item, hours)| limit_out(item, hours, &evidence))
            .collect(),
    }
}

/// What to mind about the records of a kind.
fn warnings(lives: &Lives) -> Vec<String> {
    let told = [
        (
            lives.no_cause,
            "came off and nobody said why; they count as good, which may be too hopeful",
        ),
        (lives.no_hours, "left out, because the hours on them are not known"),
    ];
    told.iter()
        .filter(|(count, _)| *count > 0)
        .map(|(count, what)| format!("{count} {what}"))
        .collect()
}

/// The hours after which a programme wants parts of a kind renewed or overhauled, item by item.
fn limits<'a>(
    kind: &PartKind,
    engine_type: &'a EngineType,
) -> impl Iterator<Item = (&'a Item, Hours)> {
    let about = Subject::Component(kind.clone());
    engine_type.items.iter().filter(move |item| item.subject == about).filter_map(|item| {
        let ends_life =
            item.done_by.iter().any(|it| matches!(it, Action::Renewed | Action::Overhauled));
        let hours = item.limits.iter().filter_map(|limit| limit.every.hours).min()?;
        ends_life.then_some((item, hours))
    })
}

fn limit_out(item: &Item, hours: Hours, evidence: &Evidence) -> LimitOut {
    let limit_h = f64::from(u32::try_from(hours.seconds()).unwrap_or(u32::MAX)) / 3600.0;
    LimitOut {
        item: item.id.to_string(),
        title: item.title.clone(),
        hours: hours.to_string(),
        in_words: evidence.against(limit_h).to_string(),
    }
}

fn steps(survival: &Survival) -> Vec<StepOut> {
    let all: Vec<StepOut> = match survival {
        Survival::KaplanMeier(curve) => {
            let step = |it: &gudgeon_life::sure::part_life::kaplan_meier::Step| StepOut {
                after_hours: None,
                until_hours: Some(tenth(it.time_h)),
                surviving_percent: tenth(100.0 * it.survival),
                surviving_low95_percent: it.limits.map(|limits| tenth(100.0 * limits.lower95)),
                surviving_high95_percent: it.limits.map(|limits| tenth(100.0 * limits.upper95)),
            };
            curve.steps.iter().map(step).collect()
        }
        Survival::Turnbull(curve) => {
            let step = |it: &gudgeon_life::sure::part_life::turnbull::Innermost| StepOut {
                after_hours: Some(tenth(it.from_h)),
                until_hours: it.to_h.map(tenth),
                surviving_percent: tenth(100.0 * it.survival_after),
                surviving_low95_percent: None,
                surviving_high95_percent: None,
            };
            curve.innermost.iter().map(step).collect()
        }
        Survival::CannotSay => Vec::new(),
    };
    let every = all.len().div_ceil(STEPS_MAX).max(1);
    let last = all.len().saturating_sub(1);
    all.into_iter()
        .enumerate()
        .filter(|(at, _)| at % every == 0 || *at == last)
        .map(|it| it.1)
        .collect()
}

/// Rounded to a tenth: nothing here supports more.
fn tenth(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;

    /// A view in which every text is a name.
    pub(crate) fn sample(name: &str) -> LifeOut {
        let text = || name.to_owned();
        let step = |after_hours, low| StepOut {
            after_hours,
            until_hours: Some(120.0),
            surviving_percent: 90.0,
            surviving_low95_percent: low,
            surviving_high95_percent: low,
        };
        LifeOut {
            engine_type: text(),
            title: text(),
            engines: 1,
            all_engines: false,
            kinds: vec![KindOut {
                kind: text(),
                in_words: text(),
                status: "ok",
                parts: 3,
                failed: 1,
                found_bad: 1,
                good: 1,
                entered_late: 0,
                weibull: None,
                assumed: None,
                survival: vec![step(Some(100.0), None), step(None, Some(50.0))],
                warnings: vec![text()],
                limits: vec![LimitOut {
                    item: text(),
                    title: text(),
                    hours: text(),
                    in_words: text(),
                }],
            }],
        }
    }
}
