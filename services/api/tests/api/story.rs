//! An engine's life through the API: posts in any order, repeated, corrected, and what is due after each.

use crate::server::{Answer, ENGINE_TYPE, Server};
use serde_json::{Value, json};

const ENGINE: &str = "0193a000-0000-7000-8000-0000000000e1";
const AIRCRAFT: &str = "0193a000-0000-7000-8000-0000000000a1";
const BELT: &str = "0193a000-0000-7000-8000-0000000000c1";

fn id(last: u32) -> String {
    format!("0193a000-0000-7000-8000-{last:012}")
}

fn with_engine_type() -> Server {
    let server = Server::start();
    server.activate("oarlock-twin", ENGINE_TYPE);
    server
}

fn put(server: &Server, path: &str, body: &Value) -> Answer {
    server.send("PUT", path, &server.shop_a, &body.to_string())
}

fn register(server: &Server) {
    let aircraft = json!({ "on": "2026-01-10", "mark": "DEMO-1", "basis": "engine-run" });
    assert_eq!(put(server, &format!("/v1/aircraft/{AIRCRAFT}"), &aircraft).status, 201);
    let engine = json!({
        "on": "2026-01-10", "engine_type": "oarlock-twin", "serial": "7", "basis": "engine-run",
        "tsn": "1000.0", "made_on": "2015-06-01",
    });
    assert_eq!(put(server, &format!("/v1/engines/{ENGINE}"), &engine).status, 201);
    let path = format!("/v1/engines/{ENGINE}/installations/{}", id(1));
    let into = json!({ "on": "2026-01-10", "aircraft": AIRCRAFT, "meter": "1000.0" });
    assert_eq!(put(server, &path, &into).status, 201);
}

fn hundred_hours(meter: &Value) -> Value {
    json!({
        "engine": ENGINE, "work_order": "W-1", "opened_on": "2026-06-01", "released_on": "2026-06-02",
        "readings": [{ "meter": meter }],
        "findings": [{ "item": "spark-plugs", "position": "pto", "condition": "serviceable", "note": "tan" }],
        "measurements": [{ "quantity": "bore", "position": "pto", "value": "67.520", "unit": "mm" }],
        "work": [{ "item": "hundred-hour-inspection", "action": "inspected" }],
        "release": { "by": "A Mechanic", "licence": "L-1" },
    })
}

fn codes(answer: &Answer) -> Vec<String> {
    let warnings = answer.json()["warnings"].as_array().cloned().unwrap_or_default();
    warnings.iter().filter_map(|it| it["code"].as_str()).map(str::to_owned).collect()
}

fn line(body: &Value, item: &str) -> Value {
    let lines = body["lines"].as_array().cloned().unwrap_or_default();
    lines
        .into_iter()
        .find(|line| line["item"] == item)
        .unwrap_or_else(|| panic!("no {item}: {body}"))
}

#[test]
fn the_same_post_three_times_then_another_under_its_id() {
    let server = with_engine_type();
    register(&server);
    let path = format!("/v1/inspections/{}", id(2));
    // 1043.2 h, "1043.2" and 1043 h 12 min are the same hours: 3 755 520 s.
    let first = put(&server, &path, &hundred_hours(&json!(1043.2)));
    assert_eq!(first.status, 201, "{first:?}");
    assert_eq!(first.header("location"), Some(path.as_str()));
    for meter in [json!("1043.2"), json!("1043:12")] {
        let again = put(&server, &path, &hundred_hours(&meter));
        assert_eq!(again.status, 200, "{again:?}");
        assert_eq!(again.json()["record"], first.json()["record"]);
    }
    let record = &first.json()["record"];
    assert_eq!(record["readings"][0]["meter"], "1043.2");
    assert_eq!(record["measurements"][0]["value"], "67.520");
    assert_eq!(record["findings"][0]["note"], "tan");
    assert_eq!(record["release"], json!({ "by": "A Mechanic", "licence": "L-1" }));
    assert_eq!(record["received_at"], "2026-11-25T12:00:00Z");

    let other = put(&server, &path, &hundred_hours(&json!(1043.3)));
    assert_eq!(other.status, 409);
    assert_eq!(other.errors(), [("/readings".to_owned(), "differs".to_owned())]);
    assert!(other.text.contains(&format!("{path}/amendments")), "{other:?}");
    assert_eq!(server.facts(&[ENGINE]), 3);
}

