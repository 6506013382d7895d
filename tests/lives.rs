//! Published cases of `vectors/rules.json` about lives, regimes and lost records, told as posted facts.
//!
//! Every figure in and out is the case's; what a case leaves open (a serial number, a day of fitting) is
//! chosen here and said. Due dates of inspections are in `rules`, sums in `calc`.
//!
//! The program is the one that `GUDGEON_BIN` names, or else `target/<profile>/gudgeon` beside these tests.

#![cfg(test)]

use gudgeon_store::Role;
use gudgeon_tests::story::{COMPONENT, ENGINE, Story, engine_type, item, line_of};
use gudgeon_tests::{add_key, check, id};
use serde_json::{Value, json};

const VECTORS: &str = include_str!("vectors/rules.json");

/// What a case gives and what it expects.
fn case(name: &str) -> (Value, Value) {
    let cases: Value = serde_json::from_str(VECTORS).expect("JSON");
    let cases = cases.as_array().expect("a list of cases");
    let found = cases.iter().find(|case| case["id"] == name).expect("a case of this id");
    println!("{name} {}: {}", found["rule"], found["source"]);
    (found["input"].clone(), found["expected"].clone())
}

/// A number of hours as answers print it; every case is exact in tenths.
fn hours(value: &Value) -> String {
    format!("{:.1}", value.as_f64().expect("hours"))
}

fn text(value: &Value) -> &str {
    value.as_str().expect("a text")
}

/// Years as whole months.
fn months(years: &Value) -> u64 {
    years.as_u64().expect("whole years") * 12
}

/// An item `life` of this class.
fn life(class: &str, keys: &str) -> String {
    engine_type(&item("life", &format!("class = \"{class}\"\n{keys}")))
}

/// An engine that was new on a day, read once at these hours.
fn engine(new: &str, read: Option<(&str, &str)>) -> Story {
    let mut story = Story::new();
    story.engine(1, new, Some("0"), Some(new));
    if let Some((on, hours)) = read {
        story.stated(1, on, hours);
    }
    story
}

/// The line of `life` on a day.
fn line(story: &Story, kind: &str, as_of: &str) -> Value {
    line_of(&story.told(kind), 1, as_of, "life")
}

/// H17: a component's own window either side of its life; one tenth earlier it counts from done.
#[test]
fn a_window_of_a_life() {
    let (input, expected) = case("H17");
    let (tbo, tolerance) = (&input["tbo_h"], &input["tol_h"]);
    let kind = life(
        "recommended",
        &format!(
            "counts-from = \"new\"\nevery = {{ hours = {tbo} }}\nnext = \"window\"\ntolerance = {{ hours = {tolerance} }}\ngranted = \"automatic\"\ndone-by = [\"inspected\"]"
        ),
    );
    let next = |done: &str| {
        let mut story = engine("2010-01-01", None);
        story.work(1, "2015-01-01", done, "life", "inspected");
        line(&story, &kind, "2015-01-02")["due"]["hours"].clone()
    };
    let [first, last] = [0, 1].map(|at| hours(&expected["window_h"][at]));
    assert_eq!(line(&engine("2010-01-01", None), &kind, "2010-01-02")["latest"]["hours"], last);
    let twice = hours(&json!(2 * tbo.as_u64().expect("whole hours")));
    assert_eq!([next(&first), next(&last)], [json!(twice), json!(twice)]);
    // 924.9 and 1075.1: from done.
    assert_eq!([next("924.9"), next("1075.1")], [json!("1924.9"), json!("2075.1")]);
}

/// H19, H20: a tenth of the interval, at most 500 h.
#[test]
fn a_variation_has_its_most() {
    for name in ["H19", "H20"] {
        let (input, expected) = case(name);
        let interval = &input["interval_h"];
        let kind = life(
            "required-inspection",
            &format!(
                "counts-from = \"new\"\nevery = {{ hours = {interval} }}\nnext = \"from-due\"\ntolerance = {{ percent = 10, hours-max = 500 }}\ngranted = \"automatic\"\ndone-by = [\"inspected\"]"
            ),
        );
        let line = line(&engine("2010-01-01", None), &kind, "2010-01-02");
        let most = interval.as_u64().zip(expected["max_variation_h"].as_u64());
        let latest = most.map(|(interval, most)| hours(&json!(interval + most)));
        assert_eq!(line["latest"]["hours"], json!(latest), "{name}: {line:#}");
    }
}

