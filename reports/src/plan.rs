//! Planning a week: what is on record is anchored, and every recipient gets one report planned, once, for the
//! hour that he or she asked for. What it says is composed when it leaves.
//!
//! Recipients are streamed by key in chunks, with a few queries per chunk. Running it again, or twice at once,
//! plans nothing twice: the store keeps (recipient, kind, week) unique.

use chrono::NaiveDate;
use gudgeon_life::fact::PartyRole;
use gudgeon_life::ids::PartyId;
use gudgeon_life::preference::ReportKind;
use gudgeon_life::week::ReportWeek;
use gudgeon_life::zone::Zone;
use gudgeon_store::{
    DueTally, Instant, NewPlan, PartyRow, PreferenceRow, Store, StoreError, WeekRunRow,
};
use std::collections::HashMap;

/// Recipients read at a time.
const CHUNK: i64 = 200;
/// How many more mails, or items newly overdue, than last week surprise nobody, however few there were.
const SURPRISE_MIN: i64 = 10;
/// How long the words of mails are kept, in microseconds: 13 weeks.
const KEPT_MICROS: i64 = 13 * 7 * 24 * 3_600 * 1_000_000;

/// What a planning run needs.
pub struct WeekRun<'a> {
    /// The database.
    pub store: &'a Store,
    /// The week.
    pub week: ReportWeek,
    /// The day to work all of them out for; `None`: each recipient's own day when it leaves.
    pub as_of: Option<NaiveDate>,
    /// The zone of those who chose none.
    pub zone: Zone,
    /// Now.
    pub now: Instant,
    /// Whether they leave now, whatever hour was asked for.
    pub at_once: bool,
}

/// What one planning run did.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct WeekSummary {
    /// Recipients on record.
    pub recipients: usize,
    /// Reports planned by this run.
    pub planned: usize,
    /// Recipients who had theirs already.
    pub already: usize,
    /// Recipients whose name and address were erased, and who are told nothing.
    pub erased: usize,
    /// Recipients who had something due when the week was first planned.
    pub mails: usize,
    /// When the first of those planned by this run is to leave.
    pub first: Option<Instant>,
    /// When the last of them is.
    pub last: Option<Instant>,
    /// Why mails were put on hold, when this run would surprise.
    pub held: Option<String>,
}

impl WeekSummary {
    fn add(&mut self, plans: &[NewPlan], planned: usize) {
        self.planned += planned;
        self.already += plans.len() - planned;
        for plan in plans {
            self.first = Some(self.first.map_or(plan.send_at, |first| first.min(plan.send_at)));
            self.last = Some(self.last.map_or(plan.send_at, |last| last.max(plan.send_at)));
        }
    }
}

/// Anchors what is on record, judges whether the week would surprise, and plans its reports. Safe to repeat.
///
/// # Errors
/// [`StoreError`] when the database fails. What was planned before stays planned.
pub fn plan_week(run: &WeekRun<'_>) -> Result<WeekSummary, StoreError> {
    let store = run.store;
    store.anchor(run.week, run.now)?;
    store.forget_mails(Instant(run.now.0 - KEPT_MICROS))?;
    let held = judge(run)?;
    let mails = store.week_run(run.week)?.map_or(0, |run| run.mails);
    let mails = usize::try_from(mails).unwrap_or(0);
    let mut summary = WeekSummary { mails, held, ..WeekSummary::default() };
    for kind in ReportKind::ALL {
        each_chunk(store, kind, |recipients| plan_some(run, kind, recipients, &mut summary))?;
    }
    if run.at_once {
        store.hurry_reports(run.week, run.now)?;
    }
    Ok(summary)
}

