//! `on-condition`, the inspection that lets an item run on past its extension: a good value, and each bad one
//! with the whole message.

use super::refused::{GOOD, faults};
use crate::parse;
use gudgeon_life::calendar::CalendarSpan;
use gudgeon_life::hours::Hours;
use gudgeon_life::ids::ItemId;
use gudgeon_life::programme::{Interval, NextPolicy};

const REBUILD_DONE: &str = "done-by = [\"overhauled\"]";

/// The good file with other lines in place of the `done-by` of its rebuild, line 22.
fn rebuild(lines: &str) -> String {
    GOOD.replacen(REBUILD_DONE, lines, 1)
}

fn printed(text: &str) -> Vec<String> {
    faults(text).iter().map(ToString::to_string).collect()
}

#[test]
fn it_is_read_as_written() {
    let with = |value: &str| {
        let text =
            rebuild(&format!("extension-percent = 20\non-condition = {value}\n{REBUILD_DONE}"));
        let read = parse("test.toml", &text).expect("nothing is wrong in it");
        read.item(&ItemId::new("rebuild").expect("a short name")).expect("in the file").clone()
    };
    let both = with("{ hours = 100, months = 12 }");
    let hundred = Hours::from_whole(100);
    let interval = |hours, spans: &[CalendarSpan]| Some(Interval { hours, spans: spans.to_vec() });
    assert_eq!(both.on_condition, interval(Some(hundred), &[CalendarSpan::months(12)]));
    assert_eq!(both.next, NextPolicy::FromDone, "of a renewal, as ever");
    assert_eq!(with("{ hours = 100 }").on_condition, interval(Some(hundred), &[]));
    assert_eq!(with("{ days = 90 }").on_condition, interval(None, &[CalendarSpan::days(90)]));
    let good = parse("test.toml", GOOD).expect("nothing is wrong in it");
    assert!(good.items.iter().all(|item| item.on_condition.is_none()));
}

#[test]
fn a_bad_value_says_what_would_be_right() {
    let expected = "expected hours, months or days, such as { hours = 100, months = 12 }";
    for (value, key, says) in [
        ("100", "on-condition", format!("found 100; {expected}")),
        (
            "{}",
            "on-condition",
            "found neither hours nor calendar time; expected hours, months or days".to_owned(),
        ),
        (
            "{ years = 1 }",
            "on-condition.years",
            "write years as months: 5 years are `months = 60`".to_owned(),
        ),
        (
            "{ hours = 10 }",
            "on-condition",
            "found 10.0 h; expected more than the usual notice of 10.0 h".to_owned(),
        ),
        (
            "{ hours = 100, months = 1 }",
            "on-condition",
            "found 1 month; expected more than the usual notice of 30 days".to_owned(),
        ),
    ] {
        let text =
            rebuild(&format!("extension-percent = 20\non-condition = {value}\n{REBUILD_DONE}"));
        let found = printed(&text);
        let fault = format!("test.toml:23: item `rebuild`: key `{key}`: {says}");
        assert!(found.contains(&fault), "{value}: {found:#?}");
    }
}

#[test]
fn it_stands_only_where_it_would_act() {
    let every = "on-condition = { hours = 100, months = 12 }";
    let alone = rebuild(&format!("{every}\n{REBUILD_DONE}"));
    assert_eq!(
        printed(&alone),
        [
            "test.toml:22: item `rebuild`: key `on-condition`: begins when `extension-percent` ends, \
          and there is none; add it or take this out"
        ]
    );
    let inspected = "done-by = [\"inspected\", \"overhauled\"]\nnext = \"from-done\"";
    let again = rebuild(&format!("extension-percent = 20\n{every}\n{inspected}"));
    assert_eq!(
        printed(&again),
        [
            "test.toml:23: item `rebuild`: key `on-condition`: an inspection lets it run on and begins \
          no new life; expected nothing but renewed or overhauled in `done-by`"
        ]
    );
    for class in ["directive", "airworthiness-limitation"] {
        let rebuilt = format!("title = \"Rebuild\"\nclass = \"{class}\"");
        let text = alone.replacen("title = \"Rebuild\"\nclass = \"recommended\"", &rebuilt, 1);
        let fault = format!("class `{class}` never runs late; take it out");
        let fault = format!("test.toml:22: item `rebuild`: key `on-condition`: {fault}");
        assert_eq!(printed(&text), [fault]);
    }
    let strike = "after = [\"propeller-strike\"]";
    let happening = GOOD.replacen(strike, &format!("{strike}\n{every}"), 1);
    let acts = "acts on intervals, and what comes `after` something is due at once; take it out";
    let found = printed(&happening);
    let fault = format!("test.toml:111: item `strike`: key `on-condition`: {acts}");
    assert!(found.contains(&fault), "{found:#?}");
}

/// A window is as wide as a tolerance, and an extension takes no tolerance.
#[test]
fn no_window_lies_around_an_extension() {
    let done = "done-by = [\"inspected\"]\nnext = \"window\"\nextension-percent = 20";
    assert_eq!(
        printed(&rebuild(done)),
        ["test.toml:23: item `rebuild`: key `next`: `window` is the width of a `tolerance`, and \
          none comes on top of `extension-percent`; expected from-due or from-done"]
    );
}
