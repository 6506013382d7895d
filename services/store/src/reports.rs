//! Mails as composed: one per recipient, kind and week. How they leave is in `deliveries`.

use crate::FLEET;
use crate::bytes::{Digest, Id};
use crate::conn::Store;
use crate::deliveries::ReportState;
use crate::dialect;
use crate::erasure;
use crate::error::StoreError;
use crate::schema::report;
use crate::values::Instant;
use chrono::NaiveDate;
use diesel::prelude::*;
use gudgeon_life::ids::{PartyId, Uid};
use sha2::{Digest as _, Sha256};

/// The digest of a mail covers its subject and both parts, each with its length.
const MAIL_DOMAIN: &[u8] = b"gudgeon/mail/v1\0";

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
    /// SHA-256 of its subject and parts as they were composed.
    pub digest: [u8; 32],
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
    digest: Digest,
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
    digest: Digest,
    composed_at: i64,
    state: &'static str,
    generation: i64,
}

impl Store {
    /// Queues a mail. False when this recipient has one of this kind and week, or was erased since the mail
    /// was composed: then nothing is written.
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
            digest: digest(new),
            composed_at: new.composed_at.0,
            state: ReportState::Queued.word(),
            generation: 0,
        };
        self.write(|conn| {
            let erased = erasure::is_party_erased(conn, new.recipient)?;
            Ok(!erased && dialect::add_report(conn, &draft)? > 0)
        })
    }

    /// The mails of a recipient, in order of key, after a key. Begin after 0. Those of an erased one have no
    /// words left.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn reports_of(
        &self,
        recipient: PartyId,
        after_key: i64,
        limit: i64,
    ) -> Result<Vec<ReportRow>, StoreError> {
        self.read(|conn| {
            let rows: Vec<(ReportRecord, String)> = report::table
                .filter(report::fleet_id.eq(FLEET))
                .filter(report::recipient.eq(Id::from(recipient.0)))
                .filter(report::id.gt(after_key))
                .order(report::id)
                .limit(limit)
                .select((ReportRecord::as_select(), report::state))
                .load(conn)?;
            rows.into_iter().map(|(record, word)| Ok(record.row(ReportState::of(&word)?))).collect()
        })
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

fn digest(new: &NewReport<'_>) -> Digest {
    let mut hasher = Sha256::new();
    hasher.update(MAIL_DOMAIN);
    for part in [new.subject, new.text, new.html] {
        hasher.update(u64::try_from(part.len()).unwrap_or(u64::MAX).to_be_bytes());
        hasher.update(part);
    }
    Digest(hasher.finalize().into())
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
            digest: self.digest.0,
            composed_at: Instant(self.composed_at),
            state,
        }
    }
}
