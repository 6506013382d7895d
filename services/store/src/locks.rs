//! What a writer locks where several write at once: the streams that its fact ties together, and all that
//! the due lines around them rest on.
//!
//! Whoever holds all of that reads the facts it folds as nobody else can change them, and nobody else's due
//! lines can miss its own fact. Locks are taken in order of key, so that no two writers wait for one
//! another; what a new link brings to light is locked late, and should two meet there the server ends one of
//! them, which is then tried again.

use crate::dialect::{self, AnyConn};
use crate::error::StoreError;
use crate::graph;
use crate::streams;
use diesel::prelude::*;
use gudgeon_life::fact::{Content, Stream};
use std::collections::BTreeSet;

/// The streams that one write locks, by key. It outlives a try that failed, and the next one then knows from
/// its beginning what to lock.
#[derive(Default)]
pub(crate) struct Locks {
    wanted: BTreeSet<i64>,
    held: BTreeSet<i64>,
}

impl Locks {
    /// Begins a try: locks the streams of facts, which are made if they are not there, and what is around
    /// them before their own links are.
    pub(crate) fn begin<'a>(
        &mut self,
        conn: &mut AnyConn,
        contents: impl IntoIterator<Item = &'a Content>,
    ) -> Result<(), StoreError> {
        self.held.clear();
        let mut of: Vec<Stream> = contents
            .into_iter()
            .flat_map(|content| content.links().into_iter().chain([content.stream()]))
            .collect();
        // In one order for all, because two that make the same row wait for one another as well.
        of.sort_unstable_by_key(|stream| (streams::kind_number(stream.kind), stream.id));
        of.dedup();
        let mut rows = Vec::new();
        for stream in of {
            rows.push((streams::find_or_add(conn, stream)?.id, stream));
        }
        for (key, stream) in rows {
            self.want_around(conn, key, stream)?;
        }
        self.take(conn)?;
        Ok(())
    }

    /// Locks what is around a stream now, until nothing is missing: while it waited for a lock, whoever held
    /// it may have added a link.
    pub(crate) fn settle(
        &mut self,
        conn: &mut AnyConn,
        key: i64,
        of: Stream,
    ) -> Result<(), StoreError> {
        loop {
            self.want_around(conn, key, of)?;
            if !self.take(conn)? {
                return Ok(());
            }
        }
    }

    /// Wants the stream, the engines it touches, and every stream that their due lines rest on.
    fn want_around(&mut self, conn: &mut AnyConn, key: i64, of: Stream) -> Result<(), StoreError> {
        self.wanted.insert(key);
        for (engine, stream) in graph::touched(conn, key, of)? {
            self.wanted.extend(graph::closure(conn, engine, stream)?.into_keys());
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
