//! Who may do what: every route against every role, and shops against engines that are not theirs.

use crate::server::{SHOP_A, Server, key};
use gudgeon_store::Role;
use serde_json::json;

/// What each role gets from a route for something that does not exist, with an empty object as the body:
/// 401 and 403 come before anything is looked at; 404, 415 and 422 mean that the role was let in.
struct Row {
    route: &'static str,
    nobody: u16,
    shop: u16,
    owner: u16,
    inspector: u16,
    operator: u16,
}

const fn row(
    route: &'static str,
    nobody: u16,
    shop: u16,
    owner: u16,
    inspector: u16,
    operator: u16,
) -> Row {
    Row { route, nobody, shop, owner, inspector, operator }
}

const ROWS: &[Row] = &[
    row("GET /livez", 200, 200, 200, 200, 200),
    row("GET /readyz", 200, 200, 200, 200, 200),
    row("GET /version", 200, 200, 200, 200, 200),
    row("GET /problems/{slug}", 404, 404, 404, 404, 404),
    row("PUT /v1/shops/{id}", 401, 403, 403, 403, 422),
    row("GET /v1/shops/{id}", 401, 404, 403, 404, 404),
    row("PUT /v1/shops/{id}/amendments/{fact}", 401, 403, 403, 403, 422),
    row("PUT /v1/shops/{id}/erasures/{fact}", 401, 403, 403, 403, 422),
    row("POST /v1/shops/{id}/keys", 401, 403, 403, 403, 422),
    row("PUT /v1/owners/{id}", 401, 422, 403, 403, 422),
    row("GET /v1/owners/{id}", 401, 404, 403, 404, 404),
    row("PUT /v1/owners/{id}/amendments/{fact}", 401, 422, 403, 403, 422),
    row("PUT /v1/owners/{id}/erasures/{fact}", 401, 403, 403, 403, 422),
    row("POST /v1/owners/{id}/keys", 401, 403, 403, 403, 422),
    row("GET /v1/owners/{id}/export", 401, 403, 403, 403, 404),
    row("GET /v1/weeks/{week}", 401, 403, 403, 200, 200),
    row("PUT /v1/inspectors/{id}", 401, 403, 403, 403, 422),
    row("GET /v1/inspectors/{id}", 401, 403, 403, 403, 404),
    row("PUT /v1/inspectors/{id}/amendments/{fact}", 401, 403, 403, 403, 422),
    row("PUT /v1/inspectors/{id}/erasures/{fact}", 401, 403, 403, 403, 422),
    row("PUT /v1/aircraft/{id}", 401, 422, 403, 403, 422),
    row("GET /v1/aircraft/{id}", 401, 404, 403, 404, 404),
    row("PUT /v1/aircraft/{id}/amendments/{fact}", 401, 422, 403, 403, 422),
    row("PUT /v1/aircraft/{id}/ownerships/{fact}", 401, 422, 403, 403, 422),
    row("PUT /v1/aircraft/{id}/ownerships/{root}/amendments/{fact}", 401, 422, 403, 403, 422),
    row("PUT /v1/aircraft/{id}/meter-changes/{fact}", 401, 422, 403, 403, 422),
    row("PUT /v1/aircraft/{id}/meter-changes/{root}/amendments/{fact}", 401, 422, 403, 403, 422),
    row("PUT /v1/aircraft/{id}/descriptions/{fact}", 401, 422, 403, 403, 422),
    row("PUT /v1/aircraft/{id}/descriptions/{root}/amendments/{fact}", 401, 422, 403, 403, 422),
    row("PUT /v1/aircraft/{id}/readings/{fact}", 401, 422, 403, 403, 422),
    row("POST /v1/aircraft/{id}/readings/{root}/amendments", 401, 422, 403, 403, 422),
    row("PUT /v1/aircraft/{id}/readings/{root}/amendments/{fact}", 401, 422, 403, 403, 422),
    row("GET /v1/engines", 401, 200, 200, 200, 200),
    row("PUT /v1/engines/{id}", 401, 422, 403, 403, 422),
    row("GET /v1/engines/{id}", 401, 404, 404, 404, 404),
    row("PUT /v1/engines/{id}/amendments/{fact}", 401, 422, 403, 403, 422),
    row("PUT /v1/engines/{id}/ownerships/{fact}", 401, 422, 403, 403, 422),
    row("PUT /v1/engines/{id}/ownerships/{root}/amendments/{fact}", 401, 422, 403, 403, 422),
    row("PUT /v1/engines/{id}/custody/{fact}", 401, 403, 422, 422, 422),
    row("PUT /v1/engines/{id}/custody/{root}/amendments/{fact}", 401, 403, 422, 422, 422),
    row("PUT /v1/engines/{id}/installations/{fact}", 401, 422, 403, 403, 422),
    row("PUT /v1/engines/{id}/installations/{root}/amendments/{fact}", 401, 422, 403, 403, 422),
    row("PUT /v1/engines/{id}/removals/{fact}", 401, 422, 403, 403, 422),
    row("PUT /v1/engines/{id}/removals/{root}/amendments/{fact}", 401, 422, 403, 403, 422),
    row("PUT /v1/engines/{id}/readings/{fact}", 401, 422, 403, 403, 422),
    row("POST /v1/engines/{id}/readings/{root}/amendments", 401, 422, 403, 403, 422),
    row("PUT /v1/engines/{id}/readings/{root}/amendments/{fact}", 401, 422, 403, 403, 422),
    row("PUT /v1/engines/{id}/events/{fact}", 401, 422, 403, 403, 422),
    row("PUT /v1/engines/{id}/events/{root}/amendments/{fact}", 401, 422, 403, 403, 422),
    row("PUT /v1/engines/{id}/preservations/{fact}", 401, 422, 403, 403, 422),
    row("PUT /v1/engines/{id}/preservations/{root}/amendments/{fact}", 401, 422, 403, 403, 422),
    row("PUT /v1/engines/{id}/concessions/{fact}", 401, 403, 403, 422, 422),
    row("PUT /v1/engines/{id}/concessions/{root}/amendments/{fact}", 401, 403, 403, 422, 422),
    row("GET /v1/engines/{id}/hours-estimate", 401, 404, 403, 404, 404),
    row("PUT /v1/engines/{id}/hours-estimate/{fact}", 401, 403, 403, 422, 422),
    row("PUT /v1/engines/{id}/hours-estimate/{root}/amendments/{fact}", 401, 403, 403, 422, 422),
    row("PUT /v1/engines/{id}/maker-restarts/{fact}", 401, 403, 403, 403, 422),
    row("PUT /v1/engines/{id}/maker-restarts/{root}/amendments/{fact}", 401, 403, 403, 403, 422),
    row("PUT /v1/engines/{id}/descriptions/{fact}", 401, 422, 403, 403, 422),
    row("PUT /v1/engines/{id}/descriptions/{root}/amendments/{fact}", 401, 422, 403, 403, 422),
    row("GET /v1/engines/{id}/due", 401, 404, 404, 404, 404),
    row("GET /v1/engines/{id}/history", 401, 404, 404, 404, 404),
    row("GET /v1/engines/{id}/visits", 401, 404, 404, 404, 404),
    row("GET /v1/engines/{id}/components", 401, 404, 404, 404, 404),
    row("GET /v1/components", 401, 200, 403, 200, 200),
    row("PUT /v1/components/{id}", 401, 422, 403, 403, 422),
    row("GET /v1/components/{id}", 401, 404, 403, 404, 404),
    row("PUT /v1/components/{id}/amendments/{fact}", 401, 422, 403, 403, 422),
    row("PUT /v1/components/{id}/fittings/{fact}", 401, 422, 403, 403, 422),
    row("PUT /v1/components/{id}/fittings/{root}/amendments/{fact}", 401, 422, 403, 403, 422),
    row("PUT /v1/components/{id}/removals/{fact}", 401, 422, 403, 403, 422),
    row("PUT /v1/components/{id}/removals/{root}/amendments/{fact}", 401, 422, 403, 403, 422),
    row("PUT /v1/components/{id}/events/{fact}", 401, 422, 403, 403, 422),
    row("PUT /v1/components/{id}/events/{root}/amendments/{fact}", 401, 422, 403, 403, 422),
    row("PUT /v1/components/{id}/overhauls/{fact}", 401, 422, 403, 403, 422),
    row("PUT /v1/components/{id}/overhauls/{root}/amendments/{fact}", 401, 422, 403, 403, 422),
    row("PUT /v1/inspections/{id}", 401, 422, 403, 403, 422),
    row("GET /v1/inspections/{id}", 401, 404, 403, 404, 404),
    row("POST /v1/inspections/{id}/amendments", 401, 422, 403, 403, 422),
    row("PUT /v1/inspections/{id}/amendments/{fact}", 401, 422, 403, 403, 422),
    row("PUT /v1/files/{sha256}", 401, 415, 403, 403, 415),
    row("GET /v1/files/{sha256}", 401, 404, 403, 404, 404),
    row("GET /v1/fleet/due", 401, 200, 403, 200, 200),
    row("GET /v1/fleet/life", 401, 403, 403, 400, 400),
    row("GET /v1/fleet/shops", 401, 403, 403, 400, 400),
    row("GET /v1/engine-types", 401, 200, 403, 200, 200),
    row("PUT /v1/engine-types/{name}", 401, 403, 403, 403, 415),
    row("GET /v1/engine-types/{name}", 401, 404, 403, 404, 404),
    row("PUT /v1/engine-types/{name}/activations/{fact}", 401, 403, 403, 403, 422),
    row("GET /v1/engine-types/{name}/versions/{digest}", 401, 404, 403, 404, 404),
    row("GET /v1/engine-types/{name}/sheets", 401, 404, 403, 404, 404),
    row("GET /v1/engine-types/{name}/sheets/{sheet}", 401, 404, 403, 404, 404),
];

