//! What a workshop found, measured and did, in the shape in which it was posted.

use super::hardware::{fastening, matched_set, photos};
use super::records::{one, release, text};
use gudgeon_life::fact::{Finding, Inspection, Mark, Measurement, Taken, WrenchUsed};
use gudgeon_life::ids::PositionId;
use serde_json::{Map, Value, json};

fn finding(it: &Finding) -> Value {
    let mut fields = one("item", it.item.to_string());
    fields.insert("position".to_owned(), json!(text(it.position.as_ref())));
    fields.insert("condition".to_owned(), json!(it.condition.word()));
    if let Some(recheck) = it.recheck {
        let recheck = json!({ "hours": text(recheck.hours), "on": text(recheck.on) });
        fields.insert("recheck".to_owned(), recheck);
    }
    with_photos(&mut fields, &it.photos);
    Value::Object(fields)
}

fn mark(it: &Mark) -> Value {
    let mut fields = one("item", it.item.to_string());
    fields.insert("position".to_owned(), json!(text(it.position.as_ref())));
    fields.insert("text".to_owned(), json!(it.text));
    with_photos(&mut fields, &it.photos);
    Value::Object(fields)
}

fn with_photos(fields: &mut Map<String, Value>, named: &[[u8; 32]]) {
    fields.extend(photos(named).map(|photos| ("photos".to_owned(), json!(photos))));
}

pub(super) fn inspection(it: &Inspection) -> Value {
    let readings = it
        .readings
        .iter()
        .map(|reading| json!({ "on": reading.on.to_string(), "meter": reading.meter.to_string() }));
    let work = it.work.iter().map(|work| {
        let positions = work.positions.iter().map(PositionId::as_str);
        json!({
            "item": work.item.as_str(),
            "positions": positions.collect::<Vec<_>>(),
            "action": work.action.word(),
        })
    });
    json!({
        "engine": it.engine.to_string(),
        "shop": it.shop.to_string(),
        "work_order": it.work_order,
        "sheet": text(it.sheet.as_ref()),
        "opened_on": it.opened_on.to_string(),
        "readings": readings.collect::<Vec<_>>(),
        "tsn": text(it.tsn),
        "findings": it.findings.iter().map(finding).collect::<Vec<_>>(),
        "measurements": it.measurements.iter().map(measurement).collect::<Vec<_>>(),
        "work": work.collect::<Vec<_>>(),
        "marks": it.marks.iter().map(mark).collect::<Vec<_>>(),
        "matched": it.matched.iter().map(matched_set).collect::<Vec<_>>(),
        "fastenings": it.fastenings.iter().map(fastening).collect::<Vec<_>>(),
        "overhaul": it.overhaul.map(|scope| json!({ "scope": scope.word() })),
        "test_run": text(it.test_run),
        "run_in": text(it.run_in),
        "release": release(it.released),
    })
}

fn measurement(it: &Measurement) -> Value {
    let mut fields = one("quantity", it.quantity.to_string());
    fields.insert("position".to_owned(), json!(text(it.position.as_ref())));
    fields.insert("unit".to_owned(), json!(it.unit));
    let (name, taken) = match &it.taken {
        Taken::One(value) => ("value", json!(value)),
        Taken::Several(values) => ("readings", json!(values)),
        Taken::Grid { a, b } => ("grid", json!({ "a": a, "b": b })),
    };
    fields.insert(name.to_owned(), taken);
    for (name, told) in [("gauge", &it.gauge), ("uncertainty", &it.uncertainty)] {
        fields.extend(told.as_ref().map(|told| (name.to_owned(), json!(told))));
    }
    if let Some((value, unit)) = &it.temperature {
        fields.insert("temperature".to_owned(), json!({ "value": value, "unit": unit }));
    }
    if let Some(WrenchUsed { length, extension }) = &it.wrench {
        let wrench = json!({ "length": length, "extension": extension });
        fields.insert("wrench".to_owned(), wrench);
    }
    Value::Object(fields)
}
