//! What a workshop says it found, measured and did.

use super::{Fastening, MatchedSet};
use crate::hours::Hours;
use crate::ids::{EngineId, ItemId, PartyId, PositionId, Quantity};
use crate::programme::Action;
use crate::sheet::Readings;
use chrono::NaiveDate;

/// What a workshop found and did between two days.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Inspection {
    /// The engine.
    pub engine: EngineId,
    /// The workshop.
    pub shop: PartyId,
    /// The workshop's own number for the job.
    pub work_order: Option<String>,
    /// The sheet of the engine type that it answers.
    pub sheet: Option<ItemId>,
    /// The day the work was begun. The day it was released is the fact's own day.
    pub opened_on: NaiveDate,
    /// Whether a release was recorded with it (who and under which licence travels beside the fact).
    pub released: bool,
    /// What the aircraft's hour meter showed, and when.
    pub readings: Vec<InspectionReading>,
    /// Hours since new as the workshop's papers state them, for an engine off its aircraft or from
    /// before these records.
    pub tsn: Option<Hours>,
    /// What was found.
    pub findings: Vec<Finding>,
    /// What was measured.
    pub measurements: Vec<Measurement>,
    /// What was done.
    pub work: Vec<WorkDone>,
    /// Marks made on parts, so that they go back where they ran.
    pub marks: Vec<Mark>,
    /// The engine was overhauled as a whole.
    pub overhaul: Option<OverhaulScope>,
    /// Hours run on the bench after the work, completing an overhaul.
    pub test_run: Option<Hours>,
    /// Hours run in on the bench besides the test run.
    pub run_in: Option<Hours>,
    /// How things were fastened, as found and as left.
    pub fastenings: Vec<Fastening>,
    /// Which parts were put together at each position.
    pub matched: Vec<MatchedSet>,
}

/// One look at the aircraft's hour meter during an inspection.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct InspectionReading {
    /// The day, between opened and released.
    pub on: NaiveDate,
    /// What the meter showed.
    pub meter: Hours,
}

/// How much of the engine an overhaul covered. Only `Full`, completed by a test run, restarts the hours
/// since overhaul.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum OverhaulScope {
    /// Heads, cylinders, pistons, rings.
    TopEnd,
    /// The crankshaft and its bearings.
    Crankshaft,
    /// All of it.
    Full,
}

impl OverhaulScope {
    /// All scopes, in the order in which messages list them.
    pub const ALL: [Self; 3] = [Self::TopEnd, Self::Crankshaft, Self::Full];

    /// The word used in the API.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::TopEnd => "top-end",
            Self::Crankshaft => "crankshaft",
            Self::Full => "full",
        }
    }
}

/// What was found at one place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Finding {
    /// What was looked at: an item of the programme or another short name.
    pub item: ItemId,
    /// Where.
    pub position: Option<PositionId>,
    /// In what state.
    pub condition: Condition,
    /// When to look again at the latest, for `monitor`.
    pub recheck: Option<Recheck>,
    /// The photographs that show it, each by the SHA-256 of its file.
    pub photos: Vec<[u8; 32]>,
}

/// When to look again: after so many hours, or by a day, whichever comes first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Recheck {
    /// So many running hours from then.
    pub hours: Option<Hours>,
    /// By this day.
    pub on: Option<NaiveDate>,
}

/// The state a part was found in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Condition {
    /// Fit for use.
    Serviceable,
    /// Fit for now; look again.
    Monitor,
    /// To be repaired.
    Repair,
    /// To be renewed.
    Renew,
    /// Never to be used again.
    Scrap,
    /// Not looked at.
    NotInspected,
}

impl Condition {
    /// All conditions, in the order in which messages list them.
    pub const ALL: [Self; 6] = [
        Self::Serviceable,
        Self::Monitor,
        Self::Repair,
        Self::Renew,
        Self::Scrap,
        Self::NotInspected,
    ];

    /// Whether it says something of the part itself that another engine does not change.
    #[must_use]
    pub const fn stays_with_part(self) -> bool {
        matches!(self, Self::Repair | Self::Renew | Self::Scrap)
    }

    /// The word used in the API and on paper.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Serviceable => "serviceable",
            Self::Monitor => "monitor",
            Self::Repair => "repair",
            Self::Renew => "renew",
            Self::Scrap => "scrap",
            Self::NotInspected => "not-inspected",
        }
    }
}

/// What was measured of one quantity at one place, kept as written. Numbers are plain decimals without
/// trailing zeros.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Measurement {
    /// What was measured.
    pub quantity: Quantity,
    /// Where.
    pub position: Option<PositionId>,
    /// What was read.
    pub taken: Taken,
    /// Its unit.
    pub unit: String,
    /// What it was measured with, where that was said.
    pub gauge: Option<String>,
    /// The expanded uncertainty of that gauge, in the same unit.
    pub uncertainty: Option<String>,
    /// The temperature of the winding or part, as a number and its unit.
    pub temperature: Option<(String, String)>,
    /// The torque wrench and its straight extension, where the readings are what the wrench showed.
    pub wrench: Option<WrenchUsed>,
}

/// The readings of one measurement, in the order in which they were taken.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Taken {
    /// One.
    One(String),
    /// Several, such as the nuts of a head in order.
    Several(Vec<String>),
    /// Two directions at right angles on the same levels, top to bottom.
    Grid {
        /// One direction.
        a: Vec<String>,
        /// The other.
        b: Vec<String>,
    },
}

impl Taken {
    /// All readings: a grid gives its first direction, then its second.
    pub fn all(&self) -> impl Iterator<Item = &String> {
        let (first, second): (&[String], &[String]) = match self {
            Self::One(value) => (std::slice::from_ref(value), &[]),
            Self::Several(values) => (values, &[]),
            Self::Grid { a, b } => (a, b),
        };
        first.iter().chain(second)
    }

    /// Whether it holds as many readings as a sheet asks for.
    #[must_use]
    pub fn holds(&self, asked: Readings) -> bool {
        let enough = |asked: u32, held: usize| usize::try_from(asked).is_ok_and(|it| held >= it);
        match (asked, self) {
            (Readings::Grid(levels), Self::Grid { a, .. }) => enough(levels, a.len()),
            (Readings::Grid(_), _) => false,
            (Readings::Count(count), _) => enough(count, self.all().count()),
        }
    }
}

/// A torque wrench with a straight extension, both lengths in one unit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WrenchUsed {
    /// From the drive to the middle of the grip.
    pub length: String,
    /// From the drive to the fastener; below zero when it points back.
    pub extension: String,
}

/// One thing that was done.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WorkDone {
    /// The item of the programme that it answers.
    pub item: ItemId,
    /// Where; empty for an item of the engine as a whole.
    pub positions: Vec<PositionId>,
    /// What was done.
    pub action: Action,
}

/// A mark made on a part.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mark {
    /// On what.
    pub item: ItemId,
    /// Where.
    pub position: Option<PositionId>,
    /// The mark.
    pub text: String,
    /// The photographs that show it, each by the SHA-256 of its file.
    pub photos: Vec<[u8; 32]>,
}
