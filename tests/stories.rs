//! The stories a practitioner would test first, told through the API, in every order and twice over.
//!
//! The figures were worked by hand; no published source unless one is named beside them.

#![expect(clippy::indexing_slicing, reason = "a missing field in an answer fails the test")]

use gudgeon_tests::{Service, id};
use serde_json::{Value, json};

const ENGINE: u8 = 1;
const AIRCRAFT: u8 = 2;
const COMPONENT: u8 = 3;
const OWNER: u8 = 4;
const SHOP: u8 = 5;
const FACT: u8 = 9;

/// An engine type with these items, invented for the test.
fn engine_type(items: &str) -> String {
    format!(
        "name = \"story-twin\"\ntitle = \"Story twin\"\ninvented = true\nbasis = \"engine-run\"\nentered-up-to = 2026-10-31\n[[positions]]\nid = \"crankcase\"\ntitle = \"crankcase\"\n\n{items}"
    )
}

/// Posts to send in any order: address and body.
struct Story {
    posts: Vec<(String, Value)>,
    facts: u32,
}

impl Story {
    fn new() -> Self {
        Self { posts: Vec::new(), facts: 0 }
    }

    fn fact(&mut self) -> String {
        self.facts += 1;
        id(FACT, self.facts)
    }

    fn tell(&mut self, path: String, body: Value) {
        self.posts.push((path, body));
    }

    fn aircraft(&mut self, number: u32, mark: &str) {
        let body = json!({"on": "2019-01-01", "mark": mark, "basis": "engine-run"});
        self.tell(format!("/v1/aircraft/{}", id(AIRCRAFT, number)), body);
    }

    fn engine(&mut self, number: u32, on: &str, tsn: Option<&str>, made_on: Option<&str>) {
        let mut body = json!({
            "on": on, "engine_type": "story-twin", "serial": format!("S-{number}"),
            "basis": "engine-run", "tsn": tsn,
        });
        if let Some(made_on) = made_on {
            body["made_on"] = json!(made_on);
        }
        self.tell(format!("/v1/engines/{}", id(ENGINE, number)), body);
    }

    fn about_engine(&mut self, number: u32, what: &str, body: Value) {
        let path = format!("/v1/engines/{}/{what}/{}", id(ENGINE, number), self.fact());
        self.tell(path, body);
    }

    fn install(&mut self, engine: u32, aircraft: u32, on: &str, meter: &str) {
        let body = json!({"on": on, "aircraft": id(AIRCRAFT, aircraft), "meter": meter});
        self.about_engine(engine, "installations", body);
    }

    fn reading(&mut self, aircraft: u32, on: &str, meter: &str) {
        let path = format!("/v1/aircraft/{}/readings/{}", id(AIRCRAFT, aircraft), self.fact());
        self.tell(path, json!({"on": on, "meter": meter}));
    }

    fn inspection(&mut self, mut body: Value, engine: u32, on: &str) {
        body["engine"] = json!(id(ENGINE, engine));
        body["shop"] = json!(id(SHOP, 1));
        body["opened_on"] = json!(on);
        body["released_on"] = json!(on);
        body["release"] = json!({"by": "a licensed person", "reference": "1"});
        let path = format!("/v1/inspections/{}", self.fact());
        self.tell(path, body);
    }

    fn fit(&mut self, component: u32, body: Value) {
        let path = format!("/v1/components/{}/fittings/{}", id(COMPONENT, component), self.fact());
        self.tell(path, body);
    }

    /// Sends the posts as they are told, backwards, and in two mixed orders with every post sent twice,
    /// each to a service of its own; gives what `ask` reads from each, which has to be the same.
    fn in_every_order(&self, engine_type: &str, ask: impl Fn(&Service) -> Value) -> Value {
        let told: Vec<usize> = (0..self.posts.len()).collect();
        let mut backwards = told.clone();
        backwards.reverse();
        let mixed = |stride: usize| {
            let count = self.posts.len();
            let mut order: Vec<usize> = (0..count).map(|at| at * stride % count).collect();
            order.extend(0..count);
            order.reverse();
            order
        };
        let orders = [told, backwards, mixed(7), mixed(11)];
        let answers: Vec<Value> = orders
            .iter()
            .map(|order| {
                let service = Service::start();
                service.put_type("story-twin", engine_type);
                let shop = format!("/v1/shops/{}", id(SHOP, 1));
                service
                    .put_ok(&shop, &json!({"name": "Story Bench", "email": "bench@story.example"}));
                for at in order {
                    let (path, body) = &self.posts[*at];
                    service.put_ok(path, body);
                }
                ask(&service)
            })
            .collect();
        for (answer, order) in answers.iter().zip(&orders) {
            assert_eq!(answer, &answers[0], "sent in the order {order:?}");
        }
        answers.into_iter().next().unwrap_or_default()
    }
}

