//! The due rules key by key, asked of a running service: findings, what happened, what the records do not tell,
//! and what every line says besides. How intervals count is in `table`.
//!
//! The figures were worked by hand from the rules; no published source unless one is named beside them.

#![expect(clippy::indexing_slicing, reason = "a missing field in an answer fails the test")]

use gudgeon_tests::id;
use gudgeon_tests::story::{ENGINE, Story, engine_type, item, line_of, lines};
use serde_json::{Value, json};

const LOOK: &str = "class = \"recommended\"\ncounts-from = \"new\"\nevery = { hours = 1000 }\nnext = \"from-done\"\ndone-by = [\"inspected\", \"machined\", \"renewed\"]";

/// One inspection of 2024-06-01 at 100.0 h with a finding, then perhaps work the day after; how the lines of
/// the item that a finding asks for stand on a day, and the hours then.
fn found(finding: &Value, work: Option<&str>, hours: &str, day: &str) -> Vec<Value> {
    let mut story = Story::of_new_engine();
    story.inspection(json!({"tsn": "100.0", "findings": [finding]}), 1, "2024-06-01");
    if let Some(action) = work {
        story.work(1, "2024-06-02", "100.0", "item", action);
    }
    story.stated(1, "2024-06-03", hours);
    let all = lines(&story.told(&engine_type(&item("item", LOOK))), 1, day);
    let all = all.as_array().cloned().unwrap_or_default();
    assert!(all.iter().any(|line| line["asked_by"]["kind"] == "programme"), "{all:#?}");
    all.into_iter().filter(|line| line["asked_by"]["kind"] == "finding").collect()
}

fn statuses(found: &[Value]) -> Vec<&str> {
    found.iter().filter_map(|line| line["status"].as_str()).collect()
}

/// Overdue from the day it was found until work there answers it: to renew and to scrap ask for another part.
#[test]
fn findings_to_repair_renew_or_scrap_are_overdue_until_work_closes_them() {
    for (condition, answers, does_not) in [
        ("repair", "machined", "inspected"),
        ("renew", "renewed", "machined"),
        ("scrap", "renewed", "machined"),
    ] {
        let after = |work| {
            found(&json!({"item": "item", "condition": condition}), work, "100.0", "2024-06-03")
        };
        assert_eq!(statuses(&after(None)), ["overdue"], "{condition}");
        assert_eq!(statuses(&after(Some(does_not))), ["overdue"], "{condition}, {does_not}");
        assert!(after(Some(answers)).is_empty(), "{condition}, {answers}");
    }
}

/// Look again within 10 h or by 2024-09-01: a line of its own, overdue past either, gone once looked at.
/// Serviceable and not looked at ask for nothing.
#[test]
fn findings_to_monitor_are_lines_of_their_own_until_the_recheck() {
    let monitor = || {
        let recheck = json!({"hours": "10", "on": "2024-09-01"});
        json!({"item": "item", "condition": "monitor", "recheck": recheck})
    };
    for (hours, day, status) in [
        ("100.0", "2024-09-01", "coming-due"),
        ("110.0", "2024-06-03", "coming-due"),
        ("110.1", "2024-06-03", "overdue"),
        ("100.0", "2024-09-02", "overdue"),
    ] {
        let lines = found(&monitor(), None, hours, day);
        assert_eq!(statuses(&lines), [status], "{hours} h on {day}: {lines:#?}");
        assert_eq!(lines[0]["due"], json!({"hours": "110.0", "on": "2024-09-01"}));
    }
    assert!(found(&monitor(), Some("inspected"), "120.0", "2024-09-02").is_empty());
    for condition in ["serviceable", "not-inspected"] {
        let quiet = json!({"item": "item", "condition": condition});
        assert!(found(&quiet, None, "100.0", "2024-06-03").is_empty(), "{condition}");
    }
}

const HAPPENINGS: [&str; 9] = [
    "propeller-strike",
    "sudden-stoppage",
    "overheat",
    "seizure",
    "overspeed",
    "immersion",
    "oil-error",
    "fuel-error",
    "return-to-use",
];

/// Each at 130.4 h, read at 132.0: due at once, 1.6 h run since. Work before it answers nothing, though it is
/// posted later; work after it does.
#[test]
fn events_are_due_at_once_and_only_work_after_them_closes_them() {
    let kinds: String = HAPPENINGS
        .iter()
        .map(|kind| {
            item(kind, &format!("class = \"required-inspection\"\ndone-by = [\"inspected\"]\nafter = [\"{kind}\"]"))
        })
        .collect();
    let kind = engine_type(&kinds);
    let mut story = Story::of_new_engine();
    story.stated(1, "2024-04-09", "130.4");
    for kind in HAPPENINGS {
        assert_eq!(line_of(&story.told(&engine_type(&kinds)), 1, "2024-04-12", kind), Value::Null);
        story.about_engine(1, "events", json!({"on": "2024-04-10", "kind": kind}));
    }
    story.stated(1, "2024-04-12", "132.0");
    let all = |action: &str| -> Vec<Value> {
        HAPPENINGS.iter().map(|kind| json!({"item": kind, "action": action})).collect()
    };
    story.inspection(json!({"work": all("inspected")}), 1, "2024-04-02");
    let struck = story.told(&kind);
    story.inspection(json!({"work": all("inspected")}), 1, "2024-04-14");
    let answered = story.told(&kind);
    for kind in HAPPENINGS {
        let line = line_of(&struck, 1, "2024-04-12", kind);
        assert_eq!(line["status"], "overdue", "{line:#}");
        assert_eq!(line["asked_by"]["happened"]["kind"], kind);
        assert_eq!(line["asked_by"]["happened"]["hours_since"], "1.6");
        assert_eq!(line_of(&answered, 1, "2024-04-15", kind), Value::Null);
    }
}

