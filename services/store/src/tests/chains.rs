//! The chain of a stream, and what it shows when somebody tampers.

use super::sample::{Bench, Programme, engine, fault_seq, owner, post, registered, story, verify};
use crate::dialect::AnyConn;
use crate::{Post, Texts, connect, url};
use diesel::connection::SimpleConnection;
use diesel::prelude::*;
use gudgeon_databases::Kind;
use gudgeon_life::fact::Stream;
use sha2::{Digest as _, Sha256};

pub(super) fn tamper(bench: &Bench, sql: &str) -> QueryResult<()> {
    let place = url::parse(bench.database.url()).expect("our own URL");
    match connect::connect_first(&place, false).expect("it opens") {
        AnyConn::Sqlite(mut conn) => conn.batch_execute(sql),
        AnyConn::Postgres(mut conn) => conn.batch_execute(sql),
    }
}

/// Takes away what keeps the rows of a table as they are: `TABLE_is_never_…`.
pub(super) fn drop_trigger(bench: &Bench, name: &str) {
    let (table, _) = name.split_once("_is_never").expect("a name of that form");
    let on = match bench.database.kind() {
        Kind::Sqlite => String::new(),
        Kind::Postgres => format!(" ON {table}"),
    };
    tamper(bench, &format!("DROP TRIGGER {name}{on}")).expect("there was one");
}

fn with_story() -> Bench {
    let bench = Bench::with_type();
    for fact in story() {
        bench.append(fact);
    }
    bench
}

#[test]
fn facts_are_never_changed_or_deleted() {
    let bench = with_story();
    let replace = match bench.database.kind() {
        Kind::Sqlite => "INSERT OR REPLACE INTO fact SELECT * FROM fact WHERE seq = 1",
        Kind::Postgres => "TRUNCATE fact CASCADE",
    };
    for sql in
        ["UPDATE fact SET data = '{}' WHERE seq = 1", "DELETE FROM fact WHERE seq = 1", replace]
    {
        let refused = tamper(&bench, sql).expect_err("refused").to_string();
        assert!(refused.contains("a fact is never"), "{refused}");
    }
}

// The engine's stream holds three facts: registered, installed, inspected.
#[test]
fn a_flipped_byte_is_named() {
    let bench = with_story();
    assert!(verify(&bench.store).is_ok());
    drop_trigger(&bench, "fact_is_never_updated");
    tamper(
        &bench,
        "UPDATE fact SET data = replace(data, '1800000', '1800360') WHERE kind = 'engine-installed';",
    )
    .expect("the trigger is gone");
    assert_eq!(fault_seq(&bench.store), Some(2));
}

#[test]
fn a_missing_fact_is_named() {
    let bench = with_story();
    drop_trigger(&bench, "fact_is_never_deleted");
    tamper(&bench, "DELETE FROM fact WHERE kind = 'inspection'").expect("the trigger is gone");
    assert_eq!(fault_seq(&bench.store), Some(3));
}

#[test]
fn private_text_can_be_neither_changed_nor_lost() {
    let bench = Bench::new();
    let texts = Texts {
        private: [("/name".to_owned(), "A. Invented".to_owned())].into(),
        ..Texts::default()
    };
    let post = Post { texts, ..post(owner(1, 70)) };
    bench.store.append(&post, &Programme).expect("stored");
    assert!(verify(&bench.store).is_ok());
    tamper(&bench, "UPDATE fact_private SET body = '{\"/name\":\"B. Invented\"}'")
        .expect("changed");
    assert_eq!(fault_seq(&bench.store), Some(1));
    tamper(&bench, "DELETE FROM fact_private").expect("deleted");
    assert_eq!(fault_seq(&bench.store), Some(1));
}

// The chain's definition, written out a second time: every part with its length as eight bytes.
#[test]
fn the_first_hash_is_what_the_definition_says() {
    let bench = Bench::new();
    bench.append(registered(1, "2026-01-01", 1, "1000"));
    let data = concat!(
        r#"{"as_posted":{},"content":{"basis":"engine-run","engine":"01010101-0101-0101-0101-010101010101","#,
        r#""engine_type":"finch-24","made_on":"2020-05-01","serial":"F-1","tsn":{"s":3600000}}}"#
    );
    let mut bytes: Vec<u8> = Vec::new();
    for part in [
        b"gudgeon/fact/v1".as_slice(),
        &[0; 32],
        &[0, 3],
        &[1; 16],
        &[0, 0, 0, 0, 0, 0, 0, 1],
        &[1; 16],
        b"engine-registered",
        &[0, 0, 0, 1],
        b"2026-01-01",
        &[0, 0, 0, 0],
        b"",
        b"",
        &super::sample::NOW.0.to_be_bytes(),
        data.as_bytes(),
        b"",
    ] {
        bytes.extend(u64::try_from(part.len()).expect("short").to_be_bytes());
        bytes.extend(part);
    }
    let expected: [u8; 32] = Sha256::digest(&bytes).into();
    let kept = bench.store.facts_of(Stream::engine(engine(1))).expect("readable");
    assert_eq!(kept.first().map(|stored| stored.hash), Some(expected));
}
