//! Composing from hand-made lines. Expected words are written by hand from the figures in `fixtures`.

use super::*;
use crate::fixtures::{AS_OF, belt, club, engine, hoses, on, plugs, strike};
use gudgeon_life::version::ActiveVersion;

fn week() -> ReportWeek {
    ReportWeek::parse("2026-W48").expect("a week")
}

fn club_report() -> OwnerReport {
    compose(&club(), week(), on(AS_OF), 40).expect("something to say")
}

#[test]
fn says_nothing_when_there_is_nothing_to_say() {
    let quiet = OwnerSnapshot {
        name: "Invented Owner".to_owned(),
        engines: vec![engine("XX-003", vec![hoses()])],
    };
    assert_eq!(compose(&quiet, week(), on(AS_OF), 40), None);
    let without_engines = OwnerSnapshot { engines: Vec::new(), ..quiet };
    assert_eq!(compose(&without_engines, week(), on(AS_OF), 40), None);
}

// The change is news in the mail of the week after it, and the version stays named in every mail.
#[test]
fn a_changed_programme_is_told_for_one_week() {
    let mut snapshot = club();
    for engine in &mut snapshot.engines {
        let since = on("2026-11-20");
        engine.version = Some(ActiveVersion { digest: [1; 32], since, replaces: Some([2; 32]) });
    }
    let told = |as_of| {
        let report = compose(&snapshot, week(), on(as_of), 40).expect("something to say");
        let remarks: Vec<String> = report.engines.into_iter().flat_map(|it| it.remarks).collect();
        remarks.iter().any(|it| it.contains("changed on Fri 2026-11-20"))
    };
    assert_eq!((told(AS_OF), told("2026-11-27")), (true, false));
}

#[test]
fn a_contradiction_alone_is_worth_a_mail() {
    let mut snapshot = club();
    snapshot.engines.truncate(1);
    snapshot.engines[0].lines = vec![hoses()];
    let report = compose(&snapshot, week(), on(AS_OF), 40).expect("something to say");
    assert_eq!(report.head.headline, "records to put right");
    assert_eq!(report.engines[0].remarks.len(), 1);
}

#[test]
fn an_engine_that_cannot_be_counted_is_never_passed_over() {
    let mut blind = engine("XX-004", Vec::new());
    blind.engine_type = None;
    let snapshot = OwnerSnapshot { name: String::new(), engines: vec![blind] };
    let report = compose(&snapshot, week(), on(AS_OF), 40).expect("something to say");
    assert_eq!(
        report.engines[0].remarks,
        ["No programme is active for this type of engine: nothing can be counted for it."]
    );
}

// XX-001: belt overdue, plugs coming due. XX-002: re-torque unknown, plugs coming due.
#[test]
fn puts_the_worst_first() {
    let report = club_report();
    assert_eq!(report.head.headline, "1 overdue, 1 unknown, 2 coming due");
    assert_eq!((report.first.as_str(), report.others), ("XX-001", 1));
    assert_eq!(report.head.verdict, "1 overdue, 1 unknown, 2 coming due.");
    assert_eq!(
        report.head.lead[0],
        "Attention needed on 2 of 2 engines. Records contradict one another on 1 engine."
    );
    assert_eq!(
        report.head.lead[1],
        "Worst: XX-001, Renew the fan belt (invented), cooling fan: 24 days past due."
    );
    let order: Vec<(&str, Vec<&str>)> = report
        .engines
        .iter()
        .map(|engine| {
            (engine.name.as_str(), engine.lines.iter().map(|line| line.status.as_str()).collect())
        })
        .collect();
    assert_eq!(
        order,
        [("XX-001", vec!["overdue", "coming due"]), ("XX-002", vec!["unknown", "coming due"])]
    );
}

// 540 on the meter + 8 h left = 548; the reading is of 2026-11-16, nine days before the 25th.
#[test]
fn gives_every_figure_with_where_it_comes_from() {
    let report = club_report();
    let engine = &report.engines[0];
    assert_eq!(engine.title, "Invented Twin 40 (invented type), serial 0042");
    let facts: Vec<&str> = engine.facts.iter().map(|fact| fact.value.as_str()).collect();
    assert_eq!(
        facts,
        [
            "since new (TSN) 292.0 h, since overhaul (TSO) not on record",
            "hour meter 540.0, read Mon 2026-11-16 (9 days ago)",
            "logged"
        ]
    );
    let belt = &engine.lines[0];
    assert_eq!(belt.title, "Renew the fan belt (invented)");
    assert_eq!(belt.place.as_deref(), Some("cooling fan"));
    assert_eq!(belt.due, "Was due Sun 2026-11-01.");
    assert_eq!(belt.governing.as_deref(), Some("The calendar governs."));
    assert_eq!(belt.late.as_deref(), Some("24 days past due."));
    let legs: Vec<&str> = belt.legs.iter().map(|leg| leg.name.as_str()).collect();
    assert_eq!(legs, ["Hours", "Calendar (governs)"]);
    let details: Vec<&str> = belt.details.iter().map(|detail| detail.value.as_str()).collect();
    assert_eq!(
        details,
        [
            "Airworthiness limitation; invented maintenance manual, part 5.",
            "Renewed 2021-11-01 at 12.4 h (record ending 00000007).",
            "Mon 2026-11-16 (9 days ago).",
            "Reported done, no release recorded."
        ]
    );
    assert_eq!(
        engine.rest.as_deref(),
        Some(
            "Further items: 1 not due on record. Next by date: Renew the fuel hoses (invented), Mon 2028-01-31 (in 432 days)."
        )
    );
    assert_eq!(
        engine.entered.as_deref(),
        Some(
            "Directives and bulletins as entered up to Sat 2026-10-31. Programme version 010101010101, active since Mon 2026-01-05."
        )
    );
}

