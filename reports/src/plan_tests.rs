//! A week from what is on record to mails, through a real database: once each, however often it is planned.

use super::*;
use crate::deliver::DeliverySummary;
use crate::fixtures::{AS_OF, on, uid};
use crate::place::{Each, HOUR, NOW, Place, accepted, receipts};
use gudgeon_life::fact::{Content, EngineRegistered, PartyRegistered};
use gudgeon_life::hours::Basis;
use gudgeon_life::ids::{EngineId, ItemId, PartyId, Uid};
use gudgeon_life::preference::{Mode, Preference};
use gudgeon_store::{Instant, ReportState, Texts};
use std::cell::RefCell;

#[test]
fn all_of_these_pass_on_postgres_too() {
    gudgeon_databases::repeat_on_postgres();
}

fn set(place: &Place, owner: u8, preference: &Preference) {
    let party = PartyId(uid(owner));
    let kept = place.store.set_preference(party, ReportKind::Owner, preference, place.now());
    assert!(kept.expect("kept"));
}

fn mode(mode: Mode) -> Preference {
    Preference { mode, ..Preference::default() }
}

// Made 2020-01-01, five years: due 2025-01-01, which is 693 days before 2026-11-25. Made 2025: not due; week 48 of 2026
// is not every fourth week's: its Monday is day 739,943 by the calendar of `date.toordinal` of Python, in week 105,706.
#[test]
fn everybody_with_something_to_read_gets_one_mail() {
    let place = Place::new();
    place.owner(1, Some("one@example.org"), "2020-01-01");
    place.owner(2, None, "2020-01-01");
    place.owner(3, Some("not an address"), "2020-01-01");
    place.owner(4, Some("four@example.org"), "2025-01-01");
    let (first, last) = (Some(NOW), Some(NOW));
    let planned =
        WeekSummary { recipients: 4, planned: 4, mails: 3, first, last, ..WeekSummary::default() };
    assert_eq!(place.plan_as("2026-W48", true), planned);
    let again = WeekSummary { planned: 0, already: 4, ..planned };
    assert_eq!(place.plan_as("2026-W48", true), again);

    let folder = place.database.folder().join("mails");
    let carrier = crate::hand_over::Folder::open(&folder).expect("a folder");
    let delivered = place.deliver(&carrier);
    let whys: Vec<_> = delivered.failed.iter().map(|it| (it.recipient, it.why.as_str())).collect();
    let (two, three) = (PartyId(uid(2)), PartyId(uid(3)));
    assert_eq!(whys, [(two, "no address on record"), (three, "not a mail address")]);
    assert_eq!(delivered.skipped, 1);
    let expected = folder.join("2026-W48-invented-owner-1-00000001.eml");
    assert_eq!(delivered.accepted, [expected.display().to_string()]);
    let mail = std::fs::read_to_string(&expected).expect("a mail");
    assert!(mail.contains("Subject: 1 overdue: engine 0042-1 (2026-W48)\r\n"), "{mail}");
    assert!(mail.contains("To: \"Invented Owner 1\" <one@example.org>\r\n"), "{mail}");
    assert!(mail.contains("693 days past due."), "{mail}");
    assert_eq!(std::fs::read_dir(&folder).expect("a folder").count(), 1);
    let quiet = place.in_state(ReportState::Skipped);
    assert_eq!(quiet[0].reason.as_deref(), Some("nothing is due on record"));

    assert_eq!(place.deliver(&carrier), DeliverySummary::default());
    assert_eq!(place.plan_as("2026-W48", true).planned, 0);
}

// An owner without an address is told of; one whose address was erased is told nothing, and that is right.
#[test]
fn an_erased_owner_is_counted_as_erased() {
    let place = Place::with_owners(1);
    place.erase(1);
    let nobody = WeekSummary { recipients: 1, erased: 1, ..WeekSummary::default() };
    assert_eq!(place.plan("2026-W48"), nobody);
}

#[test]
fn more_owners_than_one_chunk_are_all_planned() {
    let place = Place::new();
    let many = usize::try_from(CHUNK).expect("small") + 1;
    for at in 0..many {
        let mut bytes = [7; 16];
        bytes[14..].copy_from_slice(&u16::try_from(at).expect("small").to_be_bytes());
        let party = PartyId(Uid::from_bytes(bytes));
        let content = Content::PartyRegistered(PartyRegistered { party, role: PartyRole::Owner });
        let entry = gudgeon_life::fact::Entry { on: on(AS_OF), order_in_day: 0, content };
        let fact = gudgeon_life::fact::Fact { id: gudgeon_life::ids::FactId(party.0), entry };
        let post = gudgeon_store::Post {
            fact,
            texts: Texts::default(),
            by: None,
            recorded_at: None,
            received_at: NOW,
        };
        place.store.append(&post, &crate::place::OneType).expect("appended");
    }
    let summary = place.plan("2026-W49");
    assert_eq!((summary.recipients, summary.planned), (many, many));
}

