//! An inspector's mail from hand-made snapshots. Expected words are written by hand from the figures in `fixtures` and
//! `fixtures_told`.

use super::*;
use crate::fixtures::{AS_OF, on};
use crate::fixtures_told::fleet;

fn report(snapshot: &InspectorSnapshot) -> ListReport {
    let week = ReportWeek::parse("2026-W48").expect("a week");
    compose_inspector(snapshot, week, on(AS_OF), 40)
}

fn entries(report: &ListReport, at: usize) -> Vec<(&str, &str)> {
    let entries = report.sections[at].entries.iter();
    entries.map(|it| (it.label.as_str(), it.title.as_str())).collect()
}

// 3 + 2 + 7 + 30 engines.
#[test]
fn says_how_the_fleet_stands() {
    let report = report(&fleet());
    assert_eq!(report.head.headline, "3 overdue, 2 unknown, 7 coming due of 42 engines");
    assert_eq!(
        report.head.lead,
        [
            "By its worst line, each engine counts once: 3 overdue, 2 unknown, 7 coming due, 30 not due on record.",
            "2 engines without a recent reading; 2 of 5 workshops silent; 1 mail that did not arrive, or perhaps not; 1 without mails by choice."
        ]
    );
}

// From 2026-07-01: 30 days left of July, then 31 + 30 + 31 and 25 of November make 147. From 2026-10-01: 30 + 25 = 55
// days, 7 whole weeks.
#[test]
fn says_who_and_what_has_gone_quiet() {
    let report = report(&fleet());
    assert_eq!(entries(&report, 0), [("overdue", "XX-006"), ("unknown", "XX-002")]);
    assert_eq!(entries(&report, 1), [("no reading", "XX-010"), ("147 days", "XX-007")]);
    assert_eq!(entries(&report, 2), [("never posted", "Quiet Bench"), ("7 weeks", "Slow Bench")]);
    assert_eq!(entries(&report, 3), [("failed", "Invented Flying Club")]);
    assert_eq!(entries(&report, 4), [("no mails", "Invented Owner")]);
    // 12 engines are in trouble, and two of them are in the snapshot.
    assert_eq!(report.sections[0].cut.as_deref(), Some("10 more not shown."));
}

#[test]
fn a_quiet_fleet_is_told_too() {
    let quiet = InspectorSnapshot { counts: vec![(Status::NotDue, 1)], ..Default::default() };
    let report = report(&quiet);
    assert_eq!(report.head.verdict, "Nothing due on record, 1 engine.");
    let intros: Vec<&str> = report.sections.iter().map(|it| it.intro.as_str()).collect();
    assert!(intros.iter().all(|intro| intro.starts_with("None")), "{intros:?}");
}
