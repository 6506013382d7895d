//! What an owner is told: the engines that are his or hers, with what is due on them.

use super::{Asked, Composer, Contents};
use crate::compose::{EngineSnapshot, OwnerSnapshot};
use crate::render::{RenderError, Renderer};
use crate::witness::Witness;
use gudgeon_life::fact::StreamKind;
use gudgeon_life::ids::{PartyId, Uid};
use gudgeon_life::line::DueLine;
use gudgeon_life::preference::Mode;
use gudgeon_life::programme::EngineType;
use gudgeon_life::status::Status;
use gudgeon_life::version::ActiveVersion;
use gudgeon_store::{EngineRow, PartyRow, Programmes, Store, StoreError};
use std::collections::HashMap;
use std::sync::Arc;

/// An engine type as it is counted by, with the version that is.
type Active = (Arc<EngineType>, Option<ActiveVersion>);

/// What the mail says, in the mode that its owner chose.
pub(super) fn contents(
    renderer: &Renderer,
    snapshot: &OwnerSnapshot,
    asked: &Asked,
) -> Result<Contents, RenderError> {
    let Some(worst) = snapshot.engines.iter().map(|engine| engine.worst(asked.as_of)).min() else {
        return Ok(Contents::NothingToSay("no engine is on record for them"));
    };
    let mode = asked.preference.mode;
    if mode == Mode::OverdueOnly && worst != Status::Overdue {
        return Ok(Contents::NothingToSay("nothing is overdue"));
    }
    if let Some(rendered) = renderer.owner(snapshot, asked.week, asked.as_of)? {
        return Ok(Contents::Composed(rendered));
    }
    if mode == Mode::EveryWeek || asked.week.is_fourth() {
        let rendered = renderer.nothing_due(snapshot, asked.week, asked.as_of)?;
        return Ok(Contents::Composed(rendered));
    }
    Ok(Contents::NothingToSay("nothing is due on record"))
}

/// The owners with their engines, due lines and what was anchored of them, in the order of the owners.
pub(super) fn load(
    composer: &Composer<'_>,
    owners: &[PartyRow],
) -> Result<Vec<OwnerSnapshot>, StoreError> {
    let store = composer.store;
    let types = active_types(store, composer.programmes)?;
    let mut engines = engines_by_owner(store, owners, &types)?;
    let snapshot = |owner: &PartyRow| OwnerSnapshot {
        name: owner.name.clone(),
        engines: engines.remove(&owner.party).unwrap_or_default(),
    };
    Ok(owners.iter().map(snapshot).collect())
}

/// The active engine types by name.
fn active_types(
    store: &Store,
    programmes: &dyn Programmes,
) -> Result<HashMap<String, Active>, StoreError> {
    let active = store.engine_types()?.into_iter().filter_map(|row| {
        let engine_type = programmes.get(&row.digest, &row.toml)?;
        let version = row.active();
        Some((row.name, (engine_type, version)))
    });
    Ok(active.collect())
}

/// The engines of some owners with their due lines and what was anchored of them: a few queries, however many
/// owners.
fn engines_by_owner(
    store: &Store,
    owners: &[PartyRow],
    types: &HashMap<String, Active>,
) -> Result<HashMap<PartyId, Vec<EngineSnapshot>>, StoreError> {
    let ids: Vec<PartyId> = owners.iter().map(|owner| owner.party).collect();
    let rows = store.engines_of_owners(&ids)?;
    let keys: Vec<i64> = rows.iter().map(|row| row.key).collect();
    let mut lines: HashMap<i64, Vec<DueLine>> = HashMap::new();
    for (key, line) in store.due_lines(&keys)? {
        lines.entry(key).or_default().push(line);
    }
    let mut witnesses = witnesses(store, &rows)?;
    let mut engines: HashMap<PartyId, Vec<EngineSnapshot>> = HashMap::new();
    for row in rows {
        let Some(owner) = row.owner else { continue };
        let lines = lines.remove(&row.key).unwrap_or_default();
        let witness = witnesses.remove(&row.key);
        engines.entry(owner).or_default().push(snapshot(row, lines, types, witness));
    }
    Ok(engines)
}

/// What was anchored of some engines, by their keys.
fn witnesses(store: &Store, rows: &[EngineRow]) -> Result<HashMap<i64, Witness>, StoreError> {
    let engines: Vec<Uid> = rows.iter().map(|row| row.engine.0).collect();
    let aircraft: Vec<Uid> = rows.iter().filter_map(|row| Some(row.aircraft?.0)).collect();
    let engines = store.anchored_heads(StreamKind::Engine, &engines)?;
    let aircraft = store.anchored_heads(StreamKind::Aircraft, &aircraft)?;
    // Read after the heads, so that it stands for all of them whoever makes anchors at the same time.
    let Some(anchor) = store.last_anchor()? else { return Ok(HashMap::new()) };
    let witness = |row: &EngineRow| {
        let engine = *engines.get(&row.engine.0)?;
        let aircraft = row.aircraft.and_then(|id| aircraft.get(&id.0)).copied();
        Some((row.key, Witness { anchor: anchor.clone(), engine, aircraft }))
    };
    Ok(rows.iter().filter_map(witness).collect())
}

fn snapshot(
    row: EngineRow,
    lines: Vec<DueLine>,
    types: &HashMap<String, Active>,
    witness: Option<Witness>,
) -> EngineSnapshot {
    let active = row.engine_type.as_ref().and_then(|name| types.get(name)).cloned();
    let (engine_type, version) = active.map_or((None, None), |(it, version)| (Some(it), version));
    EngineSnapshot { row, engine_type, version, lines, witness }
}
