//! Working a post out before its turn to write comes, so that writers wait for one another only while they
//! write.
//!
//! What the engines amount to with the new fact is worked out on what is committed by then, or on what is remembered
//! of them. Every fact that an engine's due lines rest on brings about that it is worked out anew, which its `revision`
//! counts. What was foreseen is written on the condition that the stream's head and the revision of every engine that
//! the fact touches are the same: then nothing that it was worked out from has changed. A link that would let the
//! fact touch one more engine works out one of those that it touches already, as it leads on from one of them.
//! Otherwise nothing of it is written, and all is worked out again under the writer's locks.
//!
//! On a server the head, which is locked first, keeps out whoever works out an engine that the fact touches: they
//! lock every stream that its due lines rest on, and this is one of them.

use crate::append::{self, Ready};
use crate::bytes::{Digest, Id};
use crate::conn::Store;
use crate::custody;
use crate::dialect::AnyConn;
use crate::error::StoreError;
use crate::facts::FactBody;
use crate::parts::PartRows;
use crate::recompute::{self, CountedBy, WorkedOut, Written};
use crate::remembered::{Known, Own};
use crate::serials;
use crate::streams::{self, StreamRow};
use crate::values::{Appended, Post, Programmes, Stored, Texts};
use chrono::NaiveDate;
use diesel::result::{DatabaseErrorKind, Error};
use gudgeon_life::fact::{Stream, StreamKind};
use gudgeon_life::history::EngineState;
use gudgeon_life::ids::EngineId;
use std::sync::Arc;

/// What is known of a post before its turn.
pub(crate) enum Foreseen {
    /// It, or another under its id, is kept already.
    Kept(Box<Appended>),
    /// It is new; and what it brings about, if that can be foreseen.
    New(Option<Box<Foresight>>),
}

/// What a post brings about.
pub(crate) struct Foresight {
    post: Post,
    stream: StreamRow,
    body: FactBody,
    private: Option<(Digest, String)>,
    /// Whether the engine's registration is here.
    registered: bool,
    /// The engines that it touches, in id order.
    engines: Vec<Foreknown>,
    stored: Stored,
}

/// What an engine amounts to with a post.
struct Foreknown {
    now: WorkedOut,
    custodian: Option<(Id, NaiveDate)>,
    parts: PartRows,
    parts_before: PartRows,
    own: Option<Own>,
}

impl Store {
    /// Looks at a post before its turn to write.
    pub(crate) fn foresee(
        &self,
        post: &Post,
        ready: &Ready,
        programmes: &dyn Programmes,
    ) -> Result<Foreseen, StoreError> {
        let Some(engine) = foreseeable(post) else { return Ok(Foreseen::New(None)) };
        if let Some(known) = self.remembered().take(engine) {
            let is_kept =
                |known: &Known| known.records.facts.iter().any(|it| it.id == post.fact.id);
            if !known.iter().any(is_kept) {
                let counted_by =
                    |written: &Written, state: &EngineState| Ok(written.counted_by(state));
                return foresight(known, post, ready, counted_by).map(Foreseen::New);
            }
            self.remembered().put(known);
        }
        self.read(|conn| foresee(conn, post, ready, programmes))
    }

    /// Keeps a post by what was foreseen of it; `None` when something came between, and then nothing is kept.
    pub(crate) fn append_foreseen(
        &self,
        foresight: Box<Foresight>,
    ) -> Result<Option<Appended>, StoreError> {
        let stored = foresight.stored.clone();
        let foresight = Arc::new(*foresight);
        let shared = Arc::clone(&foresight);
        if !self.try_write(move |conn| shared.write(conn))? {
            return Ok(None);
        }
        if let Some(foresight) = Arc::into_inner(foresight) {
            self.remembered().put(foresight.written());
        }
        Ok(Some(Appended::Created(stored)))
    }
}

/// The engine that a post is about, where what it brings about can be foreseen: not where it ties the engine to
/// others, and so changes which engines rest on which facts.
fn foreseeable(post: &Post) -> Option<EngineId> {
    let content = &post.fact.entry.content;
    let stream = content.stream();
    let ties = !content.links().is_empty() || serials::told(content).is_some();
    (stream.kind == StreamKind::Engine && !ties).then_some(EngineId(stream.id))
}

