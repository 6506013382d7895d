//! What engines tell of how their type wears, and what was learnt from that, as their JSON writes them.
//!
//! Real numbers are text with as many digits as it takes to read back the very same number.

use super::words::Number;
use crate::error::StoreError;
use gudgeon_life::decimal::Decimal;
use gudgeon_life::hours::Hours;
use gudgeon_life::ids::{PositionId, Quantity};
use gudgeon_life::measure::Unit;
use gudgeon_life::sure::fleet::{Covariance, Fleet};
use gudgeon_life::sure::line::Line;
use gudgeon_life::sure::prior::{Told, Worn};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// What one engine tells of a quantity.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct ToldRow {
    of: WornRow,
    /// Seconds since the part was new, and the value.
    read: Vec<(i64, String)>,
}

/// The lines of a type in a quantity.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct FleetRow {
    of: WornRow,
    engines: usize,
    intercept: Number,
    slope: Number,
    intercept_variance: Number,
    covariance: Number,
    slope_variance: Number,
    scatter_sd: Number,
    scatter_freedom: Number,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct WornRow {
    quantity: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    position: Option<String>,
    unit: String,
}

impl WornRow {
    fn of(worn: &Worn) -> Self {
        Self {
            quantity: worn.quantity.to_string(),
            position: worn.position.as_ref().map(ToString::to_string),
            unit: worn.unit.to_string(),
        }
    }

    fn read(&self) -> Option<Worn> {
        let position = self.position.as_deref();
        Some(Worn {
            quantity: Quantity::new(&self.quantity)?,
            position: position.map_or(Some(None), |at| PositionId::new(at).map(Some))?,
            unit: Unit::parse(&self.unit)?,
        })
    }
}

/// Writes what an engine tells.
pub(crate) fn write_told(told: &Told) -> Result<String, StoreError> {
    let row = |(worn, read): (&Worn, &Vec<(Hours, Decimal)>)| ToldRow {
        of: WornRow::of(worn),
        read: read.iter().map(|(at, value)| (at.seconds(), value.to_string())).collect(),
    };
    written(&told.iter().map(row).collect::<Vec<_>>())
}

/// Reads it.
pub(crate) fn read_told(text: &str) -> Result<Told, StoreError> {
    let value =
        |(at, value): &(i64, String)| Some((Hours::from_seconds(*at), Decimal::parse(value).ok()?));
    let read = |row: &ToldRow| {
        Some((row.of.read()?, row.read.iter().map(value).collect::<Option<Vec<_>>>()?))
    };
    let rows: Vec<ToldRow> = parsed(text)?;
    rows.iter().map(read).collect::<Option<_>>().ok_or_else(|| corrupt("a value"))
}

/// Writes what was learnt.
pub(crate) fn write_fleets(fleets: &BTreeMap<Worn, Fleet>) -> Result<String, StoreError> {
    let row = |(worn, fleet): (&Worn, &Fleet)| {
        let Fleet { mean, covariance, scatter_sd, scatter_freedom, engines } = *fleet;
        FleetRow {
            of: WornRow::of(worn),
            engines,
            intercept: Number(mean.intercept),
            slope: Number(mean.slope),
            intercept_variance: Number(covariance.intercept),
            covariance: Number(covariance.both),
            slope_variance: Number(covariance.slope),
            scatter_sd: Number(scatter_sd),
            scatter_freedom: Number(scatter_freedom),
        }
    };
    written(&fleets.iter().map(row).collect::<Vec<_>>())
}

/// Reads it.
pub(crate) fn read_fleets(text: &str) -> Result<BTreeMap<Worn, Fleet>, StoreError> {
    let read = |row: &FleetRow| {
        let fleet = Fleet {
            mean: Line { intercept: row.intercept.0, slope: row.slope.0 },
            covariance: Covariance {
                intercept: row.intercept_variance.0,
                both: row.covariance.0,
                slope: row.slope_variance.0,
            },
            scatter_sd: row.scatter_sd.0,
            scatter_freedom: row.scatter_freedom.0,
            engines: row.engines,
        };
        Some((row.of.read()?, fleet)).filter(|_| fleet.is_usable())
    };
    let rows: Vec<FleetRow> = parsed(text)?;
    rows.iter().map(read).collect::<Option<_>>().ok_or_else(|| corrupt("a figure"))
}

fn written<T: Serialize>(rows: &[T]) -> Result<String, StoreError> {
    serde_json::to_string(rows).map_err(|error| StoreError::Corrupt(error.to_string()))
}

fn parsed<T: for<'de> Deserialize<'de>>(text: &str) -> Result<Vec<T>, StoreError> {
    serde_json::from_str(text).map_err(|error| corrupt(&error.to_string()))
}

fn corrupt(what: &str) -> StoreError {
    StoreError::Corrupt(format!("how a type wears: {what}"))
}