#[test]
fn the_same_post_from_many_at_once_is_kept_once() {
    let server = with_engine_type();
    register(&server);
    let path = format!("/v1/engines/{ENGINE}/readings/{}", id(2));
    let body = json!({ "on": "2026-02-01", "meter": 1001 });
    let statuses: Vec<u16> = std::thread::scope(|scope| {
        let posts: Vec<_> =
            (0..20).map(|_| scope.spawn(|| put(&server, &path, &body).status)).collect();
        posts.into_iter().map(|post| post.join().expect("answers")).collect()
    });
    assert_eq!(statuses.iter().filter(|status| **status == 201).count(), 1, "{statuses:?}");
    assert_eq!(statuses.iter().filter(|status| **status == 200).count(), 19, "{statuses:?}");
    assert_eq!(server.facts(&[ENGINE]), 3);
}

#[test]
fn the_answer_says_what_is_now_due_and_the_due_list_why() {
    let server = with_engine_type();
    register(&server);
    let answer =
        put(&server, &format!("/v1/inspections/{}", id(2)), &hundred_hours(&json!(1043.2)));
    let due = &answer.json()["due"];
    assert_eq!(due["as_of"], "2026-11-25");
    // The design's rule for late work: counted on by whole intervals from when it was due. Every 100 h from
    // new, done at 1043.2 h: next at 1100 h, 56.8 h left. One time in ten these are used up by 2026-09-13, by the method
    // of the forecast, worked out a second time in Python: so it counts as coming due.
    let posted = line(&due["engines"][0], "hundred-hour-inspection");
    assert_eq!(posted["due"]["hours"], "1100.0");
    assert_eq!(posted["hours_left"], "56.8");
    assert_eq!(posted["forecast"]["p10"], "2026-09-13");
    assert_eq!(posted["status"], "coming-due");
    assert_eq!(posted["status_printed"], "coming due");

    let list = server.get(&format!("/v1/engines/{ENGINE}/due"), &server.inspector);
    let list = list.json();
    assert_eq!(
        list["engine"]["hours"],
        json!({
            "since_new": "1043.2", "since_overhaul": null, "overhauls": 0, "meter": "1043.2",
            "on": "2026-06-02",
        })
    );
    assert_eq!(
        (&list["basis"], &list["entered_up_to"]),
        (&json!("engine-run"), &json!("2026-10-31"))
    );
    assert_eq!(list["cautions"].as_array().map(Vec::len), Some(8));
    let full = line(&list, "hundred-hour-inspection");
    assert!(full["working"].as_array().is_some_and(|it| it.len() > 2), "{full}");
    assert_eq!(full["last"]["record"], id(2));
    let ranks: Vec<usize> = list["lines"]
        .as_array()
        .expect("lines")
        .iter()
        .map(|line| {
            let words = [
                "overdue",
                "unknown",
                "in-tolerance",
                "in-extension",
                "coming-due",
                "on-condition",
                "not-due",
            ];
            words.iter().position(|word| line["status"] == *word).expect("a known word")
        })
        .collect();
    assert!(ranks.is_sorted(), "worst first: {ranks:?}");

    for day in ["0001-01-01", "9999-12-31"] {
        for path in ["/v1/fleet/due", &format!("/v1/engines/{ENGINE}/due")] {
            let far = server.get(&format!("{path}?as_of={day}"), &server.inspector);
            assert_eq!((far.status, &far.json()["as_of"]), (200, &json!(day)), "{far:?}");
        }
    }
    let fleet = server.get("/v1/fleet/due?as_of=2026-11-25&limit=1", &server.inspector);
    let body = fleet.json();
    assert_eq!(body["engines"][0]["engine"]["id"], ENGINE);
    let next = body["next"].as_str().expect("a full page has a next one");
    assert_eq!(fleet.header("link"), Some(format!("<{next}>; rel=\"next\"").as_str()));
    let path = next.strip_prefix("http://localhost").expect("our own address");
    let after = server.get(path, &server.inspector).json();
    assert_eq!((&after["engines"], &after["next"]), (&json!([]), &Value::Null));
}

