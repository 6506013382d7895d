//! What a report's measurements come to, what its sheet still asks for, and the blank sheet itself, as JSON.

use gudgeon_life::decimal::Decimal;
use gudgeon_life::fact::{Condition, Inspection};
use gudgeon_life::ids::PositionId;
use gudgeon_life::measure::{Bounds, Judgement, QuantityRule, Wear, judgements};
use gudgeon_life::programme::EngineType;
use gudgeon_life::sheet::{Missing, Point, Readings, Sheet};
use serde_json::{Map, Value, json};

/// What an answer tells of an inspection besides its record: `judgements`, and `missing` where it names a sheet.
pub(crate) fn of(inspection: &Inspection, engine_type: &EngineType) -> Map<String, Value> {
    let mut fields = Map::new();
    fields.insert("judgements".to_owned(), judged(inspection, engine_type));
    let missing = missing(inspection, engine_type);
    fields.extend(missing.map(|missing| ("missing".to_owned(), missing)));
    fields
}

/// What an inspection's measurements come to: one entry for each quantity and place, in words and figures.
fn judged(inspection: &Inspection, engine_type: &EngineType) -> Value {
    judgements(inspection, &engine_type.bench).iter().map(judgement).collect()
}

fn judgement(it: &Judgement<'_>) -> Value {
    let figures = it.reading.map(|reading| {
        json!({
            "value": reading.value.to_string(),
            "low": reading.low.to_string(),
            "high": reading.high.to_string(),
        })
    });
    let mut fields = match figures {
        Some(Value::Object(fields)) => fields,
        _ => Map::new(),
    };
    fields.insert("quantity".to_owned(), json!(it.rule.id.as_str()));
    fields.insert("title".to_owned(), json!(it.rule.title));
    fields.insert("position".to_owned(), json!(it.position.map(PositionId::as_str)));
    fields.insert("unit".to_owned(), json!(it.rule.unit.word()));
    fields.insert("limit".to_owned(), bounds(it.rule.limit));
    fields.insert("source".to_owned(), json!(it.rule.source));
    fields.insert("verdict".to_owned(), json!(it.outcome.word()));
    fields.insert("words".to_owned(), json!(it.to_string()));
    Value::Object(fields)
}

/// What the sheet that an inspection names still asks for; `None` where it names none.
fn missing(inspection: &Inspection, engine_type: &EngineType) -> Option<Value> {
    let sheet = engine_type.bench.sheet(inspection.sheet.as_ref()?)?;
    Some(sheet.missing(inspection).iter().map(open).collect())
}

fn open(it: &Missing<'_>) -> Value {
    json!({
        "number": it.number,
        "asks": it.point.asks.word(),
        "title": it.point.title,
        "position": it.position.map(PositionId::as_str),
        "item": it.point.asks.item().map(ToString::to_string),
        "quantity": it.point.asks.quantity().map(|(quantity, _)| quantity.to_string()),
    })
}

/// A sheet in one line of a list.
pub(crate) fn sheet_row(sheet: &Sheet) -> Value {
    json!({
        "id": sheet.id.as_str(),
        "title": sheet.title,
        "kind": sheet.kind.word(),
        "entries": sheet.entries(),
    })
}

/// A blank sheet: everything that it asks for, with the figures to compare with.
pub(crate) fn blank(sheet: &Sheet, engine_type: &EngineType) -> Value {
    let points = (1_usize..).zip(&sheet.points);
    json!({
        "engine_type": engine_type.name.as_str(),
        "invented": engine_type.invented,
        "id": sheet.id.as_str(),
        "title": sheet.title,
        "kind": sheet.kind.word(),
        "entries": sheet.entries(),
        "conditions": Condition::ALL.map(Condition::word),
        "points": points.map(|(number, it)| point(number, it, engine_type)).collect::<Vec<_>>(),
    })
}

fn point(number: usize, point: &Point, engine_type: &EngineType) -> Value {
    let titles = |id: &PositionId| {
        let known = engine_type.positions.iter().find(|it| it.id == *id);
        json!({ "id": id.as_str(), "title": known.map(|it| it.title.as_str()) })
    };
    let asked = point.asks.quantity();
    let rule = asked.and_then(|(quantity, _)| engine_type.bench.quantity(quantity));
    let (readings, grid) = match asked {
        Some((_, Readings::Count(count))) => (Some(count), None),
        Some((_, Readings::Grid(levels))) => (None, Some(levels)),
        None => (None, None),
    };
    json!({
        "number": number,
        "asks": point.asks.word(),
        "title": point.title,
        "positions": point.positions.iter().map(titles).collect::<Vec<_>>(),
        "item": point.asks.item().map(ToString::to_string),
        "quantity": rule.map(quantity),
        "readings": readings,
        "grid_levels": grid,
        "lines": point.lines,
    })
}

fn quantity(rule: &QuantityRule) -> Value {
    let gauge = rule.gauge.as_ref();
    json!({
        "id": rule.id.as_str(),
        "title": rule.title,
        "unit": rule.unit.word(),
        "new": bounds(rule.new),
        "limit": bounds(rule.limit),
        "gauge": gauge.map(|it| json!({ "name": it.name, "uncertainty": it.uncertainty.to_string() })),
        "wear": rule.wear.map(Wear::word),
        "feeds": rule.feeds.as_ref().map(ToString::to_string),
        "source": rule.source,
    })
}

/// `null` where there are none.
fn bounds(bounds: Bounds) -> Value {
    if bounds.is_empty() {
        return Value::Null;
    }
    let text = |end: Option<Decimal>| end.map(|end| end.to_string());
    json!({ "min": text(bounds.min), "max": text(bounds.max) })
}
