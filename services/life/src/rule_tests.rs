//! The answers of the rules on one leg, each worked by hand or from its source.

use super::*;

fn rule(next: NextPolicy, tolerance: Option<Tolerance>) -> Rule {
    Rule {
        class: Class::RequiredInspection,
        next,
        tolerance,
        granted: Granted::Automatic,
        extension_percent: None,
        notice: Notice::default(),
    }
}

fn h(text: &str) -> Hours {
    Hours::parse(text).expect("hours")
}

fn d(text: &str) -> NaiveDate {
    text.parse().expect("a date")
}

// The three answers of 14 CFR 91.409(b) counting, worked by hand: due 1040, every 100.
#[test]
fn late_from_due_early_from_done_very_late_by_whole_intervals() {
    let rule = rule(NextPolicy::FromDue, None);
    let every = h("100");
    let next = |done| rule.next_hours(every, Some((every, h("1040"))), h(done), false);
    assert_eq!((next("1043.2").due, next("1043.2").counted), (h("1140"), Counted::LateFromDue));
    assert_eq!(next("1032.5").due, h("1132.5"));
    assert_eq!((next("1190").due, next("1190").counted), (h("1240"), Counted::Skipped(2)));
}

// US Army TM 1-1500-328-23 para 2-10: due 31 Jan 1999, every 6 months, +/-18 days.
#[test]
fn inside_the_window_counts_from_due_even_if_early() {
    let tolerance = Tolerance {
        percent: Some(10),
        hours_max: Some(h("5")),
        days_max: Some(30),
        ..Tolerance::default()
    };
    let rule = rule(NextPolicy::Window, Some(tolerance));
    let every = CalendarSpan::months(6);
    let due = DueDay::on(d("1999-01-31"), CalendarMode::Day);
    let next = |done| rule.next_day(every, CalendarMode::Day, Some((every, due)), d(done), false);
    assert_eq!(next("1999-01-13").due.day(), d("1999-07-31"));
    assert_eq!(next("1999-02-18").due.day(), d("1999-07-31"));
    assert_eq!(next("1999-02-19").due.day(), d("1999-08-19"));
    assert_eq!(next("1999-01-12").counted, Counted::OutsideWindow);
    assert_eq!(rule.latest_day(due, every), d("1999-02-18"));
}

// 31 Aug 2024 + 6 months = 28 Feb 2025; with one month of tolerance 31 Mar 2025, from the anchor.
#[test]
fn a_tolerance_of_months_counts_from_the_anchor() {
    let tolerance = Tolerance { months: Some(1), ..Tolerance::default() };
    let rule = rule(NextPolicy::FromDone, Some(tolerance));
    let every = CalendarSpan::months(6);
    let due = DueDay::on(d("2024-08-31"), CalendarMode::Day).plus(every);
    assert_eq!(due.day(), d("2025-02-28"));
    assert_eq!(rule.latest_day(due, every), d("2025-03-31"));
}

// Several parts of a tolerance: the strictest. 2025-02-28 + 10 days is before 2025-03-31.
#[test]
fn the_strictest_part_of_a_tolerance_counts() {
    let tolerance = Tolerance { months: Some(1), days: Some(10), ..Tolerance::default() };
    let rule = rule(NextPolicy::FromDone, Some(tolerance));
    let every = CalendarSpan::months(6);
    let due = DueDay::on(d("2024-08-31"), CalendarMode::Day).plus(every);
    assert_eq!(rule.latest_day(due, every), d("2025-03-10"));
}

// 300 h / 5 y and 20 %: 360 h / 72 months; 12 y and 20 %: 172 months, rounded down.
#[test]
fn an_extension_is_counted_from_the_anchor_and_rounds_down() {
    let rule = Rule {
        class: Class::Recommended,
        extension_percent: Some(20),
        ..rule(NextPolicy::FromDone, None)
    };
    assert_eq!(rule.latest_hours(h("300"), h("300")), h("360"));
    let due =
        |months| DueDay::on(d("2020-05-10"), CalendarMode::Day).plus(CalendarSpan::months(months));
    assert_eq!(rule.latest_day(due(60), CalendarSpan::months(60)), d("2026-05-10"));
    assert_eq!(rule.latest_day(due(144), CalendarSpan::months(144)), d("2034-09-10"));
}

// No tolerance on a directive or limitation: Transport Canada Std 625 App D (3)(a)(iv) note.
#[test]
fn a_directive_has_no_tolerance_whatever_is_asked() {
    let tolerance = Tolerance { hours: Some(h("10")), ..Tolerance::default() };
    let rule = Rule { class: Class::Directive, ..rule(NextPolicy::FromDue, Some(tolerance)) };
    assert_eq!(rule.latest_hours(h("100"), h("100")), h("100"));
}
