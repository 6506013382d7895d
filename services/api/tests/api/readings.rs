//! The page on which owners type what the hour meter shows or report what happened. The clock says 2026-11-25;
//! which numbers make people look again is common practice: a meter does not fall, and a day has 24 hours.

use crate::access::{AIRCRAFT, ENGINE, OWNER, shop_a_has_an_engine};
use crate::links::{FORM, link, path};
use crate::server::{Answer, ENGINE_TYPE, Server, links, uid};
use gudgeon_life::fact::{Content, Stream};
use gudgeon_life::ids::{EngineId, PartyId};
use gudgeon_store::{Link, Purpose, Stored};
use serde_json::json;

const ID: &str = "0193a000-0000-7000-8000-00000000f001";
const OTHER_ID: &str = "0193a000-0000-7000-8000-00000000f002";

fn started() -> Server {
    let server = Server::start();
    server.activate("oarlock-twin", ENGINE_TYPE);
    shop_a_has_an_engine(&server);
    server
}

fn send(server: &Server, fields: &[(&str, &str)]) -> Answer {
    let encoded = |text: &str| {
        let bytes: Vec<String> = text.bytes().map(|byte| format!("%{byte:02X}")).collect();
        bytes.concat()
    };
    let pairs: Vec<String> =
        fields.iter().map(|(name, value)| format!("{name}={}", encoded(value))).collect();
    let path = path(server, Purpose::Reading);
    server.raw("POST", &path, &[FORM], "", pairs.join("&").as_bytes())
}

fn read(server: &Server, id: &str, meter: &str, on: &str) -> Answer {
    let what = [("what", "reading"), ("id", id), ("engine", ENGINE)];
    send(server, &[&what[..], &[("meter", meter), ("on", on)]].concat())
}

/// The readings of the engine and the events on record.
fn told(server: &Server) -> Vec<Stored> {
    let stream = Stream::engine(EngineId(uid(ENGINE)));
    let mut facts = server.store.facts_of(stream).expect("reads");
    facts.retain(|it| {
        matches!(
            it.fact.entry.content,
            Content::Reading(_) | Content::Event(_) | Content::Amendment(_)
        )
    });
    facts
}

#[test]
fn a_reading_typed_in_any_way_is_kept_once_in_the_owners_name() {
    for typed in ["43.2", "43,2", "43:12", " 43.2 "] {
        let server = started();
        // A double click, and a third one.
        for _ in 0..3 {
            let answer = read(&server, ID, typed, "2026-11-24");
            assert_eq!(answer.status, 200, "{typed}: {answer:?}");
            assert!(answer.text.contains("DEMO-1: 43.2 on Tue"), "{typed}: {}", answer.text);
        }
        let told = told(&server);
        assert_eq!(told.len(), 1, "{typed}");
        assert_eq!(told[0].by, Some(PartyId(uid(OWNER))));
        let Content::Reading(it) = &told[0].fact.entry.content else { panic!("{told:?}") };
        // 43 h 12 min = 155 520 s.
        assert_eq!(it.meter.seconds(), 155_520);
        // The meter is that of the aircraft: the workshop sees it too.
        let engine = server.get(&format!("/v1/engines/{ENGINE}"), &server.shop_a).json();
        assert_eq!(engine["engine"]["hours"]["meter"], "43.2");
    }
}

#[test]
fn the_page_shows_the_last_reading_and_its_day() {
    let server = started();
    let page = server.get(&path(&server, Purpose::Reading), "").text;
    for shown in
        ["DEMO-1", "Last reading: <b>0.0</b>", "inputmode=\"decimal\"", "value=\"2026-11-25\""]
    {
        assert!(page.contains(shown), "{shown}: {page}");
    }
    read(&server, ID, "43.2", "2026-11-24");
    let page = server.get(&path(&server, Purpose::Reading), "").text;
    assert!(page.contains("Last reading: <b>43.2</b>"), "{page}");
    assert!(page.contains("(1 day ago)"), "{page}");
    assert!(page.contains("advisory planning report"), "{page}");
}

#[test]
fn the_answer_says_what_is_due_now() {
    let server = started();
    let before = read(&server, ID, "20", "2026-11-01");
    let due = |text: &str| text.matches("<span class=\"status").count();
    let after = read(&server, OTHER_ID, "340", "2026-11-25");
    assert_eq!(after.status, 200, "{after:?}");
    // The full overhaul of the invented twin is due at 300 h.
    assert!(after.text.contains("status overdue"), "{}", after.text);
    assert!(due(&after.text) >= due(&before.text));
    assert!(after.text.contains("advisory planning report"), "{}", after.text);
}

