//! Every key that an item of a programme may have, from `keys.toml`: a shipped item uses it, it makes the
//! difference in a story told to a service, and `gudgeon check` refuses a bad value in a sentence that helps.
//!
//! The program is the one that `GUDGEON_BIN` names, or else `target/<profile>/gudgeon` beside these tests.

#![cfg(test)]

use gudgeon_tests::check;
use gudgeon_tests::story::{Story, engine_type, item, lines};
use serde_json::{Value, json};
use std::collections::BTreeSet;

const TABLE: &str = include_str!("keys.toml");

const SHIPPED: [(&str, &str); 3] = [
    ("oarlock-twin", include_str!("../config/engine-types/oarlock-twin.toml")),
    ("thwart-twin", include_str!("../config/engine-types/thwart-twin.toml")),
    ("transom-flat", include_str!("../config/engine-types/transom-flat.toml")),
];

/// What an item has in any case, where its row does not say it.
const USUAL: [(&str, &str); 3] = [
    ("class", "class = \"recommended\""),
    ("source", "source = \"common practice\""),
    ("done-by", "done-by = [\"inspected\"]"),
];

/// The day of all lines.
const AS_OF: &str = "2024-06-01";

/// One row of the table.
struct Row(Value);

impl Row {
    /// A text of the row; empty where it is left out.
    fn text(&self, field: &str) -> &str {
        self.0[field].as_str().unwrap_or_default()
    }

    /// The id of its item: its name, or its key with hyphens for dots.
    fn id(&self) -> String {
        let name = if self.0["name"].is_null() { "key" } else { "name" };
        self.text(name).replace('.', "-")
    }

    /// Its item, with what stands in place of the first line.
    fn item(&self, first: Option<&str>) -> String {
        let given = self.text("item");
        let (own, rest) = given.split_once('\n').unwrap_or((given, ""));
        let usual =
            USUAL.iter().filter(|(key, _)| !given.lines().any(|line| line.starts_with(key)));
        let usual: Vec<&str> = usual.map(|(_, line)| *line).collect();
        let (id, first, usual) = (self.id(), first.unwrap_or(own), usual.join("\n"));
        format!("[[items]]\nid = \"{id}\"\ntitle = \"{id}\"\n{first}\n{rest}\n{usual}\n\n")
    }

    /// Its item as read from TOML.
    fn read(&self) -> Value {
        read(&self.item(None))["items"][0].take()
    }
}

fn rows() -> Vec<Row> {
    let rows = read(TABLE)["row"].take();
    rows.as_array().unwrap().iter().cloned().map(Row).collect()
}

/// TOML as a JSON value.
fn read(text: &str) -> Value {
    serde_json::to_value(toml::from_str::<toml::Table>(text).unwrap()).unwrap()
}

/// An engine type with the item of every row, one of them with a bad first line.
fn all_items(rows: &[Row], bad: Option<&Row>) -> String {
    let is_bad = |row: &Row| bad.is_some_and(|bad| bad.id() == row.id());
    let text = |row: &Row| row.item(is_bad(row).then(|| row.text("bad")));
    engine_type(&(rows.iter().map(text).collect::<String>() + GAP))
}

/// What the items that follow a measured limit follow: up to 0.4 mm, by a gauge of 0.01 mm.
const GAP: &str = r#"
[[quantities]]
id = "gap"
title = "Gap"
unit = "mm"
source = "common practice"
limit = { max = 0.4 }
range = { min = 0, max = 9 }
gauge = { name = "feeler gauge", uncertainty = 0.01 }
wear = "rises"
"#;

/// What stands at a dotted key of an item, in the item itself or in one of its limits.
fn at<'a>(item: &'a Value, key: &str) -> Option<&'a Value> {
    let pointer = format!("/{}", key.trim_start_matches("limits.").replace('.', "/"));
    let limits = item["limits"].as_array().into_iter().flatten();
    std::iter::once(item).chain(limits).find_map(|table| table.pointer(&pointer))
}

/// The keys that `check` knows in one table of an item: it lists them when it meets a strange one.
fn known(item: &str) -> BTreeSet<String> {
    let printed = check(&engine_type(item));
    let listed =
        printed.lines().find_map(|line| line.split_once("no such key here; expected one of "));
    let (_, listed) = listed.unwrap_or_else(|| panic!("{item}\n{printed}"));
    listed.split(", ").map(str::to_owned).collect()
}

#[test]
fn the_table_holds_every_key_that_check_knows() {
    let rows = rows();
    let keys: BTreeSet<&str> = rows.iter().map(|row| row.text("key")).collect();
    let below = |table: &str| -> BTreeSet<String> {
        let prefix = format!("{table}.");
        let own = keys.iter().filter_map(|key| key.strip_prefix(&prefix));
        own.map(str::to_owned).collect()
    };
    let strange = "a-strange-key = 1";
    let mut items = known(&item("x", strange));
    // What an item is called.
    assert!(items.remove("id") && items.remove("title"));
    let top: BTreeSet<String> =
        keys.iter().filter(|key| !key.contains('.')).map(|key| (*key).to_owned()).collect();
    assert_eq!(items, top);
    for table in ["every", "first", "tolerance", "notice", "applies-to", "trend"] {
        let rows_of = if table == "first" { "every" } else { table };
        assert_eq!(
            known(&item("x", &format!("{table} = {{ {strange} }}"))),
            below(rows_of),
            "{table}"
        );
    }
    // A limit has the keys that stand in the item itself where there is but one, and a name.
    let in_limits = known(&item("x", &format!("limits = [{{ {strange} }}]")));
    let only_there: BTreeSet<String> = in_limits.difference(&top).cloned().collect();
    assert_eq!(only_there, below("limits"));
}

