//! The due rules key by key, asked of a running service: how intervals count, where the next one begins, and
//! how far past due an item may run. Parts and rubber are in `table_parts`, findings and happenings in
//! `table_records`.
//!
//! The figures were worked by hand from the rules; no published source unless one is named beside them.

#![expect(clippy::indexing_slicing, reason = "a missing field in an answer fails the test")]

use gudgeon_tests::Service;
use gudgeon_tests::story::{Story, engine_type, item, line_of, lines};
use serde_json::{Value, json};

/// Advice, closed by looking at it, the next interval from done.
const ADVICE: &str = "class = \"recommended\"\ncounts-from = \"done\"\nnext = \"from-done\"\ndone-by = [\"inspected\"]\n";

/// A service that knows one engine, made and new on 2019-01-01, and what was done to its one item: on this
/// day, at these hours, this action. No action only states the hours.
fn told(keys: &str, work: &[(&str, &str, &str)]) -> Service {
    story(work).told(&engine_type(&item("item", keys)))
}

fn story(work: &[(&str, &str, &str)]) -> Story {
    let mut story = Story::of_new_engine();
    for (on, hours, action) in work {
        match *action {
            "" => story.stated(1, on, hours),
            action => story.work(1, on, hours, "item", action),
        }
    }
    story
}

/// How the one item stands on a day.
fn on(service: &Service, day: &str) -> Value {
    line_of(service, 1, day, "item")
}

fn status(service: &Service, day: &str) -> String {
    on(service, day)["status"].as_str().unwrap_or("no line").to_owned()
}

/// Both sides, the governing one, and `both` for a tie: half of 100 h and half of 100 days are left on
/// 2023-02-20, day 50 of the year 2023 counted from its first day.
#[test]
fn every_counts_each_side_apart_and_names_the_one_that_governs() {
    let keys = format!("{ADVICE}every = {{ hours = 100, days = 100 }}");
    let after =
        |hours| told(&keys, &[("2023-01-01", "500.0", "inspected"), ("2023-02-20", hours, "")]);
    let even = on(&after("550.0"), "2023-02-20");
    assert_eq!(even["due"], json!({"hours": "600.0", "on": "2023-04-11"}), "{even:#}");
    let sides: Vec<&Value> =
        even["legs"].as_array().into_iter().flatten().map(|leg| &leg["counts"]).collect();
    assert_eq!(sides, ["hours", "calendar"]);
    assert_eq!(even["governs"], "both");
    assert_eq!(on(&after("550.1"), "2023-02-20")["governs"], "hours");
    assert_eq!(on(&after("550.0"), "2023-02-21")["governs"], "calendar");
    assert_eq!(on(&after("600.1"), "2023-04-12")["governs"], "both", "past due on both sides");
}

/// The shortest of several limits, each from a beginning of its own.
#[test]
fn the_earliest_of_several_limits_governs() {
    let limit = |name: &str, from: &str, hours: u32| {
        format!(
            "[[items.limits]]\nname = \"{name}\"\ncounts-from = \"{from}\"\nevery = {{ hours = {hours} }}\n"
        )
    };
    let keys = format!(
        "class = \"recommended\"\ndone-by = [\"renewed\"]\n{}{}",
        limit("since overhaul", "overhaul", 300),
        limit("in all", "new", 1000)
    );
    let mut story = story(&[]);
    for (day, hours, due) in [("2021-01-01", "500.0", "800.0"), ("2022-01-01", "800.0", "1000.0")] {
        let overhaul = json!({"tsn": hours, "overhaul": {"scope": "full"}, "test_run": 0});
        story.inspection(overhaul, 1, day);
        let line = on(&story.told(&engine_type(&item("item", &keys))), day);
        assert_eq!(line["due"]["hours"], due, "{line:#}");
        assert_eq!(line["legs"].as_array().map(Vec::len), Some(2));
    }
}

