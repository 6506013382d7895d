//! A small fleet's life as posts for several clients at once, and what a service answers about it: the
//! measure of whether anything was lost, doubled or left half-written.

#![expect(clippy::indexing_slicing, reason = "a missing field in an answer fails the test")]

use crate::site::{Client, Reply};
use crate::story::{AIRCRAFT, COMPONENT, ENGINE, SHOP, Story, engine_type};
use crate::{Service, id};
use gudgeon_life::ids::{FactId, Uid};
use gudgeon_store::Store;
use serde_json::{Value, json};

const ENGINES: u32 = 5;
const AIRCRAFT_COUNT: u32 = 4;
const COMPONENTS: u32 = 2;
const AS_OF: &str = "2025-12-01";
/// Facts told before the load: the workshop, and which version of the engine type is active.
const FACTS_BEFORE: i64 = 2;
const TYPE: &str = "story-twin";

const ITEMS: &str = r#"
[[items]]
id = "hundred-hours"
title = "100 hours"
class = "recommended"
source = "common practice"
counts-from = "done"
every = { hours = 100, months = 12 }
next = "from-done"
done-by = ["inspected"]
"#;

/// The posts: aircraft, engines and parts that move about, and this many rounds of a reading and an
/// inspection of each.
#[must_use]
pub fn posts(rounds: u32) -> Vec<(String, Value)> {
    let mut story = Story::new();
    for number in 1..=AIRCRAFT_COUNT {
        story.aircraft(number, &format!("Q-LD{number}"));
    }
    for number in 1..=ENGINES {
        story.engine(number, "2019-02-01", Some("0"), Some("2019-01-01"));
        story.install(number, 1 + number % AIRCRAFT_COUNT, "2019-02-02", "0");
    }
    for number in 1..=COMPONENTS {
        story.component(number, json!({"on": "2019-01-01", "kind": "gearbox", "hours": 0}));
        story.fit(number, json!({"on": "2019-03-01", "engine": id(ENGINE, number)}));
    }
    for round in 0..rounds {
        let on = format!("{}-{:02}-{:02}", 2020 + round / 84, 1 + round / 7 % 12, 1 + round % 7);
        for number in 1..=AIRCRAFT_COUNT {
            story.reading(number, &on, &format!("{}.{}", round * 3, number));
        }
        for number in 1..=ENGINES {
            let work = json!({
                "work": [{"item": "hundred-hours", "action": "inspected"}],
                "note": format!("nothing found in round {round}"),
            });
            story.inspection(work, number, &on);
        }
    }
    story.into_posts()
}

/// The same numbers in another order for each seed: a shuffle by a linear congruential generator.
#[must_use]
pub fn shuffled(count: usize, seed: u64) -> Vec<usize> {
    let mut random = Random(seed);
    let mut order: Vec<usize> = (0..count).collect();
    for at in (1..count).rev() {
        order.swap(at, random.below(at + 1));
    }
    order
}

/// Numbers that look random and are the same for the same seed (the generator of Knuth's MMIX).
pub struct Random(pub u64);

impl Random {
    /// A number below `end`.
    pub fn below(&mut self, end: usize) -> usize {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        usize::try_from(self.0 >> 33).unwrap() % end
    }
}

/// Tells a service under test what has to be there before the load.
///
/// # Panics
/// When it is not taken.
pub fn prepare(client: &Client) {
    let taken = |reply: Option<Reply>| {
        let reply = reply.unwrap();
        assert!(matches!(reply.status, 200 | 201), "{reply:?}");
        reply.body
    };
    let path = format!("/v1/engine-types/{TYPE}");
    let version = taken(client.put_as("application/toml", &path, &engine_type(ITEMS)));
    let activation = json!({"on": "2000-01-01", "digest": version["digest"]});
    taken(client.put(&format!("{path}/activations/{}", id(0xac, 1)), &activation));
    taken(client.put(&shop_path(), &shop()));
}

fn shop_path() -> String {
    format!("/v1/shops/{}", id(SHOP, 1))
}

fn shop() -> Value {
    json!({"name": "Load Bench", "email": "bench@load.example"})
}

/// The id of the fact that a post makes: the last part of its address.
#[must_use]
pub fn fact_id(path: &str) -> FactId {
    let last = path.rsplit('/').next().unwrap_or_default();
    FactId(Uid::parse(last).unwrap())
}

/// What a service answers about every engine and part.
#[must_use]
pub fn state(client: &Client) -> Value {
    let get = |path: String| {
        let reply = client.get(&path).unwrap();
        assert!(matches!(reply.status, 200 | 404), "GET {path}: {reply:?}");
        reply.body
    };
    let engines: Vec<Value> = (1..=ENGINES)
        .map(|number| {
            let path = format!("/v1/engines/{}", id(ENGINE, number));
            let due = get(format!("{path}/due?as_of={AS_OF}"));
            json!([get(path)["engine"], due["lines"]])
        })
        .collect();
    let parts: Vec<Value> = (1..=COMPONENTS)
        .map(|number| get(format!("/v1/components/{}", id(COMPONENT, number)))["component"].take())
        .collect();
    let aircraft: Vec<Value> = (1..=AIRCRAFT_COUNT)
        .map(|number| {
            let aircraft = get(format!("/v1/aircraft/{}", id(AIRCRAFT, number)));
            json!([aircraft["mark"], aircraft["meter"], aircraft["engines"]])
        })
        .collect();
    json!([engines, parts, aircraft])
}

/// A service of its own that is told the same, once and one after the other: what has to come of it.
pub struct Sequential {
    service: Service,
    client: Client,
    told: i64,
}

impl Sequential {
    /// One that was told only what has to be there before.
    #[must_use]
    pub fn new() -> Self {
        let service = Service::start();
        let client = Client::new(&service.base_url, &service.operator);
        prepare(&client);
        Self { service, client, told: 0 }
    }

    /// One that was told these posts.
    #[must_use]
    pub fn of(posts: &[(String, Value)]) -> Self {
        let mut sequential = Self::new();
        for post in posts {
            sequential.tell(post);
        }
        sequential
    }

    /// Tells it one more post.
    pub fn tell(&mut self, (path, body): &(String, Value)) {
        self.service.put_ok(path, body);
        self.told += 1;
    }

    /// Whether another service and its database hold exactly what this one was told: each fact once, chains
    /// that verify, and nothing worked out otherwise.
    ///
    /// # Errors
    /// What is not alike.
    pub fn compare(&self, client: &Client, store: &Store) -> Result<(), String> {
        let verified = store.verify(&mut |_| {}).unwrap().map_err(|fault| fault.to_string())?;
        let facts = i64::try_from(verified.facts).unwrap() - FACTS_BEFORE;
        if facts != self.told {
            return Err(format!("{facts} facts, and not {}", self.told));
        }
        let (there, expected) = (state(client), state(&self.client));
        if there == expected { Ok(()) } else { Err(format!("{there:#}\nand not\n{expected:#}")) }
    }
}

impl Default for Sequential {
    fn default() -> Self {
        Self::new()
    }
}
