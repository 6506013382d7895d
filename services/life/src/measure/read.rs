//! A posted measurement in the unit of its rule, with what its gauge leaves open.

use super::derive;
use super::interval::Interval;
use super::quantity::{CorrectedBy, QuantityRule};
use super::ratio::Ratio;
use super::unit::{Dimension, Unit};
use crate::bench::Wrench;
use crate::decimal::Decimal;
use crate::fact::{Measurement, Taken};

/// A measurement as it can be judged.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Read<'a> {
    /// As it was posted.
    pub measurement: &'a Measurement,
    /// Every reading in the order posted, in the unit of the rule, brought to its temperature.
    pub readings: Vec<Interval>,
    /// The two directions of a grid as posted, and their uncertainty, in the posted unit.
    pub(crate) grid: Option<(Vec<Decimal>, Vec<Decimal>, Decimal)>,
    /// How many of the rule's unit one of the posted unit is.
    pub(crate) per: Ratio,
}

/// Why a measurement cannot be compared with the figures of its rule.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Unread {
    /// Its unit is not known, or measures something else.
    Unit,
    /// A number that is too large or too fine.
    Number,
    /// The temperature of the winding is not there, or cannot be.
    Temperature,
    /// A wrench that cannot be.
    Wrench,
}

/// A measurement in the unit of its rule.
///
/// Without a gauge of its own the usual gauge's uncertainty counts; where there is none either, the reading is
/// taken as exact.
///
/// # Errors
/// [`Unread`] where it cannot be compared.
pub fn read<'a>(measurement: &'a Measurement, rule: &QuantityRule) -> Result<Read<'a>, Unread> {
    let unit = unit_of(measurement, rule).ok_or(Unread::Unit)?;
    let per = unit.per(rule.unit).ok_or(Unread::Unit)?;
    let uncertainty = uncertainty(measurement, rule, unit)?;
    let shown = numbers(measurement.taken.all())?;
    let mut readings = Vec::with_capacity(shown.len());
    for value in shown {
        let at_fastener = through_wrench(measurement, value)?;
        let interval = Interval::around(at_fastener.into(), uncertainty);
        let own = interval.and_then(|it| unit.convert_interval(it, rule.unit));
        readings.push(corrected(measurement, rule, own.ok_or(Unread::Number)?)?);
    }
    let grid = match &measurement.taken {
        Taken::Grid { a, b } => {
            let uncertainty = uncertainty.exactly().or_else(|| uncertainty.rounded(9));
            Some((numbers(a)?, numbers(b)?, uncertainty.ok_or(Unread::Number)?))
        }
        Taken::One(_) | Taken::Several(_) => None,
    };
    Ok(Read { measurement, readings, grid, per })
}

/// The first reading that lies outside what the quantity can be at all, by its place in the order of the
/// readings, in the unit of the rule. `None` too where nothing can be compared.
#[must_use]
pub fn impossible(measurement: &Measurement, rule: &QuantityRule) -> Option<(usize, Ratio)> {
    let unit = unit_of(measurement, rule)?;
    let values = numbers(measurement.taken.all()).ok()?;
    let own = values.into_iter().map(|value| {
        let at_fastener = through_wrench(measurement, value).ok()?;
        unit.convert(at_fastener.into(), rule.unit)
    });
    let outside = |value: &Option<Ratio>| value.is_some_and(|value| !rule.range.hold(value));
    own.enumerate().find(|(_, value)| outside(value)).and_then(|(at, value)| Some((at, value?)))
}

/// The unit it was posted in, where it measures what the rule is about.
pub(super) fn unit_of(measurement: &Measurement, rule: &QuantityRule) -> Option<Unit> {
    let unit = Unit::parse(&measurement.unit)?;
    (unit.dimension() == rule.unit.dimension()).then_some(unit)
}

fn numbers<'a>(texts: impl IntoIterator<Item = &'a String>) -> Result<Vec<Decimal>, Unread> {
    let parse = |text: &String| Decimal::parse(text).or(Err(Unread::Number));
    texts.into_iter().map(parse).collect()
}

/// The expanded uncertainty, in the posted unit.
fn uncertainty(
    measurement: &Measurement,
    rule: &QuantityRule,
    unit: Unit,
) -> Result<Ratio, Unread> {
    match (&measurement.uncertainty, &rule.gauge) {
        (Some(own), _) => Ok(Decimal::parse(own).or(Err(Unread::Number))?.into()),
        (None, Some(usual)) => {
            let per = rule.unit.per(unit).ok_or(Unread::Unit)?;
            Ratio::from(usual.uncertainty).times(per).ok_or(Unread::Number)
        }
        (None, None) => Ok(Ratio::ZERO),
    }
}

/// What the fastener got, where the reading is what a wrench with an extension showed.
fn through_wrench(measurement: &Measurement, shown: Decimal) -> Result<Decimal, Unread> {
    let Some(used) = &measurement.wrench else { return Ok(shown) };
    let length = |text: &str| Decimal::parse(text).or(Err(Unread::Wrench));
    let wrench = Wrench { length: length(&used.length)?, extension: length(&used.extension)? };
    wrench.target(shown).or(Err(Unread::Wrench))
}

/// Brought to the temperature of the rule.
fn corrected(
    measurement: &Measurement,
    rule: &QuantityRule,
    reading: Interval,
) -> Result<Interval, Unread> {
    let Some(correction) = rule.correction else { return Ok(reading) };
    let (value, unit) = measurement.temperature.as_ref().ok_or(Unread::Temperature)?;
    let unit = Unit::parse(unit).filter(|unit| unit.dimension() == Dimension::Temperature);
    let value = Decimal::parse(value).or(Err(Unread::Temperature))?;
    let celsius = unit.and_then(|unit| unit.convert(value.into(), Unit::Celsius));
    let celsius = celsius.ok_or(Unread::Temperature)?;
    let by = match correction.by {
        CorrectedBy::Copper => derive::copper,
        CorrectedBy::Insulation => derive::insulation,
    };
    reading.each(|it| by(it, celsius, correction.to_c)).ok_or(Unread::Temperature)
}
