//! Stories of wear: measurements that bring an item forward, and hours that no log tells, through the API, in every
//! order and twice over.
//!
//! Bounds are those of the line of least squares with Student's t of published tables, worked out in a program of
//! their own: 319.7897 h of three readings, 439.8321 h of four.

#![cfg(test)]

#[path = "stories_wear/steadied.rs"]
mod steadied;

use gudgeon_store::Role;
use gudgeon_tests::story::{ENGINE, FACT, Story, engine_type, line, lines};
use gudgeon_tests::{Service, add_key, id};
use serde_json::{Value, json};
use std::io::Write as _;
use std::path::Path;
use std::process::{Command, Stdio};

const CYLINDER: &str = r#"
[[items]]
id = "cylinder"
title = "Cylinder"
class = "recommended"
source = "common practice"
counts-from = "new"
every = { hours = 400 }
trend = { quantity = "bore" }
done-by = ["renewed"]
"#;

const LIVES: &str = r#"
[[items]]
id = "full-overhaul"
title = "Full overhaul"
class = "recommended"
source = "common practice"
counts-from = "overhaul"
every = { hours = 1200 }
done-by = ["overhauled"]

[[items]]
id = "crank-exchange"
title = "Crankshaft exchange"
class = "recommended"
source = "common practice"
counts-from = "new"
every = { hours = 600 }
done-by = ["renewed"]

[[items]]
id = "hundred"
title = "Hundred hours"
class = "required-inspection"
source = "common practice"
counts-from = "new"
every = { hours = 100 }
next = "from-done"
done-by = ["inspected"]
"#;

const QUANTITIES: &str = r#"
[[quantities]]
id = "bore"
title = "Bore"
unit = "mm"
source = "common practice"
limit = { max = 67.62 }
range = { min = 60, max = 80 }
gauge = { name = "bore gauge", uncertainty = 0.005 }
wear = "rises"
feeds = "cylinder"

[[quantities]]
id = "ring-gap"
title = "Ring end gap"
unit = "mm"
source = "common practice"
limit = { max = 1.5 }
range = { min = 0.05, max = 4 }
gauge = { name = "feeler gauge", uncertainty = 0.03 }
wear = "rises"
feeds = "cylinder"
"#;

fn kind() -> String {
    engine_type(&format!("{CYLINDER}{LIVES}{QUANTITIES}"))
}

/// Every working that is printed comes out when it is done again by the checker, which shares no code.
fn redone(lines: &Value) {
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("check_workings.py");
    let mut child = Command::new("python3")
        .arg(script)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut input = child.stdin.take().unwrap();
    for line in lines.as_array().unwrap() {
        writeln!(input, "{line}").unwrap();
    }
    drop(input);
    let output = child.wait_with_output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stdout));
}

fn bore(tsn: &str, value: &str) -> Value {
    json!({"tsn": tsn, "measurements": [{"quantity": "bore", "value": value, "unit": "mm"}]})
}

fn three_inspections() -> Story {
    let mut story = Story::of_new_engine();
    story.inspection(bore("60.0", "67.520"), 1, "2021-03-01");
    story.inspection(bore("110.0", "67.531"), 1, "2021-06-01");
    story.inspection(bore("160.0", "67.540"), 1, "2021-09-01");
    story
}

#[test]
fn three_inspections_bring_a_cylinder_forward() {
    let ask = |service: &Service| lines(service, 1, "2021-10-01");
    let answer = three_inspections().in_every_order(&kind(), ask);
    redone(&answer);
    let cylinder = line(&answer, "cylinder");
    assert_eq!(cylinder["due"]["hours"], "319.7", "{cylinder:#}");
    assert_eq!(cylinder["latest"]["hours"], "319.7");
    assert_eq!(cylinder["legs"][0]["due"], "400.0");
    assert_eq!(cylinder["legs"][1]["limit"], "trend of Bore");
    assert_eq!(cylinder["legs"][1]["due"], "319.7");
    let wear = &cylinder["wear"][0];
    let told = [&wear["status"], &wear["point"], &wear["lower95"], &wear["leg"]];
    assert_eq!(told, ["ok", "558.3", "319.7", "trend of Bore"], "{wear:#}");
    assert_eq!((&wear["readings"], &wear["holds_percent"]), (&json!(3), &json!(95)));
    assert_eq!(wear["basis"], "from this engine's own readings alone");
}

#[test]
fn a_fourth_sharpens_it_and_a_renewal_begins_anew() {
    let mut story = three_inspections();
    story.inspection(bore("210.0", "67.552"), 1, "2022-01-10");
    let answer = story.in_every_order(&kind(), |service| lines(service, 1, "2022-02-01"));
    redone(&answer);
    let cylinder = line(&answer, "cylinder");
    // The interval itself comes first now.
    assert_eq!(
        (&cylinder["due"]["hours"], &cylinder["wear"][0]["lower95"]),
        (&json!("400.0"), &json!("439.8"))
    );

    let mut renewed = bore("250.0", "67.60");
    renewed["work"] = json!([{"item": "cylinder", "action": "renewed"}]);
    story.inspection(renewed, 1, "2022-03-01");
    let answer = story.in_every_order(&kind(), |service| lines(service, 1, "2022-04-01"));
    redone(&answer);
    let cylinder = line(&answer, "cylinder");
    assert_eq!(cylinder["due"]["hours"], "650.0");
    assert_eq!(cylinder["legs"].as_array().map(Vec::len), Some(1));
    let wear = &cylinder["wear"][0];
    assert_eq!(
        (&wear["status"], &wear["warnings"][0]["code"]),
        (&json!("cannot-say"), &json!("no-reading"))
    );
}

