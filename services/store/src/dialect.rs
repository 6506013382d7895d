//! Everything that the backends say differently: transactions, locks, upserts, batches.
//!
//! All other statements go through [`AnyConn`] itself, where the compiler keeps them to what every backend
//! can do. What a unique key leads to is asked for with `get_result` rather than `first`: that adds a limit
//! as a parameter, and `SQLite` compiles a statement anew for each value of it that it may plan by.

use crate::FLEET;
use crate::anchors::HeadRow;
use crate::calendars::CalendarRecord;
use crate::custody::CustodyRow;
use crate::engines::SpanRow;
use crate::lines::LineRow;
use crate::ownership::OwnerClaimRow;
use crate::parties::PartyRecord;
use crate::parts::PartRecord;
use crate::photos::{PhotoRow, SenderRow, UseRow};
use crate::preferences::PreferenceRecord;
use crate::priors::PriorRow;
use crate::schema::{
    anchored_head, bounce, calendar_entry, custody, due_line, engine_span, link, mail_hold,
    owner_claim, part, party, photo, photo_sender, photo_use, preference, serial_claim, stream,
    wear_prior,
};
use crate::serials::ClaimRow;
use crate::streams::{LinkRow, NewStream};
use crate::suppressions::BounceRow;
use diesel::connection::{
    AnsiTransactionManager, SimpleConnection, TransactionManager, TransactionManagerStatus,
};
use diesel::prelude::*;
use diesel::result::Error;
use diesel::sql_types::Integer;

/// The numbers under which a server keeps our locks that stand for no row: "gudgeon" in ASCII, then one byte.
const TYPES_LOCK: i64 = 0x67_75_64_67_65_6f_6e_01;
/// See [`TYPES_LOCK`].
const MIGRATIONS_LOCK: i64 = 0x67_75_64_67_65_6f_6e_02;
/// See [`TYPES_LOCK`].
const ANCHORS_LOCK: i64 = 0x67_75_64_67_65_6f_6e_03;

/// A connection to any of the databases that we can keep facts in.
///
/// Its derived `establish` is never used: it tries one backend after the other and so opens, or makes, a
/// file for any text at all.
#[derive(diesel::MultiConnection)]
pub(crate) enum AnyConn {
    /// A file of `SQLite`.
    Sqlite(SqliteConnection),
    /// A database of a `PostgreSQL` server.
    Postgres(PgConnection),
}

/// Runs one expression on the connection of whichever backend it is. Reads that a post makes go this way too:
/// [`AnyConn`] writes out the text of a statement each time, which takes as long as a short one runs.
macro_rules! on {
    ($conn:expr, $inner:ident => $run:expr) => {
        match $conn {
            $crate::dialect::AnyConn::Sqlite($inner) => $run,
            $crate::dialect::AnyConn::Postgres($inner) => $run,
        }
    };
}

mod fixed;
mod outbox;

pub(crate) use fixed::{Update, execute};
pub(crate) use on;
pub(crate) use outbox::{add_plans, add_week_run, lock_free_reports, lock_lost_reports, lock_pace};

/// What a transaction is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Access {
    /// Sees one unchanging view, and writes nothing.
    Read,
    /// Sees what is committed at each statement, or what it wrote itself. In `SQLite` it is the one writer
    /// from the start, so that it can never fail half-way for having read before another process wrote.
    Write,
}

/// Begins a transaction.
pub(crate) fn begin(conn: &mut AnyConn, access: Access) -> QueryResult<()> {
    match conn {
        AnyConn::Sqlite(conn) => {
            let sql = match access {
                Access::Read => "BEGIN",
                Access::Write => "BEGIN IMMEDIATE",
            };
            AnsiTransactionManager::begin_transaction_sql(conn, sql)
        }
        AnyConn::Postgres(conn) => {
            let sql = match access {
                Access::Read => "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY",
                Access::Write => "BEGIN ISOLATION LEVEL READ COMMITTED",
            };
            AnsiTransactionManager::begin_transaction_sql(conn, sql)
        }
    }
}

/// Begins a part of a transaction, which is kept or taken back for itself.
pub(crate) fn begin_part(conn: &mut AnyConn) -> QueryResult<()> {
    on!(conn, conn => AnsiTransactionManager::begin_transaction(conn))
}

