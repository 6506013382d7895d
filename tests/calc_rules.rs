//! The trade's rules: each case of `rules.json` put to the sum that answers it.

use super::calc_bench::{bore, compression, copper, date_code, hours_and_minutes, torque};
use super::{Case, Faults, calc_one, read, tenths, text};
use serde_json::{Value, json};

/// A day to ask for when a case is about hours alone.
const ANY_DAY: &str = "2026-11-25";

/// Puts a case to its sum.
type Check = fn(&Case, &mut Faults);

/// The rules that `calc` answers; those of histories and parts are told as stories elsewhere.
const RULES: [(&str, Check); 25] = [
    ("FAA-100H", hours_late_or_early),
    ("EASA-ML-MIP", hours_or_calendar_with_tolerance),
    ("EASA-MA302i-2015", hours_or_calendar_with_tolerance),
    ("ARMY-WINDOW", window),
    ("ARMY-TBO-WINDOW", own_window),
    ("ARMY-DUAL", dual_window),
    ("NL-ILT-VARIATION", variation),
    ("NO-TOL-MANDATORY", no_tolerance),
    ("CASA-ENG4", whichever_first),
    ("FAA-CALMONTH", calendar_months),
    ("ADD-MONTHS-CLAMP", clamped_months),
    ("DUAL-FIRST", dual),
    ("TC-VP-PROP", propeller),
    ("UK-GR24", extension),
    ("QUARTER", date_code),
    ("DOT-TIN", date_code),
    ("ISO-WEEK", date_code),
    ("HHMM-DEC", hours_and_minutes),
    ("TORQUE-EXT", torque),
    ("TORQUE-EXT-INVERSE", torque),
    ("CU-TEMP", copper),
    ("DIFF-COMP", compression),
    ("BORE-GEOMETRY", bore),
    ("OVERHAUL-START", day_exact_years),
    ("IN-SERVICE-HOSE", day_exact_years),
];

#[test]
fn every_case_of_the_rules_comes_out_as_its_source_says() {
    let content = read("rules.json");
    let mut faults = Faults::default();
    let mut checked: Vec<String> = Vec::new();
    for case in content.as_array().expect("a list of cases") {
        let case = Case {
            id: text(&case["id"]),
            source: format!("{} ({})", text(&case["source"]), text(&case["kind"])),
            input: case["input"].clone(),
            expect: case["expected"].clone(),
            rule: text(&case["rule"]),
        };
        let Some((_, check)) = RULES.into_iter().find(|(rule, _)| *rule == case.rule) else {
            println!("{} {}: not a sum of calc", case.id, case.rule);
            continue;
        };
        println!("{} {}: {}", case.id, case.rule, case.source);
        check(&case, &mut faults);
        checked.push(case.rule);
    }
    for (rule, _) in RULES {
        assert!(checked.iter().any(|checked| checked == rule), "no case of {rule}");
    }
    faults.none();
}

/// `1472.7` as 14 727 tenths, and so many more, as hours again.
fn tenths_on(hours: &Value, more: i64) -> Value {
    let count = count(hours) + more;
    json!(format!("{}.{}", count / 10, count % 10))
}

fn count(hours: &Value) -> i64 {
    text(hours).replace('.', "").parse().expect("hours in tenths")
}

/// So many days on, by the sum of the calendar.
fn days_on(day: &Value, days: i64) -> Value {
    calc_one("calendar", &json!({"start": day, "days": days}))["due"].clone()
}

fn due(input: &Value) -> Value {
    calc_one("due", input)
}

/// 14 CFR 91.409(b): late counts from due, early from done, and 10 h only to reach a place to do it.
fn hours_late_or_early(case: &Case, faults: &mut Faults) {
    let item = json!({"every": {"hours": case.hours("interval_h")}, "tolerance": {"hours": 10},
        "next": "from-due", "class": "required-inspection", "granted": "en-route"});
    let after = |done: Value, was_due: Value| {
        due(
            &json!({"as_of": ANY_DAY, "item": item, "last": {"hours": done}, "was_due": {"hours": was_due}}),
        )
    };
    if case.input.get("annual_done_h").is_some() {
        // The annual counts as the 100-hour: it is done before the 100-hour is due.
        let before = after(case.hours("last_100h_done_h"), Value::Null);
        let line = after(case.hours("annual_done_h"), before["due"]["hours"].clone());
        return case.expects_hours("next_due_h", &line["due"]["hours"], faults);
    }
    let line = after(case.hours("done_h"), case.hours("was_due_h"));
    case.expects_hours("overrun_h", &line["last_overrun"]["hours"], faults);
    case.expects_hours("next_due_h", &line["due"]["hours"], faults);
    let beyond = &line["last_overrun_beyond_tolerance"];
    if case.has("within_10h_ferry_limit") {
        case.expects("within_10h_ferry_limit", &json!(*beyond == json!(false)), faults);
    }
    if case.has("flag") {
        let flag = if *beyond == json!(true) { "overrun_exceeds_limit" } else { "" };
        case.expects("flag", &json!(flag), faults);
    }
}

