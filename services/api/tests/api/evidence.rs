//! What the engines of a type tell together: the life of their parts, and how workshops agree.

use crate::server::{ENGINE_TYPE, SHOP_A, SHOP_B, Server};
use serde_json::{Value, json};

fn id(kind: u32, number: u32) -> String {
    format!("0193a000-0000-7000-8{kind:03}-{number:012}")
}

fn put(server: &Server, path: &str, body: &Value) {
    let answer = server.send("PUT", &format!("/v1/{path}"), &server.operator, &body.to_string());
    assert!(answer.status < 300, "{path}: {answer:?}");
}

/// An engine with 100 h on it, in an aircraft whose meter shows as much.
fn engine(server: &Server, number: u32) -> String {
    let (engine, aircraft) = (id(1, number), id(2, number));
    put(
        server,
        &format!("aircraft/{aircraft}"),
        &json!({ "on": "2025-01-01", "mark": format!("DEMO-{number}"), "basis": "engine-run" }),
    );
    let registered = json!({
        "on": "2025-01-01", "engine_type": "oarlock-twin", "serial": format!("E{number}"),
        "basis": "engine-run", "tsn": "100.0",
    });
    put(server, &format!("engines/{engine}"), &registered);
    let into = json!({ "on": "2025-01-01", "aircraft": aircraft, "meter": "100.0" });
    put(server, &format!("engines/{engine}/installations/{}", id(3, number)), &into);
    engine
}

/// The bore of an engine as a workshop measured it, at so many hours.
fn measured(
    server: &Server,
    engine: &str,
    number: u32,
    shop: &str,
    on: &str,
    hours: u32,
    bore: &str,
) {
    let body = json!({
        "engine": engine, "shop": shop, "work_order": format!("W-{number}"), "opened_on": on, "released_on": on,
        "readings": [{ "meter": format!("{hours}.0") }],
        "measurements": [{ "quantity": "bore", "position": "mag", "unit": "mm", "value": bore }],
        "release": { "by": "A Mechanic" },
    });
    put(server, &format!("inspections/{}", id(4, number)), &body);
}

// Eight engines whose bores wear by about 0.0001 mm an hour, each measured at both workshops in either order; the second
// workshop's gauge shows 0.04 mm more. The scatter is 0.001 to 0.002 mm, so that 0.04 mm cannot be missed.
#[test]
fn a_gauge_that_reads_high_is_told_of() {
    let server = Server::start();
    server.activate("oarlock-twin", ENGINE_TYPE);
    let scatter = [1, -2, 0, 2, -1, 1, -1, 0];
    for (number, scatter) in (1..).zip(scatter) {
        let engine = engine(&server, number);
        let shops = if number % 2 == 0 { [SHOP_A, SHOP_B] } else { [SHOP_B, SHOP_A] };
        for (visit, shop) in (0_i32..).zip([shops[0], shops[1], shops[0]]) {
            let hours = 200 + 100 * visit;
            let high = if shop == SHOP_B { 40 } else { 0 };
            let thousandths = 67_520 + 10 * visit + high + scatter * (1 - visit);
            let bore = format!("{}.{:03}", thousandths / 1000, thousandths % 1000);
            let record = 10 * number + u32::try_from(visit).expect("a visit");
            let on = format!("2025-0{}-01", 3 + 2 * visit);
            measured(&server, &engine, record, shop, &on, hours.unsigned_abs(), &bore);
        }
    }
    let told = server.get("/v1/fleet/shops?engine_type=oarlock-twin", &server.inspector).json();
    assert_eq!(told["engines"], 8);
    let bore = told["quantities"]
        .as_array()
        .and_then(|all| all.iter().find(|it| it["quantity"] == "bore"));
    let bore = bore.unwrap_or_else(|| panic!("{told}"));
    assert_eq!((&bore["readings"], &bore["comparisons"]), (&json!(24), &json!(1)));
    let shop = |id: &str| {
        let shops = bore["shops"].as_array().cloned().unwrap_or_default();
        shops.into_iter().find(|it| it["shop"] == id).unwrap_or_else(|| panic!("{bore}"))
    };
    let (low, high) = (shop(SHOP_A), shop(SHOP_B));
    assert_eq!((&low["status"], &high["status"]), (&json!("reads-low"), &json!("reads-high")));
    assert_eq!(high["shared"], 8);
    let offset = high["offset"].as_f64().expect("a number");
    assert!((offset - 0.04).abs() < 0.003, "{high}");
    let page = server.page("/shops?engine_type=oarlock-twin");
    assert!(page.contains("higher than the other shop"), "{page}");
}