/// H21: what is asked for a directive is refused with the reason, and without it nothing is allowed.
#[test]
fn a_directive_has_no_tolerance() {
    let (input, expected) = case("H21");
    let every = format!(
        "counts-from = \"new\"\nevery = {{ hours = {} }}\nnext = \"from-done\"\ndone-by = [\"inspected\"]",
        input["interval_h"]
    );
    let asked = format!(
        "{every}\ntolerance = {{ hours = {} }}\ngranted = \"automatic\"",
        input["requested_tol_h"]
    );
    for class in ["directive", "airworthiness-limitation"] {
        let refused = check(&life(class, &asked));
        assert!(
            refused.contains(&format!("class `{class}` never runs late; take it out")),
            "{refused}"
        );
        let story = engine("2010-01-01", Some(("2011-01-01", "100.1")));
        let line = line(&story, &life(class, &every), "2011-01-01");
        assert_eq!(expected["allowed_tol_h"], 0);
        assert_eq!(line["latest"]["hours"], line["due"]["hours"], "{line:#}");
        assert_eq!((&line["status"], &line["class"]), (&json!("overdue"), &json!(class)));
    }
}

/// H22: aerial work and charter, 110 h or 12 months, whichever first; the aircraft's use is told as `hire`.
#[test]
fn a_regime_for_hire_counts_hours_or_months() {
    let (input, expected) = case("H22");
    let kind = life(
        "directive",
        "counts-from = \"done\"\nevery = { hours = 110, months = 12 }\nnext = \"from-done\"\ndone-by = [\"inspected\"]\napplies-to = { use = [\"hire\"] }",
    );
    let mut story = engine("1990-01-01", None);
    story.about_engine(1, "descriptions", json!({"on": "1990-01-01", "use": "hire"}));
    story.work(1, text(&input["last_date"]), &hours(&input["last_h"]), "life", "inspected");
    let line = line(&story, &kind, "2001-06-02");
    let due = json!({"hours": hours(&expected["next_due_h"]), "on": expected["next_due_date"]});
    assert_eq!(line["due"], due, "{line:#}");
}

/// C21: a propeller's own overhaul life; it was fitted on the day of its overhaul, at no hours.
#[test]
fn a_propeller_is_due_by_the_calendar() {
    let (input, expected) = case("C21");
    let kind = life(
        "required-inspection",
        &format!(
            "component = \"propeller\"\ncounts-from = \"overhaul\"\nevery = {{ hours = {}, months = 120 }}\ndone-by = [\"overhauled\"]",
            input["maker_tbo_h"]
        ),
    );
    let (overhauled, as_of) = (text(&input["overhauled"]), text(&input["as_of"]));
    let mut story = engine("2016-01-01", Some((as_of, &hours(&input["now_h"]))));
    let propeller = json!({"on": overhauled, "kind": "propeller", "hours": input["hours_at_oh"]});
    story.component(1, propeller);
    story.about_component(1, "overhauls", json!({"on": overhauled}));
    story.fit_to_engine(1, 1, overhauled);
    let line = line(&story, &kind, as_of);
    let due = json!({"hours": hours(&expected["due_h"]), "on": expected["due_date"]});
    assert_eq!(line["due"], due, "{line:#}");
    assert_eq!((&line["status"], &line["governs"]), (&expected["state"], &expected["by"]));
    assert_eq!(line["hours_now"], hours(&input["now_h"]));
}

/// C23: overhauled and released long before it was installed, under data that count from installation.
/// K17: a hose, five years from fitting.
#[test]
fn a_life_that_counts_from_fitting() {
    for (name, fitted, years) in
        [("C23", "installed", "interval_years"), ("K17", "fitted", "limit_years")]
    {
        let (input, expected) = case(name);
        let kind = life(
            "recommended",
            &format!(
                "component = \"unit\"\ncounts-from = \"fitted\"\nevery = {{ months = {} }}\ndone-by = [\"renewed\"]",
                months(&input[years])
            ),
        );
        let mut story = engine("2020-01-01", None);
        let begun = input["released"].as_str().unwrap_or("2021-01-01");
        story.component(1, json!({"on": begun, "kind": "unit", "hours": 0}));
        if input.get("released").is_some() {
            story.about_component(1, "overhauls", json!({"on": begun}));
        }
        story.fit_to_engine(1, 1, text(&input[fitted]));
        let line = line(&story, &kind, "2024-01-01");
        assert_eq!(line["due"]["on"], expected["due"], "{name}: {line:#}");
    }
}

