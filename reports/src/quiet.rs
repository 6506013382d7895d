//! The short mail that says that nothing is due: silence alone could mean anything.

use crate::compose::{EngineSnapshot, NAME_CHARS, OwnerSnapshot, counted_size};
use crate::view::QuietReport;
use chrono::NaiveDate;
use gudgeon_life::cautions::CAUTIONS;
use gudgeon_life::week::ReportWeek;
use gudgeon_life::words::{clean, day};

/// The most engines named.
const ENGINES_MAX: usize = 50;

/// The mail for a week, in words.
pub(crate) fn quiet(snapshot: &OwnerSnapshot, week: ReportWeek, as_of: NaiveDate) -> QuietReport {
    let cut = snapshot.engines.len().saturating_sub(ENGINES_MAX);
    QuietReport {
        week: week.to_string(),
        as_of: day(as_of),
        owner: clean(&snapshot.name, NAME_CHARS),
        engines: snapshot.engines.iter().take(ENGINES_MAX).map(engine).collect(),
        cut: (cut > 0).then(|| format!("{} not named.", counted_size(cut, "more engine"))),
        invented: snapshot.engines.iter().any(EngineSnapshot::invented),
        cautions: CAUTIONS.iter().map(|caution| (*caution).to_owned()).collect(),
    }
}

/// Such as `XX-001, last reading Wed 2026-11-25`.
fn engine(engine: &EngineSnapshot) -> String {
    let name = clean(&engine.name(), NAME_CHARS);
    match engine.row.hours_on {
        Some(on) => format!("{name}, last reading {}", day(on)),
        None => format!("{name}, no reading on record"),
    }
}
