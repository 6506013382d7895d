//! A story: posts that can be told in any order, and what the service answers once all are told.

#![expect(clippy::indexing_slicing, reason = "a missing field in an answer fails the test")]

use crate::{Service, id};
use serde_json::{Value, json};

/// The kinds that [`id`] is given here.
pub const ENGINE: u8 = 1;
/// See [`ENGINE`].
pub const AIRCRAFT: u8 = 2;
/// See [`ENGINE`].
pub const COMPONENT: u8 = 3;
/// See [`ENGINE`].
pub const OWNER: u8 = 4;
/// See [`ENGINE`].
pub const SHOP: u8 = 5;
/// See [`ENGINE`].
pub const FACT: u8 = 9;

/// An engine type with these items, invented for the test.
#[must_use]
pub fn engine_type(items: &str) -> String {
    format!(
        "name = \"story-twin\"\ntitle = \"Story twin\"\ninvented = true\nbasis = \"engine-run\"\nentered-up-to = 2026-10-31\n[[positions]]\nid = \"crankcase\"\ntitle = \"crankcase\"\n\n{items}"
    )
}

/// An item with further keys; its id is its title too.
#[must_use]
pub fn item(id: &str, keys: &str) -> String {
    format!("[[items]]\nid = \"{id}\"\ntitle = \"{id}\"\nsource = \"common practice\"\n{keys}\n\n")
}

/// Posts to send in any order: address and body.
#[derive(Default)]
pub struct Story {
    posts: Vec<(String, Value)>,
    facts: u32,
}

impl Story {
    /// Nothing told yet.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Engine 1, made and new on 2019-01-01, on the bench.
    #[must_use]
    pub fn of_new_engine() -> Self {
        let mut story = Self::new();
        story.engine(1, "2019-01-01", Some("0"), Some("2019-01-01"));
        story
    }

    /// The posts, as they were told.
    #[must_use]
    pub fn into_posts(self) -> Vec<(String, Value)> {
        self.posts
    }

    /// The id of a new fact.
    pub fn fact(&mut self) -> String {
        self.facts += 1;
        id(FACT, self.facts)
    }

    /// One more post.
    pub fn tell(&mut self, path: String, body: Value) {
        self.posts.push((path, body));
    }

    /// An aircraft with a meter that runs with the engine.
    pub fn aircraft(&mut self, number: u32, mark: &str) {
        let body = json!({"on": "2019-01-01", "mark": mark, "basis": "engine-run"});
        self.tell(format!("/v1/aircraft/{}", id(AIRCRAFT, number)), body);
    }

    /// An engine of the story's type, without a log when `tsn` is not given.
    pub fn engine(&mut self, number: u32, on: &str, tsn: Option<&str>, made_on: Option<&str>) {
        let mut body = json!({
            "on": on, "engine_type": "story-twin", "serial": format!("S-{number}"),
            "basis": "engine-run", "tsn": tsn,
        });
        if let Some(made_on) = made_on {
            body["made_on"] = json!(made_on);
        }
        self.tell(format!("/v1/engines/{}", id(ENGINE, number)), body);
    }

    /// A fact under `/v1/engines/{id}/`.
    pub fn about_engine(&mut self, number: u32, what: &str, body: Value) {
        let path = format!("/v1/engines/{}/{what}/{}", id(ENGINE, number), self.fact());
        self.tell(path, body);
    }

    /// A fact under `/v1/aircraft/{id}/`.
    pub fn about_aircraft(&mut self, number: u32, what: &str, body: Value) {
        let path = format!("/v1/aircraft/{}/{what}/{}", id(AIRCRAFT, number), self.fact());
        self.tell(path, body);
    }

    /// A fact under `/v1/components/{id}/`.
    pub fn about_component(&mut self, number: u32, what: &str, body: Value) {
        let path = format!("/v1/components/{}/{what}/{}", id(COMPONENT, number), self.fact());
        self.tell(path, body);
    }

    /// An engine goes into an aircraft.
    pub fn install(&mut self, engine: u32, aircraft: u32, on: &str, meter: &str) {
        let body = json!({"on": on, "aircraft": id(AIRCRAFT, aircraft), "meter": meter});
        self.about_engine(engine, "installations", body);
    }

