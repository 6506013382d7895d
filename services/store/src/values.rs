//! What goes into the store and comes out of it again: posts, stored facts, programmes.

use gudgeon_life::conflict::Conflict;
use gudgeon_life::fact::{Fact, Stream};
use gudgeon_life::ids::{EngineId, PartyId};
use gudgeon_life::programme::EngineType;
use std::collections::BTreeMap;
use std::sync::Arc;

/// A moment: microseconds since the Unix epoch, UTC.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Instant(pub i64);

/// What was written beside a fact: JSON pointers into the posted body, each with its text.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Texts {
    /// Free text, names and addresses: kept apart from the fact, and erasable.
    pub private: BTreeMap<String, String>,
    /// Hours and decimals as they were written, where the fact holds only their value.
    pub as_posted: BTreeMap<String, String>,
}

/// A fact on its way in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Post {
    /// What is said.
    pub fact: Fact,
    /// What was written beside it.
    pub texts: Texts,
    /// The workshop that posts it, when it is one.
    pub by: Option<PartyId>,
    /// When it was recorded, by the client's clock.
    pub recorded_at: Option<Instant>,
    /// When it arrived, by ours.
    pub received_at: Instant,
}

/// A fact as it is kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stored {
    /// What is said.
    pub fact: Fact,
    /// What was written beside it; the private part is empty once it is erased.
    pub texts: Texts,
    /// The stream that it belongs to.
    pub stream: Stream,
    /// Its place in that stream, in order of arrival, from 1.
    pub seq: i64,
    /// Its link in the stream's chain.
    pub hash: [u8; 32],
    /// The workshop that posted it, when it was one.
    pub by: Option<PartyId>,
    /// When it was recorded, by the client's clock.
    pub recorded_at: Option<Instant>,
    /// When it arrived, by ours.
    pub received_at: Instant,
    /// The engines whose due lines may rest on its stream, in id order. Filled in for a fact that is
    /// appended or asked for alone; empty in a list of facts.
    pub touched: Vec<EngineId>,
    /// The contradictions that it takes part in, or that would not be there without it. Filled in for a fact
    /// that is appended alone; empty everywhere else.
    pub conflicts: Vec<Conflict>,
}

/// What became of a post.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Appended {
    /// It is new, and everything that rests on it is worked out anew.
    Created(Stored),
    /// The same fact was here already; nothing was written.
    Same(Stored),
    /// Another fact was here under this id: it is what is kept, and nothing was written.
    Differs(Stored),
}

/// Reads programmes for the store, which does not know their format.
pub trait Programmes: Sync {
    /// The engine type with this digest, if its file was read before and is remembered: the store then need
    /// not fetch the file.
    fn known(&self, _digest: &[u8; 32]) -> Option<Arc<EngineType>> {
        None
    }

    /// The engine type with this digest, whose file is `toml`; `None` when it cannot be read.
    fn get(&self, digest: &[u8; 32], toml: &str) -> Option<Arc<EngineType>>;
}
