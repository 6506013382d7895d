//! Stories of what happens to an engine and of which rules reach it, told through the API in every order and
//! twice over.
//!
//! The figures were worked by hand; no published source unless one is named beside them.

use gudgeon_tests::story::{COMPONENT, ENGINE, Story, engine_type, line, lines};
use gudgeon_tests::{Service, id};
use serde_json::{Value, json};

const RUN_IN: &str = r#"
[[items]]
id = "head-nuts"
title = "Re-torque of the cylinder heads"
class = "recommended"
source = "common practice"
counts-from = "overhaul"
once = [2, 10, 25, 50]
done-by = ["adjusted"]
notice = { hours = 1 }

[[items]]
id = "strike-check"
title = "Check of crankshaft and gearbox"
class = "required-inspection"
source = "common practice"
after = ["propeller-strike", "sudden-stoppage"]
done-by = ["inspected"]
"#;

/// Overhauled in full at 412.0 h, 1.0 h on the bench, then flown from meter 100.0: 14.0 h since overhaul is
/// meter 113.0, and so on.
fn run_in() -> Story {
    let mut story = Story::new();
    story.aircraft(1, "Q-RUN");
    story.engine(1, "2019-03-01", Some("0"), Some("2019-01-15"));
    let overhaul = json!({
        "tsn": "412.0", "overhaul": {"scope": "full"}, "test_run": "1.0",
    });
    story.inspection(overhaul, 1, "2026-02-01");
    story.install(1, 1, "2026-02-10", "100.0");
    for (on, meter) in [("2026-02-11", "101.0"), ("2026-03-01", "113.0"), ("2026-03-20", "125.0")] {
        let work = json!({
            "readings": [{"meter": meter}],
            "work": [{"item": "head-nuts", "action": "adjusted"}],
        });
        story.inspection(work, 1, on);
    }
    let strike = json!({"on": "2026-04-10", "kind": "propeller-strike", "meter": "130.4",
        "note": "tail-wheel steering lost on the ground"});
    story.about_engine(1, "events", strike);
    story.reading(1, "2026-04-12", "132.0");
    // Performed before the strike; in half of the orders it is posted after it.
    let before = json!({
        "readings": [{"meter": "129.0"}],
        "work": [{"item": "strike-check", "action": "inspected"}],
    });
    story.inspection(before, 1, "2026-04-02");
    story
}

/// Run-in: steps at 2, 10, 25 and 50 h since overhaul; the third done at 26.0: next 50.0. A propeller strike
/// at 31.4, read at 33.0: its inspection is overdue, 1.6 h run since; one performed before does not close it.
#[test]
fn steps_after_an_overhaul_and_a_propeller_strike() {
    let kind = engine_type(RUN_IN);
    let mut story = run_in();
    let answer = story.in_every_order(&kind, |service| lines(service, 1, "2026-04-12"));
    let steps = line(&answer, "head-nuts");
    // The count is that of the engine: 412.0 h and 50.0 h. The meter shows 149.0 then.
    assert_eq!(steps["legs"][0]["from"], "412.0", "{steps:#}");
    assert_eq!(steps["due"]["hours"], "462.0");
    assert_eq!(steps["due"]["meter"], "149.0");
    assert_eq!(steps["last_overrun"]["hours"], "1.0");
    assert_eq!(steps["asked_by"], json!({"kind": "programme"}));
    let check = line(&answer, "strike-check");
    assert_eq!(check["status"], "overdue", "{check:#}");
    assert_eq!(check["asked_by"]["kind"], "event");
    let happened = json!({
        "kind": "propeller-strike", "on": "2026-04-10", "hours": "443.4", "hours_since": "1.6",
    });
    assert_eq!(check["asked_by"]["happened"], happened);

    let after = json!({"work": [{"item": "strike-check", "action": "inspected"}]});
    story.inspection(after, 1, "2026-04-14");
    let answer = story.in_every_order(&kind, |service| lines(service, 1, "2026-04-15"));
    assert_eq!(line(&answer, "strike-check"), &Value::Null, "looked at after the strike");
    assert_eq!(line(&answer, "head-nuts")["due"]["hours"], "462.0");
}

