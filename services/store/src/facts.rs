//! Reading facts: one, those of a stream, and the history that a stream is part of.

use crate::FLEET;
use crate::bytes::{Digest, Id};
use crate::codec::{self, Coding};
use crate::conn::Store;
use crate::days;
use crate::dialect::{self, AnyConn, on};
use crate::error::StoreError;
use crate::graph;
use crate::schema::{fact, fact_private, stream};
use crate::streams::{self, StreamRow, stream_of};
use crate::values::{Instant, Stored, Texts};
use chrono::NaiveDate;
use diesel::backend::Backend;
use diesel::dsl::{AsSelect, Nullable};
use diesel::prelude::*;
use gudgeon_life::conflict::Conflict;
use gudgeon_life::fact::{Fact, Stream, StreamKind};
use gudgeon_life::history::History;
use gudgeon_life::ids::{ComponentId, FactId, PartyId, Uid};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// A fact as it is kept, but for its surrogate key. In an export it goes without the keys of this database.
#[derive(Clone, Debug, Insertable, Queryable, Selectable, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[diesel(table_name = fact, treat_none_as_default_value = false)]
pub(crate) struct FactBody {
    #[serde(skip)]
    pub(crate) fleet_id: i64,
    #[serde(skip)]
    pub(crate) stream_id: i64,
    pub(crate) seq: i64,
    pub(crate) uid: Id,
    pub(crate) kind: String,
    pub(crate) v: i32,
    #[serde(with = "days::text")]
    pub(crate) day: NaiveDate,
    pub(crate) order_in_day: i32,
    pub(crate) data: String,
    pub(crate) content_digest: Digest,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) private_digest: Option<Digest>,
    pub(crate) prev_hash: Digest,
    pub(crate) hash: Digest,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) posted_by: Option<Id>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) recorded_at: Option<i64>,
    pub(crate) received_at: i64,
}

impl FactBody {
    /// The columns that hold its entry.
    pub(crate) fn coding(&self) -> Coding<'_> {
        Coding {
            v: self.v,
            kind: &self.kind,
            day: self.day,
            order_in_day: self.order_in_day,
            data: &self.data,
        }
    }
}

/// A fact with its stream and its private text, unless that was erased.
#[derive(Clone, Debug)]
pub(crate) struct FactRow {
    pub(crate) body: FactBody,
    pub(crate) stream: StreamRow,
    pub(crate) private: Option<(Digest, String)>,
}

type Joined = (FactBody, StreamRow, Option<(Digest, String)>);

impl FactRow {
    fn of((body, stream, private): Joined) -> Self {
        Self { body, stream, private }
    }

    /// The fact, with nothing said about the engines it touches.
    pub(crate) fn stored(&self) -> Result<Stored, StoreError> {
        let (entry, as_posted) = codec::read(self.body.coding())?;
        let private = match &self.private {
            Some((_, body)) => codec::read_private(body)?,
            None => BTreeMap::new(),
        };
        Ok(Stored {
            fact: Fact { id: FactId(Uid::from(self.body.uid)), entry },
            texts: Texts { private, as_posted },
            stream: stream_of(self.stream.kind, self.stream.uid)?,
            seq: self.body.seq,
            hash: self.body.hash.0,
            by: self.body.posted_by.map(|by| PartyId(Uid::from(by))),
            recorded_at: self.body.recorded_at.map(Instant),
            received_at: Instant(self.body.received_at),
            touched: Vec::new(),
            conflicts: Vec::new(),
        })
    }

    /// The fact, with the engines it touches.
    pub(crate) fn stored_with_touched(&self, conn: &mut AnyConn) -> Result<Stored, StoreError> {
        let mut stored = self.stored()?;
        let touched = graph::touched(conn, self.stream.id, stored.stream)?;
        stored.touched = graph::engines_in_id_order(&touched).map(|(engine, _)| engine).collect();
        Ok(stored)
    }
}

