//! The report of one inspection as a page: what was found, measured and done, what is due, what to renew.

use crate::access::{AIRCRAFT, ENGINE, shop_a_has_an_engine};
use crate::server::{ENGINE_TYPE, SHOP_B, Server};
use gudgeon_life::version::hex;
use serde_json::{Value, json};
use sha2::{Digest as _, Sha256};

const PICTURE: &[u8] = b"RIFF....WEBPVP8 a piston";

fn id(last: u32) -> String {
    format!("0193a000-0000-7000-8000-{last:012}")
}

fn put(server: &Server, path: &str, body: &Value) {
    let answer = server.send("PUT", path, &server.shop_a, &body.to_string());
    assert_eq!(answer.status, 201, "{path}: {answer:?}");
}

fn server() -> Server {
    let server = Server::start();
    server.activate("oarlock-twin", ENGINE_TYPE);
    shop_a_has_an_engine(&server);
    let path = format!("/v1/files/{}", hex(Sha256::digest(PICTURE).into()));
    let sent = server.raw("PUT", &path, &[("content-type", "image/webp")], &server.shop_a, PICTURE);
    assert_eq!(sent.status, 201, "{sent:?}");
    server
}

/// At 30 hours since new both sets of plugs are overdue: 25 hours and a tenth of them are 27.5.
fn inspection() -> Value {
    let bore = |position: &str, value: &str| json!({ "quantity": "bore", "position": position, "value": value, "unit": "mm" });
    json!({
        "engine": ENGINE, "opened_on": "2026-05-01", "released_on": "2026-05-02",
        "work_order": "WO <7>", "sheet": "hundred-hour",
        "readings": [{ "meter": 30 }],
        "findings": [
            {
                "item": "pistons-and-rings", "position": "pto", "condition": "scrap", "note": "seized & scored",
                "photos": [hex(Sha256::digest(PICTURE).into()), "0".repeat(64)],
            },
            { "item": "spark-plugs", "position": "mag", "condition": "renew" },
            { "item": "pistons-and-rings", "position": "mag", "condition": "renew" },
            {
                "item": "carburettor-socket", "condition": "monitor",
                "recheck": { "hours": 10, "on": "2026-12-24" },
            },
            { "item": "crankcase-seals", "position": "mag", "condition": "repair" },
        ],
        "measurements": [
            bore("mag", "67.620"), bore("pto", "67.63"),
            { "quantity": "bor", "value": "1", "unit": "mm" },
        ],
        "work": [{ "item": "fuel-filter", "action": "renewed", "note": "paper torn" }],
        "marks": [{ "item": "piston", "position": "mag", "text": "II" }],
        "fastenings": [
            { "item": "flywheel", "seen": "left", "torque": { "value": "22.5", "unit": "N·m" } },
            {
                "item": "puller-bolts", "seen": "found",
                "bolt": { "length": { "value": "25", "unit": "mm" }, "room": { "value": "24", "unit": "mm" } },
            },
        ],
        "matched": [{ "position": "mag", "parts": [{ "part": "piston", "mark": "M" }] }],
    })
}

/// The rows of a table of a page, each as the text of its cells.
fn rows(page: &str, table: &str) -> Vec<Vec<String>> {
    let Some((_, after)) = page.split_once(&format!("<table id=\"{table}\">")) else {
        return Vec::new();
    };
    let body = after.split("<tbody>").nth(1).and_then(|it| it.split("</tbody>").next());
    let cells = |row: &str| {
        let cells = row.replace("</th>", "</td>");
        let mut cells: Vec<String> = cells.split("</td>").map(text).collect();
        cells.pop();
        cells
    };
    body.expect("a body").split("</tr>").map(cells).filter(|it| !it.is_empty()).collect()
}

/// What stands between the tags.
fn text(html: &str) -> String {
    let parts = html.split('<').map(|it| it.split_once('>').map_or(it, |(_, text)| text));
    parts.collect::<String>().trim().to_owned()
}

/// The rows of the parts list as quantity, part, place, why; in order of name.
fn parts(page: &str) -> Vec<Vec<String>> {
    let mut parts = rows(page, "parts");
    parts.sort_by(|a, b| a[1].cmp(&b[1]));
    parts
}

