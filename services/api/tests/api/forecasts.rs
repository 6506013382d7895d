//! When hours will be used up, as the due list of an engine and its page tell it.

use crate::server::{ENGINE_TYPE, Server};
use serde_json::{Value, json};

const ENGINE: &str = "0193a000-0000-7000-8000-0000000000e1";
const AIRCRAFT: &str = "0193a000-0000-7000-8000-0000000000a1";

/// An engine read about every month, with its 100 h inspection done at the last reading.
fn read_monthly() -> Server {
    let server = Server::start();
    server.activate("oarlock-twin", ENGINE_TYPE);
    put(
        &server,
        &format!("aircraft/{AIRCRAFT}"),
        &json!({ "on": "2026-01-10", "mark": "DEMO-1", "basis": "engine-run" }),
    );
    put(
        &server,
        &format!("engines/{ENGINE}"),
        &json!({
            "on": "2026-01-10", "engine_type": "oarlock-twin", "serial": "7", "basis": "engine-run", "tsn": "1000.0",
        }),
    );
    let into = json!({ "on": "2026-01-10", "aircraft": AIRCRAFT, "meter": "1000.0" });
    put(&server, &format!("engines/{ENGINE}/installations/{}", id(1)), &into);
    let readings = [
        ("2026-02-10", "1008.0"),
        ("2026-03-10", "1015.5"),
        ("2026-04-10", "1024.0"),
        ("2026-05-10", "1036.0"),
    ];
    for (last, (on, meter)) in (2..).zip(readings) {
        let reading = json!({ "on": on, "meter": meter });
        put(&server, &format!("engines/{ENGINE}/readings/{}", id(last)), &reading);
    }
    put(
        &server,
        &format!("inspections/{}", id(9)),
        &json!({
            "engine": ENGINE, "work_order": "W-1", "opened_on": "2026-06-01", "released_on": "2026-06-02",
            "readings": [{ "meter": "1043.2" }],
            "work": [{ "item": "hundred-hour-inspection", "action": "inspected" }],
            "release": { "by": "A Mechanic", "licence": "L-1" },
        }),
    );
    server
}

fn id(last: u32) -> String {
    format!("0193a000-0000-7000-8000-{last:012}")
}

fn put(server: &Server, path: &str, body: &Value) {
    let answer = server.send("PUT", &format!("/v1/{path}"), &server.shop_a, &body.to_string());
    assert_eq!(answer.status, 201, "{answer:?}");
}

fn hundred_hours(server: &Server, as_of: &str) -> Value {
    let list = server.get(&format!("/v1/engines/{ENGINE}/due?as_of={as_of}"), &server.inspector);
    let lines = list.json()["lines"].as_array().cloned().unwrap_or_default();
    lines.into_iter().find(|it| it["item"] == "hundred-hour-inspection").expect("the line")
}

// Expected days: the method of the forecast, worked out a second time in Python from these readings, 56.8 h
// left, an owner of any kind and every month alike.
#[test]
fn hours_left_have_an_early_a_middle_and_a_late_day() {
    let server = read_monthly();
    let line = hundred_hours(&server, "2026-06-02");
    assert_eq!(line["hours_left"], "56.8");
    let forecast = &line["forecast"];
    assert_eq!(forecast["status"], "ok");
    let days = ["p10", "p50", "p90"].map(|it| forecast[it].as_str().unwrap_or_default());
    assert_eq!(days, ["2026-09-18", "2027-01-12", "2027-08-07"]);
    assert_eq!(forecast["basis"]["rests_on"], "own-readings");
    assert_eq!(forecast["basis"]["stretches"], 5);
    assert_eq!(forecast["basis"]["last_reading"], "2026-06-02");
    assert_eq!(forecast["warnings"], json!([]));
    // The Mondays of the weeks that hold the early and the late day.
    let words =
        "likely between the weeks of Mon 2026-09-14 and Mon 2027-08-02, plan by Fri 2026-09-18";
    assert_eq!(forecast["in_words"], words);
}

