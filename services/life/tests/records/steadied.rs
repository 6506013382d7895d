//! Measured limits steadied by the type: one reading is enough, and which engines tell.
//!
//! The fleet, the reading and the bound of 877.0187 h are the case `shrunk_0_n1` of
//! `tests/vectors/19_limit_crossing_fleet_prior.json` (`SciPy`). Bounds of what six engines tell are worked out with
//! `NumPy` and `SciPy` from their readings by the same published method: Bayes' rule for a line with a normal prior.

#![expect(clippy::float_arithmetic, reason = "real numbers agree within a tolerance")]

use crate::bench_shop::{Shop, d, h, item};
use crate::trends::{bore, cylinder, decimal, measure, type_with};
use gudgeon_life::due::due_list;
use gudgeon_life::history::History;
use gudgeon_life::hours::Hours;
use gudgeon_life::ids::{EngineId, Quantity};
use gudgeon_life::line::DueLine;
use gudgeon_life::measure::{Bounds, QuantityRule, Unit};
use gudgeon_life::programme::{Action, EngineType};
use gudgeon_life::sure::chart::charts;
use gudgeon_life::sure::fleet::{Covariance, Fleet};
use gudgeon_life::sure::line::Line;
use gudgeon_life::sure::prior::{Evidence, Learning, Told, WearPrior, Worn, told};
use gudgeon_life::wear::{Basis, Says, WhyNot};
use gudgeon_life::working::working;
use proptest::prelude::*;

/// A clearance of at most 0.2 mm.
fn clearance() -> QuantityRule {
    QuantityRule {
        title: "Clearance".to_owned(),
        limit: Bounds { min: None, max: Some(decimal("0.2")) },
        range: Bounds::default(),
        ..bore()
    }
}

fn worn(unit: &str) -> Worn {
    let quantity = Quantity::new("bore").unwrap();
    Worn { quantity, position: None, unit: Unit::parse(unit).unwrap() }
}

fn evidence(worn: Worn, fleet: Fleet) -> Evidence {
    let wear = WearPrior { version: 3, on: d("2026-05-18"), fleets: [(worn, fleet)].into() };
    Evidence { wear: Some(wear) }
}

/// The fleet of the published case.
fn published() -> Fleet {
    Fleet {
        mean: Line { intercept: 0.095, slope: 9e-5 },
        covariance: Covariance { intercept: 1e-4, both: -1e-8, slope: 6e-10 },
        scatter_sd: 0.005,
        scatter_freedom: 8.0,
        engines: 14,
    }
}

const PUBLISHED: Basis = Basis::Fleet {
    engines: 14,
    version: 3,
    on: chrono::NaiveDate::from_ymd_opt(2026, 5, 18).unwrap(),
};

/// Engine 1, new on 2024-01-01 at no hours, or without a log.
fn new_engine(logged: bool) -> Shop {
    let mut shop = Shop::new();
    shop.engine(1, "2024-01-01", logged.then_some("0"), Some("2024-01-01"));
    shop.install(1, 1, "2024-01-01", "0");
    shop
}

fn counted(shop: &Shop, engine_type: &EngineType, evidence: &Evidence) -> DueLine {
    let history = History::fold(&shop.facts());
    due_list(&history, Shop::engine_id(1), engine_type, evidence).remove(0)
}

#[test]
fn one_reading_sets_a_limit_where_the_type_is_known() {
    let mut shop = new_engine(true);
    measure(&mut shop, "2024-06-01", "762.8", "0.179");
    let engine_type = type_with(clearance(), cylinder("1500"));
    let alone = counted(&shop, &engine_type, &Evidence::default());
    assert_eq!(alone.wear[0].says, Says::CannotSay(WhyNot::NeedsReadings));
    assert_eq!((alone.wear[0].basis, alone.due_hours()), (Basis::Own, Some(h("1500"))));

    let known = evidence(worn("mm"), published());
    let line = counted(&shop, &engine_type, &known);
    assert_eq!((line.wear[0].basis, line.due_hours()), (PUBLISHED, Some(h("877.0"))));
    assert_eq!(
        line.wear[0].in_words(),
        "reaches its limit, at most 0.2 mm, at about 970 h, not before 877.0 h in 95 of 100 cases (1 reading, steadied by 14 engines of the type, as worked out on 2026-05-18)"
    );
    let history = History::fold(&shop.facts());
    let words = working(&history, Shop::engine_id(1), &engine_type, &known, &line, d("2026-05-21"));
    for told in [
        "Fleet: 14 engines of the type, as worked out on 2026-05-18 (version 3), counted from 0.0 h, when the part was new: they begin at 0.095 mm, variance 0.0001, and change by 0.00009 mm an hour, variance 0.0000000006, covariance -0.00000001; readings scatter by 0.005 mm, known from 8 degrees of freedom.",
        "Trend: by a line through 1 reading, steadied by 14 engines, the limit is not reached before that in 95 of 100 cases. Due: 877.0 h.",
    ] {
        assert!(words.iter().any(|it| it == told), "{told}\n{words:#?}");
    }
    // In another unit the figures are of another thing.
    let microns = evidence(worn("µm"), published());
    assert_eq!(counted(&shop, &engine_type, &microns), alone);
}

