//! Streams: what a fact belongs to.

use crate::ids::{AircraftId, ComponentId, EngineId, PartyId, Uid};

/// The kinds of stream that facts are kept in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum StreamKind {
    /// People and workshops.
    Party,
    /// Aircraft.
    Aircraft,
    /// Engines.
    Engine,
    /// Components.
    Component,
    /// The fleet as a whole, whose one stream has the nil UUID.
    Fleet,
}

/// The stream of one thing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Stream {
    /// What kind of thing.
    pub kind: StreamKind,
    /// Which.
    pub id: Uid,
}

impl Stream {
    /// The stream of an engine.
    #[must_use]
    pub const fn engine(id: EngineId) -> Self {
        Self { kind: StreamKind::Engine, id: id.0 }
    }

    /// The stream of an aircraft.
    #[must_use]
    pub const fn aircraft(id: AircraftId) -> Self {
        Self { kind: StreamKind::Aircraft, id: id.0 }
    }

    /// The stream of a component.
    #[must_use]
    pub const fn component(id: ComponentId) -> Self {
        Self { kind: StreamKind::Component, id: id.0 }
    }

    /// The stream of a person or workshop.
    #[must_use]
    pub const fn party(id: PartyId) -> Self {
        Self { kind: StreamKind::Party, id: id.0 }
    }

    /// The stream of what holds for the whole fleet.
    #[must_use]
    pub const fn fleet() -> Self {
        Self { kind: StreamKind::Fleet, id: Uid::from_bytes([0; 16]) }
    }
}

macro_rules! stream_of {
    ($($id:ident => $new:ident;)*) => {$(
        impl From<$id> for Stream {
            fn from(id: $id) -> Self {
                Self::$new(id)
            }
        }
    )*};
}

stream_of! {
    EngineId => engine;
    AircraftId => aircraft;
    ComponentId => component;
    PartyId => party;
}
