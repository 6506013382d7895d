//! Deliveries that break off, are repeated and meet one another, through a real database: each mail is
//! handed over once, or told of as unknown.

use super::*;
use crate::fixtures::{AS_OF, on, uid};
use crate::hand_over::Reply;
use gudgeon_databases::Database;
use gudgeon_store::NewReport;
use std::cell::{Cell, RefCell};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Mutex;

const NOW: Instant = Instant(1_795_597_200_000_000);

/// A database with this many queued mails.
fn with_mails(count: u8) -> (Database, Store) {
    let database = Database::fresh(|url| {
        Store::open(url, true).expect("a database").migrate().expect("tables");
    });
    let store = Store::open(database.url(), false).expect("a database");
    for number in 1..=count {
        let recipient = PartyId(uid(number));
        let queued = store.queue_report(&NewReport {
            recipient,
            kind: "owner",
            week: "2026-W48",
            as_of: on(AS_OF),
            message_id: "<1@example.org>",
            to_name: "An Owner",
            to_address: "owner@example.org",
            subject: "1 overdue",
            text: "1 overdue\n",
            html: "<p>1 overdue</p>\n",
            composed_at: NOW,
        });
        assert!(queued.expect("queued"));
    }
    (database, store)
}

fn run(
    store: &Store,
    carrier: &dyn Carrier,
    now: &dyn Fn() -> Instant,
) -> Result<DeliverySummary, DeliveryError> {
    let sender = Sender::new("reports@example.org", "shop@example.org").expect("addresses");
    Delivery { store, sender: &sender, by: "a test", clock: now }.run(carrier)
}

/// A carrier of a test: what it does with each mail, told by the recipient's id.
struct Each<F>(F);

impl<F: Fn(PartyId) -> HandedOver> Carrier for Each<F> {
    fn hand_over(&self, report: &ReportRow, _: &[u8]) -> HandedOver {
        (self.0)(report.recipient)
    }
}

fn accepted(party: PartyId) -> HandedOver {
    HandedOver::Accepted(party.to_string())
}

/// Receipts of these mails, as [`accepted`] writes them.
fn receipts(numbers: impl IntoIterator<Item = u8>) -> Vec<String> {
    numbers.into_iter().map(|number| PartyId(uid(number)).to_string()).collect()
}

fn unknown(summary: &DeliverySummary) -> Vec<String> {
    summary.unknown.iter().map(|failed| failed.recipient.to_string()).collect()
}

#[test]
fn two_deliveries_at_once_hand_each_mail_over_once() {
    const MAILS: u8 = 90;
    let (database, store) = with_mails(MAILS);
    let other = Store::open(database.url(), false).expect("it opens twice");
    let handed_over = Mutex::new(Vec::new());
    let carrier = Each(|party: PartyId| {
        handed_over.lock().expect("no panic").push(party.to_string());
        accepted(party)
    });
    let told: Vec<String> = std::thread::scope(|scope| {
        let both = [&store, &other].map(|store| {
            let carrier = &carrier;
            scope.spawn(move || run(store, carrier, &|| NOW).expect("delivered").accepted)
        });
        both.into_iter().flat_map(|thread| thread.join().expect("no panic")).collect()
    });
    let mut handed_over = handed_over.into_inner().expect("no panic");
    handed_over.sort_unstable();
    assert_eq!((handed_over, told.len()), (receipts(1..=MAILS), usize::from(MAILS)));
}

#[test]
fn what_a_killed_process_had_claimed_is_delivered_later_and_what_it_handed_over_never_again() {
    let (_database, store) = with_mails(3);
    // Killed while it hands the second mail over: it says nothing to the database any more.
    let killed =
        Each(|party| if party == PartyId(uid(2)) { panic!("on purpose") } else { accepted(party) });
    let died = catch_unwind(AssertUnwindSafe(|| run(&store, &killed, &|| NOW)));
    assert!(died.is_err());

    let now = Cell::new(NOW.0 + LEASE_MICROS - 1);
    let later = || run(&store, &Each(accepted), &|| Instant(now.get())).expect("delivered");
    assert_eq!(later(), DeliverySummary::default(), "it might still live");
    now.set(NOW.0 + LEASE_MICROS);
    let taken_over = later();
    assert_eq!(taken_over.accepted, receipts([3]));
    assert_eq!(unknown(&taken_over), receipts([2]));
    now.set(NOW.0 + 100 * LEASE_MICROS);
    let again = later();
    assert_eq!((unknown(&again), again.accepted), (receipts([2]), Vec::new()));
}

#[test]
fn a_carrier_that_takes_nothing_leaves_everything_queued() {
    let (_database, store) = with_mails(3);
    let full = Each(|party| match party {
        it if it == PartyId(uid(1)) => accepted(it),
        _ => HandedOver::Deferred(Reply::without_code("it is full")),
    });
    let error = run(&store, &full, &|| NOW).expect_err("the second is not taken");
    assert_eq!(error.to_string(), "it is full");
    let again = run(&store, &Each(accepted), &|| NOW).expect("delivered");
    assert_eq!((again.accepted, again.unknown), (receipts([2, 3]), Vec::new()));
}

#[test]
fn a_mail_of_which_nobody_can_tell_keeps_no_other_back() {
    let (_database, store) = with_mails(3);
    let vague = Each(|party| match party {
        it if it == PartyId(uid(1)) => HandedOver::Unknown("the line broke".to_owned()),
        it => accepted(it),
    });
    let summary = run(&store, &vague, &|| NOW).expect("delivered");
    assert_eq!((unknown(&summary), summary.accepted), (receipts([1]), receipts([2, 3])));
}

// Each hand-over takes so long that the lease of those claimed with it ends meanwhile.
#[test]
fn a_process_slower_than_its_lease_hands_over_nothing_of_others() {
    let (_database, store) = with_mails(2);
    let now = Cell::new(NOW.0);
    let other = RefCell::new(DeliverySummary::default());
    let slow = Each(|party| {
        now.set(now.get() + LEASE_MICROS);
        let meanwhile = run(&store, &Each(accepted), &|| Instant(now.get())).expect("delivered");
        *other.borrow_mut() = meanwhile;
        accepted(party)
    });
    let summary = run(&store, &slow, &|| Instant(now.get())).expect("delivered");
    // The other took the second over and gave the first up, which then turned out to have been accepted.
    assert_eq!(other.borrow().accepted, receipts([2]));
    assert_eq!(unknown(&other.borrow()), receipts([1]));
    assert_eq!((summary.accepted, summary.unknown), (receipts([1]), Vec::new()));
}