#[test]
fn a_chart_of_one_reading_shows_the_line_from_when_the_part_was_new() {
    let mut shop = new_engine(true);
    measure(&mut shop, "2024-06-01", "762.8", "0.179");
    let engine_type = type_with(clearance(), cylinder("1500"));
    let history = History::fold(&shop.facts());
    let drawn = |evidence: &Evidence| charts(&history, Shop::engine_id(1), &engine_type, evidence);
    assert!(drawn(&Evidence::default()).is_empty(), "one reading alone shows nothing");
    let charts = drawn(&evidence(worn("mm"), published()));
    let [chart] = charts.as_slice() else { panic!("{charts:#?}") };
    // 877.0187 h, rounded down to the second.
    let bound = chart.bound.as_ref().map(|it| it.1);
    assert_eq!((chart.basis, bound), (Some(PUBLISHED), Some(Hours::from_seconds(877 * 3600 + 67))));
    assert_eq!(chart.hours.first().map(|it| it.1.as_str()), Some("0"));
    assert!(!chart.line.is_empty() && !chart.edge.is_empty());
}

// The same part 100 h later: everything is 100 h later.
#[test]
fn a_renewed_part_is_told_from_its_own_beginning() {
    let engine_type = type_with(clearance(), cylinder("1500"));
    let known = evidence(worn("mm"), published());
    let changed = |action| {
        let mut shop = new_engine(true);
        measure(&mut shop, "2024-02-01", "90", "0.199");
        shop.work(1, "2024-03-01", "100", "cylinder", action);
        measure(&mut shop, "2024-06-01", "862.8", "0.179");
        let line = counted(&shop, &engine_type, &known);
        (line.wear[0].basis, line.wear[0].due())
    };
    assert_eq!(changed(Action::Renewed), (PUBLISHED, Some(h("977.0"))));
    // A machined one has measures of its own.
    assert_eq!(changed(Action::Machined), (Basis::Own, None));
}

#[test]
fn without_a_log_nobody_knows_when_the_part_was_new() {
    let mut shop = new_engine(false);
    measure(&mut shop, "2024-06-01", "762.8", "0.179");
    let engine_type = type_with(clearance(), cylinder("1500"));
    let known = evidence(worn("mm"), published());
    let line = counted(&shop, &engine_type, &known);
    assert_eq!(line.wear[0].says, Says::CannotSay(WhyNot::NeedsReadings));
    // A part that was renewed since has its own hours.
    shop.work(1, "2024-07-01", "800", "cylinder", Action::Renewed);
    measure(&mut shop, "2024-12-01", "1562.8", "0.179");
    let line = counted(&shop, &engine_type, &known);
    assert_eq!((line.wear[0].basis, line.wear[0].due()), (PUBLISHED, Some(h("1677.0"))));
}

/// What six engines measured of their bores at 60, 160 and 260 h, in thousandths of a millimetre.
const SIX: [[u32; 3]; 6] = [
    [67_512, 67_533, 67_551],
    [67_516, 67_534, 67_556],
    [67_508, 67_530, 67_549],
    [67_514, 67_532, 67_550],
    [67_510, 67_534, 67_557],
    [67_513, 67_531, 67_553],
];

fn millimetres(value: u32) -> String {
    format!("{}.{:03}", value / 1000, value % 1000)
}

/// What an engine tells that was measured so, `begins` hours after its cylinder was new at no hours.
fn teller(values: [u32; 3], begins: &str) -> Told {
    let mut shop = new_engine(true);
    if begins != "0" {
        shop.work(1, "2024-01-02", begins, "cylinder", Action::Renewed);
    }
    for ((at, on), value) in
        [("60", "2024-03-01"), ("160", "2024-05-01"), ("260", "2024-07-01")].into_iter().zip(values)
    {
        measure(&mut shop, on, &(h(begins) + h(at)).to_string(), &millimetres(value));
    }
    // Of the running-in, or of the part before it: neither tells anything.
    measure(&mut shop, "2024-01-03", &(h(begins) + h("10")).to_string(), "67.6");
    let history = History::fold(&shop.facts());
    told(&history, Shop::engine_id(1), &type_with(bore(), cylinder("1000")))
}

fn learnt(told: impl IntoIterator<Item = Told>) -> Option<Fleet> {
    let mut learning = Learning::default();
    told.into_iter().for_each(|it| learning.take(it));
    learning.learnt().remove(&worn("mm"))
}

