//! What was measured of logged engines, kept beside their status: so that the hours of one that came with no log can
//! be estimated from all of its type in one query, and so that how the type wears can be learnt from all of them.

use crate::FLEET;
use crate::codec;
use crate::conn::Store;
use crate::error::StoreError;
use crate::schema::engine_status;
use diesel::prelude::*;
use gudgeon_life::decimal::Decimal;
use gudgeon_life::history::{EngineState, History, Log};
use gudgeon_life::hours::Hours;
use gudgeon_life::ids::{EngineId, PositionId, Quantity};
use gudgeon_life::programme::EngineType;
use gudgeon_life::sure::lost_log::{ENGINES_MAX, Indicator, Seen, told};
use gudgeon_life::sure::prior;
use serde::{Deserialize, Serialize};

/// The measurements at one count of hours, as JSON.
#[derive(Serialize, Deserialize)]
struct SeenRow {
    at: i64,
    /// Quantity, position (empty for none) and value.
    values: Vec<(String, String, String)>,
}

/// What is kept of an engine for either; nothing for one without a log, whose hours tell nothing of another's.
pub(crate) fn kept(
    history: &History,
    state: &EngineState,
    engine: EngineId,
    engine_type: &EngineType,
) -> Result<(Option<String>, Option<String>), StoreError> {
    let contradicts = state.clock.lost_from().is_some();
    if state.log != Log::Logged || contradicts {
        return Ok((None, None));
    }
    let seen = if state.measured.is_empty() { None } else { seen(history, engine, engine_type)? };
    let trends = prior::told(history, engine, engine_type);
    Ok((seen, if trends.is_empty() { None } else { Some(codec::write_told(&trends)?) }))
}

/// What tells of the hours of others.
fn seen(
    history: &History,
    engine: EngineId,
    engine_type: &EngineType,
) -> Result<Option<String>, StoreError> {
    let row = |seen: Seen| SeenRow {
        at: seen.at.seconds(),
        values: seen
            .values
            .into_iter()
            .map(|(key, value)| {
                let position = key.position.map_or_else(String::new, |at| at.to_string());
                (key.quantity.to_string(), position, value.to_string())
            })
            .collect(),
    };
    let rows: Vec<SeenRow> = told(history, engine, engine_type).seen.into_iter().map(row).collect();
    if rows.is_empty() {
        return Ok(None);
    }
    serde_json::to_string(&rows).map(Some).map_err(|error| StoreError::Corrupt(error.to_string()))
}

impl Store {
    /// What was measured of the logged engines of a type, each under a number of its own: those registered last, at
    /// most [`ENGINES_MAX`].
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn measured_fleet(&self, engine_type: &str) -> Result<Vec<(u64, Vec<Seen>)>, StoreError> {
        let limit = i64::try_from(ENGINES_MAX).unwrap_or(i64::MAX);
        let rows: Vec<(i64, Option<String>)> = self.read(|conn| {
            Ok(engine_status::table
                .filter(engine_status::fleet_id.eq(FLEET))
                .filter(engine_status::engine_type.eq(engine_type))
                .filter(engine_status::wear.is_not_null())
                .order(engine_status::engine_id.desc())
                .limit(limit)
                .select((engine_status::engine_id, engine_status::wear))
                .load(conn)?)
        })?;
        let read = |(key, text): (i64, Option<String>)| {
            let rows: Vec<SeenRow> = serde_json::from_str(&text.unwrap_or_default())
                .map_err(|error| StoreError::Corrupt(format!("measurements: {error}")))?;
            let seen: Option<Vec<Seen>> = rows.into_iter().map(read_seen).collect();
            let seen = seen.ok_or_else(|| StoreError::Corrupt("measurements".to_owned()))?;
            Ok((key.unsigned_abs(), seen))
        };
        rows.into_iter().map(read).collect()
    }
}

fn read_seen(row: SeenRow) -> Option<Seen> {
    let values = row.values.into_iter().map(|(quantity, position, value)| {
        let position = if position.is_empty() { None } else { Some(PositionId::new(&position)?) };
        let key = Indicator { quantity: Quantity::new(&quantity)?, position };
        Some((key, Decimal::parse(&value).ok()?))
    });
    Some(Seen { at: Hours::from_seconds(row.at), values: values.collect::<Option<_>>()? })
}