// Belts of three engines: one failed at 40 h, one found bad at 80 h, one still good at 50 h. Fewer than four failures
// tell no shape, so there is a bound under an assumed one: what ran is 40 + 0 + 50 h, for what was found bad was never
// looked at before; chi-square at 95 % with 2 x 2 + 2 = 6 is 12.592, so 2 x 90 / 12.592 x 0.10536 = 1.5 h.
#[test]
fn belts_tell_how_long_they_last() {
    let server = Server::start();
    server.activate("oarlock-twin", ENGINE_TYPE);
    let ends = [(40, Some("failure")), (80, Some("condition")), (50, None)];
    for (number, (hours, cause)) in (1..).zip(ends) {
        let (engine, belt) = (engine(&server, number), id(5, number));
        put(
            &server,
            &format!("components/{belt}"),
            &json!({ "on": "2025-01-01", "kind": "fan-belt", "hours": "0.0", "lot": "L1" }),
        );
        let fitted =
            json!({ "on": "2025-01-01", "engine": engine, "position": "fan", "order_in_day": 2 });
        put(&server, &format!("components/{belt}/fittings/{}", id(6, number)), &fitted);
        let reading = json!({ "on": "2025-06-01", "meter": format!("{}.0", 100 + hours) });
        put(&server, &format!("engines/{engine}/readings/{}", id(7, number)), &reading);
        if let Some(cause) = cause {
            let off = json!({ "on": "2025-06-01", "cause": cause });
            put(&server, &format!("components/{belt}/removals/{}", id(8, number)), &off);
        }
    }
    let told = server
        .get("/v1/fleet/life?engine_type=oarlock-twin&kind=fan-belt", &server.inspector)
        .json();
    let belts = &told["kinds"][0];
    assert_eq!(belts["kind"], "fan-belt", "{told}");
    let counts = ["parts", "failed", "found_bad", "good"].map(|it| belts[it].as_u64());
    assert_eq!(counts, [Some(3), Some(1), Some(1), Some(1)]);
    assert_eq!(belts["status"], "assumed-shape");
    assert_eq!(belts["assumed"]["b10_lower95_hours"], 1.5);
    assert!(
        belts["in_words"].as_str().is_some_and(|it| it.starts_with("fewer than four failures")),
        "{belts}"
    );
    let limits = belts["limits"].as_array().cloned().unwrap_or_default();
    assert!(!limits.is_empty(), "{belts}");
    assert!(
        limits
            .iter()
            .all(|it| it["in_words"].as_str().is_some_and(|it| it.starts_with("cannot say")))
    );
    let page = server.page("/parts/life?engine_type=oarlock-twin");
    assert!(
        page.contains("fewer than four failures") && page.contains("never lengthens"),
        "{page}"
    );
}

#[test]
fn a_type_has_to_be_named() {
    let server = Server::start();
    server.activate("oarlock-twin", ENGINE_TYPE);
    for path in ["life", "shops"] {
        let unnamed = server.get(&format!("/v1/fleet/{path}"), &server.inspector);
        assert_eq!(unnamed.status, 400, "{unnamed:?}");
        let unknown =
            server.get(&format!("/v1/fleet/{path}?engine_type=nothing"), &server.inspector);
        assert_eq!(unknown.status, 404, "{unknown:?}");
    }
    assert!(server.page("/parts/life").contains("No part with a record of its own"));
    assert!(server.page("/shops").contains("Nothing was measured"));
}