/// The minimum inspection programme, whose next interval counts from done, and its forerunner, from due. Both
/// with 10 h or 1 month of tolerance.
fn hours_or_calendar_with_tolerance(case: &Case, faults: &mut Faults) {
    let next = if case.rule == "EASA-ML-MIP" { "from-done" } else { "from-due" };
    let input = &case.input;
    let item = json!({"every": {"hours": case.hours("interval_h"), "months": input["months"]},
        "tolerance": {"hours": case.hours("tol_h"), "months": 1},
        "calendar": "day", "next": next, "class": "required-inspection"});
    let last_hours = if input.get("done_h").is_some() {
        case.hours("done_h")
    } else {
        case.hours("last_done_h")
    };
    let line =
        due(&json!({"as_of": input.get("done").cloned().unwrap_or(json!(ANY_DAY)), "item": item,
        "hours_now": case.hours("now_h"), "last": {"on": input["done"], "hours": last_hours},
        "was_due": {"on": input["due"], "hours": case.hours("was_due_h")}}));
    for (key, found) in [
        ("next_due_h", &line["due"]["hours"]),
        ("due_h", &line["due"]["hours"]),
        ("next_latest_h", &line["latest"]["hours"]),
        ("latest_h", &line["latest"]["hours"]),
    ] {
        if case.has(key) {
            case.expects_hours(key, found, faults);
        }
    }
    let within = json!(line["last_overrun_beyond_tolerance"] == json!(false));
    let state = json!(if line["status"] == "in-tolerance" { "due_in_tolerance" } else { "" });
    for (key, found) in [
        ("due", &line["due"]["on"]),
        ("next_due", &line["due"]["on"]),
        ("latest", &line["latest"]["on"]),
        ("within_tol", &within),
        ("state", &state),
    ] {
        if case.has(key) {
            case.expects(key, found, faults);
        }
    }
}

/// The Army's tolerance: 10 %, at most 5 h or 30 days.
fn army_tolerance() -> Value {
    json!({"percent": 10, "hours_max": 5, "days_max": 30})
}

/// Work at both edges of the window counts from due; one step outside, from done.
fn window(case: &Case, faults: &mut Faults) {
    if case.input.get("due_h").is_some() {
        let item = window_item(&json!({"hours": case.hours("interval_h")}), &army_tolerance());
        hours_window(case, &item, &case.hours("due_h"), faults);
    } else {
        let item =
            window_item(&json!({"months": case.input["interval_months"]}), &army_tolerance());
        days_window(case, &item, &case.input["due"], "window", faults);
    }
}

/// A component's own window either side of its overhaul life.
fn own_window(case: &Case, faults: &mut Faults) {
    let life = case.hours("tbo_h");
    let item = window_item(&json!({"hours": life}), &json!({"hours": case.hours("tol_h")}));
    hours_window(case, &item, &life, faults);
}

fn window_item(every: &Value, tolerance: &Value) -> Value {
    json!({"every": every, "tolerance": tolerance, "calendar": "day", "next": "window", "class": "recommended"})
}

fn hours_window(case: &Case, item: &Value, was_due: &Value, faults: &mut Faults) {
    let [earliest, latest] = [0, 1].map(|at| tenths(&case.expect["window_h"][at]));
    let after = |done: &Value| {
        due(
            &json!({"as_of": ANY_DAY, "item": item, "last": {"hours": done}, "was_due": {"hours": was_due}}),
        )
    };
    let every = count(&tenths_on(&json!(text(&item["every"]["hours"])), 0));
    let in_window = tenths_on(was_due, every);
    for done in [&earliest, was_due, &latest] {
        faults.same(case, "in window", &after(done)["due"]["hours"], &in_window);
    }
    for done in [tenths_on(&earliest, -1), tenths_on(&latest, 1)] {
        let from_done = tenths_on(&done, every);
        faults.same(case, "outside window", &after(&done)["due"]["hours"], &from_done);
    }
    let next = after(was_due);
    if case.has("tol_h") {
        let reach = count(&next["latest"]["hours"]) - count(&next["due"]["hours"]);
        case.expects_hours("tol_h", &tenths_on(&json!("0.0"), reach), faults);
    }
    if case.has("next_due_h") {
        let due = &after(&case.hours("done_h"))["due"]["hours"];
        case.expects_hours("next_due_h", due, faults);
        case.expects("in_window", &json!(*due == in_window), faults);
    }
}

