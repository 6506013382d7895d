//! Stories of a type that is known: one reading sets a limit once six logged engines of the type have told how it wears.
//!
//! Bounds are worked out with `NumPy` 2.4 and `SciPy` 1.17 from the readings told here, by Bayes' rule for a line with a
//! normal prior: 432.5358 h of the eighteen readings of six engines, 483.3529 h of twenty.

use super::{CYLINDER, QUANTITIES, bore, redone};
use gudgeon_api::{Cache, recount_all};
use gudgeon_tests::Service;
use gudgeon_tests::id;
use gudgeon_tests::story::{ENGINE, FACT, SHOP, Story, engine_type, line, lines};
use serde_json::{Value, json};

/// What six engines measured at 60, 160 and 260 h.
const SIX: [[&str; 3]; 6] = [
    ["67.512", "67.533", "67.551"],
    ["67.516", "67.534", "67.556"],
    ["67.508", "67.530", "67.549"],
    ["67.514", "67.532", "67.550"],
    ["67.510", "67.534", "67.557"],
    ["67.513", "67.531", "67.553"],
];

/// A cylinder of a thousand hours, whose bore wears.
fn kind() -> String {
    engine_type(&format!("{}{QUANTITIES}", CYLINDER.replace("hours = 400", "hours = 1000")))
}

/// Engines measured three times each, so many of them with a log; and engines 7 and 8, new.
fn measured_fleet(logged: u32) -> Story {
    let mut story = Story::new();
    for (engine, values) in (1..).zip(SIX) {
        story.engine(engine, "2019-01-01", (engine <= logged).then_some("0"), Some("2019-01-01"));
        for ((tsn, on), value) in
            [("60.0", "2019-03-01"), ("160.0", "2019-06-01"), ("260.0", "2019-09-01")]
                .into_iter()
                .zip(values)
        {
            story.inspection(bore(tsn, value), engine, on);
        }
    }
    for engine in [7, 8] {
        story.engine(engine, "2019-01-01", Some("0"), Some("2019-01-01"));
    }
    story
}

/// Learns and counts on a day, as `gudgeon week` does before it plans.
fn week_of(service: &Service, day: &str) {
    service.store.learn_wear(day.parse().unwrap()).unwrap();
    recount_all(&service.store, &Cache::default(), |_| ()).unwrap();
}

/// Tells one inspection more.
fn inspect(service: &Service, number: u32, engine: u32, on: &str, mut body: Value) {
    body["engine"] = json!(id(ENGINE, engine));
    body["shop"] = json!(id(SHOP, 1));
    body["opened_on"] = json!(on);
    body["released_on"] = json!(on);
    body["release"] = json!({"by": "a licensed person", "reference": "1"});
    service.put_ok(&format!("/v1/inspections/{}", id(FACT, number)), &body);
}

/// What the cylinder of an engine is due by and why, its working done again.
fn cylinder(service: &Service, engine: u32) -> [Value; 4] {
    let answer = lines(service, engine, "2020-01-01");
    redone(&answer);
    let line = line(&answer, "cylinder");
    let wear = &line["wear"][0];
    [&line["due"]["hours"], &wear["basis_kind"], &wear["fleet"]["worked_out_on"], &wear["status"]]
        .map(Value::clone)
}

fn steadied(due: &str, worked_out_on: &str) -> [Value; 4] {
    [json!(due), json!("fleet"), json!(worked_out_on), json!("ok")]
}

#[test]
fn one_reading_is_enough_once_six_engines_have_told() {
    let service = measured_fleet(6).told(&kind());
    let alone = || [json!("1000.0"), json!("own"), Value::Null, json!("cannot-say")];
    inspect(&service, 900, 7, "2019-10-01", bore("150.0", "67.530"));
    assert_eq!(cylinder(&service, 7), alone(), "nobody has worked anything out");
    week_of(&service, "2019-11-25");
    inspect(&service, 901, 8, "2019-10-01", bore("150.0", "67.530"));
    assert_eq!(cylinder(&service, 8), steadied("432.5", "2019-11-25"));
    let answer = lines(&service, 8, "2020-01-01");
    let wear = &line(&answer, "cylinder")["wear"][0];
    assert_eq!(
        (&wear["readings"], &wear["fleet"]["engines"], &wear["fleet"]["version"]),
        (&json!(1), &json!(6), &json!(1)),
        "{wear:#}"
    );
    assert_eq!(wear["basis"], "steadied by 6 engines of the type, as worked out on 2019-11-25");
    assert_eq!(cylinder(&service, 7), alone(), "its next recompute applies it");

    // Two engines tell more. What is known is another version now, and each engine takes it when it is posted about.
    inspect(&service, 902, 1, "2019-12-01", bore("360.0", "67.580"));
    inspect(&service, 903, 2, "2019-12-01", bore("360.0", "67.581"));
    week_of(&service, "2019-12-01");
    inspect(&service, 904, 7, "2019-12-01", json!({"tsn": "150.0"}));
    assert_eq!(cylinder(&service, 7), steadied("432.5", "2019-11-25"), "once a week, not twice");
    week_of(&service, "2019-12-02");
    inspect(&service, 905, 7, "2019-12-02", json!({"tsn": "150.0"}));
    assert_eq!(cylinder(&service, 7), steadied("483.3", "2019-12-02"));
    assert_eq!(cylinder(&service, 8), steadied("432.5", "2019-11-25"));

    // 2019-11-25 + 90 days = 2020-02-23: a day later no line follows that version any more.
    week_of(&service, "2020-02-23");
    assert_eq!(cylinder(&service, 8), steadied("432.5", "2019-11-25"));
    week_of(&service, "2020-02-24");
    assert_eq!(cylinder(&service, 8), steadied("483.3", "2020-02-24"));
    assert_eq!(cylinder(&service, 7), steadied("483.3", "2019-12-02"));
    // Nor does one that was posted about before there was any.
    let [_, basis, on, _] = cylinder(&service, 3);
    assert_eq!([basis, on], [json!("fleet"), json!("2020-02-24")]);
}

#[test]
fn five_engines_are_no_fleet_and_one_without_a_log_never_counts() {
    let service = measured_fleet(5).told(&kind());
    week_of(&service, "2019-11-25");
    inspect(&service, 900, 7, "2019-10-01", bore("150.0", "67.530"));
    let [due, basis, _, status] = cylinder(&service, 7);
    assert_eq!([due, basis, status], [json!("1000.0"), json!("own"), json!("cannot-say")]);
}