#[test]
fn six_engines_tell_how_their_type_wears_and_five_do_not() {
    let fleet = learnt(SIX.map(|it| teller(it, "0"))).unwrap();
    let near = |found: f64, wanted: f64| {
        assert!((found - wanted).abs() < 1e-7 * wanted.abs(), "{found} and {wanted}: {fleet:?}");
    };
    // By NumPy from the eighteen readings.
    near(fleet.mean.intercept, 67.499_988_888_9);
    near(fleet.mean.slope, 2.025e-4);
    near(fleet.covariance.intercept, 1.234_881_975_3e-4);
    near(fleet.covariance.both, -4.867_429_283_8e-7);
    near(fleet.covariance.slope, 3.904_583_333e-9);
    near(fleet.scatter_sd, 1.416_666_666_7e-6_f64.sqrt());
    assert_eq!((fleet.engines, fleet.scatter_freedom), (6, 6.0));
    // On whatever count a part began, it tells the same.
    assert_eq!(learnt(SIX.map(|it| teller(it, "900"))), Some(fleet));
    assert_eq!(learnt(SIX.into_iter().skip(1).map(|it| teller(it, "0"))), None);

    let mut shop = new_engine(true);
    measure(&mut shop, "2024-04-01", "150", "67.530");
    let known = evidence(worn("mm"), fleet);
    let line = counted(&shop, &type_with(bore(), cylinder("1000")), &known);
    assert_eq!(line.due_hours(), Some(h("432.5")), "{line:#?}");
}

#[test]
fn too_few_readings_and_a_machined_part_tell_nothing() {
    let engine_type = type_with(bore(), cylinder("1000"));
    let tells = |shop: &Shop| {
        told(&History::fold(&shop.facts()), Shop::engine_id(1), &engine_type)
            .contains_key(&worn("mm"))
    };
    let mut shop = new_engine(true);
    measure(&mut shop, "2024-03-01", "60", "67.512");
    measure(&mut shop, "2024-05-01", "160", "67.533");
    assert!(!tells(&shop));
    measure(&mut shop, "2024-07-01", "260", "67.551");
    assert!(tells(&shop));
    shop.work(1, "2024-08-01", "300", "cylinder", Action::Renewed);
    assert!(!tells(&shop), "the part is another one now");
    let three = |shop: &mut Shop, year: u32, from: u32| {
        for n in 0..3 {
            let (on, at) = (format!("{year}-1{n}-01"), (from + 100 * n).to_string());
            measure(shop, &on, &at, &millimetres(67_520 + 10 * n));
        }
    };
    three(&mut shop, 2024, 400);
    assert!(tells(&shop));
    shop.work(1, "2025-02-01", "650", "cylinder", Action::Machined);
    three(&mut shop, 2025, 750);
    assert!(!tells(&shop), "it has measures of its own");
}

prop_compose! {
    /// What some fleet could be known by.
    fn fleets()(
        intercept in 67.0..67.6_f64, slope in -1e-4..1e-3_f64, sd in 1e-4..1e-1_f64,
        slope_sd in 1e-6..1e-3_f64, together in -0.7..0.7_f64, scatter_sd in 1e-4..1e-1_f64,
        engines in 6_usize..40,
    ) -> Fleet {
        let covariance = Covariance {
            intercept: sd * sd,
            both: together * sd * slope_sd,
            slope: slope_sd * slope_sd,
        };
        let mean = Line { intercept, slope };
        Fleet { mean, covariance, scatter_sd, scatter_freedom: 8.0, engines }
    }
}

proptest! {
    // Whatever is known of the type and was measured, in whatever order it was posted: the same line, and never
    // later than without.
    #[test]
    fn what_is_known_of_a_type_shortens_only_and_order_does_not_matter(
        fleet in fleets(),
        readings in prop::collection::vec((1_u64..400, 0_i64..2000, 67_400_u32..67_700), 0..5),
        seed in any::<usize>(),
    ) {
        let mut shop = new_engine(true);
        let (mut on, mut meter) = (d("2024-01-01"), Hours::ZERO);
        for (days, tenths, value) in readings {
            on = on + chrono::Days::new(days);
            meter += Hours::from_seconds(tenths * 360);
            measure(&mut shop, &on.to_string(), &meter.to_string(), &millimetres(value));
        }
        let known = evidence(worn("mm"), fleet.rounded().unwrap());
        let with = counted(&shop, &type_with(bore(), cylinder("300")), &known);
        let plain = type_with(bore(), item("cylinder", Some("300"), None));
        let without = counted(&shop, &plain, &known);
        prop_assert!(with.due_hours().unwrap() <= without.due_hours().unwrap());
        prop_assert!(with.status(on) <= without.status(on));
        let mut facts = shop.facts();
        let turn = seed % facts.len();
        facts.rotate_left(turn);
        facts.extend(shop.facts());
        let engine: EngineId = Shop::engine_id(1);
        let again =
            due_list(&History::fold(&facts), engine, &type_with(bore(), cylinder("300")), &known);
        prop_assert_eq!(again, vec![with]);
    }
}
