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
    let waiting = ReportState::WAITING.map(ReportState::word);
    let due = report::state.eq_any(waiting).and(report::next_try_at.le(at));
    let lease_over = report::state.eq(ReportState::Sending.word()).and(report::lease_until.le(at));
    let free = report::table
        .filter(report::fleet_id.eq(FLEET))
        .filter(due.or(lease_over))
        .order((report::next_try_at, report::id))
        .limit(limit)
        .select(report::id);
    match conn {
        AnyConn::Sqlite(conn) => free.load(conn),
        AnyConn::Postgres(conn) => free.for_update().skip_locked().load(conn),
    }
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
