//! How the real program begins and ends: several that migrate at once, a database of a later version, and
//! a service that is asked to stop while it answers.

#![cfg(test)]

use gudgeon_databases::{Database, Kind};
use gudgeon_store::Store;
use gudgeon_tests::id;
use gudgeon_tests::site::{Site, wait_until};
use gudgeon_tests::story::OWNER;
use std::io::{Read as _, Write as _};
use std::net::TcpStream;
use std::process::Stdio;
use std::time::{Duration, Instant};

/// A database without tables, or a file that is not there yet.
fn empty() -> Database {
    match Kind::of_this_run() {
        Kind::Sqlite => Database::sqlite(|_| {}),
        Kind::Postgres => Database::postgres(|_| {}),
    }
}

#[test]
fn of_several_processes_that_migrate_at_once_one_does_and_all_succeed() {
    let database = empty();
    let site = Site::new(database.url());
    let start = || site.command(&["migrate"]).stdout(Stdio::piped()).spawn().unwrap();
    let said: Vec<String> = [(); 4]
        .map(|()| start())
        .into_iter()
        .map(|child| {
            let output = child.wait_with_output().unwrap();
            assert!(output.status.success(), "{output:?}");
            String::from_utf8(output.stdout).unwrap()
        })
        .collect();
    let applied = said.iter().filter(|said| said.contains("Applied 0001_")).count();
    let up_to_date = said.iter().filter(|said| said.contains("up to date")).count();
    assert_eq!((applied, up_to_date), (1, 3), "{said:?}");
}

#[test]
fn a_database_of_a_later_version_is_refused_in_one_sentence() {
    let database = empty();
    let site = Site::new(database.url());
    site.run_ok(&["migrate"]);
    // What a later version leaves in the table of its migrations.
    let table = concat!("__die", "sel_schema_migrations");
    database.execute(&format!("insert into {table} (version) values ('9999')"));
    for arguments in [&["serve"][..], &["migrate"], &["week"], &["deliver"]] {
        let refused = site.run(arguments);
        let said = String::from_utf8_lossy(&refused.stderr);
        let sentence = "gudgeon: the database is of a later version, which has the migration 9999; use the program of that version\n";
        assert_eq!((refused.status.code(), said.as_ref()), (Some(1), sentence), "{arguments:?}");
    }
}

/// A request of which the body is still on its way is answered; then the program ends, and says that all
/// went well.
#[test]
fn a_service_that_is_asked_to_stop_finishes_what_is_under_way() {
    let database = empty();
    let site = Site::new(database.url());
    site.run_ok(&["migrate"]);
    let key = site.operator_key();
    let serving = site.serve();
    let body = br#"{"name":"An Owner","email":"o@example.org"}"#;
    let head = format!(
        "PUT /v1/owners/{} HTTP/1.1\r\nhost: {}\r\nauthorization: Bearer {key}\r\ncontent-type: application/json\r\ncontent-length: {}\r\n\r\n",
        id(OWNER, 1),
        site.address(),
        body.len()
    );
    let (first, rest) = body.split_at(10);
    let mut under_way = TcpStream::connect(site.address()).unwrap();
    under_way.write_all(head.as_bytes()).unwrap();
    under_way.write_all(first).unwrap();
    // Somebody who keeps a line open without asking anything keeps nobody up.
    let client = site.client(&key);
    assert_eq!(client.get("/livez").map(|reply| reply.status), Some(200));

    let began = Instant::now();
    serving.ask_to_stop();
    wait_until("nobody new is let in", || TcpStream::connect(site.address()).is_err());
    under_way.write_all(rest).unwrap();
    let mut answer = String::new();
    under_way.read_to_string(&mut answer).unwrap();
    assert!(answer.starts_with("HTTP/1.1 201 "), "{answer}");
    assert!(serving.ended().success());
    assert!(began.elapsed() < Duration::from_secs(15), "{:?}", began.elapsed());
    let owner = gudgeon_tests::load::fact_id(&id(OWNER, 1));
    assert!(Store::open(database.url(), false).unwrap().fact(owner).unwrap().is_some());
}

#[test]
fn all_of_these_pass_on_postgres_too() {
    gudgeon_databases::repeat_on_postgres();
}
