//! A workshop's mail from hand-made snapshots. Expected words are written by hand from the figures in `fixtures` and
//! `fixtures_told`.

use super::*;
use crate::fixtures::{AS_OF, engine, hoses, on};
use crate::fixtures_told::workshop;

fn report() -> ListReport {
    let week = ReportWeek::parse("2026-W48").expect("a week");
    compose_shop(&workshop(), week, on(AS_OF), 40).expect("something to say")
}

fn section<'a>(report: &'a ListReport, title: &str) -> &'a Section {
    report.sections.iter().find(|it| it.title == title).expect(title)
}

// The belt of both engines was due on 2026-11-01; the plugs are to be planned by 2026-12-04, a Friday of 2026-W49.
#[test]
fn work_comes_week_by_week_and_what_is_due_first() {
    let report = report();
    let coming = section(&report, "Work coming in, week by week");
    let jobs: Vec<(&str, &str, &str)> = coming
        .entries
        .iter()
        .map(|it| (it.label.as_str(), it.title.as_str(), it.details[0].value.as_str()))
        .collect();
    let belt = "Renew the fan belt (invented), cooling fan: 24 days past due.";
    let plugs = "Renew the spark plugs (invented): due at hour meter 548.0, 8.0 h left at the last reading.";
    assert_eq!(
        jobs,
        [
            ("now", "XX-006", belt),
            ("now", "XX-008", belt),
            ("week of Mon 2026-11-30", "XX-006", plugs),
            ("week of Mon 2026-11-30", "XX-008", plugs)
        ]
    );
    assert_eq!(coming.entries[0].key, "overdue");
}

#[test]
fn parts_are_added_up_over_engines() {
    let report = report();
    let order = &section(&report, "Parts to order").entries;
    assert_eq!(order.len(), 1);
    assert_eq!((order[0].label.as_str(), order[0].title.as_str()), ("2 pieces", "fan belt"));
    let details: Vec<(&str, &str)> =
        order[0].details.iter().map(|it| (it.label.as_str(), it.value.as_str())).collect();
    assert_eq!(
        details,
        [
            ("For", "XX-006: cooling fan (now fan belt lot L-22)."),
            ("For", "XX-008: cooling fan (now fan belt lot L-22)."),
            ("Why", "By the programme; found scrap at the inspection released Fri 2026-11-20.")
        ]
    );
}

#[test]
fn sheets_and_posts_are_named() {
    let report = report();
    let sheets = &section(&report, "Sheets to print").entries;
    assert_eq!(
        (sheets[0].label.as_str(), sheets[0].title.as_str()),
        ("2 sheets", "Hundred-hour sheet")
    );
    assert_eq!(sheets[0].details[1].value, "/engine-types/invented-twin/sheets/hundred-hours");
    let posts = &section(&report, "Posts that need a correction").entries;
    let details: Vec<&str> = posts[0].details.iter().map(|it| it.value.as_str()).collect();
    assert_eq!(details, ["WO-17", "ending 00000009", "No release is recorded with it."]);
    assert_eq!(
        report.head.headline,
        "2 jobs now, 2 in the weeks ahead, 2 parts to order, 1 post to correct"
    );
}

#[test]
fn nothing_coming_and_nothing_wrong_is_no_mail() {
    let week = ReportWeek::parse("2026-W48").expect("a week");
    let quiet = ShopSnapshot {
        engines: vec![engine("XX-003", vec![hoses()])],
        renewals: vec![Vec::new()],
        posts: Vec::new(),
        ..workshop()
    };
    assert_eq!(compose_shop(&quiet, week, on(AS_OF), 40), None);
}
