//! Rules that contradict themselves, rules not counted yet, and files that are not TOML.

use super::refused::{GOOD, check, faults};

/// A rule that is not counted must never be passed over: ignoring it would be unsafe.
#[test]
fn what_is_not_a_rule_of_an_item_is_refused_by_name() {
    for (key, says) in [
        ("limit", "a measured limit stands with its quantity"),
        ("events", "stands under `after`"),
        ("recheck", "recorded with its finding"),
        ("preservation", "recorded with its engine"),
    ] {
        let with = format!("{key} = []\nclass = \"directive\"");
        let found = faults(&GOOD.replacen("class = \"directive\"", &with, 1));
        let [fault] = found.as_slice() else { panic!("{key}: one fault expected: {found:#?}") };
        assert_eq!((fault.item.as_deref(), fault.key.as_str()), (Some("bulletin"), key));
        assert_eq!(fault.line, Some(63));
        assert!(fault.message.contains(says), "{fault}");
    }
}

const PLUGS_CLASS: &str = "class = \"required-inspection\"";
const BULLETIN_NEXT: &str = "next = \"from-done\"";
const REBUILD_DONE: &str = "done-by = [\"overhauled\"]";
const BELT_CLASS: &str =
    "class = \"recommended\"\nsource = \"common practice\"\ndone-by = [\"renewed\"]";

#[test]
fn nothing_binding_runs_late() {
    let directive = "class = \"directive\"";
    let limitation = "class = \"airworthiness-limitation\"";
    let extended = "extension-percent = 20\nnext = \"from-done\"";
    let both = "extension-percent = 20\ntolerance = { hours = 9 }\ngranted = \"automatic\"\n\
                done-by = [\"overhauled\"]";
    let belt = "extension-percent = 20\nclass = \"recommended\"\nsource = \"x\"\n\
                done-by = [\"renewed\"]";
    check(&[
        (PLUGS_CLASS, directive, 34, "plugs", "tolerance", "`directive` never runs late"),
        (PLUGS_CLASS, limitation, 34, "plugs", "tolerance", "limitation` never runs late"),
        (BULLETIN_NEXT, extended, 68, "bulletin", "extension-percent", "never runs late"),
        (REBUILD_DONE, both, 23, "rebuild", "tolerance", "no tolerance comes on top"),
        (BELT_CLASS, belt, 44, "belt", "extension-percent", "past its shelf life"),
    ]);
    let inspection =
        GOOD.replacen("class = \"directive\"", PLUGS_CLASS, 1).replacen(BULLETIN_NEXT, extended, 1);
    let found: Vec<String> = faults(&inspection).iter().map(ToString::to_string).collect();
    let [fault] = found.as_slice() else { panic!("one fault expected: {found:#?}") };
    assert!(fault.contains("this inspection is required"), "{fault}");
}

#[test]
fn no_key_stands_where_it_would_not_act() {
    let granted = "granted = \"automatic\"\nnext = \"from-done\"";
    let ended = "calendar = \"end-of-month\"\nevery = { hours = 25, days = 45 }";
    let hours_alone = "every = { hours = 300 }\ncalendar = \"day\"";
    let noticed = "notice = { days = 5 }\nevery = { hours = 300 }";
    let coded = "counts-from = \"first-fitted\"\ncode-day = \"first\"";
    let tolerated = "tolerance = { months = 1 }\ngranted = \"automatic\"\nevery = { hours = 300 }";
    let capped = "tolerance = { hours = 9, days-max = 9 }\ngranted = \"automatic\"\nevery =";
    let empty = "tolerance = {}\ngranted = \"automatic\"\nevery =";
    let every = "every = { hours = 300, months = 60 }";
    check(&[
        (BULLETIN_NEXT, granted, 68, "bulletin", "granted", "there is none; take it out"),
        (
            "every = { hours = 25, days = 45 }",
            ended,
            67,
            "bulletin",
            "calendar",
            "`every` has none",
        ),
        (every, hours_alone, 22, "rebuild", "calendar", "`every` has neither"),
        (every, noticed, 21, "rebuild", "notice.days", "counts no calendar time"),
        (every, tolerated, 21, "rebuild", "tolerance.months", "counts no calendar time"),
        ("every =", capped, 21, "rebuild", "tolerance.days-max", "acts on `percent`"),
        ("every =", empty, 21, "rebuild", "tolerance", "expected hours, months, days or percent"),
        ("counts-from = \"first-fitted\"", coded, 58, "belt", "limits.code-day", "made or new"),
        (
            "every =",
            "effective = 2026-05-01\nevery =",
            21,
            "rebuild",
            "effective",
            "acts only with",
        ),
        ("every =", "code-day = \"last\"\nevery =", 21, "rebuild", "code-day", "of a `component`"),
        (
            BELT_CLASS,
            "class = \"recommended\"\nsource = \"x\"\nevery = { hours = 1 }\ndone-by = [\"renewed\"]",
            46,
            "belt",
            "every",
            "beside `limits`",
        ),
    ]);
}

