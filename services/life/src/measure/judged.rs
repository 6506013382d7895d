//! What an inspection's readings prove, quantity by quantity and place by place.

use super::derive::{self, Shape};
use super::interval::Interval;
use super::quantity::{Derivation, Derived, QuantityRule};
use super::ratio::Ratio;
use super::read::{Read, Unread, read};
use super::verdict::{Verdict, judge};
use crate::bench::Strokes;
use crate::fact::{Inspection, Measurement};
use crate::ids::{PositionId, Quantity};
use crate::sheet::Bench;
use std::fmt;

/// What is made of one quantity at one place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Judgement<'a> {
    /// The quantity as the engine type defines it, whose limits count.
    pub rule: &'a QuantityRule,
    /// Where.
    pub position: Option<&'a PositionId>,
    /// The reading that decides, in the rule's unit; `None` where there is none to be compared.
    pub reading: Option<Interval>,
    /// What it comes to.
    pub outcome: Outcome,
}

/// What a reading comes to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Outcome {
    /// Judged against the limits of the engine type.
    Judged(Verdict),
    /// To be compared with the engine's own earlier figures, and never judged: the compression of a two-stroke.
    Comparative,
    /// The engine type sets no limit.
    NoLimit,
    /// Cannot be said, for a reason.
    CannotSay(Why),
}

/// Why nothing can be said.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Why {
    /// The measurement itself cannot be compared.
    Unread(Unread),
    /// Readings that it follows from do not fit together: an unequal grid, a supply of zero, no duration.
    Sources,
    /// Whether the engine is a two-stroke is not known.
    Strokes,
}

impl Outcome {
    /// The word used in the API.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Judged(verdict) => verdict.word(),
            Self::Comparative => "comparative-only",
            Self::NoLimit => "no-limit",
            Self::CannotSay(_) => "cannot-say",
        }
    }

    /// The words printed on paper and pages.
    #[must_use]
    pub const fn printed(self) -> &'static str {
        match self {
            Self::Judged(verdict) => verdict.printed(),
            Self::Comparative => {
                "to be compared with this engine's earlier figures only; on a two-stroke it is no judgement"
            }
            Self::NoLimit => "the engine type sets no limit",
            Self::CannotSay(Why::Unread(Unread::Unit)) => {
                "cannot say: its unit is not one of this quantity"
            }
            Self::CannotSay(Why::Unread(Unread::Number)) => {
                "cannot say: a number is too large or too fine"
            }
            Self::CannotSay(Why::Unread(Unread::Temperature)) => {
                "cannot say: the temperature of the winding is needed"
            }
            Self::CannotSay(Why::Unread(Unread::Wrench)) => "cannot say: no wrench is like that",
            Self::CannotSay(Why::Sources) => {
                "cannot say: the readings that it follows from do not fit together"
            }
            Self::CannotSay(Why::Strokes) => {
                "cannot say: the engine type does not tell its strokes"
            }
        }
    }
}

/// In words, as a line of a record: `Bore, pto: 67.61 mm (67.6 to 67.62), at most 67.62: within limit`.
impl fmt::Display for Judgement<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let unit = self.rule.unit;
        f.write_str(&self.rule.title)?;
        if let Some(position) = self.position {
            write!(f, ", {position}")?;
        }
        f.write_str(": ")?;
        if let Some(reading) = self.reading {
            write!(f, "{} {unit}", reading.value)?;
            if reading.low != reading.high {
                write!(f, " ({} to {})", reading.low, reading.high)?;
            }
            if !self.rule.limit.is_empty() {
                write!(f, ", {}", self.rule.limit)?;
            }
            f.write_str(": ")?;
        }
        f.write_str(self.outcome.printed())
    }
}

/// Everything that an inspection's measurements come to: first what was measured and has a limit, in the order
/// posted, then what follows from it, in the order of the file. What nothing is known of is left out.
#[must_use]
pub fn judgements<'a>(report: &'a Inspection, bench: &'a Bench) -> Vec<Judgement<'a>> {
    let report = &report.measurements;
    let measured = report.iter().filter_map(|it| measured(it, bench));
    let derived = bench.quantities.iter().flat_map(|rule| derived(rule, report, bench));
    measured.chain(derived).collect()
}

/// The readings of one quantity at one place, in its rule's unit: the figure that follows from others, else those
/// measured last. Empty where there is nothing to be compared.
#[must_use]
pub fn readings_of(
    rule: &QuantityRule,
    position: Option<&PositionId>,
    report: &[Measurement],
    bench: &Bench,
) -> Vec<Interval> {
    if rule.derived.is_some() {
        let all = derived(rule, report, bench).into_iter();
        let worked_out: Vec<Interval> =
            all.filter(|it| it.position == position).filter_map(|it| it.reading).collect();
        // Whoever measured the figure itself has a reading too: a clearance by feeler gauge, say.
        if !worked_out.is_empty() {
            return worked_out;
        }
    }
    let read = source(&rule.id, position, report, bench).and_then(Result::ok);
    read.map_or_else(Vec::new, |read| read.readings)
}

fn measured<'a>(measurement: &'a Measurement, bench: &'a Bench) -> Option<Judgement<'a>> {
    let rule = bench.quantity(&measurement.quantity)?;
    if rule.limit.is_empty() {
        return None;
    }
    let position = measurement.position.as_ref();
    Some(match read(measurement, rule) {
        Ok(read) => {
            let judged = worst(rule, position, &read.readings);
            match never_judged(rule, bench) {
                Some(outcome) => Judgement { outcome, ..judged },
                None => judged,
            }
        }
        Err(why) => {
            let outcome = Outcome::CannotSay(Why::Unread(why));
            Judgement { rule, position, reading: None, outcome }
        }
    })
}

