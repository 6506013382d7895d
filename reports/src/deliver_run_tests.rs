//! Deliveries that break off, are repeated and meet one another, through a real database: each mail is
//! handed over once, or told of as unknown; what is not accepted is tried again, or given up and told of.

use super::*;
use crate::fixtures::{AS_OF, on, uid};
use crate::place::{self, Each, HOUR, NOW, OneType, Place, accepted, receipts};
use crate::render::Renderer;
use gudgeon_life::fact::Content;
use gudgeon_store::{AttemptRow, Outcome, Purpose, Store};
use std::cell::{Cell, RefCell};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Mutex;

/// A place whose owners' reports are due.
fn due(owners: u8) -> Place {
    let place = Place::with_owners(owners);
    place.plan_as("2026-W48", true);
    place
}

fn unknown(summary: &DeliverySummary) -> Vec<String> {
    summary.unknown.iter().map(|failed| failed.recipient.to_string()).collect()
}

fn is(report: &ReportRow, number: u8) -> bool {
    report.recipient == PartyId(uid(number))
}

fn reply(code: u16, enhanced: Option<&str>) -> Reply {
    let enhanced = enhanced.map(str::to_owned);
    Reply { code: Some(code), enhanced, words: "as o1@example.org knows".to_owned() }
}

fn attempts(place: &Place, owner: u8) -> Vec<AttemptRow> {
    let mails = place.store.reports_of(PartyId(uid(owner)), 0, 1).expect("readable");
    place.store.attempts(mails.first().expect("a mail").key).expect("readable")
}

#[test]
fn two_deliveries_at_once_hand_each_mail_over_once() {
    const MAILS: u8 = 45;
    let place = due(MAILS);
    let other = Store::open(place.database.url(), false).expect("it opens twice");
    let renderer = Renderer::new().expect("templates");
    let handed_over = Mutex::new(Vec::new());
    let carrier = Each(|report: &ReportRow| {
        handed_over.lock().expect("no panic").push(report.recipient.to_string());
        accepted(report)
    });
    let told: Vec<String> = std::thread::scope(|scope| {
        let both = [&place.store, &other].map(|store| {
            let (carrier, renderer) = (&carrier, &renderer);
            scope.spawn(move || {
                let composer = Composer { store, programmes: &OneType, renderer, links: None };
                let run = place::deliver(composer, Rules::DEFAULT, carrier, &|| NOW);
                run.expect("delivered").accepted
            })
        });
        both.into_iter().flat_map(|thread| thread.join().expect("no panic")).collect()
    });
    let mut handed_over = handed_over.into_inner().expect("no panic");
    handed_over.sort_unstable();
    assert_eq!((handed_over, told.len()), (receipts(1..=MAILS), usize::from(MAILS)));
}

// Text and page lead to the pages of this owner, and of nobody else.
#[test]
fn each_mail_leads_to_its_owners_pages() {
    let place = due(2);
    let mails = RefCell::new(Vec::new());
    place.deliver(&Each(|report: &ReportRow| {
        mails.borrow_mut().push(report.clone());
        accepted(report)
    }));
    let mails = mails.into_inner();
    assert_eq!(mails.len(), 2);
    for mail in &mails {
        for content in [&mail.text, &mail.html] {
            for (path, purpose) in [
                ("reading", Purpose::Reading),
                ("mails", Purpose::Preferences),
                ("stop", Purpose::Stop),
            ] {
                let address = format!("{}/{path}/", place::BASE_URL);
                let (_, rest) = content.split_once(&address).expect(path);
                let ends = |c: char| !c.is_ascii_alphanumeric() && c != '-' && c != '_';
                let sealed = rest.split(ends).next().expect("a link");
                let opened = place.links.open(purpose, sealed, on(AS_OF)).expect(path);
                assert_eq!(opened.party, mail.recipient);
            }
        }
    }
}

