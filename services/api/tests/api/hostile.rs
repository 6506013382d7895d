//! Everything that can be wrong with a post: each gets its problem document with its pointers, nothing is
//! stored, and nothing is ever answered with a 500.

use crate::server::Server;
use serde_json::{Value, json};

const ENGINE: &str = "0193a000-0000-7000-8000-0000000000e1";
const AIRCRAFT: &str = "0193a000-0000-7000-8000-0000000000a1";
const FACT: &str = "0193a000-0000-7000-8000-0000000000f1";

/// One bad body: what it is sent to, the body, the status, and the pointers and codes expected.
type Case = (&'static str, &'static str, u16, &'static [(&'static str, &'static str)]);

const READINGS: &str = "/v1/engines/0193a000-0000-7000-8000-0000000000e1/readings/0193a000-0000-7000-8000-0000000000f1";
const INSPECTIONS: &str = "/v1/inspections/0193a000-0000-7000-8000-0000000000f1";
const ENGINES: &str = "/v1/engines/0193a000-0000-7000-8000-0000000000e1";
const COMPONENTS: &str = "/v1/components/0193a000-0000-7000-8000-0000000000c1";
const AIRCRAFTS: &str = "/v1/aircraft/0193a000-0000-7000-8000-0000000000a1";

// The clock stands at 2026-11-25; tomorrow is allowed, because it is tomorrow somewhere.
const CASES: &[Case] = &[
    (
        "/v1/owners/0193a000-0000-7000-8000-000000000001",
        r#"{"name":"A\r\nBcc: x","email":"a@b\r\n.org"}"#,
        422,
        &[("/email", "bad-email"), ("/name", "control-characters")],
    ),
    (READINGS, r#"{"on":5,"meter":{}}"#, 422, &[("/meter", "wrong-type"), ("/on", "wrong-type")]),
    (READINGS, "{}", 422, &[("/meter", "missing"), ("/on", "missing")]),
    (READINGS, "[]", 422, &[("", "wrong-type")]),
    (READINGS, r#"{"on":"2026-11-20","meter":1,"metre":1}"#, 422, &[("/metre", "unknown-field")]),
    (READINGS, r#"{"on":"2026-11-20","meter":1,"meter":2}"#, 422, &[("/meter", "duplicate-key")]),
    (READINGS, r#"{"on":"2026-11-20","meter":-0.1}"#, 422, &[("/meter", "negative")]),
    (READINGS, r#"{"on":"2026-11-20","meter":"-1:30"}"#, 422, &[("/meter", "negative")]),
    (READINGS, r#"{"on":"2026-11-20","meter":1e400}"#, 422, &[("/meter", "bad-hours")]),
    (READINGS, r#"{"on":"2026-11-20","meter":"1,5"}"#, 422, &[("/meter", "bad-hours")]),
    (READINGS, r#"{"on":"2026-11-20","meter":9999999}"#, 422, &[("/meter", "out-of-range")]),
    (READINGS, r#"{"on":"2026-11-27","meter":1}"#, 422, &[("/on", "future-date")]),
    (READINGS, r#"{"on":"9999-12-31","meter":1}"#, 422, &[("/on", "future-date")]),
    (READINGS, r#"{"on":"1899-12-31","meter":1}"#, 422, &[("/on", "too-early")]),
    (READINGS, r#"{"on":"2026-02-30","meter":1}"#, 422, &[("/on", "bad-date")]),
    (
        READINGS,
        r#"{"on":"2026-11-20","meter":1,"order_in_day":1000}"#,
        422,
        &[("/order_in_day", "out-of-range")],
    ),
    (
        READINGS,
        r#"{"on":"2026-11-20","meter":1,"recorded_at":"2026-11-20T10:00:00"}"#,
        422,
        &[("/recorded_at", "bad-time")],
    ),
    (READINGS, r#"{"on":"2026-11-20","meter":NaN}"#, 400, &[("", "malformed-json")]),
    (READINGS, r#"{"on":"2026-11-20","meter":1"#, 400, &[("", "malformed-json")]),
    (READINGS, "", 400, &[("", "malformed-json")]),
    (
        ENGINES,
        r#"{"on":"2026-01-10","engine_type":"Oar Lock","serial":"","basis":"hobbs","tsn":null}"#,
        422,
        &[("/basis", "unknown-word"), ("/engine_type", "bad-name"), ("/serial", "empty")],
    ),
    (
        ENGINES,
        r#"{"on":"2026-01-10","engine_type":"oarlock-twin","serial":"7","basis":"engine-run"}"#,
        422,
        &[("/tsn", "missing")],
    ),
    (
        ENGINES,
        r#"{"on":"2026-01-10","engine_type":"oarlock-twin","serial":"a\r\nb: c","basis":"engine-run","tsn":1}"#,
        422,
        &[("/serial", "control-characters")],
    ),
    (
        AIRCRAFTS,
        r#"{"on":"2026-01-10","mark":"X\u0000","basis":"tach"}"#,
        422,
        &[("/mark", "control-characters")],
    ),
    (
        COMPONENTS,
        r#"{"on":"2026-01-10","kind":"fan-belt","code":{"scheme":"quarter","text":"5Q19"},"hours":null}"#,
        422,
        &[("/code/text", "bad-date-code")],
    ),
    (
        INSPECTIONS,
        r#"{"engine":"e1","opened_on":"2026-11-20","released_on":"2026-11-10","readings":[{"meter":1,"on":"2026-11-01"}]}"#,
        422,
        &[("/engine", "bad-uuid"), ("/released_on", "before-opened")],
    ),
    (
        INSPECTIONS,
        r#"{"engine":"0193a000-0000-7000-8000-0000000000e1","opened_on":"2026-11-10","released_on":"2026-11-20",
        "readings":[{"meter":1,"on":"2026-11-09"}],"findings":[{"item":"ring","condition":"bad","note":"a\tb"}],
        "measurements":[{"quantity":"bore","value":"67,5","unit":""}],"work":[{"item":"x","action":"fixed","positions":["mag","mag"]}],
        "release":{},"receivedAt":1,"shop":"0193a000-0000-7000-8000-00000000000b"}"#,
        422,
        &[
            ("/findings/0/condition", "unknown-word"),
            ("/findings/0/note", "control-characters"),
            ("/measurements/0/unit", "empty"),
            ("/measurements/0/value", "bad-number"),
            ("/readings/0/on", "outside-work"),
            ("/receivedAt", "unknown-field"),
            ("/release/by", "missing"),
            ("/shop", "not-yours"),
            ("/work/0/action", "unknown-word"),
            ("/work/0/positions/1", "twice"),
        ],
    ),
];

#[test]
fn every_bad_body_gets_its_pointers_and_nothing_is_stored() {
    let server = Server::start();
    for (path, body, status, expected) in CASES {
        let answer = server.send("PUT", path, &server.shop_a, body);
        assert_eq!(answer.status, *status, "{body}\n{answer:?}");
        let errors = answer.errors();
        let errors: Vec<(&str, &str)> =
            errors.iter().map(|(at, code)| (at.as_str(), code.as_str())).collect();
        assert_eq!(errors, *expected, "{body}");
    }
    assert_eq!(server.facts(&[ENGINE, AIRCRAFT, "0193a000-0000-7000-8000-0000000000c1"]), 0);
}

#[test]
fn bodies_that_are_no_bodies() {
    let server = Server::start();
    let json = [("content-type", "application/json")];
    let put = |headers: &[(&str, &str)], body: &[u8]| {
        server.raw("PUT", READINGS, headers, &server.shop_a, body)
    };
    let good = br#"{"on":"2026-11-20","meter":1}"#;

    let deep = format!("{}{}", "[".repeat(1000), "]".repeat(1000));
    assert_eq!(put(&json, deep.as_bytes()).errors()[0].1, "too-deep");
    let answer = put(&json, b"{\"on\":\"\xff\xfe\"}");
    assert_eq!((answer.status, answer.errors()[0].1.as_str()), (400, "malformed-json"));
    let answer = put(&json, &vec![b' '; 10 * 1024 * 1024]);
    assert_eq!(answer.status, 413, "{answer:?}");
    answer.errors();
    for headers in [&[][..], &[("content-type", "text/plain")]] {
        let answer = put(headers, good);
        assert_eq!((answer.status, answer.header("accept")), (415, Some("application/json")));
        answer.errors();
    }
    let zipped = [("content-type", "application/json"), ("content-encoding", "gzip")];
    assert_eq!(put(&zipped, good).status, 415);
    assert_eq!(server.facts(&[ENGINE]), 0);
    assert_eq!(put(&json, good).status, 201);
}

#[test]
fn addresses_and_methods() {
    let server = Server::start();
    let key = &server.inspector;
    for (method, path, status) in [
        ("GET", "/v1/nothing", 404),
        ("GET", "/v1/engines/not-a-uuid", 400),
        ("GET", "/v1/engines/0193a000-0000-7000-8000-0000000000e1", 404),
        ("GET", "/v1/engines/0193a000-0000-7000-8000-0000000000e1/due?as_of=yesterday", 400),
        ("GET", "/v1/fleet/due?as_of=2026-1-5", 400),
        ("GET", "/v1/fleet/due?status=fine", 400),
        ("GET", "/v1/fleet/due?limit=0", 400),
        ("GET", "/v1/fleet/due?limit=501", 400),
        ("GET", "/v1/fleet/due?after=%00", 400),
        ("GET", "/v1/fleet/due?asof=2026-11-25", 400),
        ("GET", "/v1/fleet/due?limit=1&limit=2", 400),
        ("GET", "/problems/no-such-kind", 404),
        ("DELETE", "/v1/fleet/due", 405),
        ("PATCH", "/livez", 405),
    ] {
        let answer = server.get_as(method, path, key);
        assert_eq!(answer.status, status, "{method} {path}: {answer:?}");
        answer.errors();
    }
    let allow = server.get_as("DELETE", "/v1/engines/0193a000-0000-7000-8000-0000000000e1", key);
    assert_eq!(allow.header("allow"), Some("PUT, GET, HEAD"));
    let fact = format!("/v1/engines/{ENGINE}/readings/{FACT}");
    assert_eq!(server.get(&fact, key).header("allow"), Some("PUT"));
}

#[test]
fn headers_that_every_answer_carries() {
    let server = Server::start();
    let answer = server.get("/livez", "");
    assert_eq!(answer.status, 200);
    assert_eq!(answer.header("cache-control"), Some("no-store"));
    assert_eq!(answer.header("x-content-type-options"), Some("nosniff"));
    let head = server.get_as("HEAD", "/v1/engines", &server.inspector);
    assert_eq!((head.status, head.text.as_str()), (200, ""));

    let sent = server.raw("GET", "/livez", &[("x-request-id", "bench-7.a")], "", b"");
    assert_eq!(sent.header("x-request-id"), Some("bench-7.a"));
    for bad in ["a b", "<x>", &"x".repeat(65)] {
        let made = server.raw("GET", "/livez", &[("x-request-id", bad)], "", b"");
        assert_ne!(made.header("x-request-id"), Some(bad));
        assert!(made.header("x-request-id").is_some_and(|id| id.len() == 36));
    }
}

#[test]
fn every_kind_of_problem_explains_itself() {
    let server = Server::start();
    for kind in gudgeon_api::problem::Kind::ALL {
        let answer = server.get(&kind.address(), "");
        assert_eq!((answer.status, &answer.json()["title"]), (200, &kind.title.into()));
    }
}

#[test]
fn a_browser_gets_errors_as_a_page() {
    let server = Server::start();
    let accept = [("accept", "text/html,application/xhtml+xml")];
    let answer = server.raw("GET", "/no/such/page", &accept, "", b"");
    assert_eq!(answer.status, 404);
    assert!(answer.header("content-type").is_some_and(|it| it.starts_with("text/html")));
    assert!(answer.text.contains("<h1>Nothing is here</h1>"), "{answer:?}");
}

/// Every place of a value, as JSON pointers, the outermost first.
fn places(value: &Value, at: &str, found: &mut Vec<String>) {
    found.push(at.to_owned());
    match value {
        Value::Object(fields) => {
            for (name, value) in fields {
                places(value, &format!("{at}/{name}"), found);
            }
        }
        Value::Array(entries) => {
            for (index, value) in entries.iter().enumerate() {
                places(value, &format!("{at}/{index}"), found);
            }
        }
        _ => {}
    }
}

#[test]
fn whatever_stands_anywhere_is_answered_without_a_failure_of_ours() {
    let server = Server::start();
    let body = json!({
        "engine": ENGINE, "shop": crate::server::SHOP_A, "work_order": "W", "opened_on": "2026-06-01", "released_on": "2026-06-02",
        "order_in_day": 1, "recorded_at": "2026-06-02T10:00:00+02:00",
        "readings": [{ "on": "2026-06-01", "meter": "1043:12" }], "tsn": 1043.2,
        "findings": [{
            "item": "ring", "position": "pto", "condition": "monitor", "note": "n",
            "recheck": { "hours": 10, "on": "2026-07-01" },
        }],
        "measurements": [{ "quantity": "bore", "position": "pto", "value": 67.52, "unit": "mm" }],
        "work": [{ "item": "ring", "positions": ["pto"], "action": "renewed", "note": "n" }],
        "marks": [{ "item": "piston", "position": "pto", "text": "P1" }],
        "overhaul": { "scope": "full" }, "test_run": "0.5",
        "release": { "by": "A Mechanic", "licence": "L", "reference": "R" }, "note": "n",
    });
    never_a_failure_of_ours(&server, INSPECTIONS, &body);
    let happenings = [
        (
            "engines",
            "events",
            json!({ "on": "2026-06-01", "kind": "overheat", "meter": 1, "note": "n" }),
        ),
        (
            "engines",
            "preservations",
            json!({ "on": "2026-06-01", "until": "2027-06-01", "method": "m" }),
        ),
        (
            "engines",
            "concessions",
            json!({
                "on": "2026-06-01", "item": "ring", "position": "pto", "until": "2026-07-01",
                "by": "b", "reference": "r",
            }),
        ),
        ("engines", "maker-restarts", json!({ "on": "2026-06-01", "by": "b", "statement": "s" })),
        ("engines", "descriptions", json!({ "on": "2026-06-01", "use": ["tow"], "fuel": "avgas" })),
        ("components", "overhauls", json!({ "on": "2026-06-01", "release": { "by": "b" } })),
    ];
    for (at, (things, facts, body)) in happenings.iter().enumerate() {
        let path = format!("/v1/{things}/{ENGINE}/{facts}/0193a000-0000-7000-8000-00000000010{at}");
        never_a_failure_of_ours(&server, &path, body);
    }
}

/// Puts every hostile value at every place of a body.
fn never_a_failure_of_ours(server: &Server, path: &str, body: &Value) {
    let mut all = Vec::new();
    places(body, "", &mut all);
    let hostile = [
        json!(null),
        json!(true),
        json!(-1),
        json!(1e300),
        json!(""),
        json!("x\u{0}\r\n"),
        json!("\u{202e}<script>"),
        json!("9".repeat(3000)),
        json!("0001-01-01"),
        json!([]),
        json!({ "a/b~": [[{}]] }),
        json!(vec![json!({}); 501]),
    ];
    for place in &all {
        for value in &hostile {
            let mut changed = body.clone();
            *changed.pointer_mut(place).expect("the place is there") = value.clone();
            let answer = server.send("PUT", path, &server.operator, &changed.to_string());
            assert!([200, 201, 409, 422].contains(&answer.status), "{place} = {value}: {answer:?}");
            if answer.status == 422 {
                assert!(!answer.errors().is_empty(), "{place}: {answer:?}");
            }
        }
    }
}
