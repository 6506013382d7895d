//! The published due-date cases of `vectors/rules.json`, as posted facts answered by `/due`.
//!
//! Every expected value is the vector's. A case is told as the inspections that lead up to it, on an engine
//! and an engine type of its own; hours are stated by the workshop (`tsn`), as for an engine on the bench.

#![expect(clippy::indexing_slicing, reason = "a missing field fails the test")]
#![expect(clippy::unwrap_used, reason = "a missing field fails the test")]
#![expect(clippy::float_arithmetic, reason = "the vectors give hours as numbers of one decimal")]

use gudgeon_tests::{Service, id};
use serde_json::{Value, json};
use std::collections::BTreeSet;

const VECTORS: &str = include_str!("vectors/rules.json");

/// The keys of an item for each family of rules; `I` stands for the interval.
const FAA_100H: &str = "class = \"required-inspection\"\nevery = { hours = I }\nnext = \"from-due\"\ntolerance = { hours = 10 }\ngranted = \"en-route\"";
const EASA_HOURS: &str = "class = \"required-inspection\"\nevery = { hours = I }\nnext = \"from-done\"\ntolerance = { hours = 10 }\ngranted = \"automatic\"";
const EASA_OLD_HOURS: &str = "class = \"required-inspection\"\nevery = { hours = I }\nnext = \"from-due\"\ntolerance = { hours = 10 }\ngranted = \"automatic\"";
const EASA_MONTHS: &str = "class = \"required-inspection\"\nevery = { months = I }\nnext = \"from-done\"\ntolerance = { months = 1 }\ngranted = \"automatic\"";
const EASA_OLD_MONTHS: &str = "class = \"required-inspection\"\nevery = { months = I }\nnext = \"from-due\"\ntolerance = { months = 1 }\ngranted = \"automatic\"";
const FAA_MONTHS: &str = "class = \"required-inspection\"\nevery = { months = I }\ncalendar = \"end-of-month\"\nnext = \"from-done\"";
const WINDOW_HOURS: &str = "class = \"required-inspection\"\nevery = { I }\nnext = \"window\"\ntolerance = { percent = 10, hours-max = 5 }\ngranted = \"automatic\"";
const WINDOW_DAYS: &str = "class = \"required-inspection\"\nevery = { I }\nnext = \"window\"\ntolerance = { percent = 10, days-max = 30 }\ngranted = \"automatic\"";
const WINDOW: &str = "class = \"required-inspection\"\nevery = { I }\nnext = \"window\"\ntolerance = { percent = 10, hours-max = 5, days-max = 30 }\ngranted = \"automatic\"\nnotice = { hours = 1, days = 1 }";
const PLAIN: &str = "class = \"recommended\"\nevery = { I }\nnext = \"from-done\"";

/// A service, and the cases told to it so far.
struct Bench {
    service: Service,
    told: u32,
    facts: u32,
}

/// One engine with one case.
struct Case<'a> {
    bench: &'a mut Bench,
    engine: String,
    number: u32,
}

impl Bench {
    fn case(&mut self, rule: &str, interval: &str) -> Case<'_> {
        self.told += 1;
        let number = self.told;
        let engine = id(1, number);
        let kind = format!(
            "name = \"case-{number}\"\ntitle = \"A case\"\ninvented = true\nbasis = \"engine-run\"\nentered-up-to = 2026-10-31\n\
             [[positions]]\nid = \"crankcase\"\ntitle = \"crankcase\"\n[[items]]\nid = \"item\"\ntitle = \"The item\"\nsource = \"the case\"\ncounts-from = \"done\"\n{}\n",
            rule.replace('I', interval)
        );
        self.service.put_type(&format!("case-{number}"), &with_done_by(&kind));
        let body = json!({
            "on": "1990-01-01", "engine_type": format!("case-{number}"),
            "serial": number.to_string(), "basis": "engine-run", "tsn": 0,
        });
        self.service.put_ok(&format!("/v1/engines/{engine}"), &body);
        Case { bench: self, engine, number }
    }
}

/// Every item says what closes it; here, having been inspected.
fn with_done_by(kind: &str) -> String {
    format!("{kind}done-by = [\"inspected\"]\n")
}

