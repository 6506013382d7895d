//! What counts as a change. The lines are made by hand; what changed between them follows from their days.

use super::*;
use crate::ids::Uid;
use crate::line::{Count, Happened, LastDone, Leg, Overrun};
use crate::programme::{Action, Class};
use crate::status::StatusDays;

const THEN: &str = "2026-11-18";
const AS_OF: &str = "2026-11-25";

fn on(text: &str) -> NaiveDate {
    text.parse().expect("a day")
}

fn fact(last: u8) -> FactId {
    let mut bytes = [0; 16];
    bytes[15] = last;
    FactId(Uid::from_bytes(bytes))
}

/// Coming due from 30 days before its day, overdue from the day after it; last done by this fact.
fn line(item: &str, due: &str, done: u8) -> DueLine {
    let due = on(due);
    let days = StatusDays {
        coming_from: due.checked_sub_days(chrono::Days::new(30)),
        due_from: due.succ_opt(),
        late_from: due.succ_opt(),
        ..StatusDays::default()
    };
    let from = on("2021-01-01");
    DueLine {
        item: ItemId::new(item).expect("a slug"),
        title: item.to_owned(),
        asked_by: AskedBy::Programme,
        position: None,
        component: None,
        class: Class::Recommended,
        source: "invented manual".to_owned(),
        legs: vec![Leg {
            limit: None,
            count: Count::Calendar { from, due, latest: due },
            no_later: None,
            days,
        }],
        hours_now: None,
        hours_on: None,
        meter_now: None,
        last: Some(LastDone { on: from, hours: None, action: Action::Renewed, fact: fact(done) }),
        last_overrun: Overrun::default(),
        last_overrun_beyond_tolerance: false,
        days,
        wear: Vec::new(),
        notes: Vec::new(),
    }
}

fn told(before: &[DueLine], now: &[DueLine]) -> Vec<What> {
    changes(before, on(THEN), now, on(AS_OF)).into_iter().map(|it| it.what).collect()
}

#[test]
fn what_stands_as_it_stood_is_no_change() {
    let lines = [line("belt", "2026-12-01", 1), line("hose", "2028-01-31", 2)];
    assert_eq!(told(&lines, &lines), []);
}

// Due on 2026-11-20: coming due on the 18th, overdue on the 25th.
#[test]
fn time_alone_makes_a_line_worse() {
    let lines = [line("belt", "2026-11-20", 1)];
    assert_eq!(told(&lines, &lines), [What::Worse(Status::ComingDue)]);
}

#[test]
fn work_is_told_even_when_nothing_was_due() {
    let (before, now) = ([line("belt", "2026-11-01", 1)], [line("belt", "2031-11-20", 2)]);
    assert_eq!(told(&before, &now), [What::Done(Status::Overdue)]);
    let early = [line("belt", "2028-01-31", 1)];
    assert_eq!(told(&early, &now), [What::Done(Status::NotDue)]);
}

#[test]
fn another_day_is_told_while_somebody_has_to_act_on_it() {
    let (before, now) = ([line("belt", "2026-12-01", 1)], [line("belt", "2026-12-05", 1)]);
    assert_eq!(told(&before, &now), [What::Moved]);
    let (before, now) = ([line("belt", "2028-12-01", 1)], [line("belt", "2028-12-05", 1)]);
    assert_eq!(told(&before, &now), []);
    let (before, now) = ([line("belt", "2026-11-01", 1)], [line("belt", "2028-12-05", 1)]);
    assert_eq!(told(&before, &now), [What::Better(Status::Overdue)]);
}

#[test]
fn what_comes_and_what_goes_is_told_while_it_is_due() {
    let strike = DueLine {
        asked_by: AskedBy::Event(Happened {
            kind: crate::fact::EventKind::PropellerStrike,
            on: on("2026-11-20"),
            hours: None,
            fact: fact(9),
        }),
        ..line("belt", "2026-11-20", 1)
    };
    let belt = line("belt", "2028-01-31", 1);
    let both = [belt.clone(), strike];
    assert_eq!(told(std::slice::from_ref(&belt), &both), [What::Appeared]);
    assert_eq!(told(&both, std::slice::from_ref(&belt)), [What::Went(Status::ComingDue)]);
    assert_eq!(told(&[belt], &[]), []);
}
