//! Backups: taken while others post, restored into an empty database of any kind, refused when damaged.

use super::anchored::anchor;
use super::mails::{MAIL, compose, plan};
use super::preferences::chosen;
use super::sample::{
    AT_ONCE, Bench, LATER, NOW, Programme, aircraft, aircraft_registered, claimed, day,
    deliver_first, fact, hours, migrate, owner, party, post, registered, streams,
};
use super::together::{facts, rows};
use crate::bytes::Id;
use crate::schema::report;
use crate::{
    Appended, Begun, Fault, FaultAt, Instant, NewKey, NewMail, OutboxQuery, Post, ReportRow,
    ReportState, ReturnNoted, Returned, Role, Sight, Store, StoreError, Texts, WeekRunRow,
    verify_export,
};
use diesel::prelude::*;
use gudgeon_databases::Database;
use gudgeon_life::fact::{Content, Fact, Host, Reading, Stream};
use gudgeon_life::hours::Hours;
use gudgeon_life::ids::{FactId, Uid};
use gudgeon_life::preference::ReportKind;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

/// A number below `below`, by a linear congruential generator: the same numbers for the same seed.
pub(super) fn random(seed: &mut u64, below: usize) -> usize {
    *seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
    usize::try_from(*seed >> 33).expect("31 bits") % below
}

/// Everything that a database can hold: facts with and without private text, anchors, keys, mails.
fn fill(bench: &Bench) {
    let facts = facts();
    let (first, second) = facts.split_at(facts.len() / 2);
    let name = |text: &str| Texts {
        private: [("/name".to_owned(), text.to_owned())].into(),
        as_posted: [("/meter".to_owned(), "1043:12".to_owned())].into(),
    };
    bench
        .store
        .append(
            &Post { texts: name("Invented \"Ü\" 'Club'\n"), ..post(owner(200, 72)) },
            &Programme,
        )
        .expect("stored");
    let recorded = Post {
        by: Some(party(90)),
        recorded_at: Some(Instant(NOW.0 - 1)),
        ..post(registered(201, "2026-01-01", 9, "12.5"))
    };
    bench.store.append(&recorded, &Programme).expect("stored");
    for fact in first {
        bench.append(fact.clone());
    }
    anchor(&bench.store, "2026-11-25").expect("streams moved");
    for fact in second {
        bench.append(fact.clone());
    }
    anchor(&bench.store, "2026-12-02").expect("streams moved");
    bench.append(aircraft_registered(202, "2026-01-01", 59));
    bench.store.put_photo(b"a picture", Some(party(90)), NOW).expect("kept");
    bench.store.put_photo(b"a picture", None, LATER).expect("kept");
    bench.store.put_photo(b"another", None, NOW).expect("kept");
    let key = NewKey {
        hash: [3; 32],
        role: Role::Shop,
        party: Some(party(90)),
        label: "bench",
        created_at: NOW,
        expires_at: None,
    };
    bench.store.add_key(&key).expect("added");
    let kind = ReportKind::Owner;
    bench.store.set_preference(party(72), kind, &chosen(), LATER).expect("kept");
    bench.store.revoke_links(party(72), ReportKind::Shop).expect("revoked");
    bench
        .store
        .calendar(party(72), &[super::calendars::wanted(1, "2026-12-07")], LATER)
        .expect("told");
    let mail = NewMail { text: "text\n", ..MAIL };
    compose(&bench.store, 70, "2026-W48", &mail);
    deliver_first(&bench.store);
    compose(&bench.store, 71, "2026-W48", &mail);
    plan(&bench.store, 72, "2026-W48", LATER);
    let run = WeekRunRow {
        week: "2026-W48".to_owned(),
        planned_at: NOW.0,
        mails: 2,
        items: 3,
        overdue: 1,
    };
    assert!(bench.store.keep_week_run(&run, None).expect("kept"));
    return_mails(&bench.store);
}

/// Notes that each mail of recipient 70 came back for now and then for good.
fn return_mails(store: &Store) {
    for mail in store.reports_of(party(70), 0, 9).expect("readable") {
        for (permanent, status) in [(false, "4.2.2"), (true, "5.1.1")] {
            let returned = Returned { tag: &mail.return_tag, permanent, status };
            let noted = store.note_return(&returned, NOW).expect("an answer");
            assert_eq!(noted, ReturnNoted::Counted);
        }
    }
}