/// The belt was on engine 1 when the propeller struck; it goes to engine 2, and what is asked goes with
/// it; the belt that came to engine 1 after that was not struck.
#[test]
fn events_follow_every_part_that_they_touch() {
    let after = "class = \"required-inspection\"\ndone-by = [\"inspected\"]\nafter = [\"propeller-strike\"]";
    let kind = engine_type(&format!(
        "{}{}",
        item("engine-check", after),
        item("belt-check", &format!("component = \"belt\"\n{after}"))
    ));
    let mut story = Story::of_new_engine();
    story.engine(2, "2019-01-01", Some("0"), Some("2019-01-01"));
    story.component(1, json!({"on": "2020-01-01", "kind": "belt", "hours": 0}));
    story.fit_to_engine(1, 1, "2020-01-02");
    story.about_engine(1, "events", json!({"on": "2024-04-10", "kind": "propeller-strike"}));
    let asked = |story: &Story| {
        let service = story.told(&kind);
        let asked = |engine, name| line_of(&service, engine, "2024-06-01", name)["status"].clone();
        json!([
            asked(1, "engine-check"),
            asked(1, "belt-check"),
            asked(2, "engine-check"),
            asked(2, "belt-check")
        ])
    };
    assert_eq!(asked(&story), json!(["overdue", "overdue", null, null]));
    story.about_component(1, "removals", json!({"on": "2024-05-01"}));
    story.fit_to_engine(1, 2, "2024-05-02");
    story.component(2, json!({"on": "2024-05-01", "kind": "belt", "hours": 0}));
    story.fit_to_engine(2, 1, "2024-05-02");
    assert_eq!(asked(&story), json!(["overdue", null, null, "overdue"]));
}

/// What the records do not tell is a line all the same, and says what is missing; of a life-limited part whose
/// life is not known none is left (common practice, consistent with 14 CFR 43.10).
#[test]
fn missing_history_is_unknown_with_its_reason() {
    let of_part = |kind: &str, from: &str, every: &str| {
        item(
            &format!("{kind}-{from}"),
            &format!(
                "component = \"{kind}\"\nclass = \"airworthiness-limitation\"\ncounts-from = \"{from}\"\nevery = {{ {every} }}\ndone-by = [\"renewed\"]"
            ),
        )
    };
    let kind = engine_type(&format!(
        "{}{}{}{}{}",
        of_part("belt", "made", "months = 60"),
        of_part("belt", "new", "hours = 300"),
        of_part("shaft", "new", "hours = 300"),
        item(
            "never-done",
            "class = \"recommended\"\ncounts-from = \"done\"\nevery = { months = 12 }\nnext = \"from-done\"\ndone-by = [\"inspected\"]"
        ),
        item(
            "no-log",
            "class = \"recommended\"\ncounts-from = \"new\"\nevery = { hours = 300 }\nnext = \"from-done\"\ndone-by = [\"inspected\"]"
        ),
    ));
    let mut story = Story::new();
    story.engine(1, "2024-01-01", None, None);
    story.component(1, json!({"on": "2024-01-01", "kind": "belt", "hours": null}));
    story.fit_to_engine(1, 1, "2024-01-02");
    let service = story.told(&kind);
    for (name, missing, life_limited) in [
        ("belt-made", "no-code", true),
        ("belt-new", "no-hours", true),
        ("shaft-new", "no-component", true),
        ("never-done", "never-done", false),
        ("no-log", "no-start", false),
    ] {
        let line = line_of(&service, 1, "2024-06-01", name);
        assert_eq!(line["status"], "unknown", "{name}: {line:#}");
        assert_eq!(line["legs"][0]["missing"]["code"], missing, "{name}: {line:#}");
        assert_eq!(line["notes"][0]["code"] == "none-left", life_limited, "{name}: {line:#}");
    }
}

/// Done 3.2 h late, due again at 1140.0 and now at 1141.5: how late the last work was, and how late it is as
/// of the day, stand apart. Every line names its class and its source, the list how far directives are entered.
#[test]
fn a_line_says_how_late_it_is_and_how_late_the_last_work_was() {
    let keys = "class = \"required-inspection\"\ncounts-from = \"done\"\nevery = { hours = 100, months = 12 }\nnext = \"from-due\"\ndone-by = [\"inspected\"]";
    let mut story = Story::of_new_engine();
    story.work(1, "2023-01-10", "940.0", "item", "inspected");
    story.work(1, "2024-01-15", "1043.2", "item", "inspected");
    story.stated(1, "2024-12-01", "1141.5");
    let service = story.told(&engine_type(&item("item", keys)));
    let line = line_of(&service, 1, "2025-01-20", "item");
    assert_eq!(line["last_overrun"], json!({"hours": "3.2", "days": 5}), "{line:#}");
    assert_eq!(line["overdue_by"], json!({"hours": "1.5", "days": 10}));
    assert_eq!(
        (&line["class"], &line["source"]),
        (&json!("required-inspection"), &json!("common practice"))
    );
    let list = service.get(&format!("/v1/engines/{}/due?as_of=2025-01-20", id(ENGINE, 1)));
    assert_eq!(list["entered_up_to"], "2026-10-31");
}
