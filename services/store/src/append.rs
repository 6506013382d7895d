//! The write path: one fact, its place in the chain, and everything that follows from it, in one transaction.

use crate::FLEET;
use crate::bytes::{Digest, Id};
use crate::chain;
use crate::codec::{self, Coded};
use crate::conn::Store;
use crate::custody;
use crate::dialect::{self, AnyConn};
use crate::engine_types;
use crate::erasure;
use crate::error::StoreError;
use crate::facts::{self, Around, FactBody, FactRow};
use crate::foresight::{Foreseen, Foresight};
use crate::graph;
use crate::locks::Locks;
use crate::ownership;
use crate::parties;
use crate::parts;
use crate::photos;
use crate::recompute;
use crate::retry;
use crate::schema::{fact, fact_private};
use crate::serials;
use crate::streams::{self, StreamRow};
use crate::values::{Appended, Post, Programmes, Stored};
use diesel::prelude::*;
use gudgeon_life::fact::{Content, Stream, StreamKind};
use gudgeon_life::ids::EngineId;

impl Store {
    /// Appends a fact and works out anew what rests on it. Posting the same fact again changes nothing, and
    /// nor does posting another fact under the same id: the answer says which it was.
    ///
    /// # Errors
    /// [`StoreError::Refused`] for a fact that cannot be stored; others when the database fails. Nothing
    /// of it is kept then.
    pub fn append(&self, post: &Post, programmes: &dyn Programmes) -> Result<Appended, StoreError> {
        let ready = Ready::of(post)?;
        match self.foresee(post, &ready, programmes)? {
            Foreseen::Kept(kept) => Ok(*kept),
            Foreseen::New(foresight) => self.append_new(post, &ready, programmes, foresight),
        }
    }

    /// Appends a fact that is probably new, by what was foreseen of it while that holds.
    pub(crate) fn append_new(
        &self,
        post: &Post,
        ready: &Ready,
        programmes: &dyn Programmes,
        foresight: Option<Box<Foresight>>,
    ) -> Result<Appended, StoreError> {
        if let Some(foresight) = foresight
            && let Some(appended) = self.append_foreseen(foresight)?
        {
            return Ok(appended);
        }
        let mut locks = Locks::default();
        self.write(|conn| append(conn, post, ready, programmes, &mut locks))
    }
}

/// A post made ready outside the writer.
pub(crate) struct Ready {
    coded: Coded,
    /// Salt and text, when there is private text.
    pub(crate) private: Option<(Digest, String)>,
}

impl Ready {
    pub(crate) fn of(post: &Post) -> Result<Self, StoreError> {
        let coded = codec::write(&post.fact.entry, &post.texts.as_posted)?;
        let private = match codec::write_private(&post.texts) {
            Some(body) => Some((salt()?, body)),
            None => None,
        };
        Ok(Self { coded, private })
    }

    /// How many bytes the fact has as it is kept.
    pub(crate) fn bytes(&self) -> usize {
        self.coded.data.len()
    }
}

fn salt() -> Result<Digest, StoreError> {
    let mut salt = [0; 32];
    getrandom::fill(&mut salt).map_err(|error| StoreError::Random(error.to_string()))?;
    Ok(Digest(salt))
}

pub(crate) fn append(
    conn: &mut AnyConn,
    post: &Post,
    ready: &Ready,
    programmes: &dyn Programmes,
    locks: &mut Locks,
) -> Result<Appended, StoreError> {
    if let Some(kept) = kept(conn, post, ready)? {
        return with_conflicts(conn, kept);
    }
    let content = &post.fact.entry.content;
    let has_others = dialect::has_other_writers(conn);
    if has_others {
        locks.begin(conn, &[content])?;
        // Whoever held them until now may have been posting the same.
        if let Some(kept) = kept(conn, post, ready)? {
            return with_conflicts(conn, kept);
        }
    }
    let (key, mut stored) = put(conn, post, ready)?;
    let stream = stored.stream;
    if has_others {
        locks.settle(conn, key, stream)?;
    }
    let touched = graph::touched(conn, key, stream)?;
    let engines: Vec<(EngineId, i64)> = graph::engines_in_id_order(&touched).collect();
    stored.touched = engines.iter().map(|(engine, _)| *engine).collect();
    let around = work_out(conn, key, stream, &engines, programmes)?;
    stored.conflicts = around.brought_out_by(stored.fact.id);
    Ok(Appended::Created(stored))
}

/// Works out the engines that a stream touches, and gives what is around the stream.
fn work_out(
    conn: &mut AnyConn,
    key: i64,
    stream: Stream,
    engines: &[(EngineId, i64)],
    programmes: &dyn Programmes,
) -> Result<Around, StoreError> {
    let mut own = None;
    for (engine, engine_key) in engines {
        let around = recompute::engine(conn, *engine_key, *engine, programmes)?;
        if *engine_key == key {
            own = Some(around);
        }
    }
    if let Some(around) = own {
        return Ok(around);
    }
    let around = facts::around(conn, key, stream)?;
    if engines.is_empty() {
        parts::put_unfitted(conn, key, &around)?;
    }
    Ok(around)
}

