//! Mails on their way out: claimed by one, taken over when its lease ends, never handed over twice; put off,
//! paced, held back and sent again by hand.

use super::mails::{MAIL, compose, count, plan, week};
use super::sample::{AT_ONCE, Bench, LATER, NOW, party};
use crate::{
    Answer, Begun, Claim, Claimant, Ending, Instant, OutboxQuery, Outcome, Pace, ReportState,
    Store, Unsent,
};
use ReportState::{
    Accepted, Deferred, Failed, Planned, Sending, Skipped, Suppressed, Transmitting, Unknown,
};

/// How long these leases last, in microseconds.
const LEASE: i64 = 60_000_000;
const ANSWER: Answer<'_> =
    Answer { code: Some(451), enhanced: Some("4.3.0"), words: "not now, o@example.org" };

fn at(micros: i64) -> Instant {
    Instant(NOW.0 + micros)
}

/// A store with one mail that is due for each recipient.
fn with_mails(count: u8) -> Bench {
    let bench = Bench::new();
    for recipient in 1..=count {
        assert!(plan(&bench.store, recipient, "2026-W48", NOW));
    }
    bench
}

fn claim(store: &Store, limit: i64, now: i64) -> Vec<Claim> {
    let claimant = Claimant { by: "a test", at: at(now), lease_until: at(now + LEASE) };
    let claimed = store.claim_reports(limit, &claimant).expect("an answer");
    claimed.into_iter().map(|(claim, _)| claim).collect()
}

fn claim_one(store: &Store, now: i64) -> Option<Claim> {
    claim(store, 1, now).pop()
}

fn begin(store: &Store, claim: Claim, now: i64) -> bool {
    let begun = store.begin_transmitting(claim, AT_ONCE, at(now), at(now + LEASE));
    begun.expect("an answer") == Begun::Yes
}

fn end(store: &Store, claim: Claim, ending: Ending<'_>) -> bool {
    store.end_delivery(claim, ending, NOW).expect("an answer")
}

/// The state of the only mail.
fn state(store: &Store) -> ReportState {
    let counts = store.report_counts(week("2026-W48")).expect("readable");
    let [(state, 1)] = counts.into_iter().collect::<Vec<_>>()[..] else { panic!("one mail") };
    state
}

#[test]
fn a_mail_is_claimed_begun_and_accepted_once() {
    let bench = with_mails(1);
    let store = &bench.store;
    assert_eq!(claim_one(store, -1), None, "its hour has not come");
    let mine = claim_one(store, 0).expect("it is free");
    assert_eq!((claim_one(store, LEASE - 1), state(store)), (None, Sending));
    assert!(begin(store, mine, 1) && !begin(store, mine, 1));
    assert_eq!((claim_one(store, 9 * LEASE), state(store)), (None, Transmitting));
    let accepted = Ending::Accepted("250 queued");
    assert!(end(store, mine, accepted) && !end(store, mine, accepted));
    assert!(!end(store, mine, Ending::Deferred(ANSWER, NOW)), "what is accepted stays so");
    assert_eq!((claim_one(store, 9 * LEASE), state(store)), (None, Accepted));
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
    assert!(!end(store, late, Ending::Accepted("")));
    assert!(!store.end_unsent(late, Unsent::Skipped("why"), NOW).expect("an answer"));
    assert_eq!(store.keep_mails(&[(late, MAIL)]).expect("an answer"), []);
    assert!(begin(store, next, LEASE + 1));
    assert_eq!(state(store), Transmitting);
}

#[test]
fn a_mail_that_was_being_handed_over_is_unknown_and_never_taken_up_again_by_itself() {
    let bench = with_mails(1);
    let store = &bench.store;
    let lost = claim_one(store, 0).expect("it is free");
    assert!(begin(store, lost, 5));
    assert_eq!(store.give_up_lost_reports(at(LEASE + 4)).expect("an answer"), 0);
    assert_eq!(store.give_up_lost_reports(at(LEASE + 5)).expect("an answer"), 1);
    assert_eq!((claim_one(store, 9 * LEASE), state(store)), (None, Unknown));
    // It was only slow, and knows better.
    assert!(end(store, lost, Ending::Accepted("250 queued")));
    assert_eq!(state(store), Accepted);
}

#[test]
fn every_attempt_is_on_record_with_its_answer() {
    let bench = Bench::new();
    let store = &bench.store;
    compose(store, 1, "2026-W48", &MAIL);
    let first = claim_one(store, 0).expect("it is free");
    assert!(begin(store, first, 1) && end(store, first, Ending::Deferred(ANSWER, at(500))));
    assert_eq!((claim_one(store, 499), state(store)), (None, Deferred));
    let second = claim_one(store, 500).expect("its time has come");
    assert!(!begin(store, first, 501) && begin(store, second, 502));
    let refused = Answer { code: Some(550), enhanced: None, words: "no such user" };
    assert!(end(store, second, Ending::Refused(refused)));
    assert_eq!((claim_one(store, 9 * LEASE), state(store)), (None, Failed));

    let query = OutboxQuery { week: Some(week("2026-W48")), state: None, after_key: 0, limit: 9 };
    let listed = store.not_accepted(&query).expect("readable").remove(0);
    assert_eq!((listed.recipient, listed.state), (party(1), Failed));
    assert_eq!((listed.attempts, listed.next_try_at), (2, None));
    assert_eq!(listed.answered, Some((550, None)));
    let attempts = store.attempts(listed.key).expect("readable");
    let told: Vec<_> = attempts.iter().map(|it| (it.number, it.at, it.outcome, it.code)).collect();
    let expected =
        [(1, at(1), Outcome::Deferred, Some(451)), (2, at(502), Outcome::Refused, Some(550))];
    assert_eq!(told, expected);
    assert_eq!(attempts[0].words, "not now, o@example.org");
    assert_eq!(attempts[0].enhanced.as_deref(), Some("4.3.0"));
}