#[test]
fn what_a_killed_process_had_claimed_is_delivered_later_and_what_it_handed_over_never_again() {
    let place = due(3);
    // Killed while it hands the second mail over: it says nothing to the database any more.
    let killed = Each(|report: &ReportRow| {
        assert!(!is(report, 2), "killed on purpose");
        accepted(report)
    });
    assert!(catch_unwind(AssertUnwindSafe(|| place.deliver(&killed))).is_err());

    place.wait(LEASE_MICROS - 1);
    assert_eq!(place.deliver(&Each(accepted)), DeliverySummary::default(), "it might still live");
    place.wait(1);
    let taken_over = place.deliver(&Each(accepted));
    assert_eq!(taken_over.accepted, receipts([3]));
    assert_eq!(unknown(&taken_over), receipts([2]));
    place.wait(100 * LEASE_MICROS);
    let again = place.deliver(&Each(accepted));
    assert_eq!((unknown(&again), again.accepted), (receipts([2]), Vec::new()));
    let outcomes: Vec<Outcome> = attempts(&place, 2).iter().map(|it| it.outcome).collect();
    assert_eq!(outcomes, [Outcome::Unknown]);

    // A person says that it is to be sent again: it leaves under the same Message-ID.
    let before = place.store.reports_of(PartyId(uid(2)), 0, 1).expect("readable").remove(0);
    assert_eq!(place.store.resend_unknown(None, None, place.now()).expect("resent"), 1);
    let ids = RefCell::new(Vec::new());
    let carrier = Each(|report: &ReportRow| {
        ids.borrow_mut().push(report.message_id.clone());
        accepted(report)
    });
    assert_eq!(place.deliver(&carrier).accepted, receipts([2]));
    assert_eq!(ids.into_inner(), [before.message_id]);
}

#[test]
fn a_carrier_that_takes_nothing_leaves_everything_to_be_tried_again() {
    let place = due(3);
    let full = Each(|report: &ReportRow| {
        if is(report, 1) {
            return accepted(report);
        }
        HandedOver::Deferred(Reply::without_code("it is full"))
    });
    let error = place.try_deliver(&full).expect_err("the second is not taken");
    assert_eq!(error.to_string(), "it is full");
    // It was not for the mails that nothing was taken: both are free at once.
    assert_eq!(place.deliver(&Each(accepted)).accepted, receipts([2, 3]));
    assert_eq!(attempts(&place, 2).len(), 2);
}

#[test]
fn what_is_put_off_is_tried_again_until_two_days_are_over() {
    let place = due(2);
    let busy = Each(|report: &ReportRow| {
        if is(report, 1) {
            return HandedOver::Deferred(reply(451, Some("4.3.0")));
        }
        accepted(report)
    });
    let mut tried = Vec::new();
    let mut failed = Vec::new();
    for _ in 0..50 * 60 {
        let summary = place.deliver(&busy);
        if summary.deferred + summary.failed.len() > 0 {
            tried.push((place.now().0 - NOW.0) / 60_000_000);
        }
        failed.extend(summary.failed);
        place.wait(60_000_000);
    }
    // The first waits are 5, 10, 20 and 40 minutes, each within a fifth and a minute of this clock.
    let waits: Vec<i64> = tried.windows(2).map(|pair| pair[1] - pair[0]).collect();
    for (wait, expected) in waits.iter().zip([5, 10, 20, 40]) {
        assert!((expected * 4 / 5..=expected * 6 / 5 + 1).contains(wait), "{waits:?}");
    }
    let why: Vec<&str> = failed.iter().map(|it| it.why.as_str()).collect();
    assert_eq!(why, ["it was not accepted for two days"]);
    let attempts = attempts(&place, 1);
    assert_eq!(attempts.len(), tried.len());
    assert!(attempts.iter().all(|it| it.code == Some(451) && it.outcome == Outcome::Deferred));
    assert_eq!(place.in_state(ReportState::Failed).len(), 1);
}

#[test]
fn what_is_refused_is_given_up_at_once_and_told_by_its_code_alone() {
    let place = due(2);
    let refusing = Each(|report: &ReportRow| {
        if is(report, 1) {
            return HandedOver::Refused(reply(550, Some("5.1.1")));
        }
        accepted(report)
    });
    let summary = place.deliver(&refusing);
    assert_eq!(summary.accepted, receipts([2]));
    let why: Vec<&str> = summary.failed.iter().map(|it| it.why.as_str()).collect();
    assert_eq!(why, ["it was refused with 550 5.1.1"]);
    place.wait(100 * HOUR);
    assert_eq!(place.deliver(&Each(accepted)), DeliverySummary::default());
}

