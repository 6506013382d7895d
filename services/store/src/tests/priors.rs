//! How types wear, as it is kept: learnt once a week, read back to the last bit, and followed by due lines.

#![expect(
    clippy::float_arithmetic,
    reason = "numbers that few digits do not tell come of divisions"
)]

use super::sample::{
    Bench, NOW, TYPE, activated, day, engine, engine_type, hours, inspected, installed, post,
    registered,
};
use super::transfers::{backup, restore};
use crate::append::Ready;
use crate::codec;
use crate::dialect;
use crate::foresight::Foreseen;
use crate::priors::PriorRow;
use crate::{EngineRow, Programmes};
use gudgeon_life::decimal::Decimal;
use gudgeon_life::fact::{Content, Fact, Measurement, Taken};
use gudgeon_life::ids::Quantity;
use gudgeon_life::measure::{Bounds, QuantityRule, Unit, Wear as Goes};
use gudgeon_life::programme::EngineType;
use gudgeon_life::sure::fleet::{Covariance, Fleet};
use gudgeon_life::sure::line::Line;
use gudgeon_life::sure::prior::Worn;
use gudgeon_life::wear::{Basis, TrendRule};
use std::collections::BTreeMap;
use std::sync::Arc;

fn bore() -> Quantity {
    Quantity::new("bore").expect("a short name")
}

/// The sample's type with a bore of at most 67.62 mm, which its item follows.
struct Wearing;

impl Programmes for Wearing {
    fn get(&self, _: &[u8; 32], _: &str) -> Option<Arc<EngineType>> {
        let mut it = engine_type();
        it.bench.quantities = vec![QuantityRule {
            id: bore(),
            title: "Bore".to_owned(),
            unit: Unit::Millimetre,
            positions: Vec::new(),
            source: "invented for this test".to_owned(),
            new: Bounds::default(),
            limit: Bounds { min: None, max: Decimal::parse("67.62").ok() },
            range: Bounds::default(),
            gauge: None,
            wear: Some(Goes::Rises),
            group: None,
            apart_max: None,
            feeds: None,
            correction: None,
            derived: None,
        }];
        let trend = TrendRule { quantity: bore(), run_in: hours("50") };
        it.items.iter_mut().for_each(|item| item.trend = Some(trend.clone()));
        Some(Arc::new(it))
    }
}

/// Numbers that few digits do not tell.
fn fleet() -> Fleet {
    Fleet {
        mean: Line { intercept: 67.0 + 1.0 / 3.0, slope: 0.1 + 0.2 },
        covariance: Covariance {
            intercept: 2e-5 / 7.0,
            both: -1e-9 / 3.0,
            slope: 1e-300_f64.sqrt(),
        },
        scatter_sd: f64::EPSILON.sqrt() * 3.0,
        scatter_freedom: 8.0,
        engines: 14,
    }
}

fn fleets(fleet: Fleet) -> BTreeMap<Worn, Fleet> {
    let at = |position: Option<&str>| Worn {
        quantity: bore(),
        position: position.and_then(gudgeon_life::ids::PositionId::new),
        unit: Unit::Millimetre,
    };
    [(at(None), fleet), (at(Some("mag")), Fleet { engines: 6, ..fleet })].into()
}

/// A version of how the sample's type wears.
fn version(version: i64, on: &str, slope: f64) -> PriorRow {
    let covariance = Covariance { intercept: 1e-4, both: 0.0, slope: 1e-9 };
    let mean = Line { intercept: 67.5, slope };
    let fleet = Fleet { mean, covariance, scatter_sd: 0.005, ..fleet() };
    PriorRow {
        engine_type: TYPE.to_owned(),
        version,
        worked_out_on: day(on),
        fleets: codec::write_fleets(&fleets(fleet)).expect("text"),
    }
}

fn add(bench: &Bench, row: &PriorRow) -> usize {
    bench.store.write(|conn| Ok(dialect::add_wear_prior(conn, row)?)).expect("kept")
}

#[test]
fn every_bit_and_every_unit_is_read_back() {
    let fleet =
        Fleet { covariance: Covariance { slope: 1e-9 / 7.0, ..fleet().covariance }, ..fleet() };
    assert!(fleet.is_usable());
    let all: BTreeMap<Worn, Fleet> = Unit::ALL
        .into_iter()
        .flat_map(|unit| fleets(fleet).into_iter().map(move |(of, it)| (Worn { unit, ..of }, it)))
        .collect();
    let text = codec::write_fleets(&all).expect("text");
    assert_eq!(codec::read_fleets(&text).expect("readable"), all);
    let told = all
        .into_keys()
        .map(|worn| (worn, vec![(hours("60.5"), Decimal::parse("67.512").expect("a figure"))]));
    let told = told.collect();
    let text = codec::write_told(&told).expect("text");
    assert_eq!(codec::read_told(&text).expect("readable"), told);
}

