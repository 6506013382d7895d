//! A blank inspection sheet, to be printed on A4 and written on at the bench.

use super::{Frame, html, place, rendered};
use crate::app::App;
use crate::auth::PageReader;
use crate::call::Call;
use crate::problem::Problem;
use crate::routes::sheets::active_type;
use actix_web::{HttpResponse, web};
use gudgeon_life::cautions::CAUTIONS;
use gudgeon_life::fact::Condition;
use gudgeon_life::ids::{ItemId, PositionId};
use gudgeon_life::measure::{Bounds, QuantityRule};
use gudgeon_life::programme::EngineType;
use gudgeon_life::sheet::{Asked, Point, Readings, Sheet};
use gudgeon_store::Principal;
use serde::Serialize;

/// The rows of a bore's grid are named by their level, and nobody has words for more than three.
const LEVELS: [&str; 3] = ["top", "middle", "bottom"];

#[derive(Serialize)]
pub(super) struct Blank {
    title: String,
    engine_type: String,
    entries: usize,
    /// The short names that a post gives: the type's and the sheet's.
    name: String,
    sheet: String,
    conditions: String,
    points: Vec<Row>,
    cautions: [&'static str; CAUTIONS.len()],
}

/// A point with its entries.
#[derive(Serialize)]
struct Row {
    number: usize,
    asks: &'static str,
    title: String,
    /// The figures to compare with, in words.
    figures: Vec<String>,
    /// The short name under which its answer is posted.
    name: String,
    entries: Vec<Entry>,
}

/// Room for one answer.
#[derive(Serialize)]
struct Entry {
    place: Option<String>,
    /// What is written beside each box; a look has none, and gets lines instead.
    boxes: Vec<String>,
    unit: Option<&'static str>,
    lines: Vec<()>,
}

/// `GET /engine-types/{name}/sheets/{sheet}`
pub(super) async fn show(reader: PageReader, call: Call) -> Result<HttpResponse, Problem> {
    let (name, id) = (call.path("name").to_owned(), call.path("sheet").to_owned());
    let app = call.app.clone();
    web::block(move || page(&app, &reader.0, &name, &id)).await?.map(html)
}

fn page(app: &App, reader: &Principal, name: &str, id: &str) -> Result<String, Problem> {
    let engine_type = active_type(app, name)?;
    let sheet = ItemId::new(id).and_then(|id| engine_type.bench.sheet(&id));
    let sheet = sheet.ok_or_else(|| Problem::not_found("sheet of this engine type"))?;
    let view = blank(sheet, &engine_type);
    let title = format!("{}, {}", view.title, view.engine_type);
    let frame = Frame { title, reader: Some(reader.label.clone()), demo: app.demo };
    rendered("sheet.html", frame, &view)
}

fn blank(sheet: &Sheet, engine_type: &EngineType) -> Blank {
    let invented = if engine_type.invented { " (invented type)" } else { "" };
    Blank {
        title: sheet.title.clone(),
        engine_type: format!("{}{invented}", engine_type.title),
        entries: sheet.entries(),
        name: engine_type.name.to_string(),
        sheet: sheet.id.to_string(),
        conditions: Condition::ALL.map(Condition::word).join(", "),
        points: (1..).zip(&sheet.points).map(|(at, it)| row(at, it, engine_type)).collect(),
        cautions: CAUTIONS,
    }
}

fn row(number: usize, point: &Point, engine_type: &EngineType) -> Row {
    let asked = point.asks.quantity();
    let rule = asked.and_then(|(quantity, _)| engine_type.bench.quantity(quantity));
    let name = match &point.asks {
        Asked::Look(item) | Asked::Mark(item) | Asked::Photo(item) => item.to_string(),
        Asked::Measure(quantity, _) | Asked::Torque(quantity, _) => quantity.to_string(),
    };
    let entry = |position: Option<&PositionId>| Entry {
        place: position.map(|it| place(Some(engine_type), it.as_str())),
        boxes: asked.map_or_else(Vec::new, |(_, readings)| boxes(readings)),
        unit: rule.map(|rule| rule.unit.word()),
        lines: vec![(); usize::try_from(point.lines).unwrap_or(1)],
    };
    Row {
        number,
        asks: point.asks.word(),
        title: point.title.clone(),
        figures: rule.map_or_else(Vec::new, figures),
        name,
        entries: point.places().map(entry).collect(),
    }
}

/// The words beside each box: none for a single reading, numbers for several, directions and levels for a grid.
fn boxes(readings: Readings) -> Vec<String> {
    match readings {
        Readings::Count(1) => vec![String::new()],
        Readings::Count(count) => (1..=count).map(|at| at.to_string()).collect(),
        Readings::Grid(levels) => {
            let level = |direction: &'static str| {
                let levels = usize::try_from(levels).unwrap_or_default();
                (0..levels).map(move |at| match LEVELS.get(at) {
                    Some(word) if levels == LEVELS.len() => format!("{direction} {word}"),
                    _ => format!("{direction} {}", at + 1),
                })
            };
            level("a").chain(level("b")).collect()
        }
    }
}

fn figures(rule: &QuantityRule) -> Vec<String> {
    let unit = rule.unit;
    let bounds = |name: &str, bounds: Bounds| {
        (!bounds.is_empty()).then(|| format!("{name} {bounds} {unit}"))
    };
    let gauge = rule.gauge.as_ref();
    let gauge = gauge.map(|it| format!("{}, ± {} {unit}", it.name, it.uncertainty));
    [bounds("new:", rule.new), bounds("limit:", rule.limit), gauge].into_iter().flatten().collect()
}

#[cfg(test)]
pub(in crate::pages) mod tests {
    use super::*;

    /// A sheet with a look and a measurement, all of whose texts are this one.
    pub(in crate::pages) fn sample(name: &str) -> Blank {
        let text = || name.to_owned();
        let entry = |boxes: Vec<String>| Entry {
            place: Some(text()),
            boxes,
            unit: Some("mm"),
            lines: vec![(); 2],
        };
        let row = |asks, boxes| Row {
            number: 1,
            asks,
            title: text(),
            figures: vec![text()],
            name: text(),
            entries: vec![entry(boxes)],
        };
        Blank {
            title: text(),
            engine_type: text(),
            entries: 2,
            name: text(),
            sheet: text(),
            conditions: text(),
            points: vec![row("look", Vec::new()), row("measure", vec![text()])],
            cautions: CAUTIONS,
        }
    }

    #[test]
    fn every_box_of_a_grid_is_named() {
        let grid = ["a top", "a middle", "a bottom", "b top", "b middle", "b bottom"];
        assert_eq!(boxes(Readings::Grid(3)), grid);
        assert_eq!(boxes(Readings::Grid(2)), ["a 1", "a 2", "b 1", "b 2"]);
        assert_eq!(boxes(Readings::Count(2)), ["1", "2"]);
        assert_eq!(boxes(Readings::Count(1)), [""]);
    }
}
