//! Calendars over HTTP: what one tells as the records change. RFC 5545 says how; the clock says 2026-11-25.

use crate::access::{AIRCRAFT, ENGINE, OWNER, shop_a_has_an_engine};
use crate::links::{link, path};
use crate::server::{Answer, ENGINE_TYPE, Server, links, uid};
use gudgeon_life::ids::PartyId;
use gudgeon_store::{Link, Purpose};
use serde_json::{Value, json};
use std::collections::BTreeMap;

/// The properties of every event, by its identifier.
type Events = BTreeMap<String, BTreeMap<String, String>>;

fn id(last: u32) -> String {
    format!("0193a000-0000-7000-8000-{last:012}")
}

fn started() -> Server {
    let server = Server::start();
    server.activate("oarlock-twin", ENGINE_TYPE);
    shop_a_has_an_engine(&server);
    server
}

fn put(server: &Server, path: &str, body: &Value) {
    let answer = server.send("PUT", path, &server.shop_a, &body.to_string());
    assert_eq!(answer.status, 201, "{path}: {answer:?}");
}

fn feed(server: &Server) -> Answer {
    let answer = server.get(&path(server, Purpose::Calendar), "");
    assert_eq!(answer.status, 200, "{answer:?}");
    let sent = "text/calendar; method=PUBLISH; charset=utf-8";
    assert_eq!(answer.header("content-type"), Some(sent));
    answer
}

fn events(answer: &Answer) -> Events {
    let text = answer.text.replace("\r\n ", "");
    let events = text.split("BEGIN:VEVENT\r\n").skip(1).map(|event| {
        let lines = event.lines().filter_map(|line| line.split_once(':'));
        let of: BTreeMap<String, String> =
            lines.map(|(name, value)| (name.to_owned(), value.to_owned())).collect();
        (of["UID"].clone(), of)
    });
    events.collect()
}

// Counted from what the API says is due: another road to the same lines.
#[test]
fn every_line_in_trouble_or_due_within_a_year_is_one_event_and_stable() {
    let server = started();
    let first = feed(&server);
    let told = events(&first);
    assert!(!told.is_empty(), "{first:?}");
    for event in told.values() {
        assert_eq!(event["SEQUENCE"], "0");
        assert!(event["DESCRIPTION"].contains("not a maintenance record"), "{event:?}");
        assert!(event["SUMMARY"].ends_with("(invented)"), "{event:?}");
    }
    let due = server.get(&format!("/v1/engines/{ENGINE}/due"), &server.inspector).json();
    let lines = due["lines"].as_array().expect("lines");
    let trouble = ["overdue", "unknown", "in-tolerance", "in-extension", "coming-due"];
    let within = |line: &&Value| {
        let days = [&line["due"]["on"], &line["forecast"]["p10"]];
        let first = days.into_iter().filter_map(Value::as_str).min();
        // 365 days from 2026-11-25.
        trouble.contains(&line["status"].as_str().unwrap_or_default())
            || first.is_some_and(|on| on <= "2027-11-25")
    };
    assert_eq!(told.len(), lines.iter().filter(within).count(), "{told:?}");
    assert_eq!(feed(&server).text, first.text);
    // Whoever has it already is not sent it again.
    let tag = first.header("etag").expect("a tag");
    let again =
        server.raw("GET", &path(&server, Purpose::Calendar), &[("if-none-match", tag)], "", b"");
    assert_eq!((again.status, again.text.as_str()), (304, ""));
}

