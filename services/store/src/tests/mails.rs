//! Mails as composed, and keys.

use super::sample::{Bench, NOW, day, party};
use crate::{Instant, NewKey, NewReport, ReportState, Role};

pub(super) fn report(recipient: u8, week: &'static str) -> NewReport<'static> {
    NewReport {
        recipient: party(recipient),
        kind: "owner",
        week,
        as_of: day("2026-11-25"),
        message_id: "<1@example.invalid>",
        to_name: "A. Invented",
        to_address: "a@example.invalid",
        subject: "Week 48",
        text: "text",
        html: "<p>text</p>",
        composed_at: NOW,
    }
}

#[test]
fn one_mail_per_recipient_kind_and_week() {
    let bench = Bench::new();
    let queue = |report: NewReport<'_>| bench.store.queue_report(&report).expect("an answer");
    assert!(queue(report(70, "2026-W48")));
    assert!(!queue(NewReport { subject: "other", ..report(70, "2026-W48") }));
    assert!(queue(report(71, "2026-W48")));
    assert!(queue(report(70, "2026-W49")));
    let waiting = bench.store.reports_in(ReportState::Queued, 0, 10).expect("readable");
    assert_eq!(waiting.len(), 3);
    assert!(waiting.iter().all(|row| row.subject == "Week 48"));
    let asked = [party(70), party(71), party(72)];
    let mut have = bench.store.has_report(&asked, "owner", "2026-W48").expect("readable");
    have.sort_unstable();
    assert_eq!(have, [party(70), party(71)]);
}

#[test]
fn a_key_opens_until_it_ends() {
    let bench = Bench::new();
    let key = NewKey {
        hash: [1; 32],
        role: Role::Shop,
        party: Some(party(90)),
        label: "bench",
        created_at: NOW,
        expires_at: Some(Instant(NOW.0 + 10)),
    };
    bench.store.add_key(&key).expect("added");
    let at = |hash: u8, later: i64| {
        let found = bench.store.principal(&[hash; 32], Instant(NOW.0 + later)).expect("readable");
        found.map(|it| (it.role, it.party, it.label))
    };
    assert_eq!(at(1, 9), Some((Role::Shop, Some(party(90)), "bench".to_owned())));
    assert_eq!((at(1, 10), at(2, 0)), (None, None));
    assert!(bench.store.revoke_key(&[1; 32], NOW).expect("an answer"));
    assert!(!bench.store.revoke_key(&[1; 32], NOW).expect("an answer"));
    assert_eq!(at(1, 0), None);
}
