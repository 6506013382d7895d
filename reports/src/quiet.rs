//! The short mail that says that nothing is due: silence alone could mean anything.

use crate::compose::{counted_size, head};
use crate::snapshot::{EngineSnapshot, OwnerSnapshot};
use crate::view::{Head, QuietReport};
use chrono::NaiveDate;
use gudgeon_life::week::ReportWeek;
use gudgeon_life::words::day;

/// The most engines named.
const ENGINES_MAX: usize = 50;

/// The mail for a week, in words.
pub(crate) fn quiet(snapshot: &OwnerSnapshot, week: ReportWeek, as_of: NaiveDate) -> QuietReport {
    let cut = snapshot.engines.len().saturating_sub(ENGINES_MAX);
    let head = head("Engine items due", &snapshot.name, "the owner", week, as_of);
    QuietReport {
        head: Head {
            headline: "Nothing due on record".to_owned(),
            verdict: "Nothing due on record.".to_owned(),
            lead: vec![
                "This is what the records that were sent in say; it does not say that anything may be flown.".to_owned(),
                "Such a mail comes every fourth week while nothing is due.".to_owned(),
            ],
            cut: (cut > 0).then(|| format!("{} not named.", counted_size(cut, "more engine"))),
            invented: snapshot.engines.iter().any(EngineSnapshot::invented),
            ..head
        },
        engines: snapshot.engines.iter().take(ENGINES_MAX).map(engine).collect(),
    }
}

/// Such as `XX-001, last reading Wed 2026-11-25`.
fn engine(engine: &EngineSnapshot) -> String {
    let name = engine.name();
    match engine.row.hours_on {
        Some(on) => format!("{name}, last reading {}", day(on)),
        None => format!("{name}, no reading on record"),
    }
}
