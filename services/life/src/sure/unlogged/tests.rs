//! Every degenerate row of the estimate of hours, and lines read backwards.

use super::*;
use proptest::prelude::*;

/// A scatter that no chance decides, for one engine and indicator.
fn scatter(engine: u64, indicator: u64) -> f64 {
    let place = (engine * 7 + indicator * 3 + engine * engine) % 11;
    (super::super::real(i32::try_from(place).expect("small")) - 5.0) / 5.0
}

/// Logged engines with two indicators that rise with hours and one that does not.
fn fleet(engines: u64) -> Fleet {
    let row = |engine: u64, hours: f64| {
        let indicator = |at: u64, level: f64, slope: f64, noise: f64| {
            Some(
                level
                    + slope * hours * (1.0 + 0.15 * scatter(engine, at))
                    + noise * scatter(engine, at + 5),
            )
        };
        let values = vec![
            indicator(0, 0.08, 1.2e-4, 0.008),
            indicator(1, 0.35, 5e-4, 0.03),
            indicator(2, 8.0, 0.0, 0.2),
        ];
        Row { engine, hours, values }
    };
    let rows = (0..engines).flat_map(|engine| {
        let first = 40.0 + 97.0 * super::super::real(i32::try_from(engine % 10).expect("small"));
        [row(engine, first), row(engine, first + 300.0)]
    });
    Fleet::new(rows.collect(), 1200.0).expect("sensible")
}

fn at(hours: f64) -> [Measured; 3] {
    [
        Measured::Value(0.08 + 1.2e-4 * hours),
        Measured::Value(0.35 + 5e-4 * hours),
        Measured::Value(8.1),
    ]
}

fn estimate(fleet: &Fleet, measured: &[Measured]) -> Estimate {
    fleet.estimate(measured, Bounds::default()).expect("sensible")
}

#[test]
fn an_engine_in_the_middle_of_the_fleet_has_an_interval() {
    let found = estimate(&fleet(12), &at(500.0));
    assert_eq!(found.roles, [Role::Used, Role::Used, Role::NotInformative]);
    let hours = found.answer.expect("twelve engines");
    let upper = hours.upper().expect("inside the fleet");
    assert!(hours.p10 < 500.0 && 500.0 < upper.p90, "{hours:?}");
    assert!(
        hours.p10 < hours.p50
            && hours.p50 < upper.p90
            && upper.p90 < upper.p95
            && upper.p95 < upper.p97_5
    );
    assert_eq!((found.engines, found.warnings), (12, vec![]));
}

#[test]
fn few_engines_nothing_measured_and_nothing_informative_say_nothing() {
    let few = estimate(&fleet(5), &at(500.0));
    assert_eq!(few.answer, Err(Cannot::FewEngines { engines: 5 }));
    let nothing = [Measured::Missing, Measured::Renewed, Measured::Missing];
    assert_eq!(estimate(&fleet(12), &nothing).answer, Err(Cannot::NothingMeasured));
    let winding = [Measured::Missing, Measured::Renewed, Measured::Value(8.0)];
    let found = estimate(&fleet(12), &winding);
    assert_eq!(found.answer, Err(Cannot::NothingInformative));
    assert_eq!(found.roles, [Role::Missing, Role::Renewed, Role::NotInformative]);
    let none = Fleet::new(vec![], 1200.0).expect("sensible");
    assert_eq!(estimate(&none, &at(500.0)).answer, Err(Cannot::FewEngines { engines: 0 }));
    let same = |engine| Row { engine, hours: 100.0, values: vec![Some(1.0)] };
    let level = Fleet::new((0..9).map(same).collect(), 1200.0).expect("sensible");
    assert_eq!(estimate(&level, &[Measured::Value(1.0)]).answer, Err(Cannot::NoScatter));
}

