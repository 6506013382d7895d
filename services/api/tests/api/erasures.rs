//! What is kept of a person: all of it on request, and none of it once they are erased.

use crate::access::{AIRCRAFT, ENGINE, OWNER, shop_a_has_an_engine};
use crate::server::{SHOP_A, Server, uid};
use gudgeon_life::ids::PartyId;
use gudgeon_life::preference::ReportKind;
use gudgeon_life::week::ReportWeek;
use gudgeon_life::zone::Zone;
use gudgeon_store::{Claimant, Instant, NewMail, NewPlan, Store, Unsent};
use serde_json::{Value, json};

fn id(last: u32) -> String {
    format!("0193a000-0000-7000-8000-{last:012}")
}

fn erase(server: &Server, last: u32, body: &Value) -> u16 {
    let path = format!("/v1/owners/{OWNER}/erasures/{}", id(last));
    server.send("PUT", &path, &server.operator, &body.to_string()).status
}

/// Workshop A's engine, owned by "An Owner" until 1 June, with a note, and a mail to its owner.
fn told(server: &Server) {
    shop_a_has_an_engine(server);
    let put = |path: &str, body: Value| {
        let answer = server.send("PUT", path, &server.shop_a, &body.to_string());
        assert_eq!(answer.status, 201, "{path}: {answer:?}");
    };
    let note = "An Owner hears a knock";
    let inspected = json!({
        "engine": ENGINE, "opened_on": "2026-04-01", "released_on": "2026-04-02",
        "note": note, "release": { "by": "B. Mechanic" },
    });
    put(&format!("/v1/inspections/{}", id(401)), inspected);
    let sold = json!({ "on": "2026-06-01", "owner": id(2) });
    put(&format!("/v1/aircraft/{AIRCRAFT}/ownerships/{}", id(402)), sold);
    let later = json!({ "on": "2026-07-01", "meter": 50 });
    put(&format!("/v1/engines/{ENGINE}/readings/{}", id(403)), later);
    mailed(&server.store);
}

/// A mail to the owner that is composed and has not left.
fn mailed(store: &Store) {
    let plan = NewPlan { recipient: PartyId(uid(OWNER)), zone: Zone::UTC, send_at: Instant(0) };
    let week = ReportWeek::parse("2026-W20").expect("a week");
    store.plan_reports(ReportKind::Owner, week, None, &[plan]).expect("planned");
    let claimant = Claimant { by: "a test", at: Instant(0), lease_until: Instant(1) };
    let (claim, _) = store.claim_reports(1, &claimant).expect("claimed").remove(0);
    let mail = NewMail {
        as_of: "2026-05-11".parse().expect("a day"),
        message_id: "<1@example.invalid>",
        to_name: "An Owner",
        to_address: "o@example.org",
        subject: "Week 20",
        text: "Dear An Owner",
        html: "<p>Dear An Owner</p>",
        composed_from: [7; 32],
        composed_at: Instant(0),
    };
    assert_eq!(store.keep_mails(&[(claim, mail)]).expect("kept").len(), 1);
    assert!(store.end_unsent(claim, Unsent::Until(Instant(0)), Instant(0)).expect("put back"));
}

fn kinds(records: &Value) -> Vec<&str> {
    let records = records.as_array().expect("a list");
    records.iter().map(|it| it["fact"].as_str().expect("a kind")).collect()
}

#[test]
fn an_export_holds_all_that_concerns_one_owner_and_no_other() {
    let server = Server::start();
    told(&server);
    let answer = server.get(&format!("/v1/owners/{OWNER}/export"), &server.operator);
    assert_eq!(answer.status, 200);
    assert_eq!(answer.header("transfer-encoding"), Some("chunked"));
    let chunks: String = unchunked(&answer.text);
    let export: Value = serde_json::from_str(&chunks).expect("one JSON document");
    assert_eq!(export["owner"]["name"], "An Owner");
    assert_eq!(export["owner"]["email"], "o@example.org");
    assert_eq!(export["records"][0]["name"], "An Owner");
    let things: Vec<_> = export["owned"].as_array().expect("a list").iter().collect();
    let spans: Vec<_> =
        things.iter().map(|it| (&it["kind"], &it["id"], &it["from"], &it["until"])).collect();
    let (aircraft, engine) = (json!("aircraft"), json!("engine"));
    let (from, until) = (json!("2026-01-01"), json!("2026-06-01"));
    assert_eq!(
        spans,
        [(&aircraft, &json!(AIRCRAFT), &from, &until), (&engine, &json!(ENGINE), &from, &until)]
    );
    // By hand: the sale of 1 June and the reading of 1 July are the new owner's.
    assert_eq!(kinds(&things[0]["records"]), ["aircraft-registered", "ownership"]);
    assert_eq!(
        kinds(&things[1]["records"]),
        ["engine-registered", "engine-installed", "inspection", "inspection"]
    );
    assert_eq!(things[1]["records"][3]["note"], "An Owner hears a knock");
    assert_eq!(export["mails"][0]["text"], "Dear An Owner");
    assert_eq!(export["mails"].as_array().map(Vec::len), Some(1));
}