#[test]
fn a_number_that_cannot_well_be_is_asked_about_and_then_kept() {
    let server = started();
    assert_eq!(read(&server, ID, "100", "2026-11-23").status, 200);
    for (meter, on, why) in [
        ("99.9", "2026-11-24", "is less than the 100.0 that the meter showed on Mon"),
        // Two days on, with the day of the last reading, hold 72 hours.
        ("172.1", "2026-11-25", "is 72.1 h more than on Mon"),
        ("100.1", "2026-11-22", "is more than the 100.0 that the meter showed later"),
    ] {
        let asked = read(&server, OTHER_ID, meter, on);
        assert_eq!(asked.status, 422, "{meter}: {asked:?}");
        let text = asked.text.replace("<span class=\"word\">", "").replace("</span>", "");
        assert!(text.contains(why), "{meter}: {text}");
        // What was typed stays, under the same identifier.
        assert!(text.contains(&format!("value=\"{meter}\"")) && text.contains(OTHER_ID), "{text}");
        assert_eq!(told(&server).len(), 1);
    }
    assert_eq!(read(&server, OTHER_ID, "172", "2026-11-25").status, 200);
    let sure = [
        ("what", "reading"),
        ("id", "0193a000-0000-7000-8000-00000000f003"),
        ("engine", ENGINE),
        ("meter", "99.9"),
        ("on", "2026-11-25"),
    ];
    // Sure of another number is not sure of this one.
    let other = [("sure", "2026-11-25 9.9")];
    assert_eq!(send(&server, &[&sure[..], &other].concat()).status, 422);
    let this = [("sure", "2026-11-25 99.9")];
    assert_eq!(send(&server, &[&sure[..], &this].concat()).status, 200);
    assert_eq!(told(&server).len(), 3);
}

#[test]
fn what_is_wrong_is_named_at_its_field_and_what_was_typed_stays() {
    let server = started();
    for (meter, on, shown) in [
        ("", "2026-11-24", "type what the hour meter shows"),
        ("4x", "2026-11-24", "`4x` is not a number of hours"),
        ("1,125", "2026-11-24", "may be thousands or parts of an hour"),
        ("1.125", "2026-11-24", "may be thousands or parts of an hour"),
        ("12:75", "2026-11-24", "no minutes between 00 and 59"),
        ("43.2", "2027-01-01", "lies in the future"),
        ("43.2", "yesterday", "2026"),
        ("43.2", "", "say on which day"),
        // The owner's since 2026-01-01.
        ("0", "2025-12-31", "was not yours on record"),
    ] {
        let answer = read(&server, ID, meter, on);
        assert_eq!(answer.status, 422, "{meter} {on}: {answer:?}");
        assert!(answer.text.contains(shown), "{meter} {on}: {}", answer.text);
        assert!(
            answer
                .text
                .contains(&format!("name=\"meter\" inputmode=\"decimal\" value=\"{meter}\""))
        );
    }
    assert_eq!(told(&server).len(), 0);
}

#[test]
fn another_number_under_the_same_identifier_is_asked_about() {
    let server = started();
    assert_eq!(read(&server, ID, "43.2", "2026-11-24").status, 200);
    let again = read(&server, ID, "44.2", "2026-11-25");
    assert_eq!(again.status, 422, "{again:?}");
    assert!(again.text.contains("sent before with something else"), "{}", again.text);
    assert!(!again.text.contains(ID), "it gets an identifier of its own");
    assert_eq!(told(&server).len(), 1);
}

#[test]
fn what_happened_is_reported_and_falls_due_at_once() {
    let server = started();
    assert_eq!(read(&server, ID, "43.2", "2026-11-24").status, 200);
    let event = |kind: &str| {
        send(
            &server,
            &[
                ("what", "event"),
                ("id", OTHER_ID),
                ("engine", ENGINE),
                ("kind", kind),
                ("on", "2026-11-24"),
                ("meter", "43,2"),
                ("note", "hit a <branch>"),
            ],
        )
    };
    assert!(event("").text.contains("choose what happened"));
    // Coming back into use is a workshop's to say; the page does not offer it.
    assert!(!server.get(&path(&server, Purpose::Reading), "").text.contains("return-to-use"));
    let answer = event("propeller-strike");
    assert_eq!(answer.status, 200, "{answer:?}");
    assert!(answer.text.contains("propeller strike on Tue"), "{}", answer.text);
    assert!(answer.text.contains("status overdue"), "{}", answer.text);
    let told = told(&server);
    let kept = told.iter().find(|it| matches!(it.fact.entry.content, Content::Event(_)));
    let kept = kept.expect("the event");
    // The note travels beside the fact, where it can be erased.
    assert_eq!(kept.texts.private.get("/note").map(String::as_str), Some("hit a <branch>"));
    assert_eq!(kept.by, Some(PartyId(uid(OWNER))));
}