#[test]
fn what_does_not_leave_says_why() {
    let bench = with_mails(3);
    let store = &bench.store;
    let claims = claim(store, 3, 0);
    let why = [Unsent::Skipped("nothing to say"), Unsent::Failed("no address"), Unsent::Suppressed];
    for (claim, unsent) in claims.iter().zip(why) {
        assert!(store.end_unsent(*claim, unsent, NOW).expect("an answer"));
        assert!(!begin(store, *claim, 1));
    }
    let query = OutboxQuery { week: None, state: None, after_key: 0, limit: 9 };
    let listed = store.not_accepted(&query).expect("readable");
    let told: Vec<_> = listed.iter().map(|it| (it.state, it.reason.as_deref())).collect();
    let expected =
        [(Skipped, Some("nothing to say")), (Failed, Some("no address")), (Suppressed, None)];
    assert_eq!(told, expected);
    assert_eq!(claim_one(store, 9 * LEASE), None);
    let page = OutboxQuery { after_key: listed[0].key, limit: 1, ..query };
    assert_eq!(store.not_accepted(&page).expect("readable"), [listed[1].clone()]);
}

#[test]
fn what_is_put_back_waits_as_it_did_before() {
    let bench = with_mails(1);
    let store = &bench.store;
    let first = claim_one(store, 0).expect("it is free");
    assert!(store.end_unsent(first, Unsent::Until(at(5)), NOW).expect("an answer"));
    assert_eq!((claim_one(store, 4), state(store)), (None, Planned));
    let second = claim_one(store, 5).expect("its time has come");
    assert!(begin(store, second, 6) && end(store, second, Ending::Deferred(ANSWER, at(7))));
    let third = claim_one(store, 7).expect("its time has come");
    assert!(store.end_unsent(third, Unsent::Until(at(8)), NOW).expect("an answer"));
    assert_eq!(state(store), Deferred);
}

// Two a minute, so half a minute apart, and as many at once as fit into a minute: now, at 30 s and at 60 s less that
// minute are now; then every half minute.
#[test]
fn mails_to_one_domain_keep_to_its_pace_and_others_do_not_wait() {
    const SECOND: i64 = 1_000_000;
    let bench = with_mails(7);
    let store = &bench.store;
    let claims = claim(store, 7, 0);
    let begin = |claim: Claim, domain: &str, now: i64| {
        let pace = Pace { domain, a_minute: Some(2) };
        store.begin_transmitting(claim, pace, at(now), at(now + LEASE)).expect("an answer")
    };
    let five: Vec<Begun> = claims[..5].iter().map(|it| begin(*it, "Example.org", 0)).collect();
    let waits = [at(30 * SECOND), at(60 * SECOND)].map(Begun::Waits);
    assert_eq!(five, [Begun::Yes, Begun::Yes, Begun::Yes, waits[0], waits[1]]);
    assert_eq!(begin(claims[5], "example.net", 0), Begun::Yes);
    assert_eq!(begin(claims[6], "example.org", 0), Begun::Waits(at(90 * SECOND)));
    assert_eq!(count(store, Planned), 3);
    // Each has its turn when that comes, however many have asked since.
    let turn = claim_one(store, 30 * SECOND).expect("its turn");
    assert_eq!(begin(turn, "example.org", 30 * SECOND), Begun::Yes);
    // The domain says that it is too much: until it is over, nothing leaves, and then one after the other.
    store.slow_domain("example.org", at(600 * SECOND)).expect("slowed");
    let two = claim(store, 9, 90 * SECOND);
    let both: Vec<Begun> = two.iter().map(|it| begin(*it, "example.org", 91 * SECOND)).collect();
    assert_eq!(both, [at(600 * SECOND), at(630 * SECOND)].map(Begun::Waits));
}