#[test]
fn a_domain_that_is_busy_is_left_alone_as_a_whole() {
    let place = due(3);
    let rules = Rules { domain_a_minute: Some(60), ..Rules::DEFAULT };
    let asked = Cell::new(0);
    let busy = Each(|_: &ReportRow| {
        asked.set(asked.get() + 1);
        HandedOver::Deferred(reply(421, None))
    });
    let deliver = |carrier: &dyn Carrier| {
        place::deliver(place.composer(), rules, carrier, &|| place.now()).expect("delivered")
    };
    let summary = deliver(&busy);
    assert_eq!((asked.get(), summary.deferred, summary.paced), (1, 1, 2));
    place.wait(14 * 60_000_000);
    assert_eq!(deliver(&Each(accepted)).accepted.len(), 0, "a quarter of an hour is not over");
    place.wait(2 * 60_000_000);
    let accepted_now = deliver(&Each(accepted)).accepted.len();
    place.wait(HOUR);
    assert_eq!(accepted_now + deliver(&Each(accepted)).accepted.len(), 3);
}

#[test]
fn a_mail_of_which_nobody_can_tell_keeps_no_other_back() {
    let place = due(3);
    let vague = Each(|report: &ReportRow| {
        if is(report, 1) {
            HandedOver::Unknown("the line broke".to_owned())
        } else {
            accepted(report)
        }
    });
    let summary = place.deliver(&vague);
    assert_eq!((unknown(&summary), summary.accepted), (receipts([1]), receipts([2, 3])));
}

// Each hand-over takes so long that the lease of those claimed with it ends meanwhile.
#[test]
fn a_process_slower_than_its_lease_hands_over_nothing_of_others() {
    let place = due(2);
    let other = RefCell::new(DeliverySummary::default());
    let slow = Each(|report: &ReportRow| {
        place.wait(LEASE_MICROS);
        *other.borrow_mut() = place.deliver(&Each(accepted));
        accepted(report)
    });
    let summary = place.deliver(&slow);
    // The other took the second over and gave the first up, which then turned out to have been accepted.
    assert_eq!(other.borrow().accepted, receipts([2]));
    assert_eq!(unknown(&other.borrow()), receipts([1]));
    assert_eq!((summary.accepted, summary.unknown), (receipts([1]), Vec::new()));
}

#[test]
fn thirty_six_hours_after_its_hour_a_report_is_skipped() {
    for (hours, sent) in [(36, 1), (37, 0)] {
        let place = due(1);
        place.wait(hours * HOUR);
        let summary = place.deliver(&Each(accepted));
        assert_eq!((summary.accepted.len(), summary.skipped), (sent, 1 - sent));
        let skipped = place.in_state(ReportState::Skipped);
        assert!(skipped.iter().all(|it| it.reason.as_deref() == Some("too late")));
    }
}

// What it was composed from has changed, so the second attempt says what is so now; else the words are the same.
#[test]
fn a_mail_is_composed_anew_before_a_retry_when_what_it_tells_has_changed() {
    for changed in [false, true] {
        let place = due(1);
        let texts = RefCell::new(Vec::new());
        let busy = Each(|report: &ReportRow| {
            texts.borrow_mut().push((report.text.clone(), report.composed_at));
            HandedOver::Deferred(reply(451, None))
        });
        assert_eq!(place.deliver(&busy).deferred, 1);
        if changed {
            let aircraft = gudgeon_life::ids::AircraftId(uid(60));
            let registered = gudgeon_life::fact::AircraftRegistered {
                aircraft,
                mark: "XX-777".to_owned(),
                basis: gudgeon_life::hours::Basis::EngineRun,
                flown_by: gudgeon_life::sure::rate::Owner::Unknown,
                hemisphere: gudgeon_life::sure::season::Hemisphere::Unknown,
            };
            let installed = gudgeon_life::fact::EngineInstalled {
                engine: gudgeon_life::ids::EngineId(uid(101)),
                aircraft,
                meter: crate::fixtures::h("5"),
            };
            place.post(60, "2026-02-01", Content::AircraftRegistered(registered), &[]);
            place.post(61, "2026-02-01", Content::EngineInstalled(installed), &[]);
        }
        place.wait(HOUR);
        assert_eq!(place.deliver(&busy).deferred, 1);
        let texts = texts.into_inner();
        assert_eq!(texts[0] != texts[1], changed, "{texts:?}");
        assert_eq!(texts[1].0.contains("XX-777"), changed);
        assert_eq!(texts[1].1, if changed { place.now() } else { NOW });
    }
}
