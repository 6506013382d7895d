//! What the engines of a type tell together: how long its parts last, and whether one workshop's gauges read unlike
//! the others'. For the API and the pages alike.
//!
//! Read from the records whenever it is asked for, so that nothing has to be kept in step, with a few queries for many
//! engines; of a very large type the first [`ENGINES_MAX`] engines, which the answer says.

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
use gudgeon_life::fact::Fact;
use gudgeon_life::history::History;
use gudgeon_life::programme::EngineType;
use gudgeon_store::{EngineRow, Programmes as _};
use std::sync::Arc;

/// The most engines of a type that are read for one answer.
const ENGINES_MAX: usize = 2000;
/// Engines whose records are read together.
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

/// Some engines of a type, with the records around all of them.
struct Chunk {
    engines: Vec<EngineRow>,
    facts: Vec<Fact>,
    history: History,
}

/// The engines of a type with their records, some at a time; gives how many there were, and whether these were all.
fn each_chunk(
    app: &App,
    engine_type: &EngineType,
    mut read: impl FnMut(&Chunk),
) -> Result<(usize, bool), Problem> {
    let (mut count, mut after) = (0, 0);
    loop {
        let mut engines = app.store.engines_of_type(engine_type.name.as_str(), after, CHUNK)?;
        let Some(last) = engines.last() else { return Ok((count, true)) };
        after = last.key;
        let room = ENGINES_MAX - count;
        let are_all = engines.len() <= room;
        engines.truncate(room);
        count += engines.len();
        let keys: Vec<i64> = engines.iter().map(|row| row.key).collect();
        let records = app.store.records_of_engines(&keys)?;
        let facts: Vec<Fact> = records.into_iter().map(|it| it.fact).collect();
        let history = History::fold(&facts);
        read(&Chunk { engines, facts, history });
        if !are_all {
            return Ok((count, false));
        }
    }
}