#[test]
fn posts_may_come_before_what_they_name() {
    let server = with_engine_type();
    let early = put(&server, &format!("/v1/inspections/{}", id(2)), &hundred_hours(&json!(1043.2)));
    assert_eq!(early.status, 201, "{early:?}");
    assert!(codes(&early).contains(&"unknown-engine".to_owned()), "{early:?}");
    register(&server);
    let list = server.get(&format!("/v1/engines/{ENGINE}/due"), &server.shop_a).json();
    assert_eq!(line(&list, "hundred-hour-inspection")["due"]["hours"], "1100.0");
}

#[test]
fn odd_posts_are_taken_with_warnings() {
    let server = with_engine_type();
    register(&server);
    let path = |last| format!("/v1/inspections/{}", id(last));
    let odd = json!({
        "engine": ENGINE, "opened_on": "2026-06-01", "released_on": "2026-06-02",
        "findings": [{ "item": "spark-plugs", "position": "pto", "condition": "scrap" }],
        "work": [{ "item": "spark-plugs", "positions": ["mag", "pto"], "action": "refitted" }],
        "overhaul": { "scope": "full" },
    });
    let answer = put(&server, &path(2), &odd);
    assert_eq!(answer.status, 201, "{answer:?}");
    let found = codes(&answer);
    for code in ["no-release", "no-test-run", "scrap-refitted"] {
        assert!(found.contains(&code.to_owned()), "{code} in {found:?}");
    }
    let readings = |last| format!("/v1/engines/{ENGINE}/readings/{}", id(last));
    assert_eq!(
        put(&server, &readings(3), &json!({ "on": "2026-07-01", "meter": 1050 })).status,
        201
    );
    let fell = put(&server, &readings(4), &json!({ "on": "2026-07-02", "meter": 1040 }));
    assert_eq!((fell.status, codes(&fell)), (201, vec!["meter-fell".to_owned()]));
    let withdrawal = format!("{}/amendments/{}", readings(4), id(5));
    let withdraw = json!({ "supersedes": id(4), "reason": "misread", "withdrawn": true });
    let answer = put(&server, &withdrawal, &withdraw);
    assert_eq!((answer.status, codes(&answer)), (201, vec![]), "{answer:?}");
    let old = put(&server, &readings(6), &json!({ "on": "2024-01-01", "meter": 900 }));
    assert!(codes(&old).contains(&"old-date".to_owned()), "{old:?}");
}

#[test]
fn work_has_to_name_items_and_positions_of_the_programme() {
    let server = with_engine_type();
    register(&server);
    let wrong = json!({
        "engine": ENGINE, "opened_on": "2026-06-01", "released_on": "2026-06-02",
        "findings": [{ "item": "anything-at-all", "condition": "monitor" }],
        "work": [
            { "item": "hundred-hour-inspections", "action": "inspected" },
            { "item": "spark-plugs", "action": "renewed" },
            { "item": "spark-plugs", "positions": ["pto", "nose"], "action": "renewed" },
            { "item": "annual-inspection", "positions": ["pto"], "action": "inspected" },
        ],
    });
    let answer = put(&server, &format!("/v1/inspections/{}", id(2)), &wrong);
    assert_eq!(answer.status, 422);
    let expected = [
        ("/work/0/item", "unknown-item"),
        ("/work/1/positions", "missing"),
        ("/work/2/positions/1", "unknown-position"),
        ("/work/3/positions/0", "unknown-position"),
    ];
    let expected = expected.map(|(at, code)| (at.to_owned(), code.to_owned()));
    assert_eq!(answer.errors(), expected);
    assert!(answer.text.contains("`hundred-hour-inspection`"), "{answer:?}");
    assert_eq!(server.facts(&[ENGINE]), 2);
}