const BULLETIN: &str = r#"
[[items]]
id = "shaft-bulletin"
title = "Crankshaft pins of one batch"
component = "crankshaft"
class = "directive"
source = "invented bulletin, effective 2026-05-01"
counts-from = "effective"
effective = 2026-05-01
first = { hours = 10, days = 30 }
every = { hours = 25 }
next = "from-done"
done-by = ["inspected"]
notice = { hours = 5, days = 20 }
[items.applies-to]
serials = ["2000-2349"]
"#;

/// Twelve crankshafts of the batch, with its first and last.
const IN_BATCH: [&str; 12] = [
    "2107", "2000", "2349", "2001", "2348", "2050", "2099", "2111", "2174", "2200", "2300", "2333",
];

/// Engine and crankshaft of one number; `None` leaves the crankshaft out.
fn shaft(story: &mut Story, number: u32, mark: Option<Value>) {
    story.engine(number, "2025-06-01", Some("300.0"), None);
    let Some(serial) = mark else { return };
    let body = json!({"on": "2025-06-01", "kind": "crankshaft", "serial": serial, "hours": "12.0"});
    story.component(number, body);
    story.fit(number, json!({"on": "2025-06-01", "engine": id(ENGINE, number)}));
}

/// Crankshaft 2107 had 12.0 h on it at meter 0 of the aircraft, so 88.0 h at meter 76.0.
fn shaft_2107(story: &mut Story) {
    shaft(story, 1, Some(json!("2107")));
    story.aircraft(1, "Q-BUL");
    story.install(1, 1, "2025-06-02", "0");
    story.reading(1, "2026-04-20", "76.0");
}

/// Bulletin: of forty engines 12 apply, 25 do not, 3 cannot be told. Crankshaft 2107 stood at 88.0 h: due at
/// 98.0 h or 2026-05-31.
#[test]
fn a_bulletin_for_crankshafts_of_one_batch() {
    let mut story = Story::new();
    shaft_2107(&mut story);
    for (number, serial) in (2..).zip(&IN_BATCH[1..]) {
        shaft(&mut story, number, Some(json!(serial)));
    }
    // The nearest numbers outside, other letters in front, and the engine's own number, which is not asked.
    let near = ["1999", "2350", "K2107", "2107A1", "21070", "207", "S-2107"].map(str::to_owned);
    let others = (0..18).map(|at| (3000 + 17 * at).to_string());
    for (number, serial) in (13..).zip(near.into_iter().chain(others)) {
        shaft(&mut story, number, Some(json!(serial)));
    }
    // No crankshaft on record, one without a number, and one whose number cannot be read.
    shaft(&mut story, 38, None);
    shaft(&mut story, 39, Some(Value::Null));
    shaft(&mut story, 40, Some(json!("worn off")));

    let standing = |service: &Service| {
        let stands = |number| {
            let lines = lines(service, number, "2026-05-20");
            line(&lines, "shaft-bulletin")["status"].clone()
        };
        json!({
            "stands": (1..=40).map(stands).collect::<Vec<_>>(),
            "first": line(&lines(service, 1, "2026-05-20"), "shaft-bulletin"),
        })
    };
    let answer = story.in_every_order(&engine_type(BULLETIN), standing);
    let stands = answer["stands"].as_array().map(Vec::as_slice).unwrap_or_default();
    let (apply, rest) = stands.split_at(12);
    let (apply_not, untold) = rest.split_at(25);
    // Eleven days left of twenty days of notice.
    assert!(apply.iter().all(|status| status == "coming-due"), "{apply:?}");
    assert!(apply_not.iter().all(Value::is_null), "{apply_not:?}");
    assert!(untold.iter().all(|status| status == "unknown"), "{untold:?}");
    assert_eq!(untold.len(), 3);
    let first = &answer["first"];
    assert_eq!(first["due"]["hours"], "98.0", "{first:#}");
    assert_eq!(first["due"]["on"], "2026-05-31");
    assert_eq!(first["hours_left"], "10.0");
    assert_eq!(first["component"], id(COMPONENT, 1));
}

