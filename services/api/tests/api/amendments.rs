//! Every kind of record can be corrected and withdrawn, by the one who posted it; nothing else can.

use crate::server::{ENGINE_TYPE, Server};
use serde_json::{Value, json};

const ENGINE: &str = "/v1/engines/0193a000-0000-7000-8000-0000000000e1";
const AIRCRAFT: &str = "/v1/aircraft/0193a000-0000-7000-8000-0000000000a1";
const PART: &str = "/v1/components/0193a000-0000-7000-8000-0000000000c1";
const OWNER: &str = "/v1/owners/0193a000-0000-7000-8000-0000000000b1";
const SHOP: &str = "/v1/shops/0193a000-0000-7000-8000-0000000000b2";

fn id(last: u32) -> String {
    format!("0193a000-0000-7000-8000-{last:012}")
}

/// A record under a thing: where, by whom, as first told, as it should have been.
type Case = (&'static str, &'static str, Value, Value);

fn cases() -> Vec<Case> {
    let owner = OWNER.rsplit_once('/').map(|(_, id)| id);
    let (aircraft, engine) = (&AIRCRAFT[13..], &ENGINE[12..]);
    let body = |on: &str, more: Value| {
        let mut body = json!({ "on": on });
        if let (Value::Object(fields), Value::Object(more)) = (&mut body, more) {
            fields.extend(more);
        }
        body
    };
    let both =
        |first: Value, second: Value| (body("2026-02-01", first), body("2026-02-03", second));
    let case = |thing, records, (first, second)| (thing, records, first, second);
    vec![
        case(AIRCRAFT, "ownerships", both(json!({"owner": owner}), json!({"owner": owner}))),
        case(
            AIRCRAFT,
            "descriptions",
            both(json!({"use": ["school"]}), json!({"use": ["private"]})),
        ),
        case(
            AIRCRAFT,
            "meter-changes",
            both(
                json!({"old_end": "10.0", "new_start": "0.0"}),
                json!({"old_end": "11.0", "new_start": "1.0"}),
            ),
        ),
        case(ENGINE, "ownerships", both(json!({"owner": owner}), json!({"owner": owner}))),
        case(
            ENGINE,
            "descriptions",
            both(json!({"fuel": ["leaded"]}), json!({"fuel": ["unleaded"]})),
        ),
        case(ENGINE, "events", both(json!({"kind": "overheat"}), json!({"kind": "seizure"}))),
        case(
            ENGINE,
            "installations",
            both(
                json!({"aircraft": aircraft, "meter": "10.0"}),
                json!({"aircraft": aircraft, "meter": "11.0"}),
            ),
        ),
        case(ENGINE, "removals", both(json!({"meter": "10.0"}), json!({"meter": "11.0"}))),
        case(ENGINE, "preservations", both(json!({}), json!({"until": "2026-08-01"}))),
        case(
            ENGINE,
            "concessions",
            both(
                json!({"item": "annual-inspection", "by": "An Inspector", "reference": "R-1"}),
                json!({"item": "annual-inspection", "by": "An Inspector", "reference": "R-2"}),
            ),
        ),
        case(
            ENGINE,
            "maker-restarts",
            both(
                json!({"by": "The Maker", "statement": "rebuilt"}),
                json!({"by": "The Maker", "statement": "rebuilt to new limits"}),
            ),
        ),
        case(PART, "fittings", both(json!({"engine": engine}), json!({"aircraft": aircraft}))),
        case(PART, "removals", both(json!({}), json!({"meter": "11.0"}))),
        case(PART, "events", both(json!({"kind": "overheat"}), json!({"kind": "seizure"}))),
        case(PART, "overhauls", both(json!({}), json!({"release": {"by": "A Mechanic"}}))),
    ]
}

fn server() -> Server {
    let server = Server::start();
    server.activate("oarlock-twin", ENGINE_TYPE);
    for (path, body) in registrations() {
        let put = server.send("PUT", path, &server.operator, &body.to_string());
        assert_eq!(put.status, 201, "{path}: {put:?}");
    }
    server
}

fn registrations() -> Vec<(&'static str, Value)> {
    vec![
        (AIRCRAFT, json!({"on": "2026-01-01", "mark": "DEMO-1", "basis": "engine-run"})),
        (
            ENGINE,
            json!({
                "on": "2026-01-01", "engine_type": "oarlock-twin", "serial": "7",
                "basis": "engine-run", "tsn": "100.0",
            }),
        ),
        (PART, json!({"on": "2026-01-01", "kind": "crankshaft", "serial": "C-9", "hours": "5.0"})),
        (OWNER, json!({"name": "An Owner", "email": "old@example.org"})),
        (SHOP, json!({"name": "A Bench"})),
    ]
}

fn amended(server: &Server, path: &str, supersedes: &str, what: (&str, &Value)) -> Value {
    let mut body = json!({ "supersedes": supersedes, "reason": "written wrongly" });
    body[what.0] = what.1.clone();
    let put = server.send("PUT", path, &server.operator, &body.to_string());
    assert_eq!(put.status, 201, "{path} {body}: {put:?}");
    put.json()
}

