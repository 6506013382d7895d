//! Reports with every part filled in, all invented: renderers are tried out on them when they are made.

use crate::view::{
    Block, EngineBlock, Entry, Head, Labelled, LegBlock, LineBlock, Links, ListReport, OwnerReport,
    QuietReport, Section,
};

fn text(words: &str) -> String {
    words.to_owned()
}

fn head() -> Head {
    Head {
        what: text("Sample"),
        week: text("2026-W48"),
        period: text("Mon 2026-11-23 to Sun 2026-11-29"),
        as_of: text("Wed 2026-11-25"),
        name: text("Invented Owner"),
        headline: text("1 overdue"),
        verdict: text("1 overdue."),
        lead: vec![
            text("Attention needed on 2 of 2 engines."),
            text("Worst: XX-001, Sample item: 24 days past due."),
        ],
        invented: true,
        cut: Some(text("1 more engine not shown: 1 overdue.")),
        witnessed: true,
        cautions: vec![text("Sample caution.")],
        links: Some(Links {
            reading: Some(text("https://example.org/reading/sample")),
            preferences: text("https://example.org/mails/sample"),
            stop: text("https://example.org/stop/sample"),
            calendar: Some(text("https://example.org/calendar/sample.ics")),
        }),
    }
}

/// An owner's report.
pub(crate) fn owner() -> OwnerReport {
    OwnerReport {
        head: head(),
        first: text("XX-001"),
        others: 1,
        engines: vec![EngineBlock {
            name: text("XX-001"),
            title: text("Invented Twin 40 (invented type), serial 0001"),
            facts: vec![Labelled::new("Reading", "hour meter 540.0, read Mon 2026-11-16")],
            ask: Some(text("The last reading is 41 days old.")),
            remarks: vec![text("Records contradict: sample.")],
            lines: vec![line()],
            cut: Some(text("More, not shown: 1 overdue.")),
            forecast_basis: Some(text("Sample basis.")),
            blocks: vec![Block { title: text("Sample block"), points: vec![text("A point.")] }],
            rest: Some(text("Further items: 3 not due on record.")),
            entered: Some(text("Directives and bulletins as entered up to Wed 2026-11-25.")),
            kept: Some(text("Records kept: engine 1 (sample), anchor 1 (sample).")),
        }],
    }
}

fn line() -> LineBlock {
    LineBlock {
        key: text("overdue"),
        status: text("overdue"),
        title: text("Sample item (invented)"),
        place: Some(text("sample place")),
        due: text("Was due Sun 2026-11-01."),
        governing: Some(text("The calendar governs.")),
        late: Some(text("24 days past due.")),
        forecast: Some(text("Likely between then and then.")),
        legs: vec![LegBlock { name: text("Calendar (governs)"), words: text("Sample leg.") }],
        details: vec![Labelled::new("Note", "Sample note.")],
    }
}

/// A report made of lists.
pub(crate) fn lists() -> ListReport {
    let section = Section {
        title: text("Sample list"),
        intro: text("Sample intro."),
        columns: (text("What"), text("Why")),
        entries: vec![Entry {
            key: text("overdue"),
            label: text("now"),
            title: text("XX-001"),
            place: Some(text("sample place")),
            details: vec![Labelled::new("Note", "Sample note.")],
        }],
        cut: Some(text("1 more not shown.")),
    };
    ListReport { head: head(), sections: vec![section] }
}

/// The short mail.
pub(crate) fn quiet() -> QuietReport {
    QuietReport { head: head(), engines: vec![text("XX-001, last reading Wed 2026-11-25")] }
}
