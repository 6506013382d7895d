//! Mails on their way out: who has which in hand, and how each ended.
//!
//! ```text
//! queued ──claim──> sending ──begin──> transmitting ──┬─ accepted ──────────> delivered
//!    ^                 │ lease over: claimed again    ├─ not accepted ──────> queued
//!    └──given back─────┘                              └─ nobody can tell, ──> unknown
//!                                                        or lease over
//! ```
//!
//! What has not begun to leave when its recipient is erased becomes `withdrawn`, whoever has it in hand.
//!
//! Any number of processes deliver at once. A claim is one of a generation: whoever takes a mail over counts
//! it up, and every step asks for the generation that it was claimed in, so that a process which was away
//! longer than its lease finds that it holds nothing. From `transmitting` on somebody else may have the
//! mail, and no process ever takes it up again by itself: it may be lost, but it is never sent twice.

use crate::FLEET;
use crate::conn::Store;
use crate::dialect;
use crate::error::StoreError;
use crate::hold;
use crate::reports::{ReportRecord, ReportRow};
use crate::schema::report;
use crate::values::Instant;
use diesel::prelude::*;

/// How far a mail has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum ReportState {
    /// Composed, in nobody's hands.
    Queued,
    /// Claimed by a process, and nothing of it has left yet.
    Sending,
    /// Being handed over: from here on it may have arrived.
    Transmitting,
    /// Accepted by whom it was handed to.
    Delivered,
    /// It may have been accepted, and nobody can tell.
    Unknown,
    /// Never to be handed over: its recipient was erased.
    Withdrawn,
}

impl ReportState {
    const ALL: [Self; 6] = [
        Self::Queued,
        Self::Sending,
        Self::Transmitting,
        Self::Delivered,
        Self::Unknown,
        Self::Withdrawn,
    ];

    /// Reads the word of a stored row.
    pub(crate) fn of(word: &str) -> Result<Self, StoreError> {
        let known = Self::ALL.into_iter().find(|state| state.word() == word);
        known.ok_or_else(|| StoreError::Corrupt(format!("a mail of state `{word}`")))
    }

    /// The word used in stored rows.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Queued => "queued",
            Self::Sending => "sending",
            Self::Transmitting => "transmitting",
            Self::Delivered => "delivered",
            Self::Unknown => "unknown",
            Self::Withdrawn => "withdrawn",
        }
    }
}

/// Who claims mails, and for how long.
#[derive(Clone, Copy, Debug)]
pub struct Claimant<'a> {
    /// The process, in words for whoever looks for it.
    pub by: &'a str,
    /// Now.
    pub at: Instant,
    /// From when on others may take them over. Clocks of replicas have to differ by much less than that.
    pub lease_until: Instant,
}

/// A mail in the hands of one process, until its lease ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Claim {
    key: i64,
    generation: i64,
}

/// How the handing over of a mail ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ending {
    /// It was accepted.
    Accepted,
    /// It was certainly not accepted, or never begun: it waits to be claimed again.
    NotAccepted,
    /// Nobody can tell whether it was accepted.
    Unknown,
}

impl Store {
    /// Claims mails that nobody has in hand, in order of key, after a key. Begin after 0. Those that others
    /// are just claiming are passed over; none is claimed while mails are on hold.
    ///
    /// # Errors
    /// [`StoreError`] when the database fails; then nothing is claimed.
    pub fn claim_reports(
        &self,
        after_key: i64,
        limit: i64,
        claimant: &Claimant<'_>,
    ) -> Result<Vec<(Claim, ReportRow)>, StoreError> {
        self.write(|conn| {
            if hold::standing(conn)?.is_some() {
                return Ok(Vec::new());
            }
            let keys = dialect::lock_free_reports(conn, after_key, claimant.at.0, limit)?;
            diesel::update(report::table.filter(report::id.eq_any(&keys)))
                .set((
                    report::state.eq(ReportState::Sending.word()),
                    report::generation.eq(report::generation + 1),
                    report::claimed_by.eq(claimant.by),
                    report::lease_until.eq(claimant.lease_until.0),
                ))
                .execute(conn)?;
            let records: Vec<(i64, ReportRecord)> = report::table
                .filter(report::id.eq_any(&keys))
                .order(report::id)
                .select((report::generation, ReportRecord::as_select()))
                .load(conn)?;
            let claimed = records.into_iter().map(|(generation, record)| {
                let row = record.row(ReportState::Sending);
                (Claim { key: row.key, generation }, row)
            });
            Ok(claimed.collect())
        })
    }

