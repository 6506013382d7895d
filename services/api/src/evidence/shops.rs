//! Whether one workshop's gauges read high or low beside the others', quantity by quantity of an engine type.

use super::{Chunk, each_chunk};
use crate::app::App;
use crate::problem::Problem;
use chrono::NaiveDate;
use gudgeon_life::amend::standing_inspections;
use gudgeon_life::fact::Inspection;
use gudgeon_life::ids::{EngineId, FactId, PartyId, PositionId, Quantity};
use gudgeon_life::programme::EngineType;
use gudgeon_life::sure::agreement::{Agreement, Cannot, Offset, Reading, Shop, Verdict, compare};
use gudgeon_life::sure::shop_readings::shop_readings;
use serde::Serialize;
use std::collections::{BTreeMap, HashMap};

/// How the workshops that look after a type of engine agree.
#[derive(Serialize)]
pub(crate) struct ShopsOut {
    pub(crate) engine_type: String,
    pub(crate) title: String,
    engines: usize,
    /// Whether these were all of them.
    all_engines: bool,
    quantities: Vec<QuantityOut>,
}

#[derive(Serialize)]
struct QuantityOut {
    quantity: String,
    title: String,
    unit: String,
    readings: usize,
    /// Among how many comparisons one chance in twenty of a false alarm is shared.
    comparisons: usize,
    shops: Vec<ShopOut>,
}

#[derive(Serialize)]
struct ShopOut {
    shop: String,
    name: String,
    readings: usize,
    /// Things measured here and at another workshop.
    shared: usize,
    status: &'static str,
    offset: Option<f64>,
    low95: Option<f64>,
    high95: Option<f64>,
    in_words: String,
}

/// Numbers for what readings are of: the model knows workshops and things by number.
struct Numbers<T>(HashMap<T, u64>);

impl<T: Eq + std::hash::Hash> Numbers<T> {
    fn new() -> Self {
        Self(HashMap::new())
    }

    fn of(&mut self, it: T) -> u64 {
        let next = u64::try_from(self.0.len()).unwrap_or(u64::MAX);
        *self.0.entry(it).or_insert(next)
    }
}

/// Which thing a reading is of: on which engine, where, and the how-manieth there.
type Thing = (i64, Option<PositionId>, usize);

/// Compares the workshops that measured engines of a type.
pub(crate) fn shops(app: &App, engine_type: &EngineType) -> Result<ShopsOut, Problem> {
    let mut readings: BTreeMap<Quantity, Vec<Reading>> = BTreeMap::new();
    let (mut shops, mut things) = (Numbers::new(), Numbers::<Thing>::new());
    let (engines, all_engines) = each_chunk(app, engine_type, |chunk| {
        let measured = measured(chunk);
        for row in &chunk.engines {
            let of_engine = chunk.history.engine(row.engine).zip(measured.get(&row.engine));
            let told =
                of_engine.map(|(it, measured)| shop_readings(it, measured, &engine_type.bench));
            for it in told.unwrap_or_default() {
                let thing = things.of((row.key, it.position, it.thing));
                let reading = Reading {
                    shop: shops.of(it.shop),
                    engine: thing,
                    hours: it.hours,
                    value: it.value,
                };
                readings.entry(it.quantity).or_default().push(reading);
            }
        }
    })?;
    let ids: Vec<PartyId> = shops.0.keys().copied().collect();
    let parties = app.store.parties_of(&ids)?.into_iter().map(|it| (it.party, it.name));
    let mut known: HashMap<PartyId, String> = parties.collect();
    let names = shops
        .0
        .into_iter()
        .map(|(shop, number)| (number, (shop, known.remove(&shop).unwrap_or_default())));
    let names: HashMap<u64, (PartyId, String)> = names.collect();
    let told = engine_type.bench.quantities.iter().filter_map(|rule| {
        let readings = readings.get(&rule.id)?;
        let Agreement { shops, comparisons } = compare(readings);
        let shops = shops.iter().filter_map(|it| {
            let (shop, name) = names.get(&it.shop)?;
            Some(shop_out(it, *shop, name))
        });
        Some(QuantityOut {
            quantity: rule.id.to_string(),
            title: rule.title.clone(),
            unit: rule.unit.to_string(),
            readings: readings.len(),
            comparisons,
            shops: shops.collect(),
        })
    });
    Ok(ShopsOut {
        engine_type: engine_type.name.to_string(),
        title: engine_type.title.clone(),
        engines,
        all_engines,
        quantities: told.collect(),
    })
}

/// An inspection as it stands, with its record and its day.
type Measured<'a> = (FactId, NaiveDate, &'a Inspection);

/// The inspections that measured something, by engine.
fn measured(chunk: &Chunk) -> HashMap<EngineId, Vec<Measured<'_>>> {
    let mut by_engine: HashMap<EngineId, Vec<Measured<'_>>> = HashMap::new();
    for it in standing_inspections(&chunk.facts) {
        if !it.inspection.measurements.is_empty() {
            let of_engine = by_engine.entry(it.inspection.engine).or_default();
            of_engine.push((it.root, it.on, it.inspection));
        }
    }
    by_engine
}

fn shop_out(it: &Shop, shop: PartyId, name: &str) -> ShopOut {
    let told = it.answer.as_ref();
    ShopOut {
        shop: shop.to_string(),
        name: name.to_owned(),
        readings: it.readings,
        shared: it.shared,
        status: told.map_or("cannot-say", |offset| match offset.verdict() {
            Verdict::High => "reads-high",
            Verdict::Low => "reads-low",
            Verdict::NoneSeen => "none-seen",
        }),
        offset: told.ok().map(|it| it.offset),
        low95: told.ok().map(|it| it.low),
        high95: told.ok().map(|it| it.high),
        in_words: told.map_or_else(Cannot::to_string, Offset::to_string),
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;

    /// A view in which every text is a name.
    pub(crate) fn sample(name: &str) -> ShopsOut {
        let text = || name.to_owned();
        let shop = ShopOut {
            shop: text(),
            name: text(),
            readings: 3,
            shared: 1,
            status: "reads-high",
            offset: Some(0.02),
            low95: Some(0.01),
            high95: Some(0.03),
            in_words: text(),
        };
        ShopsOut {
            engine_type: text(),
            title: text(),
            engines: 1,
            all_engines: false,
            quantities: vec![QuantityOut {
                quantity: text(),
                title: text(),
                unit: "mm".to_owned(),
                readings: 3,
                comparisons: 1,
                shops: vec![shop],
            }],
        }
    }
}
