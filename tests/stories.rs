//! The stories a practitioner would test first, told through the API, in every order and twice over.
//!
//! The figures were worked by hand; no published source unless one is named beside them.

#![expect(clippy::indexing_slicing, reason = "a missing field in an answer fails the test")]

use gudgeon_tests::id;
use gudgeon_tests::story::{
    AIRCRAFT, COMPONENT, ENGINE, FACT, OWNER, Story, engine_type, line, lines,
};
use serde_json::json;

const OVERHAUL: &str = r#"
[[items]]
id = "full-overhaul"
title = "Full overhaul"
class = "recommended"
source = "common practice"
counts-from = "overhaul"
every = { hours = 300, months = 60 }
done-by = ["overhauled"]
"#;

/// Swap: TSO 203.6 h, TSN 615.6 h, 96.4 h left, calendar 2027-05-10; the gearbox stayed: 502.0 h.
#[test]
fn an_engine_swapped_between_aircraft_and_a_gearbox_that_stayed() {
    let mut story = Story::new();
    story.aircraft(1, "Q-AAA");
    story.aircraft(2, "Q-BBB");
    story.engine(1, "2016-03-01", Some("0"), Some("2016-01-15"));
    let overhaul = json!({
        "tsn": "412.0", "overhaul": {"scope": "full"}, "test_run": "1.0",
        "work": [{"item": "full-overhaul", "action": "overhauled"}],
    });
    story.inspection(overhaul, 1, "2022-05-10");
    story.install(1, 1, "2022-06-01", "1210.0");
    story.about_engine(1, "removals", json!({"on": "2024-03-01", "meter": "1318.5"}));
    story.install(1, 2, "2024-04-01", "87.2");
    let change = format!("/v1/aircraft/{}/meter-changes/{}", id(AIRCRAFT, 2), id(FACT, 900));
    story.tell(change, json!({"on": "2025-02-01", "old_end": "140.0", "new_start": 0}));
    story.reading(2, "2026-01-10", "41:18");
    story.component(1, json!({"on": "2021-01-01", "kind": "gearbox", "serial": "G-1", "hours": 0}));
    let aircraft = id(AIRCRAFT, 1);
    story.fit(1, json!({"on": "2021-01-01", "aircraft": aircraft, "meter": "1000.0"}));
    story.reading(1, "2026-01-05", "1502.0");

    let answer = story.in_every_order(&engine_type(OVERHAUL), |service| {
        let engine = service.get(&format!("/v1/engines/{}", id(ENGINE, 1)))["engine"].take();
        let gearbox = service.get(&format!("/v1/components/{}", id(COMPONENT, 1)));
        let gearbox = &gearbox["component"];
        let lines = lines(service, 1, "2026-11-25");
        json!({"engine": engine, "gearbox": gearbox, "lines": lines})
    });
    assert_eq!(answer["engine"]["hours"]["since_overhaul"], "203.6");
    assert_eq!(answer["engine"]["hours"]["since_new"], "615.6");
    assert_eq!(answer["gearbox"]["hours"], "502.0");
    let overhaul = line(&answer["lines"], "full-overhaul");
    assert_eq!(overhaul["hours_left"], "96.4");
    assert_eq!(overhaul["due"]["on"], "2027-05-10");
    assert_eq!(overhaul["status"], "not-due");
}

const BELT: &str = r#"
[[items]]
id = "fan-belt"
title = "Fan belt"
component = "fan-belt"
class = "recommended"
source = "common practice"
done-by = ["renewed"]
[[items.limits]]
name = "shelf"
counts-from = "made"
every = { months = 48 }
shelf = true
[[items.limits]]
name = "in service"
counts-from = "first-fitted"
every = { hours = 300, months = 60 }
[[items.limits]]
name = "total"
counts-from = "made"
every = { months = 96 }
"#;

