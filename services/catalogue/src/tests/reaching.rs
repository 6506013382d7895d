//! Steps, first intervals, endings, happenings, and which engines an item is for: a good value of each key,
//! and each bad one with the whole message.

use super::refused::{GOOD, faults};
use crate::{parse, usual_words};
use gudgeon_life::calendar::CalendarSpan;
use gudgeon_life::fact::{Attribute, EventKind};
use gudgeon_life::hours::Hours;
use gudgeon_life::ids::{ItemId, PartKind};
use gudgeon_life::programme::{Action, Applies, CountsFrom, Interval, Item, SerialRange};

/// What is changed, what it becomes, and the one fault as it is printed, without the name of the file.
type Case = (&'static str, &'static str, &'static str);

fn check_exactly(cases: &[Case]) {
    for (from, to, fault) in cases {
        assert!(GOOD.contains(from), "the good file has no {from:?}");
        let found = faults(&GOOD.replacen(from, to, 1));
        let found: Vec<String> = found.iter().map(ToString::to_string).collect();
        assert_eq!(found, [format!("test.toml:{fault}")], "{to:?}");
    }
}

fn good(id: &str) -> Item {
    let engine_type = parse("test.toml", GOOD).expect("nothing is wrong in it");
    engine_type.item(&ItemId::new(id).expect("a short name")).expect("in the file").clone()
}

#[test]
fn good_values_are_read_as_written() {
    let head = good("head");
    let [limit] = head.limits.as_slice() else { panic!("one limit") };
    assert_eq!(limit.once, [2, 10, 25].map(Hours::from_whole));
    assert_eq!(limit.every, Interval { hours: Some(Hours::from_whole(50)), spans: vec![] });
    assert_eq!(limit.first, None);
    assert_eq!(head.after, [EventKind::Overheat, EventKind::Seizure]);
    assert_eq!(head.applies, Applies::default());

    let crank = good("crank");
    let [limit] = crank.limits.as_slice() else { panic!("one limit") };
    let day = chrono::NaiveDate::from_ymd_opt(2026, 5, 1).expect("a day");
    assert_eq!(limit.counts_from, CountsFrom::Effective(day));
    let first = Interval { hours: Some(Hours::from_whole(5)), spans: vec![CalendarSpan::days(30)] };
    assert_eq!(limit.first, Some(first));
    assert_eq!((crank.until, crank.done_by), (vec![Action::Renewed], vec![Action::Inspected]));
    let range = |prefix: &str, first, last| SerialRange { prefix: prefix.to_owned(), first, last };
    assert_eq!(crank.applies.serials, [range("", 2000, 2349), range("K", 100, 299)]);
    assert_eq!(crank.applies.lots, ["B7"]);
    assert_eq!(crank.applies.part, PartKind::new("crankshaft"));
    let described: Vec<_> = crank.applies.described.into_iter().collect();
    let words = ["salt-air", "school"].map(str::to_owned).into();
    assert_eq!(described, [(Attribute::Use, words)]);

    let strike = good("strike");
    assert_eq!((strike.limits, strike.after), (vec![], vec![EventKind::PropellerStrike]));
}

#[test]
fn steps() {
    check_exactly(&[
        (
            "once = [2, 10, 25]",
            "once = 2",
            "77: item `head`: key `once`: found 2; expected a list of hours above zero, such as \
             [2, 10, 25, 50]",
        ),
        (
            "once = [2, 10, 25]",
            "once = [0, 10]",
            "77: item `head`: key `once`: found 0; expected a list of hours above zero, such as \
             [2, 10, 25, 50]",
        ),
        (
            "once = [2, 10, 25]",
            "once = [2, 10, \"10:00\"]",
            "77: item `head`: key `once`: found 10.0 h after 10.0 h; expected rising steps",
        ),
        (
            "notice = { hours = 1 }",
            "notice = { hours = 2 }",
            "82: item `head`: key `notice`: is 2.0 h; expected less than the interval of 2.0 h",
        ),
        (
            "counts-from = \"overhaul\"\nonce",
            "counts-from = \"done\"\nonce",
            "76: item `head`: key `counts-from`: found steps counted from the last of them; \
             expected new, overhaul, fitted or another beginning that stands",
        ),
        (
            "counts-from = \"first-fitted\"",
            "counts-from = \"first-fitted\"\nonce = [30]",
            "58: item `belt`: key `limits.once`: a part that is renewed begins again from the \
             beginning, so what follows would never come; expected `every` alone, or other work in \
             `done-by`",
        ),
        (
            "once = [2, 10, 25]\nevery = { hours = 50 }\nnext",
            "once = [2, 10, 25]\nnext",
            "78: item `head`: key `next`: acts on what repeats, and nothing does here; take it out",
        ),
    ]);
    // Steps alone need no interval, and then no `next`.
    let alone = "every = { hours = 50 }\nnext = \"from-done\"\ndone-by = [\"adjusted\"]";
    assert_eq!(faults(&GOOD.replacen(alone, "done-by = [\"adjusted\"]", 1)), []);
}

#[test]
fn first_intervals() {
    check_exactly(&[
        (
            "first = { hours = 5, days = 30 }",
            "first = 5",
            "91: item `crank`: key `first`: found 5; expected hours, months or days, such as \
             { hours = 100, months = 12 }",
        ),
        (
            "first = { hours = 5, days = 30 }",
            "first = {}",
            "91: item `crank`: key `first`: found neither hours nor calendar time; expected hours, \
             months or days",
        ),
        (
            "first = { hours = 5, days = 30 }",
            "first = { hours = 5, years = 1 }",
            "91: item `crank`: key `first.years`: write years as months: 5 years are `months = 60`",
        ),
        (
            "first = { hours = 5, days = 30 }",
            "first = { months = 12, hours = 50.0 }",
            "91: item `crank`: key `first`: is the same as `every`; take it out",
        ),
        (
            "first = { hours = 5, days = 30 }\nevery = { hours = 50, months = 12 }",
            "first = { hours = 5, days = 30 }",
            "84: item `crank`: key `every`: missing; expected hours, months or days, such as \
             { hours = 100, months = 12 }, or `once` steps, or `after` alone for what only a \
             happening asks for",
        ),
        (
            "once = [2, 10, 25]",
            "once = [2, 10, 25]\nfirst = { hours = 5 }",
            "78: item `head`: key `first`: stands beside `once`, whose steps come first already; \
             take one of the two out",
        ),
        (
            "counts-from = \"overhaul\"\nonce = [2, 10, 25]",
            "counts-from = \"done\"\nfirst = { hours = 5 }",
            "77: item `head`: key `first`: counts from a beginning, and `done` has none before it \
             was done; expected another `counts-from`, or the key left out",
        ),
        (
            "shelf = true",
            "shelf = true\nfirst = { months = 6 }",
            "53: item `belt`: key `limits.first`: a shelf life runs once, from made to fitted; take \
             it out",
        ),
    ]);
}

#[test]
fn endings() {
    check_exactly(&[
        (
            "until = [\"renewed\"]",
            "until = \"renewed\"",
            "95: item `crank`: key `until`: found \"renewed\"; expected a list with at least one of \
             inspected, cleaned, adjusted, machined, refitted, renewed, overhauled",
        ),
        (
            "until = [\"renewed\"]",
            "until = [\"replaced\"]",
            "95: item `crank`: key `until`: found \"replaced\"; expected a list with at least one \
             of inspected, cleaned, adjusted, machined, refitted, renewed, overhauled",
        ),
        (
            "until = [\"renewed\"]",
            "until = [\"renewed\", \"renewed\"]",
            "95: item `crank`: key `until`: found the same name twice; expected each once",
        ),
        (
            "until = [\"renewed\"]",
            "until = [\"renewed\"]\nafter = [\"seizure\"]",
            "95: item `crank`: key `until`: would end it for good, and what comes `after` may \
             happen again; take one of the two out",
        ),
        (
            "until = [\"renewed\"]",
            "until = [\"renewed\", \"inspected\"]",
            "93: item `crank`: key `next`: acts on what repeats, and nothing does here; take it out",
        ),
    ]);
}

#[test]
fn happenings() {
    let kinds = "propeller-strike, sudden-stoppage, overheat, seizure, overspeed, immersion, \
                 fuel-error, oil-error, return-to-use";
    let strike = "after = [\"propeller-strike\"]";
    for (to, says) in [
        (
            "after = []",
            format!("found an empty list; expected a list with at least one of {kinds}"),
        ),
        (
            "after = [\"prop-strike\"]",
            format!("found \"prop-strike\"; expected a list with at least one of {kinds}"),
        ),
        (
            "after = [\"overheating\"]",
            format!(
                "found \"overheating\"; expected a list with at least one of {kinds} (did you mean \
                 `overheat`?)"
            ),
        ),
    ] {
        let found: Vec<String> =
            faults(&GOOD.replacen(strike, to, 1)).iter().map(ToString::to_string).collect();
        assert_eq!(found, [format!("test.toml:110: item `strike`: key `after`: {says}")]);
    }
    // Nothing that is about intervals acts where there are none.
    let acts = "acts on intervals, and what comes `after` something is due at once; take it out";
    for (with, key) in [
        ("notice = { hours = 5 }", "notice"),
        ("extension-percent = 20", "extension-percent"),
        ("tolerance = { percent = 10 }\ngranted = \"automatic\"", "tolerance"),
    ] {
        let found: Vec<String> = faults(&GOOD.replacen(strike, &format!("{strike}\n{with}"), 1))
            .iter()
            .map(ToString::to_string)
            .collect();
        assert_eq!(found, [format!("test.toml:111: item `strike`: key `{key}`: {acts}")]);
    }
    // A limit begun but not given is no happening alone.
    check_exactly(&[
        (
            strike,
            "after = [\"propeller-strike\"]\ncounts-from = \"new\"\nnext = \"from-done\"",
            "104: item `strike`: key `every`: missing; expected hours, months or days, such as \
             { hours = 100, months = 12 }, or `once` steps, or `after` alone for what only a \
             happening asks for",
        ),
        (
            "[[items]]\nid = \"strike\"",
            "[[items]]\nid = \"none\"\ntitle = \"None\"\nclass = \"recommended\"\nsource = \"x\"\n\
             done-by = [\"renewed\"]\ncounts-from = \"new\"\n\n[[items]]\nid = \"strike\"",
            "104: item `none`: key `every`: missing; expected hours, months or days, such as \
             { hours = 100, months = 12 }, or `once` steps, or `after` alone for what only a \
             happening asks for",
        ),
    ]);
}

#[test]
fn serial_numbers() {
    let serials = "serials = [\"2000-2349\", \"K100-K299\"]";
    let key = "99: item `crank`: key `applies-to.serials`: ";
    for (to, says) in [
        (
            "serials = \"2000-2349\"",
            "found \"2000-2349\"; expected a list of serial numbers from one to another, such as \
             \"K100-K299\"",
        ),
        (
            "serials = [\"2000\"]",
            "found \"2000\"; expected two serial numbers with a hyphen between them, such as \
             \"K100-K299\", or \"K117-K117\" for one alone",
        ),
        ("serials = [\"K299-K100\"]", "found 299 before 100; expected the smaller number first"),
        (
            "serials = [\"K100-L299\"]",
            "found \"K\" before the first number and \"L\" before the last; expected the same \
             letters before both",
        ),
        (
            "serials = [\"K1-K99999999999999999999\"]",
            "found \"K1-K99999999999999999999\"; expected two serial numbers with a hyphen between \
             them, such as \"K100-K299\", or \"K117-K117\" for one alone",
        ),
    ] {
        let found: Vec<String> =
            faults(&GOOD.replacen(serials, to, 1)).iter().map(ToString::to_string).collect();
        assert_eq!(found, [format!("test.toml:{key}{says}")]);
    }
    // Letters with a hyphen of their own, and one number alone.
    for (text, prefix, first, last) in
        [("AB-100-AB-299", "AB-", 100, 299), ("A1-2-A1-9", "A1-", 2, 9), ("K7-K7", "K", 7, 7)]
    {
        let text = GOOD.replacen(serials, &format!("serials = [\"{text}\"]"), 1);
        let read = parse("test.toml", &text).expect("nothing is wrong in it");
        let crank = read.item(&ItemId::new("crank").expect("a short name")).expect("in the file");
        let range = SerialRange { prefix: prefix.to_owned(), first, last };
        assert_eq!(crank.applies.serials, [range]);
    }
}

#[test]
fn parts_lots_and_words() {
    check_exactly(&[
        (
            "part = \"crankshaft\"",
            "part = \"Crank shaft\"",
            "101: item `crank`: key `applies-to.part`: found \"Crank shaft\"; expected a short name \
             for the kind of part, such as \"crankshaft\", in lower-case letters, digits and hyphens",
        ),
        (
            "lots = [\"B7\"]\npart = \"crankshaft\"",
            "lots = [\"B7\"]",
            "100: item `crank`: key `applies-to.lots`: an engine has no lot; expected `part` beside \
             it, or an item about a `component`",
        ),
        (
            "lots = [\"B7\"]",
            "lots = [7]",
            "100: item `crank`: key `applies-to.lots`: found 7; expected a list of lots as they are \
             marked on the part",
        ),
        (
            "serials = [\"2000-2349\", \"K100-K299\"]\nlots = [\"B7\"]\n",
            "",
            "99: item `crank`: key `applies-to.part`: says which part `serials` and `lots` are of, \
             and there are none; add them or take it out",
        ),
        (
            "[items.applies-to]\nserials = [\"2000-2349\", \"K100-K299\"]\nlots = [\"B7\"]\n\
             part = \"crankshaft\"\nuse = [\"school\", \"salt-air\"]",
            "[items.applies-to]",
            "98: item `crank`: key `applies-to`: found nothing in it; expected a table \
             [items.applies-to] with serials, lots, use or the like",
        ),
        (
            "use = [\"school\", \"salt-air\"]",
            "use = [\"schol\"]",
            "102: item `crank`: key `applies-to.use`: found \"schol\"; did you mean `school`?",
        ),
        (
            "use = [\"school\", \"salt-air\"]",
            "use = \"school\"",
            "102: item `crank`: key `applies-to.use`: found \"school\"; expected a list of words \
             such as private, school, tow, hire, salt-air",
        ),
        (
            "use = [\"school\", \"salt-air\"]",
            "useage = [\"school\"]",
            "102: item `crank`: key `applies-to.useage`: no such key here; expected one of serials, \
             part, lots, ignition, use, fuel, oil, lubrication, regime",
        ),
        (
            "months = 60 }\n\n[[items]]\nid = \"bulletin\"",
            "months = 60 }\n\n[items.applies-to]\nlots = [\"B7\"]\npart = \"fan-belt\"\n\n\
             [[items]]\nid = \"bulletin\"",
            "62: item `belt`: key `applies-to.part`: the item is about each `fan-belt` already; \
             take it out",
        ),
    ]);
}

#[test]
fn words_that_describe_an_engine() {
    for attribute in Attribute::ALL {
        let key = attribute.word();
        let usual = usual_words(attribute).first().expect("at least one usual word");
        let with = |value: &str| GOOD.replacen("use = [", &format!("{key} = [{value}]\n#"), 1);
        // A usual word and one of somebody's own are both good; one nearly usual is neither.
        assert_eq!(faults(&with(&format!("\"{usual}\", \"xyzzy\""))), [], "{key}");
        let found: Vec<String> =
            faults(&with(&format!("\"{usual}q\""))).iter().map(ToString::to_string).collect();
        if attribute == Attribute::Regime {
            assert_eq!(found, [""; 0], "rules of other countries differ by a letter or two");
            continue;
        }
        let fault = format!(
            "test.toml:102: item `crank`: key `applies-to.{key}`: found \"{usual}q\"; did you mean \
             `{usual}`?"
        );
        assert_eq!(found, [fault]);
    }
}

/// A part may have steps and a first interval of its own, as long as work other than renewing it closes them.
#[test]
fn a_part_that_is_only_renewed_has_one_interval() {
    let from = "counts-from = \"first-fitted\"";
    let with =
        |done: &str| {
            GOOD.replacen(from, &format!("{from}\nfirst = {{ hours = 60, months = 60 }}"), 1)
                .replacen("done-by = [\"renewed\"]", done, 1)
        };
    let found: Vec<String> =
        faults(&with("done-by = [\"renewed\"]")).iter().map(ToString::to_string).collect();
    let fault = "test.toml:58: item `belt`: key `limits.first`: a part that is renewed begins again \
                 from the beginning, so what follows would never come; expected `every` alone, or \
                 other work in `done-by`";
    assert_eq!(found, [fault]);
    assert_eq!(faults(&with("done-by = [\"inspected\", \"renewed\"]\nnext = \"from-done\"")), []);
}
