//! What people recorded: append-only facts, the only thing that everything else is worked out from.
//!
//! A fact holds no personal text. Notes, names and licences travel beside it and can be erased; nothing
//! here depends on them.

mod custody;
mod happening;
mod hardware;
mod inspection;
mod matched;
mod stream;

pub use custody::{Custody, Erased};
pub use happening::{
    Affected, Attribute, ComponentOverhauled, Concession, Described, Event, EventKind,
    HoursAccepted, MakerRestart, Preserved,
};
pub use hardware::{BoltFit, Fastening, Length, LengthUnit, Locking, Seen, Torque, WasherFacing};
pub use inspection::{
    Condition, Finding, Inspection, InspectionReading, Mark, Measurement, OverhaulScope, Recheck,
    Taken, WorkDone, WrenchUsed,
};
pub use matched::{MatchedPart, MatchedSet};
pub use stream::{Stream, StreamKind};

use crate::date_code::Scheme;
use crate::hours::{Basis, Hours};
use crate::ids::{
    AircraftId, ComponentId, EngineId, FactId, ItemId, PartKind, PartyId, PositionId,
};
use crate::sure::rate::Owner;
use crate::sure::season::Hemisphere;
use chrono::NaiveDate;

/// One recorded fact.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fact {
    /// Made by the client; the same id with the same content is the same fact.
    pub id: FactId,
    /// What is said, and for which day.
    pub entry: Entry,
}

/// A fact without its name: what an amendment can put in place of another.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Entry {
    /// The day it was performed; for work, the day it was released.
    pub on: NaiveDate,
    /// Where it stands among the facts of that day, when the order matters.
    pub order_in_day: u16,
    /// What is said.
    pub content: Content,
}

/// What a fact says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Content {
    /// A person, club, school or workshop exists.
    PartyRegistered(PartyRegistered),
    /// An aircraft exists.
    AircraftRegistered(AircraftRegistered),
    /// An engine exists.
    EngineRegistered(EngineRegistered),
    /// A component exists.
    ComponentRegistered(ComponentRegistered),
    /// An aircraft or engine belongs to somebody from this day.
    Ownership(Ownership),
    /// A workshop may see and post about an engine from this day.
    Custody(Custody),
    /// What is personal about somebody was erased.
    Erased(Erased),
    /// An engine came off its aircraft.
    EngineRemoved(EngineRemoved),
    /// An engine went into an aircraft.
    EngineInstalled(EngineInstalled),
    /// A component came off whatever it was on.
    ComponentRemoved(ComponentRemoved),
    /// A component went onto an engine or aircraft.
    ComponentFitted(ComponentFitted),
    /// An aircraft's hour meter was changed.
    MeterChanged(MeterChanged),
    /// Somebody read the hour meter.
    Reading(Reading),
    /// A workshop inspected or worked on an engine.
    Inspection(Inspection),
    /// Something happened to an engine or part.
    Event(Event),
    /// An engine was preserved for storage.
    Preserved(Preserved),
    /// An inspector gave a permission.
    Concession(Concession),
    /// An inspector accepted an estimate of hours.
    HoursAccepted(HoursAccepted),
    /// A component was overhauled as an assembly of its own.
    ComponentOverhauled(ComponentOverhauled),
    /// The maker started an engine's record at zero.
    MakerRestart(MakerRestart),
    /// How an engine or aircraft is built or used, from this day on.
    Described(Described),
    /// A version of an engine type and its programme is the one to count by.
    ProgrammeActivated(ProgrammeActivated),
    /// An earlier fact is corrected or withdrawn.
    Amendment(Amendment),
}

/// A person, club, school or workshop. Name and address are personal and travel beside the fact.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PartyRegistered {
    /// Who.
    pub party: PartyId,
    /// What they are here.
    pub role: PartyRole,
}

/// What a party is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum PartyRole {
    /// Owns aircraft or engines; receives the weekly mail.
    Owner,
    /// A workshop.
    Shop,
}