impl Case<'_> {
    fn done(&mut self, on: &str, hours: Option<f64>) -> &mut Self {
        self.bench.facts += 1;
        let mut body = json!({
            "engine": self.engine, "shop": id(5, 1), "opened_on": on, "released_on": on,
            "work": [{"item": "item", "action": "inspected"}],
            "release": {"by": "a licensed person"},
        });
        if let Some(hours) = hours {
            body["tsn"] = json!(format!("{hours:.1}"));
        }
        let path = format!("/v1/inspections/{}", id(9, self.bench.facts));
        self.bench.service.put_ok(&path, &body);
        self
    }

    /// The engine ran on to these hours.
    fn ran_to(&mut self, on: &str, hours: f64) -> &mut Self {
        self.bench.facts += 1;
        let body = json!({
            "engine": self.engine, "shop": id(5, 1), "opened_on": on, "released_on": on,
            "tsn": format!("{hours:.1}"),
        });
        let path = format!("/v1/inspections/{}", id(9, self.bench.facts));
        self.bench.service.put_ok(&path, &body);
        self
    }

    fn due(&self, as_of: &str) -> Value {
        let path = format!("/v1/engines/{}/due?as_of={as_of}", self.engine);
        let answer = self.bench.service.get(&path);
        assert_eq!(answer["lines"].as_array().map(Vec::len), Some(1), "case {}", self.number);
        answer["lines"][0].clone()
    }
}

fn hours(value: f64) -> Value {
    json!(format!("{value:.1}"))
}

/// Tells a case and checks its answer; `false` for a case that is no due-date case.
fn check(bench: &mut Bench, case: &Value) -> bool {
    let (input, expected) = (&case["input"], &case["expected"]);
    let number = |field: &Value| field.as_f64();
    match case["rule"].as_str().unwrap() {
        "FAA-100H" if input.get("was_due_h").is_some() => {
            from_due_hours(bench, FAA_100H, input, expected);
        }
        "FAA-100H" => annual_counts_as_hundred(bench, input, expected),
        "EASA-MA302i-2015" if input.get("was_due_h").is_some() => {
            from_due_hours(bench, EASA_OLD_HOURS, input, expected);
        }
        "EASA-MA302i-2015" => {
            let mut told = bench.case(EASA_OLD_MONTHS, &input["months"].to_string());
            // Due on a day means done so many months before it: 2016-03-15 less 12 months.
            told.done("2015-03-15", None).done(input["done"].as_str().unwrap(), None);
            let line = told.due("2016-04-11");
            assert_eq!(line["due"]["on"], expected["next_due"]);
            assert_eq!(line["last_overrun_beyond_tolerance"], json!(false));
        }
        "EASA-ML-MIP" if input.get("was_due_h").is_some() => {
            from_due_hours(bench, EASA_HOURS, input, expected);
        }
        "EASA-ML-MIP" if input.get("last_done_h").is_some() => {
            let mut told = bench.case(EASA_HOURS, &input["interval_h"].to_string());
            told.done("2024-01-10", number(&input["last_done_h"]));
            told.ran_to("2024-06-01", number(&input["now_h"]).unwrap());
            let line = told.due("2024-06-02");
            assert_eq!(line["due"]["hours"], hours(number(&expected["due_h"]).unwrap()));
            assert_eq!(line["latest"]["hours"], hours(number(&expected["latest_h"]).unwrap()));
            assert_eq!(
                (&line["status"], &expected["state"]),
                (&json!("in-tolerance"), &json!("due_in_tolerance"))
            );
        }
        "EASA-ML-MIP" => {
            let mut told = bench.case(EASA_MONTHS, &input["months"].to_string());
            let line = told.done(input["done"].as_str().unwrap(), None).due("2024-04-01");
            assert_eq!(line["due"]["on"], expected["due"]);
            assert_eq!(line["latest"]["on"], expected["latest"]);
        }
        "FAA-CALMONTH" => calendar_month(bench, input, expected),
        "ADD-MONTHS-CLAMP" => {
            let mut told = bench.case(PLAIN, &format!("months = {}", input["months"]));
            let line = told.done(input["start"].as_str().unwrap(), None).due("2023-09-01");
            assert_eq!(line["due"]["on"], expected["due"]);
        }
        "ARMY-WINDOW" if input.get("due_h").is_some() => window_hours(bench, input, expected),
        "ARMY-WINDOW" => window_days(bench, input, expected),
        "ARMY-DUAL" => window_dual(bench, input, expected),
        "DUAL-FIRST" if input.get("rebuilt").is_some() => dual_first(bench, input, expected),
        "TSN-TSO" => overhaul(bench, input, expected),
        _ => return false,
    }
    true
}

