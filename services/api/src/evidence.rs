//! What the engines of a type tell together: how long its parts last, and whether one workshop's gauges read unlike
//! the others'. For the API and the pages alike.
//!
//! Read from the records whenever it is asked for, engine after engine, so that nothing has to be kept in step; of a
//! very large type the first [`ENGINES_MAX`] engines, which the answer says.

mod life;
mod shops;

pub(crate) use life::{LifeOut, life};
pub(crate) use shops::{ShopsOut, shops};

#[cfg(test)]
pub(crate) use life::tests::sample as life_sample;
#[cfg(test)]
pub(crate) use shops::tests::sample as shops_sample;

use crate::app::App;
use crate::call::{Query, bad_parameter};
use crate::problem::Problem;
use gudgeon_life::programme::EngineType;
use gudgeon_store::{EngineRow, Programmes as _};
use std::sync::Arc;

/// The most engines of a type that are read for one answer.
const ENGINES_MAX: usize = 2000;
/// Engines in one query.
const CHUNK: i64 = 100;

/// The engine type that a query names, as it is active.
pub(crate) fn engine_type(app: &App, query: &Query) -> Result<Arc<EngineType>, Problem> {
    let Some(name) = query.get("engine_type").filter(|name| !name.is_empty()) else {
        return Err(bad_parameter(
            "say for which `engine_type`, such as its short name in /v1/engine-types",
        ));
    };
    let row = app.store.engine_type(name)?.ok_or_else(|| Problem::not_found("engine type"))?;
    let known = app.programmes.get(&row.digest, &row.toml);
    known.ok_or_else(|| Problem::not_found("engine type"))
}

/// The engines of a type, one after another; gives how many there were, and whether these were all.
fn each_engine(
    app: &App,
    engine_type: &EngineType,
    mut read: impl FnMut(&EngineRow) -> Result<(), Problem>,
) -> Result<(usize, bool), Problem> {
    let (mut count, mut after) = (0, 0);
    loop {
        let rows = app.store.engines_of_type(engine_type.name.as_str(), after, CHUNK)?;
        let Some(last) = rows.last() else { return Ok((count, true)) };
        after = last.key;
        for row in &rows {
            if count == ENGINES_MAX {
                return Ok((count, false));
            }
            read(row)?;
            count += 1;
        }
    }
}