fn days_window(case: &Case, item: &Value, was_due: &Value, key: &str, faults: &mut Faults) {
    let [earliest, latest] = [0, 1].map(|at| case.expect[key][at].clone());
    let after = |done: &Value| {
        due(&json!({"as_of": done, "item": item, "last": {"on": done}, "was_due": {"on": was_due}}))
    };
    let in_window = after(was_due)["due"]["on"].clone();
    for done in [&earliest, &latest] {
        faults.same(case, "in window", &after(done)["due"]["on"], &in_window);
    }
    for done in [days_on(&earliest, -1), days_on(&latest, 1)] {
        let outside = &after(&done)["due"]["on"];
        // Work outside counts from done alone, as if nothing had been due.
        let from_done =
            due(&json!({"as_of": done, "item": item, "last": {"on": done}}))["due"]["on"].clone();
        faults.same(case, "outside window", outside, &from_done);
    }
    if case.has("tol_days") {
        case.expects("tol_days", &after(&latest)["last_overrun"]["days"], faults);
    }
    if case.has("next_due_if_in_window") {
        case.expects("next_due_if_in_window", &in_window, faults);
    }
}

/// Both sides at once, each with a window of its own.
fn dual_window(case: &Case, faults: &mut Faults) {
    let every = json!({"hours": case.hours("interval_h"), "days": case.input["interval_days"]});
    let line = due(
        &json!({"as_of": case.input["last_date"], "item": window_item(&every, &army_tolerance()),
        "last": {"on": case.input["last_date"], "hours": case.hours("last_h")}}),
    );
    case.expects_hours("due_h", &line["due"]["hours"], faults);
    case.expects("due_date", &line["due"]["on"], faults);
    let latest = tenths(&case.expect["window_h"][1]);
    faults.same(case, "window_h", &line["latest"]["hours"], &latest);
    faults.same(case, "window_date", &line["latest"]["on"], &case.expect["window_date"][1]);
    let hours = window_item(&json!({"hours": every["hours"]}), &army_tolerance());
    hours_window(case, &hours, &line["due"]["hours"], faults);
    let days = window_item(&json!({"days": every["days"]}), &army_tolerance());
    days_window(case, &days, &line["due"]["on"], "window_date", faults);
}

/// How far past due an item may run, from new.
fn reach(item: &Value) -> Value {
    let line = due(&json!({"as_of": ANY_DAY, "item": item, "last": {"hours": 0}}));
    tenths_on(&json!("0.0"), count(&line["latest"]["hours"]) - count(&line["due"]["hours"]))
}

/// 10 %, at most 500 h.
fn variation(case: &Case, faults: &mut Faults) {
    let item = json!({"every": {"hours": case.hours("interval_h")}, "class": "required-inspection",
        "tolerance": {"percent": 10, "hours_max": 500}});
    case.expects_hours("max_variation_h", &reach(&item), faults);
}

fn no_tolerance(case: &Case, faults: &mut Faults) {
    for class in ["directive", "airworthiness-limitation"] {
        let item = json!({"every": {"hours": case.hours("interval_h")}, "class": class,
            "tolerance": {"hours": case.hours("requested_tol_h")}});
        case.expects_hours("allowed_tol_h", &reach(&item), faults);
    }
}

/// Aerial work and charter: not over 110 h or 12 months.
fn whichever_first(case: &Case, faults: &mut Faults) {
    let item =
        json!({"every": {"hours": 110, "months": 12}, "calendar": "day", "class": "directive"});
    let line = due(&json!({"as_of": case.input["last_date"], "item": item,
        "last": {"on": case.input["last_date"], "hours": case.hours("last_h")}}));
    case.expects_hours("next_due_h", &line["due"]["hours"], faults);
    case.expects("next_due_date", &line["due"]["on"], faults);
}

/// Valid through the last day of the month, overdue from the next day.
fn calendar_months(case: &Case, faults: &mut Faults) {
    let item = json!({"every": {"months": case.input["months"]}, "calendar": "end-of-month",
        "class": "required-inspection"});
    let on = |as_of: &Value| {
        due(&json!({"as_of": as_of, "item": item, "last": {"on": case.input["done"]}}))
    };
    case.expects("due_through", &on(&case.input["done"])["due"]["on"], faults);
    let overdue = |as_of: &Value| json!(on(as_of)["status"] == "overdue");
    faults.same(case, "on the last day", &overdue(&case.expect["due_through"]), &json!(false));
    if case.has("first_illegal_day") {
        case.expects("first_illegal_day", &days_on(&case.expect["due_through"], 1), faults);
        faults.same(case, "overdue", &overdue(&case.expect["first_illegal_day"]), &json!(true));
    }
    if case.has("current") {
        case.expects("current", &json!(overdue(&case.input["as_of"]) == json!(false)), faults);
    }
}

