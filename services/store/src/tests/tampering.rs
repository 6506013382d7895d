//! What `verify` finds when somebody with the database in hand changes it behind our back.

use super::anchored::anchor;
use super::chains::{drop_trigger, tamper};
use super::sample::{
    Bench, NOW, Programme, aircraft, engine, owner, party, post, read, story, streams, uid, verify,
};
use super::transfers::random;
use crate::bytes::{Digest, Id};
use crate::facts::{self, FactRow};
use crate::{Fault, FaultAt, Post, Texts};
use gudgeon_databases::Kind;
use gudgeon_life::fact::{Host, Stream};
use gudgeon_life::ids::FactId;

/// The story, with an owner who has a name, anchored; then one more reading, anchored.
fn anchored() -> Bench {
    let bench = Bench::with_type();
    for fact in story() {
        bench.append(fact);
    }
    let private = [("/name".to_owned(), "A. Invented".to_owned())].into();
    let texts = Texts { private, ..Texts::default() };
    bench.store.append(&Post { texts, ..post(owner(8, 70)) }, &Programme).expect("stored");
    anchor(&bench.store, "2026-11-25").expect("streams moved");
    bench.append(read(9, "2026-04-01", Host::Aircraft(aircraft(50)), "550"));
    anchor(&bench.store, "2026-12-02").expect("a stream moved");
    bench
}

/// The fault, which stands at a fact.
fn fault_at(bench: &Bench) -> (Stream, i64, Option<FactId>, String) {
    match verify(&bench.store) {
        Err(Fault { line: None, at: FaultAt::Fact { stream, seq, id }, what }) => {
            (stream, seq, id, what)
        }
        other => panic!("{other:?}"),
    }
}

#[test]
fn what_nobody_touched_is_whole() {
    let bench = anchored();
    let found = verify(&bench.store).expect("whole");
    // The fleet, the owner, the aircraft, the engine; the workshop 90 is named nowhere but in a fact.
    assert_eq!((found.streams, found.facts, found.texts_erased), (4, 9, 0));
    assert_eq!(found.anchor.map(|it| (it.seq, it.heads)), Some((2, 1)));
}

/// A byte string as both databases write it.
fn blob(bench: &Bench, bytes: &[u8]) -> String {
    let digits = bytes.iter().fold(String::new(), |digits, byte| format!("{digits}{byte:02x}"));
    match bench.database.kind() {
        Kind::Sqlite => format!("X'{digits}'"),
        Kind::Postgres => format!("'\\x{digits}'::bytea"),
    }
}

/// One column of a row, with its value and the same value with one bit flipped.
struct Flip {
    table: &'static str,
    column: &'static str,
    before: String,
    after: String,
}

fn flips(bench: &Bench, row: &FactRow, seed: &mut u64) -> Vec<Flip> {
    let mut flips = Vec::new();
    let mut flip_bytes = |table, column, bytes: &[u8]| {
        let mut after = bytes.to_vec();
        let at = random(seed, after.len());
        after[at] ^= 1 << random(seed, 8);
        let (before, after) = (blob(bench, bytes), blob(bench, &after));
        flips.push(Flip { table, column, before, after });
    };
    let Digest(hash) = row.body.hash;
    let Id(id) = row.body.uid;
    flip_bytes("fact", "uid", &id);
    flip_bytes("fact", "hash", &hash);
    flip_bytes("fact", "prev_hash", &row.body.prev_hash.0);
    flip_bytes("fact", "content_digest", &row.body.content_digest.0);
    if let (Some(digest), Some((salt, _))) = (row.body.private_digest, &row.private) {
        flip_bytes("fact", "private_digest", &digest.0);
        flip_bytes("fact_private", "salt", &salt.0);
    }
    let quoted = |text: &str| format!("'{}'", text.replace('\'', "''"));
    let mut flip_text = |table, column, text: &str| {
        let mut after = text.as_bytes().to_vec();
        let at = random(seed, after.len());
        after[at] ^= 1;
        let after = String::from_utf8(after).expect("the sample is ASCII");
        flips.push(Flip { table, column, before: quoted(text), after: quoted(&after) });
    };
    for _ in 0..4 {
        flip_text("fact", "data", &row.body.data);
    }
    if let Some((_, text)) = &row.private {
        flip_text("fact_private", "body", text);
    }
    flips
}

#[test]
fn a_flipped_bit_of_any_fact_is_found_and_named() {
    let bench = anchored();
    drop_trigger(&bench, "fact_is_never_updated");
    let mut seed = 1;
    let mut flipped = 0;
    for (key, stream) in streams(&bench.store) {
        let rows = bench.store.read(|conn| Ok(facts::rows_of(conn, key)?)).expect("readable");
        for row in rows {
            for Flip { table, column, before, after } in flips(&bench, &row, &mut seed) {
                let key = if table == "fact" { "id" } else { "fact_id" };
                let set = |from: &str, to: &str| {
                    let sql = format!(
                        "UPDATE {table} SET {column} = {to} WHERE {column} = {from} AND {key} IN \
                         (SELECT id FROM fact WHERE stream_id = {} AND seq = {})",
                        row.body.stream_id, row.body.seq
                    );
                    tamper(&bench, &sql).expect("the trigger is gone");
                };
                set(&before, &after);
                let (at, seq, ..) = fault_at(&bench);
                assert_eq!((at, seq), (stream, row.body.seq), "{column}: {before} to {after}");
                set(&after, &before);
                flipped += 1;
            }
        }
    }
    verify(&bench.store).expect("everything is as it was");
    // Nine facts with eight each, and three more for the one with private text.
    assert_eq!(flipped, 9 * 8 + 3);
}

