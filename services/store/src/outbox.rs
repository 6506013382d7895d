//! The outbox as people look at it: what a week came to, what did not arrive, what is sent again by hand.

use crate::FLEET;
use crate::bytes::Id;
use crate::conn::Store;
use crate::deliveries::ReportState;
use crate::error::StoreError;
use crate::packed::Packed;
use crate::reports::{kind_of, week_of};
use crate::schema::{attempt, report};
use crate::values::Instant;
use diesel::dsl::{count_star, min};
use diesel::prelude::*;
use gudgeon_life::ids::{PartyId, Uid};
use gudgeon_life::preference::ReportKind;
use gudgeon_life::week::ReportWeek;
use std::collections::BTreeMap;

/// A report of a week that was not accepted, or not yet.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NotAccepted {
    /// Its key, for paging.
    pub key: i64,
    /// Whom it is for.
    pub recipient: PartyId,
    /// Which kind of report.
    pub kind: ReportKind,
    /// Which week it is about.
    pub week: ReportWeek,
    /// How far it has come.
    pub state: ReportState,
    /// Why it does not leave, in our words; `None` when it only waits, or a server was asked.
    pub reason: Option<String>,
    /// How often it was begun to be handed over.
    pub attempts: i32,
    /// When it is due next, while it waits.
    pub next_try_at: Option<Instant>,
    /// The last answer to it, as codes alone: the words may name the address.
    pub answered: Option<(u16, Option<String>)>,
}

/// Which reports to list.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OutboxQuery {
    /// Only those of this week.
    pub week: Option<ReportWeek>,
    /// Only those in this state; any but accepted if left out.
    pub state: Option<ReportState>,
    /// Only those after this key. Begin with 0.
    pub after_key: i64,
    /// How many at most.
    pub limit: i64,
}

/// The columns of one, without its mail.
#[derive(Queryable, Selectable)]
#[diesel(table_name = report)]
struct NotAcceptedRecord {
    id: i64,
    recipient: Id,
    kind: String,
    week: String,
    state: String,
    reason: Option<String>,
    attempts: i32,
    next_try_at: i64,
}

impl NotAcceptedRecord {
    fn told(self, answered: Option<(u16, Option<String>)>) -> Result<NotAccepted, StoreError> {
        let state = ReportState::of(&self.state)?;
        let waits = ReportState::WAITING.contains(&state);
        Ok(NotAccepted {
            key: self.id,
            recipient: PartyId(Uid::from(self.recipient)),
            kind: kind_of(&self.kind)?,
            week: week_of(&self.week)?,
            state,
            reason: self.reason,
            attempts: self.attempts,
            next_try_at: waits.then_some(Instant(self.next_try_at)),
            answered,
        })
    }
}

impl Store {
    /// How many reports of a week, of all kinds, are in which state.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn report_counts(
        &self,
        week: ReportWeek,
    ) -> Result<BTreeMap<ReportState, i64>, StoreError> {
        self.read(|conn| {
            let rows: Vec<(String, i64)> = report::table
                .filter(report::fleet_id.eq(FLEET))
                .filter(report::week.eq(week.to_string()))
                .group_by(report::state)
                .select((report::state, count_star()))
                .load(conn)?;
            rows.into_iter().map(|(word, count)| Ok((ReportState::of(&word)?, count))).collect()
        })
    }

    /// Reports that were not accepted, in order of key.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn not_accepted(&self, query: &OutboxQuery) -> Result<Vec<NotAccepted>, StoreError> {
        self.read(|conn| {
            let mut select = report::table
                .filter(report::fleet_id.eq(FLEET))
                .filter(report::id.gt(query.after_key))
                .order(report::id)
                .limit(query.limit)
                .select(NotAcceptedRecord::as_select())
                .into_boxed();
            select = match query.state {
                Some(state) => select.filter(report::state.eq(state.word())),
                None => select.filter(report::state.ne(ReportState::Accepted.word())),
            };
            if let Some(week) = query.week {
                select = select.filter(report::week.eq(week.to_string()));
            }
            let records: Vec<NotAcceptedRecord> = select.load(conn)?;
            let keys: Vec<i64> = records.iter().map(|record| record.id).collect();
            let answers: Vec<(i64, Option<i32>, Option<String>)> = attempt::table
                .filter(attempt::fleet_id.eq(FLEET))
                .filter(attempt::report_id.eq_any(keys))
                .order((attempt::report_id, attempt::number))
                .select((attempt::report_id, attempt::code, attempt::enhanced))
                .load(conn)?;
            // Of several to one report, the last stays.
            let mut answered: BTreeMap<i64, (u16, Option<String>)> = answers
                .into_iter()
                .filter_map(|(key, code, enhanced)| {
                    Some((key, (u16::try_from(code?).ok()?, enhanced)))
                })
                .collect();
            let told = records.into_iter().map(|record| {
                let answered = answered.remove(&record.id);
                record.told(answered)
            });
            told.collect()
        })
    }

    /// How many mails wait to leave, due or not, on hold or not.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn reports_waiting(&self) -> Result<i64, StoreError> {
        self.read(|conn| {
            Ok(report::table
                .filter(report::fleet_id.eq(FLEET))
                .filter(report::state.eq_any(ReportState::WAITING.map(ReportState::word)))
                .count()
                .get_result(conn)?)
        })
    }

    /// When the next mail that waits is due; `None` when none waits.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn next_report_at(&self) -> Result<Option<Instant>, StoreError> {
        self.read(|conn| {
            let mut next: Vec<i64> = Vec::new();
            // One after the other: of each state an index leads to the first.
            for state in ReportState::WAITING {
                let first: Option<i64> = report::table
                    .filter(report::fleet_id.eq(FLEET))
                    .filter(report::state.eq(state.word()))
                    .select(min(report::next_try_at))
                    .get_result(conn)?;
                next.extend(first);
            }
            Ok(next.into_iter().min().map(Instant))
        })
    }

    /// Lets reports leave again, as they were composed, of which nobody can tell whether they were accepted;
    /// gives how many. Whoever handed one over before has no say in it any more.
    ///
    /// # Errors
    /// [`StoreError`] when the database fails.
    pub fn resend_unknown(
        &self,
        week: Option<ReportWeek>,
        recipient: Option<PartyId>,
        at: Instant,
    ) -> Result<usize, StoreError> {
        self.write(|conn| {
            let mut unknown = report::table
                .filter(report::fleet_id.eq(FLEET))
                .filter(report::state.eq(ReportState::Unknown.word()))
                .select(report::id)
                .into_boxed();
            if let Some(week) = week {
                unknown = unknown.filter(report::week.eq(week.to_string()));
            }
            if let Some(recipient) = recipient {
                unknown = unknown.filter(report::recipient.eq(Id::from(recipient.0)));
            }
            let keys: Vec<i64> = unknown.load(conn)?;
            let unknown = report::table
                .filter(report::id.eq_any(keys))
                .filter(report::state.eq(ReportState::Unknown.word()))
                .filter(report::body_html.ne(Packed::default()));
            let again = (
                report::state.eq(ReportState::Deferred.word()),
                report::generation.eq(report::generation + 1),
                report::send_at.eq(at.0),
                report::next_try_at.eq(at.0),
                report::ended_at.eq(None::<i64>),
            );
            Ok(diesel::update(unknown).set(again).execute(conn)?)
        })
    }
}