/// Steps at 2, 10, 25 and 50 h: done at 14.0, it was 12.0 h late and closes two; the later ones stay.
#[test]
fn once_a_late_step_never_moves_the_later_ones() {
    let keys = "class = \"recommended\"\ncounts-from = \"overhaul\"\nonce = [2, 10, 25, 50]\ndone-by = [\"adjusted\"]\nnotice = { hours = 1 }";
    let mut work = vec![];
    for (day, hours, next) in [
        ("2019-02-01", "14.0", json!("25.0")),
        ("2019-03-01", "26.0", json!("50.0")),
        ("2019-04-01", "50.0", Value::Null),
    ] {
        work.push((day, hours, "adjusted"));
        let line = on(&told(keys, &work), "2019-05-01");
        assert_eq!(line["due"]["hours"], next, "{line:#}");
    }
}

/// First at 10 h, then every 100 h from done; renewed, it is never due again.
#[test]
fn first_comes_before_the_repeat_and_until_ends_it() {
    let keys = "class = \"recommended\"\ncounts-from = \"new\"\nfirst = { hours = 10 }\nevery = { hours = 100 }\nnext = \"from-done\"\ndone-by = [\"inspected\"]\nuntil = [\"renewed\"]\nnotice = { hours = 5 }";
    let due =
        |work: &[(&str, &str, &str)]| on(&told(keys, work), "2019-12-01")["due"]["hours"].clone();
    assert_eq!(due(&[]), "10.0");
    let inspected = ("2019-02-01", "12.0", "inspected");
    assert_eq!(due(&[inspected]), "112.0");
    let ended = told(keys, &[inspected, ("2019-03-01", "20.0", "renewed")]);
    assert_eq!(on(&ended, "2019-12-01"), Value::Null);
}

/// Never overhauled but logged: from new, and the line says so. Overhauled at 400.0 h: from there. No log:
/// unknown, and overdue once five years have passed since its records begin.
#[test]
fn counts_from_overhaul_says_what_it_counts_from() {
    let keys = "class = \"recommended\"\ncounts-from = \"overhaul\"\nevery = { hours = 300, months = 60 }\ndone-by = [\"overhauled\"]";
    let kind = engine_type(&item("item", keys));
    let new = on(&story(&[("2019-06-01", "30.0", "")]).told(&kind), "2020-01-01");
    assert_eq!(new["due"], json!({"hours": "300.0", "on": "2024-01-01"}));
    assert_eq!(new["notes"][0]["code"], "counted-from-new", "{new:#}");

    let mut overhauled = story(&[]);
    let overhaul = json!({"tsn": "400.0", "overhaul": {"scope": "full"}, "test_run": 0});
    overhauled.inspection(overhaul, 1, "2021-05-10");
    let overhauled = on(&overhauled.told(&kind), "2022-01-01");
    assert_eq!(overhauled["due"], json!({"hours": "700.0", "on": "2026-05-10"}));
    assert_eq!(overhauled["notes"], json!([]));

    let mut lost = Story::new();
    lost.engine(1, "2019-01-01", None, None);
    let lost = lost.told(&kind);
    let line = on(&lost, "2024-01-01");
    assert_eq!(line["status"], "unknown", "{line:#}");
    for leg in [0, 1] {
        assert_eq!(line["legs"][leg]["missing"]["code"], "no-overhaul");
    }
    assert_eq!(line["legs"][1]["no_later"]["due"], "2024-01-01");
    assert_eq!(status(&lost, "2024-01-02"), "overdue");
}

/// 31 August and six months are 28 February 2025; a month of tolerance counts from 31 August too.
#[test]
fn calendar_day_counts_from_the_anchor_and_clips() {
    let keys = format!(
        "{ADVICE}every = {{ months = 6 }}\ncalendar = \"day\"\ntolerance = {{ months = 1 }}\ngranted = \"automatic\""
    );
    let line = on(&told(&keys, &[("2024-08-31", "10.0", "inspected")]), "2024-12-01");
    assert_eq!(line["due"]["on"], "2025-02-28", "{line:#}");
    assert_eq!(line["latest"]["on"], "2025-03-31");
}

/// 14 CFR 91.409(a), FAA-H-8083-25: through the last day of the month a year on.
#[test]
fn calendar_end_of_month_runs_through_the_last_day() {
    let keys = format!("{ADVICE}every = {{ months = 12 }}\ncalendar = \"end-of-month\"");
    let service = told(&keys, &[("2024-01-15", "10.0", "inspected")]);
    assert_eq!(on(&service, "2024-06-01")["due"]["on"], "2025-01-31");
    assert_eq!(status(&service, "2025-01-31"), "coming-due");
    assert_eq!(status(&service, "2025-02-01"), "overdue");
}

