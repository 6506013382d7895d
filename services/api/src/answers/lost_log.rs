//! The estimated hours of an engine without a log as clients see them: the figures, what they rest on, how the method
//! does on this very fleet, and what an inspector accepted of them.

use super::Coded;
use chrono::NaiveDate;
use gudgeon_life::history::AcceptedRecord;
use gudgeon_life::programme::EngineType;
use gudgeon_life::sure::lost_log::{Indicator, Interval, LostLog, Part};
use gudgeon_life::sure::unlogged::Warning;
use serde::Serialize;

/// What an estimate may be used for, printed with every one.
pub(crate) const MAY_WORSEN: &str = "An estimate may make a line more urgent, never less. It sets neither hours since new, nor hours since overhaul, nor what is left of a life.";

/// What nobody but the shop can tell.
pub(crate) const ASK_RENEWED: &str = "Ask what was renewed before these records: cylinders, pistons, rings, bearings. The figures cannot tell, and a renewed part makes the engine look younger.";

/// An estimate with all that is owed to its reader. Hours are whole tens.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct LostLogOut {
    status: &'static str,
    p10: Option<i64>,
    p50: Option<i64>,
    p90: Option<i64>,
    /// The working figure.
    p95: Option<i64>,
    p97_5: Option<i64>,
    measured_on: Option<String>,
    /// The engine's own count then, from its registration; what it has run since is to be added.
    count_then: Option<String>,
    basis: BasisOut,
    calibration: Option<CalibrationOut>,
    warnings: Vec<Coded>,
    in_words: String,
    accepted: Option<AcceptedOut>,
    notes: [&'static str; 2],
}

#[derive(Clone, Debug, Serialize)]
struct BasisOut {
    logged_engines: usize,
    indicators: Vec<IndicatorOut>,
}

#[derive(Clone, Debug, Serialize)]
struct IndicatorOut {
    quantity: String,
    title: String,
    position: Option<String>,
    value: Option<String>,
    unit: Option<String>,
    role: &'static str,
    role_printed: &'static str,
}

#[derive(Clone, Debug, Serialize)]
struct CalibrationOut {
    engines: usize,
    inside_80_percent: i64,
    below_p95_percent: i64,
    in_words: Option<String>,
}

/// The estimate that an inspector accepted last.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct AcceptedOut {
    record: String,
    on: String,
    hours: String,
    until: String,
    ended: bool,
    in_words: String,
}

impl AcceptedOut {
    pub(crate) fn new(it: &AcceptedRecord, as_of: NaiveDate) -> Self {
        Self {
            record: it.moment.fact.to_string(),
            on: it.moment.on.to_string(),
            hours: it.hours.to_string(),
            until: it.until.to_string(),
            ended: it.has_ended(as_of),
            in_words: it.in_words(as_of),
        }
    }
}

impl LostLogOut {
    pub(crate) fn new(
        found: &LostLog,
        accepted: Option<&AcceptedRecord>,
        engine_type: &EngineType,
        as_of: NaiveDate,
    ) -> Self {
        let interval = found.answer.as_ref().ok();
        let upper = interval.and_then(|it| it.upper);
        let status = match interval {
            Some(Interval { upper: Some(_), .. }) => "ok",
            Some(_) => "at-least",
            None => "cannot-say",
        };
        Self {
            status,
            p10: interval.map(|it| it.p10),
            p50: interval.filter(|it| it.upper.is_some()).map(|it| it.p50),
            p90: upper.map(|it| it.p90),
            p95: upper.map(|it| it.p95),
            p97_5: upper.map(|it| it.p97_5),
            measured_on: found.measured_on.map(|it| it.to_string()),
            count_then: found.count_then.map(|it| it.to_string()),
            basis: BasisOut {
                logged_engines: found.engines,
                indicators: found.indicators.iter().map(|it| indicator(it, engine_type)).collect(),
            },
            calibration: found.calibration_percent().map(|(engines, inside, below)| {
                CalibrationOut {
                    engines,
                    inside_80_percent: inside,
                    below_p95_percent: below,
                    in_words: found.calibration_in_words(),
                }
            }),
            warnings: found.warnings.iter().copied().map(warning).collect(),
            in_words: found.in_words(),
            accepted: accepted.map(|it| AcceptedOut::new(it, as_of)),
            notes: [MAY_WORSEN, ASK_RENEWED],
        }
    }
}

fn indicator(
    (key, value, part): &(Indicator, Option<gudgeon_life::decimal::Decimal>, Part),
    engine_type: &EngineType,
) -> IndicatorOut {
    let rule = engine_type.bench.quantity(&key.quantity);
    IndicatorOut {
        quantity: key.quantity.to_string(),
        title: rule.map_or_else(|| key.quantity.to_string(), |it| it.title.clone()),
        position: key.position.as_ref().map(ToString::to_string),
        value: value.map(|it| it.to_string()),
        unit: rule.map(|it| it.unit.to_string()),
        role: part.word(),
        role_printed: part.printed(),
    }
}

/// What to mind, in words.
pub(crate) fn warning(warning: Warning) -> Coded {
    let (code, detail) = match warning {
        Warning::CompatibleWithNew => ("compatible-with-new", "the engine may be new"),
        Warning::Disagreement => {
            ("disagreement", "the measurements contradict each other: ask again what was renewed")
        }
        Warning::RowsLeftOut => {
            ("rows-left-out", "logged engines without all of these measurements were left out")
        }
    };
    Coded { code, detail: detail.to_owned() }
}