    /// Somebody reads the meter of an aircraft.
    pub fn reading(&mut self, aircraft: u32, on: &str, meter: &str) {
        self.about_aircraft(aircraft, "readings", json!({"on": on, "meter": meter}));
    }

    /// A workshop's report of one day, with a release.
    pub fn inspection(&mut self, mut body: Value, engine: u32, on: &str) {
        body["engine"] = json!(id(ENGINE, engine));
        body["shop"] = json!(id(SHOP, 1));
        body["opened_on"] = json!(on);
        body["released_on"] = json!(on);
        body["release"] = json!({"by": "a licensed person", "reference": "1"});
        let path = format!("/v1/inspections/{}", self.fact());
        self.tell(path, body);
    }

    /// One piece of work on an engine at the hours that the workshop states.
    pub fn work(&mut self, engine: u32, on: &str, tsn: &str, item: &str, action: &str) {
        let work = json!({"tsn": tsn, "work": [{"item": item, "action": action}]});
        self.inspection(work, engine, on);
    }

    /// A workshop states the hours of an engine, and does nothing to it.
    pub fn stated(&mut self, engine: u32, on: &str, tsn: &str) {
        self.inspection(json!({"tsn": tsn}), engine, on);
    }

    /// A part with a record of its own.
    pub fn component(&mut self, number: u32, body: Value) {
        self.tell(format!("/v1/components/{}", id(COMPONENT, number)), body);
    }

    /// A part goes onto something.
    pub fn fit(&mut self, component: u32, body: Value) {
        self.about_component(component, "fittings", body);
    }

    /// A part goes onto an engine.
    pub fn fit_to_engine(&mut self, component: u32, engine: u32, on: &str) {
        self.fit(component, json!({"on": on, "engine": id(ENGINE, engine)}));
    }

    /// A service of its own that was sent the posts as they are told.
    ///
    /// # Panics
    /// When a post is refused.
    #[must_use]
    pub fn told(&self, engine_type: &str) -> Service {
        let as_told: Vec<usize> = (0..self.posts.len()).collect();
        self.tell_in_order(engine_type, &as_told)
    }

    fn tell_in_order(&self, engine_type: &str, order: &[usize]) -> Service {
        let service = Service::start();
        service.put_type("story-twin", engine_type);
        let shop = format!("/v1/shops/{}", id(SHOP, 1));
        service.put_ok(&shop, &json!({"name": "Story Bench", "email": "bench@story.example"}));
        for at in order {
            let (path, body) = &self.posts[*at];
            service.put_ok(path, body);
        }
        service
    }

    /// Sends the posts as they are told, backwards, and in two mixed orders with every post sent twice,
    /// each to a service of its own; gives what `ask` reads from each, which has to be the same.
    ///
    /// # Panics
    /// When a post is refused, or two orders give different answers.
    pub fn in_every_order(&self, engine_type: &str, ask: impl Fn(&Service) -> Value) -> Value {
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
        let answers: Vec<Value> =
            orders.iter().map(|order| ask(&self.tell_in_order(engine_type, order))).collect();
        for (answer, order) in answers.iter().zip(&orders) {
            assert_eq!(answer, &answers[0], "sent in the order {order:?}");
        }
        answers.into_iter().next().unwrap_or_default()
    }
}

/// The due lines of an engine on a day.
#[must_use]
pub fn lines(service: &Service, engine: u32, as_of: &str) -> Value {
    let path = format!("/v1/engines/{}/due?as_of={as_of}", id(ENGINE, engine));
    service.get(&path)["lines"].take()
}

/// The first line of an item; `null` when there is none.
#[must_use]
pub fn line<'a>(lines: &'a Value, item: &str) -> &'a Value {
    let lines = lines.as_array().map(Vec::as_slice).unwrap_or_default();
    lines.iter().find(|line| line["item"] == item).unwrap_or(&Value::Null)
}

/// The first line of an item of an engine on a day; `null` when there is none.
#[must_use]
pub fn line_of(service: &Service, engine: u32, as_of: &str, item: &str) -> Value {
    line(&lines(service, engine, as_of), item).clone()
}
