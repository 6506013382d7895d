//! Mails as composed: one per recipient, kind and week. How they leave is in `deliveries`.

use crate::FLEET;
use crate::bytes::Id;
use crate::conn::Store;
use crate::deliveries::ReportState;
use crate::dialect;
use crate::error::StoreError;
use crate::schema::report;
use crate::values::Instant;
use chrono::NaiveDate;
use diesel::prelude::*;
use gudgeon_life::ids::{PartyId, Uid};

/// How many recipients one statement names, far below what any database permits.
const RECIPIENTS_MAX: usize = 10_000;

/// A mail just composed.
#[derive(Clone, Copy, Debug)]
pub struct NewReport<'a> {
    /// Whom it is for.
    pub recipient: PartyId,
    /// Which kind of report, such as `owner`.
    pub kind: &'a str,
    /// Which week of ISO 8601, such as `2026-W48`.
    pub week: &'a str,
    /// The day that it is true for.
    pub as_of: NaiveDate,
    /// The Message-ID it goes out under.
    pub message_id: &'a str,
    /// The recipient's name.
    pub to_name: &'a str,
    /// The recipient's address.
    pub to_address: &'a str,
    /// The subject.
    pub subject: &'a str,
    /// The text part.
    pub text: &'a str,
    /// The HTML part.
    pub html: &'a str,
    /// When it was composed.
    pub composed_at: Instant,
}

/// A mail as it is kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ReportRow {
    /// Its key, in order of composing.
    pub key: i64,
    /// Whom it is for.
    pub recipient: PartyId,
    /// Which kind of report.
    pub kind: String,
    /// Which week of ISO 8601.
    pub week: String,
    /// The day that it is true for.
    pub as_of: NaiveDate,
    /// The Message-ID it goes out under.
    pub message_id: String,
    /// The recipient's name.
    pub to_name: String,
    /// The recipient's address.
    pub to_address: String,
    /// The subject.
    pub subject: String,
    /// The text part.
    pub text: String,
    /// The HTML part.
    pub html: String,
    /// When it was composed.
    pub composed_at: Instant,
    /// How far it has come.
    pub state: ReportState,
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = report)]
pub(crate) struct ReportRecord {
    id: i64,
    recipient: Id,
    kind: String,
    week: String,
    as_of: NaiveDate,
    message_id: String,
    to_name: String,
    to_address: String,
    subject: String,
    body_text: String,
    body_html: String,
    composed_at: i64,
}

/// A mail on its way in.
#[derive(Insertable)]
#[diesel(table_name = report)]
pub(crate) struct ReportDraft<'a> {
    fleet_id: i64,
    recipient: Id,
    kind: &'a str,
    week: &'a str,
    as_of: NaiveDate,
    message_id: &'a str,
    to_name: &'a str,
    to_address: &'a str,
    subject: &'a str,
    body_text: &'a str,
    body_html: &'a str,
    composed_at: i64,
    state: &'static str,
    generation: i64,
}

impl Store {
    /// Queues a mail. False when this recipient has one of this kind and week: then nothing is written.
    ///
    /// # Errors
    /// [`StoreError`] when the database fails.
    pub fn queue_report(&self, new: &NewReport<'_>) -> Result<bool, StoreError> {
        let draft = ReportDraft {
            fleet_id: FLEET,
            recipient: Id::from(new.recipient.0),
            kind: new.kind,
            week: new.week,
            as_of: new.as_of,
            message_id: new.message_id,
            to_name: new.to_name,
            to_address: new.to_address,
            subject: new.subject,
            body_text: new.text,
            body_html: new.html,
            composed_at: new.composed_at.0,
            state: ReportState::Queued.word(),
            generation: 0,
        };
        self.write(|conn| Ok(dialect::add_report(conn, &draft)? > 0))
    }

    /// How many mails are queued, on hold or not.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn reports_queued(&self) -> Result<i64, StoreError> {
        self.read(|conn| {
            Ok(report::table
                .filter(report::fleet_id.eq(FLEET))
                .filter(report::state.eq(ReportState::Queued.word()))
                .count()
                .get_result(conn)?)
        })
    }

    /// Those of these recipients who have a mail of this kind and week already, in no order.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn has_report(
        &self,
        recipients: &[PartyId],
        kind: &str,
        week: &str,
    ) -> Result<Vec<PartyId>, StoreError> {
        self.read(|conn| {
            let mut found = Vec::new();
            for chunk in recipients.chunks(RECIPIENTS_MAX) {
                let ids: Vec<Id> = chunk.iter().map(|party| Id::from(party.0)).collect();
                let rows: Vec<Id> = report::table
                    .filter(report::fleet_id.eq(FLEET))
                    .filter(report::recipient.eq_any(ids))
                    .filter(report::kind.eq(kind))
                    .filter(report::week.eq(week))
                    .select(report::recipient)
                    .load(conn)?;
                found.extend(rows.into_iter().map(|id| PartyId(Uid::from(id))));
            }
            Ok(found)
        })
    }
}

impl ReportRecord {
    pub(crate) fn row(self, state: ReportState) -> ReportRow {
        ReportRow {
            key: self.id,
            recipient: PartyId(Uid::from(self.recipient)),
            kind: self.kind,
            week: self.week,
            as_of: self.as_of,
            message_id: self.message_id,
            to_name: self.to_name,
            to_address: self.to_address,
            subject: self.subject,
            text: self.body_text,
            html: self.body_html,
            composed_at: Instant(self.composed_at),
            state,
        }
    }
}