// Days stay where they are while nothing is read, and what is odd about that is said.
#[test]
fn without_a_new_reading_the_days_stay_and_warn() {
    let server = read_monthly();
    let late = hundred_hours(&server, "2027-08-08");
    assert_eq!(late["forecast"]["p10"], "2026-09-18");
    assert_eq!(late["forecast"]["warnings"], json!(["probably-passed", "stale"]));
    // More than two years after the last reading.
    let too_late = hundred_hours(&server, "2028-06-02");
    assert_eq!(too_late["forecast"]["status"], "cannot-say");
    assert_eq!(too_late["forecast"]["p10"], Value::Null);
    let words = too_late["forecast"]["in_words"].as_str().unwrap_or_default();
    assert!(words.starts_with("no forecast: the last reading, of Tue 2026-06-02"), "{words}");
}

#[test]
fn the_page_says_the_same_as_the_due_list() {
    let server = read_monthly();
    let page = server.page(&format!("/engines/{ENGINE}?as_of=2026-06-02"));
    assert!(page.contains("Hours used up:"), "{page}");
    assert!(!page.contains("no date can be forecast"), "a forecast stands beside it: {page}");
    assert!(page.contains("2026-09-18"), "{page}");
    assert!(page.contains("Who flies the aircraft and where are not on record"), "{page}");
}

#[test]
fn an_engine_in_no_aircraft_has_no_forecast() {
    let server = read_monthly();
    let out = json!({ "on": "2026-06-02", "meter": "1043.2", "order_in_day": 9 });
    put(&server, &format!("engines/{ENGINE}/removals/{}", id(10)), &out);
    let forecast = &hundred_hours(&server, "2026-06-03")["forecast"];
    assert_eq!(forecast["status"], "cannot-say");
    assert_eq!(forecast["in_words"], "no forecast: the engine is in no aircraft");
}

// An amendment of the aircraft's registration says who flies it and where; worked out a second time in Python from
// the same readings, 56.8 h left, a club, the months of the north.
#[test]
fn who_flies_and_where_go_into_the_days() {
    let server = read_monthly();
    let told = json!({
        "supersedes": AIRCRAFT, "reason": "asked the owner",
        "record": {
            "on": "2026-01-10", "mark": "DEMO-1", "basis": "engine-run", "flown_by": "club", "hemisphere": "north",
        },
    });
    put(&server, &format!("aircraft/{AIRCRAFT}/amendments/{}", id(11)), &told);
    let forecast = &hundred_hours(&server, "2026-06-02")["forecast"];
    let days = ["p10", "p50", "p90"].map(|it| forecast[it].as_str().unwrap_or_default());
    assert_eq!(days[0], "2026-08-06");
    assert_eq!(forecast["basis"]["flown_by"], "club");
    assert_eq!(forecast["basis"]["hemisphere"], "north");
    assert_eq!(forecast["basis"].get("not_on_record"), None);
    let page = server.page(&format!("/engines/{ENGINE}?as_of=2026-06-02"));
    assert!(!page.contains("not on record: forecasts allow"), "{page}");
    let wrong = json!({ "on": "2026-01-10", "mark": "X", "basis": "engine-run", "flown_by": "clup", "hemisphere": "up" });
    let answer =
        server.send("PUT", &format!("/v1/aircraft/{}", id(12)), &server.shop_a, &wrong.to_string());
    assert_eq!(answer.errors().len(), 2, "{answer:?}");
}

