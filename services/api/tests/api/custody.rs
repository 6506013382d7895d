//! Workshops that hold an engine for a time: what they see and post before, meanwhile and after. The rules are
//! those of the trade, as common practice has them; the clock says 2026-11-25.

use crate::access::{AIRCRAFT, ENGINE, OWNER, shop_a_has_an_engine};
use crate::server::{SHOP_A, SHOP_B, Server};
use serde_json::{Value, json};

const INSPECTION: &str = "/v1/inspections/0193a000-0000-7000-8000-000000000103";

fn id(last: u32) -> String {
    format!("0193a000-0000-7000-8000-{last:012}")
}

fn grant(server: &Server, last: u32, body: &Value) {
    let path = format!("/v1/engines/{ENGINE}/custody/{}", id(last));
    let answer = server.send("PUT", &path, &server.inspector, &body.to_string());
    assert_eq!(answer.status, 201, "{answer:?}");
}

fn read_on(server: &Server, key: &str, last: u32, on: &str) -> u16 {
    let path = format!("/v1/engines/{ENGINE}/readings/{}", id(last));
    server.send("PUT", &path, key, &json!({ "on": on, "meter": 10 }).to_string()).status
}

/// What a workshop gets from every address that tells of the engine, and how many engines it is shown.
fn seen(server: &Server, key: &str) -> (Vec<u16>, usize, i64) {
    let paths = [
        format!("/v1/engines/{ENGINE}"),
        format!("/v1/engines/{ENGINE}/due"),
        format!("/v1/engines/{ENGINE}/components"),
        format!("/v1/aircraft/{AIRCRAFT}"),
    ];
    let statuses = paths.iter().map(|path| server.get(path, key).status).collect();
    let listed = server.get("/v1/engines", key).json();
    let due = server.get("/v1/fleet/due", key).json();
    let counted = due["counts"].as_object().expect("counts");
    let counted = counted.values().filter_map(Value::as_i64).sum();
    (statuses, listed["engines"].as_array().expect("a list").len(), counted)
}

#[test]
fn a_workshop_sees_an_engine_while_it_holds_it() {
    let server = Server::start();
    shop_a_has_an_engine(&server);
    let (all, nothing) = ((vec![200; 4], 1, 1), (vec![404; 4], 0, 0));
    assert_eq!(
        (seen(&server, &server.shop_a), seen(&server, &server.shop_b)),
        (all.clone(), nothing.clone())
    );
    grant(&server, 201, &json!({ "on": "2026-06-01", "shop": SHOP_B, "until": "2026-11-25" }));
    assert_eq!(
        (seen(&server, &server.shop_a), seen(&server, &server.shop_b)),
        (nothing.clone(), all.clone())
    );
    // The end is corrected to the day before: today nobody holds it.
    let amend = format!("/v1/engines/{ENGINE}/custody/{}/amendments/{}", id(201), id(202));
    let body = json!({
        "supersedes": id(201), "reason": "collected a day earlier",
        "record": { "on": "2026-06-01", "shop": SHOP_B, "until": "2026-11-24" },
    });
    assert_eq!(server.send("PUT", &amend, &server.inspector, &body.to_string()).status, 201);
    assert_eq!(
        (seen(&server, &server.shop_a), seen(&server, &server.shop_b)),
        (nothing.clone(), nothing.clone())
    );
    // No day that is asked for brings an engine back.
    let earlier = format!("/v1/engines/{ENGINE}/due?as_of=2026-06-01");
    assert_eq!(server.get(&earlier, &server.shop_b).status, 404);
    let earlier = server.get("/v1/fleet/due?as_of=2026-06-01", &server.shop_b).json();
    assert_eq!(earlier["engines"], json!([]));
    // The inspector sees who had it last, and until when.
    let engine = server.get(&format!("/v1/engines/{ENGINE}"), &server.inspector).json();
    assert_eq!(engine["engine"]["custodian"], SHOP_B);
    assert_eq!(engine["engine"]["custodian_until"], "2026-11-24");
    // Withdrawn, the grant never was: the first workshop holds it again.
    let amend = format!("/v1/engines/{ENGINE}/custody/{}/amendments/{}", id(201), id(203));
    let body = json!({ "supersedes": id(202), "reason": "another engine", "withdrawn": true });
    assert_eq!(server.send("PUT", &amend, &server.operator, &body.to_string()).status, 201);
    assert_eq!((seen(&server, &server.shop_a), seen(&server, &server.shop_b)), (all, nothing));
}

