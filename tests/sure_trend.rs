//! Wear trends against the reference, through `gudgeon calc trend`.

use super::{Case, Faults, calc, cases, faults_of};
use serde_json::{Value, json};

fn agrees(file: &str, relative: f64) {
    let cases = cases(file);
    let mut faults = Faults::default();
    for (case, answer) in cases.iter().zip(calc("trend", &cases)) {
        faults.agree(case, "", &answer, &case.expect, relative);
    }
    faults.none();
}

#[test]
fn an_engines_own_line_agrees_with_scipy() {
    agrees("02_limit_crossing.json", 1e-7);
}

#[test]
fn a_line_steadied_by_a_fleet_agrees_with_the_reference() {
    agrees("19_limit_crossing_fleet_prior.json", 1e-6);
}

fn case(id: &str, input: Value, expect: Value) -> Case {
    Case { id: id.to_owned(), input, expect }
}

// The answers that the table of degenerate cases asks for.
#[test]
fn every_answer_says_how_sure_it_is_or_why_not() {
    let straight = [0.11, 0.12, 0.13, 0.141];
    let cases = [
        case("none", json!({"x": [], "y": [], "limit": 0.2}), json!({"status": "cannot_say"})),
        case(
            "two",
            json!({"x": [100, 200], "y": [0.11, 0.12], "limit": 0.2}),
            json!({"status": "cannot_say", "reason": "needs 3 readings", "point_hours": null}),
        ),
        case(
            "same hours",
            json!({"x": [100, 100, 100], "y": [0.11, 0.12, 0.13], "limit": 0.2}),
            json!({"status": "cannot_say", "reason": "all readings at the same hours"}),
        ),
        case(
            "falling",
            json!({"x": [100, 200, 300], "y": [0.12, 0.11, 0.115], "limit": 0.2}),
            json!({"status": "slope_not_positive", "point_hours": null, "lower_bound_hours": null}),
        ),
        case(
            "reached",
            json!({"x": [100, 200, 300], "y": [0.12, 0.11, 0.2], "limit": 0.2}),
            json!({"status": "already_reached"}),
        ),
        case(
            "extrapolated",
            json!({"x": [100, 200, 300, 400], "y": straight, "limit": 0.2}),
            json!({"status": "ok", "basis": "own", "n": 4, "warnings": ["extrapolated"]}),
        ),
        case(
            "run in and changed",
            json!({"x": [10, 100, 200, 300], "y": straight, "limit": 0.2, "run_in_hours": 50,
                "part_changed_at": 150}),
            json!({"status": "cannot_say", "reason": "needs 3 readings"}),
        ),
        case(
            "fleet",
            // The first case of the file with fleets: 969.8 h and 877.0 h.
            json!({"x": [762.8], "y": [0.179], "limit": 0.2, "prior_mean": [0.095, 9e-5],
                "prior_cov": [[1e-4, -1e-8], [-1e-8, 6e-10]], "noise_sd": 0.005, "noise_df": 8,
                "prior_engines": 11}),
            json!({"basis": "fleet", "words": "reaches its limit at about 970 h, not before 875 h in \
                95 of 100 cases (from 1 reading of this engine and 11 engines of this type)"}),
        ),
        case(
            "lower limit",
            json!({"x": [100, 200, 300], "y": [9.5, 9.2, 8.9], "lower_limit": 7.0}),
            // By hand: 9.8 - 0.003 h is 7.0 at 933.333 h.
            json!({"status": "ok", "slope": -0.003, "point_hours": 2800.0 / 3.0}),
        ),
    ];
    let mut faults = Faults::default();
    for (case, answer) in cases.iter().zip(calc("trend", &cases)) {
        faults.agree(case, "", &answer, &case.expect, 1e-9);
    }
    faults.none();
}

#[test]
fn every_fault_of_an_input_is_named_at_once() {
    let input = json!({"x": [100, "far"], "y": [0.1, null], "confidence": 95, "lower": 1});
    let expected = ["/confidence", "/limit", "/lower", "/x/1", "/y/1"];
    assert_eq!(faults_of("trend", input), expected);
    let uneven = json!({"x": [100], "y": [], "limit": 0.2});
    assert_eq!(faults_of("trend", uneven), ["/y"]);
    let no_prior = json!({"x": [100], "y": [0.1], "limit": 0.2, "prior_mean": [0.1, 1e-4],
        "prior_cov": [[1.0, 2.0], [2.0, 1.0]], "noise_sd": 0.005, "noise_df": 8});
    assert_eq!(faults_of("trend", no_prior), ["/prior_mean"]);
}
