//! The real program with its records in `PostgreSQL`: every command takes the database from the settings.

#![cfg(test)]

use gudgeon_databases::{Database, Server};
use gudgeon_tests::site::Site;
use serde_json::json;
use std::fs;

#[test]
fn every_command_keeps_its_records_in_the_database_of_the_settings() {
    let server = Server::start();
    let database = Database::of_server(&server, |_| {});
    let site = Site::new(database.url());
    assert!(site.run_ok(&["migrate"]).starts_with("Applied 0001_"));
    assert_eq!(site.run_ok(&["migrate"]), "The database is up to date.\n");
    let client = site.client(&site.operator_key());

    let serving = site.serve();
    let put = || {
        let body = json!({"name": "An Owner", "email": "o@example.org"});
        let reply = client.put("/v1/owners/0193a000-0000-7000-8000-000000000001", &body);
        reply.expect("an answer").status
    };
    assert_eq!((put(), put()), (201, 200));
    server.stop();
    assert_eq!(put(), 503);
    server.start_again();
    assert_eq!(put(), 200);
    drop(serving);

    assert!(site.run_ok(&["week", "2026-W48", "--now"]).contains(": 1 recipients."));
    site.run_ok(&["deliver"]);

    // A URL that is not right, one without a server to it, and a database that is not there: each is told in
    // one sentence, and nothing is made.
    for (url, why) in [
        ("postgres:gudgeon", "`//` comes after"),
        ("postgres:///gudgeon", "names no server"),
        ("postgres://db.example/gudgeon", "`postgres-tls`"),
        (&database.url().replace("/fleet?", "/flet?"), "\"flet\" does not exist"),
    ] {
        site.use_database(url);
        let refused = site.run(&["migrate"]);
        let said = String::from_utf8_lossy(&refused.stderr);
        assert!(!refused.status.success() && said.contains(why), "{url}: {said}");
    }
    let mut left: Vec<_> =
        fs::read_dir(site.dir()).unwrap().map(|entry| entry.unwrap().file_name()).collect();
    left.sort_unstable();
    assert_eq!(left, ["gudgeon.toml", "mail", "serve.log"]);
}