// A renewed part looks new: left in, it drags the estimate down; left out, the interval only widens.
#[test]
fn a_renewed_part_is_left_out_and_the_interval_widens() {
    let fleet = fleet(12);
    let all = estimate(&fleet, &at(700.0)).answer.expect("an interval");
    let [wear, _, winding] = at(700.0);
    let told = estimate(&fleet, &[wear, Measured::Renewed, winding]).answer.expect("an interval");
    let missing =
        estimate(&fleet, &[wear, Measured::Missing, winding]).answer.expect("an interval");
    assert_eq!(told, missing);
    let width = |hours: Hours| hours.upper().expect("inside the fleet").p90 - hours.p10;
    assert!(width(told) > width(all), "{told:?} {all:?}");
    let [_, renewed, _] = at(0.0);
    let silent = estimate(&fleet, &[wear, renewed, winding]).answer.expect("an interval");
    assert!(silent.p50 < told.p50);
}

#[test]
fn indicators_that_contradict_each_other_are_flagged() {
    let fleet = fleet(20);
    let contradicting =
        [Measured::Value(0.08), Measured::Value(0.35 + 5e-4 * 1500.0), Measured::Missing];
    let found = estimate(&fleet, &contradicting);
    assert!(found.warnings.contains(&Warning::Disagreement), "{found:?}");
}

#[test]
fn above_the_logged_engines_there_is_only_at_least() {
    let found = estimate(&fleet(12), &at(1700.0));
    let hours = found.answer.expect("twelve engines");
    assert!(hours.upper().is_none() && hours.p10 > 700.0, "{hours:?}");
}

#[test]
fn an_engine_that_may_be_new_is_said_to_be() {
    let new = [Measured::Value(0.05), Measured::Value(0.3), Measured::Missing];
    let found = estimate(&fleet(12), &new);
    assert!(found.warnings.contains(&Warning::CompatibleWithNew), "{found:?}");
}

// A sworn lower bound cuts off what is below it.
#[test]
fn stated_bounds_cut_the_answer() {
    let fleet = fleet(12);
    let bounds = Bounds { low_h: Some(600.0), high_h: Some(800.0) };
    let found = fleet.estimate(&at(500.0), bounds).expect("sensible").answer.expect("an interval");
    let upper = found.upper().expect("the owner states the end");
    assert!(found.p10 >= 600.0 && upper.p97_5 <= 800.0, "{found:?}");
}

#[test]
fn rows_without_a_measurement_are_left_out_and_said_to_be() {
    let mut rows = fleet(12).rows;
    rows[0].values[0] = None;
    let fleet = Fleet::new(rows, 1200.0).expect("sensible");
    assert_eq!(estimate(&fleet, &at(500.0)).warnings, [Warning::RowsLeftOut]);
}

#[test]
fn each_engine_in_turn_is_estimated_from_the_others() {
    let found = fleet(20).calibrate().expect("twenty engines");
    assert_eq!(found.engines, 20);
    assert!((0.0..=100.0).contains(&found.inside_80_percent));
    assert!(found.below_p95_percent >= found.inside_80_percent / 2.0);
    assert_eq!(fleet(6).calibrate(), None);
}

#[test]
fn figures_that_make_no_sense_are_refused() {
    let row = |hours, value| Row { engine: 1, hours, values: vec![Some(value)] };
    assert_eq!(Fleet::new(vec![row(f64::NAN, 1.0)], 1200.0), Err(UnloggedError::Hours));
    assert_eq!(Fleet::new(vec![row(1.0, f64::INFINITY)], 1200.0), Err(UnloggedError::Value));
    assert_eq!(Fleet::new(vec![row(1.0, 1.0)], 0.0), Err(UnloggedError::Overhaul));
    let unequal = vec![row(1.0, 1.0), Row { engine: 2, hours: 1.0, values: vec![] }];
    assert_eq!(Fleet::new(unequal, 1200.0), Err(UnloggedError::Shape));
    let fleet = fleet(12);
    let bad = |bounds| fleet.estimate(&at(500.0), bounds).err();
    let (low_h, high_h) = (Some(500.0), Some(400.0));
    assert_eq!(bad(Bounds { low_h, high_h }), Some(UnloggedError::Bounds));
    assert_eq!(bad(Bounds { low_h: Some(f64::NAN), high_h: None }), Some(UnloggedError::Bounds));
    let short = fleet.estimate(&[Measured::Missing], Bounds::default());
    assert_eq!(short.err(), Some(UnloggedError::Shape));
}

