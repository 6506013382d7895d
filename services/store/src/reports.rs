//! The outbox: one row per recipient, kind and week, planned first and composed when it is about to leave. How
//! each leaves is in `deliveries`.

use crate::FLEET;
use crate::bytes::{Digest, Id};
use crate::conn::Store;
use crate::deliveries::{Claim, ReportState, held};
use crate::error::StoreError;
use crate::packed::Packed;
use crate::schema::report;
use crate::suppressions;
use crate::values::Instant;
use chrono::NaiveDate;
use diesel::dsl::{case_when, sql};
use diesel::expression::SqlLiteral;
use diesel::prelude::*;
use diesel::sql_types::{Bool, Nullable, Text};
use gudgeon_life::ids::{PartyId, Uid};
use gudgeon_life::preference::ReportKind;
use gudgeon_life::week::ReportWeek;
use gudgeon_life::zone::Zone;
use sha2::{Digest as _, Sha256};

/// The digest of a mail covers its subject and both parts, each with its length.
const MAIL_DOMAIN: &[u8] = b"gudgeon/mail/v1\0";

/// A mail just composed.
#[derive(Clone, Copy, Debug)]
pub struct NewMail<'a> {
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
    /// A digest of what it was composed from: the same while that is.
    pub composed_from: [u8; 32],
    /// When it was composed.
    pub composed_at: Instant,
}

/// A mail as it was composed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ReportRow {
    /// Its key, in order of planning.
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
    /// The tag of the address that it comes back to, such as `0a1b2c3d4e5f60718293`: the same however often it is
    /// composed.
    pub return_tag: String,
    /// How far it has come.
    pub state: ReportState,
}

/// A report on its way, composed or not.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OutboxRow {
    /// Its key, in order of planning.
    pub key: i64,
    /// Whom it is for.
    pub recipient: PartyId,
    /// Which kind of report.
    pub kind: ReportKind,
    /// Which week it is about.
    pub week: ReportWeek,
    /// The zone that its day is told in.
    pub zone: Zone,
    /// When it is to leave.
    pub send_at: Instant,
    /// The day to work it out for; `None`: the recipient's day when it is composed.
    pub fixed_as_of: Option<NaiveDate>,
    /// When it is due next.
    pub next_try_at: Instant,
    /// How often it was begun to be handed over.
    pub attempts: i32,
    /// A digest of what it was composed from, once it is.
    pub composed_from: Option<[u8; 32]>,
    /// The mail, once it is composed. Its words go when its recipient is erased, and after some weeks.
    pub mail: Option<ReportRow>,
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = report)]
pub(crate) struct ReportRecord {
    id: i64,
    recipient: Id,
    kind: String,
    week: String,
    zone: String,
    send_at: i64,
    fixed_as_of: Option<NaiveDate>,
    state: String,
    next_try_at: i64,
    attempts: i32,
    as_of: Option<NaiveDate>,
    message_id: Option<String>,
    to_name: Option<String>,
    to_address: Option<String>,
    subject: Option<String>,
    body_text: Option<Packed>,
    body_html: Option<Packed>,
    digest: Option<Digest>,
    composed_from: Option<Digest>,
    composed_at: Option<i64>,
    return_tag: Option<String>,
}

impl Store {
    /// Keeps the mails of claimed reports, each in place of one composed earlier, and gives them as they are kept.
    /// One of a report that is another's by now, or whose recipient was erased, is left out.
    ///
    /// # Errors
    /// [`StoreError`] when the database fails; then none is kept.
    pub fn keep_mails(
        &self,
        mails: &[(Claim, NewMail<'_>)],
    ) -> Result<Vec<(Claim, ReportRow)>, StoreError> {
        self.write(|conn| {
            let mut kept = Vec::new();
            for (claim, mail) in mails {
                let mine = held(*claim).filter(report::state.eq(ReportState::Sending.word()));
                // Whatever a mail says now, what comes back may be one that left before.
                let new = suppressions::new_tag()?.into_sql::<Nullable<Text>>();
                let tag =
                    case_when(report::return_tag.is_null(), new).otherwise(report::return_tag);
                let columns = (MailColumns::of(mail), report::return_tag.eq(tag));
                if diesel::update(mine).set(columns).execute(conn)? == 0 {
                    continue;
                }
                let record: ReportRecord =
                    held(*claim).select(ReportRecord::as_select()).get_result(conn)?;
                kept.extend(record.mail()?.map(|mail| (*claim, mail)));
            }
            Ok(kept)
        })
    }

    /// The mails composed for a recipient, in order of key, after a key. Begin after 0. Those of an erased one
    /// have no words left, nor have old ones.
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
            let records: Vec<ReportRecord> = report::table
                .filter(report::fleet_id.eq(FLEET))
                .filter(report::recipient.eq(Id::from(recipient.0)))
                .filter(report::digest.is_not_null())
                .filter(report::id.gt(after_key))
                .order(report::id)
                .limit(limit)
                .select(ReportRecord::as_select())
                .load(conn)?;
            let rows = records.into_iter().map(ReportRecord::mail);
            rows.filter_map(Result::transpose).collect()
        })
    }

    /// Takes the words of mails composed before an instant that are done with; gives how many. Their digests
    /// and how they ended stay.
    ///
    /// # Errors
    /// [`StoreError`] when the database fails.
    pub fn forget_mails(&self, before: Instant) -> Result<usize, StoreError> {
        self.write(|conn| {
            let done: Vec<&str> = ReportState::DONE.iter().map(|state| state.word()).collect();
            let old = report::table
                .filter(report::fleet_id.eq(FLEET))
                .filter(has_words())
                .filter(report::state.eq_any(done))
                .filter(report::composed_at.lt(before.0))
                .filter(report::body_html.ne(Packed::default()));
            Ok(diesel::update(old).set(Words::default()).execute(conn)?)
        })
    }
}