#[test]
fn a_mistake_is_taken_back_by_whoever_made_it() {
    let server = started();
    assert_eq!(read(&server, ID, "43.2", "2026-11-24").status, 200);
    let back = |root: &str| {
        let what = [("what", "withdrawal"), ("id", OTHER_ID), ("engine", ENGINE), ("root", root)];
        send(&server, &what)
    };
    let answer = back(ID);
    assert_eq!(answer.status, 200, "{answer:?}");
    assert!(answer.text.contains("Taken back"), "{}", answer.text);
    let engine = server.get(&format!("/v1/engines/{ENGINE}"), &server.shop_a).json();
    assert_eq!(engine["engine"]["hours"]["meter"], "0.0");
    // What the workshop told is not the owner's to take back.
    let reading = "0193a000-0000-7000-8000-000000000301";
    let put = format!("/v1/engines/{ENGINE}/readings/{reading}");
    let body = json!({ "on": "2026-11-20", "meter": 50 }).to_string();
    assert_eq!(server.send("PUT", &put, &server.shop_a, &body).status, 201);
    let before = told(&server).len();
    assert_eq!(back(reading).status, 404);
    assert_eq!(told(&server).len(), before);
}

#[test]
fn a_link_reaches_the_engines_of_its_owner_alone() {
    let server = started();
    // An engine that is nobody's, and one that was sold today.
    let other = "0193a000-0000-7000-8000-0000000000e2";
    let registered = json!({ "on": "2026-01-01", "engine_type": "oarlock-twin", "serial": "8", "basis": "engine-run", "tsn": 0 });
    let put = format!("/v1/engines/{other}");
    assert_eq!(server.send("PUT", &put, &server.shop_a, &registered.to_string()).status, 201);
    let foreign = send(
        &server,
        &[("what", "reading"), ("id", ID), ("engine", other), ("meter", "1"), ("on", "2026-11-24")],
    );
    assert_eq!(foreign.status, 404, "{foreign:?}");
    let of_other = Link {
        engine: Some(EngineId(uid(other))),
        ..link(&server, Purpose::Reading, "2026-11-25")
    };
    let page = server.get(&format!("/reading/{}", links().seal(&of_other)), "");
    assert!(!page.text.contains("serial 8") && !page.text.contains(other), "{}", page.text);
    let sold = json!({ "on": "2026-11-25", "owner": "0193a000-0000-7000-8000-000000000002" });
    let put = format!("/v1/aircraft/{AIRCRAFT}/ownerships/0193a000-0000-7000-8000-000000000402");
    assert_eq!(server.send("PUT", &put, &server.shop_a, &sold.to_string()).status, 201);
    assert_eq!(read(&server, ID, "43.2", "2026-11-24").status, 404);
    assert_eq!(told(&server).len(), 0);
}

#[test]
fn an_owner_of_many_meters_gets_a_page_for_each() {
    let server = started();
    for number in 1..=12 {
        let engine = format!("0193a000-0000-7000-8000-0000000e{number:04}");
        let registered = json!({ "on": "2026-01-01", "engine_type": "oarlock-twin", "serial": format!("S{number}"), "basis": "engine-run", "tsn": 0 });
        let owned = json!({ "on": "2026-01-01", "owner": OWNER });
        let ownership = format!("ownerships/0193a000-0000-7000-8000-0000000f{number:04}");
        for (path, body) in [(engine.clone(), registered), (format!("{engine}/{ownership}"), owned)]
        {
            let put = format!("/v1/engines/{path}");
            let answer = server.send("PUT", &put, &server.shop_a, &body.to_string());
            assert_eq!(answer.status, 201, "{answer:?}");
        }
    }
    let page = server.get(&path(&server, Purpose::Reading), "").text;
    let links: Vec<&str> = page.split("href=\"/reading/").skip(1).collect();
    assert_eq!(links.len(), 13, "{page}");
    assert!(!page.contains("<form"), "{page}");
    let of_demo = links.iter().find(|it| it.contains("DEMO-1")).expect("its link");
    let sealed = of_demo.split('"').next().expect("its address");
    let one = server.get(&format!("/reading/{sealed}"), "").text;
    assert!(one.contains("DEMO-1") && one.contains("inputmode=\"decimal\""), "{one}");
    assert!(!one.contains("engine S1"), "{one}");
    // In no aircraft there is no meter to read; what happened can be told all the same.
    let stored = links.iter().find(|it| it.contains("engine S1,")).expect("its link");
    let sealed = stored.split('"').next().expect("its address");
    let one = server.get(&format!("/reading/{sealed}"), "").text;
    assert!(one.contains("no hour meter to read") && one.contains("propeller-strike"), "{one}");
}