#[test]
fn a_line_is_read_backwards_only_where_it_has_a_slope() {
    let asked = Calibration {
        x: vec![0.0, 100.0, 200.0, 300.0],
        y: vec![1.0, 1.1, 1.3, 1.4],
        y0: 1.2,
        repeats: 1,
        confidence: 0.9,
        mean_response: false,
    };
    // By hand: means 150 and 1.2, slope 0.0014; 1.2 is the mean, so 150 h.
    let found = invert(&asked).expect("a slope");
    assert!((found.estimate - 150.0).abs() < 1e-9, "{found:?}");
    let (low, high) = found.limits.expect("bounded");
    assert!(low < 150.0 && 150.0 < high);
    let with = |change: fn(&mut Calibration)| {
        let mut asked = asked.clone();
        change(&mut asked);
        invert(&asked).map(|it| it.limits)
    };
    assert_eq!(with(|it| it.y = vec![1.0; 4]), Err(FiellerError::Level));
    assert_eq!(with(|it| it.x = vec![5.0; 4]), Err(FiellerError::Level));
    assert_eq!(with(|it| it.x.truncate(3)), Err(FiellerError::Points));
    assert_eq!(with(|it| it.y0 = f64::NAN), Err(FiellerError::Value));
    assert_eq!(with(|it| it.confidence = 1.0), Err(FiellerError::Confidence));
    assert_eq!(with(|it| it.repeats = 0), Err(FiellerError::Repeats));
    // A slope lost in the scatter says nothing.
    assert_eq!(with(|it| it.y = vec![1.0, 3.0, 0.0, 2.1]), Ok(None));
}

fn any_value() -> impl Strategy<Value = f64> {
    prop_oneof![-1e9..1e9_f64, 0.0..1.0_f64, Just(0.0), Just(1e-300), Just(0.1)]
}

proptest! {
    #[test]
    fn no_figure_is_ever_nan_or_infinite(
        rows in prop::collection::vec(
            (0..10_u64, prop_oneof![0.0..1e5_f64, 0.0..1500.0_f64, Just(0.0)], prop::option::weighted(0.9, any_value()), any_value()),
            0..40),
        first in any_value(),
        second in any_value(),
    ) {
        let row = |(engine, hours, one, two)| Row { engine, hours, values: vec![one, Some(two)] };
        let fleet = Fleet::new(rows.into_iter().map(row).collect(), 1000.0).expect("sensible");
        let found = estimate(&fleet, &[Measured::Value(first), Measured::Value(second)]);
        if let Ok(hours) = found.answer {
            let upper = hours.upper().map_or([0.0; 3], |it| [it.p90, it.p95, it.p97_5]);
            for figure in [hours.p10, hours.p50, hours.disagreement, hours.disagreement_max].into_iter().chain(upper) {
                prop_assert!(figure.is_finite(), "{hours:?}");
            }
        }
    }

    #[test]
    fn no_line_read_backwards_is_nan_or_infinite(
        points in prop::collection::vec((any_value(), any_value()), 3..12),
        y0 in any_value(),
    ) {
        let (x, y) = points.into_iter().unzip();
        let asked = Calibration { x, y, y0, repeats: 1, confidence: 0.95, mean_response: false };
        if let Ok(found) = invert(&asked) {
            let (low, high) = found.limits.unwrap_or_default();
            prop_assert!([found.estimate, found.g, low, high].iter().all(|it| it.is_finite()), "{found:?}");
        }
    }
}