/// Done once an interval before it was due, then as the case says.
fn from_due_hours(bench: &mut Bench, rule: &str, input: &Value, expected: &Value) {
    let get = |name: &str| input[name].as_f64().unwrap();
    let mut told = bench.case(rule, &input["interval_h"].to_string());
    told.done("2023-01-10", Some(get("was_due_h") - get("interval_h")));
    told.done("2024-01-10", Some(get("done_h")));
    let line = told.due("2024-01-11");
    assert_eq!(line["due"]["hours"], hours(expected["next_due_h"].as_f64().unwrap()), "{line:#}");
    if let Some(overrun) = expected["overrun_h"].as_f64() {
        assert_eq!(line["last_overrun"]["hours"], hours(overrun));
    }
    for within in ["within_10h_ferry_limit", "within_tol"] {
        if let Some(within) = expected[within].as_bool() {
            assert_eq!(line["last_overrun_beyond_tolerance"], json!(!within));
        }
    }
    if let Some(latest) = expected["next_latest_h"].as_f64() {
        assert_eq!(line["latest"]["hours"], hours(latest));
    }
}

fn annual_counts_as_hundred(bench: &mut Bench, input: &Value, expected: &Value) {
    let rule = format!(
        "{FAA_100H}\nsatisfied-by = [\"annual\"]\ndone-by = [\"inspected\"]\n[[items]]\nid = \"annual\"\ntitle = \"Annual\"\nsource = \"the case\"\ncounts-from = \"done\"\nclass = \"required-inspection\"\nevery = {{ months = 12 }}\nnext = \"from-done\""
    );
    let mut told = bench.case(&rule, &input["interval_h"].to_string());
    told.done("2023-01-10", input["last_100h_done_h"].as_f64());
    told.bench.facts += 1;
    let body = json!({
        "engine": told.engine, "shop": id(5, 1), "opened_on": "2023-02-10", "released_on": "2023-02-10",
        "tsn": input["annual_done_h"].to_string(), "work": [{"item": "annual", "action": "inspected"}],
    });
    told.bench.service.put_ok(&format!("/v1/inspections/{}", id(9, told.bench.facts)), &body);
    let path = format!("/v1/engines/{}/due?as_of=2023-02-11", told.engine);
    let lines = told.bench.service.get(&path)["lines"].take();
    let line = lines.as_array().unwrap().iter().find(|line| line["item"] == "item").unwrap();
    assert_eq!(line["due"]["hours"], hours(expected["next_due_h"].as_f64().unwrap()));
}

fn calendar_month(bench: &mut Bench, input: &Value, expected: &Value) {
    let mut told = bench.case(FAA_MONTHS, &input["months"].to_string());
    told.done(input["done"].as_str().unwrap(), None);
    let due = expected["due_through"].as_str().unwrap();
    let line = told.due(due);
    assert_eq!(line["due"]["on"], expected["due_through"]);
    assert_ne!(line["status"], "overdue", "valid through the last day");
    if let Some(day) = expected["first_illegal_day"].as_str() {
        assert_eq!(told.due(day)["status"], "overdue");
    }
    if let (Some(as_of), Some(current)) = (input["as_of"].as_str(), expected["current"].as_bool()) {
        assert_eq!(told.due(as_of)["status"] != "overdue", current);
    }
}

/// The window's two ends are the earliest and the latest done hour that count from due; beyond them, from done.
fn window_hours(bench: &mut Bench, input: &Value, expected: &Value) {
    let get = |name: &str| input[name].as_f64().unwrap();
    let (due, every) = (get("due_h"), get("interval_h"));
    let interval = format!("hours = {every}");
    let ends = expected["window_h"].as_array().unwrap();
    let (first, last) = (ends[0].as_f64().unwrap(), ends[1].as_f64().unwrap());
    let mut answer = |done: f64| {
        let mut told = bench.case(WINDOW_HOURS, &interval);
        told.done("2023-01-10", Some(due - every));
        assert_eq!(told.due("2023-01-11")["latest"]["hours"], hours(last));
        told.done("2024-01-10", Some(done));
        told.due("2024-01-11")["due"]["hours"].clone()
    };
    for done in [first, last].into_iter().chain(input["done_h"].as_f64()) {
        assert_eq!(answer(done), hours(due + every));
    }
    assert_eq!(answer(first - 0.1), hours(first - 0.1 + every));
    assert_eq!(answer(last + 0.1), hours(last + 0.1 + every));
}

