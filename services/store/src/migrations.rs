//! The steps of `migrations/`: applied under a lock, all or none, and never to a later version's database.

use crate::dialect::{self, AnyConn};
use crate::error::StoreError;
use diesel::migration::{Migration, MigrationSource};
use diesel::pg::Pg;
use diesel::prelude::*;
use diesel::sql_types::{BigInt, Text};
use diesel::sqlite::Sqlite;
use diesel_migrations::{EmbeddedMigrations, MigrationHarness, embed_migrations};

const SQLITE: EmbeddedMigrations = embed_migrations!("../../migrations/sqlite");
const POSTGRES: EmbeddedMigrations = embed_migrations!("../../migrations/postgres");

/// What a migration fails with.
type Refusal = Box<dyn std::error::Error + Send + Sync>;

fn failed(error: &Refusal) -> StoreError {
    StoreError::Migration(error.to_string())
}

#[derive(QueryableByName)]
struct Tables {
    #[diesel(sql_type = BigInt)]
    count: i64,
}

#[derive(QueryableByName)]
struct Applied {
    #[diesel(sql_type = Text)]
    version: String,
}

/// Refuses a database that has a migration which this program does not know. Changes nothing.
pub(crate) fn refuse_newer(conn: &mut AnyConn) -> Result<(), StoreError> {
    let (known, tables) = match conn {
        AnyConn::Sqlite(_) => (versions::<Sqlite>(&SQLITE)?, "sqlite_master WHERE name"),
        AnyConn::Postgres(_) => (
            versions::<Pg>(&POSTGRES)?,
            "pg_tables WHERE schemaname = current_schema() AND tablename",
        ),
    };
    let sql = format!("SELECT COUNT(*) AS count FROM {tables} = '__diesel_schema_migrations'");
    if diesel::sql_query(sql).get_result::<Tables>(conn)?.count == 0 {
        return Ok(());
    }
    let sql = "SELECT version FROM __diesel_schema_migrations ORDER BY version";
    let applied: Vec<Applied> = diesel::sql_query(sql).load(conn)?;
    match applied.into_iter().find(|it| !known.contains(&it.version)) {
        Some(newer) => Err(StoreError::Newer(newer.version)),
        None => Ok(()),
    }
}

/// The numbers of the migrations that this program knows.
fn versions<DB: diesel::backend::Backend>(
    source: &EmbeddedMigrations,
) -> Result<Vec<String>, StoreError> {
    let all: Vec<Box<dyn Migration<DB>>> = source.migrations().map_err(|error| failed(&error))?;
    Ok(all.iter().map(|migration| migration.name().version().to_string()).collect())
}

/// Applies every migration that is not applied yet, and gives their names.
pub(crate) fn migrate(conn: &mut AnyConn) -> Result<Vec<String>, StoreError> {
    dialect::lock_migrations(conn)?;
    refuse_newer(conn)?;
    match conn {
        AnyConn::Sqlite(conn) => apply(conn, SQLITE),
        AnyConn::Postgres(conn) => apply(conn, POSTGRES),
    }
    .map_err(|error| failed(&error))
}

fn apply<DB, C>(conn: &mut C, source: EmbeddedMigrations) -> Result<Vec<String>, Refusal>
where
    DB: diesel::backend::Backend,
    C: MigrationHarness<DB>,
{
    let pending = conn.pending_migrations(source)?;
    for migration in &pending {
        conn.run_migration(migration)?;
    }
    Ok(pending.iter().map(|migration| migration.name().to_string()).collect())
}

/// Takes every migration back. All facts are lost.
#[cfg(test)]
pub(crate) fn unmigrate(conn: &mut AnyConn) -> Result<(), StoreError> {
    match conn {
        AnyConn::Sqlite(conn) => conn.revert_all_migrations(SQLITE).map(|_| ()),
        AnyConn::Postgres(conn) => conn.revert_all_migrations(POSTGRES).map(|_| ()),
    }
    .map_err(|error| failed(&error))
}
