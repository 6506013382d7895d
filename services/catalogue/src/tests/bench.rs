//! Quantities and sheets: every key is used by a shipped type, and refused with a bad value in a sentence that
//! helps; what would act on nothing, or judge what is never judged, is refused too.

use super::refused::GOOD;
use super::shipped::{SHIPPED, read};
use crate::parse;
use crate::quantities::{BOUNDS_KEYS, CORRECTION_KEYS, DERIVED_KEYS, GAUGE_KEYS, QUANTITY_KEYS};
use crate::sheets::{POINT_KEYS, SHEET_KEYS};
use gudgeon_life::bench::Strokes;
use gudgeon_life::ids::ItemId;
use gudgeon_life::sheet::SheetKind;
use toml::{Table, Value};

/// What stands behind the small file: two quantities that are measured, one that follows, and a sheet.
pub(super) const BENCH: &str = r#"
[[quantities]]
id = "bore"
title = "Bore"
unit = "mm"
positions = ["mag", "pto"]
source = "rule"
new = { min = 67.5, max = 67.52 }
limit = { max = 67.62 }
range = { min = 60, max = 80 }
gauge = { name = "bore gauge", uncertainty = 0.005 }
wear = "rises"
group = "cylinders"
apart-max = 0.05
feeds = "plugs"

[[quantities]]
id = "winding"
title = "Winding"
unit = "ohm"
source = "rule"
range = { min = 1, max = 1000 }
correction = { by = "copper", to = 20 }

[[quantities]]
id = "taper"
title = "Taper"
unit = "mm"
positions = ["mag", "pto"]
source = "rule"
limit = { max = 0.05 }
derived = { by = "taper", of = ["bore"] }

[[sheets]]
id = "teardown"
title = "Teardown"
kind = "teardown"

[[sheets.points]]
asks = "measure"
title = "Bore"
positions = ["mag", "pto"]
quantity = "bore"
grid = 3
lines = 2

[[sheets.points]]
asks = "look"
title = "Plugs"
item = "plugs"
"#;

/// What is said to the small file with one text in place of another: keys and messages.
fn said(old: &str, new: &str) -> Vec<(String, String)> {
    let text = format!("{GOOD}{BENCH}");
    assert!(text.contains(old), "{old}");
    let faults = parse("x", &text.replacen(old, new, 1)).err().unwrap_or_default();
    faults.into_iter().map(|fault| (fault.key, fault.message)).collect()
}

#[test]
fn the_small_file_is_accepted() {
    assert_eq!(said("title = \"Taper\"", "title = \"Taper\""), []);
}

