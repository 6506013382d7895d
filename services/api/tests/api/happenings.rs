//! Events, storage, permissions, overhauls of parts, restarts and descriptions: what is taken, what is not,
//! and how it shows.

use crate::server::{Answer, Server};
use serde_json::{Value, json};

const ENGINE: &str = "/v1/engines/0193a000-0000-7000-8000-0000000000e1";
const AIRCRAFT: &str = "/v1/aircraft/0193a000-0000-7000-8000-0000000000a1";
const SHAFT: &str = "/v1/components/0193a000-0000-7000-8000-0000000000c1";
const INSPECTIONS: &str = "/v1/inspections/0193a000-0000-7000-8000-0000000000f1";

/// One permission is needed here, none is possible there; a strike asks for a check.
const TYPE: &str = r#"
name = "finch-24"
title = "Finch 24"
invented = true
basis = "engine-run"
entered-up-to = 2026-10-31
[[positions]]
id = "pto"
title = "power take-off end"

[[items]]
id = "hundred-hours"
title = "100-hour inspection"
class = "required-inspection"
source = "invented"
counts-from = "done"
every = { hours = 100 }
next = "from-due"
tolerance = { hours = 10 }
granted = "before-due"
done-by = ["inspected"]

[[items]]
id = "ring-gap"
title = "Ring gaps"
positions = ["pto"]
class = "recommended"
source = "invented"
counts-from = "done"
every = { hours = 100 }
next = "from-done"
done-by = ["inspected"]

[[items]]
id = "strike-check"
title = "Check after a strike"
class = "required-inspection"
source = "invented"
after = ["propeller-strike"]
done-by = ["inspected"]
"#;

fn id(last: u32) -> String {
    format!("0193a000-0000-7000-8000-{last:012}")
}

/// Engine at 1000.0 h in an aircraft since 10 January, its meter showing the same.
fn server() -> Server {
    let server = Server::start();
    server.activate("finch-24", TYPE);
    let on = "2026-01-10";
    taken(&server, AIRCRAFT, &json!({"on": on, "mark": "DEMO-1", "basis": "engine-run"}));
    let engine = json!({
        "on": on, "engine_type": "finch-24", "serial": "7", "basis": "engine-run", "tsn": "1000.0",
    });
    taken(&server, ENGINE, &engine);
    let aircraft = AIRCRAFT.rsplit_once('/').map(|(_, id)| id);
    let into = json!({"on": on, "aircraft": aircraft, "meter": "1000.0"});
    taken(&server, &format!("{ENGINE}/installations/{}", id(1)), &into);
    server
}

fn put(server: &Server, path: &str, body: &Value) -> Answer {
    server.send("PUT", path, &server.shop_a, &body.to_string())
}

fn taken(server: &Server, path: &str, body: &Value) -> Value {
    let answer = put(server, path, body);
    assert_eq!(answer.status, 201, "{path}: {answer:?}");
    answer.json()
}

fn codes(body: &Value) -> Vec<&str> {
    let warnings = body["warnings"].as_array().map(Vec::as_slice).unwrap_or_default();
    warnings.iter().filter_map(|it| it["code"].as_str()).collect()
}

fn due_line(server: &Server, item: &str) -> Value {
    let due = server.get(&format!("{ENGINE}/due?as_of=2026-11-25"), &server.inspector).json();
    let lines = due["lines"].as_array().cloned().unwrap_or_default();
    lines.into_iter().find(|line| line["item"] == item).unwrap_or_default()
}