#[test]
fn a_correction_replaces_and_hides_nothing() {
    let server = with_engine_type();
    register(&server);
    let root = id(2);
    let path = format!("/v1/inspections/{root}");
    let amendment = json!({
        "id": id(3), "engine": ENGINE, "supersedes": root, "reason": "meter misread",
        "inspection": hundred_hours(&json!("1034.2")),
    });
    // The correction comes first: it waits for what it corrects.
    let body = amendment.to_string();
    let early = server.send("POST", &format!("{path}/amendments"), &server.shop_a, &body);
    assert_eq!(early.status, 201, "{early:?}");
    let at = format!("{path}/amendments/{}", id(3));
    assert_eq!(early.header("location"), Some(at.as_str()));
    assert_eq!(codes(&early), ["amendment-pending"]);
    assert_eq!(put(&server, &path, &hundred_hours(&json!(1043.2))).status, 201);

    let list = server.get(&format!("/v1/engines/{ENGINE}/due"), &server.shop_a).json();
    assert_eq!(list["engine"]["hours"]["since_new"], "1034.2");
    let shown = server.get(&path, &server.shop_a).json();
    assert_eq!(shown["record"]["readings"][0]["meter"], "1043.2");
    let amended = &shown["amendments"][0];
    assert_eq!(amended["inspection"]["readings"][0]["meter"], "1034.2");
    assert_eq!(amended["inspection"]["findings"][0]["note"], "tan");
    assert_eq!((&amended["reason"], &amended["amends"]), (&json!("meter misread"), &json!(root)));
    assert_eq!((&shown["superseded"], &shown["standing"]), (&json!([root]), &json!([id(3)])));
    let history = server.get(&format!("/v1/engines/{ENGINE}/history"), &server.shop_a).json();
    // Registration, installation, inspection, amendment; and the aircraft's registration.
    assert_eq!(history["records"].as_array().map(Vec::len), Some(5));
}

#[test]
fn parts_are_followed() {
    let server = with_engine_type();
    register(&server);
    let belt = json!({
        "on": "2026-01-10", "kind": "fan-belt", "lot": "L-77",
        "code": { "scheme": "quarter", "text": "3Q19" }, "hours": "0",
    });
    assert_eq!(put(&server, &format!("/v1/components/{BELT}"), &belt).status, 201);
    let fitting = format!("/v1/components/{BELT}/fittings/{}", id(2));
    let onto = json!({ "on": "2026-01-10", "engine": ENGINE, "order_in_day": 5 });
    let answer = put(&server, &fitting, &onto);
    assert_eq!(answer.status, 201, "{answer:?}");
    let reading = json!({ "on": "2026-05-01", "meter": "1012:30" });
    let path = format!("/v1/aircraft/{AIRCRAFT}/readings/{}", id(3));
    assert_eq!(put(&server, &path, &reading).status, 201);
    let fitted = server.get(&format!("/v1/engines/{ENGINE}/components"), &server.shop_a).json();
    let part = &fitted["components"][0];
    // 3Q19 is July to September 2019 (the example of design section 7); 1000.0 h to 1012 h 30 min is 12.5 h.
    assert_eq!(part["code"]["made_first"], "2019-07-01");
    assert_eq!(part["code"]["made_last"], "2019-09-30");
    assert_eq!((&part["label"], &part["hours"]), (&json!("fan belt lot L-77"), &json!("12.5")));
    let removal = format!("/v1/components/{BELT}/removals/{}", id(4));
    let off = json!({ "on": "2026-05-02", "reason": "cracked" });
    assert_eq!(put(&server, &removal, &off).status, 201);
    let shown = server.get(&format!("/v1/components/{BELT}"), &server.inspector).json();
    assert_eq!(shown["component"]["fits"][0]["until"], "2026-05-02");
}