#[test]
fn what_readings_cannot_tell_is_said_and_redone() {
    for (readings, says) in [
        (&[("60.0", "67.52"), ("110.0", "67.53")][..], "needs-readings"),
        (&[("60.0", "67.52"), ("110.0", "67.53"), ("110.0", "67.62")], "already-reached"),
        (&[("60.0", "67.52"), ("110.0", "67.57"), ("160.0", "67.615")], "measure-again"),
        (&[("60.0", "67.53"), ("110.0", "67.52"), ("160.0", "67.51")], "no-wear-visible"),
        (&[("60.0", "67.52"), ("1060.0", "67.5205"), ("2060.0", "67.521")], "not-within"),
        (&[("60.0", "67.52"), ("60.0", "67.53"), ("60.0", "67.54")], "same-hours"),
    ] {
        let mut story = Story::of_new_engine();
        for ((tsn, value), month) in readings.iter().zip(3..) {
            story.inspection(bore(tsn, value), 1, &format!("2021-{month:02}-01"));
        }
        let answer = lines(&story.told(&kind()), 1, "2022-01-01");
        redone(&answer);
        let wear = &line(&answer, "cylinder")["wear"][0];
        let said = [&wear["status"], &wear["warnings"][0]["code"]];
        assert!(said.contains(&&json!(says)), "{says}: {wear:#}");
    }
}

/// How far one engine is from the usual, from -5 to 5, by no chance.
fn off(engine: i64, of: i64) -> i64 {
    (engine * 7 + of * 3 + engine * engine) % 11 - 5
}

/// What is measured of an engine after so many hours, in thousandths of a millimetre.
fn worn(engine: Option<i64>, hours: i64) -> Value {
    let off = |of| engine.map_or(0, |engine| off(engine, of));
    let bore = 67_580 + hours * 12 * (100 + 3 * off(0)) / 10_000 + 16 * off(5) / 10;
    let gap = 350 + hours * 5 * (100 + 3 * off(1)) / 1000 + 6 * off(6);
    let mm = |value: i64| format!("{}.{:03}", value / 1000, value % 1000);
    json!([
        {"quantity": "bore", "value": mm(bore), "unit": "mm"},
        {"quantity": "ring-gap", "value": mm(gap), "unit": "mm"},
    ])
}

/// Twelve logged engines, measured twice each, and one without a log that has run 500 h, which nobody knows.
fn lost_log() -> Story {
    let mut story = Story::new();
    for engine in 1_u32..=12 {
        story.engine(engine, "2019-01-01", Some("0"), Some("2019-01-01"));
        let first = 60 + 97 * (i64::from(engine) % 10);
        for (hours, on) in [(first, "2021-01-01"), (first + 300, "2022-01-01")] {
            let measured = worn(Some(i64::from(engine)), hours);
            story.inspection(json!({"tsn": hours, "measurements": measured}), engine, on);
        }
    }
    story.engine(99, "2024-01-01", None, None);
    story.inspection(json!({"measurements": worn(None, 500)}), 99, "2024-06-01");
    story
}

fn estimate(service: &Service, query: &str) -> Value {
    let path = format!("/v1/engines/{}/hours-estimate{query}", id(ENGINE, 99));
    service.get(&path)["estimate"].take()
}

#[test]
fn measurements_tell_the_hours_of_an_engine_without_a_log() {
    let service = lost_log().told(&kind());
    let found = estimate(&service, "");
    let figure = |found: &Value, key: &str| found[key].as_i64().unwrap();
    let of = |key| figure(&found, key);
    assert_eq!(found["status"], "ok", "{found:#}");
    assert!(of("p10") < 500 && 500 < of("p90"), "{found:#}");
    assert!(of("p90") < of("p95") && of("p95") < of("p97_5"), "{found:#}");
    assert_eq!(found["basis"]["logged_engines"], 12);
    assert_eq!(found["basis"]["indicators"][0]["role"], "used");
    assert_eq!(found["calibration"]["engines"], 12);
    assert_eq!(
        (&found["measured_on"], &found["count_then"]),
        (&json!("2024-06-01"), &json!("0.0"))
    );

    // What the shop says was renewed is left out, and the interval widens.
    let told = estimate(&service, "?renewed=ring-gap");
    assert_eq!(told["basis"]["indicators"][1]["role"], "renewed", "{told:#}");
    let width = |found: &Value| figure(found, "p90") - figure(found, "p10");
    assert!(width(&told) > width(&found), "{told:#}");

    // A renewal on record tells the same of everything on the cylinder.
    let mut story = lost_log();
    story.inspection(
        json!({"work": [{"item": "cylinder", "action": "renewed"}]}),
        99,
        "2024-07-01",
    );
    let gone = estimate(&story.told(&kind()), "");
    assert_eq!(gone["status"], "cannot-say", "{gone:#}");
    assert_eq!(gone["basis"]["indicators"][0]["role"], "renewed");
}

