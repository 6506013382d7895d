//! What happens to an engine or part besides running and work: events, storage, permissions, descriptions.

use crate::hours::Hours;
use crate::ids::{ComponentId, EngineId, ItemId, PositionId};
use chrono::NaiveDate;
use std::collections::{BTreeMap, BTreeSet};

/// An inspector accepts an estimate of the hours of an engine that came with no log. It can make a line more urgent,
/// never less, and sets neither hours since new nor what is left of a life.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct HoursAccepted {
    /// Which engine.
    pub engine: EngineId,
    /// The working figure: hours that it had run by that day, which 95 of 100 such engines do not exceed.
    pub hours: Hours,
    /// The day by which the estimate is to be looked at again.
    pub until: NaiveDate,
}

/// What an event or an overhaul is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Affected {
    /// An engine, with every part that is on it.
    Engine(EngineId),
    /// One component alone.
    Component(ComponentId),
}

/// Something happened that a programme may ask to look after at once.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Event {
    /// To what.
    pub of: Affected,
    /// What.
    pub kind: EventKind,
    /// What the aircraft's hour meter showed, if somebody looked.
    pub meter: Option<Hours>,
}

/// What happened.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum EventKind {
    /// The propeller struck something.
    PropellerStrike,
    /// The engine stopped at once.
    SuddenStoppage,
    /// It ran too hot.
    Overheat,
    /// A piston or bearing seized.
    Seizure,
    /// It ran too fast.
    Overspeed,
    /// It was under water.
    Immersion,
    /// The wrong fuel, or bad fuel.
    FuelError,
    /// The wrong oil, or too little.
    OilError,
    /// It came back into use after storage.
    ReturnToUse,
}

impl EventKind {
    /// All kinds, in the order in which messages list them.
    pub const ALL: [Self; 9] = [
        Self::PropellerStrike,
        Self::SuddenStoppage,
        Self::Overheat,
        Self::Seizure,
        Self::Overspeed,
        Self::Immersion,
        Self::FuelError,
        Self::OilError,
        Self::ReturnToUse,
    ];

    /// The word used in files and in the API.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::PropellerStrike => "propeller-strike",
            Self::SuddenStoppage => "sudden-stoppage",
            Self::Overheat => "overheat",
            Self::Seizure => "seizure",
            Self::Overspeed => "overspeed",
            Self::Immersion => "immersion",
            Self::FuelError => "fuel-error",
            Self::OilError => "oil-error",
            Self::ReturnToUse => "return-to-use",
        }
    }

    /// The words printed on paper and pages.
    #[must_use]
    pub const fn printed(self) -> &'static str {
        match self {
            Self::PropellerStrike => "propeller strike",
            Self::SuddenStoppage => "sudden stoppage",
            Self::Overheat => "overheating",
            Self::Seizure => "seizure",
            Self::Overspeed => "overspeed",
            Self::Immersion => "immersion",
            Self::FuelError => "wrong or bad fuel",
            Self::OilError => "wrong oil or too little",
            Self::ReturnToUse => "return to use after storage",
        }
    }
}

/// An engine was preserved for storage. Coming back into use is an event.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Preserved {
    /// Which engine.
    pub engine: EngineId,
    /// How long the preservation is good for, if the method says so.
    pub until: Option<NaiveDate>,
}

/// An inspector's recorded permission to use a tolerance; it sets no hours and no life. Who gave it and
/// under which reference travels beside the fact.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Concession {
    /// For which engine.
    pub engine: EngineId,
    /// For which item.
    pub item: ItemId,
    /// Where; `None` for the engine as a whole.
    pub position: Option<PositionId>,
    /// How long it is good for.
    pub until: Option<NaiveDate>,
}

/// A component was overhauled as an assembly of its own: crankshaft, gearbox, carburettor, propeller.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ComponentOverhauled {
    /// Which component.
    pub component: ComponentId,
    /// Whether a release was recorded with it.
    pub released: bool,
}

/// The maker or its agent rebuilt the engine and started its record at zero (14 CFR 91.421). Nobody else can.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MakerRestart {
    /// Which engine.
    pub engine: EngineId,
}

/// What kind of engine, and how it is used, as far as rules ask for it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Described {
    /// The engine, or the aircraft for what holds for every engine in it.
    pub of: super::Host,
    /// The words that hold from this day on, for each thing that is described.
    pub values: BTreeMap<Attribute, BTreeSet<String>>,
}

/// What a rule may ask about an engine besides its serial number.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Attribute {
    /// Single or dual, points or electronic.
    Ignition,
    /// Private, school, tow, hire, salt air; several may hold at once.
    Use,
    /// What it burns.
    Fuel,
    /// The oil it runs on.
    Oil,
    /// Premixed or injected.
    Lubrication,
    /// The rules it is kept under.
    Regime,
}

impl Attribute {
    /// All of them, in the order in which messages list them.
    pub const ALL: [Self; 6] =
        [Self::Ignition, Self::Use, Self::Fuel, Self::Oil, Self::Lubrication, Self::Regime];

    /// The word used in files and in the API.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Ignition => "ignition",
            Self::Use => "use",
            Self::Fuel => "fuel",
            Self::Oil => "oil",
            Self::Lubrication => "lubrication",
            Self::Regime => "regime",
        }
    }
}
