//! `calc life`, `calc unlogged` and `calc spread` against libraries and published tables, at the tolerances that the
//! files state.

use super::{Case, Faults, calc, cases, header};
use serde_json::Value;

/// Compares the answers to all cases of a file: each key that it expects, in the part of the answer named.
fn agrees(sum: &str, file: &str, part: Option<&str>) {
    let cases = cases(file);
    let tolerance = &header(file)["tolerance"];
    let stated = |of: &Value, key: &str| of[key].as_f64();
    let mut faults = Faults::default();
    for (case, answer) in cases.iter().zip(calc(sum, &cases)) {
        let answer = part.map_or(&answer, |part| &answer[part]);
        for (key, expected) in case.expect.as_object().expect("an object") {
            let own = stated(&tolerance["per_key"], key);
            let relative = own.or_else(|| stated(tolerance, "rel")).unwrap_or_default();
            let absolute = if own.is_some() { None } else { stated(tolerance, "abs") };
            let allowed = (relative, absolute.unwrap_or_default());
            same(case, key, &answer[key], expected, allowed, &mut faults);
        }
    }
    faults.none();
}

/// Lists and objects entry by entry and of one length, numbers within what is allowed, all else exactly.
fn same(
    case: &Case,
    at: &str,
    found: &Value,
    expected: &Value,
    allowed: (f64, f64),
    faults: &mut Faults,
) {
    match (found, expected) {
        (Value::Array(found), Value::Array(expected)) if found.len() == expected.len() => {
            for (number, (found, expected)) in found.iter().zip(expected).enumerate() {
                same(case, &format!("{at}/{number}"), found, expected, allowed, faults);
            }
        }
        (Value::Object(_), Value::Object(fields)) => {
            for (name, expected) in fields {
                same(case, &format!("{at}/{name}"), &found[name], expected, allowed, faults);
            }
        }
        (Value::Number(_), Value::Number(_)) => {
            let (found, wanted) =
                (found.as_f64().expect("a number"), expected.as_f64().expect("a number"));
            let (relative, absolute) = allowed;
            if (found - wanted).abs() > (relative * wanted.abs()).max(absolute) {
                faults.0.push(format!("{} {at}: expected {expected}, found {found}", case.id));
            }
        }
        _ if found != expected => {
            faults.0.push(format!("{} {at}: expected {expected}, found {found}", case.id));
        }
        _ => {}
    }
}

#[test]
fn weibull_lives_agree_with_the_handbook_and_lifelines() {
    agrees("life", "06_weibull_right_censored.json", Some("weibull"));
    agrees("life", "07_weibull_left_truncated.json", Some("weibull"));
    agrees("life", "08_weibull_interval_censored.json", Some("weibull"));
}

#[test]
fn survival_curves_agree_with_lifelines() {
    agrees("life", "09_turnbull.json", Some("survival"));
    agrees("life", "10_kaplan_meier.json", Some("survival"));
}

#[test]
fn bounds_under_an_assumed_shape_agree_with_scipy() {
    agrees("life", "16_assumed_shape.json", Some("assumed_shape"));
}

#[test]
fn hours_without_a_log_agree_with_the_reference() {
    agrees("unlogged", "18_hours_from_wear.json", None);
}

#[test]
fn lines_read_backwards_agree_with_investr() {
    agrees("unlogged", "03_inverse_prediction_fieller.json", None);
}

#[test]
fn outliers_agree_with_the_handbook_and_scipy() {
    agrees("spread", "11_grubbs_mad.json", None);
}

/// What is wrong with an input, by pointer and code.
fn faults(sum: &str, input: &Value) -> Vec<(String, String)> {
    let (answers, code) = super::calc_raw(sum, std::slice::from_ref(input));
    assert_eq!(code, Some(3), "{answers:?}");
    let errors =
        answers.first().and_then(|it| it["errors"].as_array().cloned()).expect("a problem");
    let text = |fault: &Value, key: &str| fault[key].as_str().expect("a text").to_owned();
    errors.iter().map(|fault| (text(fault, "pointer"), text(fault, "code"))).collect()
}

#[test]
fn what_is_wrong_with_an_input_is_named_at_its_place() {
    use serde_json::json;
    for (sum, input, expected) in [
        ("life", json!({"interval": [[5, 3]]}), ("/interval/0", "bad-before-good")),
        ("life", json!({"interval": [[5]]}), ("/interval/0", "wrong-type")),
        ("life", json!({"time": [5], "event": [2]}), ("/event/0", "out-of-range")),
        ("life", json!({"time": [5, 6], "event": [1]}), ("/event", "unequal-lengths")),
        ("life", json!({"time": [5], "event": [1], "entry": [5]}), ("/time", "entry-too-late")),
        (
            "life",
            json!({"time_run": [0], "failures": 0, "shape_assumed": 1, "confidence": 0.9}),
            ("/time_run", "nothing-ran"),
        ),
        (
            "life",
            json!({"time_run": [1], "failures": 0, "shape_assumed": 1, "confidence": 1}),
            ("/confidence", "out-of-range"),
        ),
        ("spread", json!({"x": [1e12], "alpha": 0.05}), ("/x", "value-out-of-range")),
        ("spread", json!({"x": [1], "alpha": 0}), ("/alpha", "out-of-range")),
        ("spread", json!({"n": 2, "alpha": 0.05}), ("/n", "out-of-range")),
        (
            "spread",
            json!({"x": [1], "alpha": 0.05, "low": 2, "high": 1}),
            ("/low", "limit-out-of-range"),
        ),
        (
            "unlogged",
            json!({"x": [1, 2], "y": [1, 2], "y0": 1, "confidence": 0.9}),
            ("/y", "too-few-points"),
        ),
        (
            "unlogged",
            json!({"fleet_engine": [1], "fleet_hours": [1, 2], "fleet_y": [[1]], "y0": [1]}),
            ("/fleet_hours", "unequal-lengths"),
        ),
        (
            "unlogged",
            json!({"fleet_engine": [1], "fleet_hours": [1], "fleet_y": [[1]], "y0": [1, 2]}),
            ("/y0", "unequal-lengths"),
        ),
    ] {
        let expected = (expected.0.to_owned(), expected.1.to_owned());
        assert_eq!(faults(sum, &input), [expected], "{sum} {input}");
    }
}

#[test]
fn cannot_say_is_an_answer() {
    use serde_json::json;
    let input = json!({"fleet_engine": [1, 2], "fleet_hours": [100, 200], "fleet_y": [[0.1], [0.2]], "y0": ["renewed"]});
    let (answers, code) = super::calc_raw("unlogged", &[input]);
    assert_eq!(code, Some(0));
    let answer = answers.first().expect("an answer");
    assert_eq!((&answer["status"], &answer["p50"]), (&json!("cannot_say"), &Value::Null));
    assert_eq!(answer["indicators"], json!(["renewed"]));
    let (answers, _) = super::calc_raw("life", &[json!({"interval": [], "limit": 300})]);
    let answer = answers.first().expect("an answer");
    assert_eq!(answer["says"], json!("cannot say: no parts on record"));
    assert!(answer["against_limit"].as_str().is_some_and(|it| it.starts_with("cannot say")));
    assert_eq!((&answer["weibull"], &answer["survival"]), (&Value::Null, &Value::Null));
}