#[test]
fn a_removed_fact_is_found() {
    let bench = anchored();
    drop_trigger(&bench, "fact_is_never_deleted");
    tamper(&bench, "DELETE FROM fact WHERE kind = 'engine-installed'").expect("removed");
    let (stream, seq, id, what) = fault_at(&bench);
    assert_eq!((stream, seq, id), (Stream::engine(engine(1)), 2, None));
    assert!(what.contains("the next one here is fact 3"), "{what}");
    // A backup takes what there is, and says the same of it.
    let written = bench.store.backup(&mut Vec::new(), NOW, &mut |_| {}).expect("written");
    assert_eq!((written.counts.facts, written.found), (8, verify(&bench.store)));
}

// The last fact of the engine is removed, and its head set back: the chain alone is whole again.
#[test]
fn a_stream_cut_short_is_found_by_its_anchor() {
    let bench = anchored();
    drop_trigger(&bench, "fact_is_never_deleted");
    let of = Stream::engine(engine(1));
    let before = bench.store.facts_of(of).expect("readable");
    let second = before.get(1).expect("there are three").hash;
    tamper(&bench, "DELETE FROM fact WHERE kind = 'inspection'").expect("removed");
    let sql = format!(
        "UPDATE stream SET head_seq = 2, head_hash = {} WHERE kind = 3",
        blob(&bench, &second)
    );
    tamper(&bench, &sql).expect("set back");
    let (stream, seq, id, what) = fault_at(&bench);
    assert_eq!((stream, seq, id), (of, 3, None));
    assert!(what.contains("anchor 1 was made over it"), "{what}");
}

#[test]
fn two_facts_in_each_others_place_are_found() {
    let bench = anchored();
    drop_trigger(&bench, "fact_is_never_updated");
    for (from, to) in [(2, 20), (3, 2), (20, 3)] {
        let sql = format!(
            "UPDATE fact SET seq = {to} WHERE seq = {from} AND stream_id IN (SELECT id FROM stream WHERE kind = 3)"
        );
        tamper(&bench, &sql).expect("moved");
    }
    let (stream, seq, id, _) = fault_at(&bench);
    assert_eq!((stream, seq, id), (Stream::engine(engine(1)), 2, Some(FactId(uid(5)))));
}

#[test]
fn a_changed_or_removed_anchor_is_found() {
    for (sql, seq, why) in [
        ("UPDATE anchor SET week = '2026-W47' WHERE seq = 1", 1, "its hash was made from"),
        ("UPDATE anchor SET made_at = made_at + 1 WHERE seq = 2", 2, "its hash was made from"),
        ("UPDATE anchor SET previous = hash WHERE seq = 2", 2, "does not follow"),
        ("UPDATE anchor SET heads = 5 WHERE seq = 1", 1, "its hash was made from"),
        (
            "DELETE FROM anchored_head WHERE stream_id IN (SELECT id FROM stream WHERE kind = 3)",
            1,
            "4 heads, and 3",
        ),
        ("DELETE FROM anchored_head WHERE anchor_seq = 2; DELETE FROM anchor WHERE seq = 2", 0, ""),
    ] {
        let bench = anchored();
        for table in ["anchor", "anchored_head"] {
            drop_trigger(&bench, &format!("{table}_is_never_updated"));
            drop_trigger(&bench, &format!("{table}_is_never_deleted"));
        }
        tamper(&bench, sql).expect("the triggers are gone");
        match verify(&bench.store) {
            Err(Fault { at: FaultAt::Anchor(at), what, .. }) => {
                assert!(at == seq && what.contains(why), "{sql}: {at}, {what}");
            }
            // Nothing follows the last anchor: only the mails that print it show that it is gone.
            Ok(found) => assert_eq!((seq, found.anchor.map(|it| it.seq)), (0, Some(1)), "{sql}"),
            other => panic!("{sql}: {other:?}"),
        }
    }
}

#[test]
fn an_anchored_head_of_another_hash_is_found() {
    let bench = anchored();
    drop_trigger(&bench, "anchored_head_is_never_updated");
    let sql = "UPDATE anchored_head SET hash = (SELECT hash FROM anchor WHERE seq = 1) WHERE seq = 3 AND stream_id IN (SELECT id FROM stream WHERE kind = 3)";
    tamper(&bench, sql).expect("changed");
    let (stream, seq, _, what) = fault_at(&bench);
    assert_eq!((stream, seq), (Stream::engine(engine(1)), 3));
    assert!(what.contains("anchor 1"), "{what}");
}

// A stream that says it holds nothing hides nothing.
#[test]
fn facts_without_a_head_are_found() {
    let bench = anchored();
    let sql = format!(
        "UPDATE stream SET head_seq = 0, head_hash = {} WHERE kind = 3",
        blob(&bench, &[0; 32])
    );
    tamper(&bench, &sql).expect("set back");
    assert_eq!(fault_at(&bench).0, Stream::engine(engine(1)));
}

#[test]
fn a_text_that_is_gone_without_an_erasure_is_found() {
    let bench = anchored();
    tamper(&bench, "DELETE FROM fact_private").expect("nothing keeps it");
    let (stream, seq, id, what) = fault_at(&bench);
    assert_eq!((stream, seq, id), (Stream::party(party(70)), 1, Some(FactId(uid(8)))));
    assert!(what.contains("no erasure on record took it"), "{what}");
}
