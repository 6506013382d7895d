//! What was measured: one reading, several, or a grid, and what it was measured with.

use super::NAME_CHARS_MAX;
use crate::read::{Fields, Value};
use gudgeon_life::bench::{BenchError, Wrench, bore};
use gudgeon_life::decimal::Decimal;
use gudgeon_life::fact::{Measurement, Taken, WrenchUsed};
use gudgeon_life::ids::{PositionId, Quantity};
use gudgeon_life::measure::{Dimension, Unit};

/// Characters in the name of a unit.
pub(super) const UNIT_CHARS_MAX: usize = 20;
/// Readings in one measurement: more than any pattern of fasteners or levels of a bore.
const READINGS_MAX: usize = 100;

/// `{quantity, position?, value | readings | grid, unit, gauge?, uncertainty?, temperature?, wrench?}`.
pub(super) fn measurement(value: &Value<'_>) -> Option<Measurement> {
    let fields = value.object();
    let quantity = fields.required("quantity").and_then(|it| it.slug(Quantity::new));
    let position = fields.optional("position").and_then(|it| it.slug(PositionId::new));
    let taken = taken(&fields);
    let unit = fields.required("unit").and_then(|it| it.text(UNIT_CHARS_MAX));
    let gauge = fields.optional("gauge").and_then(|it| it.text(NAME_CHARS_MAX));
    let uncertainty = fields.optional("uncertainty").and_then(|it| uncertainty(&it));
    let temperature = fields.optional("temperature").and_then(|it| temperature(&it));
    let wrench = fields.optional("wrench").and_then(|it| wrench(&it));
    Some(Measurement {
        quantity: quantity?,
        position,
        taken: taken?,
        unit: unit?,
        gauge,
        uncertainty,
        temperature,
        wrench,
    })
}

/// Exactly one of `value`, `readings` and `grid`.
fn taken(fields: &Fields<'_>) -> Option<Taken> {
    let [readings, grid] = ["readings", "grid"].map(|name| fields.optional(name));
    // What is missing is told of the field that most measurements have.
    let value = match (&readings, &grid) {
        (None, None) => Some(fields.required("value")?),
        _ => fields.optional("value"),
    };
    match (value, readings, grid) {
        (Some(value), None, None) => value.decimal().map(Taken::One),
        (None, Some(readings), None) => decimals(&readings).map(Taken::Several),
        (None, None, Some(grid)) => shape(&grid),
        (_, readings, grid) => readings.or(grid)?.fault(
            "too-many",
            "give one of `value`, `readings` (several, in order) and `grid` (two directions)",
        ),
    }
}

/// A list of decimals with at least one.
fn decimals(list: &Value<'_>) -> Option<Vec<String>> {
    let entries = list.list(READINGS_MAX);
    let read: Vec<String> = entries.iter().filter_map(Value::decimal).collect();
    if entries.is_empty() {
        return list.fault("empty", "no reading is in the list; give at least one, in order");
    }
    (read.len() == entries.len()).then_some(read)
}

/// `{a, b}`: two directions at right angles, on the same levels, top to bottom.
fn shape(grid: &Value<'_>) -> Option<Taken> {
    let fields = grid.object();
    let [a, b] = ["a", "b"].map(|name| fields.required(name).and_then(|it| decimals(&it)));
    let (a, b) = (a?, b?);
    let numbers = |texts: &[String]| {
        texts.iter().map(|it| Decimal::parse(it)).collect::<Result<Vec<Decimal>, _>>()
    };
    match numbers(&a).and_then(|a| Ok((a, numbers(&b)?))) {
        Err(error) => grid.fault("out-of-range", error.to_string()),
        Ok((numbers_a, numbers_b)) => match bore(&numbers_a, &numbers_b) {
            Err(error) => grid.fault(error.slug(), error.to_string()),
            Ok(_) => Some(Taken::Grid { a, b }),
        },
    }
}

/// The expanded uncertainty (k = 2) of the gauge, in the unit of the readings.
fn uncertainty(value: &Value<'_>) -> Option<String> {
    let text = value.decimal()?;
    if text.starts_with('-') {
        return value.fault("negative", "an uncertainty is zero or more");
    }
    Some(text)
}

/// `{value, unit}`: of the winding or part.
fn temperature(value: &Value<'_>) -> Option<(String, String)> {
    let fields = value.object();
    let number = fields.required("value").and_then(|it| it.decimal());
    let unit = fields.required("unit").and_then(|it| {
        let text = it.text(UNIT_CHARS_MAX)?;
        let known = Unit::parse(&text).filter(|unit| unit.dimension() == Dimension::Temperature);
        if known.is_none() {
            let units = Unit::listed(Dimension::Temperature);
            return it.fault("unknown-unit", format!("a temperature is in {units}"));
        }
        Some(text)
    });
    Some((number?, unit?))
}

/// `{length, extension}` in one unit, where the readings are what the wrench showed.
fn wrench(value: &Value<'_>) -> Option<WrenchUsed> {
    let fields = value.object();
    let [length, extension] =
        ["length", "extension"].map(|name| fields.required(name).and_then(|it| it.decimal()));
    let (length, extension) = (length?, extension?);
    let parsed = Decimal::parse(&length).and_then(|it| Ok((it, Decimal::parse(&extension)?)));
    let possible = match parsed {
        Err(error) => return value.fault("out-of-range", error.to_string()),
        Ok((length, extension)) => Wrench { length, extension }.target(Decimal::whole(1)),
    };
    match possible {
        Ok(_) => Some(WrenchUsed { length, extension }),
        Err(error @ BenchError::WrenchLength) => {
            fields.fault("length", error.slug(), error.to_string());
            None
        }
        Err(error) => {
            fields.fault("extension", error.slug(), error.to_string());
            None
        }
    }
}
