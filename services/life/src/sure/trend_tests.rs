//! The rows of the table of degenerate cases, fleets, both limits, and what holds for any readings.

use super::fleet::{Covariance, ENGINES_MIN, Fleet};
use super::line::{Line, Point};
use super::trend::{
    Basis, CONFIDENCE, CannotSay, Early, Estimate, Measured, Question, Side, Trend, trend,
};
use crate::hours::Hours;
use proptest::prelude::*;

const QUESTION: Question = Question {
    upper: Some(0.2),
    lower: None,
    confidence: CONFIDENCE,
    run_in_until: Hours::ZERO,
    part_changed_at: None,
    gauge_step: None,
};

/// The fleet of the check values.
const FLEET: Fleet = Fleet {
    mean: Line { intercept: 0.095, slope: 9e-5 },
    covariance: Covariance { intercept: 1e-4, both: -1e-8, slope: 6e-10 },
    scatter_sd: 0.005,
    scatter_freedom: 8.0,
    engines: ENGINES_MIN,
};

fn measured(points: &[(i64, f64)]) -> Vec<Measured> {
    points
        .iter()
        .map(|(at, value)| Measured { at: Hours::from_whole(*at), value: *value })
        .collect()
}

fn own(points: &[(i64, f64)]) -> Trend {
    trend(&measured(points), &QUESTION, None)
}

fn estimate(trend: Trend) -> Estimate {
    match trend {
        Trend::Estimate(estimate) => estimate,
        other => panic!("{other}"),
    }
}

fn near(found: Option<f64>, expected: f64) {
    assert!(found.is_some_and(|it| (it - expected).abs() < 1e-6), "{found:?}, not {expected}");
}

#[test]
fn without_readings_nothing_is_said() {
    assert_eq!(own(&[]), Trend::CannotSay(CannotSay::NoReading));
    assert_eq!(trend(&[], &QUESTION, Some(&FLEET)), Trend::CannotSay(CannotSay::NoReading));
}

#[test]
fn two_readings_need_a_fleet() {
    for points in [&[(100, 0.11)][..], &[(100, 0.11), (200, 0.12)]] {
        let count = points.len();
        assert_eq!(own(points), Trend::CannotSay(CannotSay::NeedsReadings { count }));
        let small = Fleet { engines: ENGINES_MIN - 1, ..FLEET };
        let found = trend(&measured(points), &QUESTION, Some(&small));
        assert_eq!(found, Trend::CannotSay(CannotSay::NeedsReadings { count }));
        let steadied = estimate(trend(&measured(points), &QUESTION, Some(&FLEET)));
        assert_eq!(steadied.basis, Basis::Fleet { engines: ENGINES_MIN });
        assert!(matches!(steadied.early, Early::At(_)), "{steadied:?}");
        assert!(steadied.to_string().contains("6 engines of this type"), "{steadied}");
    }
}

#[test]
fn readings_at_the_same_hours_have_no_line_of_their_own() {
    let points = [(300, 0.11), (300, 0.12), (300, 0.13)];
    assert_eq!(own(&points), Trend::CannotSay(CannotSay::SameHours));
    let steadied = estimate(trend(&measured(&points), &QUESTION, Some(&FLEET)));
    assert!(matches!(steadied.early, Early::At(_)), "{steadied:?}");
}

#[test]
fn no_wear_is_no_date() {
    let found = estimate(own(&[(100, 0.12), (200, 0.115), (300, 0.118)]));
    assert_eq!((found.early, found.point_hours, found.early()), (Early::NoWear, None, None));
    assert!(found.to_string().starts_with("no wear is visible within the gauge's error"));
    // The fleet wears: steadied by it, one falling pair still leads to the limit.
    let points = measured(&[(100, 0.12), (200, 0.119)]);
    assert!(estimate(trend(&points, &QUESTION, Some(&FLEET))).edge.line.slope > 0.0);
}

#[test]
fn a_last_reading_at_the_limit_has_reached_it_whatever_the_line_says() {
    for points in [&[(300, 0.2)][..], &[(100, 0.3), (300, 0.2)], &[(300, 0.1), (300, 0.21)]] {
        assert_eq!(own(points), Trend::AlreadyReached(Side::Upper), "{points:?}");
        let found = trend(&measured(points), &QUESTION, Some(&FLEET));
        assert_eq!(found, Trend::AlreadyReached(Side::Upper));
    }
}

#[test]
fn an_edge_beyond_the_limit_asks_to_measure_again() {
    let found = estimate(own(&[(263, 0.115), (269, 0.108), (897, 0.168)]));
    assert_eq!(found.early, Early::AtLastReading);
    assert_eq!(found.early(), Some(Hours::from_whole(897)));
    assert!(found.to_string().contains("cannot be excluded"), "{found}");
}