/// C24, C25: half of ten years from the month it was made, or more than one hour of use, as the battery came.
#[test]
fn a_battery_is_due_at_half_its_life_or_an_hour_of_use() {
    for name in ["C24", "C25"] {
        let (input, expected) = case(name);
        let half = months(&input["useful_life_years"]) / 2;
        let kind = life(
            "required-inspection",
            &format!(
                "component = \"battery\"\ndone-by = [\"renewed\"]\nnotice = {{ hours = 0.5 }}\nlimits = [\n{{ name = \"useful life\", counts-from = \"made\", every = {{ months = {half} }}, calendar = \"end-of-month\" }},\n{{ name = \"use\", counts-from = \"new\", every = {{ hours = 1 }} }},\n]"
            ),
        );
        let mut story = engine("2022-01-01", None);
        let made = json!({"scheme": "month-year", "text": input["battery_made"]});
        let used = hours(&input["cumulative_use_h"]);
        let battery = json!({"on": "2024-01-01", "kind": "battery", "hours": used, "code": made});
        story.component(1, battery);
        story.fit_to_engine(1, 1, "2024-01-01");
        let line = line(&story, &kind, "2024-06-01");
        if let Some(month) = expected["replace_by"].as_str() {
            assert!(text(&line["due"]["on"]).starts_with(month), "{name}: {line:#}");
        }
        let now = expected["replace_now"] == json!(true);
        assert_eq!(line["status"], if now { "overdue" } else { "not-due" }, "{name}: {line:#}");
    }
}

/// T01, T03: a fifth beyond the recommended hours and years, then on condition. The engine was new on the
/// first day of 2000; 14.4 years are 172 whole months.
#[test]
fn an_extension_of_a_fifth() {
    for (name, as_of) in [("T01", "2011-01-01"), ("T03", "2014-07-01")] {
        let (input, expected) = case(name);
        let kind = life(
            "recommended",
            &format!(
                "counts-from = \"overhaul\"\nevery = {{ hours = {}, months = {} }}\nextension-percent = 20\ndone-by = [\"overhauled\"]",
                input["tbo_h"],
                months(&input["tbo_years"])
            ),
        );
        let story = engine("2000-01-01", Some((as_of, &hours(&input["h"]))));
        let line = line(&story, &kind, as_of);
        assert_eq!(text(&line["status"]).replace('-', "_"), text(&expected["state"]), "{line:#}");
        assert_eq!(line["latest"], json!({"hours": "2400.0", "on": "2014-05-01"}));
        if name == "T01" {
            assert_eq!(
                (hours(&expected["limit_h"]), &expected["limit_years"]),
                ("2400.0".to_owned(), &json!(14.4))
            );
        } else {
            assert!(text(&expected["reason"]).starts_with("calendar beyond"));
            assert_eq!(line["governs"], "calendar");
        }
    }
}

/// T09: a record restarted by the maker begins at zero. T10: an independent workshop cannot restart it; what
/// it can do is a full overhaul, which leaves the total as it was.
#[test]
fn only_the_maker_restarts_a_record_at_zero() {
    let kind = life(
        "recommended",
        "counts-from = \"overhaul\"\nevery = { hours = 300 }\ndone-by = [\"overhauled\"]",
    );
    let hours_of = |story: &Story| {
        story.told(&kind).get(&format!("/v1/engines/{}", id(ENGINE, 1)))["engine"]["hours"].take()
    };
    let (input, expected) = case("T09");
    let mut made_new = engine("2010-01-01", Some(("2020-01-01", &hours(&input["tsn_h"]))));
    let restart =
        json!({"on": "2020-02-01", "by": "the maker", "statement": "rebuilt to new limits"});
    made_new.about_engine(1, "maker-restarts", restart.clone());
    assert_eq!(hours_of(&made_new)["since_new"], hours(&expected["new_record_tsn_h"]));
    assert_eq!(expected["prior_history_required"], false);

    let (input, expected) = case("T10");
    let mut overhauled = engine("2010-01-01", None);
    let overhaul =
        json!({"tsn": hours(&input["tsn_h"]), "overhaul": {"scope": "full"}, "test_run": 0});
    overhauled.inspection(overhaul, 1, "2020-01-01");
    let found = hours_of(&overhauled);
    assert_eq!(found["since_new"], hours(&expected["tsn_h"]), "{found:#}");
    assert_eq!(found["since_overhaul"], hours(&expected["tso_h"]));
    let service = overhauled.told(&kind);
    let path = format!("/v1/engines/{}/maker-restarts/{}", id(ENGINE, 1), id(ENGINE, 9));
    let key = add_key(&service.store, Role::Shop);
    let (status, _) = service.send_as(&key, &path, restart.to_string().as_bytes());
    assert_eq!(status, 403);
    assert_eq!(expected["zero_time_allowed"], false);
}

