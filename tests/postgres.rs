//! The real program with its records in `PostgreSQL`: every command takes the database from the settings.

#![cfg(test)]

use gudgeon_databases::{Database, Folder, Server};
use gudgeon_tests::{agent, answer, program};
use serde_json::json;
use std::net::TcpListener;
use std::path::Path;
use std::process::{Child, Command, Output, Stdio};
use std::time::Duration;
use std::{fs, thread};

fn gudgeon(dir: &Path, arguments: &[&str]) -> Output {
    Command::new(program()).args(arguments).arg("--dir").arg(dir).output().unwrap()
}

/// What the program says, which has to succeed.
fn gudgeon_ok(dir: &Path, arguments: &[&str]) -> String {
    let output = gudgeon(dir, arguments);
    assert!(output.status.success(), "{arguments:?}: {output:?}");
    String::from_utf8(output.stdout).unwrap()
}

/// `gudgeon serve`, which ends with this.
struct Serving(Child);

impl Serving {
    fn start(dir: &Path, base_url: &str) -> Self {
        let mut command = Command::new(program());
        command.args(["serve", "--dir"]).arg(dir).stdout(Stdio::null()).stderr(Stdio::null());
        let serving = Self(command.spawn().unwrap());
        assert!((0..200).any(|_| {
            thread::sleep(Duration::from_millis(50));
            let asked = agent().get(&format!("{base_url}/readyz")).call();
            asked.is_ok_and(|response| response.status().is_success())
        }));
        serving
    }
}

impl Drop for Serving {
    fn drop(&mut self) {
        // By its process id; a child that has ended already needs no ending.
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

#[test]
fn every_command_keeps_its_records_in_the_database_of_the_settings() {
    let server = Server::start();
    let database = Database::of_server(&server, |_| {});
    let folder = Folder::new();
    let dir = folder.path();
    let free = TcpListener::bind(("127.0.0.1", 0)).unwrap();
    let address = free.local_addr().unwrap();
    drop(free);
    let settings = |database: &str| {
        let text = format!(
            "database = \"{database}\"\ndatabase-connections = 4\nlisten = \"{address}\"\nbase-url = \"http://{address}\"\n"
        );
        fs::write(dir.join("gudgeon.toml"), text).unwrap();
    };
    settings(database.url());
    assert!(gudgeon_ok(dir, &["migrate"]).starts_with("Applied 0001_"));
    assert_eq!(gudgeon_ok(dir, &["migrate"]), "The database is up to date.\n");
    let key = gudgeon_ok(dir, &["key", "operator", "--label", "test"]);
    let key = format!("Bearer {}", key.trim());

    let base_url = format!("http://{address}");
    let serving = Serving::start(dir, &base_url);
    let owner = format!("{base_url}/v1/owners/0193a000-0000-7000-8000-000000000001");
    let body = json!({"name": "An Owner", "email": "o@example.org"}).to_string();
    let put = || {
        let request = agent().put(&owner).header("authorization", &key);
        let request = request.header("content-type", "application/json");
        answer(request.send(body.as_bytes()).unwrap()).0
    };
    assert_eq!((put(), put()), (201, 200));
    server.stop();
    assert_eq!(put(), 503);
    server.start_again();
    assert_eq!(put(), 200);
    drop(serving);

    assert!(gudgeon_ok(dir, &["week", "2026-W48"]).contains(": 1 owners."));
    gudgeon_ok(dir, &["deliver"]);

    // A URL that is not right, one without a server to it, and a database that is not there: each is told in
    // one sentence, and nothing is made.
    for (url, why) in [
        ("postgres:gudgeon", "`//` comes after"),
        ("postgres:///gudgeon", "names no server"),
        ("postgres://db.example/gudgeon", "`postgres-tls`"),
        (&database.url().replace("/fleet?", "/flet?"), "\"flet\" does not exist"),
    ] {
        settings(url);
        let refused = gudgeon(dir, &["migrate"]);
        let said = String::from_utf8_lossy(&refused.stderr);
        assert!(!refused.status.success() && said.contains(why), "{url}: {said}");
    }
    let mut left: Vec<_> =
        fs::read_dir(dir).unwrap().map(|entry| entry.unwrap().file_name()).collect();
    left.sort_unstable();
    assert_eq!(left, ["gudgeon.toml", "mail"]);
}
