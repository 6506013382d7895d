//! Reports on their way out: who has which in hand, and how each ended.
//!
//! ```text
//! planned ──claim──> sending ──begin──> transmitting ──┬─ accepted
//!    ^                 │ │ lease over: claimed again    ├─ refused ───────────> failed
//!    └──put back───────┤ │                              ├─ not now ───────────> deferred, claimed again later
//!                      │ └─ skipped, suppressed, failed └─ nobody can tell, ──> unknown
//!                      └─ composed                         or lease over
//! ```
//!
//! What has not begun to leave when its recipient is erased becomes `withdrawn`, whoever has it in hand.
//!
//! Any number of processes deliver at once. A claim is one of a generation: whoever takes a mail over counts
//! it up, and every step asks for the generation that it was claimed in, so that a process which was away
//! longer than its lease finds that it holds nothing. From `transmitting` on somebody else may have the
//! mail, and no process ever takes it up again by itself: it may be lost, but it is never sent twice.

use crate::attempts::{self, Answer, Outcome};
use crate::conn::Store;
use crate::dialect::{self, AnyConn};
use crate::error::StoreError;
use crate::hold;
use crate::pace::{self, Pace};
use crate::reports::{OutboxRow, ReportRecord};
use crate::schema::report;
use crate::values::Instant;
use diesel::prelude::*;

/// How far a report has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum ReportState {
    /// To leave at its hour, in nobody's hands.
    Planned,
    /// Claimed by a process, and nothing of it has left yet.
    Sending,
    /// Being handed over: from here on it may have arrived.
    Transmitting,
    /// Not accepted yet, to be tried again later.
    Deferred,
    /// Accepted by whom it was handed to.
    Accepted,
    /// It may have been accepted, and nobody can tell.
    Unknown,
    /// It was refused, or not taken for so long that it was given up.
    Failed,
    /// Not sent, for a reason that is no failure: there was nothing to say, or it was too late.
    Skipped,
    /// Not sent, because mails to its address came back.
    Suppressed,
    /// Never to be handed over: its recipient was erased.
    Withdrawn,
}

impl ReportState {
    /// All of them, in the order of a report's way.
    pub const ALL: [Self; 10] = [
        Self::Planned,
        Self::Sending,
        Self::Transmitting,
        Self::Deferred,
        Self::Accepted,
        Self::Unknown,
        Self::Failed,
        Self::Skipped,
        Self::Suppressed,
        Self::Withdrawn,
    ];
    /// Those that a report stays in by itself.
    pub(crate) const DONE: [Self; 6] = [
        Self::Accepted,
        Self::Unknown,
        Self::Failed,
        Self::Skipped,
        Self::Suppressed,
        Self::Withdrawn,
    ];
    /// Those in which it waits for its time.
    pub(crate) const WAITING: [Self; 2] = [Self::Planned, Self::Deferred];

    /// Reads the word of a stored row.
    pub(crate) fn of(word: &str) -> Result<Self, StoreError> {
        let known = Self::ALL.into_iter().find(|state| state.word() == word);
        known.ok_or_else(|| StoreError::Corrupt(format!("a mail of state `{word}`")))
    }

    /// The word used in records and answers.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Planned => "planned",
            Self::Sending => "sending",
            Self::Transmitting => "transmitting",
            Self::Deferred => "deferred",
            Self::Accepted => "accepted",
            Self::Unknown => "unknown",
            Self::Failed => "failed",
            Self::Skipped => "skipped",
            Self::Suppressed => "suppressed",
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

/// A report in the hands of one process, until its lease ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Claim {
    key: i64,
    generation: i64,
}

/// Why a claimed report does not leave now.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unsent<'a> {
    /// It waits until this instant.
    Until(Instant),
    /// It is not to leave, in words.
    Skipped(&'a str),
    /// It cannot leave, in words.
    Failed(&'a str),
    /// Mails to its address came back.
    Suppressed,
}

/// Whether a mail may be handed over.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Begun {
    /// It may, and counts as being handed over from now on.
    Yes,
    /// Its domain has had enough for now: it was put back until its turn at this instant.
    Waits(Instant),
    /// It is another's by now.
    Lost,
}