fn plan_some(
    run: &WeekRun<'_>,
    kind: ReportKind,
    recipients: &[PartyRow],
    summary: &mut WeekSummary,
) -> Result<(), StoreError> {
    let store = run.store;
    summary.recipients += recipients.len();
    let ids: Vec<PartyId> = reachable(recipients).map(|it| it.party).collect();
    summary.erased += recipients.len() - ids.len();
    let preferences = store.preferences(&ids, kind)?;
    let plan = |recipient| plan(run, recipient, &preferences);
    let plans: Vec<NewPlan> = ids.iter().map(|recipient| plan(*recipient)).collect();
    let planned = store.plan_reports(kind, run.week, run.as_of, &plans)?;
    summary.add(&plans, planned);
    Ok(())
}

fn plan(
    run: &WeekRun<'_>,
    recipient: PartyId,
    preferences: &HashMap<PartyId, PreferenceRow>,
) -> NewPlan {
    let preference = preferences.get(&recipient).copied().unwrap_or_default().preference;
    let leaves_at = preference.leaves_at(run.week, run.zone).timestamp_micros();
    NewPlan {
        recipient,
        zone: preference.zone.unwrap_or(run.zone),
        send_at: if run.at_once { run.now } else { Instant(leaves_at) },
    }
}

/// Keeps what the week comes to, once, and gives the reason why its mails are put on hold, if they are. It is counted
/// from what is kept of each engine by day: no record is read before a mail is composed.
fn judge(run: &WeekRun<'_>) -> Result<Option<String>, StoreError> {
    let store = run.store;
    if store.week_run(run.week)?.is_some() {
        return Ok(None);
    }
    let as_of = run.as_of.unwrap_or_else(|| run.zone.day(run.now.0));
    let mut total = DueTally::default();
    for kind in ReportKind::ALL {
        each_chunk(store, kind, |recipients| {
            let ids: Vec<PartyId> = reachable(recipients).map(|it| it.party).collect();
            total += store.due_tally(kind, &ids, as_of)?;
            Ok(())
        })?;
    }
    let DueTally { mails, items, overdue } = total;
    let (week, planned_at) = (run.week.to_string(), run.now.0);
    let now = WeekRunRow { week, planned_at, mails, items, overdue };
    let reason = store.week_run_before(run.week)?.and_then(|before| surprise(&before, &now));
    let is_new = store.keep_week_run(&now, reason.as_deref())?;
    Ok(reason.filter(|_| is_new))
}

/// Why a week would surprise after the one before: more than one and a half times as many mails, or more than a
/// fifth of all items newly overdue. A wrong limit, or a clock that is wrong, looks like that.
fn surprise(before: &WeekRunRow, now: &WeekRunRow) -> Option<String> {
    let WeekRunRow { week, mails, items, overdue, .. } = now;
    if 2 * (mails - SURPRISE_MIN) > 3 * before.mails {
        let (was, then) = (before.mails, &before.week);
        return Some(format!(
            "{week} would be {mails} mails with something due, after {was} in {then}"
        ));
    }
    let newly = overdue - before.overdue;
    (newly > SURPRISE_MIN && 5 * newly > *items).then(|| {
        format!("in {week} {newly} of {items} items would be newly overdue since {}", before.week)
    })
}

/// Recipients who can be told something: those who are not erased.
fn reachable(recipients: &[PartyRow]) -> impl Iterator<Item = &PartyRow> {
    recipients.iter().filter(|recipient| recipient.erased_on.is_none())
}

/// All recipients of a kind of report, some at a time, in order of key.
fn each_chunk(
    store: &Store,
    kind: ReportKind,
    mut take: impl FnMut(&[PartyRow]) -> Result<(), StoreError>,
) -> Result<(), StoreError> {
    let role = match kind {
        ReportKind::Owner => PartyRole::Owner,
        ReportKind::Shop => PartyRole::Shop,
        ReportKind::Inspector => PartyRole::Inspector,
    };
    let mut after = None;
    loop {
        let recipients = store.parties(role, after, CHUNK)?;
        let Some(last) = recipients.last() else { return Ok(()) };
        after = Some(last.key);
        take(&recipients)?;
    }
}

#[cfg(test)]
#[path = "plan_tests.rs"]
mod tests;