/// Of several readings each is judged, and the worst counts; among equals, the one nearest to a limit.
fn worst<'a>(
    rule: &'a QuantityRule,
    position: Option<&'a PositionId>,
    readings: &[Interval],
) -> Judgement<'a> {
    let far = |reading: &Interval| {
        let over = rule.limit.max.and_then(|max| reading.value.minus(max.into()));
        let under = rule.limit.min.and_then(|min| Ratio::from(min).minus(reading.value));
        over.max(under)
    };
    let judged =
        readings.iter().map(|reading| (judge(*reading, rule.limit), far(reading), reading));
    let decides = judged.max_by_key(|(verdict, far, _)| (*verdict, *far));
    let outcome = decides.map_or(Outcome::CannotSay(Why::Sources), |(it, ..)| Outcome::Judged(it));
    Judgement { rule, position, reading: decides.map(|(.., reading)| *reading), outcome }
}

/// What follows at each place where everything that it follows from was measured.
fn derived<'a>(
    rule: &'a QuantityRule,
    report: &'a [Measurement],
    bench: &'a Bench,
) -> Vec<Judgement<'a>> {
    let Some(derived) = &rule.derived else { return Vec::new() };
    let whole = rule.positions.is_empty().then_some(None);
    let places = whole.into_iter().chain(rule.positions.iter().map(Some));
    let judgement = |position: Option<&'a PositionId>| {
        let sources: Option<Vec<_>> =
            derived.of.iter().map(|of| source(of, position, report, bench)).collect();
        let sources: Result<Vec<Read<'_>>, Unread> = sources?.into_iter().collect();
        let (reading, outcome) = match sources {
            Err(why) => (None, Outcome::CannotSay(Why::Unread(why))),
            Ok(sources) if !fits(derived.by, &sources) => return None,
            Ok(sources) => match figure(derived.by, &sources) {
                None => (None, Outcome::CannotSay(Why::Sources)),
                Some(reading) => (Some(reading), outcome(rule, reading, bench)),
            },
        };
        Some(Judgement { rule, position, reading, outcome })
    };
    places.filter_map(judgement).collect()
}

/// What a figure that follows from others comes to.
fn outcome(rule: &QuantityRule, reading: Interval, bench: &Bench) -> Outcome {
    never_judged(rule, bench).unwrap_or_else(|| {
        if rule.limit.is_empty() {
            Outcome::NoLimit
        } else {
            Outcome::Judged(judge(reading, rule.limit))
        }
    })
}

/// A two-stroke's compression, loss and pressures alike, is never judged, whatever limit a file may set.
fn never_judged(rule: &QuantityRule, bench: &Bench) -> Option<Outcome> {
    let is_loss = |it: &Derived| it.by == Derivation::CompressionLoss;
    let of_loss = |it: &QuantityRule| {
        it.derived.as_ref().is_some_and(|it| is_loss(it) && it.of.contains(&rule.id))
    };
    if !rule.derived.as_ref().is_some_and(is_loss) && !bench.quantities.iter().any(of_loss) {
        return None;
    }
    match bench.strokes {
        Some(Strokes::Four) => None,
        Some(Strokes::Two) => Some(Outcome::Comparative),
        None => Some(Outcome::CannotSay(Why::Strokes)),
    }
}

/// What was measured of a quantity at a place, or for the engine where it is measured once; the last one posted.
fn source<'a>(
    of: &Quantity,
    position: Option<&PositionId>,
    report: &'a [Measurement],
    bench: &Bench,
) -> Option<Result<Read<'a>, Unread>> {
    let rule = bench.quantity(of)?;
    let position = if rule.positions.is_empty() { None } else { position };
    let mut own = report.iter().rev().filter(|it| it.quantity == *of);
    own.find(|it| it.position.as_ref() == position).map(|it| read(it, rule))
}

/// Whether the readings are such that the figure follows at all: no shape from a single diameter, no spread of
/// one reading.
fn fits(by: Derivation, sources: &[Read<'_>]) -> bool {
    let mut sources = sources.iter();
    match by {
        Derivation::OutOfRound | Derivation::Taper => sources.all(|it| it.grid.is_some()),
        Derivation::Spread => sources.all(|it| it.readings.len() > 1),
        _ => true,
    }
}

/// The figure itself, in the rule's unit. The catalogue has seen to it that units and numbers of sources fit.
fn figure(by: Derivation, sources: &[Read<'_>]) -> Option<Interval> {
    let one = |at: usize| sources.get(at)?.readings.first().copied();
    match by {
        Derivation::OutOfRound => shape(sources.first()?, Shape::OutOfRound),
        Derivation::Taper => shape(sources.first()?, Shape::Taper),
        Derivation::Spread => derive::spread(&sources.first()?.readings),
        Derivation::Clearance => {
            derive::clearance(&sources.first()?.readings, &sources.get(1)?.readings)
        }
        Derivation::PercentOf => derive::percent(one(0)?, one(1)?),
        Derivation::CompressionLoss => derive::loss_percent(one(0)?, one(1)?),
        Derivation::LossRate => derive::loss_rate(one(0)?, one(1)?, one(2)?),
        Derivation::Quotient => derive::polarisation_index(one(0)?, one(1)?),
    }
}

/// The shape of a bore, worked out in the unit that it was measured in.
fn shape(read: &Read<'_>, shape: Shape) -> Option<Interval> {
    let (a, b, uncertainty) = read.grid.as_ref()?;
    let found = derive::bore_shape(a, b, *uncertainty, shape).ok()?;
    found.each(|it| it.times(read.per))
}
