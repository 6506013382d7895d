//! Reports planned and composed, weeks, and keys.

use super::sample::{Bench, LATER, NOW, claimed, day, party};
use super::transfers::backup;
use crate::schema::report;
use crate::{
    Claimant, Instant, NewKey, NewMail, NewPlan, ReportState, Role, Store, Unsent, WeekRunRow,
};
use diesel::prelude::*;
use gudgeon_life::preference::ReportKind;
use gudgeon_life::week::ReportWeek;
use gudgeon_life::zone::Zone;

pub(super) const MAIL: NewMail<'static> = NewMail {
    as_of: chrono::NaiveDate::from_ymd_opt(2026, 11, 25).expect("a day"),
    message_id: "<1@example.invalid>",
    to_name: "A. Invented",
    to_address: "a@example.invalid",
    subject: "Week 48",
    text: "text",
    html: "<p>text</p>",
    composed_from: [7; 32],
    composed_at: NOW,
};

pub(super) fn week(text: &str) -> ReportWeek {
    ReportWeek::parse(text).expect("a week")
}

/// Plans the owner's report of a week, to leave at an instant; false when it was planned before.
pub(super) fn plan(store: &Store, recipient: u8, of: &str, send_at: Instant) -> bool {
    let plan = NewPlan { recipient: party(recipient), zone: Zone::UTC, send_at };
    let planned = store.plan_reports(ReportKind::Owner, week(of), None, &[plan]);
    planned.expect("an answer") == 1
}

/// Plans and composes the owner's report of a week, which leaves now.
pub(super) fn compose(store: &Store, recipient: u8, of: &str, mail: &NewMail<'_>) {
    assert!(plan(store, recipient, of, NOW));
    let claimant = Claimant { by: "whoever composes", at: NOW, lease_until: LATER };
    for (claim, row) in store.claim_reports(1000, &claimant).expect("an answer") {
        if (row.recipient, row.week) == (party(recipient), week(of)) {
            assert_eq!(store.keep_mails(&[(claim, *mail)]).expect("kept").len(), 1);
        }
        assert!(store.end_unsent(claim, Unsent::Until(NOW), NOW).expect("put back"));
    }
}

/// How many reports of any week are in a state.
pub(super) fn count(store: &Store, state: ReportState) -> usize {
    let query = crate::OutboxQuery { week: None, state: Some(state), after_key: 0, limit: 1000 };
    store.not_accepted(&query).expect("readable").len()
}

#[test]
fn one_report_per_recipient_kind_and_week() {
    let bench = Bench::new();
    let store = &bench.store;
    assert!(plan(store, 70, "2026-W48", NOW) && !plan(store, 70, "2026-W48", LATER));
    assert!(plan(store, 71, "2026-W48", NOW) && plan(store, 70, "2026-W49", LATER));
    let other = NewPlan { recipient: party(70), zone: Zone::UTC, send_at: NOW };
    let shops = store.plan_reports(ReportKind::Shop, week("2026-W48"), None, &[other, other]);
    assert_eq!(shops.expect("an answer"), 1, "each kind for itself");
    let counts = store.report_counts(week("2026-W48")).expect("readable");
    assert_eq!(counts, [(ReportState::Planned, 3)].into());
    assert_eq!(store.reports_waiting().expect("readable"), 4);
    assert_eq!(store.next_report_at().expect("readable"), Some(NOW));
}

#[test]
fn a_mail_is_kept_as_composed_and_its_words_go_when_it_is_old() {
    let bench = Bench::new();
    let store = &bench.store;
    compose(store, 70, "2026-W48", &MAIL);
    let kept = store.reports_of(party(70), 0, 9).expect("readable");
    let [mail] = kept.as_slice() else { panic!("one mail: {kept:?}") };
    assert_eq!((mail.as_of, mail.subject.as_str()), (day("2026-11-25"), "Week 48"));
    assert_eq!((mail.text.as_str(), mail.composed_at), ("text", NOW));
    let after = Instant(NOW.0 + 1);
    assert_eq!(store.forget_mails(after).expect("an answer"), 0, "it has not left yet");
    super::sample::deliver_first(store);
    assert_eq!(store.forget_mails(NOW).expect("an answer"), 0, "it is not that old");
    assert_eq!(store.forget_mails(after).expect("an answer"), 1);
    assert_eq!(store.forget_mails(after).expect("an answer"), 0, "once");
    let left = store.reports_of(party(70), 0, 9).expect("readable").remove(0);
    assert_eq!((left.text.as_str(), left.to_address.as_str()), ("", ""));
    assert_eq!((left.digest, left.state), (mail.digest, ReportState::Accepted));
}

// Neither every other mail nor a backup may hang on the words of one.
#[test]
fn a_mail_whose_words_are_damaged_is_composed_anew() {
    let bench = Bench::new();
    let store = &bench.store;
    compose(store, 70, "2026-W48", &MAIL);
    let damage = |conn: &mut _| {
        let damaged = report::body_html.eq(Some(b"damaged".to_vec()));
        Ok(diesel::update(report::table).set(damaged).execute(conn)?)
    };
    assert_eq!(store.write(damage).expect("damaged"), 1);
    assert!(store.reports_of(party(70), 0, 9).is_err());
    let file = String::from_utf8(backup(store)).expect("text");
    assert!(file.contains(r#""body_text":"text","body_html":"","#), "{file}");
    let (claim, row) = claimed(store, 9).remove(0);
    assert_eq!((row.mail, row.composed_from), (None, Some([7; 32])));
    assert_eq!(store.keep_mails(&[(claim, MAIL)]).expect("kept")[0].1.html, MAIL.html);
}

#[test]
fn a_week_is_judged_once_and_compared_with_the_last_before_it() {
    let bench = Bench::new();
    let store = &bench.store;
    let run = |week: &str, mails| WeekRunRow {
        week: week.to_owned(),
        planned_at: NOW.0,
        mails,
        items: 100,
        overdue: 5,
    };
    // 2026 has a week 53, and 2027-W01 comes after it.
    for week in ["2026-W52", "2026-W53", "2027-W02"] {
        assert!(store.keep_week_run(&run(week, 1), None).expect("kept"));
    }
    assert!(!store.keep_week_run(&run("2026-W53", 9), Some("why")).expect("an answer"));
    assert_eq!(store.mail_hold().expect("readable"), None, "it was judged before");
    let before = store.week_run_before(week("2027-W01")).expect("readable");
    assert_eq!(before, Some(run("2026-W53", 1)));
    assert_eq!(store.week_run_before(week("2026-W52")).expect("readable"), None);
    assert!(store.keep_week_run(&run("2027-W01", 99), Some("so many")).expect("kept"));
    let hold = store.mail_hold().expect("readable").expect("on hold");
    assert_eq!((hold.since, hold.reason.as_str()), (NOW, "so many"));
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
