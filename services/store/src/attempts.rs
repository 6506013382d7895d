//! Every attempt to hand a mail over: when, what the server answered, how it ended.

use crate::FLEET;
use crate::conn::Store;
use crate::dialect::AnyConn;
use crate::error::StoreError;
use crate::schema::attempt;
use crate::values::Instant;
use diesel::prelude::*;

/// How an attempt ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// It has not ended, or nobody was left to say how.
    Begun,
    /// The mail was accepted.
    Accepted,
    /// It was not accepted, and may be later.
    Deferred,
    /// It was not accepted, and never will be.
    Refused,
    /// Nobody can tell whether it was accepted.
    Unknown,
}

impl Outcome {
    const ALL: [Self; 5] =
        [Self::Begun, Self::Accepted, Self::Deferred, Self::Refused, Self::Unknown];

    /// The word used in records.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Begun => "begun",
            Self::Accepted => "accepted",
            Self::Deferred => "deferred",
            Self::Refused => "refused",
            Self::Unknown => "unknown",
        }
    }
}

/// What was answered to an attempt.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Answer<'a> {
    /// The reply code of RFC 5321, such as 450, when a server answered.
    pub code: Option<u16>,
    /// The enhanced status code of RFC 3463, such as `4.7.1`, when the answer had one.
    pub enhanced: Option<&'a str>,
    /// What was answered, or what went wrong. It may name the address.
    pub words: &'a str,
}

/// An attempt as it is kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AttemptRow {
    /// Which of its mail, from 1.
    pub number: i32,
    /// When it was begun.
    pub at: Instant,
    /// When it ended, if it did.
    pub ended_at: Option<Instant>,
    /// How.
    pub outcome: Outcome,
    /// The reply code, when a server answered.
    pub code: Option<u16>,
    /// The enhanced status code, when the answer had one.
    pub enhanced: Option<String>,
    /// What was answered; empty once its recipient is erased.
    pub words: String,
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = attempt)]
struct AttemptRecord {
    number: i32,
    at: i64,
    ended_at: Option<i64>,
    outcome: String,
    code: Option<i32>,
    enhanced: Option<String>,
    words: String,
}

impl AttemptRecord {
    fn row(self) -> Result<AttemptRow, StoreError> {
        let outcome = Outcome::ALL.into_iter().find(|outcome| outcome.word() == self.outcome);
        let corrupt =
            || StoreError::Corrupt(format!("an attempt that ended as `{}`", self.outcome));
        Ok(AttemptRow {
            number: self.number,
            at: Instant(self.at),
            ended_at: self.ended_at.map(Instant),
            outcome: outcome.ok_or_else(corrupt)?,
            code: self.code.and_then(|code| u16::try_from(code).ok()),
            enhanced: self.enhanced,
            words: self.words,
        })
    }
}

/// Notes that an attempt begins.
pub(crate) fn begin(
    conn: &mut AnyConn,
    report_id: i64,
    number: i32,
    at: Instant,
) -> QueryResult<usize> {
    diesel::insert_into(attempt::table)
        .values((
            attempt::fleet_id.eq(FLEET),
            attempt::report_id.eq(report_id),
            attempt::number.eq(number),
            attempt::at.eq(at.0),
            attempt::outcome.eq(Outcome::Begun.word()),
            attempt::words.eq(""),
        ))
        .execute(conn)
}

/// Notes how an attempt ended.
pub(crate) fn end(
    conn: &mut AnyConn,
    report_id: i64,
    number: i32,
    (outcome, answer, at): (Outcome, Answer<'_>, Instant),
) -> QueryResult<usize> {
    diesel::update(attempt::table.find((FLEET, report_id, number)))
        .set((
            attempt::ended_at.eq(at.0),
            attempt::outcome.eq(outcome.word()),
            attempt::code.eq(answer.code.map(i32::from)),
            attempt::enhanced.eq(answer.enhanced),
            attempt::words.eq(answer.words),
        ))
        .execute(conn)
}

impl Store {
    /// The attempts to hand a mail over, first to last.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn attempts(&self, report_key: i64) -> Result<Vec<AttemptRow>, StoreError> {
        self.read(|conn| {
            let records: Vec<AttemptRecord> = attempt::table
                .filter(attempt::fleet_id.eq(FLEET))
                .filter(attempt::report_id.eq(report_key))
                .order(attempt::number)
                .select(AttemptRecord::as_select())
                .load(conn)?;
            records.into_iter().map(AttemptRecord::row).collect()
        })
    }
}