fn lines(service: &Service, engine: u32, as_of: &str) -> Value {
    let path = format!("/v1/engines/{}/due?as_of={as_of}", id(ENGINE, engine));
    service.get(&path)["lines"].take()
}

fn line<'a>(lines: &'a Value, item: &str) -> &'a Value {
    let lines = lines.as_array().map(Vec::as_slice).unwrap_or_default();
    lines.iter().find(|line| line["item"] == item).unwrap_or(&Value::Null)
}

const OVERHAUL: &str = r#"
[[items]]
id = "full-overhaul"
title = "Full overhaul"
class = "recommended"
source = "common practice"
counts-from = "overhaul"
every = { hours = 300, months = 60 }
done-by = ["overhauled"]
"#;

/// Swap: TSO 203.6 h, TSN 615.6 h, 96.4 h left, calendar 2027-05-10; the gearbox stayed: 502.0 h.
#[test]
fn an_engine_swapped_between_aircraft_and_a_gearbox_that_stayed() {
    let mut story = Story::new();
    story.aircraft(1, "Q-AAA");
    story.aircraft(2, "Q-BBB");
    story.engine(1, "2016-03-01", Some("0"), Some("2016-01-15"));
    let overhaul = json!({
        "tsn": "412.0", "overhaul": {"scope": "full"}, "test_run": "1.0",
        "work": [{"item": "full-overhaul", "action": "overhauled"}],
    });
    story.inspection(overhaul, 1, "2022-05-10");
    story.install(1, 1, "2022-06-01", "1210.0");
    story.about_engine(1, "removals", json!({"on": "2024-03-01", "meter": "1318.5"}));
    story.install(1, 2, "2024-04-01", "87.2");
    let change = format!("/v1/aircraft/{}/meter-changes/{}", id(AIRCRAFT, 2), id(FACT, 900));
    story.tell(change, json!({"on": "2025-02-01", "old_end": "140.0", "new_start": 0}));
    story.reading(2, "2026-01-10", "41:18");
    let gearbox = json!({"on": "2021-01-01", "kind": "gearbox", "serial": "G-1", "hours": 0});
    story.tell(format!("/v1/components/{}", id(COMPONENT, 1)), gearbox);
    let aircraft = id(AIRCRAFT, 1);
    story.fit(1, json!({"on": "2021-01-01", "aircraft": aircraft, "meter": "1000.0"}));
    story.reading(1, "2026-01-05", "1502.0");

    let answer = story.in_every_order(&engine_type(OVERHAUL), |service| {
        let engine = service.get(&format!("/v1/engines/{}", id(ENGINE, 1)))["engine"].take();
        let gearbox = service.get(&format!("/v1/components/{}", id(COMPONENT, 1)));
        let gearbox = &gearbox["component"];
        let lines = lines(service, 1, "2026-11-25");
        json!({"engine": engine, "gearbox": gearbox, "lines": lines})
    });
    assert_eq!(answer["engine"]["hours"]["since_overhaul"], "203.6");
    assert_eq!(answer["engine"]["hours"]["since_new"], "615.6");
    assert_eq!(answer["gearbox"]["hours"], "502.0");
    let overhaul = line(&answer["lines"], "full-overhaul");
    assert_eq!(overhaul["hours_left"], "96.4");
    assert_eq!(overhaul["due"]["on"], "2027-05-10");
    assert_eq!(overhaul["status"], "not-due");
}

const BELT: &str = r#"
[[items]]
id = "fan-belt"
title = "Fan belt"
component = "fan-belt"
class = "recommended"
source = "common practice"
done-by = ["renewed"]
[[items.limits]]
name = "shelf"
counts-from = "made"
every = { months = 48 }
shelf = true
[[items.limits]]
name = "in service"
counts-from = "first-fitted"
every = { hours = 300, months = 60 }
[[items.limits]]
name = "total"
counts-from = "made"
every = { months = 96 }
"#;