/// Each key with a bad value: what stood there, what stands now, the key that is named, a part of what is said.
const BAD: [(&str, &str, &str, &str); 40] = [
    ("basis =", "strokes = 3\nbasis =", "strokes", "expected 2 or 4"),
    ("id = \"bore\"", "id = \"Bore 1\"", "quantities.1.id", "in lower-case letters"),
    ("title = \"Bore\"\nunit", "title = \" \"\nunit", "quantities.bore.title", "what people call"),
    ("unit = \"mm\"\npos", "unit = \"mmm\"\npos", "quantities.bore.unit", "did you mean `mm`?"),
    (
        "\"pto\"]\nsource = \"rule\"\nnew",
        "\"fan\"]\nsource = \"rule\"\nnew",
        "quantities.bore.positions",
        "no position `fan`",
    ),
    (
        "source = \"rule\"\nnew",
        "source = 1\nnew",
        "quantities.bore.source",
        "where its figures come from",
    ),
    (
        "{ min = 67.5, max = 67.52 }",
        "{ min = 67.6, max = 67.52 }",
        "quantities.bore.new",
        "min 67.6 above max 67.52",
    ),
    (
        "{ min = 67.5, max = 67.52 }",
        "{ min = 6.75 }",
        "quantities.bore.new",
        "6.75, outside `range`",
    ),
    (
        "{ min = 67.5, max",
        "{ least = 67.5, max",
        "quantities.bore.new.least",
        "expected one of min, max",
    ),
    (
        "limit = { max = 67.62 }",
        "limit = { max = 1e3 }",
        "quantities.bore.limit.max",
        "is not a decimal number",
    ),
    (
        "{ max = 67.62 }",
        "{ min = \"x\", max = 67.62 }",
        "quantities.bore.limit.min",
        "is not a decimal number",
    ),
    (
        "range = { min = 60, max = 80 }",
        "range = { min = 60 }",
        "quantities.bore.range",
        "one end only",
    ),
    (
        "range = { min = 60, max = 80 }",
        "",
        "quantities.bore.range",
        "missing; expected what it can be",
    ),
    (
        "gauge = { name = \"bore gauge\", uncertainty = 0.005 }",
        "",
        "quantities.bore.gauge",
        "no reading is judged without",
    ),
    (
        "name = \"bore gauge\"",
        "name = 3",
        "quantities.bore.gauge.name",
        "what people call the gauge",
    ),
    ("uncertainty = 0.005", "uncertainty = 0", "quantities.bore.gauge.uncertainty", "above zero"),
    ("wear = \"rises\"", "wear = \"grows\"", "quantities.bore.wear", "one of rises, falls"),
    ("group = \"cylinders\"", "group = \"a b\"", "quantities.bore.group", "what is compared"),
    ("apart-max = 0.05\n", "", "quantities.bore.group", "without `apart-max`"),
    ("apart-max = 0.05", "apart-max = -1", "quantities.bore.apart-max", "above zero"),
    ("feeds = \"plugs\"", "feeds = \"plug\"", "quantities.bore.feeds", "did you mean `plugs`?"),
    (
        "by = \"copper\"",
        "by = \"iron\"",
        "quantities.winding.correction.by",
        "one of copper, insulation",
    ),
    ("to = 20 }", "to = 20.5 }", "quantities.winding.correction.to", "a whole number of °C"),
    (
        "wear = \"rises\"",
        "correction = { by = \"copper\", to = 20 }",
        "quantities.bore.correction",
        "is for resistances",
    ),
    ("by = \"taper\"", "by = \"tapir\"", "quantities.taper.derived.by", "did you mean `taper`?"),
    ("of = [\"bore\"]", "of = [\"bores\"]", "quantities.taper.derived.of", "did you mean `bore`?"),
    (
        "of = [\"bore\"]",
        "of = [\"bore\", \"bore\"]",
        "quantities.taper.derived.of",
        "found 2; expected 1",
    ),
    ("of = [\"bore\"]", "of = [\"winding\"]", "quantities.taper.unit", "gives ohm"),
    (
        "derived =",
        "range = { min = 0, max = 1 }\nderived =",
        "quantities.taper.range",
        "acts on nothing",
    ),
    ("id = \"teardown\"", "id = \"\"", "sheets.1.id", "a short name"),
    ("title = \"Teardown\"", "title = 1", "sheets.teardown.title", "what people call the sheet"),
    ("kind = \"teardown\"", "kind = \"tear\"", "sheets.teardown.kind", "one of teardown, top-end"),
    ("asks = \"look\"", "asks = \"see\"", "sheets.teardown.points.2.asks", "one of look, measure"),
    (
        "quantity = \"bore\"",
        "quantity = \"bor\"",
        "sheets.teardown.points.1.quantity",
        "did you mean `bore`?",
    ),
    (
        "quantity = \"bore\"",
        "quantity = \"taper\"",
        "sheets.teardown.points.1.quantity",
        "follows from others",
    ),
    ("grid = 3", "grid = 1", "sheets.teardown.points.1.grid", "from 2 to 6"),
    ("grid = 3", "readings = 0", "sheets.teardown.points.1.readings", "from 1 to 24"),
    ("lines = 2", "lines = 9", "sheets.teardown.points.1.lines", "from 1 to 6"),
    (
        "item = \"plugs\"",
        "item = \"The plugs\"",
        "sheets.teardown.points.2.item",
        "in lower-case letters",
    ),
    (
        "item = \"plugs\"",
        "item = \"plugs\"\nquantity = \"bore\"",
        "sheets.teardown.points.2.quantity",
        "acts on nothing",
    ),
];