#[test]
fn every_route_for_every_role() {
    let server = Server::start();
    let mut routes = Vec::new();
    for endpoint in gudgeon_api::endpoints() {
        for (method, _) in &endpoint.methods {
            routes.push(format!("{method} {}", endpoint.path));
        }
    }
    let expected: Vec<&str> = ROWS.iter().map(|row| row.route).collect();
    let owner = key(&server.store, Role::Owner, Some(OWNER));
    assert_eq!(routes, expected, "every route needs its row, in the order of the routes");
    for row in ROWS {
        let (method, template) = row.route.split_once(' ').expect("a method and a path");
        let path = filled(template);
        for (key, status) in [
            ("", row.nobody),
            ("gudgeon_AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA", row.nobody),
            ("gudgeon_short", row.nobody),
            (&server.shop_a, row.shop),
            (&owner, row.owner),
            (&server.inspector, row.inspector),
            (&server.operator, row.operator),
        ] {
            let body = if method == "GET" { "" } else { "{}" };
            let answer = server.send(method, &path, key, body);
            assert_eq!(answer.status, status, "{} with `{key}`: {answer:?}", row.route);
            if status == 401 || status == 403 {
                assert!(answer.header("www-authenticate").is_some(), "{answer:?}");
                answer.errors();
            }
        }
    }
}