#[test]
fn a_workshop_tells_late_what_it_did_while_it_held_the_engine_and_nothing_else() {
    let server = Server::start();
    shop_a_has_an_engine(&server);
    grant(&server, 201, &json!({ "on": "2026-06-01", "shop": SHOP_B, "until": "2026-06-30" }));
    assert_eq!(read_on(&server, &server.shop_b, 301, "2026-06-30"), 201);
    assert_eq!(read_on(&server, &server.shop_b, 302, "2026-07-01"), 404);
    assert_eq!(read_on(&server, &server.shop_b, 303, "2026-05-31"), 404);
    assert_eq!(read_on(&server, &server.shop_a, 304, "2026-05-31"), 201);
    assert_eq!(read_on(&server, &server.shop_a, 305, "2026-06-01"), 404);
    // A late post is answered without what is due now: that is another's to see.
    let path = format!("/v1/engines/{ENGINE}/readings/{}", id(306));
    let body = json!({ "on": "2026-06-15", "meter": 9 }).to_string();
    let answer = server.send("PUT", &path, &server.shop_b, &body);
    assert_eq!(answer.status, 201);
    assert_eq!(answer.json().get("due"), None);
    assert_eq!(answer.json()["warnings"], json!([]), "{answer:?}");
}

#[test]
fn what_a_workshop_posted_stays_its_own_to_read_and_correct() {
    let server = Server::start();
    shop_a_has_an_engine(&server);
    grant(&server, 201, &json!({ "on": "2026-06-01", "shop": SHOP_B }));
    let path = format!("/v1/engines/{ENGINE}/readings/{}", id(301));
    let body = json!({ "on": "2026-07-01", "meter": 10 }).to_string();
    assert_eq!(server.send("PUT", &path, &server.shop_b, &body).status, 201);
    assert_eq!(server.get(INSPECTION, &server.shop_a).status, 200);
    let history = format!("/v1/engines/{ENGINE}/history");
    let records = |key: &str| {
        let answer = server.get(&history, key).json();
        let records = answer["records"].as_array().cloned().unwrap_or_default();
        records
            .iter()
            .map(|it| it["fact"].as_str().unwrap_or_default().to_owned())
            .collect::<Vec<_>>()
    };
    let own = ["engine-registered", "engine-installed", "inspection"];
    let all = ["aircraft-registered", "ownership", "custody", "reading"];
    assert_eq!(records(&server.shop_a), own);
    let mut seen = records(&server.shop_b);
    let mut expected = [own.as_slice(), all.as_slice()].concat();
    seen.sort_unstable();
    expected.sort_unstable();
    assert_eq!(seen, expected);
    assert_eq!(server.get(&format!("/v1/owners/{OWNER}"), &server.shop_a).status, 200);
    let amend = format!("{INSPECTION}/amendments/{}", id(302));
    let body = json!({
        "engine": ENGINE, "supersedes": &INSPECTION[16..], "reason": "not done", "withdrawn": true,
    });
    assert_eq!(server.send("PUT", &amend, &server.shop_a, &body.to_string()).status, 201);
}

#[test]
fn an_end_before_the_beginning_and_a_grant_by_a_workshop_are_refused() {
    let server = Server::start();
    shop_a_has_an_engine(&server);
    let path = format!("/v1/engines/{ENGINE}/custody/{}", id(201));
    let body = json!({ "on": "2026-06-01", "shop": SHOP_A, "until": "2026-05-31" }).to_string();
    let answer = server.send("PUT", &path, &server.inspector, &body);
    assert_eq!(answer.errors(), [("/until".to_owned(), "before-start".to_owned())]);
    let body = json!({ "on": "2026-06-01", "shop": SHOP_B }).to_string();
    assert_eq!(server.send("PUT", &path, &server.shop_a, &body).status, 403);
    assert_eq!(server.send("PUT", &path, &server.shop_b, &body).status, 403);
}
