//! What the weekly mails to workshops and inspectors ask for, on four engines.

use super::parts::plans_of;
use super::sample::{
    Bench, DIGEST, LATER, NOW, Programme, activated, aircraft_registered, day, engine, given,
    inspected, installed, numbered_engine, owner, party, post, registered, shop, uid,
};
use crate::bytes::Id;
use crate::due_tally::tally_of;
use crate::overview::{held, last_posts, muted};
use crate::parties::named;
use crate::{DueTally, Instant, MutedParty, Post, dialect};
use gudgeon_life::ids::{EngineId, FactId, PartyId};
use gudgeon_life::preference::{Mode, Preference, ReportKind};

/// Engines 1 to 4, each in an aircraft of its own since 2025-01-01, posted by workshop 91, 90, 91, 90. Engine 2 was
/// last read on 2026-05-01, engine 3 on 2025-06-20, the others when they were installed.
fn fleet() -> Bench {
    let bench = Bench::with_type();
    for n in 1..=4 {
        let by = Some(party(90 + n % 2));
        let first = Post { by, ..post(registered(n, "2025-01-01", n, "10")) };
        bench.store.append(&first, &Programme).expect("stored");
        bench.append(aircraft_registered(10 + n, "2025-01-01", 50 + n));
        bench.append(installed(20 + n, "2025-01-01", n, 50 + n, "10"));
    }
    bench.append(inspected(32, "2026-05-01", 2, "20"));
    bench.append(inspected(33, "2025-06-20", 3, "20"));
    bench
}

fn keys(bench: &Bench, engines: &[u8]) -> Vec<i64> {
    let row = |n: &u8| bench.store.engine(engine(*n)).expect("readable").expect("an engine").key;
    engines.iter().map(row).collect()
}

#[test]
fn the_records_of_several_engines_come_together() {
    let bench = fleet();
    let facts = |engines: &[u8]| -> Vec<FactId> {
        let records = bench.store.records_of_engines(&keys(&bench, engines)).expect("readable");
        assert!(records.iter().all(|it| it.at == NOW));
        let mut facts: Vec<FactId> = records.into_iter().map(|it| it.fact.id).collect();
        facts.sort_unstable();
        facts
    };
    let of = |ids: &[u8]| -> Vec<FactId> { ids.iter().map(|n| FactId(uid(*n))).collect() };
    assert_eq!(facts(&[1]), of(&[1, 11, 21]));
    assert_eq!(facts(&[1, 2]), of(&[1, 2, 11, 12, 21, 22, 32]));
    assert_eq!(facts(&[]), []);
}

#[test]
fn each_workshop_is_told_what_it_holds() {
    let bench = fleet();
    let held = |shops: &[u8]| -> Vec<(PartyId, EngineId)> {
        let shops: Vec<PartyId> = shops.iter().map(|n| party(*n)).collect();
        let held = bench.store.engines_of_shops(&shops, day("2026-06-01")).expect("readable");
        held.into_iter().map(|(shop, row)| (shop, row.engine)).collect()
    };
    assert_eq!(held(&[91]), [(party(91), engine(1)), (party(91), engine(3))]);
    assert_eq!(held(&[90, 91]).len(), 4);
    assert_eq!(held(&[92]), []);
}

#[test]
fn old_readings_and_last_posts_are_found() {
    let bench = fleet();
    let unread = bench.store.unread_since(day("2026-01-01"), 2).expect("readable");
    let oldest: Vec<EngineId> = unread.oldest.iter().map(|row| row.engine).collect();
    assert_eq!((unread.count, oldest), (3, vec![engine(1), engine(4)]));
    for (id, n) in [(50, 90), (51, 91), (52, 92)] {
        bench.append(shop(id, n));
    }
    let later = Post {
        received_at: LATER,
        by: Some(party(91)),
        ..post(given(60, "2026-03-01", 1, 91, None))
    };
    bench.store.append(&later, &Programme).expect("stored");
    let posts = bench.store.last_posts(None, 10).expect("readable");
    let at: Vec<Option<Instant>> = posts.iter().map(|it| it.at).collect();
    assert_eq!(at, [Some(NOW), Some(LATER), None]);
    let rest = bench.store.last_posts(posts.first().map(|it| it.key), 1).expect("readable");
    assert_eq!(rest, posts[1..2]);
}

