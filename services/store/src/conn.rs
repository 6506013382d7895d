//! Opening a database, and who may use it when.
//!
//! `SQLite` has one writer, in which those who write take turns, and several readers; `PostgreSQL` any number of both, on the same connections.

use crate::connect;
use crate::dialect::{self, Access, AnyConn};
use crate::error::StoreError;
use crate::group::Group;
use crate::migrations;
use crate::pool::Pool;
use crate::remembered::Remembered;
use crate::retry;
use crate::url::{self, Place};
use diesel::result::Error;
use std::num::NonZeroUsize;
use std::sync::Arc;

/// The database. Cheap to clone; every clone shares the same connections.
#[derive(Clone)]
pub struct Store {
    writers: Arc<Pool>,
    readers: Arc<Pool>,
    writing: Writing,
    remembered: Arc<Remembered>,
}

/// How those who write at once go about it.
#[derive(Clone)]
enum Writing {
    /// One after the other, sharing commits.
    Grouped(Arc<Group>),
    /// Each on a connection of its own, and again when it met another.
    Apart,
}

impl Store {
    /// How many connections are opened at most, unless somebody says otherwise.
    pub const CONNECTIONS_MAX: NonZeroUsize = NonZeroUsize::new(16).expect("not zero");

    /// How many writes share one commit of `SQLite` at most, unless somebody says otherwise.
    pub const GROUP_MAX: NonZeroUsize = NonZeroUsize::new(128).expect("not zero");

    /// How many mebibytes the facts of engines that are remembered between posts may have as they are kept, unless
    /// somebody says otherwise. Decoded, and with what follows from them, they take a few times as many.
    pub const REMEMBERED_MEBIBYTES_MAX: u16 = 16;

    /// Opens the database at a URL: `sqlite:PATH`, or `postgres://…` for one that exists. Makes the file of
    /// the former only when `create` says so, and never makes or changes tables: that is
    /// [`Store::migrate`].
    ///
    /// # Errors
    /// [`StoreError::Url`], [`StoreError::Missing`], [`StoreError::Open`], [`StoreError::Unavailable`], or
    /// [`StoreError::Newer`] for a database of a later version of this program.
    pub fn open(url: &str, create: bool) -> Result<Self, StoreError> {
        Self::open_with(url, create, Self::CONNECTIONS_MAX)
    }

    /// The same with another limit on connections.
    ///
    /// # Errors
    /// As [`Store::open`].
    pub fn open_with(
        url: &str,
        create: bool,
        connections_max: NonZeroUsize,
    ) -> Result<Self, StoreError> {
        Self::open_place(&url::parse(url)?, create, connections_max)
    }

    pub(crate) fn open_place(
        place: &Place,
        create: bool,
        connections_max: NonZeroUsize,
    ) -> Result<Self, StoreError> {
        let mut conn = connect::connect_first(place, create)?;
        migrations::refuse_newer(&mut conn)?;
        let pool = |readers_only: bool, connections_max: usize| {
            Arc::new(Pool::new(place.clone(), readers_only, connections_max))
        };
        let max = connections_max.get();
        let (writers, readers, writing) = match place {
            Place::Sqlite(_) => {
                let writer = pool(false, 1);
                let group = Group::new(Arc::clone(&writer), Self::GROUP_MAX.get());
                (writer, pool(true, max), Writing::Grouped(Arc::new(group)))
            }
            Place::Postgres(_) => {
                let both = pool(false, max);
                (Arc::clone(&both), both, Writing::Apart)
            }
        };
        writers.take_in(conn);
        let remembered = Arc::new(Remembered::new(Self::REMEMBERED_MEBIBYTES_MAX));
        Ok(Self { writers, readers, writing, remembered })
    }

    /// Applies every migration that is not applied yet, and gives their names. Two that migrate at once do
    /// it one after the other.
    ///
    /// # Errors
    /// [`StoreError::Migration`], and then none of them is applied; [`StoreError::Newer`].
    pub fn migrate(&self) -> Result<Vec<String>, StoreError> {
        self.writers.run(Access::Write, migrations::migrate)
    }

    /// Takes every migration back. All facts are lost.
    #[cfg(test)]
    pub(crate) fn unmigrate(&self) -> Result<(), StoreError> {
        self.writers.run(Access::Write, migrations::unmigrate)
    }

    /// The same store, of whose writes only so many share a commit; nothing changes where none do.
    #[must_use]
    pub fn with_group_max(mut self, members_max: NonZeroUsize) -> Self {
        if let Writing::Grouped(_) = self.writing {
            let group = Group::new(Arc::clone(&self.writers), members_max.get());
            self.writing = Writing::Grouped(Arc::new(group));
        }
        self
    }

    /// The same store, which remembers engines between posts whose facts have so many mebibytes at most; with 0 none.
    #[must_use]
    pub fn with_remembered_mebibytes_max(mut self, mebibytes_max: u16) -> Self {
        self.remembered = Arc::new(Remembered::new(mebibytes_max));
        self
    }

    /// What is remembered of engines.
    pub(crate) fn remembered(&self) -> &Remembered {
        &self.remembered
    }

    /// Runs `work`, which was made ready before, as one write transaction: all of it is kept if it gives true, and none
    /// if it gives false or met another writer's.
    pub(crate) fn try_write(
        &self,
        work: impl Fn(&mut AnyConn) -> Result<bool, StoreError> + Send + Sync + 'static,
    ) -> Result<bool, StoreError> {
        if let Writing::Grouped(group) = &self.writing {
            return group.run_ready(Arc::new(work));
        }
        let done = self.writers.run(Access::Write, |conn| {
            if work(conn)? { Ok(()) } else { Err(Error::RollbackTransaction.into()) }
        });
        match done {
            Ok(()) => Ok(true),
            Err(StoreError::Database(Error::RollbackTransaction)) => Ok(false),
            Err(error) if retry::may_pass(&error) => Ok(false),
            Err(error) => Err(error),
        }
    }

    /// Runs `work` as one write transaction: all of it is kept, or none. It is run again when it met another
    /// writer's.
    pub(crate) fn write<T>(
        &self,
        mut work: impl FnMut(&mut AnyConn) -> Result<T, StoreError>,
    ) -> Result<T, StoreError> {
        match &self.writing {
            Writing::Grouped(group) => group.run(work),
            Writing::Apart => {
                retry::retried(retry::TRIES_MAX, || self.writers.run(Access::Write, &mut work))
            }
        }
    }

    /// Runs `work` as one write transaction, once: for what cannot be begun again.
    pub(crate) fn write_once<T>(
        &self,
        work: impl FnOnce(&mut AnyConn) -> Result<T, StoreError>,
    ) -> Result<T, StoreError> {
        self.writers.run(Access::Write, work)
    }

    /// Writes the database's file anew, without what was deleted.
    pub(crate) fn scrub(&self) -> Result<(), StoreError> {
        if self.writers.alone(dialect::scrub)? {
            return Ok(());
        }
        let why = "others still read what was erased; the same call will finish it";
        Err(StoreError::Unavailable(why.to_owned()))
    }

    /// Runs `work` on one unchanging view of the database.
    pub(crate) fn read<T>(
        &self,
        work: impl FnOnce(&mut AnyConn) -> Result<T, StoreError>,
    ) -> Result<T, StoreError> {
        self.readers.run(Access::Read, work)
    }
}
