//! A replica with owners who have something to be told every week.

use crate::id;
use crate::load::prepare;
use crate::site::{Client, Site};
use crate::story::{ENGINE, OWNER};
use gudgeon_api::Cache;
use gudgeon_databases::Database;
use gudgeon_reports::contents::Composer;
use gudgeon_reports::deliver::{Delivery, DeliverySummary};
use gudgeon_reports::hand_over::Carrier;
use gudgeon_reports::render::Renderer;
use gudgeon_reports::retry::Rules;
use gudgeon_reports::sender::Sender;
use gudgeon_store::{Instant, Store};
use serde_json::{Value, json};

/// A replica whose owners each have an engine that is overdue.
#[must_use]
pub fn site_with_owners(database: &Database, owners: u32) -> Site {
    let site = Site::new(database.url());
    site.run_ok(&["migrate"]);
    let key = site.operator_key();
    let serving = site.serve();
    let client = site.client(&key);
    prepare(&client);
    for number in 1..=owners {
        register(&client, number);
    }
    serving.kill();
    site
}

/// Delivers as if all leases had ended long ago, and no mail were ever too late.
///
/// # Panics
/// If the database or the carrier fails.
#[must_use]
pub fn deliver_much_later(store: &Store, carrier: &dyn Carrier) -> DeliverySummary {
    let sender = Sender::new("reports@example.org", "shop@example.org").unwrap();
    let renderer = Renderer::new().unwrap();
    let programmes = Cache::default();
    let composer = Composer { store, programmes: &programmes, renderer: &renderer, links: None };
    let rules = Rules { late_max: i64::MAX, domain_a_minute: None };
    // The year 3000, in microseconds since 1970.
    let clock = &|| Instant(32_503_680_000_000_000);
    let stops = &|| false;
    let delivery = Delivery { composer, sender: &sender, rules, by: "a test", clock, stops };
    delivery.run(carrier).unwrap()
}

/// An owner with an engine that has never been inspected since 2019, every 12 months.
fn register(client: &Client, number: u32) {
    let put = |path: String, body: Value| {
        let reply = client.put(&path, &body).unwrap();
        assert_eq!(reply.status, 201, "{path}: {reply:?}");
    };
    let (owner, engine) = (id(OWNER, number), id(ENGINE, number));
    // Every third is at a domain of another name.
    let domain = if number.is_multiple_of(3) { "example.net" } else { "example.org" };
    let person = json!({"name": format!("Owner {number}"), "email": format!("o{number}@{domain}")});
    put(format!("/v1/owners/{owner}"), person);
    let registered = json!({
        "on": "2019-02-01", "engine_type": "story-twin", "serial": format!("S-{number}"),
        "basis": "engine-run", "tsn": "0", "made_on": "2019-01-01",
    });
    put(format!("/v1/engines/{engine}"), registered);
    let ownership = json!({"on": "2019-02-01", "owner": owner});
    put(format!("/v1/engines/{engine}/ownerships/{}", id(0x77, number)), ownership);
}