    /// Says that a claimed mail is being handed over from now on, and that others know its end is not known
    /// once `lease_until` has passed. False when the lease is over or the mail is another's: then it must
    /// not be handed over.
    ///
    /// # Errors
    /// [`StoreError`] when the database fails; then it must not be handed over either.
    pub fn begin_transmitting(
        &self,
        claim: Claim,
        at: Instant,
        lease_until: Instant,
    ) -> Result<bool, StoreError> {
        self.write(|conn| {
            let held = held(claim)
                .filter(report::state.eq(ReportState::Sending.word()))
                .filter(report::lease_until.gt(at.0));
            let rows = diesel::update(held)
                .set((
                    report::state.eq(ReportState::Transmitting.word()),
                    report::lease_until.eq(lease_until.0),
                ))
                .execute(conn)?;
            Ok(rows > 0)
        })
    }

    /// Says how a claimed mail ended. False when it is another's by now, and nothing changed. One that was
    /// given up as unknown meanwhile is still this claim's: whoever handed it over knows better.
    ///
    /// # Errors
    /// [`StoreError`] when the database fails.
    pub fn end_delivery(
        &self,
        claim: Claim,
        ending: Ending,
        at: Instant,
    ) -> Result<bool, StoreError> {
        use ReportState::{Delivered, Queued, Sending, Transmitting, Unknown};
        let (before, state, delivered_at): (&[ReportState], _, _) = match ending {
            Ending::Accepted => (&[Transmitting, Unknown], Delivered, Some(at.0)),
            Ending::NotAccepted => (&[Sending, Transmitting, Unknown], Queued, None),
            Ending::Unknown => (&[Transmitting], Unknown, None),
        };
        self.write(|conn| {
            let before: Vec<&str> = before.iter().map(|state| state.word()).collect();
            let held = held(claim).filter(report::state.eq_any(before));
            let rows = diesel::update(held)
                .set((
                    report::state.eq(state.word()),
                    report::lease_until.eq(None::<i64>),
                    report::delivered_at.eq(delivered_at),
                ))
                .execute(conn)?;
            Ok(rows > 0)
        })
    }

    /// Gives up what was being handed over when its lease ended: whether it was accepted is unknown. Gives
    /// the number of such mails.
    ///
    /// # Errors
    /// [`StoreError`] when the database fails.
    pub fn give_up_lost_reports(&self, at: Instant) -> Result<usize, StoreError> {
        self.write(|conn| {
            let lost = report::table
                .filter(report::fleet_id.eq(FLEET))
                .filter(report::state.eq(ReportState::Transmitting.word()))
                .filter(report::lease_until.le(at.0));
            let rows = diesel::update(lost)
                .set((
                    report::state.eq(ReportState::Unknown.word()),
                    report::lease_until.eq(None::<i64>),
                ))
                .execute(conn)?;
            Ok(rows)
        })
    }

    /// Mails in a state, in order of key, after a key. Begin after 0.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn reports_in(
        &self,
        state: ReportState,
        after_key: i64,
        limit: i64,
    ) -> Result<Vec<ReportRow>, StoreError> {
        self.read(|conn| {
            let records: Vec<ReportRecord> = report::table
                .filter(report::fleet_id.eq(FLEET))
                .filter(report::state.eq(state.word()))
                .filter(report::id.gt(after_key))
                .order(report::id)
                .limit(limit)
                .select(ReportRecord::as_select())
                .load(conn)?;
            Ok(records.into_iter().map(|it| it.row(state)).collect())
        })
    }
}

/// The row of a claim, as long as it is of the same generation.
#[diesel::dsl::auto_type(no_type_alias)]
fn held(claim: Claim) -> _ {
    let (key, generation): (i64, i64) = (claim.key, claim.generation);
    report::table.filter(report::id.eq(key)).filter(report::generation.eq(generation))
}
