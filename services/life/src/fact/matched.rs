//! Parts that ran together and go back together: head, cylinder, piston, pin and rings of one position.

use crate::ids::{ComponentId, PartKind, PositionId};

/// The parts that a workshop put together at one position, each by its mark.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MatchedSet {
    /// Where they run.
    pub position: PositionId,
    /// Which they are.
    pub parts: Vec<MatchedPart>,
}

/// One part of a set.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MatchedPart {
    /// What it is, such as `piston`.
    pub part: PartKind,
    /// The mark on it.
    pub mark: String,
    /// Whether it is new in the set: then it is expected not to have run there.
    pub is_new: bool,
    /// Its own record, where it has one.
    pub component: Option<ComponentId>,
}