/// Commits what [`begin`] began, or keeps what [`begin_part`] did.
pub(crate) fn commit(conn: &mut AnyConn) -> QueryResult<()> {
    on!(conn, conn => AnsiTransactionManager::commit_transaction(conn))
}

/// Takes back what [`begin`] or [`begin_part`] began.
pub(crate) fn roll_back(conn: &mut AnyConn) -> QueryResult<()> {
    on!(conn, conn => AnsiTransactionManager::rollback_transaction(conn))
}

/// Writes the database's file anew, so that it holds nothing of what was deleted; false when others still
/// read what was there before. Outside of any transaction. A server's files are not ours to write.
pub(crate) fn scrub(conn: &mut AnyConn) -> QueryResult<bool> {
    match conn {
        AnyConn::Sqlite(conn) => {
            conn.batch_execute("VACUUM")?;
            // https://www.sqlite.org/pragma.html#pragma_wal_checkpoint: the first column is 1 when it was
            // kept from finishing.
            let done: Checkpoint =
                diesel::sql_query("PRAGMA wal_checkpoint(TRUNCATE)").get_result(conn)?;
            Ok(done.busy == 0)
        }
        AnyConn::Postgres(_) => Ok(true),
    }
}

#[derive(QueryableByName)]
struct Checkpoint {
    #[diesel(sql_type = Integer)]
    busy: i32,
}

/// Takes back all that [`begin_part`] began and that is not ended.
pub(crate) fn roll_back_parts(conn: &mut AnyConn) -> QueryResult<()> {
    on!(conn, conn => {
        let in_part = |status: &TransactionManagerStatus| {
            Ok::<_, Error>(status.transaction_depth()?.is_some_and(|depth| depth.get() > 1))
        };
        while in_part(AnsiTransactionManager::transaction_manager_status_mut(conn))? {
            AnsiTransactionManager::rollback_transaction(conn)?;
        }
        Ok(())
    })
}

/// How many keys are best asked for in one statement. `SQLite` answers several statements faster than it
/// reads one that it does not know yet, and one with a list is another for each length; a server answers one
/// with any list in one round trip.
pub(crate) fn list_len_max(conn: &AnyConn) -> usize {
    match conn {
        AnyConn::Sqlite(_) => 1,
        AnyConn::Postgres(_) => usize::MAX,
    }
}

/// Locks streams until the transaction ends, in order of key, so that no two writers wait for one another.
/// In `SQLite` the one writer holds everything already.
pub(crate) fn lock_streams(conn: &mut AnyConn, keys: &[i64]) -> QueryResult<()> {
    match conn {
        AnyConn::Sqlite(_) => Ok(()),
        AnyConn::Postgres(conn) => stream::table
            .filter(stream::id.eq_any(keys))
            .order(stream::id)
            .select(stream::id)
            .for_update()
            .load::<i64>(conn)
            .map(|_| ()),
    }
}

/// Whether others may write while this connection does.
pub(crate) fn has_other_writers(conn: &AnyConn) -> bool {
    matches!(conn, AnyConn::Postgres(_))
}

/// Holds the active engine types as they are until the transaction ends, against [`change_types`].
pub(crate) fn hold_types(conn: &mut AnyConn) -> QueryResult<()> {
    advisory_lock(conn, "pg_advisory_xact_lock_shared", TYPES_LOCK)
}

/// Waits for all who [`hold_types`], and keeps others from it until the transaction ends.
pub(crate) fn change_types(conn: &mut AnyConn) -> QueryResult<()> {
    advisory_lock(conn, "pg_advisory_xact_lock", TYPES_LOCK)
}

/// Keeps other writers from telling the same serial number until the transaction ends: of two that do, the
/// second finds the first. The number stands for it, and may by chance stand for another one too.
pub(crate) fn lock_serial(conn: &mut AnyConn, number: i64) -> QueryResult<()> {
    advisory_lock(conn, "pg_advisory_xact_lock", number)
}

/// Waits for whoever is making an anchor, and is the one that does until the transaction ends.
pub(crate) fn lock_anchors(conn: &mut AnyConn) -> QueryResult<()> {
    advisory_lock(conn, "pg_advisory_xact_lock", ANCHORS_LOCK)
}