/// Preserved for ten of its twelve months: due on the same day all the same.
#[test]
fn calendar_never_pauses_in_storage() {
    let mut story = story(&[("2024-01-15", "10.0", "inspected")]);
    story.about_engine(1, "preservations", json!({"on": "2024-02-01", "until": "2025-02-01"}));
    story.about_engine(1, "events", json!({"on": "2024-12-01", "kind": "return-to-use"}));
    let keys = format!("{ADVICE}every = {{ months = 12 }}");
    let line = on(&story.told(&engine_type(&item("item", &keys))), "2024-12-01");
    assert_eq!(line["due"]["on"], "2025-01-15", "{line:#}");
}

/// Due 1040.0, every 100 h: the next due for each hour at which it was done, and the work that did it.
fn next_due(keys: &str, done: &str, action: &str) -> Value {
    let keys = format!(
        "class = \"required-inspection\"\ncounts-from = \"done\"\nevery = {{ hours = 100 }}\n{keys}"
    );
    let work = [("2023-01-10", "940.0", "inspected"), ("2024-01-10", done, action)];
    on(&told(&keys, &work), "2024-01-11")
}

/// 14 CFR 91.409(b): late counts from due, early from done; 1190.0 is past 1140.0 too, so 1240.0, and the line
/// says that an interval was missed.
#[test]
fn next_from_due() {
    let keys = "next = \"from-due\"\ndone-by = [\"inspected\", \"renewed\"]";
    for (done, due) in [("1043.2", "1140.0"), ("1032.5", "1132.5"), ("1190.0", "1240.0")] {
        let line = next_due(keys, done, "inspected");
        assert_eq!(line["due"]["hours"], due, "done {done}: {line:#}");
        let flagged = line["notes"].as_array().into_iter().flatten();
        let flagged = flagged.filter(|note| note["code"] == "skipped-intervals").count();
        assert_eq!(flagged == 1, done == "1190.0", "{line:#}");
    }
    // Another part begins when it is fitted, whatever the rule says of inspections.
    assert_eq!(next_due(keys, "1043.2", "renewed")["due"]["hours"], "1143.2");
}

/// ML.A.302(d)(1): always from done.
#[test]
fn next_from_done() {
    let keys = "next = \"from-done\"\ndone-by = [\"inspected\"]";
    for (done, due) in [("1043.2", "1143.2"), ("1032.5", "1132.5"), ("1190.0", "1290.0")] {
        assert_eq!(next_due(keys, done, "inspected")["due"]["hours"], due, "done {done}");
    }
}

/// US Army TM 1-1500-328-23: inside the window (here 10 %, so 1030.0 to 1050.0) from due, early or late;
/// outside it from done.
#[test]
fn next_window() {
    let keys = "next = \"window\"\ntolerance = { percent = 10 }\ngranted = \"automatic\"\ndone-by = [\"inspected\", \"overhauled\"]";
    for (done, due) in [
        ("1029.9", "1129.9"),
        ("1030.0", "1140.0"),
        ("1043.2", "1140.0"),
        ("1050.0", "1140.0"),
        ("1050.1", "1150.1"),
    ] {
        assert_eq!(next_due(keys, done, "inspected")["due"]["hours"], due, "done {done}");
    }
    assert_eq!(next_due(keys, "1043.2", "overhauled")["due"]["hours"], "1143.2");
}

