//! Anchors: one hash for all that was on record when a week was run, each made from the one before.
//!
//! The heads that an anchor stands for are those of all streams that moved since the anchor before, in order of
//! (kind, identifier). What is hashed, with whole numbers as big-endian bytes:
//!
//! - the **leaf** of a head is `"gudgeon/head/v1"`, the number of its stream's kind (2 bytes), the stream's
//!   identifier (16), the place of its last fact (8) and that fact's hash (32), one behind the other;
//! - the **root** is the Merkle tree hash of RFC 6962 section 2.1 over the leaves;
//! - the **anchor** is the SHA-256 of these parts, each behind its length in 8 bytes: `"gudgeon/anchor/v1"`, the
//!   hash of the anchor before (32 zero bytes for the first), its own number (8), the week, the moment it was
//!   made in microseconds since 1970 (8), the number of heads (8) and the root (32).

use crate::FLEET;
use crate::bytes::{Digest, Id};
use crate::chain::{GENESIS, hash_parts};
use crate::conn::Store;
use crate::dialect::{self, AnyConn};
use crate::error::StoreError;
use crate::merkle::Tree;
use crate::schema::{anchor, anchored_head, stream};
use crate::streams::{StreamRow, kind_number, later_than, stream_of};
use crate::values::Instant;
use diesel::dsl::{exists, max, not};
use diesel::prelude::*;
use gudgeon_life::fact::{Stream, StreamKind};
use gudgeon_life::week::ReportWeek;
use serde::{Deserialize, Serialize};
use std::collections::HashMap;

const ANCHOR_DOMAIN: &[u8] = b"gudgeon/anchor/v1";
const HEAD_DOMAIN: &[u8] = b"gudgeon/head/v1";

/// Heads read and written at a time.
const CHUNK: i64 = 1000;
/// How many streams one statement names, far below what any database permits.
const STREAMS_MAX: usize = 10_000;

/// An anchor.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Anchor {
    /// Its number, from 1.
    pub seq: i64,
    /// The week of ISO 8601 that was run, such as `2026-W48`.
    pub week: String,
    /// When it was made.
    pub made_at: Instant,
    /// How many heads it stands for.
    pub heads: i64,
    /// Its hash.
    pub hash: [u8; 32],
}

/// The last head of a stream that an anchor stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct AnchoredHead {
    /// How many facts the stream held.
    pub seq: i64,
    /// The hash of the last of them.
    pub hash: [u8; 32],
    /// The anchor's number.
    pub anchor: i64,
}

/// An anchor as a row, and as a line of an export.
#[derive(Clone, Debug, Insertable, Queryable, Selectable, Serialize, Deserialize)]
#[diesel(table_name = anchor)]
#[serde(deny_unknown_fields)]
pub(crate) struct AnchorRow {
    pub(crate) seq: i64,
    pub(crate) week: String,
    pub(crate) made_at: i64,
    pub(crate) heads: i64,
    pub(crate) root: Digest,
    pub(crate) previous: Digest,
    pub(crate) hash: Digest,
}

impl AnchorRow {
    /// The hash that its other columns give.
    pub(crate) fn worked_out(&self) -> Digest {
        hash_parts(&[
            ANCHOR_DOMAIN,
            &self.previous.0,
            &self.seq.to_be_bytes(),
            self.week.as_bytes(),
            &self.made_at.to_be_bytes(),
            &self.heads.to_be_bytes(),
            &self.root.0,
        ])
    }

    /// The anchor without what it was made from.
    pub(crate) fn anchor(self) -> Anchor {
        Anchor {
            seq: self.seq,
            week: self.week,
            made_at: Instant(self.made_at),
            heads: self.heads,
            hash: self.hash.0,
        }
    }
}

/// A head that an anchor stands for, as a row.
#[derive(Clone, Copy, Debug, Insertable, Queryable, Selectable)]
#[diesel(table_name = anchored_head)]
pub(crate) struct HeadRow {
    pub(crate) fleet_id: i64,
    pub(crate) stream_id: i64,
    pub(crate) seq: i64,
    pub(crate) hash: Digest,
    pub(crate) anchor_seq: i64,
}

/// What the tree of an anchor holds for a head.
pub(crate) fn leaf(of: Stream, seq: i64, hash: Digest) -> Vec<u8> {
    let kind = kind_number(of.kind).to_be_bytes();
    let (id, seq) = (of.id.bytes(), seq.to_be_bytes());
    [HEAD_DOMAIN, &kind, &id, &seq, &hash.0].concat()
}

/// Anchors after a number, in their order.
pub(crate) fn some(conn: &mut AnyConn, after_seq: i64, limit: i64) -> QueryResult<Vec<AnchorRow>> {
    anchor::table
        .filter(anchor::fleet_id.eq(FLEET))
        .filter(anchor::seq.gt(after_seq))
        .order(anchor::seq)
        .limit(limit)
        .select(AnchorRow::as_select())
        .load(conn)
}

/// All heads of some streams that anchors stand for, by stream and then by place.
pub(crate) fn heads_of(conn: &mut AnyConn, stream_ids: &[i64]) -> QueryResult<Vec<HeadRow>> {
    anchored_head::table
        .filter(anchored_head::fleet_id.eq(FLEET))
        .filter(anchored_head::stream_id.eq_any(stream_ids))
        .order((anchored_head::stream_id, anchored_head::seq))
        .select(HeadRow::as_select())
        .load(conn)
}