#[test]
fn every_kind_of_record_is_corrected_and_withdrawn() {
    let server = server();
    for (number, (thing, records, first, second)) in (100..).step_by(10).zip(cases()) {
        let at = format!("{thing}/{records}/{}", id(number));
        let put = server.send("PUT", &at, &server.operator, &first.to_string());
        assert_eq!(put.status, 201, "{at} {first}: {put:?}");
        let other = server.send("PUT", &at, &server.operator, &second.to_string());
        if other.status == 409 {
            assert!(other.text.contains(&format!("{at}/amendments")), "{other:?}");
        }
        let amendment = format!("{at}/amendments/{}", id(number + 1));
        let answer = amended(&server, &amendment, &id(number), ("record", &second));
        for (name, value) in second.as_object().expect("an object") {
            assert_eq!(&answer["record"]["record"][name], value, "{name}: {answer:#}");
        }
        let withdrawal = format!("{at}/amendments/{}", id(number + 2));
        amended(&server, &withdrawal, &id(number + 1), ("withdrawn", &json!(true)));
    }
    // With all of them withdrawn, the engine stands as it was registered and nothing contradicts.
    let due = server.get(&format!("{ENGINE}/due"), &server.inspector).json();
    assert_eq!(
        (&due["conflicts"], &due["engine"]["hours"]["since_new"]),
        (&json!([]), &json!("100.0")),
        "{due:#}"
    );
}

#[test]
fn registrations_are_corrected_too() {
    let server = server();
    let second = json!({
        "on": "2026-01-01", "engine_type": "oarlock-twin", "serial": "8", "basis": "engine-run",
        "tsn": "90.0",
    });
    let at = format!("{ENGINE}/amendments/{}", id(1));
    amended(&server, &at, &ENGINE[12..], ("record", &second));
    let engine = server.get(ENGINE, &server.inspector).json();
    assert_eq!(engine["engine"]["serial"], "8");
    assert_eq!(engine["engine"]["hours"]["since_new"], "90.0");

    let at = format!("{OWNER}/amendments/{}", id(2));
    let moved = json!({ "name": "An Owner", "email": "new@example.org" });
    amended(&server, &at, &OWNER[11..], ("record", &moved));
    let owner = gudgeon_life::ids::PartyId(crate::server::uid(&OWNER[11..]));
    let party = server.store.party(owner).expect("readable").expect("the owner is there");
    assert_eq!(party.email.as_deref(), Some("new@example.org"));
}

#[test]
fn an_amendment_says_what_stands_and_of_the_same_kind() {
    let server = server();
    let event = format!("{ENGINE}/events/{}", id(1));
    let strike = json!({ "on": "2026-02-01", "kind": "propeller-strike" });
    assert_eq!(server.send("PUT", &event, &server.operator, &strike.to_string()).status, 201);
    let put =
        |path: &str, body: Value| server.send("PUT", path, &server.operator, &body.to_string());
    let at = format!("{event}/amendments/{}", id(2));
    let nothing = put(&at, json!({ "supersedes": id(1), "reason": "?" }));
    assert_eq!(nothing.errors(), [("/record".to_owned(), "missing".to_owned())]);
    let both = json!({
        "supersedes": id(1), "reason": "?", "withdrawn": true, "record": strike,
    });
    assert_eq!(put(&at, both).errors()[0], ("/record".to_owned(), "contradiction".to_owned()));
    let bad = json!({ "supersedes": id(1), "reason": "?", "record": { "on": "2026-02-01", "kind": "x" } });
    assert_eq!(put(&at, bad).errors()[0].0, "/record/kind");
    let reading = format!("{ENGINE}/preservations/{}/amendments/{}", id(1), id(2));
    let other = json!({ "supersedes": id(1), "reason": "?", "record": { "on": "2026-02-01" } });
    assert_eq!(put(&reading, other).status, 404, "the record is no preservation");
}

#[test]
fn only_the_workshop_that_posted_a_record_amends_it() {
    let server = server();
    let event = format!("{ENGINE}/events/{}", id(1));
    let strike = json!({ "on": "2026-02-01", "kind": "propeller-strike" });
    let engine = ENGINE.replace("e1", "e2");
    let own = json!({
        "on": "2026-01-01", "engine_type": "oarlock-twin", "serial": "9", "basis": "engine-run",
        "tsn": "1.0",
    });
    assert_eq!(server.send("PUT", &engine, &server.shop_a, &own.to_string()).status, 201);
    let event = event.replace("e1", "e2");
    assert_eq!(server.send("PUT", &event, &server.operator, &strike.to_string()).status, 201);
    let body = json!({ "supersedes": id(1), "reason": "not so", "withdrawn": true }).to_string();
    let at = format!("{event}/amendments/{}", id(2));
    assert_eq!(server.send("PUT", &at, &server.shop_a, &body).status, 403);
    assert_eq!(server.send("PUT", &at, &server.shop_b, &body).status, 404);
    assert_eq!(server.send("PUT", &at, &server.operator, &body).status, 201);
}
