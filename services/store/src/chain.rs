//! The chain of a stream: each fact's hash covers the one before, so that no byte of an old fact can change
//! without every later hash changing too.
//!
//! What it cannot show: a whole stream left out, or a chain rewritten from some point on by somebody who
//! holds the database. Heads printed elsewhere are what shows that.

use crate::bytes::{Digest, Id};
use crate::codec;
use crate::conn::Store;
use crate::erasure;
use crate::error::StoreError;
use crate::facts::{self, FactBody, FactRow};
use crate::streams::{self, StreamRow, kind_number};
use gudgeon_life::fact::Stream;
use sha2::{Digest as _, Sha256};
use std::collections::BTreeSet;
use std::fmt;

/// What the hash before the first is.
pub(crate) const GENESIS: Digest = Digest([0; 32]);

const FACT_DOMAIN: &[u8] = b"gudgeon/fact/v1";
const PRIVATE_DOMAIN: &[u8] = b"gudgeon/private/v1\0";

/// Where a chain breaks.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ChainFault {
    /// The first bad fact's place in its stream; one past the last when facts are missing at the end.
    pub seq: i64,
    /// What is wrong with it.
    pub what: String,
}

impl fmt::Display for ChainFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "fact {}: {}", self.seq, self.what)
    }
}

impl std::error::Error for ChainFault {}

/// The hash of a fact. Every part goes in with its length, so that no two facts run together alike.
pub(crate) fn hash(stream: Stream, fact: &FactBody) -> Digest {
    let mut hasher = Sha256::new();
    let mut part = |bytes: &[u8]| {
        hasher.update(u64::try_from(bytes.len()).unwrap_or(u64::MAX).to_be_bytes());
        hasher.update(bytes);
    };
    part(FACT_DOMAIN);
    part(&fact.prev_hash.0);
    part(&kind_number(stream.kind).to_be_bytes());
    part(&stream.id.bytes());
    part(&fact.seq.to_be_bytes());
    part(&fact.uid.0);
    part(fact.kind.as_bytes());
    part(&fact.v.to_be_bytes());
    part(fact.day.to_string().as_bytes());
    part(&fact.order_in_day.to_be_bytes());
    part(fact.posted_by.as_ref().map_or(&[], |by| by.0.as_slice()));
    part(fact.recorded_at.map(i64::to_be_bytes).as_ref().map_or(&[], <[u8; 8]>::as_slice));
    part(&fact.received_at.to_be_bytes());
    part(fact.data.as_bytes());
    part(fact.private_digest.as_ref().map_or(&[], |digest| digest.0.as_slice()));
    Digest(hasher.finalize().into())
}

/// The digest that stands in the chain for private text; the salt keeps a short name from being guessed.
pub(crate) fn private_digest(salt: &Digest, body: &str) -> Digest {
    let mut hasher = Sha256::new();
    hasher.update(PRIVATE_DOMAIN);
    hasher.update(salt.0);
    hasher.update(body);
    Digest(hasher.finalize().into())
}

impl Store {
    /// Works a stream's chain out anew from what is stored, and gives the number of facts or the first fault.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn verify_chain(&self, stream: Stream) -> Result<Result<i64, ChainFault>, StoreError> {
        self.read(|conn| {
            let Some(head) = streams::find(conn, stream)? else { return Ok(Ok(0)) };
            let rows = facts::rows_of(conn, head.id)?;
            let lawful = erasure::lawful_gaps(conn, &rows)?;
            Ok(verify(stream, &head, &rows, &lawful))
        })
    }
}

fn verify(
    stream: Stream,
    head: &StreamRow,
    rows: &[FactRow],
    lawful_gaps: &BTreeSet<Id>,
) -> Result<i64, ChainFault> {
    let mut seq = 0;
    let mut prev = GENESIS;
    for row in rows {
        seq += 1;
        verify_fact(stream, row, seq, prev)
            .and_then(|()| verify_private(row, lawful_gaps))
            .map_err(|what| ChainFault { seq, what })?;
        prev = row.body.hash;
    }
    if head.head_seq != seq || head.head_hash != prev {
        let what = format!("the stream's head says {} facts and another last hash", head.head_seq);
        return Err(ChainFault { seq: seq + 1, what });
    }
    Ok(seq)
}

fn verify_fact(stream: Stream, row: &FactRow, seq: i64, prev: Digest) -> Result<(), String> {
    let body = &row.body;
    if body.seq != seq {
        return Err(format!("missing: the next one here is fact {}", body.seq));
    }
    if body.prev_hash != prev {
        return Err("it does not follow from the fact before it".to_owned());
    }
    if body.hash != hash(stream, body) {
        return Err("its content is not what its hash was made from".to_owned());
    }
    let (entry, _) = codec::read(body.coding()).map_err(|error| error.to_string())?;
    if body.content_digest.0 != codec::content_digest(&entry) {
        return Err("its content digest is not that of its content".to_owned());
    }
    Ok(())
}

/// Private text may be missing only where an erasure on record took it.
fn verify_private(row: &FactRow, lawful_gaps: &BTreeSet<Id>) -> Result<(), String> {
    let body = &row.body;
    match (&row.private, body.private_digest) {
        (Some((salt, text)), Some(digest)) if private_digest(salt, text) != digest => {
            Err("its private text is not what its digest was made from".to_owned())
        }
        (Some(_), None) => Err("it has private text that it was not posted with".to_owned()),
        (None, Some(_)) if !lawful_gaps.contains(&body.uid) => {
            Err("its private text is missing, and no erasure on record took it".to_owned())
        }
        _ => Ok(()),
    }
}
