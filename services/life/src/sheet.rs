//! Inspection sheets: what an engine type asks a bench to look at, measure and mark, point by point, and which
//! points an inspection leaves open.

use crate::bench::Strokes;
use crate::fact::Inspection;
use crate::ids::{ItemId, PositionId, Quantity};
use crate::measure::QuantityRule;

/// What an engine type says of the bench: the quantities it measures and the sheets it fills in.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Bench {
    /// How the engine breathes; required before a compression is judged.
    pub strokes: Option<Strokes>,
    /// The quantities, in the order of the file.
    pub quantities: Vec<QuantityRule>,
    /// The sheets, in the order of the file.
    pub sheets: Vec<Sheet>,
}

impl Bench {
    /// The quantity of this name.
    #[must_use]
    pub fn quantity(&self, id: &Quantity) -> Option<&QuantityRule> {
        self.quantities.iter().find(|rule| rule.id == *id)
    }

    /// The sheet of this name.
    #[must_use]
    pub fn sheet(&self, id: &ItemId) -> Option<&Sheet> {
        self.sheets.iter().find(|sheet| sheet.id == *id)
    }
}

/// A sheet: points in the order in which a bench goes through them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sheet {
    /// Its short name, used in posts.
    pub id: ItemId,
    /// What people call it.
    pub title: String,
    /// When it is used.
    pub kind: SheetKind,
    /// Its points.
    pub points: Vec<Point>,
}

/// When a sheet is used.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum SheetKind {
    /// The engine is taken apart.
    Teardown,
    /// Heads, cylinders, pistons, rings.
    TopEnd,
    /// Every hundred hours.
    HundredHour,
    /// Once a year, or for the condition.
    Annual,
    /// Ignition and charging.
    Electrical,
    /// After something happened.
    PostEvent,
}

impl SheetKind {
    /// All kinds, in the order in which messages list them.
    pub const ALL: [Self; 6] = [
        Self::Teardown,
        Self::TopEnd,
        Self::HundredHour,
        Self::Annual,
        Self::Electrical,
        Self::PostEvent,
    ];

    /// The word used in files and in the API.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Teardown => "teardown",
            Self::TopEnd => "top-end",
            Self::HundredHour => "100-hour",
            Self::Annual => "annual",
            Self::Electrical => "electrical",
            Self::PostEvent => "post-event",
        }
    }
}

/// One point of a sheet.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Point {
    /// What is asked.
    pub asks: Asked,
    /// In the words of the sheet.
    pub title: String,
    /// Where, one entry each; none means one entry for the engine.
    pub positions: Vec<PositionId>,
    /// Lines to write on, on paper.
    pub lines: u32,
}

/// What a point asks for, and what answers it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Asked {
    /// A finding under this name.
    Look(ItemId),
    /// A measurement of this quantity, of so many readings.
    Measure(Quantity, Readings),
    /// A torque of this quantity, of so many readings, in the order of the fasteners.
    Torque(Quantity, Readings),
    /// A mark on this.
    Mark(ItemId),
    /// A photograph of this.
    Photo(ItemId),
}

/// How many readings a point asks for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Readings {
    /// So many, one after the other.
    Count(u32),
    /// Two directions on so many levels.
    Grid(u32),
}

impl Asked {
    /// The word used in files and in the API.
    #[must_use]
    pub const fn word(&self) -> &'static str {
        match self {
            Self::Look(_) => "look",
            Self::Measure(..) => "measure",
            Self::Torque(..) => "torque",
            Self::Mark(_) => "mark",
            Self::Photo(_) => "photo",
        }
    }

    /// What its answer names as its item.
    #[must_use]
    pub const fn item(&self) -> Option<&ItemId> {
        match self {
            Self::Look(item) | Self::Mark(item) | Self::Photo(item) => Some(item),
            Self::Measure(..) | Self::Torque(..) => None,
        }
    }

    /// What its answer measures, and how often.
    #[must_use]
    pub const fn quantity(&self) -> Option<(&Quantity, Readings)> {
        match self {
            Self::Measure(quantity, readings) | Self::Torque(quantity, readings) => {
                Some((quantity, *readings))
            }
            Self::Look(_) | Self::Mark(_) | Self::Photo(_) => None,
        }
    }

    /// Whether a report answers it at a place.
    fn answered(&self, report: &Inspection, place: Option<&PositionId>) -> bool {
        let here = |position: Option<&PositionId>| place.is_none() || position == place;
        match self {
            Self::Look(item) => {
                report.findings.iter().any(|it| it.item == *item && here(it.position.as_ref()))
            }
            Self::Measure(quantity, readings) | Self::Torque(quantity, readings) => {
                let mut own = report.measurements.iter().filter(|it| it.quantity == *quantity);
                own.any(|it| here(it.position.as_ref()) && it.taken.holds(*readings))
            }
            Self::Mark(item) => {
                report.marks.iter().any(|it| it.item == *item && here(it.position.as_ref()))
            }
            // A photograph is welcome and never missing: a report is complete in words and figures.
            Self::Photo(_) => true,
        }
    }
}

impl Point {
    /// Its places: one entry each, `None` for the engine as a whole.
    pub fn places(&self) -> impl Iterator<Item = Option<&PositionId>> {
        let whole = self.positions.is_empty().then_some(None);
        whole.into_iter().chain(self.positions.iter().map(Some))
    }
}

/// A point that a report leaves open.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Missing<'a> {
    /// Its number on the sheet, from 1.
    pub number: usize,
    /// The point.
    pub point: &'a Point,
    /// At which of its places.
    pub position: Option<&'a PositionId>,
}

impl Sheet {
    /// How many entries a full answer has.
    #[must_use]
    pub fn entries(&self) -> usize {
        self.points.iter().map(|point| point.positions.len().max(1)).sum()
    }

    /// What a report leaves open, in the order of the sheet. A point that was looked at and could not be
    /// inspected is answered by saying so.
    #[must_use]
    pub fn missing(&self, report: &Inspection) -> Vec<Missing<'_>> {
        let numbered = (1..).zip(&self.points);
        let entries = numbered.flat_map(|(number, point)| {
            point.places().map(move |position| Missing { number, point, position })
        });
        entries.filter(|it| !it.point.asks.answered(report, it.position)).collect()
    }
}