/// Writes a new fact and what follows from it alone; gives its stream's key. What rests on it is left.
pub(crate) fn put(
    conn: &mut AnyConn,
    post: &Post,
    ready: &Ready,
) -> Result<(i64, Stored), StoreError> {
    let content = &post.fact.entry.content;
    let stream = streams::find_or_add(conn, content.stream())?;
    let body = link_in(post, ready, &stream);
    let private = erasure::kept_text(conn, &stream, content, ready.private.clone())?;
    if !keep(conn, post, &stream, &body, private.as_ref(), false)? {
        return Err(retry::overtaken("the stream"));
    }
    let stored = FactRow { body, stream, private }.stored()?;
    Ok((stream.id, stored))
}

/// A record that was here already, with the contradictions that it was told of when it was new.
pub(crate) fn with_conflicts(conn: &mut AnyConn, kept: Appended) -> Result<Appended, StoreError> {
    let Appended::Same(mut stored) = kept else { return Ok(kept) };
    if let Some(row) = streams::find(conn, stored.stream)? {
        let around = facts::around(conn, row.id, stored.stream)?;
        stored.conflicts = around.brought_out_by(stored.fact.id);
    }
    Ok(Appended::Same(stored))
}

/// Keeps a fact as the last of its stream, with what follows from it alone; false, and nothing is kept, when another
/// came to be the last. Nothing is locked here but the stream. `registered` is whether it is known that the
/// registration of what the fact is about is here.
pub(crate) fn keep(
    conn: &mut AnyConn,
    post: &Post,
    stream: &StreamRow,
    body: &FactBody,
    private: Option<&(Digest, String)>,
    registered: bool,
) -> Result<bool, StoreError> {
    let content = &post.fact.entry.content;
    if !streams::move_head(conn, body)? {
        return Ok(false);
    }
    insert(conn, body, private)?;
    streams::tie(conn, stream.id, &content.links())?;
    serials::claim(conn, stream.id, content)?;
    ownership::claim(conn, stream.id, content)?;
    photos::claim(conn, post.fact.id, content, post.by)?;
    project(conn, post, stream, registered)?;
    Ok(true)
}

/// What is kept under the id of a post, if anything is.
pub(crate) fn kept(
    conn: &mut AnyConn,
    post: &Post,
    ready: &Ready,
) -> Result<Option<Appended>, StoreError> {
    let Some(row) = facts::row(conn, Id::from(post.fact.id.0))? else { return Ok(None) };
    let stored = row.stored_with_touched(conn)?;
    let same = is_same(&row, ready);
    Ok(Some(if same { Appended::Same(stored) } else { Appended::Differs(stored) }))
}

/// Whether a post says what a kept fact says. Erased private text can no longer be compared, so it counts
/// as the same.
fn is_same(row: &FactRow, ready: &Ready) -> bool {
    let private_alike = match (&row.private, row.body.private_digest, &ready.private) {
        (Some((_, kept)), _, Some((_, posted))) => kept == posted,
        (Some(_), _, None) | (None, None, Some(_)) => false,
        (None, _, _) => true,
    };
    row.body.content_digest.0 == ready.coded.content_digest && private_alike
}

/// The fact as the next link of its stream's chain.
pub(crate) fn link_in(post: &Post, ready: &Ready, stream: &StreamRow) -> FactBody {
    let coded = &ready.coded;
    let mut body = FactBody {
        fleet_id: FLEET,
        stream_id: stream.id,
        seq: stream.head_seq + 1,
        uid: Id::from(post.fact.id.0),
        kind: coded.kind.to_owned(),
        v: codec::VERSION,
        day: coded.day,
        order_in_day: coded.order_in_day,
        data: coded.data.clone(),
        content_digest: Digest(coded.content_digest),
        private_digest: ready
            .private
            .as_ref()
            .map(|(salt, text)| chain::private_digest(salt, text)),
        prev_hash: stream.head_hash,
        hash: chain::GENESIS,
        posted_by: post.by.map(|by| Id::from(by.0)),
        recorded_at: post.recorded_at.map(|at| at.0),
        received_at: post.received_at.0,
    };
    body.hash = chain::hash(post.fact.entry.content.stream(), &body);
    body
}

fn insert(
    conn: &mut AnyConn,
    body: &FactBody,
    private: Option<&(Digest, String)>,
) -> QueryResult<()> {
    let insertion = diesel::insert_into(fact::table).values(body);
    let Some((salt, text)) = private else { return dialect::execute(conn, &insertion).map(|_| ()) };
    let fact_id: i64 = insertion.returning(fact::id).get_result(conn)?;
    diesel::insert_into(fact_private::table)
        .values((
            fact_private::fleet_id.eq(FLEET),
            fact_private::fact_id.eq(fact_id),
            fact_private::salt.eq(*salt),
            fact_private::body.eq(text),
        ))
        .execute(conn)
        .map(|_| ())
}

/// Writes what follows from the fact itself: parties, active programmes, and who may see the engine.
fn project(
    conn: &mut AnyConn,
    post: &Post,
    stream: &StreamRow,
    registered: bool,
) -> Result<(), StoreError> {
    let content = &post.fact.entry.content;
    match content.stream().kind {
        StreamKind::Party => {
            if let Content::Erased(it) = content {
                erasure::take_away(conn, it, post.received_at)?;
            }
            parties::project(conn, stream.id)?;
        }
        StreamKind::Engine => {
            custody::project(conn, stream.id, content.stream().id, content, registered)?;
        }
        StreamKind::Fleet => {
            if let Content::ProgrammeActivated(it) = content {
                engine_types::settle(conn, it.engine_type.as_str())?;
            }
        }
        StreamKind::Aircraft | StreamKind::Component => {}
    }
    Ok(())
}
