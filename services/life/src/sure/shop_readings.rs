//! What workshops measured on an engine, so that their gauges can be held against one another.
//!
//! Only readings of the same thing can be compared: a renewal at the place, or an overhaul, begins another one. What
//! is measured in the first hours after that is left out, since wear is no straight line there.

use super::decimal_hours;
use crate::clock::Moment;
use crate::fact::Inspection;
use crate::history::{EngineState, rank};
use crate::hours::Hours;
use crate::ids::{FactId, PartyId, PositionId, Quantity};
use crate::measure::{Ratio, read};
use crate::programme::Action;
use crate::sheet::Bench;
use chrono::NaiveDate;

/// Readings of the first hours of a thing are left out.
pub const RUN_IN: Hours = Hours::from_whole(50);

/// One measurement: of several readings their mean.
#[derive(Clone, Debug, PartialEq)]
pub struct ShopReading {
    /// What was measured.
    pub quantity: Quantity,
    /// Where.
    pub position: Option<PositionId>,
    /// By whom.
    pub shop: PartyId,
    /// Which thing it was, counted from 0 at that place of the engine.
    pub thing: usize,
    /// The engine's hours.
    pub hours: f64,
    /// The value, in the unit of the quantity.
    pub value: f64,
}

/// What inspections measured on an engine. What cannot be compared with the figures of its quantity is left out, and
/// so is what was measured when the hours were not known.
#[must_use]
pub fn shop_readings(
    engine: &EngineState,
    inspections: &[(FactId, NaiveDate, &Inspection)],
    bench: &Bench,
) -> Vec<ShopReading> {
    let mut readings = Vec::new();
    for (fact, on, inspection) in inspections {
        let moment =
            Moment { on: *on, order_in_day: u16::MAX, rank: rank::INSPECTION, fact: *fact };
        let Some(now) = engine.clock.at(moment) else { continue };
        for measurement in &inspection.measurements {
            let rule = bench.quantity(&measurement.quantity);
            let values = rule.and_then(|rule| read(measurement, rule).ok()).map(|it| it.readings);
            let value = values.and_then(|values| mean(values.iter().map(|it| it.value)));
            let renewals = renewals(engine, measurement.position.as_ref(), moment);
            let begun = renewals.last().copied().flatten().unwrap_or(Hours::ZERO);
            let Some(value) = value.filter(|_| now.hours - begun >= RUN_IN) else { continue };
            readings.push(ShopReading {
                quantity: measurement.quantity.clone(),
                position: measurement.position.clone(),
                shop: inspection.shop,
                thing: renewals.len(),
                hours: decimal_hours(now.hours),
                value,
            });
        }
    }
    readings
}

/// The engine's hours, where known, each time that something else was put at a place before a moment. A measurement
/// of the engine as a whole may be of anything.
fn renewals(
    engine: &EngineState,
    position: Option<&PositionId>,
    before: Moment,
) -> Vec<Option<Hours>> {
    let here = |at: &[PositionId]| position.is_none_or(|it| at.is_empty() || at.contains(it));
    let renewed = engine.work.iter().filter(|work| {
        matches!(work.action, Action::Renewed | Action::Overhauled) && here(&work.positions)
    });
    let moments =
        renewed.map(|work| work.moment).chain(engine.overhauls.iter().map(|it| it.moment));
    let mut moments: Vec<Moment> = moments.filter(|moment| moment.on < before.on).collect();
    moments.sort_unstable();
    moments.dedup_by_key(|moment| moment.on);
    moments.into_iter().map(|moment| engine.clock.at(moment).map(|point| point.hours)).collect()
}

/// The mean, as near as nine decimals.
fn mean(values: impl Iterator<Item = Ratio>) -> Option<f64> {
    let numbers: Vec<f64> =
        values.map(|value| value.rounded(9)?.to_string().parse().ok()).collect::<Option<_>>()?;
    let count = super::real(numbers.len());
    Some(numbers.iter().sum::<f64>() / count).filter(|mean| mean.is_finite())
}