/// Whether there is a fact with this identifier.
pub(crate) fn is_here(conn: &mut AnyConn, uid: Id) -> QueryResult<bool> {
    let of_uid = fact::table.filter(fact::fleet_id.eq(FLEET)).filter(fact::uid.eq(uid));
    let found = on!(conn, conn => of_uid.select(fact::id).get_result::<i64>(conn));
    Ok(found.optional()?.is_some())
}

/// The fact with this identifier.
pub(crate) fn row(conn: &mut AnyConn, uid: Id) -> QueryResult<Option<FactRow>> {
    let of_uid = with_private().filter(fact::uid.eq(uid));
    let row = on!(conn, conn => of_uid.select(joined()).get_result::<Joined>(conn));
    Ok(row.optional()?.map(FactRow::of))
}

/// The facts of one stream, in order of arrival.
pub(crate) fn rows_of(conn: &mut AnyConn, stream_id: i64) -> QueryResult<Vec<FactRow>> {
    let of_stream = with_private().filter(fact::stream_id.eq(stream_id)).order(fact::seq);
    let rows: Vec<Joined> = on!(conn, conn => of_stream.select(joined()).load(conn))?;
    Ok(rows.into_iter().map(FactRow::of).collect())
}

/// At most `limit` facts of one stream after a place in it, in order of arrival.
pub(crate) fn some_rows_of(
    conn: &mut AnyConn,
    stream_id: i64,
    after_seq: i64,
    limit: i64,
) -> QueryResult<Vec<FactRow>> {
    let of_stream = with_private()
        .filter(fact::stream_id.eq(stream_id))
        .filter(fact::seq.gt(after_seq))
        .order(fact::seq)
        .limit(limit);
    let rows: Vec<Joined> = on!(conn, conn => of_stream.select(joined()).load(conn))?;
    Ok(rows.into_iter().map(FactRow::of).collect())
}

/// Facts with their streams and the private text that belongs to each.
#[diesel::dsl::auto_type(no_type_alias)]
fn with_private() -> _ {
    let fleet: i64 = FLEET;
    let its_own = fact_private::fleet_id.eq(fact::fleet_id).and(fact_private::fact_id.eq(fact::id));
    fact::table
        .inner_join(stream::table.on(stream::id.eq(fact::stream_id)))
        .left_join(fact_private::table.on(its_own))
        .filter(fact::fleet_id.eq(fleet))
}

/// What is read of [`with_private`].
type Columns<DB> = (
    AsSelect<FactBody, DB>,
    AsSelect<StreamRow, DB>,
    Nullable<(fact_private::salt, fact_private::body)>,
);

fn joined<DB: Backend>() -> Columns<DB> {
    let private = (fact_private::salt, fact_private::body).nullable();
    (FactBody::as_select(), StreamRow::as_select(), private)
}

/// A fact as [`codings`] reads it.
type CodingRow = (Id, i32, String, NaiveDate, i32, String);

/// What is read of facts to fold them.
#[diesel::dsl::auto_type(no_type_alias)]
fn codings() -> _ {
    let fleet: i64 = FLEET;
    fact::table.filter(fact::fleet_id.eq(fleet)).select((
        fact::uid,
        fact::v,
        fact::kind,
        fact::day,
        fact::order_in_day,
        fact::data,
    ))
}

/// All facts of these streams, without private text.
pub(crate) fn facts_of(
    conn: &mut AnyConn,
    streams: &graph::Nodes,
) -> Result<Vec<Fact>, StoreError> {
    Ok(Records::read(conn, streams.clone())?.facts)
}

/// The facts of some streams, without private text.
pub(crate) struct Records {
    pub(crate) facts: Vec<Fact>,
    pub(crate) streams: graph::Nodes,
    /// How many bytes the facts have as they are kept.
    pub(crate) bytes: usize,
}