/// Adds an anchor.
pub(crate) fn add(conn: &mut AnyConn, row: &AnchorRow) -> QueryResult<usize> {
    diesel::insert_into(anchor::table).values((anchor::fleet_id.eq(FLEET), row)).execute(conn)
}

fn last(conn: &mut AnyConn) -> QueryResult<Option<AnchorRow>> {
    anchor::table
        .filter(anchor::fleet_id.eq(FLEET))
        .order(anchor::seq.desc())
        .select(AnchorRow::as_select())
        .first(conn)
        .optional()
}

/// Streams after one in order of (kind, identifier) whose head no anchor stands for yet.
fn moved(conn: &mut AnyConn, after: Option<(i16, Id)>) -> QueryResult<Vec<StreamRow>> {
    let anchored = anchored_head::table
        .filter(anchored_head::fleet_id.eq(FLEET))
        .filter(anchored_head::stream_id.eq(stream::id))
        .filter(anchored_head::seq.eq(stream::head_seq));
    let mut select = stream::table
        .filter(stream::fleet_id.eq(FLEET))
        .filter(stream::head_seq.gt(0))
        .filter(not(exists(anchored)))
        .order((stream::kind, stream::uid))
        .limit(CHUNK)
        .select(StreamRow::as_select())
        .into_boxed();
    if let Some((kind, uid)) = after {
        select = select.filter(later_than(kind, uid));
    }
    select.load(conn)
}

/// Writes down the heads that moved, for an anchor to be, and gives the tree over them.
fn anchor_heads(conn: &mut AnyConn, anchor_seq: i64) -> Result<Tree, StoreError> {
    let mut tree = Tree::default();
    let mut after = None;
    loop {
        let heads = moved(conn, after)?;
        let Some(end) = heads.last() else { return Ok(tree) };
        after = Some((end.kind, end.uid));
        let mut rows = Vec::with_capacity(heads.len());
        for head in &heads {
            let (seq, hash) = (head.head_seq, head.head_hash);
            tree.add(&leaf(stream_of(head.kind, head.uid)?, seq, hash));
            rows.push(HeadRow { fleet_id: FLEET, stream_id: head.id, seq, hash, anchor_seq });
        }
        dialect::add_anchored_heads(conn, &rows)?;
    }
}

impl Store {
    /// Anchors the heads of all streams that moved since the last anchor; `None` when none did. Of several that
    /// do it at once, those who come second find nothing left.
    ///
    /// # Errors
    /// [`StoreError`] when the database fails.
    pub fn anchor(&self, week: ReportWeek, at: Instant) -> Result<Option<Anchor>, StoreError> {
        self.write(|conn| {
            dialect::lock_anchors(conn)?;
            let (seq, previous) =
                last(conn)?.map_or((1, GENESIS), |last| (last.seq + 1, last.hash));
            let tree = anchor_heads(conn, seq)?;
            if tree.leaves() == 0 {
                return Ok(None);
            }
            let mut row = AnchorRow {
                seq,
                week: week.to_string(),
                made_at: at.0,
                heads: tree.leaves(),
                root: tree.root(),
                previous,
                hash: GENESIS,
            };
            row.hash = row.worked_out();
            add(conn, &row)?;
            Ok(Some(row.anchor()))
        })
    }

    /// The last anchor; `None` before the first weekly run.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn last_anchor(&self) -> Result<Option<Anchor>, StoreError> {
        self.read(|conn| Ok(last(conn)?.map(AnchorRow::anchor)))
    }

    /// The last anchored head of each of these streams of one kind that has one.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn anchored_heads(
        &self,
        kind: StreamKind,
        ids: &[gudgeon_life::ids::Uid],
    ) -> Result<HashMap<gudgeon_life::ids::Uid, AnchoredHead>, StoreError> {
        let other = diesel::alias!(anchored_head as other);
        self.read(|conn| {
            let mut found = HashMap::new();
            for chunk in ids.chunks(STREAMS_MAX) {
                let uids: Vec<Id> = chunk.iter().copied().map(Id::from).collect();
                let newest = other
                    .filter(other.field(anchored_head::fleet_id).eq(FLEET))
                    .filter(other.field(anchored_head::stream_id).eq(stream::id))
                    .select(max(other.field(anchored_head::seq)))
                    .single_value();
                let rows: Vec<(Id, HeadRow)> = stream::table
                    .inner_join(anchored_head::table.on(anchored_head::stream_id.eq(stream::id)))
                    .filter(stream::fleet_id.eq(FLEET))
                    .filter(stream::kind.eq(kind_number(kind)))
                    .filter(stream::uid.eq_any(uids))
                    .filter(anchored_head::fleet_id.eq(FLEET))
                    .filter(anchored_head::seq.nullable().eq(newest))
                    .select((stream::uid, HeadRow::as_select()))
                    .load(conn)?;
                found.extend(rows.into_iter().map(|(uid, head)| {
                    let (seq, hash, anchor) = (head.seq, head.hash.0, head.anchor_seq);
                    (uid.into(), AnchoredHead { seq, hash, anchor })
                }));
            }
            Ok(found)
        })
    }
}