// By hand: 0.1 + 0.0001 h reaches 0.2 at 1000 h. A step of 0.01 has the standard deviation 0.01 / sqrt(12).
#[test]
fn a_perfect_line_takes_the_scatter_of_the_gauge() {
    let points = measured(&[(100, 0.11), (200, 0.12), (300, 0.13), (400, 0.14)]);
    let bare = estimate(trend(&points, &QUESTION, None));
    near(bare.point_hours, 1000.0);
    assert!(!bare.scatter_of_gauge);
    let question = Question { gauge_step: Some(0.001), ..QUESTION };
    let honest = estimate(trend(&points, &question, None));
    assert!(honest.scatter_of_gauge);
    near(Some(honest.scatter_sd), 0.001 / 12.0_f64.sqrt());
    assert!(honest.early() < bare.early());
    assert!(honest.to_string().contains("its step was used"), "{honest}");
}

#[test]
fn slow_wear_is_not_within_what_was_searched() {
    let slow = [(100, 0.1), (1000, 0.1001), (2000, 0.1002), (2400, 0.10024)];
    let found = estimate(own(&slow));
    assert_eq!((found.early, found.point_hours), (Early::NotWithin(5000.0), None));
    assert!(found.to_string().starts_with("does not reach its limit within 5000 h"), "{found}");
}

#[test]
fn a_crossing_far_beyond_the_readings_is_marked() {
    let found = estimate(own(&[(100, 0.11), (200, 0.1201), (300, 0.1299), (400, 0.14)]));
    assert!(found.extrapolated);
    assert!(found.to_string().contains("far beyond the hours of its readings"), "{found}");
    assert!(!estimate(own(&[(100, 0.11), (600, 0.16), (650, 0.165), (700, 0.1701)])).extrapolated);
}

#[test]
fn one_reading_that_bends_the_line_is_told() {
    let straight = [(100, 0.11), (200, 0.12), (300, 0.13), (400, 0.141), (500, 0.15)];
    assert!(!estimate(own(&straight)).one_reading_dominates);
    let bent = [(100, 0.11), (200, 0.12), (300, 0.13), (400, 0.141), (500, 0.19)];
    let bent = estimate(own(&bent));
    assert!(bent.one_reading_dominates);
    assert!(bent.to_string().contains("one reading dominates"), "{bent}");
}

#[test]
fn running_in_and_other_parts_are_left_out() {
    let line = [(100, 0.11), (200, 0.12), (300, 0.13), (400, 0.14)];
    let with_others = [(10, 0.3), (40, 0.01), (100, 0.11), (200, 0.12), (300, 0.13), (400, 0.14)];
    let question = Question { run_in_until: Hours::from_whole(50), ..QUESTION };
    assert_eq!(trend(&measured(&with_others), &question, None), own(&line));
    let changed = Question { part_changed_at: Some(Hours::from_whole(100)), ..QUESTION };
    assert_eq!(trend(&measured(&with_others), &changed, None), own(&line));
    // Running-in does not hide a part that is worn out.
    let worn = trend(&measured(&[(10, 0.3)]), &question, None);
    assert_eq!(worn, Trend::AlreadyReached(Side::Upper));
}

// A line that falls to 0.1 is that line, turned over, rising to 0.2.
#[test]
fn falling_quantities_mirror_rising_ones() {
    let rising = [(100, 0.11), (200, 0.123), (300, 0.129), (400, 0.14)];
    let falling = rising.map(|(at, value)| (at, 0.3 - value));
    let lower = Question { upper: None, lower: Some(0.1), ..QUESTION };
    let down = estimate(trend(&measured(&falling), &lower, None));
    let up = estimate(own(&rising));
    near(down.point_hours, up.point_hours.expect("a point"));
    let (Early::At(down_early), Early::At(up_early)) = (down.early, up.early) else {
        panic!("{down:?}")
    };
    near(Some(down_early), up_early);
    assert_eq!(down.side, Side::Lower);
    assert!((down.edge.at(500.0) + up.edge.at(500.0) - 0.3).abs() < 1e-12);
}

#[test]
fn of_two_limits_the_one_reached_first_is_told() {
    let rising = [(100, 0.11), (200, 0.123), (300, 0.129), (400, 0.14)];
    let both = Question { lower: Some(0.05), ..QUESTION };
    let found = estimate(trend(&measured(&rising), &both, None));
    assert_eq!((found.side, found.early), (Side::Upper, estimate(own(&rising)).early));
    let low = Question { lower: Some(0.15), ..QUESTION };
    assert_eq!(trend(&measured(&rising), &low, None), Trend::AlreadyReached(Side::Lower));
    let neither = Question { upper: None, ..QUESTION };
    assert_eq!(trend(&measured(&rising), &neither, None), Trend::CannotSay(CannotSay::NoLimit));
}