// Nothing paces these mails; the domain says all the same that it is too much.
#[test]
fn a_domain_that_is_left_alone_is_so_without_a_pace_too() {
    const SECOND: i64 = 1_000_000;
    let bench = with_mails(3);
    let store = &bench.store;
    let begin = |claim: Claim, domain: &str, now: i64| {
        let pace = Pace { domain, a_minute: None };
        store.begin_transmitting(claim, pace, at(now), at(now + LEASE)).expect("an answer")
    };
    let claims = claim(store, 3, 0);
    assert_eq!(begin(claims[0], "example.org", 0), Begun::Yes);
    store.slow_domain("Example.org", at(90 * SECOND)).expect("slowed");
    store.slow_domain("example.org", at(60 * SECOND)).expect("slowed, and not for less");
    assert_eq!(begin(claims[1], "example.org", 1), Begun::Waits(at(90 * SECOND)));
    assert_eq!(begin(claims[2], "example.net", 1), Begun::Yes);
    assert_eq!(claim_one(store, 90 * SECOND - 1), None);
    let turn = claim_one(store, 90 * SECOND).expect("it is over");
    assert_eq!(begin(turn, "example.org", 90 * SECOND), Begun::Yes);
}

#[test]
fn a_person_sends_again_what_is_unknown_and_whoever_had_it_has_no_say() {
    let bench = Bench::new();
    let store = &bench.store;
    for recipient in 1..=3 {
        compose(store, recipient, "2026-W48", &MAIL);
    }
    let claims = claim(store, 3, 0);
    for claim in &claims {
        assert!(begin(store, *claim, 1));
    }
    assert!(end(store, claims[0], Ending::Unknown("the line broke")));
    assert!(end(store, claims[1], Ending::Unknown("the line broke")));
    let resend = |of: &str, who| store.resend_unknown(Some(week(of)), who, at(9)).expect("resent");
    assert_eq!(resend("2026-W47", None), 0);
    assert_eq!(resend("2026-W48", Some(party(2))), 1);
    assert_eq!((resend("2026-W48", None), resend("2026-W48", None)), (1, 0));
    assert_eq!((count(store, Deferred), count(store, Transmitting)), (2, 1));
    assert!(!end(store, claims[0], Ending::Accepted("250 after all")));
    assert_eq!(claim(store, 9, 9).len(), 2);
}

#[test]
fn what_was_held_back_leaves_when_it_is_released_and_old_mails_do_not() {
    const HOUR: i64 = 3_600_000_000;
    let bench = Bench::new();
    let store = &bench.store;
    for (recipient, hours) in [(1, -40), (2, -1), (3, 24), (4, 100)] {
        assert!(plan(store, recipient, "2026-W48", at(hours * HOUR)));
    }
    let run = crate::WeekRunRow {
        week: "2026-W48".to_owned(),
        planned_at: NOW.0,
        mails: 4,
        items: 4,
        overdue: 4,
    };
    assert!(store.keep_week_run(&run, Some("so many")).expect("kept"));
    assert_eq!(claim(store, 9, 99 * HOUR), []);
    assert!(store.release_mails(at(72 * HOUR), 36 * HOUR).expect("released"));
    let claimant = Claimant { by: "a test", at: at(72 * HOUR), lease_until: at(73 * HOUR) };
    let rows = store.claim_reports(9, &claimant).expect("an answer");
    let due: Vec<_> = rows.iter().map(|(_, row)| (row.recipient, row.send_at)).collect();
    let now = at(72 * HOUR);
    assert_eq!(due, [(party(1), at(-40 * HOUR)), (party(2), now), (party(3), now)]);
}

#[test]
fn a_preference_moves_what_is_planned_and_not_due_yet() {
    use gudgeon_life::preference::{Preference, ReportKind};
    let bench = Bench::new();
    let store = &bench.store;
    // NOW is Wednesday 2026-11-18, 11:06:40 UTC, in week 47.
    assert!(plan(store, 1, "2026-W46", NOW) && plan(store, 1, "2026-W47", at(1)));
    assert!(plan(store, 1, "2026-W48", LATER) && plan(store, 2, "2026-W48", at(1)));
    let set = |preference: &Preference| {
        store.set_preference(party(1), ReportKind::Owner, preference, NOW).expect("kept");
        let claimant = Claimant { by: "a test", at: NOW, lease_until: NOW };
        let far = Claimant { at: Instant(i64::MAX / 2), lease_until: NOW, ..claimant };
        let rows = store.claim_reports(9, &far).expect("an answer");
        for (claim, row) in &rows {
            store.end_unsent(*claim, Unsent::Until(row.next_try_at), NOW).expect("an answer");
        }
        let mut due: Vec<_> = rows
            .iter()
            .filter(|(_, row)| row.recipient == party(1))
            .map(|(_, row)| (row.week.to_string(), row.send_at))
            .collect();
        due.sort_unstable();
        due
    };
    let friday = Preference { weekday: chrono::Weekday::Fri, ..Preference::default() };
    // Seconds from then to 07:00 UTC of those days, by datetime of Python.
    let of = |week: &str, seconds: i64| (week.to_owned(), at(seconds * 1_000_000));
    assert_eq!(set(&friday), [of("2026-W46", 0), of("2026-W47", 158_000), of("2026-W48", 762_800)]);
    // Tuesday has passed this week: that report leaves now, and is not lost.
    let tuesday = Preference { weekday: chrono::Weekday::Tue, ..friday };
    assert_eq!(set(&tuesday), [of("2026-W46", 0), of("2026-W47", 0), of("2026-W48", 503_600)]);
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
