//! A replica with owners who have something to be told every week.

use crate::id;
use crate::load::prepare;
use crate::site::{Client, Site};
use crate::story::{ENGINE, OWNER};
use gudgeon_databases::Database;
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

/// An owner with an engine that has never been inspected since 2019, every 12 months.
fn register(client: &Client, number: u32) {
    let put = |path: String, body: Value| {
        let reply = client.put(&path, &body).expect("an answer");
        assert_eq!(reply.status, 201, "{path}: {reply:?}");
    };
    let (owner, engine) = (id(OWNER, number), id(ENGINE, number));
    let person =
        json!({"name": format!("Owner {number}"), "email": format!("o{number}@example.org")});
    put(format!("/v1/owners/{owner}"), person);
    let registered = json!({
        "on": "2019-02-01", "engine_type": "story-twin", "serial": format!("S-{number}"),
        "basis": "engine-run", "tsn": "0", "made_on": "2019-01-01",
    });
    put(format!("/v1/engines/{engine}"), registered);
    let ownership = json!({"on": "2019-02-01", "owner": owner});
    put(format!("/v1/engines/{engine}/ownerships/{}", id(0x77, number)), ownership);
}
