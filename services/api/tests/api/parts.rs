//! Parts over HTTP: found by kind, lot and age with what is due on them; fastenings, sets and marks as told.

use crate::access::{ENGINE, shop_a_has_an_engine};
use crate::server::{ENGINE_TYPE, Server};
use serde_json::{Value, json};

fn id(last: u32) -> String {
    format!("0193a000-0000-7000-8000-{last:012}")
}

fn put(server: &Server, path: &str, body: &Value) -> Value {
    let answer = server.send("PUT", path, &server.shop_a, &body.to_string());
    assert_eq!(answer.status, 201, "{path}: {answer:?}");
    answer.json()
}

fn codes(answer: &Value) -> Vec<(String, Option<String>)> {
    let warnings = answer["warnings"].as_array().cloned().unwrap_or_default();
    let text = |value: &Value| value.as_str().map(str::to_owned);
    warnings
        .iter()
        .filter_map(|it| Some((text(&it["code"])?, text(&it["pointer"]))))
        .filter(|(code, _)| code != "no-release" && code != "old-date")
        .collect()
}

/// Belts of lot L7: one made in the third quarter of 2019 on the engine, one without a code on a shelf.
fn server() -> Server {
    let server = Server::start();
    server.activate("oarlock-twin", ENGINE_TYPE);
    shop_a_has_an_engine(&server);
    let belt = json!({
        "on": "2026-01-01", "kind": "fan-belt", "lot": "L7", "maker_part": "V-belt 10 x 750",
        "code": { "scheme": "quarter", "text": "3Q19" }, "hours": 0,
    });
    put(&server, &format!("/v1/components/{}", id(701)), &belt);
    let fitted = json!({ "on": "2026-02-01", "engine": ENGINE, "position": "fan" });
    put(&server, &format!("/v1/components/{}/fittings/{}", id(701), id(702)), &fitted);
    let spare = json!({ "on": "2026-01-01", "kind": "fan-belt", "lot": "L7", "hours": null });
    put(&server, &format!("/v1/components/{}", id(703)), &spare);
    server
}

fn found(server: &Server, query: &str, key: &str) -> Vec<String> {
    let answer = server.get(&format!("/v1/components?{query}"), key);
    assert_eq!(answer.status, 200, "{answer:?}");
    let body = answer.json();
    let parts = body["components"].as_array().expect("a list").clone();
    parts.iter().map(|it| it["id"].as_str().unwrap_or_default().to_owned()).collect()
}

#[test]
fn an_inspector_asks_which_engines_hold_belts_of_a_lot() {
    let server = server();
    let (fitted, spare) = (id(701), id(703));
    let (fitted, spare) = (fitted.as_str(), spare.as_str());
    let inspector = &server.inspector;
    assert_eq!(found(&server, "lot=L7", inspector), [spare, fitted]);
    assert_eq!(found(&server, "kind=fan-belt&made_until=2019-12-31", inspector), [fitted]);
    assert_eq!(found(&server, "made_until=2019-06-30", inspector), [""; 0]);
    assert_eq!(found(&server, "undated=true", inspector), [spare]);
    assert_eq!(found(&server, "lot=L7", &server.shop_a), [fitted], "on its engines");
    assert_eq!(found(&server, "lot=L7", &server.shop_b), [""; 0]);
    // Page by page.
    let first = server.get("/v1/components?lot=L7&limit=1", inspector).json();
    let next = first["next"].as_str().and_then(|it| it.strip_prefix("http://localhost"));
    let second = server.get(next.expect("there is more"), inspector).json();
    assert_eq!(second["components"][0]["id"], fitted);
    assert_eq!(second["next"], Value::Null);
    let part = &second["components"][0];
    assert_eq!(
        (&part["made_first"], &part["made_last"]),
        (&json!("2019-07-01"), &json!("2019-09-30"))
    );
    assert_eq!((&part["engine"]["id"], &part["position"]), (&json!(ENGINE), &json!("fan")));
    assert_eq!(part["maker_part"], "V-belt 10 x 750");
    // When it comes due is what the engine's own list says.
    let due = server.get(&format!("/v1/engines/{ENGINE}/due"), inspector).json();
    let lines = due["lines"].as_array().expect("lines").iter();
    let of_belt: Vec<&Value> = lines.filter(|it| it["component"] == json!(fitted)).collect();
    assert!(!of_belt.is_empty());
    assert_eq!(part["lines"].as_array().map(Vec::len), Some(of_belt.len()));
    assert_eq!(part["lines"][0]["due"], of_belt[0]["due"]);
    for wrong in ["made_until=2019", "undated=yes", "kind=Fan%20belt", "after=7", "lots=1"] {
        assert_eq!(
            server.get(&format!("/v1/components?{wrong}"), inspector).status,
            400,
            "{wrong}"
        );
    }
    let page = server.page("/parts?lot=L7&kind=&made_until=&as_of=2026-11-25");
    for needed in ["lot L7", "2019-07-01", "age not known", &format!("/engines/{ENGINE}")] {
        assert!(page.contains(needed), "{needed}");
    }
}

