//! Mails on their way out: claimed by one, taken over when its lease ends, never handed over twice.

use super::mails::report;
use super::sample::{Bench, NOW};
use crate::{Claim, Claimant, Ending, Instant, ReportState, Store};
use ReportState::{Delivered, Queued, Sending, Transmitting, Unknown};

/// How long these leases last, in microseconds.
const LEASE: i64 = 60_000_000;

fn at(micros: i64) -> Instant {
    Instant(NOW.0 + micros)
}

/// A store with one queued mail for each recipient.
fn with_mails(count: u8) -> Bench {
    let bench = Bench::new();
    for recipient in 1..=count {
        assert!(bench.store.queue_report(&report(recipient, "2026-W48")).expect("queued"));
    }
    bench
}

fn claim(store: &Store, limit: i64, now: i64) -> Vec<Claim> {
    let claimant = Claimant { by: "a test", at: at(now), lease_until: at(now + LEASE) };
    let claimed = store.claim_reports(0, limit, &claimant).expect("an answer");
    claimed.into_iter().map(|(claim, _)| claim).collect()
}

fn claim_one(store: &Store, now: i64) -> Option<Claim> {
    claim(store, 1, now).pop()
}

fn begin(store: &Store, claim: Claim, now: i64) -> bool {
    store.begin_transmitting(claim, at(now), at(now + LEASE)).expect("an answer")
}

fn end(store: &Store, claim: Claim, ending: Ending) -> bool {
    store.end_delivery(claim, ending, NOW).expect("an answer")
}

/// The state of the only mail.
fn state(store: &Store) -> ReportState {
    let all = [Queued, Sending, Transmitting, Delivered, Unknown];
    let held = |state: &ReportState| !store.reports_in(*state, 0, 10).expect("readable").is_empty();
    let found: Vec<ReportState> = all.into_iter().filter(held).collect();
    assert_eq!(found.len(), 1, "{found:?}");
    *found.first().expect("one")
}

#[test]
fn a_mail_is_claimed_begun_and_delivered_once() {
    let bench = with_mails(1);
    let store = &bench.store;
    let mine = claim_one(store, 0).expect("it is free");
    assert_eq!((claim_one(store, LEASE - 1), state(store)), (None, Sending));
    assert!(begin(store, mine, 1) && !begin(store, mine, 1));
    assert_eq!((claim_one(store, 9 * LEASE), state(store)), (None, Transmitting));
    assert!(end(store, mine, Ending::Accepted) && !end(store, mine, Ending::Accepted));
    assert!(!end(store, mine, Ending::NotAccepted), "what is delivered stays so");
    assert_eq!((claim_one(store, 9 * LEASE), state(store)), (None, Delivered));
}

#[test]
fn a_mail_that_nobody_began_is_taken_over_when_the_lease_ends() {
    let bench = with_mails(1);
    let store = &bench.store;
    let late = claim_one(store, 0).expect("it is free");
    // Nobody needs to have taken it over for the lease to be over.
    assert!(!begin(store, late, LEASE));
    let next = claim_one(store, LEASE).expect("the lease is over");
    assert!(!begin(store, late, LEASE + 1), "of two, the one of the later generation");
    assert!(!end(store, late, Ending::NotAccepted) && !end(store, late, Ending::Accepted));
    assert!(begin(store, next, LEASE + 1));
    assert_eq!(state(store), Transmitting);
}

#[test]
fn a_mail_that_was_being_handed_over_is_unknown_and_never_taken_up_again() {
    let bench = with_mails(1);
    let store = &bench.store;
    let lost = claim_one(store, 0).expect("it is free");
    assert!(begin(store, lost, 5));
    assert_eq!(store.give_up_lost_reports(at(LEASE + 4)).expect("an answer"), 0);
    assert_eq!(store.give_up_lost_reports(at(LEASE + 5)).expect("an answer"), 1);
    assert_eq!((claim_one(store, 9 * LEASE), state(store)), (None, Unknown));
    // It was only slow, and knows better.
    assert!(end(store, lost, Ending::Accepted));
    assert_eq!(state(store), Delivered);
}

#[test]
fn a_mail_that_was_not_accepted_waits_again() {
    let bench = with_mails(1);
    let store = &bench.store;
    let first = claim_one(store, 0).expect("it is free");
    assert!(end(store, first, Ending::NotAccepted), "given back before it began");
    let second = claim_one(store, 1).expect("it is free again");
    assert!(!begin(store, first, 2) && begin(store, second, 2));
    assert!(end(store, second, Ending::NotAccepted));
    let third = claim_one(store, 3).expect("it is free again");
    assert!(begin(store, third, 4) && end(store, third, Ending::Unknown));
    assert_eq!((claim_one(store, 9 * LEASE), state(store)), (None, Unknown));
}

#[test]
fn eight_that_claim_at_once_share_the_mails() {
    const MAILS: u8 = 60;
    let bench = with_mails(MAILS);
    let claims: Vec<Claim> = std::thread::scope(|scope| {
        let claim_all = || {
            let mut mine = Vec::new();
            loop {
                match claim(&bench.store, 3, 0) {
                    none if none.is_empty() => return mine,
                    some => mine.extend(some),
                }
            }
        };
        let threads: Vec<_> = (0..8).map(|_| scope.spawn(claim_all)).collect();
        threads.into_iter().flat_map(|thread| thread.join().expect("no panic")).collect()
    });
    assert_eq!(claims.len(), usize::from(MAILS), "each is claimed");
    assert!(claims.iter().all(|claim| begin(&bench.store, *claim, 1)), "and only once");
}
