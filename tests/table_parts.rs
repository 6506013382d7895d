//! The due rules key by key, asked of a running service: where counts begin on an engine and its parts, which
//! engines a rule is for, rubber and belts. How intervals count is in `table`; findings, what happened and what
//! the records do not tell are in `table_records`.
//!
//! The figures were worked by hand from the rules; no published source unless one is named beside them.

#![expect(clippy::indexing_slicing, reason = "a missing field in an answer fails the test")]

use gudgeon_tests::story::{Story, engine_type, item, line_of};
use serde_json::{Value, json};

/// A part of the kind `belt` with no hours on it, with a quarter code where one is given.
fn belt(story: &mut Story, number: u32, on: &str, quarter: Option<&str>) {
    let code = quarter.map(|text| json!({"scheme": "quarter", "text": text}));
    let mut body = json!({"on": on, "kind": "belt", "hours": 0});
    if let Some(code) = code {
        body["code"] = code;
    }
    story.component(number, body);
}

/// Every 1000 h or 60 months from each beginning. The belt was fitted at the engine's 100.0 h, taken off at
/// 150.0 h and fitted again, with its own 50.0 h; the bulletin took effect while the engine stood at 200.0 h.
#[test]
fn counts_from_each_beginning() {
    let mut kinds = String::new();
    for anchor in ["new", "overhaul", "done", "first-fitted", "fitted"] {
        let part = if anchor.ends_with("fitted") { "component = \"belt\"\n" } else { "" };
        kinds += &item(
            anchor,
            &format!(
                "{part}class = \"recommended\"\ncounts-from = \"{anchor}\"\nevery = {{ hours = 1000, months = 60 }}\nnext = \"from-done\"\ndone-by = [\"inspected\"]"
            ),
        );
    }
    kinds += &item(
        "made",
        "component = \"belt\"\nclass = \"recommended\"\ncounts-from = \"made\"\nevery = { months = 60 }\ndone-by = [\"renewed\"]",
    );
    kinds += &item(
        "effective",
        "class = \"directive\"\ncounts-from = \"effective\"\neffective = 2022-01-01\nevery = { hours = 1000, months = 60 }\nnext = \"from-done\"\ndone-by = [\"inspected\"]",
    );
    let mut story = Story::of_new_engine();
    belt(&mut story, 1, "2020-06-01", Some("3Q19"));
    story.stated(1, "2020-06-30", "100.0");
    story.fit_to_engine(1, 1, "2020-07-01");
    story.stated(1, "2021-01-09", "150.0");
    story.about_component(1, "removals", json!({"on": "2021-01-10"}));
    let overhaul = json!({"tsn": "200.0", "overhaul": {"scope": "full"}, "test_run": 0});
    story.inspection(overhaul, 1, "2021-03-01");
    story.stated(1, "2022-01-31", "230.0");
    story.fit_to_engine(1, 1, "2022-02-01");
    story.work(1, "2022-05-01", "250.0", "done", "inspected");
    let service = story.told(&engine_type(&kinds));
    for (anchor, hours, day) in [
        ("new", Some("1000.0"), "2024-01-01"),
        ("overhaul", Some("1200.0"), "2026-03-01"),
        ("first-fitted", Some("1000.0"), "2025-07-01"),
        ("fitted", Some("1050.0"), "2027-02-01"),
        ("made", None, "2024-07-01"),
        ("effective", Some("1200.0"), "2027-01-01"),
        ("done", Some("1250.0"), "2027-05-01"),
    ] {
        let line = line_of(&service, 1, "2022-06-01", anchor);
        assert_eq!(line["due"], json!({"hours": hours, "on": day}), "{anchor}: {line:#}");
    }
}

/// The keys of `applies-to` about how an engine is built and used, each asked for by an item of its name,
/// with a word that is asked for and one that is not.
const DESCRIBED: [(&str, &str, &str); 6] = [
    ("ignition", "points", "electronic"),
    ("use", "school", "private"),
    ("fuel", "ethanol-blend", "unleaded"),
    ("oil", "mineral", "synthetic"),
    ("lubrication", "injected", "premixed"),
    ("regime", "us-part-91", "part-ml"),
];

