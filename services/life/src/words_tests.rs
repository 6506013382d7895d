//! A due line in words: expected words written by hand from the figures beside them.

use super::*;
use crate::ids::{FactId, ItemId};
use crate::line::Missing;
use crate::programme::{Action, Class};
use crate::status::{Beyond, StatusDays};

fn on(text: &str) -> NaiveDate {
    text.parse().expect("a day")
}

fn line(legs: Vec<Count>) -> DueLine {
    DueLine {
        item: ItemId::new("fan-belt").expect("a slug"),
        title: "Fan belt".to_owned(),
        asked_by: AskedBy::Programme,
        position: None,
        component: None,
        class: Class::Recommended,
        source: "invented manual 5.2".to_owned(),
        legs: legs
            .into_iter()
            .map(|count| Leg { limit: None, count, no_later: None, days: days(count) })
            .collect(),
        hours_now: Some(Hours::from_whole(292)),
        hours_on: Some(on("2026-11-20")),
        meter_now: Some(Hours::from_whole(540)),
        plan_by: None,
        last: None,
        last_overrun: Overrun::default(),
        last_overrun_beyond_tolerance: false,
        days: StatusDays::default(),
        wear: Vec::new(),
        notes: Vec::new(),
    }
}

/// A calendar leg is late the day after its latest; an hours leg here never.
fn days(count: Count) -> StatusDays {
    match count {
        Count::Calendar { due, latest, .. } => StatusDays {
            due_from: due.succ_opt(),
            late_from: latest.succ_opt(),
            ..StatusDays::default()
        },
        _ => StatusDays::default(),
    }
}

fn hours(from: i64, due: i64, latest: i64) -> Count {
    let [from, due, latest] = [from, due, latest].map(Hours::from_whole);
    Count::Hours { from, due, latest }
}

fn calendar(from: &str, due: &str, latest: &str) -> Count {
    Count::Calendar { from: on(from), due: on(due), latest: on(latest) }
}

// 2026-11-25 is a Wednesday (ISO 2026-W48-3); 2026-11-01 was a Sunday, 24 days before it.
#[test]
fn says_which_day_it_was_due_and_how_late_it_is() {
    let line = line(vec![hours(200, 300, 310), calendar("2021-11-01", "2026-11-01", "2026-12-01")]);
    let words = line_words(&line, on("2026-11-25"));
    assert_eq!(words.due, "was due Sun 2026-11-01");
    assert_eq!(words.governing.as_deref(), Some("the calendar governs"));
    assert_eq!(words.late.as_deref(), Some("24 days past due"));
    assert_eq!(words.last.as_deref(), Some("not on record"));
    // 300 - 292 = 8 h left; the meter shows 540 + 8 = 548 then.
    let legs: Vec<_> = words.legs.iter().map(|leg| (leg.governs, leg.words.as_str())).collect();
    assert_eq!(
        legs,
        [
            (
                false,
                "from 200.0 h, due at 300.0 h, latest 310.0 h; now 292.0 h, 8.0 h left; due at hour meter 548.0"
            ),
            (
                true,
                "from 2021-11-01, due Sun 2026-11-01 (24 days ago), latest Tue 2026-12-01 (in 6 days)"
            ),
        ]
    );
}

// The meter shows 540 + (300 - 292) = 548 when it is due.
#[test]
fn gives_the_meter_and_no_invented_date_when_hours_govern() {
    let words = line_words(&line(vec![hours(200, 300, 300)]), on("2026-11-25"));
    assert_eq!(words.due, "due at hour meter 548.0, 8.0 h left at the last reading");
    assert_eq!(words.governing.as_deref(), Some("hours govern"));
    assert_eq!(words.no_date, Some("no date can be forecast from hours yet"));
}

// 8 of 100 h left (8 %) and 25 of 365 days (7 %): the calendar governs, but 8 h may be run before.
#[test]
fn says_what_could_still_come_first() {
    let legs = vec![hours(200, 300, 300), calendar("2025-12-20", "2026-12-20", "2026-12-20")];
    let words = line_words(&line(legs), on("2026-11-25"));
    assert_eq!(words.due, "due Sun 2026-12-20 (in 25 days)");
    assert_eq!(
        words.governing.as_deref(),
        Some("the calendar governs, unless 8.0 h are run first")
    );
    assert_eq!(words.no_date, Some("no date can be forecast from hours yet"));
}

