//! A report with every part filled in, all invented: renderers are tried out on it when they are made.

use crate::view::{EngineBlock, Labelled, LegBlock, LineBlock, OwnerReport, QuietReport};

/// The sample.
pub(crate) fn sample() -> OwnerReport {
    let text = |words: &str| words.to_owned();
    let labelled = |label: &str, value: &str| Labelled { label: text(label), value: text(value) };
    OwnerReport {
        week: text("2026-W48"),
        period: text("Mon 2026-11-23 to Sun 2026-11-29"),
        as_of: text("Wed 2026-11-25"),
        owner: text("Invented Owner"),
        headline: text("1 overdue"),
        first: text("XX-001"),
        others: 1,
        verdict: text("1 overdue."),
        attention: text("Attention needed on 2 of 2 engines."),
        worst: text("Worst: XX-001, Sample item: 24 days past due."),
        engines: vec![EngineBlock {
            name: text("XX-001"),
            title: text("Sample type (invented type), serial 1"),
            facts: vec![labelled("Log", "logged")],
            remarks: vec![text("Records contradict one another: sample.")],
            lines: vec![LineBlock {
                key: text("overdue"),
                status: text("overdue"),
                title: text("Sample item (invented)"),
                place: Some(text("sample place")),
                due: text("Was due Sun 2026-11-01."),
                governing: Some(text("The calendar governs.")),
                late: Some(text("24 days past due.")),
                legs: vec![LegBlock {
                    name: text("Calendar (governs)"),
                    words: text("From 2021-11-01, due Sun 2026-11-01 (24 days ago)."),
                }],
                details: vec![labelled("Note", "Sample note.")],
            }],
            cut: Some(text("More, not shown: 1 overdue.")),
            rest: Some(text("Further items: 3 not due on record.")),
            entered: Some(text("Directives and bulletins as entered up to Wed 2026-11-25.")),
            kept: Some(text("Records kept: engine 1 (sample), anchor 1 (sample).")),
        }],
        cut: Some(text("1 more engine not shown: 1 overdue.")),
        witnessed: true,
        invented: true,
        cautions: vec![text("Sample caution.")],
    }
}

/// The sample of the short mail.
pub(crate) fn quiet_sample() -> QuietReport {
    QuietReport {
        week: "2026-W48".to_owned(),
        as_of: "Wed 2026-11-25".to_owned(),
        owner: "Invented Owner".to_owned(),
        engines: vec!["XX-001, last reading Wed 2026-11-25".to_owned()],
        cut: Some("1 more engine not named.".to_owned()),
        invented: true,
        cautions: vec!["Sample caution.".to_owned()],
    }
}