/// An aircraft, the basis of its hour meter, and what its flying depends on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AircraftRegistered {
    /// Which.
    pub aircraft: AircraftId,
    /// Its registration mark.
    pub mark: String,
    /// What its hour meter counts.
    pub basis: Basis,
    /// Who flies it.
    pub flown_by: Owner,
    /// Where it flies.
    pub hemisphere: Hemisphere,
}

/// An engine as it stood on the day of the fact.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct EngineRegistered {
    /// Which.
    pub engine: EngineId,
    /// The short name of its type.
    pub engine_type: ItemId,
    /// Its serial number: never a key.
    pub serial: String,
    /// The hours it is counted in.
    pub basis: Basis,
    /// Hours since new on that day; `None` when it has no log.
    pub tsn: Option<Hours>,
    /// The day it was made or first sold, where known.
    pub made_on: Option<NaiveDate>,
    /// Its last full overhaul before these records, by its papers.
    pub overhauled: Option<Papers>,
}

/// A component as it stood on the day of the fact.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ComponentRegistered {
    /// Which.
    pub component: ComponentId,
    /// What kind of part.
    pub kind: PartKind,
    /// Its serial number, where it has one.
    pub serial: Option<String>,
    /// Its lot, where it has one.
    pub lot: Option<String>,
    /// What the maker calls it, as on its bag or papers: a part number, a description.
    pub maker_part: Option<String>,
    /// Its date code.
    pub code: Option<Code>,
    /// The day its rubber was cured, where papers say so: then it is that old, whatever the code says.
    pub cured_on: Option<NaiveDate>,
    /// Hours on it that day: zero for a new part, `None` when not known.
    pub hours: Option<Hours>,
    /// The day it was first fitted to anything, if that was before these records begin.
    pub first_fitted_on: Option<NaiveDate>,
    /// Its last overhaul before these records, by its papers: an exchange unit comes with them.
    pub overhauled: Option<Papers>,
}

/// What papers say of the last overhaul before these records.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Papers {
    /// The day it was released.
    pub on: NaiveDate,
    /// Hours run since, on the day of the registration.
    pub hours_since: Hours,
}

/// A date code as marked on a part.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Code {
    /// How to read it.
    pub scheme: Scheme,
    /// As marked.
    pub text: String,
}

/// Who an aircraft or engine belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Ownership {
    /// What.
    pub of: Host,
    /// Who.
    pub owner: PartyId,
}

/// An engine went into an aircraft.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct EngineInstalled {
    /// Which engine.
    pub engine: EngineId,
    /// Into which aircraft.
    pub aircraft: AircraftId,
    /// What the aircraft's hour meter showed.
    pub meter: Hours,
}

/// An engine came off its aircraft.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct EngineRemoved {
    /// Which engine.
    pub engine: EngineId,
    /// What the aircraft's hour meter showed.
    pub meter: Hours,
}

/// What a component can be fitted to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Host {
    /// An engine.
    Engine(EngineId),
    /// An aircraft: a gearbox that stays when the engine goes, say.
    Aircraft(AircraftId),
}

/// A component went onto an engine or aircraft.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ComponentFitted {
    /// Which component.
    pub component: ComponentId,
    /// Onto what.
    pub host: Host,
    /// Where.
    pub position: Option<PositionId>,
    /// What the aircraft's hour meter showed, if somebody looked.
    pub meter: Option<Hours>,
}

/// A component came off whatever it was on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ComponentRemoved {
    /// Which component.
    pub component: ComponentId,
    /// What the aircraft's hour meter showed, if somebody looked.
    pub meter: Option<Hours>,
    /// Why it came off, in one word; more about it travels beside the fact.
    pub cause: Option<RemovalCause>,
}

/// Why a component came off.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum RemovalCause {
    /// It had reached its life or was due.
    Due,
    /// It was found worn, damaged or perished.
    Condition,
    /// It failed in use.
    Failure,
    /// It was exchanged for another, or went to be overhauled.
    Exchange,
    /// It was in the way of other work.
    Access,
    /// It went to another engine or into store.
    Transfer,
}

