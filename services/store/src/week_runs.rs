//! What each week's reports came to when they were planned, so that a run that would surprise is told from one
//! that is like the last.

use crate::FLEET;
use crate::conn::Store;
use crate::dialect::{self, AnyConn};
use crate::error::StoreError;
use crate::hold;
use crate::schema::week_run;
use crate::values::Instant;
use diesel::prelude::*;
use gudgeon_life::week::ReportWeek;
use serde::{Deserialize, Serialize};

/// What the reports of a week came to.
#[derive(
    Clone, Debug, PartialEq, Eq, Insertable, Queryable, Selectable, Serialize, Deserialize,
)]
#[diesel(table_name = week_run)]
#[serde(deny_unknown_fields)]
pub struct WeekRunRow {
    /// The week of ISO 8601, such as `2026-W48`.
    pub week: String,
    /// When it was first planned, in microseconds since the Unix epoch.
    pub planned_at: i64,
    /// How many reports had something to say.
    pub mails: i64,
    /// How many items were on record of their recipients.
    pub items: i64,
    /// How many of these were overdue.
    pub overdue: i64,
}

impl Store {
    /// What a week's reports came to, if it was planned.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn week_run(&self, week: ReportWeek) -> Result<Option<WeekRunRow>, StoreError> {
        self.read(|conn| {
            Ok(week_run::table
                .find((FLEET, week.to_string()))
                .select(WeekRunRow::as_select())
                .get_result(conn)
                .optional()?)
        })
    }

    /// What the last week planned before this one came to. Weeks sort by their names.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn week_run_before(&self, week: ReportWeek) -> Result<Option<WeekRunRow>, StoreError> {
        self.read(|conn| {
            Ok(week_run::table
                .filter(week_run::fleet_id.eq(FLEET))
                .filter(week_run::week.lt(week.to_string()))
                .order(week_run::week.desc())
                .select(WeekRunRow::as_select())
                .first(conn)
                .optional()?)
        })
    }

    /// Keeps what a week came to, and puts mails on hold when there is a reason. False when that is kept
    /// already: then a person may have judged it, and nothing changes.
    ///
    /// # Errors
    /// [`StoreError`] when the database fails.
    pub fn keep_week_run(&self, run: &WeekRunRow, hold: Option<&str>) -> Result<bool, StoreError> {
        self.write(|conn| {
            let is_new = dialect::add_week_run(conn, run)? > 0;
            if let (true, Some(reason)) = (is_new, hold) {
                hold::begin(conn, Instant(run.planned_at), reason)?;
            }
            Ok(is_new)
        })
    }
}

/// All of them, in order of week.
pub(crate) fn all(conn: &mut AnyConn) -> QueryResult<Vec<WeekRunRow>> {
    week_run::table
        .filter(week_run::fleet_id.eq(FLEET))
        .order(week_run::week)
        .select(WeekRunRow::as_select())
        .load(conn)
}