pub(super) fn backup(store: &Store) -> Vec<u8> {
    let mut file = Vec::new();
    let written = store.backup(&mut file, NOW, &mut |_| {}).expect("written");
    assert!(written.found.is_ok(), "{written:?}");
    file
}

pub(super) fn restore(store: &Store, mut file: &[u8]) -> Result<(), StoreError> {
    store.restore(&mut file, &Programme, NOW, &mut |_| {}).map(|_| ())
}

fn verified(mut file: &[u8]) -> Result<crate::Verified, Fault> {
    verify_export(&mut file, &mut |_| {}).expect("readable")
}

#[test]
fn from_sqlite_to_postgres_and_back_nothing_changes() {
    let first = Bench::of(Database::sqlite(migrate)).with_the_type();
    fill(&first);
    let file = backup(&first.store);
    let second = Bench::of(Database::postgres(migrate));
    restore(&second.store, &file).expect("restored");
    let third = Bench::of(Database::sqlite(migrate));
    restore(&third.store, &backup(&second.store)).expect("restored");
    // Heads, anchors, texts, keys and mails are in it, and nothing in it is of one database alone.
    assert!(backup(&second.store) == file && backup(&third.store) == file);
    let expected = rows(&first.store);
    assert_eq!(expected.len(), 7);
    assert_eq!(rows(&second.store), expected);
    assert_eq!(rows(&third.store), expected);
    let found = first.store.verify(&mut |_| {}).expect("readable").expect("whole");
    for store in [&second.store, &third.store] {
        assert_eq!(store.verify(&mut |_| {}).expect("readable"), Ok(found.clone()));
        assert_eq!(
            store.engine_types().expect("readable"),
            first.store.engine_types().expect("readable")
        );
        let sight = Sight { shop: party(90), on: day("2026-11-25") };
        let names = |store: &Store| {
            let party = store.party(party(72)).expect("readable").expect("it is there");
            (party.name, store.may_see(sight, super::sample::engine(9)).expect("readable"))
        };
        assert_eq!(names(store), ("Invented \"Ü\" 'Club'\n".to_owned(), true));
        let wanted = store.preference(party(72), ReportKind::Owner).expect("readable");
        assert_eq!((wanted.preference, wanted.changed_at), (chosen(), Some(LATER)));
        let key = store.principal(&[3; 32], NOW).expect("readable").expect("it opens");
        assert_eq!((key.role, key.label.as_str()), (Role::Shop, "bench"));
    }
    assert_eq!(verified(&file), Ok(found));
}

#[test]
fn a_restored_database_goes_on() {
    let first = Bench::with_type();
    fill(&first);
    let second = Bench::new();
    restore(&second.store, &backup(&first.store)).expect("restored");
    let again = second.append(facts().remove(0));
    assert!(matches!(again, Appended::Same(_)), "{again:?}");
    let new = second.append(aircraft_registered(210, "2026-01-01", 58));
    assert!(matches!(new, Appended::Created(_)), "{new:?}");
    assert_eq!(anchor(&second.store, "2026-12-09").map(|it| (it.seq, it.heads)), Some((3, 2)));
    second.store.verify(&mut |_| {}).expect("readable").expect("whole");
}

// Of the two mails one was accepted; the other is in somebody's hands when the backup is made.
#[test]
fn a_mail_in_somebodys_hands_is_in_nobodys_after_a_restore() {
    for (handed_over, expected) in [(false, ReportState::Planned), (true, ReportState::Unknown)] {
        let first = Bench::with_type();
        fill(&first);
        let (claim, _) = claimed(&first.store, 1).remove(0);
        if handed_over {
            let begun = first.store.begin_transmitting(claim, AT_ONCE, NOW, LATER);
            assert_eq!(begun.expect("an answer"), Begun::Yes);
        }
        let second = Bench::new();
        restore(&second.store, &backup(&first.store)).expect("restored");
        let query = OutboxQuery { week: None, state: Some(expected), after_key: 0, limit: 10 };
        let found = second.store.not_accepted(&query).expect("readable");
        assert!(found.iter().any(|row| row.recipient == party(71)), "{expected:?}: {found:?}");
        assert_eq!(found.iter().filter(|row| row.recipient != party(72)).count(), 1);
    }
}