#[test]
fn says_when_a_tolerance_ends() {
    let mut line = line(vec![calendar("2021-11-01", "2026-11-01", "2026-12-01")]);
    line.days = line.legs[0].days;
    assert_eq!(
        line_words(&line, on("2026-11-25")).late.as_deref(),
        Some("24 days past due; the tolerance ends on Tue 2026-12-01 (in 6 days)")
    );
}

// Twelve years and twenty percent, 172 months: nothing is late in the extension, nor on condition after it.
#[test]
fn a_life_that_may_be_extended_is_past_but_not_late() {
    let mut line = line(vec![calendar("2014-03-10", "2026-03-10", "2028-07-10")]);
    line.days = StatusDays { beyond: Beyond::Extension, ..line.legs[0].days };
    let late = |day: &str| line_words(&line, on(day)).late;
    assert_eq!(
        late("2026-11-25").as_deref(),
        Some(
            "260 days past its recommended life; the extension ends on Mon 2028-07-10 (in 593 days)"
        )
    );
    assert_eq!(late("2028-07-20").as_deref(), Some("863 days past its recommended life"));
}

// 8.5 h past 300 h, 1.5 h before 310 h: on the meter that shows 556.5 now, the tolerance ends at 558.
#[test]
fn a_tolerance_used_in_hours_ends_at_a_meter_value() {
    let mut line =
        line(vec![hours(200, 300, 310), calendar("2026-04-18", "2027-04-18", "2027-05-18")]);
    line.hours_now = Some(Hours::parse("308.5").expect("hours"));
    line.meter_now = Some(Hours::parse("556.5").expect("hours"));
    line.legs[0].days = StatusDays { due_from: Some(on("2026-11-20")), ..StatusDays::default() };
    line.days = line.legs[0].days;
    let words = line_words(&line, on("2026-11-25"));
    assert_eq!(words.due, "was due at hour meter 548.0");
    assert_eq!(words.governing.as_deref(), Some("hours govern"));
    assert_eq!(
        words.late.as_deref(),
        Some("8.5 h past due; the tolerance ends at hour meter 558.0")
    );
}

#[test]
fn a_finding_is_due_until_work_closes_it() {
    let mut line = line(Vec::new());
    line.asked_by = AskedBy::Finding(FactId(Uid::from_bytes([1; 16])));
    let look_again = "to be looked at again, until work at this place closes it";
    assert_eq!(line_words(&line, on("2026-11-25")).due, look_again);
    line.days.late_from = Some(on("2026-10-09"));
    let words = line_words(&line, on("2026-11-25"));
    assert_eq!(words.due, "due now, until work at this place closes it");
    assert_eq!(words.last, None);
}

#[test]
fn names_what_is_missing_and_who_did_it_last_and_how_late() {
    let mut line = line(vec![Count::Missing(Axis::Calendar, Missing::NoCode)]);
    line.last = Some(LastDone {
        on: on("2024-01-15"),
        hours: Some(Hours::from_seconds(3_755_520)),
        action: Action::Renewed,
        fact: FactId(Uid::parse("017f22e2-79b0-7cc3-98c4-dc0c0c07398f").expect("an id")),
    });
    line.last_overrun = Overrun { hours: Hours::from_seconds(60), days: 1 };
    line.last_overrun_beyond_tolerance = true;
    let words = line_words(&line, on("2026-11-25"));
    assert_eq!(words.due, "cannot be told: no readable date code on record");
    // One minute late prints as a tenth: late rounds up.
    assert_eq!(
        words.last.as_deref(),
        Some(
            "renewed 2024-01-15 at 1043.2 h, 0.1 h and 1 day late, beyond its tolerance (record ending 0c07398f)"
        )
    );
}

// 8 of 100 h is 80 thousandths; 25 of 365 days is 68: the day comes first. A finding comes before both.
#[test]
fn puts_what_has_least_left_first() {
    let day = on("2026-11-25");
    let by_hours = urgency(&line(vec![hours(200, 300, 300)]), day);
    let by_day = urgency(&line(vec![calendar("2025-12-20", "2026-12-20", "2026-12-20")]), day);
    let finding = urgency(&line(Vec::new()), day);
    assert_eq!((by_hours.2, by_day.2), (80, 68));
    assert!(finding < by_day && by_day < by_hours);
}

// U+202E turns the direction of what follows; U+2028 is a line separator.
#[test]
fn foreign_text_cannot_break_a_line_or_turn_it_round() {
    assert_eq!(clean("a\r\nBcc: x\u{202e}y\u{2028}z\u{7}", 40), "a Bcc: xy z");
    assert_eq!(clean(&"x".repeat(4000), 5), "xxxx\u{2026}");
}
