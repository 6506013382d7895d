//! Mails that came back: each counted once, two for good close an address, and what opens it again.

use super::mails::{MAIL, compose};
use super::sample::{Bench, NOW, Programme, claimed, fact, owner, party, post};
use crate::{NewMail, Post, ReturnNoted, Returned, Texts, Unsent};
use ReturnNoted::{Counted, Erased, Known, NotOurs};
use gudgeon_life::fact::{self as facts, Content};
use std::collections::BTreeSet;

const ADDRESS: &str = "a@example.invalid";

/// The tags of mails to recipient 70, one a week.
fn tags(bench: &Bench, weeks: &[&'static str]) -> Vec<String> {
    for week in weeks {
        compose(&bench.store, 70, week, &MAIL);
    }
    let rows = bench.store.reports_of(party(70), 0, 10).expect("readable");
    rows.into_iter().map(|row| row.return_tag).collect()
}

fn note(bench: &Bench, tag: &str, permanent: bool) -> ReturnNoted {
    let status = if permanent { "5.1.1" } else { "4.2.2" };
    bench.store.note_return(&Returned { tag, permanent, status }, NOW).expect("an answer")
}

fn suppressed(bench: &Bench, address: &str) -> bool {
    bench.store.is_suppressed(address).expect("readable")
}

/// A registration of owner 70 with an address.
fn registered(id: u8, address: &str) -> Post {
    let private = [("/email".to_owned(), address.to_owned())].into();
    Post { texts: Texts { private, ..Texts::default() }, ..post(owner(id, 70)) }
}

#[test]
fn two_mails_that_come_back_for_good_close_an_address() {
    let bench = Bench::new();
    let tags = tags(&bench, &["2026-W47", "2026-W48"]);
    assert_eq!((note(&bench, &tags[0], true), suppressed(&bench, ADDRESS)), (Counted, false));
    assert_eq!((note(&bench, &tags[0], true), suppressed(&bench, ADDRESS)), (Known, false));
    // For now is counted, and closes nothing.
    assert_eq!((note(&bench, &tags[1], false), suppressed(&bench, ADDRESS)), (Counted, false));
    assert_eq!((note(&bench, &tags[1], true), suppressed(&bench, ADDRESS)), (Counted, true));
    assert!(suppressed(&bench, " A@Example.INVALID") && !suppressed(&bench, "b@example.invalid"));
    let rows = bench.store.suppressed(None, 10).expect("readable");
    let listed: Vec<_> =
        rows.iter().map(|it| (it.recipient, it.status.as_str(), it.since)).collect();
    assert_eq!(listed, [(party(70), "5.1.1", NOW)]);
    assert_eq!(bench.store.suppressed(Some(rows[0].address), 10).expect("readable"), []);
    assert_eq!(bench.store.lift_suppression(ADDRESS).expect("an answer"), 3);
    assert!(!suppressed(&bench, ADDRESS));
}

// Twenty digits are 80 bits: who tries a billion a second needs 38 million years for all of them.
#[test]
fn a_tag_cannot_be_made_up() {
    let bench = Bench::new();
    let tags = tags(&bench, &["2026-W47", "2026-W48"]);
    let digits = |tag: &String| tag.bytes().all(|it| matches!(it, b'0'..=b'9' | b'a'..=b'f'));
    assert!(
        tags[0] != tags[1] && tags.iter().all(|tag| tag.len() == 20 && digits(tag)),
        "{tags:?}"
    );
    let (cut, other) = (&tags[0][1..], format!("{}0", &tags[0][1..]));
    for made_up in ["", "1", "test", cut, &other] {
        assert_eq!(note(&bench, made_up, true), NotOurs, "{made_up}");
    }
}

// One that was composed anew may have left before all the same.
#[test]
fn a_mail_that_says_something_else_now_comes_back_as_it_left() {
    let bench = Bench::new();
    let tags = tags(&bench, &["2026-W48"]);
    let (claim, _) = claimed(&bench.store, 1).remove(0);
    let anew = NewMail { text: "something else", ..MAIL };
    let kept = bench.store.keep_mails(&[(claim, anew)]).expect("kept");
    assert_eq!(kept[0].1.text, "something else");
    assert!(bench.store.end_unsent(claim, Unsent::Until(NOW), NOW).expect("put back"));
    assert_eq!(note(&bench, &tags[0], true), Counted);
}

#[test]
fn another_address_begins_anew_and_the_same_does_not() {
    let bench = Bench::new();
    let append = |post: &Post| bench.store.append(post, &Programme).expect("stored");
    append(&registered(1, ADDRESS));
    for tag in tags(&bench, &["2026-W47", "2026-W48"]) {
        note(&bench, &tag, true);
    }
    append(&registered(2, "A@example.invalid"));
    assert!(suppressed(&bench, ADDRESS), "it is the same address");
    append(&registered(3, "b@example.invalid"));
    assert!(!suppressed(&bench, ADDRESS));
}

#[test]
fn of_an_erased_recipient_nothing_is_kept() {
    let bench = Bench::new();
    let append = |post: &Post| bench.store.append(post, &Programme).expect("stored");
    append(&registered(1, ADDRESS));
    let tags = tags(&bench, &["2026-W47", "2026-W48"]);
    for tag in &tags {
        note(&bench, tag, true);
    }
    let (facts, photos) = (BTreeSet::new(), BTreeSet::new());
    let erased = facts::Erased { party: party(70), notes: false, facts, photos };
    bench
        .store
        .erase(&post(fact(9, "2026-11-25", Content::Erased(erased))), &Programme)
        .expect("erased");
    assert!(!suppressed(&bench, ADDRESS));
    assert_eq!(note(&bench, &tags[1], true), Erased);
}

#[test]
fn the_addresses_that_are_closed_are_listed_each_once() {
    let bench = Bench::new();
    let addresses: Vec<String> = (0..5).map(|n| format!("{n}@example.invalid")).collect();
    for (recipient, to_address) in (70..).zip(&addresses) {
        for week in ["2026-W47", "2026-W48", "2026-W49"] {
            compose(&bench.store, recipient, week, &NewMail { to_address, ..MAIL });
        }
    }
    for recipient in 70..75 {
        for row in bench.store.reports_of(party(recipient), 0, 9).expect("readable") {
            note(&bench, &row.return_tag, recipient != 72);
        }
    }
    let mut listed = Vec::new();
    let mut after = None;
    while let Some(last) = bench.store.suppressed(after, 2).expect("readable").last() {
        let rows = bench.store.suppressed(after, 2).expect("readable");
        listed.extend(rows.iter().map(|row| row.recipient));
        after = Some(last.address);
    }
    listed.sort_unstable();
    assert_eq!(listed, [party(70), party(71), party(73), party(74)]);
}
