//! Opening one connection, with the settings that keep facts safe on it.

use crate::dialect::AnyConn;
use crate::error::StoreError;
use crate::retry;
use crate::server::Server;
use crate::url::{self, Place};
use diesel::connection::SimpleConnection;
use diesel::prelude::*;
use diesel::sql_types::Text;
use std::path::Path;

/// Safe by default: every commit is on disk before it is answered, and readers never wait for a writer.
/// `recursive_triggers` makes `REPLACE` answer to the triggers that keep facts from being deleted.
const SQLITE_SETTINGS: &str = "PRAGMA busy_timeout = 10000; PRAGMA journal_mode = WAL; \
     PRAGMA synchronous = FULL; PRAGMA foreign_keys = ON; PRAGMA recursive_triggers = ON;";

/// Nobody waits for ever: neither we for a lock, nor others for a lock of ours when we are cut off.
const POSTGRES_SETTINGS: &str =
    "SET lock_timeout = '10s'; SET idle_in_transaction_session_timeout = '60s';";

/// The first connection to a place, with which it is checked. Only this one may make a file.
pub(crate) fn connect_first(place: &Place, create: bool) -> Result<AnyConn, StoreError> {
    match place {
        Place::Sqlite(path) => connect_sqlite(path, create).map(AnyConn::Sqlite),
        Place::Postgres(server) => {
            let mut conn = connect_postgres(server)?;
            check_encoding(&mut conn)?;
            Ok(AnyConn::Postgres(conn))
        }
    }
}

/// One more connection to a place. One that is `readers_only` refuses to write, as far as the database can
/// be told so for good.
pub(crate) fn connect(place: &Place, readers_only: bool) -> Result<AnyConn, StoreError> {
    match place {
        Place::Sqlite(path) => {
            let mut conn = connect_sqlite(path, false)?;
            if readers_only {
                conn.batch_execute("PRAGMA query_only = ON;")?;
            }
            Ok(AnyConn::Sqlite(conn))
        }
        Place::Postgres(server) => connect_postgres(server).map(AnyConn::Postgres),
    }
}

fn connect_sqlite(path: &Path, create: bool) -> Result<SqliteConnection, StoreError> {
    if !create && !path.exists() {
        return Err(StoreError::Missing(path.to_owned()));
    }
    let failed = |why: String| StoreError::Open { path: path.to_owned(), why };
    let uri = url::sqlite_uri(path, create)
        .ok_or_else(|| failed("its name is not valid UTF-8".to_owned()))?;
    let mut conn = SqliteConnection::establish(&uri).map_err(|error| failed(error.to_string()))?;
    // Of several who turn a new file to WAL at once, all but one are told at once that it is locked: `SQLite` does not
    // let them wait where they would wait for one another (https://www.sqlite.org/c3ref/busy_handler.html).
    let set = || conn.batch_execute(SQLITE_SETTINGS).map_err(StoreError::Database);
    retry::retried(retry::TRIES_MAX, set).map_err(|error| match error {
        StoreError::Database(said) => failed(said.to_string()),
        other => other,
    })?;
    Ok(conn)
}

fn connect_postgres(server: &Server) -> Result<PgConnection, StoreError> {
    let away =
        |error: ConnectionError| StoreError::Unavailable(error.to_string().trim().to_owned());
    let mut conn = PgConnection::establish(&server.conninfo()).map_err(away)?;
    conn.batch_execute(POSTGRES_SETTINGS)?;
    Ok(conn)
}

/// Names are of any language; a database in an encoding of some of them would refuse the others one by one.
fn check_encoding(conn: &mut PgConnection) -> Result<(), StoreError> {
    let encoding: String =
        diesel::select(diesel::dsl::sql::<Text>("current_setting('server_encoding')"))
            .get_result(conn)?;
    if encoding == "UTF8" {
        return Ok(());
    }
    Err(StoreError::Url(format!(
        "the database keeps its text as {encoding}; make one with `createdb --encoding=UTF8 --template=template0`"
    )))
}