#[test]
fn a_shipped_item_uses_every_key() {
    let rows = rows();
    for row in &rows {
        let (file, name) = row.text("shipped").split_once('/').unwrap();
        let (_, text) = SHIPPED.into_iter().find(|(shipped, _)| *shipped == file).unwrap();
        let file = read(text);
        let items = file["items"].as_array().unwrap();
        let shipped = items.iter().find(|item| item["id"] == name);
        let shipped = shipped.unwrap_or_else(|| panic!("no item {}", row.text("shipped")));
        let key = row.text("key");
        assert!(at(shipped, key).is_some(), "{} has no `{key}`", row.text("shipped"));
        if row.0["name"].is_null() {
            continue;
        }
        // A key with a row for each of its words: the shipped item has this word, in one of its limits.
        let word = row.read()[key].take();
        let limits = shipped["limits"].as_array().into_iter().flatten();
        let has = std::iter::once(shipped).chain(limits).any(|table| table[key] == word);
        assert!(has, "{} has no {key} = {word}", row.text("shipped"));
    }
}

/// The story at the head of the table.
fn story(rows: &[Row]) -> Story {
    let mut story = Story::of_new_engine();
    let described = json!({
        "on": "2019-01-01", "ignition": "points", "use": "school", "fuel": "ethanol-blend",
        "oil": "mineral", "lubrication": "injected", "regime": "us-part-91",
    });
    story.about_engine(1, "descriptions", described);
    let belt = json!({
        "on": "2019-06-15", "kind": "belt", "serial": "2107", "lot": "B7", "hours": 0,
        "code": {"scheme": "quarter", "text": "1Q19"},
    });
    story.component(1, belt);
    story.fit_to_engine(1, 1, "2019-07-01");
    let overhaul = json!({"tsn": "500.0", "overhaul": {"scope": "full"}, "test_run": 0});
    story.inspection(overhaul, 1, "2021-03-01");
    for (at, (on, hours)) in [("2023-01-10", "940.0"), ("2024-01-15", "1043.2")].iter().enumerate()
    {
        let work = rows.iter().filter_map(|row| {
            let action = row.0["done"][at].as_str().filter(|action| !action.is_empty())?;
            let positions = row.read()["positions"].take();
            let mut work = json!({"item": row.id(), "action": action});
            if !positions.is_null() {
                work["positions"] = positions;
            }
            Some(work)
        });
        let gap = ["0.20", "0.25"][at];
        let measured = json!([{"quantity": "gap", "value": gap, "unit": "mm"}]);
        let work = work.collect::<Vec<_>>();
        story.inspection(json!({"tsn": hours, "work": work, "measurements": measured}), 1, on);
    }
    story.about_engine(1, "events", json!({"on": "2024-03-01", "kind": "overheat"}));
    let measured = json!([{"quantity": "gap", "value": "0.30", "unit": "mm"}]);
    story.inspection(json!({"tsn": "1141.0", "measurements": measured}), 1, AS_OF);
    story
}

/// Whether a value holds everything that is expected of it; objects and lists may hold more.
fn holds(found: &Value, expected: &Value) -> bool {
    match expected {
        Value::Object(fields) => fields.iter().all(|(key, value)| holds(&found[key], value)),
        Value::Array(entries) => {
            entries.iter().enumerate().all(|(at, entry)| holds(&found[at], entry))
        }
        _ => found == expected,
    }
}

#[test]
fn every_key_makes_the_difference_in_a_line() {
    let rows = rows();
    let service = story(&rows).told(&all_items(&rows, None));
    let all = lines(&service, 1, AS_OF);
    for row in &rows {
        let id = row.id();
        let own = all.as_array().into_iter().flatten().filter(|line| line["item"] == id.as_str());
        let own: Vec<&Value> = own.collect();
        if row.0["line"].is_null() {
            assert!(own.is_empty(), "{id}: {own:#?}");
            continue;
        }
        // An item may have a line for what happened, or for running on condition, beside that of its interval.
        let says = |line: &Value| {
            let working = line["working"].as_array().into_iter().flatten();
            working.filter_map(Value::as_str).any(|step| step.contains(row.text("says")))
        };
        let found = own.iter().any(|line| holds(line, &row.0["line"]) && says(line));
        assert!(found, "{id}: {own:#?}");
    }
}

#[test]
fn check_refuses_a_bad_value_of_every_key_and_says_what_would_be_right() {
    let rows = rows();
    let accepted = check(&all_items(&rows, None));
    assert!(accepted.starts_with("ok: story-twin"), "{accepted}");
    let mut wrong = Vec::new();
    for row in &rows {
        let printed = check(&all_items(&rows, Some(row)));
        let key = row.text(if row.0["at"].is_null() { "key" } else { "at" });
        let expected = format!(": item `{}`: key `{key}`: {}", row.id(), row.text("refused"));
        let faults: Vec<&str> = printed.lines().filter(|line| line.contains(": item `")).collect();
        if !matches!(faults.as_slice(), [fault] if fault.ends_with(&expected)) {
            wrong.push(format!("expected …{expected}\nfound {printed}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Whoever writes a limit where it is not read hears where it belongs, instead of counting on it.
#[test]
fn check_says_where_a_measured_limit_belongs() {
    let printed = check(&engine_type(&item("x", "limit = { above = 1 }")));
    let refused = ": item `x`: key `limit`: a measured limit stands with its quantity";
    assert!(printed.contains(refused), "{printed}");
}