/// A mail as columns.
#[derive(AsChangeset)]
#[diesel(table_name = report)]
struct MailColumns<'a> {
    as_of: NaiveDate,
    message_id: &'a str,
    to_name: &'a str,
    to_address: &'a str,
    subject: &'a str,
    body_text: Packed,
    body_html: Packed,
    digest: Digest,
    composed_from: Digest,
    composed_at: i64,
}

impl<'a> MailColumns<'a> {
    fn of(mail: &NewMail<'a>) -> Self {
        Self {
            as_of: mail.as_of,
            message_id: mail.message_id,
            to_name: mail.to_name,
            to_address: mail.to_address,
            subject: mail.subject,
            body_text: Packed::of(mail.text),
            body_html: Packed::of(mail.html),
            digest: digest(mail),
            composed_from: Digest(mail.composed_from),
            composed_at: mail.composed_at.0,
        }
    }
}

/// What a mail holds of words once they are taken.
#[derive(Default, AsChangeset)]
#[diesel(table_name = report)]
pub(crate) struct Words {
    to_name: &'static str,
    to_address: &'static str,
    subject: &'static str,
    body_text: Packed,
    body_html: Packed,
}

/// Whether the words of a mail are kept. Written out, since an index of those alone leads to them: with a value in
/// its place it would not be known to.
fn has_words() -> SqlLiteral<Nullable<Bool>> {
    sql("subject <> ''")
}

fn digest(new: &NewMail<'_>) -> Digest {
    let mut hasher = Sha256::new();
    hasher.update(MAIL_DOMAIN);
    for part in [new.subject, new.text, new.html] {
        hasher.update(u64::try_from(part.len()).unwrap_or(u64::MAX).to_be_bytes());
        hasher.update(part);
    }
    Digest(hasher.finalize().into())
}

/// Reads the kind of a stored row.
pub(crate) fn kind_of(word: &str) -> Result<ReportKind, StoreError> {
    let kind = ReportKind::ALL.into_iter().find(|kind| kind.word() == word);
    kind.ok_or_else(|| StoreError::Corrupt(format!("a mail of kind `{word}`")))
}

/// Reads the week of a stored row.
pub(crate) fn week_of(text: &str) -> Result<ReportWeek, StoreError> {
    ReportWeek::parse(text).map_err(|error| StoreError::Corrupt(format!("a mail of {error}")))
}

impl ReportRecord {
    pub(crate) fn row(self) -> Result<OutboxRow, StoreError> {
        let zone = Zone::parse(&self.zone)
            .map_err(|error| StoreError::Corrupt(format!("a mail of {error}")))?;
        Ok(OutboxRow {
            key: self.id,
            recipient: PartyId(Uid::from(self.recipient)),
            kind: kind_of(&self.kind)?,
            week: week_of(&self.week)?,
            zone,
            send_at: Instant(self.send_at),
            fixed_as_of: self.fixed_as_of,
            next_try_at: Instant(self.next_try_at),
            attempts: self.attempts,
            composed_from: self.composed_from.map(|it| it.0),
            // One whose words are damaged is composed anew.
            mail: self.mail().unwrap_or_default(),
        })
    }

    /// The mail, once it is composed.
    fn mail(self) -> Result<Option<ReportRow>, StoreError> {
        let (Some(text), Some(html)) = (&self.body_text, &self.body_html) else { return Ok(None) };
        let (text, html, state) = (text.text()?, html.text()?, ReportState::of(&self.state)?);
        let composed = move || {
            Some(ReportRow {
                key: self.id,
                recipient: PartyId(Uid::from(self.recipient)),
                kind: self.kind,
                week: self.week,
                as_of: self.as_of?,
                message_id: self.message_id?,
                to_name: self.to_name?,
                to_address: self.to_address?,
                subject: self.subject?,
                text,
                html,
                composed_at: Instant(self.composed_at?),
                digest: self.digest?.0,
                return_tag: self.return_tag?,
                state,
            })
        };
        Ok(composed())
    }
}