/// Looks at a post by what is committed.
pub(crate) fn foresee(
    conn: &mut AnyConn,
    post: &Post,
    ready: &Ready,
    programmes: &dyn Programmes,
) -> Result<Foreseen, StoreError> {
    if let Some(kept) = append::kept(conn, post, ready)? {
        return append::with_conflicts(conn, kept).map(|it| Foreseen::Kept(Box::new(it)));
    }
    let Some(engine) = foreseeable(post) else { return Ok(Foreseen::New(None)) };
    let Some(row) = streams::find(conn, Stream::engine(engine))? else {
        return Ok(Foreseen::New(None));
    };
    let own = Own::read(conn, engine, row)?;
    let mut known = Vec::new();
    for (id, key) in &own.touched {
        let own = Some(&own).filter(|_| *id == engine).cloned();
        known.push(Known::read(conn, *id, *key, own)?);
    }
    let counted_by = |_: &Written, state: &EngineState| CountedBy::now(conn, state, programmes);
    foresight(known, post, ready, counted_by).map(Foreseen::New)
}

/// Works out the engines that a post touches. `None` when no programme is at hand for one of them.
fn foresight(
    known: Vec<Known>,
    post: &Post,
    ready: &Ready,
    mut counted_by: impl FnMut(&Written, &EngineState) -> Result<Option<CountedBy>, StoreError>,
) -> Result<Option<Box<Foresight>>, StoreError> {
    let mut to_append = None;
    let mut conflicts = Vec::new();
    let mut engines = Vec::new();
    for mut it in known {
        it.records.facts.push(post.fact.clone());
        it.records.bytes += ready.bytes();
        let now = recompute::work_out(it.key, it.engine, it.records, it.written, &mut counted_by)?;
        if now.status.type_digest.is_none() {
            return Ok(None);
        }
        if let Some(own) = &it.own {
            conflicts = now.around.brought_out_by(post.fact.id);
            to_append = Some((own.stream, own.registered));
        }
        let parts = it.parts.after(it.key, it.engine, &now.around);
        let (custodian, own) = (it.custodian, it.own);
        engines.push(Foreknown { now, custodian, parts, parts_before: it.parts, own });
    }
    let Some((stream, registered)) = to_append else { return Ok(None) };
    let body = append::link_in(post, ready, &stream);
    let stored = Stored {
        fact: post.fact.clone(),
        texts: Texts {
            private: post.texts.private.clone(),
            as_posted: post.texts.as_posted.clone(),
        },
        stream: post.fact.entry.content.stream(),
        seq: body.seq,
        hash: body.hash.0,
        by: post.by,
        recorded_at: post.recorded_at,
        received_at: post.received_at,
        touched: engines.iter().map(|it| it.now.engine()).collect(),
        conflicts,
    };
    let (post, private) = (post.clone(), ready.private.clone());
    Ok(Some(Box::new(Foresight { post, stream, body, private, registered, engines, stored })))
}

impl Foresight {
    /// Writes it; false when it cannot be kept as it was foreseen. Some of it may be written then.
    pub(crate) fn write(&self, conn: &mut AnyConn) -> Result<bool, StoreError> {
        let written = self.write_all(conn);
        match &written {
            Err(StoreError::Database(Error::DatabaseError(
                DatabaseErrorKind::UniqueViolation,
                _,
            ))) => Ok(false),
            _ => written,
        }
    }

    fn write_all(&self, conn: &mut AnyConn) -> Result<bool, StoreError> {
        let Self { post, stream, body, private, registered, .. } = self;
        if !append::keep(conn, post, stream, body, private.as_ref(), *registered)? {
            return Ok(false);
        }
        let custody_moves = custody::bears(&post.fact.entry.content, *registered);
        for engine in &self.engines {
            if !engine.write(conn, custody_moves)? {
                return Ok(false);
            }
        }
        Ok(true)
    }

    /// What is known of the engines now that it is written.
    fn written(self) -> Vec<Known> {
        let Self { post, body, registered, engines, .. } = self;
        // What was read in the turn is not here.
        if custody::bears(&post.fact.entry.content, registered) {
            return Vec::new();
        }
        engines.into_iter().map(|engine| engine.written(&body)).collect()
    }
}

impl Foreknown {
    fn write(&self, conn: &mut AnyConn, custody_moves: bool) -> Result<bool, StoreError> {
        let custodian = if custody_moves {
            custody::custodian(conn, self.now.status.engine_id)?
        } else {
            self.custodian
        };
        if !self.now.write(conn, custodian)? {
            return Ok(false);
        }
        self.parts.replace(conn, &self.parts_before)?;
        Ok(true)
    }

    fn written(self, body: &FactBody) -> Known {
        let Self { now, custodian, parts, own, .. } = self;
        let (engine, key) = (now.engine(), now.status.engine_id);
        let (records, written) = now.written();
        let own = own.map(|own| {
            let stream = StreamRow { head_seq: body.seq, head_hash: body.hash, ..own.stream };
            Own { stream, ..own }
        });
        Known { engine, key, records, written, custodian, parts, own }
    }
}