// Limits of the engine type: bore at most 67.62 mm, gauge 0.005 mm; by ISO 14253-1 67.62 is not decided (67.615
// to 67.625) and 67.63 is beyond (67.625 to 67.635). The rest is counted by hand.
#[test]
fn a_report_says_what_was_found_measured_and_done() {
    let server = server();
    let path = format!("/inspections/{}", id(300));
    put(&server, &format!("/v1{path}"), &inspection());
    let page = server.page(&path);
    for needed in [
        "Inspection released Sat 2026-05-02",
        "Oarlock twin, fan-cooled two-stroke (invented type)",
        "WO &lt;7&gt;",
        "reported done, no release recorded",
        "30.0 on <span class=\"word\">2026-05-02</span>",
        "has no quantity",
        "marked: piston (magneto-end cylinder) II",
        "together at magneto-end cylinder: piston M",
        "flywheel left: 22.5 N·m",
        "the bolt of puller bolts is 25 mm long, and there is room for 24 mm",
        "Before you act on this",
    ] {
        assert!(page.contains(needed), "{needed}: {page}");
    }
    assert!(!page.contains("<img"), "the session of a page may not load photographs");
    // The engine as a whole first, then in the order of the type's places.
    let digits: String = hex(Sha256::digest(PICTURE).into()).chars().take(12).collect();
    let pto = format!(
        "seized &amp; scored photograph {digits}…: here photograph 000000000000…: missing, not sent yet"
    );
    let (mag, of_pto) = ("magneto-end cylinder", "power take-off end cylinder");
    let expected = [
        [
            "engine",
            "Carburettor rubber socket, flange gasket and clamps",
            "monitor",
            "look again after 10.0 h or by 2026-12-24",
        ],
        [mag, "Spark plugs", "renew", ""],
        [mag, "Top end: pistons and rings", "renew", ""],
        [mag, "Crankshaft seals", "repair", ""],
        [of_pto, "Top end: pistons and rings", "scrap", &pto],
    ];
    assert_eq!(rows(&page, "found"), expected);
    let measured = [
        ["Bore", mag, "67.620 mm", "bore gauge, as the engine type names it"],
        ["Bore", of_pto, "67.63 mm", "bore gauge, as the engine type names it"],
        ["bor", "engine", "1 mm", ""],
    ];
    assert_eq!(rows(&page, "measured"), measured);
    let limit = "at most 67.62; common practice";
    let expected = [
        ["Bore", mag, "67.62 mm (67.615 to 67.625)", limit, "cannot decide, measure again"],
        ["Bore", of_pto, "67.63 mm (67.625 to 67.635)", limit, "beyond limit"],
    ];
    assert_eq!(rows(&page, "judged"), expected);
    // The 100-hour sheet has 27 entries; one of them, the plugs of one cylinder, is answered.
    assert!(page.contains("100-hour inspection</bdi>: 26 left open."), "{page}");
}

#[test]
fn the_parts_list_holds_what_is_still_to_be_renewed() {
    let server = server();
    let path = format!("/inspections/{}", id(300));
    put(&server, &format!("/v1{path}"), &inspection());
    let page = server.page(&path);
    let (mag, pto) = ("magneto-end cylinder", "power take-off end cylinder");
    let list = parts(&page);
    // What is to be watched or repaired is not in it; a plug that is overdue and found worn is one plug.
    assert_eq!(list.len(), 2, "{list:?}");
    for (part, name) in list.iter().zip(["Spark plugs", "Top end: pistons and rings"]) {
        assert_eq!((part[0].as_str(), part[1].as_str()), ("2", name), "{list:?}");
        assert!(part[2].contains(mag) && part[2].contains(pto), "{list:?}");
    }
    assert!(list[0][3].contains("overdue by the programme"), "{list:?}");
    for needed in ["found scrap at the inspection released 2026-05-02", "found to be renewed at"] {
        assert!(list[1][3].contains(needed), "{list:?}");
    }
    // What is due says why, the worst first, with what this inspection set though it is far from due: nobody has read
    // the meter for half a year, and so its hours may be used up.
    let due = rows(&page, "due");
    assert_eq!(due[0][0], "overdue", "{due:?}");
    let of = |title: &str| due.iter().filter(|it| it[1] == title).collect::<Vec<_>>();
    let filter = of("Fuel filter");
    assert_eq!((filter.len(), filter[0][0].as_str()), (1, "coming due"), "{due:?}");
    assert!(filter[0][4].contains("; set by this inspection"), "{due:?}");
    assert_eq!(of("Spark plugs").len(), 2, "{due:?}");

    // Somebody renews all plugs and the piston that was not scrap: one part is left.
    let renewed = json!({
        "engine": ENGINE, "opened_on": "2026-06-01", "released_on": "2026-06-02",
        "work": [
            { "item": "spark-plugs", "action": "renewed", "positions": ["mag", "pto"] },
            { "item": "pistons-and-rings", "action": "renewed", "positions": ["mag"] },
        ],
    });
    put(&server, &format!("/v1/inspections/{}", id(301)), &renewed);
    let left = parts(&server.page(&path));
    let why = "found scrap at the inspection released 2026-05-02";
    assert_eq!(left, [["1", "Top end: pistons and rings", pto, why]]);
    // The engine's page leads to it.
    let engine = server.page(&format!("/engines/{ENGINE}"));
    assert!(engine.contains(&format!("<a href=\"{path}\">inspection or work</a>")), "{engine}");
    assert!(
        engine.contains(&format!("<a href=\"{path}\">Report of that inspection</a>")),
        "{engine}"
    );
}