#[test]
fn values_that_no_gauge_shows_are_not_reckoned_with() {
    for value in [f64::NAN, f64::INFINITY, 1e300] {
        let points = [(100, 0.1), (200, value), (300, 0.1)];
        assert_eq!(own(&points), Trend::CannotSay(CannotSay::OutOfRange), "{value}");
    }
    for confidence in [0.4, 1.0, f64::NAN] {
        let question = Question { confidence, ..QUESTION };
        let found = trend(&measured(&[(100, 0.1)]), &question, Some(&FLEET));
        assert_eq!(found, Trend::CannotSay(CannotSay::OutOfRange), "{confidence}");
    }
}

// By hand: six engines on lines a = 0.09 or 0.11, b = 0.0001, readings exactly on them. The mean is a = 0.1; the
// raw variance of a is 6 × 0.01² / 5 = 0.00012 and nothing of it is scatter: three times 30 / 6 of that are
// kept, and a sixth of it again for the mean.
#[test]
fn a_fleet_is_learnt_from_the_lines_of_its_engines() {
    let engine = |intercept: f64| -> Vec<Point> {
        [100.0, 300.0, 500.0].map(|hours| (hours, intercept + 1e-4 * hours)).to_vec()
    };
    let engines: Vec<Vec<Point>> = [0.09, 0.11, 0.09, 0.11, 0.09, 0.11].map(engine).to_vec();
    let fleet = Fleet::learn(&engines).expect("a fleet");
    near(Some(fleet.mean.intercept), 0.1);
    near(Some(1e4 * fleet.mean.slope), 1.0);
    near(Some(1e4 * fleet.covariance.intercept), 18.2);
    near(Some(fleet.scatter_freedom), 6.0);
    assert_eq!(fleet.engines, 6);
    assert_eq!(Fleet::learn(&engines[1..]), None);
    let mut close = engines.clone();
    close[0] = [100.0, 110.0, 120.0].map(|hours| (hours, 0.5 - 0.01 * hours)).to_vec();
    close.push(engine(0.09));
    assert_eq!(Fleet::learn(&close).map(|it| it.engines), Some(6), "one says too little to count");
    let two_readings = engines.iter().map(|points| points[..2].to_vec());
    assert_eq!(Fleet::learn(&two_readings.collect::<Vec<_>>()), None);
}

fn any_value() -> impl Strategy<Value = f64> {
    prop_oneof![
        4 => 0.0..0.5,
        1 => Just(0.0),
        1 => Just(0.1),
        1 => -1e9..1e9,
        1 => proptest::num::f64::ANY,
    ]
}

fn any_points() -> impl Strategy<Value = Vec<Measured>> {
    let hours = prop_oneof![4 => 0_i64..3_600_000, 1 => Just(7_200), 1 => any::<i64>()];
    let point = (hours, any_value())
        .prop_map(|(at, value)| Measured { at: Hours::from_seconds(at), value });
    proptest::collection::vec(point, 0..9)
}

proptest! {
    #[test]
    fn nothing_but_finite_numbers_comes_out(
        points in any_points(),
        fleet in proptest::collection::vec(any_points(), 0..10),
        upper in proptest::option::of(any_value()),
        lower in proptest::option::of(any_value()),
        gauge_step in proptest::option::of(any_value()),
        confidence in prop_oneof![9 => 0.5..0.9999, 1 => any_value()],
    ) {
        let engine = |points: &Vec<Measured>| -> Vec<Point> {
            points.iter().map(|it| (super::decimal_hours(it.at), it.value)).collect()
        };
        let learnt = Fleet::learn(&fleet.iter().map(engine).collect::<Vec<_>>());
        let question = Question { upper, lower, confidence, gauge_step, ..QUESTION };
        for fleet in [None, learnt.as_ref(), Some(&FLEET)] {
            let found = trend(&points, &question, fleet);
            prop_assert!(!found.to_string().contains("inf") && !found.to_string().contains("NaN"));
            let Trend::Estimate(found) = found else { continue };
            let early = match found.early {
                Early::At(hours) | Early::NotWithin(hours) => hours,
                Early::AtLastReading | Early::NoWear => 0.0,
            };
            let numbers = [
                found.limit, early, found.point_hours.unwrap_or_default(), found.edge.at(100.0),
                found.scatter_sd, found.last_hours, found.confidence, found.edge.at(1e6),
            ];
            prop_assert!(numbers.iter().all(|it| it.is_finite()), "{numbers:?}");
        }
    }
}
