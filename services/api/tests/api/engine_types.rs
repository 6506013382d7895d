//! Versions of an engine type: added by the operator, counted by from the day of an activation on.

use crate::server::{Answer, ENGINE_TYPE, Server};
use serde_json::{Value, json};
use std::time::Duration;

const ENGINE: &str = "/v1/engines/0193a000-0000-7000-8000-0000000000e1";

/// An invented type with one item every so many hours.
fn file(hours: u32) -> String {
    format!(
        r#"name = "finch-24"
title = "Finch 24"
invented = true
entered-up-to = 2026-11-01
basis = "engine-run"

[[positions]]
id = "pto"
title = "power take-off end"

[[items]]
id = "inspection"
title = "Inspection"
class = "recommended"
source = "invented"
every = {{ hours = {hours} }}
counts-from = "new"
next = "from-done"
done-by = ["inspected"]
"#
    )
}

fn add(server: &Server, name: &str, text: &str) -> Answer {
    let toml = [("content-type", "application/toml")];
    let path = format!("/v1/engine-types/{name}");
    server.raw("PUT", &path, &toml, &server.operator, text.as_bytes())
}

fn activate(server: &Server, number: u32, on: &str, digest: &Value) -> Answer {
    let path =
        format!("/v1/engine-types/finch-24/activations/0193a000-0000-7000-8000-{number:012}");
    server.send("PUT", &path, &server.operator, &json!({"on": on, "digest": digest}).to_string())
}

fn due(server: &Server) -> Value {
    server.get(&format!("{ENGINE}/due"), &server.inspector).json()
}

/// Asks again until the engine is counted by a version; the work is done in the background.
fn counted_by(server: &Server, digest: &Value) -> Value {
    for _ in 0..1500 {
        let due = due(server);
        if due["programme"]["counted_by"] == *digest {
            return due;
        }
        std::thread::sleep(Duration::from_millis(20));
    }
    panic!("still {}", due(server)["programme"]);
}

#[test]
fn a_version_is_added_once_under_its_own_name() {
    let server = Server::start();
    let added = add(&server, "oarlock-twin", ENGINE_TYPE);
    assert_eq!(added.status, 201);
    assert_eq!(added.json()["active_from"], Value::Null, "adding does not activate");
    assert_eq!(add(&server, "oarlock-twin", ENGINE_TYPE).status, 200);
    assert_eq!(add(&server, "another", ENGINE_TYPE).errors()[0].1, "other-name");
    let bad = add(&server, "oarlock-twin", "name = 5");
    assert_eq!(bad.status, 422, "{bad:?}");
    assert_eq!(bad.errors()[0].1, "bad-engine-type");
    let digest = added.json()["digest"].as_str().expect("a digest").to_owned();
    let path = format!("/v1/engine-types/oarlock-twin/versions/{digest}");
    assert_eq!(server.get(&path, &server.shop_a).text, ENGINE_TYPE);
    assert_eq!(server.get("/v1/engine-types/oarlock-twin", &server.shop_a).status, 404);
}

// By hand: every 100 h from new falls due at 100.0 h, every 50 h at 50.0 h.
#[test]
fn engines_follow_the_version_last_activated_and_say_which() {
    let server = Server::start();
    let digest = |hours| add(&server, "finch-24", &file(hours)).json()["digest"].clone();
    let (hundred, fifty) = (digest(100), digest(50));
    assert_eq!(activate(&server, 1, "2026-01-01", &hundred).status, 201);
    let engine = json!({
        "on": "2026-01-10", "engine_type": "finch-24", "serial": "7", "basis": "engine-run",
        "tsn": "20.0",
    });
    assert_eq!(server.send("PUT", ENGINE, &server.shop_a, &engine.to_string()).status, 201);
    let first = due(&server);
    assert_eq!(first["lines"][0]["legs"][0]["due"], "100.0", "{first:#}");
    assert_eq!(first["programme"]["replaces"], Value::Null);

    assert_eq!(activate(&server, 2, "2026-11-20", &fifty).status, 201);
    let second = counted_by(&server, &fifty);
    assert_eq!(second["lines"][0]["legs"][0]["due"], "50.0", "{second:#}");
    assert_eq!(second["programme"]["replaces"], hundred);
    assert_eq!(second["programme"]["active_from"], "2026-11-20");
    let page = server.page(&ENGINE.replacen("/v1", "", 1));
    assert!(page.contains("changed on"), "{page}");

    // The same fact again changes nothing, an earlier day does not take over, and going back is one fact more.
    assert_eq!(activate(&server, 2, "2026-11-20", &fifty).status, 200);
    assert_eq!(activate(&server, 3, "2026-06-01", &hundred).status, 201);
    assert_eq!(due(&server)["programme"]["active"], fifty);
    assert_eq!(activate(&server, 4, "2026-11-21", &hundred).status, 201);
    let back = counted_by(&server, &hundred);
    assert_eq!(back["lines"][0]["legs"][0]["due"], "100.0");
}

// By the published case K14 the shelf life of 5 years of a part of 2Q21 ends on 2026-06-30, counted from the last
// day of the quarter: on 2026-11-25 it is past.
#[test]
fn a_part_past_its_shelf_life_says_so_on_the_shelf_and_when_it_is_fitted() {
    let server = Server::start();
    let seals = r#"
[[items]]
id = "seals"
title = "Seals"
component = "seal"
class = "recommended"
source = "invented"
next = "from-done"
done-by = ["renewed"]

[[items.limits]]
name = "shelf"
shelf = true
counts-from = "made"
code-day = "last"
every = { months = 60 }
calendar = "day"
"#;
    server.activate("finch-24", &(file(100) + seals));
    let part = "/v1/components/0193a000-0000-7000-8000-0000000000c1";
    let put = |path: &str, body: Value| server.send("PUT", path, &server.shop_a, &body.to_string());
    let engine = json!({
        "on": "2026-01-10", "engine_type": "finch-24", "serial": "7", "basis": "engine-run",
        "tsn": "20.0",
    });
    assert_eq!(put(ENGINE, engine).status, 201);
    let seal = json!({
        "on": "2026-10-01", "kind": "seal", "hours": 0,
        "code": { "scheme": "quarter", "text": "2Q21" },
    });
    assert_eq!(put(part, seal).status, 201);
    let shelf = server.get(part, &server.shop_a).json()["shelf"].clone();
    assert_eq!((&shelf[0]["fit_until"], &shelf[0]["past"]), (&json!("2026-06-30"), &json!(true)));
    let fitting = format!("{part}/fittings/0193a000-0000-7000-8000-000000000009");
    let fitted = put(&fitting, json!({ "on": "2026-11-01", "engine": &ENGINE[12..] })).json();
    let codes: Vec<&str> = fitted["warnings"]
        .as_array()
        .into_iter()
        .flatten()
        .filter_map(|it| it["code"].as_str())
        .collect();
    assert!(codes.contains(&"fitted-past-shelf-life"), "{fitted:#}");
    assert_eq!(server.get(part, &server.shop_a).json()["shelf"], json!([]));
}

#[test]
fn only_a_version_that_is_here_can_be_activated() {
    let server = Server::start();
    let unknown = activate(&server, 1, "2026-01-01", &json!("00".repeat(32)));
    assert_eq!(unknown.errors(), [("/digest".to_owned(), "unknown-version".to_owned())]);
    let short = activate(&server, 1, "2026-01-01", &json!("1234"));
    assert_eq!(short.errors(), [("/digest".to_owned(), "digest".to_owned())]);
}
