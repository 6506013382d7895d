//! What the page of an engine without a log says of its hours: the estimate, what it rests on, and what was accepted.

use super::place;
use crate::answers::lost_log::{ASK_RENEWED, MAY_WORSEN, warning};
use crate::app::App;
use crate::problem::Problem;
use crate::routes::hours_estimate;
use chrono::NaiveDate;
use gudgeon_life::history::{History, Log};
use gudgeon_life::ids::EngineId;
use gudgeon_life::programme::EngineType;
use gudgeon_life::sure::lost_log::LostLog;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

/// The estimated hours of an engine.
#[derive(Serialize)]
pub(super) struct Estimated {
    says: String,
    /// Whether hours are said.
    said: bool,
    /// When it was measured, and what it had run then since it was registered.
    measured: Option<String>,
    /// What became of what was measured: the words, and each quantity at its place.
    indicators: Vec<(&'static str, String)>,
    calibration: Option<String>,
    warnings: Vec<String>,
    accepted: Option<String>,
    notes: [&'static str; 2],
}

/// `None` for an engine with a log, and for one whose type has no programme.
pub(super) fn estimated(
    app: &App,
    history: &History,
    id: EngineId,
    engine_type: Option<&EngineType>,
    as_of: NaiveDate,
) -> Result<Option<Estimated>, Problem> {
    let unlogged = history.engine(id).filter(|it| it.log == Log::Unknown);
    let (Some(engine), Some(engine_type)) = (unlogged, engine_type) else { return Ok(None) };
    let found = hours_estimate::of_engine(app, id, history, engine_type, &BTreeSet::new())?;
    let measured = found.measured_on.zip(found.count_then).map(|(on, count)| {
        format!("By what was measured on {on}, {} h after it was registered", count.tenths_up())
    });
    Ok(Some(Estimated {
        says: found.in_words(),
        said: found.answer.is_ok(),
        measured: measured.filter(|_| found.answer.is_ok()),
        indicators: indicators(&found, engine_type),
        calibration: found.calibration_in_words(),
        warnings: found.warnings.iter().map(|it| warning(*it).detail).collect(),
        accepted: engine.accepted.map(|it| it.in_words(as_of)),
        notes: [MAY_WORSEN, ASK_RENEWED],
    }))
}

/// The quantities by what became of them.
fn indicators(found: &LostLog, engine_type: &EngineType) -> Vec<(&'static str, String)> {
    let mut by_part: BTreeMap<&'static str, Vec<String>> = BTreeMap::new();
    for (key, _, part) in &found.indicators {
        let title = engine_type.bench.quantity(&key.quantity);
        let title = title.map_or_else(|| key.quantity.to_string(), |it| it.title.clone());
        let at = key.position.as_ref().map(|at| place(Some(engine_type), at.as_str()));
        let at = at.map_or_else(String::new, |at| format!(" ({at})"));
        by_part.entry(part.printed()).or_default().push(format!("{title}{at}"));
    }
    by_part.into_iter().map(|(part, all)| (part, all.join("; "))).collect()
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    pub(in crate::pages) fn sample(name: &str) -> Estimated {
        let text = || name.to_owned();
        Estimated {
            says: text(),
            said: true,
            measured: Some(text()),
            indicators: vec![("used", text())],
            calibration: Some(text()),
            warnings: vec![text()],
            accepted: Some(text()),
            notes: [MAY_WORSEN, ASK_RENEWED],
        }
    }
}