#[test]
fn a_week_is_anchored_before_its_mails_and_the_mails_say_so() {
    let place = Place::with_owners(1);
    assert_eq!(place.store.last_anchor().expect("readable"), None);
    place.plan_as("2026-W48", true);
    let anchor = place.store.last_anchor().expect("readable").expect("the week was anchored");
    assert_eq!((anchor.seq, anchor.week.as_str()), (1, "2026-W48"));
    place.deliver(&Each(accepted));
    let mails = place.store.reports_of(PartyId(uid(1)), 0, 10).expect("readable");
    let text = mails[0].text.split_whitespace().collect::<Vec<_>>().join(" ");
    let head = place.store.facts_of(EngineId(uid(101)).into()).expect("readable");
    let head = head.last().expect("it is registered");
    let words = format!(
        "Records kept: engine {} ({}), anchor 1 ({}).",
        head.seq,
        gudgeon_life::version::witness(head.hash),
        gudgeon_life::version::witness(anchor.hash)
    );
    assert!(text.contains(&words), "{words}: {text}");
    place.plan_as("2026-W48", true);
    assert_eq!(place.store.last_anchor().expect("readable"), Some(anchor), "nothing moved");
}

// Monday 2026-11-30 07:00 UTC is 118 hours after NOW; in Auckland, 13 hours ahead, Tuesday 06:30 is 17:30 UTC on
// Monday, 128.5 hours after NOW.
#[test]
fn each_report_leaves_at_the_hour_of_its_recipient() {
    let place = Place::with_owners(2);
    let zone = Zone::parse("Pacific/Auckland").ok();
    let at = chrono::NaiveTime::from_hms_opt(6, 30, 0).expect("a time");
    let weekday = chrono::Weekday::Tue;
    set(&place, 2, &Preference { weekday, at, zone, ..Preference::default() });
    let summary = place.plan("2026-W49");
    let hour = |tenths: i64| Instant(NOW.0 + tenths * HOUR / 10);
    assert_eq!((summary.first, summary.last), (Some(hour(1180)), Some(hour(1285))));
    let days = RefCell::new(Vec::new());
    let carrier = Each(|report: &gudgeon_store::ReportRow| {
        days.borrow_mut().push(report.as_of.to_string());
        accepted(report)
    });
    for (tenths, expected) in [(1179, vec![]), (1180, receipts([1])), (1285, receipts([2]))] {
        place.clock.set(hour(tenths).0);
        assert_eq!(place.deliver(&carrier).accepted, expected, "{tenths}");
    }
    // The day is the reader's own: it is Tuesday in Auckland already.
    assert_eq!(days.into_inner(), ["2026-11-30", "2026-12-01"]);
}

// Owners 1 to 3 have something overdue, 4 to 6 have nothing due, in each of the three modes.
#[test]
fn modes_say_when_there_is_a_mail() {
    let place = Place::with_owners(3);
    for owner in 4..=6 {
        place.owner(owner, Some("quiet@example.org"), "2025-01-01");
    }
    let modes = [Mode::EveryWeek, Mode::OverdueOnly, Mode::Off];
    for (owner, of) in (1..).zip(modes) {
        set(&place, owner, &mode(of));
        set(&place, owner + 3, &mode(of));
    }
    place.plan_as("2026-W48", true);
    assert_eq!(place.deliver(&Each(accepted)).accepted, receipts([1, 2, 4]));
    let why: Vec<_> = place.in_state(ReportState::Skipped);
    let why: Vec<_> = why.iter().map(|it| it.reason.as_deref().expect("a reason")).collect();
    assert_eq!(why, ["mails are switched off", "nothing is overdue", "mails are switched off"]);
    let short = place.store.reports_of(PartyId(uid(4)), 0, 1).expect("readable").remove(0);
    assert_eq!(short.subject, "Nothing due on record (2026-W48)");
    assert!(short.text.contains("engine 0042-4"), "{}", short.text);
}

// Of four weeks in a row exactly one says that nothing is due, through the turn of the year.
#[test]
fn every_fourth_week_a_short_mail_says_that_nothing_is_due() {
    let place = Place::new();
    place.owner(1, Some("one@example.org"), "2025-01-01");
    let mut mails = Vec::new();
    let mut week = ReportWeek::parse("2026-W47").expect("a week");
    for _ in 0..12 {
        place.plan_as(&week.to_string(), true);
        mails.push(place.deliver(&Each(accepted)).accepted.len());
        place.wait(7 * 24 * HOUR);
        week = week.next();
    }
    let at = mails.iter().position(|count| *count == 1).expect("one of four");
    let expected: Vec<usize> = (0..12).map(|week| usize::from(week % 4 == at % 4)).collect();
    assert_eq!(mails, expected);
}

