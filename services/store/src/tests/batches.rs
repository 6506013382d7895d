//! Many facts at once end where the same facts one by one do.

use super::sample::{
    Bench, DIGEST, NOW, Programme, TYPE, activated, engine_type, owner, party, post, registered,
    streams,
};
use super::together::{rows, shuffled};
use crate::{Appended, Post, Programmes, Store, StoreError};
use gudgeon_life::fact::{Fact, Stream};
use gudgeon_life::hours::Hours;
use gudgeon_life::programme::EngineType;
use std::sync::Arc;

pub(super) const SECOND: [u8; 32] = [8; 32];

/// The version of [`SECOND`] asks for the inspection twice as often.
pub(super) struct TwoVersions;

impl Programmes for TwoVersions {
    fn known(&self, digest: &[u8; 32]) -> Option<Arc<EngineType>> {
        self.get(digest, "sample")
    }

    fn get(&self, digest: &[u8; 32], _: &str) -> Option<Arc<EngineType>> {
        let mut version = engine_type();
        if *digest == SECOND {
            let limits = version.items.iter_mut().flat_map(|item| &mut item.limits);
            limits.for_each(|limit| limit.every.hours = Some(Hours::from_whole(50)));
        }
        Some(Arc::new(version))
    }
}

/// Reads nothing, as a later program's format would not be read.
struct Unreadable;

impl Programmes for Unreadable {
    fn get(&self, _: &[u8; 32], _: &str) -> Option<Arc<EngineType>> {
        None
    }
}

/// A new database that has both versions, the first of them active.
pub(super) fn bench() -> Bench {
    let bench = Bench::with_type();
    let added = bench.store.add_engine_type(TYPE, "second", SECOND, NOW, &TwoVersions);
    assert!(added.expect("the version is stored"));
    bench
}

/// What happened to a post, and where its stream's chain then ended.
fn told(answer: &Result<Appended, StoreError>) -> Result<(&'static str, i64, [u8; 32]), String> {
    match answer {
        Ok(Appended::Created(it)) => Ok(("created", it.seq, it.hash)),
        Ok(Appended::Same(it)) => Ok(("same", it.seq, it.hash)),
        Ok(Appended::Differs(it)) => Ok(("differs", it.seq, it.hash)),
        Err(error) => Err(error.to_string()),
    }
}

fn heads(store: &Store) -> Vec<(Stream, Option<[u8; 32]>)> {
    let mut streams: Vec<Stream> = streams(store).into_iter().map(|(_, stream)| stream).collect();
    streams.sort();
    let last = |of| store.facts_of(of).expect("readable").last().map(|it| it.hash);
    streams.into_iter().map(|of| (of, last(of))).collect()
}

// Every order ends with a version of the programme that came in its middle, a fact told twice, and an id that
// is taken: the engines posted about before that version stay counted by the one before it.
#[test]
fn at_once_and_one_by_one_end_alike() {
    for seed in 0..4 {
        let mut facts: Vec<Fact> = shuffled(seed);
        let half = facts.len() / 2;
        facts.insert(half, activated(251, "2026-02-01", SECOND));
        facts.push(facts.first().expect("there are facts").clone());
        let taken = facts.first().expect("there are facts").id;
        facts.push(Fact { id: taken, ..owner(0, 72) });
        let posts: Vec<Post> = facts.into_iter().map(post).collect();

        let (single, many) = (bench(), bench());
        let one_by_one: Vec<_> =
            posts.iter().map(|it| single.store.append(it, &TwoVersions)).collect();
        let at_once = many.store.append_many(&posts, &TwoVersions).expect("the database is there");
        let tell = |answers: &[_]| answers.iter().map(told).collect::<Vec<_>>();
        assert_eq!(tell(&at_once), tell(&one_by_one), "seed {seed}");
        assert_eq!(rows(&many.store), rows(&single.store), "seed {seed}");
        assert_eq!(heads(&many.store), heads(&single.store), "seed {seed}");
    }
}

#[test]
fn of_many_the_one_that_cannot_be_worked_out_fails_alone() {
    let bench = Bench::new();
    assert!(
        bench.store.add_engine_type(TYPE, "sample", DIGEST, NOW, &Programme).expect("stored"),
        "the version is new"
    );
    let facts = [
        activated(250, "2026-01-01", DIGEST),
        owner(1, 70),
        registered(2, "2026-01-01", 1, "0"),
        owner(3, 71),
    ];
    let posts = facts.map(post);
    let answers = bench.store.append_many(&posts, &Unreadable).expect("the database is there");
    let kept: Vec<bool> = answers.iter().map(Result::is_ok).collect();
    assert_eq!(kept, [true, true, false, true], "{answers:?}");
    for (n, there) in [(70, true), (71, true)] {
        assert_eq!(bench.store.stream_known(Stream::party(party(n))).expect("readable"), there);
    }
    let engine = Stream::engine(super::sample::engine(1));
    assert!(!bench.store.stream_known(engine).expect("readable"), "nothing of it is kept");
}