/// Every 200 h or 12 months, done at 100.0 h on 2024-01-31: due 300.0 h or 2025-01-31. A month counts 30 days
/// in a percentage: 10 % of 360 are 36.
#[test]
fn tolerance_kinds_and_the_strictest_of_several() {
    for (tolerance, hours, day) in [
        ("hours = 10", "310.0", "2025-01-31"),
        ("months = 1", "300.0", "2025-02-28"),
        ("days = 20", "300.0", "2025-02-20"),
        ("percent = 10", "320.0", "2025-03-08"),
        ("percent = 10, hours-max = 5, days-max = 30", "305.0", "2025-03-02"),
        ("hours = 10, percent = 10, days = 40", "310.0", "2025-03-08"),
        ("hours = 30, percent = 10, days = 20, months = 1", "320.0", "2025-02-20"),
    ] {
        let keys = format!(
            "{ADVICE}every = {{ hours = 200, months = 12 }}\ntolerance = {{ {tolerance} }}\ngranted = \"automatic\""
        );
        let line = on(&told(&keys, &[("2024-01-31", "100.0", "inspected")]), "2024-02-01");
        assert_eq!(line["due"], json!({"hours": "300.0", "on": "2025-01-31"}), "{tolerance}");
        assert_eq!(line["latest"], json!({"hours": hours, "on": day}), "{tolerance}");
    }
    // TM 1-1500-328-23: 10 % of 14 days is 1 day, the fraction dropped.
    let keys = format!(
        "{ADVICE}every = {{ days = 14 }}\ntolerance = {{ percent = 10 }}\ngranted = \"automatic\"\nnotice = {{ days = 1 }}"
    );
    let line = on(&told(&keys, &[("2024-02-01", "0", "inspected")]), "2024-02-01");
    assert_eq!(
        (&line["due"]["on"], &line["latest"]["on"]),
        (&json!("2024-02-15"), &json!("2024-02-16"))
    );
}

/// Due at 200.0 h, 10 h of tolerance, now at 205.0 h on 2024-06-01; a permission given on a day, or none.
fn permitted(granted: &str, class: &str, given: Option<&str>) -> Value {
    let keys = format!(
        "class = \"{class}\"\ncounts-from = \"done\"\nnext = \"from-done\"\ndone-by = [\"inspected\"]\nevery = {{ hours = 100 }}\ntolerance = {{ hours = 10 }}\ngranted = \"{granted}\""
    );
    let mut story = story(&[
        ("2024-01-10", "100.0", "inspected"),
        ("2024-05-01", "199.0", ""),
        ("2024-06-01", "205.0", ""),
    ]);
    if let Some(on) = given {
        let permission = json!({
            "on": on, "item": "item", "by": "An Inspector", "reference": "P 1",
        });
        story.about_engine(1, "concessions", permission);
    }
    on(&story.told(&engine_type(&item("item", &keys))), "2024-06-01")
}

#[test]
fn granted_says_what_a_tolerance_needs() {
    for (granted, given, status, note) in [
        ("automatic", None, "in-tolerance", None),
        ("before-due", None, "overdue", Some("no-grant")),
        ("before-due", Some("2024-05-20"), "in-tolerance", Some("permitted")),
        ("before-due", Some("2024-06-01"), "overdue", Some("no-grant")),
        // 14 CFR 91.409(b): only to reach a place where it can be done.
        ("en-route", None, "overdue", Some("en-route-only")),
    ] {
        let line = permitted(granted, "required-inspection", given);
        assert_eq!(line["status"], status, "{granted} {given:?}: {line:#}");
        assert_eq!(line["notes"][0]["code"], json!(note), "{granted} {given:?}");
        assert_eq!(line["due"]["hours"], "200.0", "never a new due date");
        assert_eq!(line["overdue_by"]["hours"], "5.0");
    }
}

/// 300 h or 5 years and 20 %: in extension to 360.0 h and through 72 months, then on condition. Without the
/// key it is overdue.
#[test]
fn extension_runs_to_360_hours_or_72_months() {
    let keys = "class = \"recommended\"\ncounts-from = \"new\"\nevery = { hours = 300, months = 60 }\ndone-by = [\"overhauled\"]";
    let extended = format!("{keys}\nextension-percent = 20");
    for (hours, day, status) in [
        ("300.0", "2023-06-01", "coming-due"),
        ("300.1", "2023-06-01", "in-extension"),
        ("360.0", "2023-06-01", "in-extension"),
        ("360.1", "2023-06-01", "on-condition"),
        ("10.0", "2024-01-01", "coming-due"),
        ("10.0", "2024-01-02", "in-extension"),
        ("10.0", "2025-01-01", "in-extension"),
        ("10.0", "2025-01-02", "on-condition"),
    ] {
        let ran = [("2023-05-01", hours, "")];
        let line = on(&told(&extended, &ran), day);
        assert_eq!(line["status"], status, "{hours} h on {day}: {line:#}");
        assert_eq!(line["latest"], json!({"hours": "360.0", "on": "2025-01-01"}));
        let plain = if status == "coming-due" { status } else { "overdue" };
        assert_eq!(on(&told(keys, &ran), day)["status"], plain, "{hours} h on {day}");
    }
}

