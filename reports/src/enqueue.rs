//! Running a week: what is on record is anchored, and every owner who has something to read gets one report
//! queued, once.
//!
//! Owners are streamed by key in chunks, with one query per chunk for engines and one for lines. Running it
//! again, or twice at once, queues nothing twice: the store keeps (recipient, kind, week) unique.

use crate::contents::{Asked, Composer, Contents, Snapshot};
use crate::render::{RenderError, Rendered};
use crate::sender::{Sender, address};
use crate::view;
use chrono::{DateTime, NaiveDate};
use gudgeon_life::fact::PartyRole;
use gudgeon_life::ids::PartyId;
use gudgeon_life::preference::ReportKind;
use gudgeon_life::week::ReportWeek;
use gudgeon_store::{Instant, Links, NewReport, PartyRow, Store, StoreError};
use std::collections::HashSet;
use std::fmt;

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

/// What a run needs.
pub struct WeekRun<'a> {
    /// What composes the mails.
    pub composer: Composer<'a>,
    /// Who the mails come from.
    pub sender: &'a Sender,
    /// What seals the links in them; `None` for mails without.
    pub links: Option<&'a Links>,
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
pub fn run_week(run: &WeekRun<'_>) -> Result<WeekSummary, WeekError> {
    let Composer { store, .. } = run.composer;
    store.anchor(run.week, run.composed_at)?;
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
        let snapshots =
            run.composer.load(ReportKind::Owner, &waiting, run.as_of, run.composed_at)?;
        for (owner, snapshot) in waiting.into_iter().zip(snapshots) {
            if owner.erased_on.is_some() {
                summary.erased += 1;
                continue;
            }
            queue_one(store, run, &week, owner, &snapshot, &mut summary)?;
        }
    }
}

fn queue_one(
    store: &Store,
    run: &WeekRun<'_>,
    week: &str,
    owner: PartyRow,
    snapshot: &Snapshot,
    summary: &mut WeekSummary,
) -> Result<(), WeekError> {
    let kind = ReportKind::Owner;
    let preference = store.preference(owner.party, kind)?.preference;
    let made_on = DateTime::from_timestamp_micros(run.composed_at.0).unwrap_or_default();
    let sealed = |links| store.mail_links(links, kind, owner.party, made_on.date_naive());
    let links = run.links.map(sealed).transpose()?.map(|links| view::Links::of(&links, kind));
    let asked = Asked { week: run.week, as_of: run.as_of, preference, links };
    let Contents::Composed(Rendered { subject, text, html }) =
        run.composer.contents(snapshot, &asked)?
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
        to_name: &owner.name,
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

#[cfg(test)]
#[path = "enqueue_tests.rs"]
mod tests;
