//! Every key of the type, its positions and items with a bad value: refused at its line, item and key,
//! saying what would be right. What contradicts itself is in `contradicting`.

use crate::{Fault, parse};

/// A small file in which nothing is wrong. The numbers of its lines are counted by hand below.
pub(super) const GOOD: &str = r#"name = "test-twin"
title = "Test twin"
invented = true
basis = "engine-run"
entered-up-to = 2026-10-31

[[positions]]
id = "mag"
title = "magneto end"

[[positions]]
id = "pto"
title = "drive end"

[[items]]
id = "rebuild"
title = "Rebuild"
class = "recommended"
source = "common practice"
counts-from = "overhaul"
every = { hours = 300, months = 60 }
done-by = ["overhauled"]

[[items]]
id = "plugs"
title = "Plugs"
positions = ["mag", "pto"]
class = "required-inspection"
source = "rule"
counts-from = "new"
every = { hours = 25, months = 6 }
calendar = "end-of-month"
next = "window"
tolerance = { percent = 10, hours-max = 2, days-max = 5 }
granted = "automatic"
satisfied-by = ["rebuild"]
done-by = ["inspected", "renewed"]
notice = { hours = 5, days = 14 }

[[items]]
id = "belt"
title = "Belt"
component = "fan-belt"
class = "recommended"
source = "common practice"
done-by = ["renewed"]

[[items.limits]]
name = "shelf"
counts-from = "made"
every = { months = 48 }
shelf = true
code-day = "last"

[[items.limits]]
name = "in service"
counts-from = "first-fitted"
every = { hours = 300, months = 60 }

[[items]]
id = "bulletin"
title = "Bulletin"
class = "directive"
source = "authority"
counts-from = "effective"
effective = 2026-05-01
every = { hours = 25, days = 45 }
next = "from-done"
done-by = ["inspected"]

[[items]]
id = "head"
title = "Head"
class = "recommended"
source = "common practice"
counts-from = "overhaul"
once = [2, 10, 25]
every = { hours = 50 }
next = "from-done"
done-by = ["adjusted"]
after = ["overheat", "seizure"]
notice = { hours = 1 }

[[items]]
id = "crank"
title = "Crank"
class = "directive"
source = "authority"
counts-from = "effective"
effective = 2026-05-01
first = { hours = 5, days = 30 }
every = { hours = 50, months = 12 }
next = "from-done"
done-by = ["inspected"]
until = ["renewed"]
notice = { hours = 2, days = 7 }

[items.applies-to]
serials = ["2000-2349", "K100-K299"]
lots = ["B7"]
part = "crankshaft"
use = ["school", "salt-air"]

[[items]]
id = "strike"
title = "Strike"
class = "recommended"
source = "common practice"
done-by = ["inspected"]
after = ["propeller-strike"]
"#;