#[test]
fn a_cure_date_makes_a_part_older_and_fits_its_code() {
    let server = server();
    let path = format!("/v1/components/{}", id(710));
    let part = |cured_on: &str| {
        json!({
            "on": "2026-01-01", "kind": "hose", "hours": 0, "cured_on": cured_on,
            "code": { "scheme": "quarter", "text": "A3Q19" },
        })
    };
    let late = server.send("PUT", &path, &server.shop_a, &part("2019-10-01").to_string());
    assert_eq!(late.errors(), [("/cured_on".to_owned(), "contradiction".to_owned())]);
    put(&server, &path, &part("2018-02-03"));
    assert_eq!(found(&server, "kind=hose&made_until=2018-02-03", &server.inspector), [id(710)]);
    let removed = json!({ "on": "2026-03-01", "cause": "condition", "reason": "perished" });
    let fitted = json!({ "on": "2026-02-01", "engine": ENGINE });
    put(&server, &format!("{path}/fittings/{}", id(711)), &fitted);
    put(&server, &format!("{path}/removals/{}", id(712)), &removed);
    let body = server.get(&path, &server.inspector).json();
    assert_eq!(body["component"]["cured_on"], "2018-02-03");
    assert_eq!(body["component"]["fits"][0]["removed_for"], "condition");
}

// 26 mm of bolt and 1 in = 25.4 mm of room (NIST SP 811, appendix B.8); the washer was turned over.
#[test]
fn bolts_washers_and_mixed_sets_are_warned_of_and_shown() {
    let server = server();
    let body = json!({
        "engine": ENGINE, "opened_on": "2026-05-01", "released_on": "2026-05-02", "run_in": "2.0",
        "marks": [{ "item": "piston", "position": "mag", "text": "II" }],
        "fastenings": [
            { "item": "flywheel", "seen": "found", "washer": "hollow-to-part" },
            {
                "item": "flywheel", "seen": "left", "washer": "hollow-to-nut",
                "bolt": { "length": { "value": "26", "unit": "mm" }, "room": { "value": "1.0", "unit": "in" } },
                "torque": { "value": "22.50", "unit": "N·m" }, "compound": "copper paste", "locking": "compound",
            },
        ],
        "matched": [
            { "position": "mag", "parts": [{ "part": "piston", "mark": "M" }, { "part": "cylinder", "mark": "M" }] },
            { "position": "pto", "parts": [{ "part": "piston", "mark": "P" }] },
        ],
    });
    let path = format!("/v1/inspections/{}", id(801));
    let answer = put(&server, &path, &body);
    let at = |code: &str, pointer: &str| (code.to_owned(), Some(pointer.to_owned()));
    let expected =
        [at("bolt-too-long", "/fastenings/1/bolt"), at("washer-turned", "/fastenings/1/washer")];
    assert_eq!(codes(&answer), expected);
    let record = server.get(&path, &server.shop_a).json()["record"].clone();
    for member in ["marks", "fastenings", "matched", "run_in"] {
        assert_eq!(record[member], body[member], "{member} comes back as it was sent");
    }
    let again = json!({
        "engine": ENGINE, "opened_on": "2026-06-01", "released_on": "2026-06-02",
        "matched": [{ "position": "mag", "parts": [
            { "part": "piston", "mark": "P" }, { "part": "cylinder", "mark": "Z" },
            { "part": "rings", "mark": "R", "new": true },
        ] }],
    });
    let answer = put(&server, &format!("/v1/inspections/{}", id(802)), &again);
    let told = |code: &str| (code.to_owned(), None);
    assert_eq!(codes(&answer), [told("matched-part-moved"), told("stranger-in-set")]);
    let page = server.page(&format!("/engines/{ENGINE}"));
    for needed in [
        "piston P is at mag now, but ran at pto",
        "cylinder Z was not in the set that ran at mag",
        "rings R (new)",
        "dished washer hollow side to the nut",
        "bolt 26 mm, room 1 in",
        "run in 2.0 h",
    ] {
        assert!(page.contains(needed), "{needed}");
    }
}

// AC 43-9C has no total for it; the oldest dated rubber bounds its age (common practice).
#[test]
fn an_engine_without_a_log_says_how_old_it_is_at_least_and_what_to_inspect() {
    let server = server();
    let engine = id(900);
    let body = json!({
        "on": "2026-01-01", "engine_type": "oarlock-twin", "serial": "X", "basis": "engine-run", "tsn": null,
    });
    put(&server, &format!("/v1/engines/{engine}"), &body);
    let page = || server.page(&format!("/engines/{engine}"));
    assert!(page().contains("no dated part on it bounds it"));
    let moved = json!({ "on": "2026-03-01" });
    put(&server, &format!("/v1/components/{}/removals/{}", id(701), id(901)), &moved);
    let fitted = json!({ "on": "2026-03-02", "engine": engine });
    put(&server, &format!("/v1/components/{}/fittings/{}", id(701), id(902)), &fitted);
    let page = page();
    assert!(page.contains("The oldest dated part on it, fan belt lot L7, was made from"), "{page}");
    assert!(page.contains("Inspect now, since no record says that it is good for longer"));
    let due = server.get(&format!("/v1/engines/{engine}/due"), &server.inspector).json();
    let age = due["no_log"]["age"].as_str().unwrap_or_default();
    assert!(age.contains("made from 2019-07-01 to 2019-09-30"), "{age}");
    let pressing = |line: &&Value| line["status"] == "unknown" || line["status"] == "overdue";
    let lines = due["lines"].as_array().expect("lines").iter().filter(pressing);
    let named = |it: &Value| (it["item"].clone(), it["position"].clone());
    let inspect = due["no_log"]["inspect_now"].as_array().expect("a list");
    assert!(inspect.len() > 10, "an overhaul, its seals, its pistons: {inspect:?}");
    assert_eq!(inspect.iter().map(named).collect::<Vec<_>>(), lines.map(named).collect::<Vec<_>>());
    let logged = server.get(&format!("/v1/engines/{ENGINE}/due"), &server.inspector).json();
    assert_eq!(logged["no_log"], Value::Null);
}