/// A body sent in chunks (RFC 9112 section 7.1), put together.
pub(crate) fn unchunked(mut text: &str) -> String {
    let mut whole = String::new();
    while let Some((size, rest)) = text.split_once("\r\n") {
        let size = usize::from_str_radix(size, 16).expect("a size");
        whole.push_str(&rest[..size]);
        text = rest[size..].trim_start_matches("\r\n");
    }
    whole
}

#[test]
fn an_erased_owner_is_gone_from_every_answer() {
    let server = Server::start();
    told(&server);
    let body = json!({ "on": "2026-11-25", "reason": "asked for it", "notes": true });
    assert_eq!((erase(&server, 501, &body), erase(&server, 501, &body)), (201, 200));
    assert_eq!(erase(&server, 501, &json!({ "on": "2026-11-25" })), 409);
    let owner = format!("/v1/owners/{OWNER}");
    let read = server.get(&owner, &server.operator);
    assert_eq!(read.json()["erased_on"], "2026-11-25");
    let export = server.get(&format!("{owner}/export"), &server.operator);
    let history = server.get(&format!("/v1/engines/{ENGINE}/history"), &server.operator);
    let page = server.page(&format!("/engines/{ENGINE}"));
    for text in [&read.text, &export.text, &history.text, &page] {
        assert!(!text.contains("An Owner") && !text.contains("o@example.org"), "{text}");
    }
    assert!(page.contains("erased, ending"), "{page}");
    // Who released the work goes with the note that stood beside it; that it was released stays.
    assert!(!history.text.contains("B. Mechanic"));
    let record = server.get(&format!("/v1/inspections/{}", id(401)), &server.operator).json();
    assert_eq!(record["record"]["release"], json!({}));
}

#[test]
fn an_erased_owner_is_not_told_of_again() {
    let server = Server::start();
    told(&server);
    assert_eq!(erase(&server, 501, &json!({ "on": "2026-11-25" })), 201);
    let owner = format!("/v1/owners/{OWNER}");
    let body = json!({ "name": "An Owner", "email": "o@example.org" });
    let again = server.send("PUT", &owner, &server.shop_a, &body.to_string());
    assert_eq!(again.status, 200);
    assert_eq!(again.json()["record"].get("name"), None, "{again:?}");
    let amend = json!({ "supersedes": OWNER, "reason": "moved", "record": body });
    let path = format!("{owner}/amendments/{}", id(601));
    let amended = server.send("PUT", &path, &server.shop_a, &amend.to_string());
    assert_eq!(amended.status, 409);
    assert_eq!(amended.json()["type"], "/problems/erased");
}

#[test]
fn an_erased_workshop_has_no_keys_and_gets_none() {
    let server = Server::start();
    let shop = format!("/v1/shops/{SHOP_A}");
    let put = |path: &str, body: Value| {
        server.send("PUT", path, &server.operator, &body.to_string()).status
    };
    assert_eq!(put(&shop, json!({ "name": "First Workshop" })), 201);
    let erasure = format!("{shop}/erasures/{}", id(501));
    let with_notes = json!({ "on": "2026-11-25", "notes": true });
    assert_eq!(put(&erasure, with_notes), 422, "notes are an owner's");
    assert_eq!(put(&erasure, json!({ "on": "2026-11-25" })), 201);
    assert_eq!(server.get("/v1/engines", &server.shop_a).status, 401);
    let label = json!({ "label": "bench tablet" }).to_string();
    let key = server.send("POST", &format!("{shop}/keys"), &server.operator, &label);
    assert_eq!(key.status, 409);
    // An owner's route erases no workshop, and nobody is erased who is not here.
    let as_owner = format!("/v1/owners/{SHOP_A}/erasures/{}", id(502));
    assert_eq!(put(&as_owner, json!({ "on": "2026-11-25" })), 404);
}