/// The pages about one thing, with the same answers: to the door without a cookie, even with a key; past it, a
/// thing that does not exist is not found by any role.
#[test]
fn pages_about_one_thing_for_every_role() {
    let server = Server::start();
    for template in ["/engines/{id}", "/inspections/{id}", "/engine-types/{name}/sheets/{sheet}"] {
        let path = filled(template);
        for key in ["", "gudgeon_short", &server.shop_a, &server.inspector, &server.operator] {
            let answer = server.get(&path, key);
            assert_eq!(
                (answer.status, answer.header("location")),
                (303, Some("/sign-in")),
                "{path}"
            );
        }
        for key in [&server.shop_a, &server.inspector, &server.operator] {
            assert_eq!(server.page_as(&path, key).status, 404, "{path} with `{key}`");
        }
    }
}

/// A path with ids that nothing has.
fn filled(template: &str) -> String {
    let mut path = template.to_owned();
    for name in ["{id}", "{fact}", "{root}"] {
        path = path.replace(name, "0193a000-0000-7000-8000-0000000000ff");
    }
    for name in ["{slug}", "{name}", "{digest}", "{sheet}"] {
        path = path.replace(name, "none");
    }
    let path = path.replace("{week}", "2026-W48");
    path.replace("{sha256}", &"0".repeat(64))
}

