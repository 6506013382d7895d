//! Photographs: kept once, tied to who sent them and which records name them, carried, checked and erased.

use super::sample::{
    Bench, LATER, NOW, Programme, aircraft, aircraft_registered, amended, engine, fact, inspected,
    installed, item, owned, owner, party, post, registered, verify,
};
use super::transfers::{backup, restore};
use crate::schema::photo;
use crate::{
    Appended, FaultAt, PhotoState, PhotoTies, PhotoUse, Post, Sent, SentSince, photo_digest,
};
use diesel::prelude::*;
use gudgeon_life::fact::{Condition, Content, Erased, Fact, Finding, Host, Mark, Stream};
use std::collections::BTreeSet;

const PICTURE: &[u8] = b"a picture of a piston";

/// An inspection of engine 1 that names a photograph beside a finding and another beside a mark.
fn naming(id: u8, on: &str, meter: &str, found: [u8; 32], marked: [u8; 32]) -> Fact {
    let mut fact = inspected(id, on, 1, meter);
    if let Content::Inspection(it) = &mut fact.entry.content {
        it.findings = vec![Finding {
            item: item("piston"),
            position: None,
            condition: Condition::Monitor,
            recheck: None,
            photos: vec![found],
        }];
        let text = "II".to_owned();
        it.marks =
            vec![Mark { item: item("piston"), position: None, text, photos: vec![found, marked] }];
    }
    fact
}

fn by(shop: u8, fact: Fact) -> Post {
    Post { by: Some(party(shop)), ..post(fact) }
}

fn state(bench: &Bench, digest: [u8; 32]) -> PhotoState {
    bench.store.photo_states(&[digest]).expect("readable")[0].1
}

// Before the record or after it, once or twice: the same is kept, and told.
#[test]
fn a_photograph_comes_before_its_record_or_after_it() {
    let (first, second) = (photo_digest(PICTURE), photo_digest(b"another"));
    for sent_first in [true, false] {
        let bench = Bench::with_type();
        bench.append(registered(1, "2026-01-01", 1, "1000"));
        let send = || bench.store.put_photo(PICTURE, Some(party(90)), NOW).expect("an answer");
        if sent_first {
            assert_eq!(send(), Sent::Created);
        }
        assert_eq!(state(&bench, first) == PhotoState::Here, sent_first);
        let record = by(90, naming(5, "2026-02-01", "10", first, second));
        bench.store.append(&record, &Programme).expect("stored");
        assert_eq!(send(), if sent_first { Sent::Same } else { Sent::Created });
        assert_eq!(
            bench.store.photo_states(&[second, first]).expect("readable"),
            [(second, PhotoState::Missing), (first, PhotoState::Here)]
        );
        assert_eq!(bench.store.photo(first).expect("readable").as_deref(), Some(PICTURE));
        let uses = vec![PhotoUse { engine: engine(1), by: Some(party(90)) }];
        let ties = PhotoTies { senders: vec![Some(party(90))], uses };
        assert_eq!(bench.store.photo_ties(first).expect("readable"), ties);
    }
}

#[test]
fn senders_and_amendments_are_told_and_what_was_sent_is_counted() {
    let bench = Bench::with_type();
    bench.append(registered(1, "2026-01-01", 1, "1000"));
    let digest = photo_digest(PICTURE);
    bench.append(inspected(5, "2026-02-01", 1, "10"));
    let replacement = naming(5, "2026-02-01", "10", digest, digest);
    bench.append(amended(6, 5, Stream::engine(engine(1)), Some(replacement)));
    for (sender, at) in [(Some(party(90)), NOW), (Some(party(91)), NOW), (None, LATER)] {
        bench.store.put_photo(PICTURE, sender, at).expect("an answer");
    }
    let ties = bench.store.photo_ties(digest).expect("readable");
    assert_eq!(ties.senders, [None, Some(party(90)), Some(party(91))]);
    assert_eq!(ties.uses, [PhotoUse { engine: engine(1), by: None }]);
    bench.store.put_photo(b"12345", Some(party(90)), LATER).expect("an answer");
    let sent = |since| bench.store.photos_sent_since(Some(party(90)), since).expect("readable");
    // 21 bytes of the picture and 5 more.
    let before = crate::Instant(NOW.0 - 1);
    assert_eq!(sent(before), SentSince { count: 2, bytes: 26 });
    assert_eq!(sent(NOW), SentSince { count: 1, bytes: 5 });
}

