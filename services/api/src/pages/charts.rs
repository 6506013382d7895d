//! The charts of an engine's page: what was measured, with its trend and its limit.

use super::place;
use gudgeon_life::history::History;
use gudgeon_life::ids::EngineId;
use gudgeon_life::programme::EngineType;
use gudgeon_life::sure::chart::{self, Chart, Dot, HEIGHT, WIDTH};
use gudgeon_life::sure::prior::Evidence;
use gudgeon_life::wear::Basis;
use serde::Serialize;

/// What stands below all charts.
pub(super) const BASIS: &str = "Hours are those of what is counted there";

/// One chart, its coordinates ready to be drawn.
#[derive(Serialize)]
pub(super) struct Charted {
    title: String,
    place: Option<String>,
    width: u32,
    height: u32,
    limit: String,
    first: String,
    last: String,
    readings: Vec<Dotted>,
    earlier: usize,
    line: String,
    edge: String,
    limit_y: Option<String>,
    bound: Option<(String, String)>,
    levels: Vec<(String, String)>,
    hours: Vec<(String, String)>,
    says: String,
    basis: Option<String>,
}

#[derive(Serialize)]
struct Dotted {
    x: String,
    y: String,
    at: String,
    value: String,
    used: bool,
}

pub(super) fn charts(
    history: &History,
    id: EngineId,
    engine_type: Option<&EngineType>,
    evidence: &Evidence,
) -> Vec<Charted> {
    let charts = engine_type.map_or_else(Vec::new, |it| chart::charts(history, id, it, evidence));
    charts.into_iter().map(|it| charted(it, engine_type)).collect()
}

fn charted(it: Chart, engine_type: Option<&EngineType>) -> Charted {
    let at =
        |dot: Option<&Dot>| dot.map_or_else(String::new, |dot| format!("{} h", dot.at.tenths_up()));
    let dotted = |dot: &Dot| Dotted {
        x: dot.x.clone(),
        y: dot.y.clone(),
        at: at(Some(dot)),
        value: dot.value.clone(),
        used: dot.used,
    };
    Charted {
        place: it.position.as_ref().map(|at| place(engine_type, at.as_str())),
        width: WIDTH,
        height: HEIGHT,
        first: at(it.readings.first()),
        last: at(it.readings.last()),
        readings: it.readings.iter().map(dotted).collect(),
        bound: it.bound.map(|(x, hours)| (x, format!("{} h", hours.tenths_down()))),
        title: it.title,
        limit: it.limit,
        earlier: it.earlier,
        line: it.line,
        edge: it.edge,
        limit_y: it.limit_y,
        levels: it.levels,
        hours: it.hours,
        says: it.says,
        basis: it.basis.map(Basis::printed),
    }
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    pub(in crate::pages) fn sample(name: &str) -> Charted {
        let text = || name.to_owned();
        let tick = || vec![("10.0".to_owned(), text())];
        let dot = |used| Dotted {
            x: "60.0".to_owned(),
            y: "90.0".to_owned(),
            at: text(),
            value: text(),
            used,
        };
        Charted {
            title: text(),
            place: Some(text()),
            width: WIDTH,
            height: HEIGHT,
            limit: text(),
            first: text(),
            last: text(),
            readings: vec![dot(false), dot(true)],
            earlier: 1,
            line: "60.0,90.0 70.0,80.0".to_owned(),
            edge: "60.0,80.0 70.0,70.0".to_owned(),
            limit_y: Some("20.0".to_owned()),
            bound: Some(("90.0".to_owned(), text())),
            levels: tick(),
            hours: tick(),
            says: text(),
            basis: Some(text()),
        }
    }
}