pub(crate) const ENGINE: &str = "0193a000-0000-7000-8000-0000000000e1";
pub(crate) const AIRCRAFT: &str = "0193a000-0000-7000-8000-0000000000a1";
pub(crate) const OWNER: &str = "0193a000-0000-7000-8000-000000000001";

/// An engine of workshop A, in an aircraft that it registered.
pub(crate) fn shop_a_has_an_engine(server: &Server) {
    let put = |path: &str, body: serde_json::Value| {
        let answer = server.send("PUT", path, &server.shop_a, &body.to_string());
        assert_eq!(answer.status, 201, "{path}: {answer:?}");
    };
    put(&format!("/v1/owners/{OWNER}"), json!({ "name": "An Owner", "email": "o@example.org" }));
    put(
        &format!("/v1/aircraft/{AIRCRAFT}"),
        json!({ "on": "2026-01-01", "mark": "DEMO-1", "basis": "engine-run" }),
    );
    put(
        &format!("/v1/aircraft/{AIRCRAFT}/ownerships/0193a000-0000-7000-8000-000000000101"),
        json!({ "on": "2026-01-01", "owner": OWNER }),
    );
    put(
        &format!("/v1/engines/{ENGINE}"),
        json!({ "on": "2026-01-01", "engine_type": "oarlock-twin", "serial": "7", "basis": "engine-run", "tsn": 0 }),
    );
    put(
        &format!("/v1/engines/{ENGINE}/installations/0193a000-0000-7000-8000-000000000102"),
        json!({ "on": "2026-01-01", "aircraft": AIRCRAFT, "meter": 0 }),
    );
    put(
        "/v1/inspections/0193a000-0000-7000-8000-000000000103",
        json!({ "engine": ENGINE, "opened_on": "2026-03-01", "released_on": "2026-03-02" }),
    );
}