/// What it is sent to, the body, and the pointers and codes expected. (The clock stands at 2026-11-25.)
type Case = (&'static str, &'static str, &'static [(&'static str, &'static str)]);

const CASES: &[Case] = &[
    ("engines events", "{}", &[("/kind", "missing"), ("/on", "missing")]),
    (
        "engines events",
        r#"{"on":"2026-11-27","kind":"prop-strike","meter":"x","until":"2026-11-28"}"#,
        &[
            ("/kind", "unknown-word"),
            ("/meter", "bad-hours"),
            ("/on", "future-date"),
            ("/until", "unknown-field"),
        ],
    ),
    ("components events", r#"{"on":"2026-11-20","kind":7}"#, &[("/kind", "wrong-type")]),
    (
        "engines preservations",
        r#"{"on":"2026-11-20","until":"2026-11-19"}"#,
        &[("/until", "before-start")],
    ),
    (
        "engines preservations",
        r#"{"on":"2026-11-20","until":"2206-11-20","method":""}"#,
        &[("/method", "empty"), ("/until", "too-late")],
    ),
    ("engines preservations", r#"{"on":"2026-11-20","until":"soon"}"#, &[("/until", "bad-date")]),
    ("components overhauls", r#"{"on":"2026-11-20","release":{}}"#, &[("/release/by", "missing")]),
    ("engines descriptions", r#"{"on":"2026-11-20"}"#, &[("/use", "missing")]),
    (
        "engines descriptions",
        r#"{"on":"2026-11-20","use":["school","salt-iar"],"fuel":"unleadet"}"#,
        &[("/fuel", "unusual-word"), ("/use/1", "unusual-word")],
    ),
    (
        "aircraft descriptions",
        r#"{"on":"2026-11-20","uses":"school","fuel":"Avgas 100","oil":[],"regime":["a","a",1]}"#,
        &[
            ("/fuel", "bad-name"),
            ("/oil", "empty"),
            ("/regime/1", "twice"),
            ("/regime/2", "wrong-type"),
            ("/uses", "unknown-field"),
        ],
    ),
];

#[test]
fn every_fault_is_named() {
    let server = Server::start();
    for (place, body, expected) in CASES {
        let (things, facts) = place.split_once(' ').expect("two words");
        let path = format!("/v1/{things}/{}/{facts}/{}", id(200), id(201));
        let answer = server.send("PUT", &path, &server.shop_a, body);
        assert_eq!(answer.status, 422, "{path} {body}");
        let errors = answer.errors();
        let found: Vec<(&str, &str)> =
            errors.iter().map(|(at, code)| (at.as_str(), code.as_str())).collect();
        assert_eq!(&found, expected, "{body}: {answer:?}");
    }
}

#[test]
fn rechecks_and_papers_have_to_be_possible() {
    let server = Server::start();
    let errors = |path: &str, body: &Value| {
        let answer = put(&server, path, body);
        assert_eq!(answer.status, 422, "{answer:?}");
        answer.errors()
    };
    let finding = |condition: &str, recheck: Value| json!({"item": "ring-gap", "condition": condition, "recheck": recheck});
    let inspection = json!({
        "engine": "0193a000-0000-7000-8000-0000000000e1",
        "opened_on": "2026-06-01", "released_on": "2026-06-02",
        "findings": [
            finding("monitor", json!({})),
            finding("renew", json!({"hours": 10})),
            finding("monitor", json!({"hours": 0, "on": "2026-06-01"})),
            finding("monitor", json!({"hours": "10:30", "on": "2026-12-31"})),
        ],
    });
    let expected = [
        ("/findings/0/recheck", "missing"),
        ("/findings/1/recheck", "contradiction"),
        ("/findings/2/recheck/hours", "out-of-range"),
        ("/findings/2/recheck/on", "before-start"),
    ];
    let named = |expected: &[(&str, &str)]| -> Vec<(String, String)> {
        expected.iter().map(|(at, code)| ((*at).to_owned(), (*code).to_owned())).collect()
    };
    assert_eq!(errors(INSPECTIONS, &inspection), named(&expected));
    let engine = json!({
        "on": "2026-01-10", "engine_type": "finch-24", "serial": "7", "basis": "engine-run",
        "tsn": "1000.0", "overhauled": {"on": "2026-01-11", "hours_since": "10"},
    });
    assert_eq!(errors(ENGINE, &engine), named(&[("/overhauled/on", "after-registration")]));
    let shaft = json!({
        "on": "2026-01-10", "kind": "crankshaft", "hours": "99",
        "overhauled": {"on": "2025-01-11", "hours_since": "99:01"},
    });
    assert_eq!(errors(SHAFT, &shaft), named(&[("/overhauled/hours_since", "contradiction")]));
}

#[test]
fn an_event_asks_for_its_check_and_shows_on_the_page() {
    let server = server();
    let path = format!("{ENGINE}/events/{}", id(2));
    let strike = json!({
        "on": "2026-05-01", "kind": "propeller-strike", "meter": "1031.4", "note": "long grass",
    });
    let body = taken(&server, &path, &strike);
    assert_eq!(body["record"]["kind"], "propeller-strike");
    assert_eq!(
        (&body["record"]["fact"], &body["record"]["note"]),
        (&json!("event"), &strike["note"])
    );
    assert_eq!(put(&server, &path, &strike).status, 200);
    let other = json!({"on": "2026-05-01", "kind": "overheat", "meter": "1031.4"});
    let differs = put(&server, &path, &other).errors();
    assert_eq!(differs.first().map(|(at, _)| at.as_str()), Some("/kind"));
    let reading = format!("{AIRCRAFT}/readings/{}", id(3));
    taken(&server, &reading, &json!({"on": "2026-11-20", "meter": "1033.0"}));
    let line = due_line(&server, "strike-check");
    // 1033.0 h less 1031.4 h.
    assert_eq!(line["asked_by"]["happened"]["hours_since"], "1.6", "{line}");
    assert_eq!((&line["asked_by"]["record"], &line["status"]), (&json!(id(2)), &json!("overdue")));

    let page = server.page(&ENGINE.replacen("/v1", "", 1));
    let day = "<span class=\"word\">2026-05-01</span>";
    let shown = format!("<a href=\"#r-{}\">propeller strike on {day} at 1031.4 h", id(2));
    assert!(page.contains(&shown), "{page}");
    assert!(page.contains("1.6 h run since</a>"), "{page}");
    assert!(page.contains("<th scope=\"row\">propeller strike</th>"), "{page}");
    assert!(page.contains("note: long grass"), "{page}");

    let heat = json!({"on": "2026-11-21", "kind": "overheat"});
    let body = taken(&server, &format!("{ENGINE}/events/{}", id(4)), &heat);
    assert_eq!(codes(&body), ["nothing-asked"]);
    let back = json!({"on": "2026-11-22", "kind": "return-to-use"});
    let body = taken(&server, &format!("{ENGINE}/events/{}", id(5)), &back);
    assert_eq!(codes(&body), Vec::<&str>::new());
}

#[test]
fn a_permission_is_given_by_an_inspector_for_what_takes_one() {
    let server = server();
    let done = json!({
        "engine": "0193a000-0000-7000-8000-0000000000e1",
        "opened_on": "2026-02-01", "released_on": "2026-02-01",
        "readings": [{"meter": "1000.0"}],
        "work": [{"item": "hundred-hours", "action": "inspected"}],
        "release": {"by": "A Mechanic"},
    });
    taken(&server, INSPECTIONS, &done);
    let give = |at: u32, body: &Value| {
        let path = format!("{ENGINE}/concessions/{}", id(at));
        server.send("PUT", &path, &server.inspector, &body.to_string())
    };
    let permission = |item: &str| {
        json!({
            "on": "2026-03-01", "item": item, "until": "2026-12-31",
            "by": "An Inspector", "reference": "P 1",
        })
    };
    let anonymous = json!({"on": "2026-03-01", "item": "hundred-hours"});
    let codes_of = |answer: &Answer| {
        let errors = answer.errors().into_iter();
        errors.map(|(at, code)| format!("{at} {code}")).collect::<Vec<_>>()
    };
    assert_eq!(codes_of(&give(10, &anonymous)), ["/by missing", "/reference missing"]);
    assert_eq!(codes_of(&give(10, &permission("hundred-hour"))), ["/item unknown-item"]);
    assert_eq!(codes_of(&give(10, &permission("ring-gap"))), ["/position missing"]);
    let mut at_pto = permission("ring-gap");
    at_pto["position"] = json!("pto");
    let idle = give(11, &at_pto);
    assert_eq!((idle.status, codes(&idle.json())), (201, vec!["permission-without-effect"]));
    at_pto["item"] = json!("hundred-hours");
    assert_eq!(codes_of(&give(12, &at_pto)), ["/position unknown-position"]);

    // Due at 1100.0 h and read at 1104.0 h, within ten hours of tolerance that need a permission.
    let reading = format!("{AIRCRAFT}/readings/{}", id(13));
    taken(&server, &reading, &json!({"on": "2026-11-20", "meter": "1104.0"}));
    assert_eq!(due_line(&server, "hundred-hours")["status"], "overdue");
    let given = give(14, &permission("hundred-hours"));
    assert_eq!((given.status, codes(&given.json())), (201, vec![]), "{given:?}");
    assert_eq!(given.json()["record"]["by"], "An Inspector");
    let line = due_line(&server, "hundred-hours");
    assert_eq!(line["status"], "in-tolerance", "{line}");
    assert_eq!(line["notes"][0]["code"], "permitted");
}

#[test]
fn a_preservation_runs_out_and_a_restart_begins_at_zero() {
    let server = server();
    let stored =
        json!({"on": "2026-03-01", "until": "2026-09-01", "method": "oil fog, desiccant plugs"});
    taken(&server, &format!("{ENGINE}/preservations/{}", id(2)), &stored);
    let line = due_line(&server, "preservation");
    assert_eq!(line["asked_by"], json!({"kind": "preservation", "record": id(2)}));
    assert_eq!((&line["due"]["on"], &line["status"]), (&json!("2026-09-01"), &json!("overdue")));

    let path = format!("{ENGINE}/maker-restarts/{}", id(3));
    let restart =
        json!({"on": "2026-10-01", "by": "The maker", "statement": "rebuilt to new limits"});
    assert_eq!(put(&server, &path, &restart).status, 403);
    let answer = server.send("PUT", &path, &server.operator, &restart.to_string());
    assert_eq!(answer.status, 201, "{answer:?}");
    let engine = server.get(ENGINE, &server.inspector).json();
    assert_eq!(engine["engine"]["hours"]["since_new"], "0.0");
    let history = server.get(&format!("{ENGINE}/history"), &server.inspector).json();
    let records = history["records"].as_array().cloned().unwrap_or_default();
    let last = records.last().cloned().unwrap_or_default();
    assert_eq!(
        (&last["fact"], &last["statement"]),
        (&json!("maker-restart"), &restart["statement"])
    );
}

#[test]
fn a_part_shows_its_overhauls_and_what_happened_to_it() {
    let server = server();
    let shaft = json!({
        "on": "2026-01-10", "kind": "crankshaft", "serial": "C-9", "hours": "400",
        "overhauled": {"on": "2025-03-01", "hours_since": "20:30"},
    });
    let body = taken(&server, SHAFT, &shaft);
    assert_eq!(body["record"]["overhauled"], json!({"on": "2025-03-01", "hours_since": "20:30"}));
    let onto = json!({"on": "2026-01-10", "engine": "0193a000-0000-7000-8000-0000000000e1"});
    taken(&server, &format!("{SHAFT}/fittings/{}", id(2)), &onto);
    let reading = |at: u32, on: &str, meter: &str| {
        let path = format!("{AIRCRAFT}/readings/{}", id(at));
        taken(&server, &path, &json!({"on": on, "meter": meter}));
    };
    reading(3, "2026-05-01", "1010.0");
    let part = || server.get(SHAFT, &server.shop_a).json()["component"].take();
    // 20.5 h by its papers and 10.0 h since.
    assert_eq!(part()["tso"], "30.5");
    let overhaul = json!({"on": "2026-05-02", "release": {"by": "A Mechanic", "reference": "R 1"}});
    let body = taken(&server, &format!("{SHAFT}/overhauls/{}", id(4)), &overhaul);
    assert_eq!((codes(&body), &body["record"]["release"]), (vec![], &overhaul["release"]));
    let heat = json!({"on": "2026-05-03", "kind": "overheat"});
    taken(&server, &format!("{SHAFT}/events/{}", id(5)), &heat);
    reading(6, "2026-06-01", "1012.5");
    let part = part();
    assert_eq!((&part["hours"], &part["tso"]), (&json!("412.5"), &json!("2.5")));
    let overhauls =
        json!([{"on": "2025-03-01", "record": null}, {"on": "2026-05-02", "record": id(4)}]);
    assert_eq!(part["overhauls"], overhauls);
    let events = json!([{"kind": "overheat", "on": "2026-05-03", "record": id(5)}]);
    assert_eq!(part["events"], events);
    let bare = json!({"on": "2026-06-02"});
    let body = taken(&server, &format!("{SHAFT}/overhauls/{}", id(7)), &bare);
    assert_eq!(codes(&body), ["no-release"]);
}

#[test]
fn a_description_is_kept_as_sets_of_words() {
    let server = server();
    let path = format!("{AIRCRAFT}/descriptions/{}", id(2));
    let words = json!({"on": "2020-01-01", "use": ["tow", "school"], "regime": "part-ml"});
    let body = taken(&server, &path, &words);
    assert_eq!(codes(&body), Vec::<&str>::new());
    let record = &body["record"];
    assert_eq!(
        (&record["use"], &record["regime"]),
        (&json!(["school", "tow"]), &json!(["part-ml"]))
    );
    let again = json!({"on": "2020-01-01", "use": ["school", "tow"], "regime": ["part-ml"]});
    assert_eq!(put(&server, &path, &again).status, 200);
    assert_eq!(put(&server, &path, &json!({"on": "2020-01-01", "use": "tow"})).status, 409);
}