/// What is changed, what it becomes; the line, item and key of the one fault, and words of its message.
pub(super) type Case =
    (&'static str, &'static str, usize, &'static str, &'static str, &'static str);

pub(super) fn faults(text: &str) -> Vec<Fault> {
    parse("test.toml", text).err().unwrap_or_default()
}

pub(super) fn check(cases: &[Case]) {
    for (from, to, line, item, key, says) in cases {
        assert!(GOOD.contains(from), "the good file has no {from:?}");
        let found = faults(&GOOD.replacen(from, to, 1));
        let printed: Vec<String> = found.iter().map(ToString::to_string).collect();
        let [fault] = found.as_slice() else { panic!("{to:?}: one fault, not {printed:#?}") };
        let place = (fault.file.as_str(), fault.line, fault.item.as_deref(), fault.key.as_str());
        let item = (!item.is_empty()).then_some(*item);
        assert_eq!(place, ("test.toml", Some(*line), item, *key), "{to:?}: {printed:#?}");
        assert!(fault.message.contains(says), "{to:?}: {says:?} not in {printed:#?}");
    }
}

#[test]
fn the_good_file_is_accepted() {
    assert_eq!(faults(GOOD), []);
}

#[test]
fn keys_of_the_type() {
    check(&[
        ("name = \"test-twin\"", "", 1, "", "name", "missing; expected a short name"),
        ("\"test-twin\"", "\"Test Twin\"", 1, "", "name", "lower-case letters"),
        ("\"Test twin\"", "\" \"", 2, "", "title", "what people call the type"),
        ("invented = true", "", 1, "", "invented", "missing; expected true for a type made up"),
        (
            "invented = true",
            "invented = \"yes\"",
            3,
            "",
            "invented",
            "found \"yes\"; expected true",
        ),
        ("\"engine-run\"", "\"engine_run\"", 4, "", "basis", "did you mean `engine-run`?"),
        ("\"engine-run\"", "\"hobbs\"", 4, "", "basis", "one of airborne, tach, engine-run"),
        ("2026-10-31", "\"2026-10-31\"", 5, "", "entered-up-to", "without quotes"),
        ("2026-10-31", "2026-10-31T10:00:00Z", 5, "", "entered-up-to", "such as 2026-10-31"),
        (
            "invented",
            "limits = []\ninvented",
            3,
            "",
            "limits",
            "a measured limit stands with its quantity",
        ),
        ("invented", "applies-to = 1\ninvented", 3, "", "applies-to", "expected inside an item"),
        ("title = \"Test", "titel = 1\ntitle = \"Test", 2, "", "titel", "did you mean `title`?"),
        (
            "title = \"Test",
            "xyzzy = 1\ntitle = \"Test",
            2,
            "",
            "xyzzy",
            "expected one of name, title",
        ),
    ]);
}

#[test]
fn keys_of_a_position() {
    check(&[
        (
            "id = \"mag\"\ntitle = \"magneto end\"",
            "id = \"mag\"",
            7,
            "",
            "positions.title",
            "missing",
        ),
        (
            "\"drive end\"",
            "\"x\"\n[[positions]]\nid = \"mag\"\ntitle = \"y\"",
            15,
            "",
            "positions.id",
            "on line 7 already",
        ),
        (
            "title = \"drive",
            "side = 1\ntitle = \"drive",
            13,
            "",
            "positions.side",
            "did you mean `id",
        ),
    ]);
}

#[test]
fn names_and_words_of_an_item() {
    check(&[
        ("id = \"bulletin\"", "id = \"Bulle tin\"", 61, "number 4", "id", "lower-case letters"),
        ("title = \"Plugs\"", "", 24, "plugs", "title", "missing; expected what people call"),
        (
            "[\"mag\", \"pto\"]",
            "[\"mag\", \"ptoo\"]",
            27,
            "plugs",
            "positions",
            "did you mean `pto`?",
        ),
        ("[\"mag\", \"pto\"]", "[\"mag\", \"mag\"]", 27, "plugs", "positions", "each once"),
        ("[\"mag\", \"pto\"]", "[]", 27, "plugs", "positions", "found an empty list"),
        ("[\"mag\", \"pto\"]", "\"mag\"", 27, "plugs", "positions", "expected a list of positions"),
        ("\"directive\"", "\"directives\"", 63, "bulletin", "class", "did you mean `directive`?"),
        ("\"rule\"", "\"\"", 29, "plugs", "source", "where the rule comes from"),
        ("next = \"window\"", "next = \"due\"", 33, "plugs", "next", "from-due, from-done, window"),
        ("next = \"window\"", "", 24, "plugs", "next", "missing; expected one of from-due"),
        ("\"automatic\"", "\"auto\"", 35, "plugs", "granted", "automatic, before-due, en-route"),
        ("granted = \"automatic\"", "", 24, "plugs", "granted", "missing; expected what"),
        ("done-by = [\"overhauled\"]", "", 15, "rebuild", "done-by", "missing; expected a list"),
        (
            "[\"overhauled\"]",
            "[\"overhaul\"]",
            22,
            "rebuild",
            "done-by",
            "did you mean `overhauled`?",
        ),
        (
            "component = \"fan-belt\"",
            "component = 7",
            43,
            "belt",
            "component",
            "found 7; expected a short",
        ),
        ("id = \"bulletin\"", "id = \"belt\"", 61, "belt", "id", "on line 40 already"),
        ("notice =", "notise =", 38, "plugs", "notise", "did you mean `notice`?"),
    ]);
}

#[test]
fn keys_of_a_limit() {
    check(&[
        (
            "counts-from = \"overhaul\"",
            "",
            15,
            "rebuild",
            "counts-from",
            "missing; expected one of new",
        ),
        ("\"overhaul\"", "\"overhal\"", 20, "rebuild", "counts-from", "did you mean `overhaul`?"),
        ("effective = 2026-05-01", "", 60, "bulletin", "effective", "missing; expected the day"),
        ("2026-05-01", "\"1 May\"", 66, "bulletin", "effective", "without quotes"),
        (
            "{ hours = 300, months = 60 }",
            "300",
            21,
            "rebuild",
            "every",
            "found 300; expected hours",
        ),
        (
            "{ hours = 300, months = 60 }",
            "{}",
            21,
            "rebuild",
            "every",
            "neither hours nor calendar",
        ),
        ("hours = 300", "hours = 0", 21, "rebuild", "every.hours", "expected hours above zero"),
        ("hours = 300", "hours = -300", 21, "rebuild", "every.hours", "below zero"),
        ("hours = 300", "hours = \"30:75\"", 21, "rebuild", "every.hours", "between 00 and 59"),
        ("hours = 300", "hours = 0x12C", 21, "rebuild", "every.hours", "such as 100, 12.5"),
        ("hours = 300", "hour = 300", 21, "rebuild", "every.hour", "did you mean `hours`?"),
        ("months = 60", "months = 0", 21, "rebuild", "every.months", "from 1 to 1200"),
        (
            "months = 60",
            "months = 2.5",
            21,
            "rebuild",
            "every.months",
            "found 2.5; expected a whole",
        ),
        ("months = 60", "years = 5", 21, "rebuild", "every.years", "5 years are `months = 60`"),
        ("days = 45", "days = 99999", 67, "bulletin", "every.days", "from 1 to 36525"),
        ("\"end-of-month\"", "\"month-end\"", 32, "plugs", "calendar", "one of day, end-of-month"),
        (
            "shelf = true",
            "shelf = 1",
            52,
            "belt",
            "limits.shelf",
            "found 1; expected true or false",
        ),
        ("\"last\"", "\"lst\"", 53, "belt", "limits.code-day", "did you mean `last`?"),
        ("name = \"shelf\"", "", 48, "belt", "limits.name", "missing; expected what this limit"),
        ("\"in service\"", "\"shelf\"", 56, "belt", "limits.name", "expected each name once"),
        ("shelf = true", "shelve = true", 52, "belt", "limits.shelve", "did you mean `shelf`?"),
    ]);
}

#[test]
fn keys_of_tolerance_extension_and_notice() {
    check(&[
        (
            "{ percent = 10, hours-max = 2, days-max = 5 }",
            "5",
            34,
            "plugs",
            "tolerance",
            "such as {",
        ),
        ("percent = 10", "percent = 100", 34, "plugs", "tolerance.percent", "from 1 to 99"),
        ("hours-max = 2", "hours-max = 0", 34, "plugs", "tolerance.hours-max", "hours above zero"),
        ("days-max = 5", "days-max = 0", 34, "plugs", "tolerance.days-max", "from 1 to 3650"),
        ("hours-max", "hours_max", 34, "plugs", "tolerance.hours_max", "did you mean `hours-max`?"),
        (
            "percent = 10",
            "percent = 10, months = -1",
            34,
            "plugs",
            "tolerance.months",
            "from 1 to 1200",
        ),
        (
            "done-by = [\"over",
            "extension-percent = 0\ndone-by = [\"over",
            22,
            "rebuild",
            "extension-percent",
            "from 1 to 100",
        ),
        ("{ hours = 5, days = 14 }", "\"soon\"", 38, "plugs", "notice", "such as { hours = 5"),
        ("hours = 5", "hours = \"x\"", 38, "plugs", "notice.hours", "not a number of hours"),
        ("days = 14", "days = -1", 38, "plugs", "notice.days", "from 0 to 3650"),
        ("days = 14", "weeks = 2", 38, "plugs", "notice.weeks", "expected one of hours, days"),
        ("[\"rebuild\"]", "[\"rebild\"]", 36, "plugs", "satisfied-by", "did you mean `rebuild`?"),
        ("[\"rebuild\"]", "\"rebuild\"", 36, "plugs", "satisfied-by", "expected a list of ids"),
    ]);
}
