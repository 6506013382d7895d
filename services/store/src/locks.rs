//! What a writer locks where several write at once: the streams that its fact ties together, and all that
//! the due lines around them rest on.
//!
//! Whoever holds all of that reads the facts it folds as nobody else can change them, and nobody else's due
//! lines can miss its own fact. Locks are taken in order of key, so that no two writers wait for one
//! another; only what its own link brings to light is locked late, and should two meet there the server ends
//! one of them, which is then tried again.

use crate::dialect::{self, AnyConn};
use crate::error::StoreError;
use crate::graph;
use crate::serials;
use crate::streams;
use diesel::prelude::*;
use diesel::result::Error;
use gudgeon_life::fact::{Content, Stream, StreamKind};
use std::collections::BTreeSet;

/// The streams that one write locks, by key. It outlives a try that failed, and the next one then knows from
/// its beginning what to lock.
#[derive(Default)]
pub(crate) struct Locks {
    wanted: BTreeSet<i64>,
    held: BTreeSet<i64>,
}

impl Locks {
    /// Begins a try: holds the active engine types, or keeps others from them where these facts are about
    /// them; the serial numbers that the facts tell; their streams, which are made if they are not there; and
    /// what is around those before their own links are.
    pub(crate) fn begin(
        &mut self,
        conn: &mut AnyConn,
        contents: &[&Content],
    ) -> Result<(), StoreError> {
        if contents.iter().any(|content| content.stream().kind == StreamKind::Fleet) {
            dialect::change_types(conn)?;
        } else {
            dialect::hold_types(conn)?;
        }
        serials::hold(conn, contents)?;
        let with_links = |content: &&Content| content.links().into_iter().chain([content.stream()]);
        let mut of: Vec<Stream> = contents.iter().flat_map(with_links).collect();
        // In one order for all, because two that make the same row wait for one another as well.
        of.sort_unstable_by_key(|stream| (streams::kind_number(stream.kind), stream.id));
        of.dedup();
        let mut rows = Vec::new();
        for stream in of {
            rows.push((streams::find_or_add(conn, stream)?.id, stream));
        }
        self.want_around(conn, &rows)?;
        loop {
            match conn.transaction(|conn| self.take_in_order(conn, &rows)) {
                Err(StoreError::Database(Error::RollbackTransaction)) => {}
                done => return done,
            }
        }
    }

    /// Locks all that is wanted. Lets go of it again, by failing with `RollbackTransaction`, when more is
    /// around by then: whoever held a lock that it waited for has added a link.
    fn take_in_order(
        &mut self,
        conn: &mut AnyConn,
        rows: &[(i64, Stream)],
    ) -> Result<(), StoreError> {
        self.held.clear();
        self.take(conn)?;
        self.want_around(conn, rows)?;
        if self.wanted == self.held { Ok(()) } else { Err(Error::RollbackTransaction.into()) }
    }

    /// Locks what is around a stream now that its links are there, until nothing is missing.
    pub(crate) fn settle(
        &mut self,
        conn: &mut AnyConn,
        key: i64,
        of: Stream,
    ) -> Result<(), StoreError> {
        loop {
            self.want_around(conn, &[(key, of)])?;
            if !self.take(conn)? {
                return Ok(());
            }
        }
    }

    /// Wants these streams, the engines that they touch, and every stream that their due lines rest on.
    fn want_around(&mut self, conn: &mut AnyConn, of: &[(i64, Stream)]) -> Result<(), StoreError> {
        for (key, stream) in of {
            self.wanted.insert(*key);
            for (engine, stream) in graph::touched(conn, *key, *stream)? {
                self.wanted.extend(graph::closure(conn, engine, stream)?.into_keys());
            }
        }
        Ok(())
    }

    /// Locks what is wanted and not held; false when that is nothing.
    fn take(&mut self, conn: &mut AnyConn) -> QueryResult<bool> {
        let missing: Vec<i64> = self.wanted.difference(&self.held).copied().collect();
        if missing.is_empty() {
            return Ok(false);
        }
        dialect::lock_streams(conn, &missing)?;
        self.held.extend(missing);
        Ok(true)
    }
}
