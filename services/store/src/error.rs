//! What can go wrong in the store, in sentences that say what would be right.

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
            Self::Migration(why) => write!(f, "the database could not be migrated: {why}"),
            Self::Database(why) => write!(f, "the database refused: {why}"),
            Self::Corrupt(what) => write!(f, "the database holds something unreadable: {what}"),
            Self::Random(why) => write!(f, "no random bytes from the operating system: {why}"),
        }
    }
}

impl std::error::Error for StoreError {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        match self {
            Self::Database(why) => Some(why),
            _ => None,
        }
    }
}

impl From<diesel::result::Error> for StoreError {
    fn from(error: diesel::result::Error) -> Self {
        Self::Database(error)
    }
}