impl Records {
    fn read(conn: &mut AnyConn, streams: graph::Nodes) -> Result<Self, StoreError> {
        let keys: Vec<i64> = streams.keys().copied().collect();
        let mut rows: Vec<CodingRow> = Vec::new();
        for keys in keys.chunks(dialect::list_len_max(conn)) {
            rows.extend(on!(conn, conn => match keys {
                [key] => codings().filter(fact::stream_id.eq(*key)).load::<CodingRow>(conn)?,
                _ => codings().filter(fact::stream_id.eq_any(keys)).load::<CodingRow>(conn)?,
            }));
        }
        let fact = |(uid, v, kind, day, order_in_day, data): &CodingRow| {
            let coding = Coding { v: *v, kind, day: *day, order_in_day: *order_in_day, data };
            let (entry, _) = codec::read(coding)?;
            Ok::<_, StoreError>(Fact { id: FactId(Uid::from(*uid)), entry })
        };
        let facts = rows.iter().map(fact).collect::<Result<_, _>>()?;
        Ok(Self { facts, streams, bytes: rows.iter().map(|row| row.5.len()).sum() })
    }

    /// Those of a stream and of everything its hours are tied to.
    pub(crate) fn around(conn: &mut AnyConn, key: i64, of: Stream) -> Result<Self, StoreError> {
        let closure = graph::closure(conn, key, of)?;
        Self::read(conn, closure)
    }

    /// With what they say.
    pub(crate) fn told(self) -> Around {
        Around { history: History::fold(&self.facts), records: self }
    }
}

/// What the records around a stream say.
pub(crate) struct Around {
    pub(crate) records: Records,
    pub(crate) history: History,
}

/// What the records of a stream, and of everything its hours are tied to, say.
pub(crate) fn around(conn: &mut AnyConn, key: i64, of: Stream) -> Result<Around, StoreError> {
    Ok(Records::around(conn, key, of)?.told())
}

impl Around {
    /// The parts among them, with the keys of their streams.
    pub(crate) fn components(&self) -> impl Iterator<Item = (ComponentId, i64)> {
        let streams = &self.records.streams;
        let parts = streams.iter().filter(|(_, it)| it.kind == StreamKind::Component);
        parts.map(|(key, stream)| (ComponentId(stream.id), *key))
    }

    /// The contradictions that one of these facts takes part in, or that would not be there without it.
    pub(crate) fn brought_out_by(&self, id: FactId) -> Vec<Conflict> {
        let all = &self.history.conflicts;
        if all.is_empty() {
            return Vec::new();
        }
        let others: Vec<Fact> =
            self.records.facts.iter().filter(|it| it.id != id).cloned().collect();
        let without = History::fold(&others).conflicts;
        let new = |it: &&Conflict| it.fact == id || !without.contains(it);
        all.iter().filter(new).cloned().collect()
    }
}

impl Store {
    /// The fact with this identifier.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn fact(&self, id: FactId) -> Result<Option<Stored>, StoreError> {
        self.read(|conn| match row(conn, Id::from(id.0))? {
            Some(row) => row.stored_with_touched(conn).map(Some),
            None => Ok(None),
        })
    }

    /// The facts of a stream, in order of arrival.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn facts_of(&self, of: Stream) -> Result<Vec<Stored>, StoreError> {
        self.read(|conn| {
            let Some(head) = streams::find(conn, of)? else { return Ok(Vec::new()) };
            rows_of(conn, head.id)?.iter().map(FactRow::stored).collect()
        })
    }

    /// What the records say of a stream and of everything its hours are tied to. Only what is told of the
    /// stream itself and of what is fitted to it is complete.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn history_of(&self, of: Stream) -> Result<History, StoreError> {
        self.read(|conn| {
            let Some(head) = streams::find(conn, of)? else { return Ok(History::fold(&[])) };
            Ok(around(conn, head.id, of)?.history)
        })
    }
}