/// Past the extension it runs on condition, by an inspection of its own: due by the end of the extension, then
/// 100 h or 12 months after each. One before the life has run out is none of them.
#[test]
fn extension_then_on_condition_with_its_own_repeat_inspection() {
    let keys = "class = \"recommended\"\ncounts-from = \"new\"\nevery = { hours = 300, months = 60 }\ndone-by = [\"overhauled\"]\nextension-percent = 20\non-condition = { hours = 100, months = 12 }";
    let early = ("2022-01-01", "200.0", "inspected");
    let inspected = ("2023-05-01", "352.0", "inspected");
    for (work, due, status) in [
        (vec![early, ("2023-06-01", "360.0", "")], ("360.0", "2025-01-01"), "coming-due"),
        (vec![early, ("2023-06-01", "360.1", "")], ("360.0", "2025-01-01"), "overdue"),
        (vec![early, inspected, ("2023-06-01", "441.9", "")], ("452.0", "2024-05-01"), "not-due"),
        (vec![early, inspected, ("2023-06-01", "452.1", "")], ("452.0", "2024-05-01"), "overdue"),
    ] {
        let all = lines(&told(keys, &work), 1, "2023-06-01");
        let mut all = all.as_array().into_iter().flatten();
        let line = all.find(|line| line["asked_by"]["kind"] == "on-condition");
        let line = line.unwrap_or_else(|| panic!("no line of its own after {work:?}"));
        assert_eq!(line["due"], json!({"hours": due.0, "on": due.1}), "{line:#}");
        assert_eq!(line["status"], status, "{line:#}");
    }
}

/// The 25-hour inspection is due at 325.0 h; the 300-hour one done at 302.0 closes it: next 327.0.
#[test]
fn satisfied_by_a_larger_item() {
    let every = |hours: u32| {
        format!(
            "class = \"recommended\"\ncounts-from = \"new\"\nevery = {{ hours = {hours} }}\nnext = \"from-due\"\ndone-by = [\"inspected\"]"
        )
    };
    let kind = engine_type(&format!(
        "{}{}",
        item("item", &format!("{}\nsatisfied-by = [\"larger\"]", every(25))),
        item("larger", &every(300))
    ));
    let mut story = story(&[("2024-01-10", "300.0", "inspected")]);
    assert_eq!(on(&story.told(&kind), "2024-03-01")["due"]["hours"], "325.0");
    story.work(1, "2024-02-01", "302.0", "larger", "inspected");
    let line = on(&story.told(&kind), "2024-03-01");
    assert_eq!(line["due"]["hours"], "327.0", "{line:#}");
}

/// Ten hours and thirty days when nothing is said; due at 100.0 h or 2025-01-15.
#[test]
fn notice_is_when_a_line_counts_as_coming_due() {
    let usual = format!("{ADVICE}every = {{ hours = 100, months = 12 }}");
    let own = format!("{usual}\nnotice = {{ hours = 5, days = 14 }}");
    for (keys, hours, day, status) in [
        (&usual, "89.9", "2024-12-15", "not-due"),
        (&usual, "90.0", "2024-12-15", "coming-due"),
        (&usual, "50.0", "2024-12-16", "coming-due"),
        (&own, "94.9", "2024-12-31", "not-due"),
        (&own, "95.0", "2024-12-31", "coming-due"),
        (&own, "50.0", "2025-01-01", "coming-due"),
    ] {
        let service = told(keys, &[("2024-01-15", "0.0", "inspected"), ("2024-12-01", hours, "")]);
        assert_eq!(on(&service, day)["status"], status, "{hours} h on {day}");
    }
}