// The day to plan by is 2026-09-18, and from 30 days before that the line is coming due: 2026-08-19.
#[test]
fn a_line_comes_due_when_its_day_to_plan_by_is_near() {
    let server = read_monthly();
    assert_eq!(hundred_hours(&server, "2026-08-18")["status"], "not-due");
    let line = hundred_hours(&server, "2026-08-19");
    assert_eq!(line["status"], "coming-due");
    assert_eq!(line["days"]["coming_from"], "2026-08-19");
    let working = line["working"].to_string();
    let step = "one time in ten the hours are used up by 2026-09-18, and 2026-09-18 - 2026-08-19 = 30 days is not more";
    assert!(working.contains(step), "{working}");
    let fleet = server.get("/v1/fleet/due?as_of=2026-08-19", &server.inspector).json();
    let lines = fleet["engines"][0]["lines"].as_array().cloned().unwrap_or_default();
    let told = lines.iter().find(|it| it["item"] == "hundred-hour-inspection").expect("the line");
    assert_eq!(told["forecast"]["p10"], "2026-09-18");
}

// Every answer to a post tells the days too.
#[test]
fn a_post_answers_with_the_days() {
    let server = read_monthly();
    let reading = json!({ "on": "2026-06-02", "meter": "1043.2" });
    let path = format!("/v1/engines/{ENGINE}/readings/{}", id(13));
    let answer = server.send("PUT", &path, &server.shop_a, &reading.to_string()).json();
    let lines = answer["due"]["engines"][0]["lines"].as_array().cloned().unwrap_or_default();
    let line = lines.iter().find(|it| it["item"] == "hundred-hour-inspection").expect("the line");
    assert_eq!(line["forecast"]["p10"], "2026-09-18");
}

// No visit is after the day to plan by of any of its lines; at ten times the hours the inspection comes sooner, and a
// visit put off past its day is told.
#[test]
fn visits_are_planned_and_asked_about() {
    let server = read_monthly();
    let path = format!("/v1/engines/{ENGINE}/visits?as_of=2026-06-02");
    let plan = server
        .get(&format!("{path}&hours_per_month=90&not_before=2027-01-01"), &server.inspector)
        .json();
    let visits = plan["visits"].as_array().cloned().unwrap_or_default();
    assert!(!visits.is_empty());
    let day_of = |visits: &[Value]| {
        let mut found = None;
        for visit in visits {
            for work in visit["work"].as_array().cloned().unwrap_or_default() {
                let by = work["plan_by"].as_str().unwrap_or_default().max("2026-06-02").to_owned();
                assert!(visit["on"].as_str().is_some_and(|on| on <= by.as_str()), "{visit}");
                if work["item"] == "hundred-hour-inspection" {
                    assert_eq!(work["plan_by_is"], "forecast");
                    found = work["plan_by"].as_str().map(str::to_owned);
                }
            }
        }
        found
    };
    assert_eq!(day_of(&visits).as_deref(), Some("2026-09-18"));
    let faster = plan["what_if"]["visits"].as_array().cloned().unwrap_or_default();
    assert!(day_of(&faster).is_some_and(|by| by.as_str() < "2026-06-25"), "{plan}");
    assert!(plan["what_if"]["moved"].as_array().is_some_and(|it| !it.is_empty()), "{plan}");
    assert!(plan["put_off"]["in_words"].to_string().contains("past the day to plan by"), "{plan}");
    assert_eq!(
        plan["cautions"].as_array().map(Vec::len),
        Some(gudgeon_life::cautions::CAUTIONS.len())
    );
    let page = server.page(&format!(
        "/engines/{ENGINE}/visits?as_of=2026-06-02&hours_per_month=90&not_before=2027-01-01"
    ));
    assert!(
        page.contains("At 90.0 hours a month") && page.contains("If nothing is done before"),
        "{page}"
    );
    assert!(server.page(&format!("/engines/{ENGINE}?as_of=2026-06-02")).contains("Visit by"));
    for wrong in ["hours_per_month=0", "hours_per_month=many", "not_before=soon"] {
        let answer = server.get(&format!("{path}&{wrong}"), &server.inspector);
        assert_eq!(answer.status, 400, "{answer:?}");
    }
}