/// T12: in a maintenance manual it is advice, and may be extended. T13: in the airworthiness limitations it
/// must be done, and the same extension is refused.
#[test]
fn where_a_life_stands_says_whether_it_must_be_kept() {
    for (name, class) in [("T12", "recommended"), ("T13", "airworthiness-limitation")] {
        let (input, expected) = case(name);
        let in_limitations = text(&input["tbo_in"]) == "airworthiness limitations section";
        assert_eq!(in_limitations, class == "airworthiness-limitation");
        let life_of_300 =
            "counts-from = \"overhaul\"\nevery = { hours = 300 }\ndone-by = [\"overhauled\"]";
        let story = engine("2010-01-01", Some(("2020-01-01", "300.1")));
        let line = line(&story, &life(class, life_of_300), "2020-01-01");
        assert_eq!(line["class"], class, "the word on the line");
        if let Some(label) = expected["label"].as_str() {
            assert_eq!(line["class"], label);
        }
        let extended = check(&life(class, &format!("{life_of_300}\nextension-percent = 20")));
        assert_eq!(!extended.starts_with("ok: "), expected["mandatory"], "{extended}");
    }
}

/// L01: no log. Hours since new and since overhaul are unknown whatever a workshop states today, the life is
/// unknown, and nothing of that restarts the hours since overhaul.
#[test]
fn an_engine_without_a_log_has_no_hours_that_count() {
    let (input, expected) = case("L01");
    assert_eq!(input["engine_total_time"], "unknown");
    let mut story = Story::new();
    story.engine(1, "2020-01-01", None, None);
    story.stated(1, "2021-01-01", "412.0");
    let kind = life(
        "recommended",
        "counts-from = \"overhaul\"\nevery = { hours = 300 }\ndone-by = [\"overhauled\"]",
    );
    let service = story.told(&kind);
    let engine = service.get(&format!("/v1/engines/{}", id(ENGINE, 1)))["engine"].take();
    assert_eq!(engine["log"], "unknown", "{engine:#}");
    assert_eq!(expected["total_time_kind"], "best_estimate");
    let says = engine["log_needs"].as_str().unwrap();
    assert!(says.contains("best estimate"), "{says}");
    let needs = expected["needs"].as_str().unwrap().replace(['(', ')'], "");
    for word in needs.split(' ').filter(|word| !["describing", "owner"].contains(word)) {
        assert!(says.contains(word), "`{word}` in `{says}`");
    }
    assert_eq!(
        (&engine["hours"]["since_new"], &engine["hours"]["since_overhaul"]),
        (&Value::Null, &Value::Null)
    );
    assert_eq!(
        (&engine["hours"]["overhauls"], &expected["may_reset_tso"]),
        (&json!(0), &json!(false))
    );
    let line = line_of(&service, 1, "2021-01-02", "life");
    assert_eq!(line["status"], "unknown", "{line:#}");
    assert_eq!(line["legs"][0]["missing"]["code"], "no-overhaul");
}

/// K12, K14: so many years on the shelf from the last day of the quarter of cure. Fitted on that day it is in
/// time; fitted the day after, it was due on it. K13: no end, however old.
#[test]
fn a_seal_has_the_shelf_life_of_its_polymer() {
    for (name, day_after) in [("K12", "2025-04-01"), ("K13", "2026-01-01"), ("K14", "2026-07-01")] {
        let (input, expected) = case(name);
        let shelf = expected["shelf_years"].as_u64().map(|years| {
            format!("{{ name = \"shelf\", counts-from = \"made\", every = {{ months = {} }}, shelf = true, code-day = \"last\" }},", years * 12)
        });
        let kind = life(
            "recommended",
            &format!(
                "component = \"seal\"\ndone-by = [\"renewed\"]\nlimits = [\n{}\n{{ name = \"in service\", counts-from = \"first-fitted\", every = {{ months = 60 }} }},\n]",
                shelf.unwrap_or_default()
            ),
        );
        let fitted = |on: &str| {
            let mut story = engine("2008-01-01", None);
            let cured = json!({"scheme": "quarter", "text": input["cure"]});
            story.component(
                1,
                json!({"on": "2024-01-01", "kind": "seal", "hours": 0, "code": cured}),
            );
            story.fit_to_engine(1, 1, on);
            line(&story, &kind, "2026-07-02")
        };
        let late = fitted(day_after);
        assert_eq!(late["component"], id(COMPONENT, 1));
        let Some(end) = expected["shelf_end"].as_str() else {
            assert_eq!(late["status"], "not-due", "{name}: {late:#}");
            continue;
        };
        assert_eq!(
            (&late["due"]["on"], &late["status"]),
            (&json!(end), &json!("overdue")),
            "{late:#}"
        );
        assert_eq!(late["notes"][0]["code"], "fitted-past-shelf-life");
        assert_eq!(fitted(end)["status"], "not-due", "{name}");
    }
}
