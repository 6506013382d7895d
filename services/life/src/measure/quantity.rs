//! What an engine type says of a quantity: its unit, its value when new, its limits, and how it is measured.

use super::unit::Unit;
use super::verdict::Bounds;
use crate::decimal::Decimal;
use crate::ids::{ItemId, PositionId, Quantity};

/// A quantity as an engine type defines it. All its figures are in its own unit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct QuantityRule {
    /// Its short name, used in posts.
    pub id: Quantity,
    /// What people call it.
    pub title: String,
    /// The unit of the figures here, and of judgements.
    pub unit: Unit,
    /// Where it is measured; none means once for the engine.
    pub positions: Vec<PositionId>,
    /// Where its figures come from.
    pub source: String,
    /// What it is when new.
    pub new: Bounds,
    /// How far it may wear.
    pub limit: Bounds,
    /// What it can be at all: anything else is a slip, and refused.
    pub range: Bounds,
    /// What it is usually measured with.
    pub gauge: Option<Gauge>,
    /// Which way it goes with wear.
    pub wear: Option<Wear>,
    /// Quantities of one group are compared with one another; alone it is compared with itself.
    pub group: Option<Quantity>,
    /// How far readings that should be alike may lie apart.
    pub apart_max: Option<Decimal>,
    /// The item of the programme that it bears on.
    pub feeds: Option<ItemId>,
    /// To which temperature its readings are brought before they are judged.
    pub correction: Option<Correction>,
    /// How it follows from other quantities; `None` where it is measured itself.
    pub derived: Option<Derived>,
}

/// The usual gauge of a quantity.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Gauge {
    /// What people call it.
    pub name: String,
    /// Its expanded uncertainty (k = 2), which counts where a post gives none.
    pub uncertainty: Decimal,
}

/// Which way a quantity goes with wear.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Wear {
    /// It grows: a bore, a gap.
    Rises,
    /// It shrinks: a piston, an insulation resistance.
    Falls,
}

impl Wear {
    /// Both ways, in the order in which messages list them.
    pub const ALL: [Self; 2] = [Self::Rises, Self::Falls];

    /// The word used in files and in the API.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Rises => "rises",
            Self::Falls => "falls",
        }
    }
}

/// A resistance brought to one temperature, because it says nothing without.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Correction {
    /// By which rule.
    pub by: CorrectedBy,
    /// To which temperature, °C.
    pub to_c: i32,
}

/// The rule of a correction.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum CorrectedBy {
    /// Copper gains 0.39 percent a kelvin (IEC 60028).
    Copper,
    /// Insulation halves for every ten kelvin (IEEE 43).
    Insulation,
}

impl CorrectedBy {
    /// Both rules, in the order in which messages list them.
    pub const ALL: [Self; 2] = [Self::Copper, Self::Insulation];

    /// The word used in files and in the API.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Copper => "copper",
            Self::Insulation => "insulation",
        }
    }
}

/// A quantity that is worked out from others.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Derived {
    /// How.
    pub by: Derivation,
    /// From which, in the order that the rule names them.
    pub of: Vec<Quantity>,
}

/// How a quantity follows from others.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Derivation {
    /// The biggest difference of two directions on a level, from a grid of diameters.
    OutOfRound,
    /// The biggest difference between levels in one direction, from a grid of diameters.
    Taper,
    /// The largest less the smallest of several readings.
    Spread,
    /// The smallest bore less the largest piston.
    Clearance,
    /// The first in percent of the second.
    PercentOf,
    /// The loss of a differential compression test in percent: supply, cylinder.
    CompressionLoss,
    /// The pressure lost a minute: before, after, minutes.
    LossRate,
    /// The first over the second: the polarisation index of ten minutes over one.
    Quotient,
}

impl Derivation {
    /// All derivations, in the order in which messages list them.
    pub const ALL: [Self; 8] = [
        Self::OutOfRound,
        Self::Taper,
        Self::Spread,
        Self::Clearance,
        Self::PercentOf,
        Self::CompressionLoss,
        Self::LossRate,
        Self::Quotient,
    ];

    /// The word used in files and in the API.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::OutOfRound => "out-of-round",
            Self::Taper => "taper",
            Self::Spread => "spread",
            Self::Clearance => "clearance",
            Self::PercentOf => "percent-of",
            Self::CompressionLoss => "compression-loss",
            Self::LossRate => "loss-rate",
            Self::Quotient => "quotient",
        }
    }

    /// From how many quantities it follows.
    #[must_use]
    pub const fn sources(self) -> usize {
        match self {
            Self::OutOfRound | Self::Taper | Self::Spread => 1,
            Self::Clearance | Self::PercentOf | Self::CompressionLoss | Self::Quotient => 2,
            Self::LossRate => 3,
        }
    }
}
