//! Owners with a key of their own: what they see, and that they say which workshops see their engines. The rules
//! are common practice: what somebody owns is theirs to show; the clock says 2026-11-25.

use crate::access::{AIRCRAFT, ENGINE, OWNER, shop_a_has_an_engine};
use crate::server::{SHOP_A, SHOP_B, Server};
use serde_json::{Value, json};

fn id(last: u32) -> String {
    format!("0193a000-0000-7000-8000-{last:012}")
}

/// Another owner, who owns nothing yet.
fn buyer(server: &Server) -> String {
    let path = format!("/v1/owners/{}", id(2));
    let body = json!({ "name": "A Buyer" }).to_string();
    assert_eq!(server.send("PUT", &path, &server.operator, &body).status, 201);
    id(2)
}

/// The key that the operator gives an owner.
fn key_of(server: &Server, owner: &str) -> String {
    let path = format!("/v1/owners/{owner}/keys");
    let answer = server.send("POST", &path, &server.operator, r#"{"label": "at home"}"#);
    assert_eq!(answer.status, 201, "{answer:?}");
    answer.json()["key"].as_str().expect("a key").to_owned()
}

fn sell(server: &Server, last: u32, on: &str, owner: &str) {
    let path = format!("/v1/aircraft/{AIRCRAFT}/ownerships/{}", id(last));
    let body = json!({ "on": on, "owner": owner }).to_string();
    assert_eq!(server.send("PUT", &path, &server.operator, &body).status, 201);
}

fn grant(server: &Server, key: &str, last: u32, body: &Value) -> u16 {
    let path = format!("/v1/engines/{ENGINE}/custody/{}", id(last));
    server.send("PUT", &path, key, &body.to_string()).status
}

fn sees(server: &Server, key: &str) -> bool {
    let one = server.get(&format!("/v1/engines/{ENGINE}"), key).status == 200;
    let listed = server.get("/v1/engines", key).json();
    let listed = listed["engines"].as_array().expect("a list").iter();
    let named = listed.filter(|it| it["engine"]["id"] == ENGINE).count();
    assert_eq!(one, named == 1, "one engine and the list tell the same");
    one
}

#[test]
fn an_owner_sees_his_engines_and_no_others() {
    let server = Server::start();
    shop_a_has_an_engine(&server);
    let (owner, other) = (key_of(&server, OWNER), key_of(&server, &buyer(&server)));
    for path in ["", "/due", "/history", "/components"] {
        let path = format!("/v1/engines/{ENGINE}{path}");
        assert_eq!(server.get(&path, &owner).status, 200, "{path}");
        assert_eq!(server.get(&path, &other).status, 404, "{path}");
    }
    assert_eq!((sees(&server, &owner), sees(&server, &other)), (true, false));
    // Without a programme nothing is known to be due, or not to be.
    assert_eq!(server.get("/v1/engines", &owner).json()["engines"][0]["status"], "unknown");
    // From the day of the sale it is the buyer's, and his alone.
    sell(&server, 201, "2026-11-25", &id(2));
    assert_eq!((sees(&server, &owner), sees(&server, &other)), (false, true));
    // The pages are not for owners, and a key of theirs opens no door there.
    let form = [("content-type", "application/x-www-form-urlencoded")];
    let door = server.raw("POST", "/sign-in", &form, "", format!("key={other}").as_bytes());
    assert_eq!((door.status, door.header("set-cookie")), (403, None));
}

#[test]
fn an_owner_lets_workshops_in_and_out() {
    let server = Server::start();
    shop_a_has_an_engine(&server);
    let owner = key_of(&server, OWNER);
    assert_eq!((sees(&server, &server.shop_a), sees(&server, &server.shop_b)), (true, false));
    assert_eq!(grant(&server, &owner, 201, &json!({ "on": "2026-11-01", "shop": SHOP_B })), 201);
    assert_eq!((sees(&server, &server.shop_a), sees(&server, &server.shop_b)), (false, true));
    let amend = |last: u32, body: Value| {
        let path = format!("/v1/engines/{ENGINE}/custody/{}/amendments/{}", id(201), id(last));
        server.send("PUT", &path, &owner, &body.to_string()).status
    };
    let ended = json!({
        "supersedes": id(201), "reason": "collected",
        "record": { "on": "2026-11-01", "shop": SHOP_B, "until": "2026-11-24" },
    });
    assert_eq!(amend(202, ended), 201);
    assert_eq!((sees(&server, &server.shop_a), sees(&server, &server.shop_b)), (false, false));
    let withdrawn = json!({ "supersedes": id(202), "reason": "never there", "withdrawn": true });
    assert_eq!(amend(203, withdrawn), 201);
    assert_eq!((sees(&server, &server.shop_a), sees(&server, &server.shop_b)), (true, false));
    // Who let a workshop in is on record.
    let history = server.get(&format!("/v1/engines/{ENGINE}/history"), &server.inspector).json();
    let records = history["records"].as_array().expect("a list").clone();
    let granted = records.iter().find(|it| it["id"] == id(201)).expect("the grant");
    assert_eq!(granted["posted_by"], OWNER, "{granted}");
}

#[test]
fn an_owner_ends_what_the_inspector_granted() {
    let server = Server::start();
    shop_a_has_an_engine(&server);
    let owner = key_of(&server, OWNER);
    let inspector = server.inspector.clone();
    assert_eq!(
        grant(&server, &inspector, 201, &json!({ "on": "2026-11-01", "shop": SHOP_B })),
        201
    );
    let path = format!("/v1/engines/{ENGINE}/custody/{}/amendments/{}", id(201), id(202));
    let body = json!({ "supersedes": id(201), "reason": "not mine to repair", "withdrawn": true });
    assert_eq!(server.send("PUT", &path, &owner, &body.to_string()).status, 201);
    assert!(!sees(&server, &server.shop_b));
}

#[test]
fn nobody_lets_workshops_into_what_is_not_his_on_that_day_and_today() {
    let server = Server::start();
    shop_a_has_an_engine(&server);
    let (owner, buyer) = (key_of(&server, OWNER), key_of(&server, &buyer(&server)));
    let let_in = |on: &str| json!({ "on": on, "shop": SHOP_B });
    assert_eq!(grant(&server, &buyer, 201, &let_in("2026-11-01")), 404);
    sell(&server, 202, "2026-06-01", &id(2));
    // The buyer from the day of the sale on; the seller never again, not even for the days that were his.
    assert_eq!(grant(&server, &buyer, 203, &let_in("2026-05-31")), 404);
    assert_eq!(grant(&server, &buyer, 204, &let_in("2026-06-01")), 201);
    assert_eq!(grant(&server, &owner, 205, &let_in("2026-03-01")), 404);
    // A correction is about the day of what it corrects, whatever day it puts in its place.
    let path = format!("/v1/engines/{ENGINE}/custody/{}/amendments/{}", id(204), id(206));
    let body = json!({
        "supersedes": id(204), "reason": "earlier",
        "record": { "on": "2026-05-01", "shop": SHOP_B },
    });
    assert_eq!(server.send("PUT", &path, &buyer, &body.to_string()).status, 404);
    assert_eq!(server.send("PUT", &path, &owner, &body.to_string()).status, 404);
}

#[test]
fn an_owner_posts_nothing_else_and_reads_nothing_else() {
    let server = Server::start();
    shop_a_has_an_engine(&server);
    let owner = key_of(&server, OWNER);
    let reading = json!({ "on": "2026-11-20", "meter": 10 }).to_string();
    let path = format!("/v1/engines/{ENGINE}/readings/{}", id(301));
    assert_eq!(server.send("PUT", &path, &owner, &reading).status, 403);
    for path in ["/v1/fleet/due", "/v1/components"] {
        assert_eq!(server.get(path, &owner).status, 403, "{path}");
    }
    for path in [format!("/v1/shops/{SHOP_A}"), format!("/v1/owners/{OWNER}")] {
        assert_eq!(server.get(&path, &owner).status, 403, "{path}");
    }
}

#[test]
fn a_key_of_an_erased_owner_opens_nothing() {
    let server = Server::start();
    shop_a_has_an_engine(&server);
    let owner = key_of(&server, OWNER);
    assert!(sees(&server, &owner));
    let path = format!("/v1/owners/{OWNER}/erasures/{}", id(401));
    let body = json!({ "on": "2026-11-25" }).to_string();
    assert_eq!(server.send("PUT", &path, &server.operator, &body).status, 201);
    assert_eq!(server.get("/v1/engines", &owner).status, 401);
    let path = format!("/v1/owners/{OWNER}/keys");
    assert_eq!(server.send("POST", &path, &server.operator, r#"{"label": "again"}"#).status, 409);
}