/// Waits for whoever is migrating, however long it takes, and is the one that does until the transaction
/// ends.
pub(crate) fn lock_migrations(conn: &mut AnyConn) -> QueryResult<()> {
    if let AnyConn::Postgres(conn) = conn {
        conn.batch_execute("SET LOCAL lock_timeout = 0")?;
    }
    advisory_lock(conn, "pg_advisory_xact_lock", MIGRATIONS_LOCK)
}

/// Takes a lock of a server that stands for no row. In `SQLite` the one writer needs none.
fn advisory_lock(conn: &mut AnyConn, function: &str, lock: i64) -> QueryResult<()> {
    match conn {
        AnyConn::Sqlite(_) => Ok(()),
        AnyConn::Postgres(conn) => conn.batch_execute(&format!("SELECT {function}({lock})")),
    }
}

/// Adds a stream unless it is there.
pub(crate) fn add_stream(conn: &mut AnyConn, row: &NewStream) -> QueryResult<usize> {
    on!(conn, conn => diesel::insert_into(stream::table).values(row).on_conflict_do_nothing().execute(conn))
}

/// Keeps a version of how a type wears unless there is one of that number; gives the number added.
pub(crate) fn add_wear_prior(conn: &mut AnyConn, row: &PriorRow) -> QueryResult<usize> {
    on!(conn, conn => diesel::insert_into(wear_prior::table)
        .values((wear_prior::fleet_id.eq(FLEET), row))
        .on_conflict_do_nothing()
        .execute(conn))
}

/// Adds links unless they are there.
pub(crate) fn add_links(conn: &mut AnyConn, rows: &[LinkRow]) -> QueryResult<usize> {
    on!(conn, conn => diesel::insert_into(link::table).values(rows).on_conflict_do_nothing().execute(conn))
}

/// Adds a serial number as it was told unless it is there.
pub(crate) fn add_claim(conn: &mut AnyConn, row: &ClaimRow) -> QueryResult<usize> {
    on!(conn, conn => diesel::insert_into(serial_claim::table).values(row).on_conflict_do_nothing().execute(conn))
}

/// Adds the custody of an engine.
pub(crate) fn add_custody(conn: &mut AnyConn, rows: &[CustodyRow]) -> QueryResult<usize> {
    on!(conn, conn => diesel::insert_into(custody::table).values(rows).execute(conn))
}

/// Adds what was told to belong to somebody unless it is there.
pub(crate) fn add_owner_claim(conn: &mut AnyConn, row: &OwnerClaimRow) -> QueryResult<usize> {
    on!(conn, conn => diesel::insert_into(owner_claim::table).values(row).on_conflict_do_nothing().execute(conn))
}

/// Adds a photograph unless it is there; gives the number added.
pub(crate) fn add_photo(conn: &mut AnyConn, row: &PhotoRow) -> QueryResult<usize> {
    on!(conn, conn => diesel::insert_into(photo::table).values(row).on_conflict_do_nothing().execute(conn))
}

/// Leaves a photograph without its bytes, whether it was there or not.
pub(crate) fn empty_photo(conn: &mut AnyConn, row: &PhotoRow) -> QueryResult<usize> {
    on!(conn, conn => diesel::insert_into(photo::table)
        .values(row)
        .on_conflict((photo::fleet_id, photo::digest))
        .do_update()
        .set(photo::bytes.eq(None::<Vec<u8>>))
        .execute(conn))
}

/// Adds who sent a photograph unless that is known.
pub(crate) fn add_photo_senders(conn: &mut AnyConn, rows: &[SenderRow]) -> QueryResult<()> {
    for row in rows {
        on!(conn, conn => diesel::insert_into(photo_sender::table).values(row).on_conflict_do_nothing().execute(conn))?;
    }
    Ok(())
}

/// Adds which photographs a record names.
pub(crate) fn add_photo_uses(conn: &mut AnyConn, rows: &[UseRow]) -> QueryResult<usize> {
    on!(conn, conn => diesel::insert_into(photo_use::table).values(rows).on_conflict_do_nothing().execute(conn))
}

/// Writes a party in place of the one before.
pub(crate) fn put_party(conn: &mut AnyConn, row: &PartyRecord) -> QueryResult<usize> {
    on!(conn, conn => diesel::insert_into(party::table)
        .values(row)
        .on_conflict((party::fleet_id, party::stream_id))
        .do_update()
        .set(row)
        .execute(conn))
}