#[test]
fn what_happens_is_told_and_what_is_done_is_taken_off() {
    let server = started();
    let before = events(&feed(&server));
    let strike = json!({ "on": "2026-11-20", "kind": "propeller-strike" });
    put(&server, &format!("/v1/engines/{ENGINE}/events/{}", id(501)), &strike);
    let struck = events(&feed(&server));
    let new: Vec<&String> = struck.keys().filter(|uid| !before.contains_key(*uid)).collect();
    assert!(!new.is_empty(), "{struck:?}");
    for uid in &new {
        assert_eq!(struck[*uid]["SEQUENCE"], "0");
        assert_eq!(struck[*uid]["DTSTART;VALUE=DATE"], "20261120");
        assert_eq!(struck[*uid]["STATUS"], "CONFIRMED");
    }
    let withdrawn =
        json!({ "supersedes": id(501), "reason": "another aircraft", "withdrawn": true });
    put(
        &server,
        &format!("/v1/engines/{ENGINE}/events/{}/amendments/{}", id(501), id(502)),
        &withdrawn,
    );
    let after = events(&feed(&server));
    for uid in &new {
        assert_eq!(after[*uid]["STATUS"], "CANCELLED");
        assert_eq!(after[*uid]["SEQUENCE"], "1");
        assert_eq!(after[*uid]["DTSTART;VALUE=DATE"], "20261120");
    }
    for (uid, event) in &before {
        assert_eq!(after[uid]["SEQUENCE"], event["SEQUENCE"], "{uid}");
    }
}

#[test]
fn hours_that_come_make_an_estimate_that_says_so() {
    let server = started();
    // A steady ten hours a month since the spring.
    for (number, (on, meter)) in [
        ("2026-04-01", 10),
        ("2026-05-01", 20),
        ("2026-06-01", 30),
        ("2026-07-01", 40),
        ("2026-08-01", 50),
        ("2026-09-01", 60),
        ("2026-10-01", 70),
        ("2026-11-01", 80),
        ("2026-11-24", 88),
    ]
    .into_iter()
    .enumerate()
    {
        let reading = id(600 + u32::try_from(number).expect("small"));
        let body = json!({ "on": on, "meter": meter });
        put(&server, &format!("/v1/engines/{ENGINE}/readings/{reading}"), &body);
    }
    let told = events(&feed(&server));
    let about: Vec<_> = told.values().filter(|it| it["STATUS"] == "TENTATIVE").collect();
    assert!(!about.is_empty(), "{told:?}");
    for event in about {
        assert!(event["SUMMARY"].contains("(about\\, forecast)"), "{event:?}");
        assert!(event["DESCRIPTION"].contains("The day is an estimate"), "{event:?}");
    }
}

#[test]
fn a_calendar_tells_of_its_owners_engines_alone() {
    let server = started();
    assert!(!events(&feed(&server)).is_empty());
    let sold = json!({ "on": "2026-11-25", "owner": id(2) });
    put(&server, &format!("/v1/aircraft/{AIRCRAFT}/ownerships/{}", id(402)), &sold);
    // What was his is taken off; nothing of it is told anew.
    let told = events(&feed(&server));
    assert!(told.values().all(|it| it["STATUS"] == "CANCELLED"), "{told:?}");
    assert!(told.values().all(|it| !it["DESCRIPTION"].contains("overdue")), "{told:?}");
}

#[test]
fn a_link_that_does_not_hold_opens_no_calendar() {
    let server = started();
    let good = link(&server, Purpose::Calendar, "2026-11-25");
    let reading = link(&server, Purpose::Reading, "2026-11-25");
    let nobody = Link { party: PartyId(uid(&id(99))), ..good };
    for sealed in [&links().seal(&reading), &links().seal(&nobody), "x"] {
        assert_eq!(server.get(&format!("/calendar/{sealed}.ics"), "").status, 404, "{sealed}");
    }
    let path = path(&server, Purpose::Calendar);
    for (method, status) in [("HEAD", 200), ("OPTIONS", 405), ("POST", 405)] {
        assert_eq!(server.get_as(method, &path, "").status, status, "{method}");
    }
    let erasure = format!("/v1/owners/{OWNER}/erasures/{}", id(401));
    let answer = server.send("PUT", &erasure, &server.operator, r#"{"on": "2026-11-25"}"#);
    assert_eq!(answer.status, 201);
    assert_eq!(server.get(&path, "").status, 404);
}