#[test]
fn a_foreign_engine_is_not_found_until_it_is_given_into_custody() {
    let server = Server::start();
    shop_a_has_an_engine(&server);
    let reads = [
        format!("/v1/engines/{ENGINE}"),
        format!("/v1/engines/{ENGINE}/due"),
        format!("/v1/engines/{ENGINE}/visits"),
        format!("/v1/engines/{ENGINE}/history"),
        format!("/v1/engines/{ENGINE}/components"),
        format!("/v1/aircraft/{AIRCRAFT}"),
        format!("/v1/owners/{OWNER}"),
        "/v1/inspections/0193a000-0000-7000-8000-000000000103".to_owned(),
    ];
    let reading = "0193a000-0000-7000-8000-000000000104";
    let writes = [
        format!("/v1/engines/{ENGINE}/readings/{reading}"),
        format!("/v1/aircraft/{AIRCRAFT}/readings/{reading}"),
    ];
    let body = json!({ "on": "2026-03-05", "meter": 10 }).to_string();
    for path in &reads {
        assert_eq!(server.get(path, &server.shop_a).status, 200, "{path}");
        assert_eq!(server.get(path, &server.inspector).status, 200, "{path}");
        let foreign = server.get(path, &server.shop_b);
        assert_eq!(foreign.status, 404, "{path}");
        assert!(!foreign.text.contains("DEMO"), "{foreign:?}");
    }
    for path in &writes {
        assert_eq!(server.send("PUT", path, &server.shop_b, &body).status, 404, "{path}");
    }
    let listed = server.get("/v1/engines", &server.shop_b).json();
    assert_eq!(listed["engines"], json!([]));
    // A workshop cannot make its way in by installing an engine of its own in a foreign aircraft.
    let own = "/v1/engines/0193a000-0000-7000-8000-0000000000e2/installations/0193a000-0000-7000-8000-000000000105";
    let into = json!({ "on": "2026-03-05", "aircraft": AIRCRAFT, "meter": 10 }).to_string();
    assert_eq!(server.send("PUT", own, &server.shop_b, &into).status, 404);

    let custody = format!("/v1/engines/{ENGINE}/custody/0193a000-0000-7000-8000-000000000106");
    let to_b = json!({ "on": "2026-03-06", "shop": crate::server::SHOP_B }).to_string();
    assert_eq!(server.send("PUT", &custody, &server.operator, &to_b).status, 201);
    for path in &reads {
        assert_eq!(server.get(path, &server.shop_b).status, 200, "{path}");
    }
    assert_eq!(server.send("PUT", &writes[0], &server.shop_b, &body).status, 201);
    // It still may not correct what the other workshop posted.
    let amend = "/v1/inspections/0193a000-0000-7000-8000-000000000103/amendments/0193a000-0000-7000-8000-000000000107";
    let withdraw = json!({
        "engine": ENGINE, "supersedes": "0193a000-0000-7000-8000-000000000103",
        "reason": "not mine", "withdrawn": true,
    })
    .to_string();
    assert_eq!(server.send("PUT", amend, &server.shop_b, &withdraw).status, 403);
    assert_eq!(server.send("PUT", amend, &server.shop_a, &withdraw).status, 201);
}

#[test]
fn an_id_taken_by_a_foreign_record_tells_nothing_of_it() {
    let server = Server::start();
    shop_a_has_an_engine(&server);
    let path = "/v1/inspections/0193a000-0000-7000-8000-000000000103";
    let body = json!({
        "engine": "0193a000-0000-7000-8000-0000000000e9",
        "opened_on": "2026-03-01", "released_on": "2026-03-02",
    });
    let answer = server.send("PUT", path, &server.shop_b, &body.to_string());
    assert_eq!((answer.status, answer.errors().len()), (409, 0));
    assert!(!answer.text.contains(ENGINE), "{answer:?}");
}

#[test]
fn keys_of_a_shop_are_shown_once_and_end_when_revoked() {
    let server = Server::start();
    let shop = format!("/v1/shops/{SHOP_A}");
    let keys = format!("{shop}/keys");
    let label = json!({ "label": "bench tablet" }).to_string();
    assert_eq!(server.send("POST", &keys, &server.operator, &label).status, 404);
    let name = json!({ "name": "First Workshop" }).to_string();
    assert_eq!(server.send("PUT", &shop, &server.operator, &name).status, 201);
    let answer = server.send("POST", &keys, &server.operator, &label);
    assert_eq!(answer.status, 201, "{answer:?}");
    let key = answer.json()["key"].as_str().expect("a key").to_owned();
    assert_eq!(server.get("/v1/engines", &key).status, 200);
    let now = gudgeon_store::Instant(0);
    server.store.revoke_key(&gudgeon_api::auth::hash(&key), now).expect("revokes");
    let answer = server.get("/v1/engines", &key);
    assert_eq!(answer.status, 401);
    assert!(answer.header("www-authenticate").is_some_and(|it| it.contains("invalid_token")));
}