/// An erasure of owner 70 with or without the notes about what was theirs.
fn erase(bench: &Bench, id: u8, n: u8, notes: bool) -> Erased {
    let nothing =
        Erased { party: party(n), notes, facts: BTreeSet::new(), photos: BTreeSet::new() };
    let post = post(fact(id, "2026-11-25", Content::Erased(nothing)));
    let (Appended::Created(stored) | Appended::Same(stored)) =
        bench.store.erase(&post, &Programme).expect("erased")
    else {
        panic!("another fact is there");
    };
    match stored.fact.entry.content {
        Content::Erased(it) => it,
        other => panic!("{other:?}"),
    }
}

// The aircraft was owner 70's from January to June: what the inspection of February names goes, sent or not and
// whoever sent it; what the one of July names stays. The rule stands in the head of `erasure.rs`.
#[test]
fn an_erasure_takes_the_photographs_of_what_was_theirs() {
    let bench = Bench::with_type();
    let [theirs, unsent, later] = [PICTURE, b"never sent", b"later"].map(photo_digest);
    bench.append(owner(70, 70));
    bench.append(registered(1, "2026-01-01", 1, "1000"));
    bench.append(aircraft_registered(2, "2026-01-01", 50));
    bench.append(installed(3, "2026-01-01", 1, 50, "500"));
    bench.append(owned(4, "2026-01-01", Host::Aircraft(aircraft(50)), 70));
    bench.append(owned(5, "2026-06-01", Host::Aircraft(aircraft(50)), 72));
    bench.append(naming(6, "2026-02-01", "510", theirs, unsent));
    bench.append(naming(7, "2026-07-01", "530", later, later));
    for bytes in [PICTURE, b"later"] {
        bench.store.put_photo(bytes, Some(party(90)), NOW).expect("kept");
    }
    let taken = erase(&bench, 20, 70, true);
    assert_eq!(taken.photos, BTreeSet::from([theirs, unsent]));
    assert_eq!(erase(&bench, 20, 70, true), taken, "the same again takes what it took");
    for gone in [theirs, unsent] {
        assert_eq!(state(&bench, gone), PhotoState::Erased);
        assert_eq!(bench.store.photo(gone).expect("readable"), None);
    }
    assert_eq!(state(&bench, later), PhotoState::Here);
    for bytes in [PICTURE, b"never sent"] {
        let again = bench.store.put_photo(bytes, None, LATER).expect("an answer");
        assert_eq!(again, Sent::Erased, "nobody sends it again");
    }
    assert_eq!(verify(&bench.store).expect("whole").photos, 1);
    // The same holds in what is restored from a backup.
    let second = Bench::new();
    restore(&second.store, &backup(&bench.store)).expect("restored");
    let copy = &second.store;
    assert_eq!(copy.photo(later).expect("readable").as_deref(), Some(&b"later"[..]));
    let states = copy.photo_states(&[theirs, unsent]).expect("readable");
    assert!(states.iter().all(|(_, state)| *state == PhotoState::Erased), "{states:?}");
    assert_eq!(copy.put_photo(PICTURE, None, LATER).expect("an answer"), Sent::Erased);
    assert!(backup(copy) == backup(&bench.store), "and it is the same backup");
}

#[test]
fn a_workshop_takes_along_what_it_sent_and_no_record_names() {
    let bench = Bench::with_type();
    bench.append(registered(1, "2026-01-01", 1, "1000"));
    let [named, loose] = [PICTURE, b"loose"].map(photo_digest);
    bench.append(naming(6, "2026-02-01", "510", named, named));
    for bytes in [PICTURE, b"loose"] {
        bench.store.put_photo(bytes, Some(party(90)), NOW).expect("kept");
    }
    assert_eq!(erase(&bench, 20, 90, false).photos, BTreeSet::from([loose]));
    assert_eq!(state(&bench, named), PhotoState::Here);
}

#[test]
fn verify_finds_a_photograph_that_somebody_changed() {
    let bench = Bench::with_type();
    let digest = photo_digest(PICTURE);
    bench.store.put_photo(PICTURE, None, NOW).expect("kept");
    bench.store.put_photo(b"another", None, NOW).expect("kept");
    assert_eq!(verify(&bench.store).expect("whole").photos, 2);
    bench
        .store
        .write(|conn| {
            let of_digest = photo::table.filter(photo::digest.eq(crate::bytes::Digest(digest)));
            diesel::update(of_digest)
                .set(photo::bytes.eq(Some(b"a picture of a pistol".to_vec())))
                .execute(conn)?;
            Ok(())
        })
        .expect("changed");
    assert_eq!(verify(&bench.store).expect_err("changed").at, FaultAt::Photo(digest));
}