impl RemovalCause {
    /// All causes, in the order in which messages list them.
    pub const ALL: [Self; 6] =
        [Self::Due, Self::Condition, Self::Failure, Self::Exchange, Self::Access, Self::Transfer];

    /// The word used in the API and on paper.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Due => "due",
            Self::Condition => "condition",
            Self::Failure => "failure",
            Self::Exchange => "exchange",
            Self::Access => "access",
            Self::Transfer => "transfer",
        }
    }
}

/// An aircraft's hour meter was changed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MeterChanged {
    /// Which aircraft.
    pub aircraft: AircraftId,
    /// What the old meter showed at the end.
    pub old_end: Hours,
    /// What the new meter showed at the start.
    pub new_start: Hours,
}

/// What the aircraft's hour meter showed, told of the aircraft or of the engine in it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Reading {
    /// The aircraft, or the engine that was in it that day.
    pub of: Host,
    /// What the meter showed.
    pub meter: Hours,
}

/// A version of an engine type and its programme is the one to count by. The last such fact of a type holds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ProgrammeActivated {
    /// The short name of the type.
    pub engine_type: ItemId,
    /// SHA-256 of the version's file.
    pub digest: [u8; 32],
}

/// An earlier fact is corrected or withdrawn.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Amendment {
    /// The stream that the amended fact belongs to.
    pub stream: Stream,
    /// The fact first posted.
    pub root: FactId,
    /// The version that this one takes the place of: the root or an earlier amendment of it.
    pub supersedes: FactId,
    /// What stands now; `None` withdraws the fact.
    pub replacement: Option<Box<Entry>>,
}

impl From<Host> for Stream {
    fn from(host: Host) -> Self {
        match host {
            Host::Engine(id) => Self::engine(id),
            Host::Aircraft(id) => Self::aircraft(id),
        }
    }
}

impl From<Affected> for Stream {
    fn from(affected: Affected) -> Self {
        match affected {
            Affected::Engine(id) => Self::engine(id),
            Affected::Component(id) => Self::component(id),
        }
    }
}

impl Content {
    /// The stream this belongs to.
    #[must_use]
    pub fn stream(&self) -> Stream {
        match self {
            Self::PartyRegistered(it) => Stream::party(it.party),
            Self::AircraftRegistered(it) => Stream::aircraft(it.aircraft),
            Self::EngineRegistered(it) => Stream::engine(it.engine),
            Self::ComponentRegistered(it) => Stream::component(it.component),
            Self::Ownership(it) => it.of.into(),
            Self::Custody(it) => Stream::engine(it.engine),
            Self::Erased(it) => Stream::party(it.party),
            Self::EngineRemoved(it) => Stream::engine(it.engine),
            Self::EngineInstalled(it) => Stream::engine(it.engine),
            Self::ComponentRemoved(it) => Stream::component(it.component),
            Self::ComponentFitted(it) => Stream::component(it.component),
            Self::MeterChanged(it) => Stream::aircraft(it.aircraft),
            Self::Reading(it) => it.of.into(),
            Self::Inspection(it) => Stream::engine(it.engine),
            Self::Event(it) => it.of.into(),
            Self::Preserved(it) => Stream::engine(it.engine),
            Self::Concession(it) => Stream::engine(it.engine),
            Self::HoursAccepted(it) => Stream::engine(it.engine),
            Self::ComponentOverhauled(it) => Stream::component(it.component),
            Self::MakerRestart(it) => Stream::engine(it.engine),
            Self::Described(it) => it.of.into(),
            Self::ProgrammeActivated(_) => Stream::fleet(),
            Self::Amendment(it) => it.stream,
        }
    }

    /// The other streams whose hours this ties to its own, in no order.
    #[must_use]
    pub fn links(&self) -> Vec<Stream> {
        match self {
            Self::EngineInstalled(it) => vec![Stream::aircraft(it.aircraft)],
            Self::ComponentFitted(it) => vec![it.host.into()],
            Self::Amendment(it) => {
                it.replacement.as_ref().map_or_else(Vec::new, |entry| entry.content.links())
            }
            _ => Vec::new(),
        }
    }
}