#[test]
fn a_bad_value_of_every_key_is_refused_and_told_what_would_be_right() {
    let mut wrong = Vec::new();
    for (old, new, key, part) in BAD {
        let found = said(old, new);
        if !found.iter().any(|(at, message)| at == key && message.contains(part)) {
            wrong.push(format!("{new}: {found:#?}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    // Each of the keys stands in the table above.
    let named: Vec<&str> = BAD.iter().flat_map(|(_, _, key, _)| key.split('.')).collect();
    for keys in all_keys() {
        for key in keys.iter().filter(|key| !["points", "derived", "correction"].contains(key)) {
            assert!(named.contains(key), "no bad value of `{key}`");
        }
    }
}

fn all_keys() -> [&'static [&'static str]; 7] {
    [
        QUANTITY_KEYS.known,
        BOUNDS_KEYS.known,
        GAUGE_KEYS.known,
        CORRECTION_KEYS.known,
        DERIVED_KEYS.known,
        SHEET_KEYS.known,
        POINT_KEYS.known,
    ]
}

/// Whether a key stands anywhere in a file, apart from the items.
fn uses(value: &Value, key: &str) -> bool {
    match value {
        Value::Table(table) => {
            table.contains_key(key) || table.values().any(|value| uses(value, key))
        }
        Value::Array(values) => values.iter().any(|value| uses(value, key)),
        _ => false,
    }
}

#[test]
fn a_shipped_type_uses_every_key() {
    let files: Vec<Value> = SHIPPED
        .iter()
        .map(|(_, text)| {
            let mut file: Table = toml::from_str(text).expect("TOML");
            file.retain(|key, _| ["quantities", "sheets"].contains(&key));
            Value::Table(file)
        })
        .collect();
    for key in all_keys().iter().copied().flatten() {
        assert!(files.iter().any(|file| uses(file, key)), "no shipped type has `{key}`");
    }
}

#[test]
fn every_shipped_type_has_a_sheet_of_every_kind_and_says_its_strokes() {
    for (name, text) in SHIPPED {
        let bench = read(name, text).bench;
        for kind in SheetKind::ALL {
            assert!(bench.sheets.iter().any(|it| it.kind == kind), "{name}: {}", kind.word());
        }
        let two = name != "transom-flat";
        assert_eq!(bench.strokes == Some(Strokes::Two), two, "{name}");
    }
    let (name, text) = SHIPPED[0];
    let teardown = ItemId::new("teardown").expect("a short name");
    let bench = read(name, text).bench;
    let entries = bench.sheet(&teardown).map_or(0, gudgeon_life::sheet::Sheet::entries);
    assert!(entries >= 120, "{entries}");
}

/// A two-stroke's compression is comparative only (common practice): no file may set a limit on it, nor on the
/// pressures that it follows from.
#[test]
fn a_limit_on_a_two_strokes_compression_is_refused() {
    let file = |strokes: &str, limited: &str| {
        let quantity = |id: &str, more: &str| {
            format!("[[quantities]]\nid = \"{id}\"\ntitle = \"x\"\nsource = \"x\"\n{more}\n")
        };
        let limit = |id: &str| if id == limited { "limit = { max = 25 }\n" } else { "" };
        let pressure = |id: &str| {
            let limit = limit(id);
            let gauge = "gauge = { name = \"x\", uncertainty = 1 }";
            quantity(
                id,
                &format!("unit = \"psi\"\nrange = {{ min = 0, max = 120 }}\n{gauge}\n{limit}"),
            )
        };
        let loss = format!(
            "unit = \"%\"\nderived = {{ by = \"compression-loss\", of = [\"supply\", \"cylinder\"] }}\n{}",
            limit("loss")
        );
        let head = GOOD.replacen("basis", &format!("{strokes}\nbasis"), 1);
        format!("{head}\n{}{}{}", pressure("supply"), pressure("cylinder"), quantity("loss", &loss))
    };
    let faults = |strokes: &str, limited: &str| -> Vec<String> {
        let faults = parse("x", &file(strokes, limited)).err().unwrap_or_default();
        faults.into_iter().map(|fault| fault.key).collect()
    };
    assert_eq!(faults("strokes = 2", "none"), [""; 0]);
    for limited in ["supply", "cylinder", "loss"] {
        assert_eq!(faults("strokes = 2", limited), [format!("quantities.{limited}.limit")]);
        assert_eq!(faults("strokes = 4", limited), [""; 0]);
    }
    assert_eq!(faults("", "none"), ["strokes"]);
}
