//! What can go wrong in the store, in sentences that say what would be right.

use crate::transfer::Fault;
use diesel::result::{DatabaseErrorKind, Error};
use std::fmt;
use std::path::PathBuf;

/// Why the store could not do what it was asked.
#[derive(Debug)]
pub enum StoreError {
    /// The database URL is not one that this build can open. The text says what would be.
    Url(String),
    /// There is no such database file, and nobody asked to make one.
    Missing(PathBuf),
    /// The database file could not be opened.
    Open {
        /// Which file.
        path: PathBuf,
        /// What the database said.
        why: String,
    },
    /// The database does not answer just now, or takes nothing: it is away, locked, full or read-only. The
    /// same call may succeed later. The text is what was said, for whoever runs the database.
    Unavailable(String),
    /// The database was migrated by a later version of this program; the text names the migration.
    Newer(String),
    /// A migration failed.
    Migration(String),
    /// The database refused a statement.
    Database(diesel::result::Error),
    /// What is stored cannot be read back; the text names it.
    Corrupt(String),
    /// What was handed in cannot be stored; the text says why.
    Refused(String),
    /// The operating system gave no random bytes.
    Random(String),
    /// A backup could not be read or written.
    File(std::io::Error),
    /// A backup is not as it was written.
    Damaged(Fault),
}

impl fmt::Display for StoreError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Url(sentence) | Self::Refused(sentence) => f.write_str(sentence),
            Self::Missing(path) => write!(
                f,
                "there is no database file {}; check the path, or make a new one with the command `migrate`",
                path.display()
            ),
            Self::Open { path, why } => {
                write!(f, "the database file {} could not be opened: {why}", path.display())
            }
            Self::Unavailable(why) => write!(f, "the database is not available just now: {why}"),
            Self::Newer(name) => write!(
                f,
                "the database is of a later version, which has the migration {name}; use the program of that version"
            ),
            Self::Migration(why) => write!(f, "the database could not be migrated: {why}"),
            Self::Database(why) => write!(f, "the database refused: {why}"),
            Self::Corrupt(what) => write!(f, "the database holds something unreadable: {what}"),
            Self::File(why) => write!(f, "the backup cannot be read or written: {why}"),
            Self::Damaged(fault) => write!(f, "the backup is damaged: {fault}"),
            Self::Random(why) => write!(f, "no random bytes from the operating system: {why}"),
        }
    }
}

impl std::error::Error for StoreError {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        match self {
            Self::Database(why) => Some(why),
            Self::File(why) => Some(why),
            _ => None,
        }
    }
}

impl From<std::io::Error> for StoreError {
    fn from(error: std::io::Error) -> Self {
        Self::File(error)
    }
}

impl From<Error> for StoreError {
    fn from(error: Error) -> Self {
        if is_outage(&error) { Self::Unavailable(error.to_string()) } else { Self::Database(error) }
    }
}

/// What the databases say when they are locked, full, read-only or going away, where the client library
/// knows no kind for it. `SQLite` always says it so; a server says it in English unless it is set otherwise,
/// and then the error is told as any other.
const OUTAGES: [&str; 12] = [
    // https://www.sqlite.org/rescode.html: BUSY, LOCKED, READONLY, IOERR, FULL, CANTOPEN.
    "database is locked",
    "database table is locked",
    "attempt to write a readonly database",
    "disk I/O error",
    "database or disk is full",
    "unable to open database file",
    // https://www.postgresql.org/docs/15/errcodes-appendix.html: 55P03, 57P01, 53100, 53200, 25P03, 57P03.
    "canceling statement due to lock timeout",
    "terminating connection",
    "No space left on device",
    "out of memory",
    "the database system is",
    "server closed the connection",
];

fn is_outage(error: &Error) -> bool {
    let Error::DatabaseError(kind, said) = error else { return false };
    match kind {
        DatabaseErrorKind::ClosedConnection
        | DatabaseErrorKind::UnableToSendCommand
        | DatabaseErrorKind::ReadOnlyTransaction => true,
        DatabaseErrorKind::Unknown => OUTAGES.iter().any(|outage| said.message().contains(outage)),
        _ => false,
    }
}