#[test]
fn counts_begin_where_the_part_has_a_beginning() {
    let fitted = "counts-from = \"fitted\"";
    let first = "counts-from = \"first-fitted\"";
    let made = "counts-from = \"made\"";
    let new = "counts-from = \"new\"";
    check(&[
        ("counts-from = \"overhaul\"", fitted, 20, "rebuild", "counts-from", "the engine itself"),
        ("counts-from = \"overhaul\"", first, 20, "rebuild", "counts-from", "the engine itself"),
        (
            "counts-from = \"overhaul\"",
            made,
            20,
            "rebuild",
            "counts-from",
            "`counts-from = \"new\"`",
        ),
        (first, made, 57, "belt", "limits.counts-from", "calendar time alone"),
        (made, new, 52, "belt", "limits.shelf", "expected `counts-from = \"made\"`"),
        ("every =", "shelf = true\nevery =", 21, "rebuild", "shelf", "expected a `component`"),
    ]);
    // Calendar time alone may count from the day the engine was made.
    let by_age = "counts-from = \"made\"\nevery = { months = 60 }";
    let from = "counts-from = \"overhaul\"\nevery = { hours = 300, months = 60 }";
    assert_eq!(faults(&GOOD.replacen(from, by_age, 1)), []);
}

#[test]
fn policies_fit_the_work() {
    let windowed = "next = \"window\"\ndone-by = [\"overhauled\"]";
    let long = "tolerance = { hours = 300 }\ngranted = \"automatic\"\ndone-by = [\"overhauled\"]";
    let years = "tolerance = { months = 60 }\ngranted = \"automatic\"\ndone-by = [\"overhauled\"]";
    check(&[
        (REBUILD_DONE, windowed, 22, "rebuild", "next", "always counts from done"),
        (BULLETIN_NEXT, "next = \"window\"", 68, "bulletin", "next", "there is none; add it"),
        (REBUILD_DONE, long, 22, "rebuild", "tolerance.hours", "less than the interval of 300.0 h"),
        (REBUILD_DONE, years, 22, "rebuild", "tolerance", "less than the interval of some 1800"),
        ("hours = 5", "hours = 25", 38, "plugs", "notice", "less than the interval of 25.0 h"),
        ("days = 14", "days = 180", 38, "plugs", "notice", "less than the interval of 180 days"),
        // The usual notice of 10 hours would say "coming due" from the day the work was done.
        (
            "every = { hours = 25, days = 45 }",
            "every = { hours = 10 }",
            60,
            "bulletin",
            "notice",
            "is 10.0 h",
        ),
    ]);
}

#[test]
fn larger_items_cover_smaller_ones() {
    let at_one_end = "positions = [\"mag\"]\nclass = \"recommended\"";
    check(&[
        ("[\"rebuild\"]", "[\"plugs\"]", 36, "plugs", "satisfied-by", "the item itself"),
        ("[\"rebuild\"]", "[\"belt\"]", 36, "plugs", "satisfied-by", "about another part"),
        ("class = \"recommended\"", at_one_end, 37, "plugs", "satisfied-by", "every position"),
        (
            BULLETIN_NEXT,
            "satisfied-by = [\"plugs\"]\nnext = \"from-done\"",
            68,
            "bulletin",
            "satisfied-by",
            "every position",
        ),
    ]);
    let mutual =
        GOOD.replacen(REBUILD_DONE, "satisfied-by = [\"plugs\"]\ndone-by = [\"overhauled\"]", 1);
    let found: Vec<String> = faults(&mutual).iter().map(ToString::to_string).collect();
    assert!(found.iter().any(|fault| fault.contains("one way only")), "{found:#?}");
}

#[test]
fn the_same_name_twice_is_refused() {
    let again = format!("{GOOD}\n[[items]]\nid = \"plugs\"\n");
    let found: Vec<String> = faults(&again).iter().map(ToString::to_string).collect();
    let first = "test.toml:113: item `plugs`: key `id`: `plugs` is on line 24 already; expected each \
                 item once";
    assert!(found.iter().any(|fault| fault == first), "{found:#?}");
}

/// Somebody who mends a file wants the whole list, in the order of the file.
#[test]
fn all_faults_come_at_once_and_in_order() {
    let many = GOOD
        .replacen("invented = true", "", 1)
        .replacen("hours = 300", "hours = 0", 1)
        .replacen("done-by = [\"renewed\"]", "done-by = [\"looked-at\"]", 1);
    let lines: Vec<_> = faults(&many).iter().map(|fault| (fault.line, fault.key.clone())).collect();
    let expected = [(1, "invented"), (21, "every.hours"), (46, "done-by")];
    assert_eq!(lines, expected.map(|(line, key)| (Some(line), key.to_owned())));
}

#[test]
fn what_is_not_toml_is_refused_with_its_line() {
    for (text, line) in [
        ("name = \"a\"\nname = \"b\"\n", 2),
        ("name = \"a\"\ntitle = \n", 2),
        ("[[items]\n", 1),
        ("name = \"a\"\nentered-up-to = 2026-02-30\n", 2),
        ("\u{0}", 1),
    ] {
        let found = faults(text);
        assert!(!found.is_empty(), "{text:?}");
        for fault in &found {
            assert_eq!((fault.line, fault.item.as_deref()), (Some(line), None), "{fault}");
        }
    }
    let deep = format!("a = {}", "[".repeat(10_000));
    assert!(!faults(&deep).is_empty());
    let keys: Vec<String> = faults("").into_iter().map(|fault| fault.key).collect();
    let required = ["name", "title", "invented", "basis", "entered-up-to", "positions", "items"];
    assert_eq!(keys, required);
}

/// What stands in a file must not reach a terminal as a control sequence.
#[test]
fn control_characters_are_not_repeated() {
    let found = faults("\"\\u001b[2J\" = 1\nname = \"\\u001b[2J\"\n");
    assert!(found.iter().all(|fault| !fault.to_string().contains('\u{1b}')), "{found:#?}");
}
