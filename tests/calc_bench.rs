//! Date codes, hours and the sums of the bench: cases of `rules.json` that need no due line.

use super::{Case, Faults, calc_one, calc_raw, text};
use serde_json::{Value, json};

/// The day that date codes are read on: later than every code of the cases.
const CODES_READ_ON: &str = "2026-11-25";

pub(super) fn date_code(case: &Case, faults: &mut Faults) {
    let scheme = match case.rule.as_str() {
        "QUARTER" => "quarter",
        "DOT-TIN" => "tyre-week",
        _ => "iso-week",
    };
    let input = json!({"scheme": scheme, "code": case.input["code"], "as_of": CODES_READ_ON});
    let (answers, code) = calc_raw("date-code", &input.to_string());
    let [answer] = answers.as_slice() else { panic!("{}: one answer", case.id) };
    if case.has("interval") {
        let found = json!([answer["first"], answer["last"]]);
        return case.expects("interval", &found, faults);
    }
    faults.same(case, "exit code", &json!(code), &json!(3));
    let fault = &answer["errors"][0];
    faults.same(case, "pointer", &fault["pointer"], &json!("/code"));
    if case.has("error") {
        return case.expects("error", &json!(text(&fault["code"]).replace('-', "_")), faults);
    }
    case.expects("ambiguous", &json!(fault["code"] == "ambiguous"), faults);
    for year in case.expect["years"].as_array().expect("a list of years") {
        let named = text(&fault["detail"]).contains(&year.to_string());
        faults.same(case, "names each year", &json!(named), &json!(true));
    }
}

pub(super) fn hours_and_minutes(case: &Case, faults: &mut Faults) {
    let hours = |value: &Value| calc_one("hours", &json!({"value": value}));
    let found = hours(&case.input["hhmm"]);
    for key in ["hours", "tenths"] {
        if case.has(key) {
            case.expects_hours(key, &found["tenths"], faults);
        }
    }
    if case.has("exact") {
        let exact = hours(&case.expect["exact"]);
        faults.same(case, "exact", &found["seconds"], &exact["seconds"]);
    }
}

/// The answer rounded to as many places as the source gives.
fn rounded_like(found: &Value, expected: &Value) -> Value {
    let places = expected.to_string().split_once('.').map_or(0, |(_, places)| places.len());
    let found = found.as_f64().map(|found| format!("{found:.places$}"));
    found.and_then(|found| serde_json::from_str(&found).ok()).unwrap_or(Value::Null)
}

pub(super) fn torque(case: &Case, faults: &mut Faults) {
    let input = &case.input;
    let (asked, answered, key) = if case.rule == "TORQUE-EXT" {
        ("target", "wrench", "wrench")
    } else {
        ("wrench", "target", "T")
    };
    let given = input.get("T").unwrap_or(&input["wrench"]);
    let answer =
        calc_one("torque", &json!({asked: given, "length": input["L"], "extension": input["E"]}));
    for key in [key, "published_rounded"] {
        if case.has(key) {
            let expected = &case.expect[key];
            case.expects(key, &rounded_like(&answer[answered], expected), faults);
        }
    }
}

pub(super) fn copper(case: &Case, faults: &mut Faults) {
    let input = &case.input;
    let answer = calc_one(
        "copper",
        &json!({"resistance_ohm": input["R"], "temp_c": input["T1"], "ref_temp_c": input["T2"],
            "alpha20": 0.00393, "temp_uncertainty_c": 0}),
    );
    case.expects("R", &rounded_like(&answer["corrected_234_5"], &case.expect["R"]), faults);
}

/// The published limit is that of a four-stroke: a loss above 25 % is suspect.
pub(super) fn compression(case: &Case, faults: &mut Faults) {
    let (supply, cylinder) = (&case.input["supply_psi"], &case.input["cyl_psi"]);
    let answer =
        calc_one("compression", &json!({"supply": supply, "cylinder": cylinder, "strokes": 4}));
    case.expects(
        "loss_pct",
        &rounded_like(&answer["loss_percent"], &case.expect["loss_pct"]),
        faults,
    );
    let result = if answer["finding"] == "within-limit" { "at_limit_accept" } else { "suspect" };
    case.expects("result", &json!(result), faults);
}

pub(super) fn bore(case: &Case, faults: &mut Faults) {
    let answer = calc_one("bore", &json!({"a": case.input["A"], "b": case.input["B"]}));
    for key in ["out_of_round", "taper"] {
        case.expects(key, &answer[key], faults);
    }
}