fn clamped_months(case: &Case, faults: &mut Faults) {
    let (start, months) = (&case.input["start"], &case.input["months"]);
    let item = json!({"every": {"months": months}, "calendar": "day", "class": "recommended"});
    let line = due(&json!({"as_of": start, "item": item, "last": {"on": start}}));
    case.expects("due", &line["due"]["on"], faults);
    let shifted = calc_one("calendar", &json!({"start": start, "months": months}));
    case.expects("due", &shifted["due"], faults);
}

/// So many years to the day, from fitting.
fn day_exact_years(case: &Case, faults: &mut Faults) {
    let given = |name: &str, or: &str| case.input.get(name).unwrap_or(&case.input[or]).clone();
    let (start, years) = (given("installed", "fitted"), given("interval_years", "limit_years"));
    let months = years.as_i64().map(|years| years * 12);
    let item = json!({"every": {"months": months}, "calendar": "day", "class": "recommended"});
    let line = due(&json!({"as_of": start, "item": item, "last": {"on": start}}));
    case.expects("due", &line["due"]["on"], faults);
}

/// Hours and years, whichever comes first. The projected date is a forecast, which this sum does not make.
fn dual(case: &Case, faults: &mut Faults) {
    let input = &case.input;
    if input.get("calendar_due").is_some() {
        // Nothing flown: all of the hours are left, while the calendar runs.
        let item = json!({"every": {"hours": case.hours("hours_left"), "days": 365}, "class": "recommended"});
        let done = days_on(&input["calendar_due"], -365);
        let line = due(
            &json!({"as_of": days_on(&input["calendar_due"], -60), "item": item, "hours_now": 0,
            "last": {"on": done, "hours": 0}}),
        );
        faults.same(case, "calendar_due", &line["due"]["on"], &input["calendar_due"]);
        return case.expects("governs", &line["governs"], faults);
    }
    let months = input["limit_years"].as_i64().map(|years| years * 12);
    let item = json!({"every": {"hours": case.hours("limit_h"), "months": months}, "calendar": "day",
        "class": "recommended"});
    let line = due(&json!({"as_of": input["now"], "hours_now": case.hours("now_h"), "item": item,
        "last": {"on": input["rebuilt"], "hours": case.hours("hours_at_rebuild")}}));
    case.expects_hours("due_h", &line["due"]["hours"], faults);
    case.expects("due_date_calendar", &line["due"]["on"], faults);
    case.expects("governs", &line["governs"], faults);
}

/// The maker's hours or ten years, whichever comes first.
fn propeller(case: &Case, faults: &mut Faults) {
    let item = json!({"every": {"hours": case.hours("maker_tbo_h"), "months": 120}, "calendar": "day",
        "class": "required-inspection"});
    let line =
        due(&json!({"as_of": case.input["as_of"], "hours_now": case.hours("now_h"), "item": item,
        "last": {"on": case.input["overhauled"], "hours": case.hours("hours_at_oh")}}));
    case.expects_hours("due_h", &line["due"]["hours"], faults);
    case.expects("due_date", &line["due"]["on"], faults);
    case.expects("state", &line["status"], faults);
    case.expects("by", &line["governs"], faults);
}

/// A fifth beyond the recommended hours or years, whichever comes first; then on condition.
fn extension(case: &Case, faults: &mut Faults) {
    const NEW: &str = "2000-01-01";
    let months = |years: &Value| count(&tenths(years)) * 12 / 10;
    let months_on =
        |months: i64| calc_one("calendar", &json!({"start": NEW, "months": months}))["due"].clone();
    let every = json!({"hours": case.hours("tbo_h"), "months": months(&case.input["tbo_years"])});
    let item =
        json!({"every": every, "calendar": "day", "class": "recommended", "extension_percent": 20});
    let line = due(&json!({"as_of": months_on(months(&case.input["age_years"])), "item": item,
        "hours_now": case.hours("h"), "last": {"on": NEW, "hours": 0}}));
    case.expects("state", &json!(text(&line["status"]).replace('-', "_")), faults);
    if case.has("limit_h") {
        case.expects_hours("limit_h", &line["latest"]["hours"], faults);
        // 14.4 years are 172 whole months, rounded down.
        let latest = months_on(months(&case.expect["limit_years"]));
        faults.same(case, "limit_years", &line["latest"]["on"], &latest);
    }
}
