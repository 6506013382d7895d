//! The hold on mails: while it lasts none leaves, because nobody knows which of them have left already, or
//! because there are so many of them that a person should look first.

use crate::FLEET;
use crate::conn::Store;
use crate::deliveries::ReportState;
use crate::dialect::{self, AnyConn};
use crate::error::StoreError;
use crate::schema::{mail_hold, report};
use crate::values::Instant;
use diesel::prelude::*;

/// Why mails are on hold.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MailHold {
    /// Since when.
    pub since: Instant,
    /// Why, in words.
    pub reason: String,
}

/// Puts mails on hold, unless they are.
pub(crate) fn begin(conn: &mut AnyConn, since: Instant, reason: &str) -> QueryResult<usize> {
    dialect::add_hold(conn, since.0, reason)
}

/// The hold, while there is one.
pub(crate) fn standing(conn: &mut AnyConn) -> QueryResult<Option<MailHold>> {
    let row: Option<(i64, String)> = mail_hold::table
        .find(FLEET)
        .select((mail_hold::since, mail_hold::reason))
        .first(conn)
        .optional()?;
    Ok(row.map(|(since, reason)| MailHold { since: Instant(since), reason }))
}

impl Store {
    /// Why mails are on hold; `None` when they may leave.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn mail_hold(&self) -> Result<Option<MailHold>, StoreError> {
        self.read(|conn| Ok(standing(conn)?))
    }

    /// Lets mails leave again; false when they might already. Whatever became due while they were on hold is
    /// due now instead, and so is what was due at most `late_max` microseconds before: the wait was ours.
    ///
    /// # Errors
    /// [`StoreError`] when the database fails.
    pub fn release_mails(&self, at: Instant, late_max: i64) -> Result<bool, StoreError> {
        self.write(|conn| {
            let Some(hold) = standing(conn)? else { return Ok(false) };
            diesel::delete(mail_hold::table.find(FLEET)).execute(conn)?;
            let kept_back = report::table
                .filter(report::fleet_id.eq(FLEET))
                .filter(report::state.eq(ReportState::Planned.word()))
                .filter(report::send_at.ge(hold.since.0.saturating_sub(late_max)))
                .filter(report::send_at.lt(at.0));
            let now = (report::send_at.eq(at.0), report::next_try_at.eq(at.0));
            diesel::update(kept_back).set(now).execute(conn)?;
            Ok(true)
        })
    }
}