fn window_days(bench: &mut Bench, input: &Value, expected: &Value) {
    // The day one interval before each published due day.
    let before = match input["due"].as_str().unwrap() {
        "1999-01-31" => "1998-07-31",
        "1999-02-06" => "1998-02-06",
        other => panic!("a new due day {other}: say when the item was done before"),
    };
    let interval = format!("months = {}", input["interval_months"]);
    let mut answer = |done: &str| {
        let mut told = bench.case(WINDOW_DAYS, &interval);
        told.done(before, None);
        assert_eq!(told.due("1998-08-01")["due"]["on"], input["due"]);
        assert_eq!(told.due("1998-08-01")["latest"]["on"], expected["window"][1]);
        told.done(done, None);
        told.due("1999-03-10")["due"]["on"].clone()
    };
    let (first, last) = (
        answer(expected["window"][0].as_str().unwrap()),
        answer(expected["window"][1].as_str().unwrap()),
    );
    assert_eq!(first, last, "either end of the window counts from due");
    if let Some(next) = expected.get("next_due_if_in_window") {
        assert_eq!(first, *next);
    }
}

fn window_dual(bench: &mut Bench, input: &Value, expected: &Value) {
    let interval = format!("hours = {}, days = {}", input["interval_h"], input["interval_days"]);
    let mut told = bench.case(WINDOW, &interval);
    told.done(input["last_date"].as_str().unwrap(), input["last_h"].as_f64());
    let line = told.due(input["last_date"].as_str().unwrap());
    assert_eq!(line["due"]["hours"], hours(expected["due_h"].as_f64().unwrap()));
    assert_eq!(line["due"]["on"], expected["due_date"]);
    assert_eq!(line["latest"]["hours"], hours(expected["window_h"][1].as_f64().unwrap()));
    assert_eq!(line["latest"]["on"], expected["window_date"][1]);
}

fn dual_first(bench: &mut Bench, input: &Value, expected: &Value) {
    let months = input["limit_years"].as_u64().unwrap() * 12;
    let mut told = bench.case(PLAIN, &format!("hours = {}, months = {months}", input["limit_h"]));
    told.done(input["rebuilt"].as_str().unwrap(), input["hours_at_rebuild"].as_f64());
    told.ran_to(input["now"].as_str().unwrap(), input["now_h"].as_f64().unwrap());
    let line = told.due(input["now"].as_str().unwrap());
    assert_eq!(line["due"]["hours"], hours(expected["due_h"].as_f64().unwrap()));
    assert_eq!(line["due"]["on"], expected["due_date_calendar"]);
    assert_eq!(line["governs"], expected["governs"]);
}

fn overhaul(bench: &mut Bench, input: &Value, expected: &Value) {
    let get = |from: &Value, name: &str| from[name].as_f64().unwrap();
    let told = bench.case(PLAIN, "hours = 300");
    let engine = told.engine.clone();
    let before = get(input, "tsn_h") - get(input, "tso_h");
    for (on, tsn) in [("2020-01-10", before), ("2024-01-10", get(input, "tsn_h"))] {
        bench.facts += 1;
        let body = json!({
            "engine": engine, "shop": id(5, 1), "opened_on": on, "released_on": on,
            "tsn": format!("{tsn:.1}"), "overhaul": {"scope": "full"}, "test_run": 0,
        });
        bench.service.put_ok(&format!("/v1/inspections/{}", id(9, bench.facts)), &body);
    }
    let engine = bench.service.get(&format!("/v1/engines/{engine}"));
    let answered = &engine["engine"]["hours"];
    assert_eq!(answered["since_new"], hours(get(expected, "tsn_h")));
    assert_eq!(answered["since_overhaul"], hours(get(expected, "tso_h")));
    assert_eq!(answered["overhauls"], expected["overhauls"]);
}

/// The rules whose cases must all be told here; some of their cases are sums for `calc` alone.
const RULES: [&str; 9] = [
    "FAA-100H",
    "FAA-CALMONTH",
    "EASA-ML-MIP",
    "EASA-MA302i-2015",
    "ARMY-WINDOW",
    "ARMY-DUAL",
    "ADD-MONTHS-CLAMP",
    "DUAL-FIRST",
    "TSN-TSO",
];

#[test]
fn published_due_cases_as_posted_facts() {
    let mut bench = Bench { service: Service::start(), told: 0, facts: 0 };
    let cases: Value = serde_json::from_str(VECTORS).unwrap();
    let mut rules_told = BTreeSet::new();
    for case in cases.as_array().unwrap() {
        if check(&mut bench, case) {
            let [id, rule, source] = ["id", "rule", "source"].map(|it| case[it].as_str().unwrap());
            println!("{id} {rule}: {source}");
            rules_told.insert(rule);
        }
    }
    assert_eq!(rules_told, BTreeSet::from(RULES));
}

#[test]
fn all_of_these_pass_on_postgres_too() {
    gudgeon_tests::repeat_on_postgres();
}