// Struck at 290.4 h and read at 292.0 h: 1.6 h since.
#[test]
fn says_what_happened_and_how_much_was_run_since() {
    let snapshot = OwnerSnapshot {
        name: "Invented Owner".to_owned(),
        engines: vec![engine("XX-005", vec![strike()])],
    };
    let report = compose(&snapshot, week(), on(AS_OF), 40).expect("something to say");
    let line = &report.engines[0].lines[0];
    assert_eq!(
        (line.status.as_str(), line.due.as_str()),
        ("overdue", "Due now, until it is done.")
    );
    let details: Vec<(&str, &str)> =
        line.details.iter().map(|it| (it.label.as_str(), it.value.as_str())).collect();
    assert_eq!(
        details[1..],
        [(
            "What happened",
            "Propeller strike on 2026-11-10 at 290.4 h, record ending 00000008: 1.6 h run since."
        )]
    );
}

#[test]
fn says_plainly_that_there_is_no_log() {
    let report = club_report();
    let facts: Vec<&str> = report.engines[1].facts.iter().map(|fact| fact.value.as_str()).collect();
    assert_eq!(facts[0], "since new (TSN) not on record, since overhaul (TSO) not on record");
    assert_eq!(facts[2], "no log: hours before these records are not known");
}

#[test]
fn cuts_the_least_urgent_of_all_engines_and_counts_them() {
    let snapshot = OwnerSnapshot {
        name: String::new(),
        engines: vec![
            engine("XX-001", vec![plugs(), belt(), plugs()]),
            engine("XX-002", vec![belt(), plugs()]),
        ],
    };
    let report = compose(&snapshot, week(), on(AS_OF), 2).expect("something to say");
    for engine in &report.engines {
        assert_eq!(engine.lines.len(), 1);
        assert_eq!(engine.lines[0].status, "overdue");
    }
    assert_eq!(report.engines[0].cut.as_deref(), Some("More, not shown: 2 coming due."));
    let report = compose(&snapshot, week(), on(AS_OF), 1).expect("something to say");
    assert_eq!(
        report.head.cut.as_deref(),
        Some("1 more engine not shown: 1 overdue, 1 coming due.")
    );
}

// The hoses were renewed on 2026-11-20: nothing is due any more, and that is what the mail says.
#[test]
fn work_that_was_done_is_worth_a_mail() {
    let mut done = crate::fixtures_told::told_engine("XX-006");
    done.lines.retain(|line| line.title == "Renew the fuel hoses");
    let before = done.told.before.as_mut().expect("a week ago");
    before.lines.retain(|line| line.title == "Renew the fuel hoses");
    let snapshot = OwnerSnapshot { name: String::new(), engines: vec![done] };
    let report = compose(&snapshot, week(), on(AS_OF), 40).expect("something to say");
    assert_eq!(report.head.headline, "nothing due, something changed");
    let changed = &report.engines[0].blocks[0];
    assert_eq!(changed.title, "Changed since Wed 2026-11-18");
    assert_eq!(
        changed.points,
        [
            "Renew the fuel hoses (invented): renewed Fri 2026-11-20 by Invented Workshop; was overdue, now not due on record, due Mon 2028-01-31 (in 432 days)."
        ]
    );
}

// The belt is overdue since 2026-11-01: one visit, now. The hoses have 14 months, which is more than a visit ahead.
#[test]
fn a_visit_is_proposed_and_the_last_inspection_told() {
    let snapshot = crate::fixtures_told::told_club();
    let report = compose(&snapshot, week(), on(AS_OF), 40).expect("something to say");
    let told = report.engines.iter().find(|it| it.name == "XX-006").expect("an engine");
    let visit = &told.blocks[0];
    assert_eq!(visit.title, "Proposed: one visit to a workshop by Wed 2026-11-25 (today)");
    assert_eq!(
        visit.points,
        ["Go at once: Renew the fan belt (invented), cooling fan is past the day to plan by."]
    );
    let found = &told.blocks[2];
    assert_eq!(
        found.title,
        "Last inspection: released Fri 2026-11-20 (5 days ago) by Invented Workshop (record ending 00000009)"
    );
    assert_eq!(
        found.points,
        [
            "Fan belt, cooling fan: fit for now, look again after 10.0 h or by Thu 2026-12-31.",
            "Bore: 67.65 mm (67.64 to 67.66), at most 67.62: beyond limit.",
            "1 place found fit for use, 0 figures within limits of 1 measurement, 0 items reported done."
        ]
    );
    assert_eq!(
        told.lines[1].forecast.as_deref(),
        Some("Likely between Fri 2026-12-04 and Fri 2027-01-15, plan by Fri 2026-12-04.")
    );
    assert_eq!(told.lines[0].details[2].value, "Fan belt lot L-22.");
}

// Nothing said of any place is not said to be unfit.
#[test]
fn an_inspection_without_findings_says_so() {
    let mut snapshot = crate::fixtures_told::told_club();
    for engine in &mut snapshot.engines {
        if let Some(last) = &mut engine.told.last {
            last.inspection.findings.clear();
        }
    }
    let report = compose(&snapshot, week(), on(AS_OF), 40).expect("something to say");
    let told = report.engines.iter().find(|it| it.name == "XX-006").expect("an engine");
    assert_eq!(
        told.blocks[2].points.last().map(String::as_str),
        Some(
            "No findings reported, 0 figures within limits of 1 measurement, 0 items reported done."
        )
    );
}
