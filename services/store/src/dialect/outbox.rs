//! What the backends say differently of the outbox: plans, claims, pace.

use super::AnyConn;
use crate::FLEET;
use crate::deliveries::ReportState;
use crate::pace::PaceRow;
use crate::plans::PlanDraft;
use crate::schema::{domain_pace, report, week_run};
use crate::week_runs::WeekRunRow;
use diesel::prelude::*;

/// Adds plans of reports, but for those whose recipient has one of its kind and week; gives the number added.
pub(crate) fn add_plans(conn: &mut AnyConn, rows: &[PlanDraft<'_>]) -> QueryResult<usize> {
    match conn {
        AnyConn::Sqlite(conn) => {
            let mut added = 0;
            for row in rows {
                added += diesel::insert_into(report::table)
                    .values(row)
                    .on_conflict_do_nothing()
                    .execute(conn)?;
            }
            Ok(added)
        }
        AnyConn::Postgres(conn) => {
            diesel::insert_into(report::table).values(rows).on_conflict_do_nothing().execute(conn)
        }
    }
}

/// The keys of reports that may be claimed, the longest due first, locked until the transaction ends. Those
/// that somebody else is just claiming are passed over.
pub(crate) fn lock_free_reports(conn: &mut AnyConn, at: i64, limit: i64) -> QueryResult<Vec<i64>> {
    let mut free: Vec<(i64, i64)> = Vec::new();
    // State by state, so that an index leads to the first of each however many wait. One that is being sent was due
    // when it was claimed, and is free again when its lease is over.
    for state in [ReportState::Planned, ReportState::Deferred, ReportState::Sending] {
        let of_state = report::table
            .filter(report::fleet_id.eq(FLEET))
            .filter(report::state.eq(state.word()))
            .filter(report::next_try_at.le(at))
            .filter(report::lease_until.is_null().or(report::lease_until.le(at)))
            .order((report::next_try_at, report::id))
            .limit(limit)
            .select((report::next_try_at, report::id));
        let some: Vec<(i64, i64)> = match conn {
            AnyConn::Sqlite(conn) => of_state.load(conn)?,
            AnyConn::Postgres(conn) => of_state.for_update().skip_locked().load(conn)?,
        };
        free.extend(some);
    }
    free.sort_unstable();
    free.truncate(usize::try_from(limit).unwrap_or(0));
    Ok(free.into_iter().map(|(_, key)| key).collect())
}

/// The keys of mails that were being handed over when their lease ended, with how often each was begun,
/// locked until the transaction ends.
pub(crate) fn lock_lost_reports(conn: &mut AnyConn, at: i64) -> QueryResult<Vec<(i64, i32)>> {
    let lost = report::table
        .filter(report::fleet_id.eq(FLEET))
        .filter(report::state.eq(ReportState::Transmitting.word()))
        .filter(report::lease_until.le(at))
        .order(report::id)
        .select((report::id, report::attempts));
    match conn {
        AnyConn::Sqlite(conn) => lost.load(conn),
        AnyConn::Postgres(conn) => lost.for_update().load(conn),
    }
}

/// The pace of a domain, begun unless it was, and locked until the transaction ends.
pub(crate) fn lock_pace(conn: &mut AnyConn, new: &PaceRow) -> QueryResult<PaceRow> {
    let row = domain_pace::table.find((FLEET, new.domain));
    on!(conn, conn => diesel::insert_into(domain_pace::table)
        .values(new)
        .on_conflict_do_nothing()
        .execute(conn))?;
    match conn {
        AnyConn::Sqlite(conn) => row.select(PaceRow::as_select()).get_result(conn),
        AnyConn::Postgres(conn) => row.select(PaceRow::as_select()).for_update().get_result(conn),
    }
}

/// Keeps what a week came to, unless it is kept; gives the number added.
pub(crate) fn add_week_run(conn: &mut AnyConn, row: &WeekRunRow) -> QueryResult<usize> {
    on!(conn, conn => diesel::insert_into(week_run::table)
        .values((week_run::fleet_id.eq(FLEET), row))
        .on_conflict_do_nothing()
        .execute(conn))
}