#[test]
fn the_version_that_stands_is_shown() {
    let server = server();
    let path = format!("/inspections/{}", id(300));
    put(&server, &format!("/v1{path}"), &inspection());
    let mut corrected = inspection();
    corrected["work_order"] = json!("WO 8");
    corrected["findings"] = json!([{
        "item": "spark-plugs", "position": "pto", "condition": "serviceable", "note": "tan",
    }]);
    corrected["measurements"] = json!([
        { "quantity": "bore", "position": "mag", "grid": { "a": ["67.510", "67.5"], "b": ["67.52", "67.500"] }, "unit": "mm" },
        { "quantity": "head-nut-loosening", "position": "mag", "readings": ["22.0", "21", "22", "22"], "unit": "N·m" },
    ]);
    corrected["release"] = json!({ "by": "A. Person", "licence": "66.B3" });
    let amend = json!({
        "engine": ENGINE, "supersedes": id(300), "reason": "wrong engine", "inspection": corrected,
    });
    put(&server, &format!("/v1{path}/amendments/{}", id(302)), &amend);
    let page = server.page(&path);
    for needed in [
        "Corrected <span class=\"word\">2026-11-25:</span> wrong engine",
        "WO 8",
        "release recorded, by A. Person, licence 66.B3",
    ] {
        assert!(page.contains(needed), "{needed}: {page}");
    }
    assert!(!page.contains("WO &lt;7&gt;"), "{page}");
    let found = ["power take-off end cylinder", "Spark plugs", "serviceable", "tan"];
    assert_eq!(rows(&page, "found"), [found]);
    let read: Vec<String> = rows(&page, "measured").into_iter().map(|it| it[2].clone()).collect();
    assert_eq!(read, ["a 67.510, 67.5; b 67.52, 67.500 mm", "22.0, 21, 22, 22 N·m"]);

    let withdraw = json!({
        "engine": ENGINE, "supersedes": id(302), "reason": "never done", "withdrawn": true,
    });
    put(&server, &format!("/v1{path}/amendments/{}", id(303)), &withdraw);
    let page = server.page(&path);
    for needed in ["This inspection is withdrawn", "Withdrawn <span", "never done"] {
        assert!(page.contains(needed), "{needed}: {page}");
    }
    for gone in ["WO 8", "A. Person", "id=\"found\"", "id=\"parts\""] {
        assert!(!page.contains(gone), "{gone}: {page}");
    }
}

// A workshop reads for good what it posted; the engine that it no longer holds is not its to see.
#[test]
fn a_report_is_seen_by_whoever_sees_the_record_and_the_engine_by_whoever_holds_it() {
    let server = server();
    let path = format!("/inspections/{}", id(300));
    put(&server, &format!("/v1{path}"), &inspection());
    let foreign = server.page_as(&path, &server.shop_b);
    assert_eq!(foreign.status, 404);
    assert!(!foreign.text.contains("WO"), "{foreign:?}");
    let engine = format!("/engines/{ENGINE}");
    let own = server.page_as(&path, &server.shop_a);
    assert!(own.text.contains(&engine) && own.text.contains("id=\"parts\""), "{own:?}");
    let no_inspection = server.page_as(&format!("/inspections/{AIRCRAFT}"), &server.inspector);
    assert_eq!(no_inspection.status, 404, "an aircraft's record is no inspection");

    let custody = format!("/v1/engines/{ENGINE}/custody/{}", id(304));
    let to_b = json!({ "on": "2026-06-01", "shop": SHOP_B }).to_string();
    assert_eq!(server.send("PUT", &custody, &server.operator, &to_b).status, 201);
    let holder = server.page_as(&path, &server.shop_b);
    assert!(holder.text.contains("id=\"parts\""), "{holder:?}");
    let former = server.page_as(&path, &server.shop_a);
    assert_eq!((former.status, rows(&former.text, "found").len()), (200, 5));
    assert_eq!(server.page_as(&engine, &server.shop_a).status, 404);
    for hidden in [engine.as_str(), "id=\"due\"", "id=\"parts\"", "DEMO-1", "Serial number"] {
        assert!(!former.text.contains(hidden), "{hidden}: {former:?}");
    }
}