fn belt_story(code: Option<&str>) -> Story {
    let mut story = Story::new();
    for number in [1, 2] {
        story.aircraft(number, &format!("Q-BE{number}"));
        story.engine(number, "2020-01-01", Some("0"), Some("2019-12-01"));
        story.install(number, number, "2020-01-02", "0");
    }
    let mut belt = json!({"on": "2022-05-20", "kind": "fan-belt", "hours": 0});
    if let Some(text) = code {
        belt["code"] = json!({"scheme": "quarter", "text": text});
    }
    story.component(5, belt);
    story.reading(1, "2022-06-01", "50.0");
    story.fit(5, json!({"on": "2022-06-01", "engine": id(ENGINE, 1)}));
    story.reading(1, "2023-09-01", "170.0");
    let off = format!("/v1/components/{}/removals/{}", id(COMPONENT, 5), id(FACT, 901));
    story.tell(off, json!({"on": "2023-09-01", "reason": "engine laid up"}));
    story.reading(2, "2024-02-01", "80.0");
    story.fit(5, json!({"on": "2024-02-01", "engine": id(ENGINE, 2)}));
    story
}

/// Belt 3Q19, off at 120.0 h: 180.0 h left or 2027-06-01, total 2027-07-01. Code lost: unknown.
#[test]
fn a_belt_that_moved_keeps_its_hours_and_its_age() {
    let kind = engine_type(BELT);
    let answer =
        belt_story(Some("3Q19")).in_every_order(&kind, |service| lines(service, 2, "2026-11-25"));
    let belt = line(&answer, "fan-belt");
    assert_eq!(belt["hours_left"], "180.0", "{belt:#}");
    assert_eq!(belt["due"]["on"], "2027-06-01");
    let total =
        belt["legs"].as_array().and_then(|legs| legs.iter().find(|leg| leg["limit"] == "total"));
    assert_eq!(total.map(|leg| &leg["due"]), Some(&json!("2027-07-01")), "{belt:#}");

    let answer = belt_story(None).in_every_order(&kind, |service| lines(service, 2, "2026-11-25"));
    assert_eq!(line(&answer, "fan-belt")["status"], "unknown");
}

/// Regime: due 1040.0, done 1043.2, every 100 h. 14 CFR 91.409(b): 1140.0, overdue at 1141.0;
/// ML.A.302(d)(1): 1143.2, 2.2 h left.
#[test]
fn two_regimes_count_the_same_inspection_differently() {
    let mut story = Story::new();
    story.aircraft(1, "Q-REG");
    story.engine(1, "2010-01-01", Some("840.0"), None);
    story.install(1, 1, "2010-01-01", "840.0");
    for (on, meter) in [("2023-01-10", "940.0"), ("2024-01-10", "1043.2")] {
        let work = json!({
            "readings": [{"meter": meter}],
            "work": [
                {"item": "hundred-from-due", "action": "inspected"},
                {"item": "hundred-from-done", "action": "inspected"},
            ],
        });
        story.inspection(work, 1, on);
    }
    story.reading(1, "2024-12-01", "1141.0");
    story.tell(format!("/v1/owners/{}", id(OWNER, 1)), json!({"name": "An Owner"}));
    let item = |next: &str, source: &str| {
        format!(
            "[[items]]\nid = \"hundred-{next}\"\ntitle = \"100 hours\"\nclass = \"required-inspection\"\nsource = \"{source}\"\ncounts-from = \"done\"\nevery = {{ hours = 100 }}\nnext = \"{next}\"\ndone-by = [\"inspected\"]\n\n"
        )
    };
    let kind = engine_type(&format!(
        "{}{}",
        item("from-due", "14 CFR 91.409(b)"),
        item("from-done", "ML.A.302(d)(1)")
    ));
    let answer = story.in_every_order(&kind, |service| lines(service, 1, "2024-12-02"));
    let from_due = line(&answer, "hundred-from-due");
    assert_eq!(from_due["due"]["hours"], "1140.0", "{from_due:#}");
    assert_eq!(from_due["status"], "overdue");
    assert_eq!(from_due["last_overrun"]["hours"], "3.2");
    let from_done = line(&answer, "hundred-from-done");
    assert_eq!(from_done["due"]["hours"], "1143.2");
    assert_eq!(from_done["hours_left"], "2.2");
}

#[test]
fn all_of_these_pass_on_postgres_too() {
    gudgeon_tests::repeat_on_postgres();
}