// Made on 2020-05-01 and never inspected, engines 1 and 4 are overdue since 2021-05-02. Engine 3, inspected on
// 2025-06-20, is due on 2026-06-20 and coming due from 30 days before; engine 2 is due in 2027.
#[test]
fn what_is_due_is_counted_for_each_who_is_told_of_it() {
    let bench = fleet();
    let tally = |shops: &[u8], on: &str| {
        let shops: Vec<PartyId> = shops.iter().map(|n| party(*n)).collect();
        bench.store.due_tally(ReportKind::Shop, &shops, day(on)).expect("readable")
    };
    let of = |mails, items, overdue| DueTally { mails, items, overdue };
    bench.append(given(40, "2026-05-20", 2, 92, None));
    assert_eq!(tally(&[92], "2026-06-01"), of(0, 1, 0), "not due");
    assert_eq!(tally(&[91], "2026-06-01"), of(1, 2, 1), "one overdue, one coming due");
    assert_eq!(tally(&[91], "2026-06-21"), of(1, 2, 2), "both overdue");
    bench.append(given(41, "2026-03-01", 1, 91, None));
    assert_eq!(tally(&[91], "2026-06-01"), of(1, 2, 1), "held twice, it counts once");
    bench.append(given(42, "2026-05-20", 1, 92, None));
    assert_eq!(tally(&[91, 92], "2026-06-01"), of(2, 4, 2), "both are told of engine 1");
    let inspector = bench.store.due_tally(ReportKind::Inspector, &[party(91)], day("2026-06-01"));
    assert_eq!(inspector.expect("readable"), of(0, 0, 0));
}

#[test]
fn who_cannot_be_told_what_is_due_counts_as_well() {
    let bench = fleet();
    bench.append(given(40, "2026-05-20", 2, 92, None));
    let mails = || {
        let tally = bench.store.due_tally(ReportKind::Shop, &[party(92)], day("2026-06-01"));
        tally.expect("readable").mails
    };
    assert_eq!(mails(), 0);
    // A version that is not here: there is none to count by until it comes.
    bench.append(activated(251, "2026-05-25", [9; 32]));
    assert_eq!(mails(), 1);
    bench.append(activated(252, "2026-05-26", DIGEST));
    assert_eq!(mails(), 0);
    bench.append(numbered_engine(45, "2025-01-01", 5, "F-2"));
    assert_eq!(mails(), 1, "two engines of one serial number contradict");
}

// A million engines, a hundred million facts and the reports of years allow no table to be read through.
#[test]
fn a_weekly_run_reads_no_table_through() {
    let bench = fleet();
    let (on, shops) = (day("2026-06-01"), [Id::from(uid(90)), Id::from(uid(91))]);
    let plans = plans_of(&bench, |conn| {
        tally_of(conn, ReportKind::Owner, &shops, on)?;
        tally_of(conn, ReportKind::Shop, &shops, on)?;
        held(conn, &shops, on)?;
        named(conn, &shops)?;
        last_posts(conn, None, 10)?;
        muted(conn, 10)?;
        dialect::lock_free_reports(conn, NOW.0, 20)?;
        Ok(())
    });
    // Of owners only the engines are asked for, since these own none; of workshops the lines and what is due on them
    // too; the engines that they hold come in two queries, and reports in one for each state.
    assert_eq!(plans.len(), 1 + 3 + 2 + 1 + 1 + 1 + 3, "{plans:?}");
    for plan in &plans {
        for bad in ["SCAN", "Seq Scan", "FOR ORDER BY"] {
            assert!(!plan.contains(bad), "{plan}");
        }
    }
    let all = plans.join("; ");
    for index in ["fact_by_poster", "preference_by_mode", "report_by_state"] {
        assert!(all.contains(index), "{index}: {all}");
    }
}

#[test]
fn those_who_want_no_mails_are_told_until_they_are_erased() {
    let bench = Bench::new();
    bench.append(owner(1, 70));
    let off = Preference { mode: Mode::Off, ..Preference::default() };
    let at = Instant(NOW.0 + 1);
    assert!(bench.store.set_preference(party(70), ReportKind::Owner, &off, at).expect("stored"));
    let muted: Vec<MutedParty> = bench.store.muted(10).expect("readable");
    let since: Vec<Option<Instant>> = muted.iter().map(|it| it.since).collect();
    assert_eq!(since, [Some(at)]);
    let on = Preference::default();
    bench.store.set_preference(party(70), ReportKind::Owner, &on, at).expect("stored");
    assert_eq!(bench.store.muted(10).expect("readable"), []);
}