#[test]
fn what_is_overdue_stays_on_top_ten_weeks_running() {
    let place = Place::with_owners(1);
    let subjects = RefCell::new(Vec::new());
    let carrier = Each(|report: &gudgeon_store::ReportRow| {
        subjects.borrow_mut().push(report.subject.clone());
        accepted(report)
    });
    let mut week = ReportWeek::parse("2026-W49").expect("a week");
    let mut expected = Vec::new();
    for _ in 0..10 {
        place.clock.set(week.monday().and_hms_opt(7, 0, 0).unwrap().and_utc().timestamp_micros());
        place.plan(&week.to_string());
        assert_eq!(place.deliver(&carrier).accepted.len(), 1, "{week}");
        expected.push(format!("1 overdue: engine 0042-1 ({week})"));
        week = week.next();
    }
    assert_eq!(week.to_string(), "2027-W06", "2026 has a week 53");
    assert_eq!(subjects.into_inner(), expected);
}

/// What makes an owner's engine not due: it was made much later than was told.
fn done(place: &Place, owner: u8) {
    use gudgeon_life::fact::{Amendment, Entry};
    let registered = Content::EngineRegistered(EngineRegistered {
        engine: EngineId(uid(100 + owner)),
        engine_type: ItemId::new("invented-twin").expect("a slug"),
        serial: format!("0042-{owner}"),
        basis: Basis::EngineRun,
        tsn: Some(crate::fixtures::h("10")),
        made_on: Some(on("2026-11-01")),
        overhauled: None,
    });
    let entry = Entry { on: on("2026-01-01"), order_in_day: 0, content: registered };
    let root = gudgeon_life::ids::FactId(uid(100 + owner));
    let amendment = Amendment {
        stream: EngineId(uid(100 + owner)).into(),
        root,
        supersedes: root,
        replacement: Some(Box::new(entry)),
    };
    place.post(150 + owner, AS_OF, Content::Amendment(amendment), &[]);
}

#[test]
fn what_was_done_between_planning_and_sending_is_not_asked_for() {
    let place = Place::with_owners(2);
    place.plan_as("2026-W48", true);
    done(&place, 1);
    assert_eq!(place.deliver(&Each(accepted)).accepted, receipts([2]));
    let skipped = place.in_state(ReportState::Skipped);
    assert_eq!(skipped[0].recipient, PartyId(uid(1)));
}

// 10 mails last week are allowed 25 this week, by 1.5 times and 10 more.
#[test]
fn a_week_that_would_surprise_is_held_until_a_person_lets_it_go() {
    let place = Place::with_owners(10);
    assert_eq!(place.plan_as("2026-W48", true).held, None, "the first week surprises nobody");
    assert_eq!(place.deliver(&Each(accepted)).accepted.len(), 10);
    for owner in 11..=26 {
        place.owner(owner, Some("more@example.org"), "2020-01-01");
    }
    place.wait(7 * 24 * HOUR);
    let held = place.plan_as("2026-W49", true).held.expect("26 are too many");
    assert_eq!(held, "2026-W49 would be 26 mails with something due, after 10 in 2026-W48");
    assert_eq!(place.deliver(&Each(accepted)).accepted.len(), 0);
    assert_eq!(place.plan_as("2026-W49", true).held, None, "it is judged once");
    place.wait(3 * 24 * HOUR);
    assert!(place.store.release_mails(place.now(), 36 * HOUR).expect("released"));
    assert_eq!(place.deliver(&Each(accepted)).accepted.len(), 26, "the wait was ours");
}

#[test]
fn surprises_are_many_more_mails_or_a_fifth_of_all_items_newly_overdue() {
    let run = |mails, items, overdue| WeekRunRow {
        week: "2026-W48".to_owned(),
        planned_at: 0,
        mails,
        items,
        overdue,
    };
    let surprising = |before: &WeekRunRow, now: &WeekRunRow| surprise(before, now).is_some();
    let before = run(100, 1000, 50);
    assert!(!surprising(&before, &run(160, 1000, 50)));
    assert!(surprising(&before, &run(161, 1000, 50)));
    assert!(!surprising(&before, &run(100, 1000, 250)));
    assert!(surprising(&before, &run(100, 1000, 251)));
    assert!(!surprising(&run(0, 20, 0), &run(10, 20, 10)), "a small fleet surprises nobody");
    assert!(!surprising(&before, &run(1, 1000, 1)), "fewer never does");
}
