//! Running a week: what is on record is anchored, and every owner who has something to read gets one report
//! queued, once.
//!
//! Owners are streamed by key in chunks, with one query per chunk for engines and one for lines. Running it
//! again, or twice at once, queues nothing twice: the store keeps (recipient, kind, week) unique.

use crate::compose::{EngineSnapshot, OwnerSnapshot};
use crate::render::{RenderError, Rendered, Renderer};
use crate::sender::{Sender, address};
use crate::witness::Witness;
use chrono::NaiveDate;
use gudgeon_life::fact::{PartyRole, StreamKind};
use gudgeon_life::ids::{PartyId, Uid};
use gudgeon_life::line::DueLine;
use gudgeon_life::programme::EngineType;
use gudgeon_life::version::ActiveVersion;
use gudgeon_life::week::ReportWeek;
use gudgeon_store::{EngineRow, Instant, NewReport, PartyRow, Programmes, Store, StoreError};
use std::collections::{HashMap, HashSet};
use std::fmt;
use std::sync::Arc;

/// Owners read at a time.
const CHUNK: i64 = 200;
/// The kind of report queued here.
pub const KIND: &str = "owner";

/// What one run over all owners did.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct WeekSummary {
    /// Owners on record.
    pub owners: usize,
    /// Reports queued by this run.
    pub queued: usize,
    /// Owners who had theirs already.
    pub already: usize,
    /// Owners with nothing to be told.
    pub quiet: usize,
    /// Owners whose name and address were erased, and who are told nothing.
    pub erased: usize,
    /// Owners who should be told something and cannot be reached.
    pub unreachable: Vec<Unreachable>,
}

/// An owner who cannot be reached by mail.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unreachable {
    /// Who.
    pub owner: PartyId,
    /// What is wrong with the address; not the address itself.
    pub why: &'static str,
}

/// Why a week could not be run to its end. What was queued before stays queued.
#[derive(Debug)]
pub enum WeekError {
    /// The database.
    Store(StoreError),
    /// A template.
    Render(RenderError),
}

impl fmt::Display for WeekError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Store(error) => error.fmt(f),
            Self::Render(error) => error.fmt(f),
        }
    }
}

impl std::error::Error for WeekError {}

impl From<StoreError> for WeekError {
    fn from(error: StoreError) -> Self {
        Self::Store(error)
    }
}

impl From<RenderError> for WeekError {
    fn from(error: RenderError) -> Self {
        Self::Render(error)
    }
}

/// What a run needs besides the store.
pub struct WeekRun<'a> {
    /// The engine types by digest.
    pub programmes: &'a dyn Programmes,
    /// The templates.
    pub renderer: &'a Renderer,
    /// Who the mails come from.
    pub sender: &'a Sender,
    /// The week.
    pub week: ReportWeek,
    /// The day everything is worked out for.
    pub as_of: NaiveDate,
    /// The instant that the mails are dated.
    pub composed_at: Instant,
}

/// Anchors what is on record, then composes and queues the owners' reports of a week. Safe to repeat.
///
/// # Errors
/// [`WeekError`] when the database or a template fails.
pub fn run_week(store: &Store, run: &WeekRun<'_>) -> Result<WeekSummary, WeekError> {
    store.anchor(run.week, run.composed_at)?;
    let types = active_types(store, run.programmes)?;
    let week = run.week.to_string();
    let mut summary = WeekSummary::default();
    let mut after = None;
    loop {
        let owners = store.parties(PartyRole::Owner, after, CHUNK)?;
        let Some(last) = owners.last() else {
            return Ok(summary);
        };
        after = Some(last.key);
        summary.owners += owners.len();
        let ids: Vec<PartyId> = owners.iter().map(|owner| owner.party).collect();
        let done: HashSet<PartyId> = store.has_report(&ids, KIND, &week)?.into_iter().collect();
        summary.already += done.len();
        let waiting: Vec<PartyRow> =
            owners.into_iter().filter(|owner| !done.contains(&owner.party)).collect();
        let mut engines = engines_by_owner(store, &waiting, &types)?;
        for owner in waiting {
            if owner.erased_on.is_some() {
                summary.erased += 1;
                continue;
            }
            let engines = engines.remove(&owner.party).unwrap_or_default();
            queue_one(store, run, &week, owner, engines, &mut summary)?;
        }
    }
}

fn queue_one(
    store: &Store,
    run: &WeekRun<'_>,
    week: &str,
    owner: PartyRow,
    engines: Vec<EngineSnapshot>,
    summary: &mut WeekSummary,
) -> Result<(), WeekError> {
    let snapshot = OwnerSnapshot { name: owner.name, engines };
    let Some(Rendered { subject, text, html }) =
        run.renderer.owner(&snapshot, run.week, run.as_of)?
    else {
        summary.quiet += 1;
        return Ok(());
    };
    let to_address = match owner.email.as_deref().map(address) {
        Some(Some(to_address)) => to_address.to_string(),
        no_address => {
            let why =
                if no_address.is_none() { "no address on record" } else { "not a mail address" };
            tracing::warn!(owner = %owner.party, why, "an owner cannot be told what is due");
            summary.unreachable.push(Unreachable { owner: owner.party, why });
            return Ok(());
        }
    };
    let queued = store.queue_report(&NewReport {
        recipient: owner.party,
        kind: KIND,
        week,
        as_of: run.as_of,
        message_id: &run.sender.message_id(week, owner.party),
        to_name: &snapshot.name,
        to_address: &to_address,
        subject: &subject,
        text: &text,
        html: &html,
        composed_at: run.composed_at,
    })?;
    if queued {
        summary.queued += 1;
    } else {
        summary.already += 1;
    }
    Ok(())
}

/// An engine type as it is counted by, with the version that is.
type Active = (Arc<EngineType>, Option<ActiveVersion>);

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

#[cfg(test)]
#[path = "enqueue_tests.rs"]
mod tests;