// The first report of the database is gone, so that every other has another key in the copy.
#[test]
fn a_mail_that_left_before_the_backup_comes_back_after_the_restore() {
    let first = Bench::with_type();
    plan(&first.store, 69, "2026-W48", NOW);
    compose(&first.store, 70, "2026-W48", &MAIL);
    let before = report::recipient.eq(Id::from(party(69).0));
    let remove = |conn: &mut _| Ok(diesel::delete(report::table.filter(before)).execute(conn)?);
    assert_eq!(first.store.write(remove).expect("removed"), 1);
    deliver_first(&first.store);
    let second = Bench::new();
    restore(&second.store, &backup(&first.store)).expect("restored");
    let sent = |bench: &Bench| bench.store.reports_of(party(70), 0, 9).expect("readable").remove(0);
    let (before, after) = (sent(&first), sent(&second));
    assert_eq!(after, ReportRow { key: after.key, ..before.clone() });
    assert_ne!(after.key, before.key);
    let returned = Returned { tag: &before.return_tag, permanent: true, status: "5.1.1" };
    let noted = second.store.note_return(&returned, NOW).expect("an answer");
    assert_eq!(noted, ReturnNoted::Counted);
}

#[test]
fn nothing_is_mailed_after_a_restore_until_somebody_says_so() {
    let first = Bench::with_type();
    fill(&first);
    assert_eq!(first.store.mail_hold().expect("readable"), None);
    let second = Bench::new();
    restore(&second.store, &backup(&first.store)).expect("restored");
    let queue = || claimed(&second.store, 10).len();
    assert_eq!((queue(), second.store.reports_waiting().expect("readable")), (0, 2));
    let hold = second.store.mail_hold().expect("readable").expect("on hold");
    assert_eq!(hold.since, NOW);
    assert!(second.store.release_mails(NOW, 0).expect("an answer"));
    assert_eq!(queue(), 1);
    assert!(!second.store.release_mails(NOW, 0).expect("an answer"));
}

#[test]
fn only_an_empty_database_is_restored_into() {
    let first = Bench::with_type();
    fill(&first);
    let file = backup(&first.store);
    let refused = restore(&first.store, &file).err();
    assert!(matches!(&refused, Some(StoreError::Refused(why)) if why.contains("not empty")));
    assert_eq!(backup(&first.store), file);
}

/// One reading of the aircraft of a thread, later and higher than the one before.
fn reading(thread: u8, n: usize) -> Fact {
    let mut id = [thread; 16];
    id[14..].copy_from_slice(&u16::try_from(n).expect("few").to_be_bytes());
    let meter = hours("100") + Hours::from_whole(i64::try_from(n).expect("few"));
    let of = Host::Aircraft(aircraft(thread));
    let content = Content::Reading(Reading { of, meter });
    Fact { id: FactId(Uid::from_bytes(id)), ..fact(1, "2026-02-01", content) }
}

// Each of eight threads posts about its own aircraft and one that all share, one fact after the other. A backup
// that shows one moment holds, of each thread, the first facts and none after a gap.
#[test]
fn a_backup_among_posts_shows_one_moment() {
    let bench = Bench::with_type();
    let threads: Vec<u8> = (101..=108).collect();
    for thread in &threads {
        bench.append(aircraft_registered(*thread, "2026-01-01", *thread));
    }
    let posted = AtomicUsize::new(0);
    let enough = AtomicBool::new(false);
    let files: Vec<Vec<u8>> = std::thread::scope(|scope| {
        for thread in &threads {
            let (bench, posted, enough) = (&bench, &posted, &enough);
            scope.spawn(move || {
                for n in 0..2000 {
                    // Every second one is about what all share, so that order among streams shows.
                    let mut fact = reading(*thread, n);
                    if let (1, Content::Reading(it)) = (n % 2, &mut fact.entry.content) {
                        it.of = Host::Aircraft(aircraft(101));
                    }
                    bench.append(fact);
                    posted.fetch_add(1, Ordering::Relaxed);
                    if enough.load(Ordering::Relaxed) {
                        break;
                    }
                }
            });
        }
        let files = [10, 60, 120].map(|begun| {
            while posted.load(Ordering::Relaxed) < begun {
                std::thread::yield_now();
            }
            backup(&bench.store)
        });
        enough.store(true, Ordering::Relaxed);
        files.to_vec()
    });
    for (file, begun) in files.iter().zip([10, 60, 120]) {
        let restored = Bench::new();
        restore(&restored.store, file).expect("restored");
        assert_eq!(&backup(&restored.store), file, "the heads are those of the moment");
        let found = restored.store.verify(&mut |_| {}).expect("readable").expect("whole");
        let readings = usize::try_from(found.facts).expect("few") - 9;
        assert!((begun..=posted.load(Ordering::Relaxed)).contains(&readings), "{readings}");
        let mut seen = 0;
        for thread in &threads {
            let has =
                |n: usize| restored.store.fact(reading(*thread, n).id).expect("readable").is_some();
            seen += (0..2000).take_while(|n| has(*n)).count();
        }
        assert_eq!(seen, readings, "none is there whose elder is missing");
        for (_, stream) in streams(&restored.store) {
            let last = |store: &Store, at: Option<usize>| {
                let facts = store.facts_of(stream).expect("readable");
                facts.get(at.unwrap_or(facts.len()) - 1).map(|it| (it.seq, it.hash))
            };
            let head = last(&restored.store, None);
            let at = head.map(|(seq, _)| usize::try_from(seq).expect("few"));
            assert_eq!(last(&bench.store, at), head, "{stream:?}");
        }
    }
}

