//! Who may see an engine, and what of a person is erased.

use crate::ids::{EngineId, FactId, PartyId};
use chrono::NaiveDate;
use std::collections::BTreeSet;

/// A workshop that may see and post about an engine.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Custody {
    /// Which engine.
    pub engine: EngineId,
    /// Which workshop.
    pub shop: PartyId,
    /// The last day of it; `None` while no end is set.
    pub until: Option<NaiveDate>,
}

/// Names, addresses and free text about a person or workshop are gone for good.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Erased {
    /// Whose.
    pub party: PartyId,
    /// Whether notes about the engines and aircraft that were theirs went too.
    pub notes: bool,
    /// The facts whose private texts went: what is missing beside any other fact was lost.
    pub facts: BTreeSet<FactId>,
    /// The photographs that went, each by the SHA-256 of its file.
    pub photos: BTreeSet<[u8; 32]>,
}
