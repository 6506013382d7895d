//! What the weekly mails to workshops and inspectors ask for, on four engines.

use super::sample::{
    Bench, NOW, Programme, aircraft_registered, day, engine, inspected, installed, owner, party,
    post, registered, uid,
};
use crate::{Instant, MutedParty, Post};
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
    let posts = bench.store.last_posts().expect("readable");
    assert_eq!((posts.get(&party(90)), posts.get(&party(92))), (Some(&NOW), None));
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