/// Engine 1, logged from new.
fn told() -> Bench {
    let bench = Bench::new();
    let added = bench.store.add_engine_type(TYPE, "wearing", [7; 32], NOW, &Wearing);
    assert!(added.expect("the version is stored"));
    for fact in [
        activated(250, "2020-01-01", [7; 32]),
        registered(1, "2020-01-01", 1, "0"),
        installed(2, "2020-01-01", 1, 50, "0"),
    ] {
        bench.store.append(&post(fact), &Wearing).expect("stored");
    }
    bench
}

/// An inspection that measures the bore.
fn measured(id: u8, on: &str, meter: &str, value: &str) -> Fact {
    let mut fact = inspected(id, on, 1, meter);
    if let Content::Inspection(it) = &mut fact.entry.content {
        it.work = Vec::new();
        it.measurements.push(Measurement {
            quantity: bore(),
            position: None,
            taken: Taken::One(value.to_owned()),
            unit: "mm".to_owned(),
            gauge: None,
            uncertainty: None,
            temperature: None,
            wrench: None,
        });
    }
    fact
}

fn row(bench: &Bench) -> EngineRow {
    bench.store.engine(engine(1)).expect("readable").expect("there")
}

fn basis(bench: &Bench) -> Basis {
    let lines = bench.store.due_lines(&[row(bench).key]).expect("readable");
    lines[0].1.wear[0].basis
}

fn by(version: u32, on: &str) -> Basis {
    Basis::Fleet { engines: 14, version, on: day(on) }
}

#[test]
fn a_version_that_comes_between_is_noticed_in_the_turn() {
    let bench = told();
    let post = post(measured(10, "2020-06-01", "150", "67.53"));
    let ready = Ready::of(&post).expect("a post that can be kept");
    let seen = bench.store.foresee(&post, &ready, &Wearing).expect("readable");
    let Foreseen::New(foresight) = seen else { panic!("it is new") };
    assert!(foresight.is_some(), "an inspection can be foreseen");
    assert_eq!(add(&bench, &version(1, "2020-06-01", 2e-4)), 1);
    bench.store.append_new(&post, &ready, &Wearing, foresight).expect("stored");
    assert_eq!((row(&bench).wear_version, basis(&bench)), (Some(1), by(1, "2020-06-01")));
}

#[test]
fn a_version_stays_as_it_is_and_is_followed_for_ninety_days() {
    let bench = told();
    let append = |fact| bench.store.append(&post(fact), &Wearing).expect("stored");
    let recount = || bench.store.recount_some(9, &Wearing).expect("the database works");
    append(measured(10, "2020-06-01", "150", "67.53"));
    assert_eq!((row(&bench).wear_version, basis(&bench)), (None, Basis::Own));
    let first = version(1, "2020-06-01", 2e-4);
    assert_eq!([add(&bench, &first), add(&bench, &version(1, "2020-06-02", 9e-4))], [1, 0]);
    assert_eq!(recount(), 0, "a first version waits too");
    append(measured(11, "2020-07-01", "160", "67.53"));
    assert_eq!(basis(&bench), by(1, "2020-06-01"));
    let evidence = bench.store.evidence_of(&row(&bench)).expect("readable");
    let slopes: Vec<f64> =
        evidence.wear.expect("known").fleets.values().map(|it| it.mean.slope).collect();
    assert_eq!(slopes, [2e-4, 2e-4]);

    // 2020-06-01 + 90 days = 2020-08-30.
    add(&bench, &version(2, "2020-08-30", 3e-4));
    assert_eq!((recount(), basis(&bench)), (0, by(1, "2020-06-01")));
    add(&bench, &version(3, "2020-08-31", 3e-4));
    assert_eq!((recount(), basis(&bench)), (1, by(3, "2020-08-31")));
    assert_eq!(recount(), 0);

    // All of it goes into a backup, and out of it.
    let copy = Bench::new();
    let file = backup(&bench.store);
    copy.store.restore(&mut &*file, &Wearing, NOW, &mut |_| {}).expect("restored");
    assert!(backup(&copy.store) == file);
    assert_eq!(basis(&copy), by(3, "2020-08-31"));
    assert!(restore(&copy.store, &file).is_err(), "it is not empty any more");
}
