//! When hours will be used up, as the due list of an engine and its page tell it.

use crate::server::{ENGINE_TYPE, Server};
use serde_json::{Value, json};

const ENGINE: &str = "0193a000-0000-7000-8000-0000000000e1";
const AIRCRAFT: &str = "0193a000-0000-7000-8000-0000000000a1";

/// An engine read about every month, with its 100 h inspection done at the last reading.
fn read_monthly() -> Server {
    let server = Server::start();
    server.activate("oarlock-twin", ENGINE_TYPE);
    put(&server, &format!("aircraft/{AIRCRAFT}"), &json!({ "on": "2026-01-10", "mark": "DEMO-1", "basis": "engine-run" }));
    put(&server, &format!("engines/{ENGINE}"), &json!({
        "on": "2026-01-10", "engine_type": "oarlock-twin", "serial": "7", "basis": "engine-run", "tsn": "1000.0",
    }));
    let into = json!({ "on": "2026-01-10", "aircraft": AIRCRAFT, "meter": "1000.0" });
    put(&server, &format!("engines/{ENGINE}/installations/{}", id(1)), &into);
    let readings =
        [("2026-02-10", "1008.0"), ("2026-03-10", "1015.5"), ("2026-04-10", "1024.0"), ("2026-05-10", "1036.0")];
    for (last, (on, meter)) in (2..).zip(readings) {
        let reading = json!({ "on": on, "meter": meter });
        put(&server, &format!("engines/{ENGINE}/readings/{}", id(last)), &reading);
    }
    put(&server, &format!("inspections/{}", id(9)), &json!({
        "engine": ENGINE, "work_order": "W-1", "opened_on": "2026-06-01", "released_on": "2026-06-02",
        "readings": [{ "meter": "1043.2" }],
        "work": [{ "item": "hundred-hour-inspection", "action": "inspected" }],
        "release": { "by": "A Mechanic", "licence": "L-1" },
    }));
    server
}

fn id(last: u32) -> String {
    format!("0193a000-0000-7000-8000-{last:012}")
}

fn put(server: &Server, path: &str, body: &Value) {
    let answer = server.send("PUT", &format!("/v1/{path}"), &server.shop_a, &body.to_string());
    assert_eq!(answer.status, 201, "{answer:?}");
}

fn hundred_hours(server: &Server, as_of: &str) -> Value {
    let list = server.get(&format!("/v1/engines/{ENGINE}/due?as_of={as_of}"), &server.inspector);
    let lines = list.json()["lines"].as_array().cloned().unwrap_or_default();
    lines.into_iter().find(|it| it["item"] == "hundred-hour-inspection").expect("the line")
}