/// How the handing over of a mail ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ending<'a> {
    /// It was accepted; the words are the receipt.
    Accepted(&'a str),
    /// It was certainly not accepted, and is to be tried again at this instant.
    Deferred(Answer<'a>, Instant),
    /// It was certainly not accepted this time either, and is given up.
    GivenUp(Answer<'a>),
    /// It was refused for good.
    Refused(Answer<'a>),
    /// Nobody can tell whether it was accepted, in words.
    Unknown(&'a str),
}

impl Store {
    /// Claims reports that are due and that nobody has in hand, the longest due first. Those that others are
    /// just claiming are passed over; none is claimed while mails are on hold.
    ///
    /// # Errors
    /// [`StoreError`] when the database fails; then nothing is claimed.
    pub fn claim_reports(
        &self,
        limit: i64,
        claimant: &Claimant<'_>,
    ) -> Result<Vec<(Claim, OutboxRow)>, StoreError> {
        self.write(|conn| {
            if hold::standing(conn)?.is_some() {
                return Ok(Vec::new());
            }
            let keys = dialect::lock_free_reports(conn, claimant.at.0, limit)?;
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
                .order((report::next_try_at, report::id))
                .select((report::generation, ReportRecord::as_select()))
                .load(conn)?;
            let claimed = records.into_iter().map(|(generation, record)| {
                let row = record.row()?;
                Ok((Claim { key: row.key, generation }, row))
            });
            claimed.collect()
        })
    }

    /// Says that a claimed report does not leave now. False when it is another's by now, and nothing changed.
    ///
    /// # Errors
    /// [`StoreError`] when the database fails.
    pub fn end_unsent(
        &self,
        claim: Claim,
        unsent: Unsent<'_>,
        at: Instant,
    ) -> Result<bool, StoreError> {
        let (state, reason) = match unsent {
            Unsent::Until(until) => {
                return self.write(|conn| Ok(put_back(conn, claim, until, false)? > 0));
            }
            Unsent::Skipped(why) => (ReportState::Skipped, Some(why)),
            Unsent::Failed(why) => (ReportState::Failed, Some(why)),
            Unsent::Suppressed => (ReportState::Suppressed, None),
        };
        let ended = (
            report::state.eq(state.word()),
            report::reason.eq(reason),
            report::ended_at.eq(at.0),
            report::lease_until.eq(None::<i64>),
        );
        self.write(|conn| Ok(diesel::update(sending(claim)).set(ended).execute(conn)? > 0))
    }

    /// Says that a claimed mail is being handed over from now on, and that others know its end is not known
    /// once `lease_until` has passed; an attempt is on record from here on. Unless it [`Begun::Yes`], it must
    /// not be handed over: the lease is over, the mail is another's, or its domain's turn is later.
    ///
    /// # Errors
    /// [`StoreError`] when the database fails; then it must not be handed over either.
    pub fn begin_transmitting(
        &self,
        claim: Claim,
        pace: Pace<'_>,
        at: Instant,
        lease_until: Instant,
    ) -> Result<Begun, StoreError> {
        self.write(|conn| {
            let found: Option<(bool, i32)> = sending(claim)
                .filter(report::lease_until.gt(at.0))
                .select((report::has_turn, report::attempts))
                .first(conn)
                .optional()?;
            let Some((has_turn, attempts)) = found else { return Ok(Begun::Lost) };
            if let Some(turn) = pace::take_turn(conn, pace, has_turn, at)? {
                put_back(conn, claim, turn, pace.a_minute.is_some())?;
                return Ok(Begun::Waits(turn));
            }
            let begun = diesel::update(sending(claim))
                .set((
                    report::state.eq(ReportState::Transmitting.word()),
                    report::attempts.eq(attempts + 1),
                    report::lease_until.eq(lease_until.0),
                    report::has_turn.eq(false),
                ))
                .execute(conn)?;
            if begun == 0 {
                return Ok(Begun::Lost);
            }
            attempts::begin(conn, claim.key, attempts + 1, at)?;
            Ok(Begun::Yes)
        })
    }

    /// Says how the handing over of a mail ended. False when it is another's by now, and nothing changed. One
    /// that was given up as unknown meanwhile is still this claim's: whoever handed it over knows better.
    ///
    /// # Errors
    /// [`StoreError`] when the database fails.
    pub fn end_delivery(
        &self,
        claim: Claim,
        ending: Ending<'_>,
        at: Instant,
    ) -> Result<bool, StoreError> {
        let receipt = |words| Answer { words, ..Answer::default() };
        let (state, outcome, answer) = match ending {
            Ending::Accepted(words) => (ReportState::Accepted, Outcome::Accepted, receipt(words)),
            Ending::Deferred(answer, _) => (ReportState::Deferred, Outcome::Deferred, answer),
            Ending::GivenUp(answer) => (ReportState::Failed, Outcome::Deferred, answer),
            Ending::Refused(answer) => (ReportState::Failed, Outcome::Refused, answer),
            Ending::Unknown(words) => (ReportState::Unknown, Outcome::Unknown, receipt(words)),
        };
        let begun = [ReportState::Transmitting.word(), ReportState::Unknown.word()];
        self.write(|conn| {
            let attempts: Option<i32> = held(claim)
                .filter(report::state.eq_any(begun))
                .select(report::attempts)
                .first(conn)
                .optional()?;
            let Some(attempts) = attempts else { return Ok(false) };
            let rows = diesel::update(held(claim).filter(report::state.eq_any(begun)))
                .set((
                    report::state.eq(state.word()),
                    report::lease_until.eq(None::<i64>),
                    report::ended_at.eq((state != ReportState::Deferred).then_some(at.0)),
                ))
                .execute(conn)?;
            if let Ending::Deferred(_, next_try_at) = ending {
                let next = report::next_try_at.eq(next_try_at.0);
                diesel::update(held(claim)).set(next).execute(conn)?;
            }
            attempts::end(conn, claim.key, attempts, (outcome, answer, at))?;
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
            let keys = dialect::lock_lost_reports(conn, at.0)?;
            let answer = Answer { words: "it broke off", ..Answer::default() };
            for (key, attempts) in &keys {
                attempts::end(conn, *key, *attempts, (Outcome::Unknown, answer, at))?;
            }
            let keys: Vec<i64> = keys.into_iter().map(|(key, _)| key).collect();
            let rows = diesel::update(report::table.filter(report::id.eq_any(keys)))
                .set((
                    report::state.eq(ReportState::Unknown.word()),
                    report::ended_at.eq(at.0),
                    report::lease_until.eq(None::<i64>),
                ))
                .execute(conn)?;
            Ok(rows)
        })
    }
}

/// The row of a claim, as long as it is of the same generation.
#[diesel::dsl::auto_type(no_type_alias)]
pub(crate) fn held(claim: Claim) -> _ {
    let (key, generation): (i64, i64) = (claim.key, claim.generation);
    report::table.filter(report::id.eq(key)).filter(report::generation.eq(generation))
}

/// The same, as long as nothing of it has left.
#[diesel::dsl::auto_type(no_type_alias)]
fn sending(claim: Claim) -> _ {
    let (key, generation): (i64, i64) = (claim.key, claim.generation);
    report::table
        .filter(report::id.eq(key))
        .filter(report::generation.eq(generation))
        .filter(report::state.eq("sending"))
}

/// Puts a claimed report back until an instant. `has_turn`: its turn is then.
fn put_back(
    conn: &mut AnyConn,
    claim: Claim,
    until: Instant,
    has_turn: bool,
) -> QueryResult<usize> {
    let set = |state: ReportState| {
        (
            report::state.eq(state.word()),
            report::next_try_at.eq(until.0),
            report::has_turn.eq(has_turn),
            report::lease_until.eq(None::<i64>),
        )
    };
    let fresh = sending(claim).filter(report::attempts.eq(0));
    let rows = diesel::update(fresh).set(set(ReportState::Planned)).execute(conn)?;
    Ok(rows + diesel::update(sending(claim)).set(set(ReportState::Deferred)).execute(conn)?)
}
