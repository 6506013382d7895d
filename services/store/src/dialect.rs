//! Everything that the backends say differently: migrations, write transactions, upserts, batches.
//!
//! All other statements go through [`AnyConn`] itself, where the compiler keeps them to what every backend
//! can do.

use crate::engines::SpanRow;
use crate::error::StoreError;
use crate::parties::PartyRecord;
use crate::recompute::LineRow;
use crate::schema::{custody, due_line, engine_span, link, party, serial_claim, stream};
use crate::serials::ClaimRow;
use crate::streams::{CustodyRow, LinkRow, NewStream};
use diesel::connection::{AnsiTransactionManager, TransactionManager};
use diesel::prelude::*;
use diesel_migrations::{EmbeddedMigrations, MigrationHarness, embed_migrations};

/// What a migration fails with.
type Refusal = Box<dyn std::error::Error + Send + Sync>;

const SQLITE_MIGRATIONS: EmbeddedMigrations = embed_migrations!("../../migrations/sqlite");

/// A connection to any of the databases that we can keep facts in.
///
/// Its derived `establish` is never used: it tries one backend after the other and so opens, or makes, a
/// file for any text at all.
#[derive(diesel::MultiConnection)]
pub(crate) enum AnyConn {
    /// A file of `SQLite`.
    Sqlite(SqliteConnection),
}

/// Runs one expression on the connection of whichever backend it is.
macro_rules! on {
    ($conn:expr, $inner:ident => $run:expr) => {
        match $conn {
            AnyConn::Sqlite($inner) => $run,
        }
    };
}

/// Applies every migration that is not applied yet, and gives their names.
pub(crate) fn migrate(conn: &mut AnyConn) -> Result<Vec<String>, StoreError> {
    let failed = |error: Refusal| StoreError::Migration(error.to_string());
    match conn {
        AnyConn::Sqlite(conn) => {
            let pending = conn.pending_migrations(SQLITE_MIGRATIONS).map_err(failed)?;
            conn.run_migrations(&pending).map_err(failed)?;
            Ok(pending.iter().map(|migration| migration.name().to_string()).collect())
        }
    }
}

/// Takes every migration back. All facts are lost.
#[cfg(test)]
pub(crate) fn unmigrate(conn: &mut AnyConn) -> Result<(), StoreError> {
    match conn {
        AnyConn::Sqlite(conn) => conn.revert_all_migrations(SQLITE_MIGRATIONS),
    }
    .map(|_| ())
    .map_err(|error: Refusal| StoreError::Migration(error.to_string()))
}

/// Begins a transaction that is a writer from the start, so that it can never fail half-way for having
/// read before another process wrote.
pub(crate) fn begin(conn: &mut AnyConn) -> QueryResult<()> {
    match conn {
        AnyConn::Sqlite(conn) => {
            AnsiTransactionManager::begin_transaction_sql(conn, "BEGIN IMMEDIATE")
        }
    }
}

/// Commits what [`begin`] began.
pub(crate) fn commit(conn: &mut AnyConn) -> QueryResult<()> {
    on!(conn, conn => AnsiTransactionManager::commit_transaction(conn))
}

/// Takes back what [`begin`] began.
pub(crate) fn roll_back(conn: &mut AnyConn) -> QueryResult<()> {
    on!(conn, conn => AnsiTransactionManager::rollback_transaction(conn))
}

/// Adds a stream unless it is there.
pub(crate) fn add_stream(conn: &mut AnyConn, row: &NewStream) -> QueryResult<usize> {
    on!(conn, conn => diesel::insert_into(stream::table).values(row).on_conflict_do_nothing().execute(conn))
}

/// Adds links unless they are there.
pub(crate) fn add_links(conn: &mut AnyConn, rows: &[LinkRow]) -> QueryResult<usize> {
    on!(conn, conn => diesel::insert_into(link::table).values(rows).on_conflict_do_nothing().execute(conn))
}

/// Adds a serial number as it was told unless it is there.
pub(crate) fn add_claim(conn: &mut AnyConn, row: &ClaimRow) -> QueryResult<usize> {
    on!(conn, conn => diesel::insert_into(serial_claim::table).values(row).on_conflict_do_nothing().execute(conn))
}

/// Writes a custody in place of the one before.
pub(crate) fn put_custody(conn: &mut AnyConn, row: &CustodyRow) -> QueryResult<usize> {
    on!(conn, conn => diesel::insert_into(custody::table)
        .values(row)
        .on_conflict((custody::fleet_id, custody::shop, custody::engine_id))
        .do_update()
        .set(row)
        .execute(conn))
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

/// Adds the steps of an engine's worst status.
pub(crate) fn add_spans(conn: &mut AnyConn, rows: &[SpanRow]) -> QueryResult<usize> {
    on!(conn, conn => diesel::insert_into(engine_span::table).values(rows).execute(conn))
}

/// Adds due lines.
pub(crate) fn add_lines(conn: &mut AnyConn, rows: &[LineRow]) -> QueryResult<usize> {
    on!(conn, conn => diesel::insert_into(due_line::table).values(rows).execute(conn))
}
