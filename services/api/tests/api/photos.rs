//! Photographs over HTTP: taken when they are pictures, given to whoever sees an engine that they show.

use crate::access::{ENGINE, OWNER, shop_a_has_an_engine};
use crate::erasures::unchunked;
use crate::server::{Answer, SHOP_B, Server};
use gudgeon_life::version::hex;
use serde_json::{Value, json};
use sha2::{Digest as _, Sha256};

/// A picture by its first bytes (RFC 9649, section 2.3), of ASCII throughout so that the client can read it.
fn webp(of: &str) -> Vec<u8> {
    format!("RIFF....WEBPVP8 {of}").into_bytes()
}

fn sha256(bytes: &[u8]) -> String {
    hex(Sha256::digest(bytes).into())
}

fn address(bytes: &[u8]) -> String {
    format!("/v1/files/{}", sha256(bytes))
}

fn send(server: &Server, key: &str, bytes: &[u8]) -> Answer {
    server.raw("PUT", &address(bytes), &[("content-type", "image/webp")], key, bytes)
}

/// Workshop A's inspection of its engine, with a photograph beside a finding.
fn name(server: &Server, key: &str, id: u32, engine: &str, bytes: &[u8]) -> Answer {
    let body = json!({
        "engine": engine, "opened_on": "2026-05-01", "released_on": "2026-05-02",
        "findings": [{ "item": "piston", "condition": "monitor", "photos": [sha256(bytes)] }],
    });
    let path = format!("/v1/inspections/0193a000-0000-7000-8000-{id:012}");
    let answer = server.send("PUT", &path, key, &body.to_string());
    assert_eq!(answer.status, 201, "{answer:?}");
    answer
}

#[test]
fn a_picture_is_taken_by_its_bytes_and_by_nothing_else() {
    let server = Server::start();
    let picture = webp("one");
    let first = send(&server, &server.shop_a, &picture);
    assert_eq!(first.status, 201, "{first:?}");
    assert_eq!(first.json()["media_type"], "image/webp");
    assert_eq!(first.json()["bytes"], picture.len());
    assert_eq!(first.header("location"), Some(address(&picture).as_str()));
    assert_eq!(send(&server, &server.shop_a, &picture).status, 200);
    for page in [&b"<svg xmlns='http://www.w3.org/2000/svg'/>"[..], b"<html></html>", b""] {
        assert_eq!(send(&server, &server.shop_a, page).status, 415);
    }
    let other = server.raw("PUT", &address(&picture), &[], &server.shop_a, &webp("two"));
    assert_eq!(other.status, 422, "{other:?}");
    let bad = server.raw("PUT", "/v1/files/7", &[], &server.shop_a, &picture);
    assert_eq!(bad.status, 400, "{bad:?}");
    // 5 MiB are 5 242 880 bytes: taken to the last one.
    let mut largest = webp("");
    largest.resize(5_242_880, b'.');
    assert_eq!(send(&server, &server.shop_a, &largest).status, 201);
    largest.push(b'.');
    assert_eq!(send(&server, &server.shop_a, &largest).status, 413);
}

#[test]
fn a_photograph_is_seen_by_its_sender_and_then_by_whoever_holds_the_engine() {
    let server = Server::start();
    shop_a_has_an_engine(&server);
    let picture = webp("a piston");
    let seen = |key: &str| server.get(&address(&picture), key).status;
    let keys = [&server.shop_a, &server.shop_b, &server.inspector, &server.operator];
    let all = || keys.map(|key| seen(key));
    assert_eq!(all(), [404; 4], "nobody has sent it");
    let named = name(&server, &server.shop_a, 501, ENGINE, &picture);
    assert_eq!(named.json()["photos"], json!([{ "sha256": sha256(&picture), "state": "missing" }]));
    assert_eq!(send(&server, &server.shop_a, &picture).status, 201);
    assert_eq!(all(), [200, 404, 200, 200]);
    let read = server.get("/v1/inspections/0193a000-0000-7000-8000-000000000501", &server.shop_a);
    assert_eq!(read.json()["photos"][0]["state"], "here");
    assert_eq!(read.json()["record"]["findings"][0]["photos"][0], sha256(&picture));

    let answer = server.get(&address(&picture), &server.inspector);
    assert_eq!(answer.text.as_bytes(), picture);
    for (header, value) in [
        ("content-type", "image/webp"),
        ("x-content-type-options", "nosniff"),
        ("content-security-policy", "default-src 'none'; sandbox; frame-ancestors 'none'"),
        ("cache-control", "no-store"),
    ] {
        assert_eq!(answer.header(header), Some(value), "{answer:?}");
    }

    // Workshop B holds the engine from March to June: then it sees the photograph, and A no longer does.
    let custody = format!("/v1/engines/{ENGINE}/custody/0193a000-0000-7000-8000-000000000601");
    let body = json!({ "on": "2026-06-01", "shop": SHOP_B });
    let given = server.send("PUT", &custody, &server.operator, &body.to_string());
    assert_eq!(given.status, 201, "{given:?}");
    assert_eq!(seen(&server.shop_b), 200);
}

// What the owner is given holds the photographs of what is theirs: the bytes of those that are here. Base64 of the
// bytes by Python's `base64.b64encode(b"RIFF....WEBPVP8 x")`.
#[test]
fn an_owners_export_holds_the_photographs() {
    let server = Server::start();
    shop_a_has_an_engine(&server);
    let (picture, unsent) = (webp("x"), webp("never sent"));
    assert_eq!(send(&server, &server.shop_a, &picture).status, 201);
    name(&server, &server.shop_a, 503, ENGINE, &picture);
    name(&server, &server.shop_a, 504, ENGINE, &unsent);
    let answer = server.get(&format!("/v1/owners/{OWNER}/export"), &server.operator);
    let body: Value = serde_json::from_str(&unchunked(&answer.text)).expect("JSON");
    let of = |bytes: &[u8]| {
        let photos = body["photos"].as_array().expect("photographs").iter();
        photos.clone().find(|it| it["sha256"] == sha256(bytes)).cloned().expect("named")
    };
    let here = of(&picture);
    assert_eq!((&here["state"], &here["media_type"]), (&json!("here"), &json!("image/webp")));
    assert_eq!(here["base64"], "UklGRi4uLi5XRUJQVlA4IHg=");
    assert_eq!(of(&unsent)["state"], "missing");
    assert_eq!(of(&unsent)["base64"], json!(null));
}

// The digest stands in a record that somebody may have read once: naming it anew gives nobody the photograph.
#[test]
fn nobody_comes_by_a_photograph_by_naming_it() {
    let server = Server::start();
    let theirs = "0193a000-0000-7000-8000-0000000000e2";
    let body = json!({
        "on": "2026-01-01", "engine_type": "oarlock-twin", "serial": "8", "basis": "engine-run", "tsn": 0,
    });
    let path = format!("/v1/engines/{theirs}");
    assert_eq!(server.send("PUT", &path, &server.shop_b, &body.to_string()).status, 201);
    let picture = webp("of A");
    assert_eq!(send(&server, &server.shop_a, &picture).status, 201);
    assert_eq!(server.get(&address(&picture), &server.shop_a).status, 200, "its sender");
    name(&server, &server.shop_b, 502, theirs, &picture);
    assert_eq!(server.get(&address(&picture), &server.shop_b).status, 404);
    // Whoever has it to send may see it.
    assert_eq!(send(&server, &server.shop_b, &picture).status, 200);
    assert_eq!(server.get(&address(&picture), &server.shop_b).status, 200);
}