#[test]
fn a_flipped_bit_of_a_backup_is_found_and_its_line_named() {
    let bench = Bench::with_type();
    fill(&bench);
    let file = backup(&bench.store);
    verified(&file).expect("whole");
    let lines: Vec<&[u8]> = file.split_inclusive(|byte| *byte == b'\n').collect();
    let mut seed = 7;
    let mut begin = 0;
    for (number, line) in (1..).zip(lines) {
        let is_fact = line.starts_with(br#"{"fact":"#);
        for _ in 0..2 {
            let mut bad = file.clone();
            let at = begin + random(&mut seed, line.len());
            bad[at] ^= 1 << random(&mut seed, 8);
            let fault = verified(&bad).expect_err("found");
            assert!(fault.line.is_some(), "{fault}");
            if is_fact {
                assert_eq!(fault.line, Some(number), "byte {at}: {fault}");
            }
        }
        begin += line.len();
    }
}

#[test]
fn a_damaged_backup_is_refused_and_leaves_nothing() {
    let bench = Bench::with_type();
    fill(&bench);
    let file = String::from_utf8(backup(&bench.store)).expect("text");
    let lines: Vec<&str> = file.split_inclusive('\n').collect();
    let at = |begin: &str| lines.iter().position(|line| line.starts_with(begin)).expect("one");
    let without = |at: usize| {
        let rest = lines.iter().enumerate().filter(|(n, _)| *n != at);
        rest.map(|(_, line)| *line).collect::<String>()
    };
    let empty = Bench::new();
    let (fact, anchor, report) = (at("{\"fact\""), at("{\"anchor\""), at("{\"report\""));
    for (name, bad, line) in [
        ("a fact is missing", without(fact), fact + 1),
        ("an anchor is missing", without(anchor), anchor + 1),
        ("a mail is missing", without(report), lines.len() - 1),
        ("the end is missing", without(lines.len() - 1), lines.len()),
        ("a line is there twice", file.replace(lines[fact], &lines[fact].repeat(2)), fact + 2),
        ("something follows", format!("{file}{}", lines[1]), lines.len() + 1),
        ("a mail says something else", file.replace("Week 48", "Week 49"), lines.len()),
        ("it is empty", String::new(), 1),
        ("it is something else", "name,hours\n".to_owned(), 1),
        ("it is of a later version", file.replacen("\"v\":1", "\"v\":2", 1), 1),
    ] {
        match restore(&empty.store, bad.as_bytes()) {
            Err(StoreError::Damaged(fault)) => {
                assert_eq!(fault.line, u64::try_from(line).ok(), "{name}: {fault}");
            }
            other => panic!("{name}: {other:?}"),
        }
    }
    let written = empty.store.backup(&mut Vec::new(), NOW, &mut |_| {}).expect("written");
    assert_eq!(written.counts, crate::Counts::default());
    restore(&empty.store, file.as_bytes()).expect("it is still empty");
}

#[test]
fn a_fault_is_told_in_words() {
    let at = FaultAt::Fact {
        stream: Stream::aircraft(aircraft(50)),
        seq: 3,
        id: Some(FactId(super::sample::uid(7))),
    };
    let fault = Fault { line: Some(12), at, what: "it is missing".to_owned() };
    assert_eq!(
        fault.to_string(),
        "line 12: aircraft 32323232-3232-3232-3232-323232323232, fact 3 with id 07070707-0707-0707-0707-070707070707: it is missing"
    );
}
