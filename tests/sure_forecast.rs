//! Forecasts of days against the reference implementation, through `gudgeon calc forecast`.

use super::{Case, Faults, calc, cases, faults_of};
use serde_json::{Value, json};

/// The tolerance that the file states; days are exact.
const RELATIVE: f64 = 1e-6;

#[test]
fn forecasts_agree_with_the_reference() {
    let cases = cases("17_hours_forecast.json");
    let mut faults = Faults::default();
    for (case, answer) in cases.iter().zip(calc("forecast", &cases)) {
        faults.agree(case, "", &answer, &case.expect, RELATIVE);
    }
    faults.none();
}

/// Four readings of an aircraft, the last on 2025-06-30, with more fields.
fn case(id: &str, more: Value, expect: Value) -> Case {
    let readings =
        [("2024-06-30", 500), ("2024-09-30", 515), ("2025-03-31", 524), ("2025-06-30", 540)];
    let readings = readings.map(|(date, meter)| json!({"date": date, "meter": meter}));
    let mut input = json!({"readings": readings, "remaining_hours": 25, "hemisphere": "north"});
    if let (Some(fields), Value::Object(more)) = (input.as_object_mut(), more) {
        fields.extend(more);
    }
    Case { id: id.to_owned(), input, expect }
}

// The answers that the table of degenerate cases asks for.
#[test]
fn every_answer_says_how_sure_it_is_or_why_not() {
    let cases = [
        case(
            "none",
            json!({"readings": []}),
            json!({"status": "cannot_say", "reason": "no reading"}),
        ),
        case("reached", json!({"remaining_hours": 0}), json!({"status": "limit_already_reached"})),
        case(
            "beyond",
            json!({"remaining_hours": -3.5}),
            json!({"status": "limit_already_reached"}),
        ),
        case("fresh", json!({"as_of": "2025-07-01"}), json!({"status": "ok", "warnings": []})),
        case(
            "stale",
            json!({"as_of": "2026-03-01", "remaining_hours": 5}),
            json!({"warnings": ["probably_passed", "stale"]}),
        ),
        case(
            "old",
            json!({"as_of": "2027-07-01"}),
            json!({"status": "cannot_say", "reason": "readings too old", "at": "2025-06-30"}),
        ),
        case(
            "far",
            json!({"remaining_hours": 5000}),
            json!({"date_p10": null, "date_p90": null, "basis": "own_readings", "n_gaps": 3}),
        ),
    ];
    let mut faults = Faults::default();
    for (case, answer) in cases.iter().zip(calc("forecast", &cases)) {
        faults.agree(case, "", &answer, &case.expect, 0.0);
    }
    faults.none();
}

// Whoever flies more gets there earlier: private before club before school, as their usual rates say.
#[test]
fn the_kind_of_owner_moves_the_days_of_an_aircraft_with_one_reading() {
    let one = json!([{"date": "2025-06-30", "meter": 540}]);
    let cases = ["private", "club", "school"]
        .map(|kind| case(kind, json!({"readings": one, "owner_kind": kind}), Value::Null));
    let answers = calc("forecast", &cases);
    let days: Vec<&str> = answers.iter().filter_map(|it| it["date_p50"].as_str()).collect();
    assert!(days.len() == 3 && days.windows(2).all(|pair| pair[0] > pair[1]), "{days:?}");
}

#[test]
fn every_fault_of_an_input_is_named_at_once() {
    let readings = json!([{"date": "2025-6-30", "meter": -1}, {"date": "2025-06-30", "metre": 1}]);
    let input = json!({"readings": readings, "remaining_hours": "many", "hemisphere": "up",
        "owner_kind": "nobody", "as_of": 1});
    let expected = [
        "/as_of",
        "/hemisphere",
        "/owner_kind",
        "/readings/0/date",
        "/readings/0/meter",
        "/readings/1/meter",
        "/readings/1/metre",
        "/remaining_hours",
    ];
    assert_eq!(faults_of("forecast", input), expected);
}