/// Writes how a party wants a kind of report, in place of what it wanted before.
pub(crate) fn put_preference(conn: &mut AnyConn, row: &PreferenceRecord) -> QueryResult<usize> {
    on!(conn, conn => diesel::insert_into(preference::table)
        .values((preference::fleet_id.eq(FLEET), row))
        .on_conflict((preference::fleet_id, preference::party, preference::kind))
        .do_update()
        .set(row)
        .execute(conn))
}

/// Writes what a calendar tells of an event, in place of what it told before.
pub(crate) fn put_calendar_entry(conn: &mut AnyConn, row: &CalendarRecord) -> QueryResult<usize> {
    on!(conn, conn => diesel::insert_into(calendar_entry::table)
        .values((calendar_entry::fleet_id.eq(FLEET), row))
        .on_conflict((calendar_entry::fleet_id, calendar_entry::party, calendar_entry::uid))
        .do_update()
        .set(row)
        .execute(conn))
}

/// Adds a mail that came back unless the same is known of it; gives the number added.
pub(crate) fn add_bounce(conn: &mut AnyConn, row: &BounceRow<'_>) -> QueryResult<usize> {
    on!(conn, conn => diesel::insert_into(bounce::table).values(row).on_conflict_do_nothing().execute(conn))
}

/// Adds rows to a table: one by one where that is faster, see [`list_len_max`], else in one statement.
macro_rules! add_all {
    ($conn:expr, $table:expr, $rows:expr) => {
        match $conn {
            AnyConn::Sqlite(conn) => {
                for row in $rows {
                    diesel::insert_into($table).values(row).execute(conn)?;
                }
            }
            AnyConn::Postgres(conn) => {
                diesel::insert_into($table).values($rows).execute(conn)?;
            }
        }
    };
}

/// Adds the steps of an engine's worst status.
pub(crate) fn add_spans(conn: &mut AnyConn, rows: &[SpanRow]) -> QueryResult<()> {
    add_all!(conn, engine_span::table, rows);
    Ok(())
}

/// Writes due lines of an engine, each in place of the one that has its ordinal. One by one where that is
/// faster, see [`list_len_max`]: most are there, and stay where they are among the engine's.
pub(crate) fn put_lines(conn: &mut AnyConn, engine_id: i64, rows: &[LineRow]) -> QueryResult<()> {
    struct PutLine;
    let of_engine = due_line::fleet_id.eq(FLEET).and(due_line::engine_id.eq(engine_id));
    match conn {
        AnyConn::Sqlite(conn) => {
            for row in rows {
                let same = of_engine.and(due_line::ordinal.eq(row.ordinal));
                let there = &Update::of(PutLine, &due_line::table, row, same);
                if conn.execute_returning_count(there)? == 0 {
                    diesel::insert_into(due_line::table).values(row).execute(conn)?;
                }
            }
        }
        AnyConn::Postgres(conn) => {
            let ordinals: Vec<i32> = rows.iter().map(|row| row.ordinal).collect();
            let of_engine = due_line::table.filter(of_engine);
            diesel::delete(of_engine.filter(due_line::ordinal.eq_any(ordinals))).execute(conn)?;
            diesel::insert_into(due_line::table).values(rows).execute(conn)?;
        }
    }
    Ok(())
}

/// Adds parts as searches find them.
pub(crate) fn add_parts(conn: &mut AnyConn, rows: &[PartRecord]) -> QueryResult<()> {
    add_all!(conn, part::table, rows);
    Ok(())
}

/// Adds the heads that an anchor stands for.
pub(crate) fn add_anchored_heads(conn: &mut AnyConn, rows: &[HeadRow]) -> QueryResult<usize> {
    on!(conn, conn => diesel::insert_into(anchored_head::table).values(rows).execute(conn))
}

/// Puts mails on hold unless they are.
pub(crate) fn add_hold(conn: &mut AnyConn, since: i64, reason: &str) -> QueryResult<usize> {
    let row =
        (mail_hold::fleet_id.eq(FLEET), mail_hold::since.eq(since), mail_hold::reason.eq(reason));
    on!(conn, conn => diesel::insert_into(mail_hold::table).values(row).on_conflict_do_nothing().execute(conn))
}
