//! Many facts at once: in few transactions, and what rests on them worked out once for each of those.

use crate::append::{self, Ready};
use crate::conn::Store;
use crate::dialect::{self, AnyConn};
use crate::error::StoreError;
use crate::facts;
use crate::graph;
use crate::locks::Locks;
use crate::parts;
use crate::recompute;
use crate::retry;
use crate::values::{Appended, Post, Programmes};
use gudgeon_life::fact::{Content, Stream, StreamKind};
use gudgeon_life::ids::EngineId;
use std::collections::BTreeMap;

/// Facts in one transaction, so that other writers never wait long.
const CHUNK: usize = 250;

/// What became of each post of a chunk, in their order.
type Answers = Vec<Result<Appended, StoreError>>;

impl Store {
    /// Appends facts as [`Store::append`] one after the other would, and ends with the same records and due
    /// lines; what became of each is told in their order. A fact that cannot be stored takes no other with
    /// it. The engines that facts touch are worked out once for many facts, and so the answers do not tell
    /// the contradictions that each brought out.
    ///
    /// # Errors
    /// [`StoreError`] when the database fails. Some of the facts may be kept then, whole; appending them
    /// all again is safe.
    pub fn append_many(
        &self,
        posts: &[Post],
        programmes: &dyn Programmes,
    ) -> Result<Answers, StoreError> {
        let mut answers = Answers::with_capacity(posts.len());
        for chunk in posts.chunks(CHUNK) {
            let ready: Vec<_> = chunk.iter().map(|post| (post, Ready::of(post))).collect();
            let mut locks = Locks::default();
            match self.write(|conn| Chunk::new(programmes).append(conn, &ready, &mut locks)) {
                Ok(chunk) => answers.extend(chunk),
                Err(error) if ends_all(&error) => return Err(error),
                // One of them cannot be kept, or what rests on all of them together could not be worked out: alone,
                // the one that is at fault fails alone.
                Err(_) => answers.extend(chunk.iter().map(|post| self.append(post, programmes))),
            }
        }
        Ok(answers)
    }
}

/// Whether a failure has nothing to do with the fact that met it.
fn ends_all(error: &StoreError) -> bool {
    matches!(error, StoreError::Unavailable(_)) || retry::may_pass(error)
}

/// Facts that are appended in one transaction.
struct Chunk<'a> {
    programmes: &'a dyn Programmes,
    /// The streams that grew since engines were last worked out.
    grown: BTreeMap<i64, Stream>,
    /// The engines that each stream touches.
    touched: BTreeMap<Stream, Vec<EngineId>>,
}

impl<'a> Chunk<'a> {
    fn new(programmes: &'a dyn Programmes) -> Self {
        Self { programmes, grown: BTreeMap::new(), touched: BTreeMap::new() }
    }

    fn append(
        mut self,
        conn: &mut AnyConn,
        posts: &[(&Post, Result<Ready, StoreError>)],
        locks: &mut Locks,
    ) -> Result<Answers, StoreError> {
        if dialect::has_other_writers(conn) {
            let contents: Vec<&Content> =
                posts.iter().map(|(post, _)| &post.fact.entry.content).collect();
            locks.begin(conn, &contents)?;
        }
        let mut answers = Answers::with_capacity(posts.len());
        for (post, ready) in posts {
            let content = &post.fact.entry.content;
            if matches!(content, Content::ProgrammeActivated(_)) {
                // What was posted before is counted by the version that was active then.
                self.work_out(conn, locks)?;
            }
            match ready {
                Ok(ready) => answers.push(Ok(self.put(conn, post, ready)?)),
                Err(error) => answers.push(Err(StoreError::Refused(error.to_string()))),
            }
        }
        self.work_out(conn, locks)?;
        for answer in &mut answers {
            if let Ok(Appended::Created(stored)) = answer {
                stored.touched = self.touched.get(&stored.stream).cloned().unwrap_or_default();
            }
        }
        Ok(answers)
    }

    /// Writes one fact, if it is new.
    fn put(
        &mut self,
        conn: &mut AnyConn,
        post: &Post,
        ready: &Ready,
    ) -> Result<Appended, StoreError> {
        if let Some(kept) = append::kept(conn, post, ready)? {
            return Ok(kept);
        }
        let (key, stored) = append::put(conn, post, ready)?;
        self.grown.insert(key, stored.stream);
        Ok(Appended::Created(stored))
    }

    /// Works out the engines that the facts since the last time touch.
    fn work_out(&mut self, conn: &mut AnyConn, locks: &mut Locks) -> Result<(), StoreError> {
        let mut engines = BTreeMap::new();
        for (key, stream) in std::mem::take(&mut self.grown) {
            if dialect::has_other_writers(conn) {
                locks.settle(conn, key, stream)?;
            }
            let touched = graph::touched(conn, key, stream)?;
            let ids: Vec<(EngineId, i64)> = graph::engines_in_id_order(&touched).collect();
            if ids.is_empty() && stream.kind == StreamKind::Component {
                let around = facts::around(conn, key, stream)?;
                parts::put_unfitted(conn, key, &around)?;
            }
            engines.extend(ids.iter().copied());
            self.touched.insert(stream, ids.into_iter().map(|(engine, _)| engine).collect());
        }
        for (engine, key) in engines {
            recompute::engine(conn, key, engine, self.programmes)?;
        }
        Ok(())
    }
}