/// Engine 1 is as asked, engine 2 is not, of engine 3 nothing is known.
#[test]
fn applies_to_leaves_out_what_it_is_not_for_and_what_cannot_be_told_is_unknown() {
    const KEYS: &str = "class = \"recommended\"\ncounts-from = \"done\"\nevery = { months = 12 }\nnext = \"from-done\"\ndone-by = [\"inspected\"]";
    let mut kinds = String::new();
    for (key, asked, _) in DESCRIBED {
        kinds += &item(key, &format!("{KEYS}\napplies-to = {{ {key} = [\"{asked}\"] }}"));
    }
    let about_part = format!("component = \"belt\"\n{KEYS}");
    for (name, keys) in [
        ("part-serial", &about_part, "serials = [\"2000-2349\"]"),
        ("part-lot", &about_part, "lots = [\"B7\"]"),
        ("engine-with-part", &KEYS.to_owned(), "part = \"belt\", lots = [\"B7\"]"),
        ("engine-serial", &KEYS.to_owned(), "serials = [\"S-1-S-1\"]"),
    ]
    .map(|(name, keys, asks)| (name, format!("{keys}\napplies-to = {{ {asks} }}")))
    {
        kinds += &item(name, &keys);
    }
    let mut story = Story::new();
    for engine in [1, 2, 3] {
        story.engine(engine, "2019-01-01", Some("0"), Some("2019-01-01"));
    }
    for (engine, asked) in [(1, true), (2, false)] {
        let mut body = json!({"on": "2019-01-01"});
        for (key, word, other) in DESCRIBED {
            body[key] = json!(if asked { word } else { other });
        }
        story.about_engine(engine, "descriptions", body);
    }
    for (number, marks) in [
        (1, json!({"serial": "2349", "lot": "B7"})),
        (2, json!({"serial": "2350", "lot": "B8"})),
        (3, json!({})),
    ] {
        let mut body = json!({"on": "2019-01-01", "kind": "belt", "hours": 0});
        for (mark, value) in marks.as_object().into_iter().flatten() {
            body[mark] = value.clone();
        }
        story.component(number, body);
        story.fit_to_engine(number, number, "2019-01-02");
    }
    let service = story.told(&engine_type(&kinds));
    let marked = ["part-serial", "part-lot", "engine-with-part"];
    for name in DESCRIBED.map(|(key, ..)| key).into_iter().chain(marked) {
        let [asked, other, untold] =
            [1, 2, 3].map(|engine| line_of(&service, engine, "2019-06-01", name));
        assert_eq!(asked["legs"][0]["missing"]["code"], "never-done", "{name}: {asked:#}");
        assert_eq!(other, Value::Null, "{name}");
        assert_eq!(untold["status"], "unknown", "{name}: {untold:#}");
        assert_eq!(untold["legs"][0]["missing"]["code"], "applicability", "{name}");
    }
    // An engine always has a serial number: here it is in or out.
    assert_ne!(line_of(&service, 1, "2019-06-01", "engine-serial"), Value::Null);
    assert_eq!(line_of(&service, 2, "2019-06-01", "engine-serial"), Value::Null);
}

const BELT: &str = r#"component = "belt"
class = "recommended"
done-by = ["renewed"]
limits = [
    { name = "shelf", counts-from = "made", every = { months = 48 }, shelf = true },
    { name = "in service", counts-from = "first-fitted", every = { months = 60 } },
    { name = "total", counts-from = "made", every = { months = 96 } },
    { name = "total by the last day", counts-from = "made", every = { months = 96 }, code-day = "last" },
]"#;

/// Made in the third quarter of 2019, fitted on 2022-06-01 and off for half a year: its calendar goes on.
/// Five years in service end on 2027-06-01; eight years in all on 2027-07-01, or on 2027-09-30 by the last
/// day of its code. Shelf four years, through 2023-07-01: it was fitted in time, so the shelf is done with.
#[test]
fn rubber_ages_on_the_shelf_in_service_and_in_all() {
    let kind = engine_type(&item("item", BELT));
    let mut story = Story::of_new_engine();
    belt(&mut story, 1, "2022-05-20", Some("3Q19"));
    story.fit_to_engine(1, 1, "2022-06-01");
    let due = |story: &Story| {
        let line = line_of(&story.told(&kind), 1, "2024-06-01", "item");
        let legs = line["legs"].as_array().cloned().unwrap_or_default();
        let legs = legs.iter().map(|leg| json!([leg["limit"], leg["due"]]));
        json!({"line": line["due"]["on"], "legs": legs.collect::<Vec<_>>()})
    };
    let expected = json!({"line": "2027-06-01", "legs": [
        ["in service", "2027-06-01"], ["total", "2027-07-01"], ["total by the last day", "2027-09-30"],
    ]});
    assert_eq!(due(&story), expected);
    story.about_component(1, "removals", json!({"on": "2023-09-01"}));
    story.fit_to_engine(1, 1, "2024-03-01");
    assert_eq!(due(&story), expected);
}

/// Fitted the day after its shelf life ended: overdue since, and the line says so.
#[test]
fn rubber_past_its_shelf_life_is_not_to_be_fitted() {
    let kind = engine_type(&item("item", BELT));
    for (fitted, status) in [("2023-07-01", "not-due"), ("2023-07-02", "overdue")] {
        let mut story = Story::of_new_engine();
        belt(&mut story, 1, "2022-05-20", Some("3Q19"));
        story.fit_to_engine(1, 1, fitted);
        let line = line_of(&story.told(&kind), 1, "2023-08-01", "item");
        assert_eq!(line["status"], status, "{line:#}");
        let late = line["notes"][0]["code"] == "fitted-past-shelf-life";
        assert_eq!(late, status == "overdue", "{line:#}");
    }
}