fn belt_story(code: Option<&str>) -> Story {
    let mut story = Story::new();
    for number in [1, 2] {
        story.aircraft(number, &format!("Q-BE{number}"));
        story.engine(number, "2020-01-01", Some("0"), Some("2019-12-01"));
        story.install(number, number, "2020-01-02", "0");
    }
    let mut belt = json!({"on": "2022-05-20", "kind": "fan-belt", "hours": 0});
    if let Some(text) = code {
        belt["code"] = json!({"scheme": "quarter", "text": text});
    }
    story.tell(format!("/v1/components/{}", id(COMPONENT, 5)), belt);
    story.reading(1, "2022-06-01", "50.0");
    story.fit(5, json!({"on": "2022-06-01", "engine": id(ENGINE, 1)}));
    story.reading(1, "2023-09-01", "170.0");
    let off = format!("/v1/components/{}/removals/{}", id(COMPONENT, 5), id(FACT, 901));
    story.tell(off, json!({"on": "2023-09-01", "reason": "engine laid up"}));
    story.reading(2, "2024-02-01", "80.0");
    story.fit(5, json!({"on": "2024-02-01", "engine": id(ENGINE, 2)}));
    story
}

/// Belt 3Q19, off at 120.0 h: 180.0 h left or 2027-06-01, total 2027-07-01. Code lost: unknown.
#[test]
fn a_belt_that_moved_keeps_its_hours_and_its_age() {
    let kind = engine_type(BELT);
    let answer =
        belt_story(Some("3Q19")).in_every_order(&kind, |service| lines(service, 2, "2026-11-25"));
    let belt = line(&answer, "fan-belt");
    assert_eq!(belt["hours_left"], "180.0", "{belt:#}");
    assert_eq!(belt["due"]["on"], "2027-06-01");
    let total =
        belt["legs"].as_array().and_then(|legs| legs.iter().find(|leg| leg["limit"] == "total"));
    assert_eq!(total.map(|leg| &leg["due"]), Some(&json!("2027-07-01")), "{belt:#}");

    let answer = belt_story(None).in_every_order(&kind, |service| lines(service, 2, "2026-11-25"));
    assert_eq!(line(&answer, "fan-belt")["status"], "unknown");
}

/// Regime: due 1040.0, done 1043.2, every 100 h. 14 CFR 91.409(b): 1140.0, overdue at 1141.0;
/// ML.A.302(d)(1): 1143.2, 2.2 h left.
#[test]
fn two_regimes_count_the_same_inspection_differently() {
    let mut story = Story::new();
    story.aircraft(1, "Q-REG");
    story.engine(1, "2010-01-01", Some("840.0"), None);
    story.install(1, 1, "2010-01-01", "840.0");
    for (on, meter) in [("2023-01-10", "940.0"), ("2024-01-10", "1043.2")] {
        let work = json!({
            "readings": [{"meter": meter}],
            "work": [
                {"item": "hundred-from-due", "action": "inspected"},
                {"item": "hundred-from-done", "action": "inspected"},
            ],
        });
        story.inspection(work, 1, on);
    }
    story.reading(1, "2024-12-01", "1141.0");
    story.tell(format!("/v1/owners/{}", id(OWNER, 1)), json!({"name": "An Owner"}));
    let item = |next: &str, source: &str| {
        format!(
            "[[items]]\nid = \"hundred-{next}\"\ntitle = \"100 hours\"\nclass = \"required-inspection\"\nsource = \"{source}\"\ncounts-from = \"done\"\nevery = {{ hours = 100 }}\nnext = \"{next}\"\ndone-by = [\"inspected\"]\n\n"
        )
    };
    let kind = engine_type(&format!(
        "{}{}",
        item("from-due", "14 CFR 91.409(b)"),
        item("from-done", "ML.A.302(d)(1)")
    ));
    let answer = story.in_every_order(&kind, |service| lines(service, 1, "2024-12-02"));
    let from_due = line(&answer, "hundred-from-due");
    assert_eq!(from_due["due"]["hours"], "1140.0", "{from_due:#}");
    assert_eq!(from_due["status"], "overdue");
    assert_eq!(from_due["last_overrun"]["hours"], "3.2");
    let from_done = line(&answer, "hundred-from-done");
    assert_eq!(from_done["due"]["hours"], "1143.2");
    assert_eq!(from_done["hours_left"], "2.2");
}