#[test]
fn where_nothing_can_be_estimated_it_is_said_why() {
    let mut few = Story::new();
    few.engine(99, "2024-01-01", None, None);
    few.inspection(json!({"measurements": worn(None, 500)}), 99, "2024-06-01");
    let service = few.told(&kind());
    let found = estimate(&service, "");
    assert_eq!(
        found["in_words"],
        "cannot say: 0 logged engines of this type have these measurements, six are needed"
    );
    let bare = {
        let mut bare = Story::new();
        bare.engine(99, "2024-01-01", None, None);
        bare
    };
    let found = estimate(&bare.told(&kind()), "");
    assert_eq!(
        found["in_words"],
        "cannot say: nothing was measured on a part that came with the engine"
    );
    let logged = {
        let mut logged = Story::new();
        logged.engine(99, "2024-01-01", Some("5"), None);
        logged
    };
    let found = estimate(&logged.told(&kind()), "");
    assert_eq!(found["in_words"], "cannot say: its hours are logged, so nothing is estimated");
}

fn accepted(hours: &str) -> Value {
    json!({
        "on": "2024-06-02", "hours": hours, "until": "2025-06-02", "reason": "measured at the strip-down",
        "by": "an inspector", "reference": "EST-1",
    })
}

// 700 h by 2024-06-02, when the count of these records stood at 0: new at -700 h, so 600 h were over 100 h before.
#[test]
fn an_accepted_estimate_worsens_a_life_and_sets_no_hours() {
    let mut story = Story::new();
    story.engine(99, "2024-01-01", None, None);
    story.stated(99, "2024-06-01", "0");
    story.about_engine(99, "hours-estimate", accepted("700"));
    let path = format!("/v1/engines/{}/due?as_of=2024-07-01", id(ENGINE, 99));
    let answer = story.in_every_order(&kind(), |service| service.get(&path));
    redone(&answer["lines"]);
    let of = |item| line(&answer["lines"], item);
    let crank = of("crank-exchange");
    assert_eq!(crank["status"], "overdue", "{crank:#}");
    assert_eq!(crank["legs"][0]["no_later"]["due"], "-100.0");
    assert_eq!(crank["notes"][0]["code"], "estimated-hours");
    // 1200 h are not over by any estimate: unknown, never better.
    let overhaul = of("full-overhaul");
    assert_eq!(
        (&overhaul["status"], &overhaul["legs"][0]["no_later"]["due"]),
        (&json!("unknown"), &json!("500.0"))
    );
    assert_eq!(overhaul["notes"][0]["code"], "estimated-hours");
    // Whether an inspection was done before these records no estimate tells.
    assert_eq!(
        (&of("hundred")["status"], &of("hundred")["notes"]),
        (&json!("unknown"), &json!([]))
    );
    for key in ["tsn", "tso"] {
        assert!(answer["engine"][key].is_null(), "{key}: {:#}", answer["engine"]);
    }
    assert_eq!(
        answer["no_log"]["estimate_accepted"]["in_words"],
        "estimate accepted: 700.0 h run by 2024-06-02 (to be looked at again by 2025-06-02)"
    );
}

#[test]
fn an_accepted_estimate_can_be_withdrawn_and_only_an_inspector_gives_it() {
    let mut story = Story::new();
    story.engine(99, "2024-01-01", None, None);
    let service = story.told(&kind());
    let path = format!("/v1/engines/{}/hours-estimate/{}", id(ENGINE, 99), id(FACT, 500));
    let shop = add_key(&service.store, Role::Shop);
    assert_eq!(service.send_as(&shop, &path, accepted("700").to_string().as_bytes()).0, 403);
    let (status, refused) = service.put(&path, &json!({"on": "2024-06-02"}));
    let missing: Vec<&str> = refused["errors"]
        .as_array()
        .unwrap()
        .iter()
        .filter_map(|it| it["pointer"].as_str())
        .collect();
    assert_eq!(status, 422, "{refused:#}");
    assert_eq!(missing, ["/by", "/hours", "/reason", "/reference", "/until"]);
    service.put_ok(&path, &accepted("700"));
    let status = || line(&lines(&service, 99, "2024-07-01"), "crank-exchange")["status"].clone();
    assert_eq!(status(), "overdue");
    let amended = format!("{path}/amendments/{}", id(FACT, 501));
    service.put_ok(
        &amended,
        &json!({"supersedes": id(FACT, 500), "withdrawn": true, "reason": "a slip"}),
    );
    assert_eq!(status(), "unknown");
}

#[test]
fn all_of_these_pass_on_postgres_too() {
    gudgeon_tests::repeat_on_postgres();
}
