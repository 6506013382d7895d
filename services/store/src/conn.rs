//! Opening a database, and who may use a connection when: one writer, several readers.

use crate::dialect::{self, AnyConn};
use crate::error::StoreError;
use crate::url::{self, Place};
use diesel::connection::SimpleConnection;
use diesel::prelude::*;
use std::path::Path;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// How many idle readers are kept open.
const READERS_IDLE_MAX: usize = 16;

/// Safe by default: every commit is on disk before it is answered, and readers never wait for a writer.
/// `recursive_triggers` makes `REPLACE` answer to the triggers that keep facts from being deleted.
const SQLITE_SETTINGS: &str = "PRAGMA busy_timeout = 10000; PRAGMA journal_mode = WAL; \
     PRAGMA synchronous = FULL; PRAGMA foreign_keys = ON; PRAGMA recursive_triggers = ON;";

/// The database. Cheap to clone; every clone shares the same connections.
#[derive(Clone)]
pub struct Store(Arc<Shared>);

struct Shared {
    place: Place,
    /// Empty while a writer has it, and after a writer panicked: the next one then opens a new connection.
    writer: Mutex<Option<AnyConn>>,
    readers: Mutex<Vec<AnyConn>>,
}

impl Store {
    /// Opens the database at a URL: `sqlite:PATH`. Makes the file only when `create` says so, and never
    /// makes or changes tables: that is [`Store::migrate`].
    ///
    /// # Errors
    /// [`StoreError::Url`], [`StoreError::Missing`] or [`StoreError::Open`].
    pub fn open(url: &str, create: bool) -> Result<Self, StoreError> {
        let place = url::parse(url)?;
        let writer = connect(&place, create)?;
        Ok(Self(Arc::new(Shared {
            place,
            writer: Mutex::new(Some(writer)),
            readers: Mutex::new(Vec::new()),
        })))
    }

    /// Applies every migration that is not applied yet, and gives their names.
    ///
    /// # Errors
    /// [`StoreError::Migration`]; what was applied before it stays.
    pub fn migrate(&self) -> Result<Vec<String>, StoreError> {
        self.with_writer(dialect::migrate)
    }

    /// Takes every migration back. All facts are lost.
    #[cfg(test)]
    pub(crate) fn unmigrate(&self) -> Result<(), StoreError> {
        self.with_writer(dialect::unmigrate)
    }

    /// Runs `work` as one write transaction: all of it is kept, or none.
    pub(crate) fn write<T>(
        &self,
        work: impl FnOnce(&mut AnyConn) -> Result<T, StoreError>,
    ) -> Result<T, StoreError> {
        self.with_writer(|conn| {
            dialect::begin(conn)?;
            let done = work(conn).and_then(|value| {
                dialect::commit(conn)?;
                Ok(value)
            });
            if done.is_err() {
                // A failed commit may have ended the transaction already; the first error is the one to tell.
                let _ = dialect::roll_back(conn);
            }
            done
        })
    }

    /// Runs `work` on one unchanging view of the database.
    pub(crate) fn read<T>(
        &self,
        work: impl FnOnce(&mut AnyConn) -> Result<T, StoreError>,
    ) -> Result<T, StoreError> {
        let idle = locked(&self.0.readers).pop();
        let mut conn = match idle {
            Some(conn) => conn,
            None => self.connect_reader()?,
        };
        let done = conn.transaction(work);
        let mut readers = locked(&self.0.readers);
        if readers.len() < READERS_IDLE_MAX {
            readers.push(conn);
        }
        done
    }

    fn connect_reader(&self) -> Result<AnyConn, StoreError> {
        let mut conn = connect(&self.0.place, false)?;
        match &mut conn {
            AnyConn::Sqlite(conn) => conn.batch_execute("PRAGMA query_only = ON;")?,
        }
        Ok(conn)
    }

    fn with_writer<T>(
        &self,
        work: impl FnOnce(&mut AnyConn) -> Result<T, StoreError>,
    ) -> Result<T, StoreError> {
        let mut writer = locked(&self.0.writer);
        let mut conn = match writer.take() {
            Some(conn) => conn,
            None => connect(&self.0.place, false)?,
        };
        let done = work(&mut conn);
        *writer = Some(conn);
        done
    }
}

/// A panic while a lock is held leaves nothing half-done here: connections are taken out before use.
fn locked<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

fn connect(place: &Place, create: bool) -> Result<AnyConn, StoreError> {
    match place {
        Place::Sqlite(path) => connect_sqlite(path, create).map(AnyConn::Sqlite),
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
    conn.batch_execute(SQLITE_SETTINGS).map_err(|error| failed(error.to_string()))?;
    Ok(conn)
}
