//! Streams: one per party, aircraft, engine and component; their links.

use crate::FLEET;
use crate::bytes::{Digest, Id};
use crate::chain::GENESIS;
use crate::conn::Store;
use crate::dialect::{self, AnyConn, Update, on};
use crate::error::StoreError;
use crate::facts::FactBody;
use crate::schema::{link, stream};
use diesel::prelude::*;
use gudgeon_life::fact::{Stream, StreamKind};
use gudgeon_life::ids::Uid;

/// A stream as it is kept.
#[derive(Clone, Copy, Debug, Queryable, Selectable)]
#[diesel(table_name = stream)]
pub(crate) struct StreamRow {
    pub(crate) id: i64,
    pub(crate) kind: i16,
    pub(crate) uid: Id,
    pub(crate) head_seq: i64,
    pub(crate) head_hash: Digest,
}

/// A stream that has no fact yet.
#[derive(Insertable)]
#[diesel(table_name = stream, treat_none_as_default_value = false)]
pub(crate) struct NewStream {
    fleet_id: i64,
    kind: i16,
    uid: Id,
    head_seq: i64,
    head_hash: Digest,
}

/// One end of a link.
#[expect(clippy::struct_field_names, reason = "the fields are the columns")]
#[derive(Insertable)]
#[diesel(table_name = link, treat_none_as_default_value = false)]
pub(crate) struct LinkRow {
    fleet_id: i64,
    stream_id: i64,
    other_id: i64,
}

/// The number that a kind of stream is stored under.
pub(crate) const fn kind_number(kind: StreamKind) -> i16 {
    match kind {
        StreamKind::Party => 1,
        StreamKind::Aircraft => 2,
        StreamKind::Engine => 3,
        StreamKind::Component => 4,
        StreamKind::Fleet => 5,
    }
}

/// The stream with this number and identifier.
pub(crate) fn stream_of(kind: i16, uid: Id) -> Result<Stream, StoreError> {
    let kind = match kind {
        1 => StreamKind::Party,
        2 => StreamKind::Aircraft,
        3 => StreamKind::Engine,
        4 => StreamKind::Component,
        5 => StreamKind::Fleet,
        _ => return Err(StoreError::Corrupt(format!("a stream of the unknown kind {kind}"))),
    };
    Ok(Stream { kind, id: Uid::from(uid) })
}

/// Streams after one in order of (kind, identifier).
#[diesel::dsl::auto_type(no_type_alias)]
pub(crate) fn later_than(kind: i16, uid: Id) -> _ {
    stream::kind.gt(kind).or(stream::kind.eq(kind).and(stream::uid.gt(uid)))
}

/// The row of a stream.
pub(crate) fn find(conn: &mut AnyConn, of: Stream) -> QueryResult<Option<StreamRow>> {
    let rows = stream::table
        .filter(stream::fleet_id.eq(FLEET))
        .filter(stream::kind.eq(kind_number(of.kind)))
        .filter(stream::uid.eq(Id::from(of.id)));
    on!(conn, conn => rows.select(StreamRow::as_select()).get_result(conn)).optional()
}

/// The row of a stream, made if it is not there.
pub(crate) fn find_or_add(conn: &mut AnyConn, of: Stream) -> Result<StreamRow, StoreError> {
    if let Some(row) = find(conn, of)? {
        return Ok(row);
    }
    let row = NewStream {
        fleet_id: FLEET,
        kind: kind_number(of.kind),
        uid: Id::from(of.id),
        head_seq: 0,
        head_hash: GENESIS,
    };
    dialect::add_stream(conn, &row)?;
    find(conn, of)?.ok_or_else(|| StoreError::Corrupt("a stream just added is gone".to_owned()))
}

/// Moves a stream's head on to a new last fact; false when the head is not the fact before it.
pub(crate) fn move_head(conn: &mut AnyConn, last: &FactBody) -> QueryResult<bool> {
    struct MoveHead;
    let head = stream::id
        .eq(last.stream_id)
        .and(stream::head_seq.eq(last.seq - 1))
        .and(stream::head_hash.eq(last.prev_hash));
    let moved = (stream::head_seq.eq(last.seq), stream::head_hash.eq(last.hash));
    Ok(dialect::execute(conn, &Update::of(MoveHead, &stream::table, moved, head))? == 1)
}

/// Ties a stream to others, from both ends.
pub(crate) fn tie(conn: &mut AnyConn, id: i64, others: &[Stream]) -> Result<(), StoreError> {
    let mut rows = Vec::new();
    for other in others {
        let other_id = find_or_add(conn, *other)?.id;
        rows.push(LinkRow { fleet_id: FLEET, stream_id: id, other_id });
        rows.push(LinkRow { fleet_id: FLEET, stream_id: other_id, other_id: id });
    }
    if !rows.is_empty() {
        dialect::add_links(conn, &rows)?;
    }
    Ok(())
}

impl Store {
    /// Whether any fact belongs to this stream.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn stream_known(&self, of: Stream) -> Result<bool, StoreError> {
        self.read(|conn| Ok(find(conn, of)?.is_some_and(|row| row.head_seq > 0)))
    }
}