/// Crankshaft 2107 done at 97.0 h: next 122.0. Then it goes into another engine, and the line with it.
#[test]
fn the_bulletin_follows_the_crankshaft() {
    let mut story = Story::new();
    shaft_2107(&mut story);
    shaft(&mut story, 2, Some(json!("1999")));
    story.aircraft(2, "Q-BUM");
    story.install(2, 2, "2025-06-02", "0");
    let done = json!({
        "readings": [{"meter": "85.0"}],
        "work": [{"item": "shaft-bulletin", "action": "inspected"}],
    });
    story.inspection(done, 1, "2026-05-20");
    story.about_component(1, "removals", json!({"on": "2026-06-01", "meter": "86.0"}));
    story.about_component(2, "removals", json!({"on": "2026-06-01"}));
    story.component(
        3,
        json!({"on": "2026-06-02", "kind": "crankshaft", "serial": "2350", "hours": 0}),
    );
    story.fit(3, json!({"on": "2026-06-02", "engine": id(ENGINE, 1)}));
    let other = json!({"on": "2026-06-02", "engine": id(ENGINE, 2), "meter": "40.0"});
    story.fit(1, other);
    story.reading(2, "2026-07-01", "44.5");

    let answer = story.in_every_order(&engine_type(BULLETIN), |service| {
        json!([lines(service, 1, "2026-07-01"), lines(service, 2, "2026-07-01")])
    });
    assert_eq!(line(&answer[0], "shaft-bulletin"), &Value::Null);
    let moved = line(&answer[1], "shaft-bulletin");
    assert_eq!(moved["component"], id(COMPONENT, 1), "{moved:#}");
    // It was fitted with 98.0 h on it at meter 40.0, so 24.0 h before it is due.
    assert_eq!(moved["due"], json!({"hours": "122.0", "on": null, "meter": "64.0"}));
    // 97.0 h, 1.0 h more on the first engine, 4.5 h on the second.
    assert_eq!(moved["hours_now"], "102.5");
    assert_eq!(moved["hours_left"], "19.5");
    assert_eq!(moved["status"], "not-due");
}

const SCHOOL: &str = r#"
[[items]]
id = "annual"
title = "Annual inspection"
class = "required-inspection"
source = "14 CFR 91.409(a)"
counts-from = "done"
every = { months = 12 }
next = "from-done"
done-by = ["inspected"]

[[items]]
id = "hundred-hours"
title = "100-hour inspection"
class = "required-inspection"
source = "14 CFR 91.409(b)"
counts-from = "done"
every = { hours = 100 }
next = "from-due"
satisfied-by = ["annual"]
done-by = ["inspected"]
[items.applies-to]
use = ["school", "hire"]
"#;

/// Use: from private to school at 1120.0 h, last annual at 1000.0: the 100-hour line appears, overdue by
/// 20.0 h. Nobody having said how it is used, it cannot be told.
#[test]
fn an_aircraft_that_goes_to_a_school_owes_the_hundred_hours() {
    let mut story = Story::new();
    story.aircraft(1, "Q-USE");
    story.engine(1, "2015-01-01", Some("900.0"), None);
    story.install(1, 1, "2015-01-01", "900.0");
    let annual = json!({
        "readings": [{"meter": "1000.0"}],
        "work": [{"item": "annual", "action": "inspected"}],
    });
    story.inspection(annual, 1, "2026-03-01");
    story.reading(1, "2026-09-01", "1120.0");
    let kind = engine_type(SCHOOL);
    let ask = |service: &Service| lines(service, 1, "2026-09-01");

    let untold = story.in_every_order(&kind, ask);
    let untold = line(&untold, "hundred-hours");
    assert_eq!(untold["status"], "unknown", "{untold:#}");
    assert_eq!(untold["legs"][0]["missing"]["code"], "applicability");

    story.about_aircraft(1, "descriptions", json!({"on": "2020-01-01", "use": "private"}));
    let private = story.in_every_order(&kind, ask);
    assert_eq!(line(&private, "hundred-hours"), &Value::Null);
    assert_eq!(line(&private, "annual")["due"]["on"], "2027-03-01");

    story.about_aircraft(1, "descriptions", json!({"on": "2026-09-01", "use": ["school", "tow"]}));
    let school = story.in_every_order(&kind, ask);
    let hundred = line(&school, "hundred-hours");
    assert_eq!(hundred["due"]["hours"], "1100.0", "{hundred:#}");
    assert_eq!(hundred["overdue_by"]["hours"], "20.0");
    assert_eq!(hundred["status"], "overdue");
}

#[test]
fn all_of_these_pass_on_postgres_too() {
    gudgeon_tests::repeat_on_postgres();
}
