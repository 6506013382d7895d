//! What can be said of an engine without a log: how old it is at least, and what to look at before it runs.

use crate::fact::Host;
use crate::history::{ComponentState, History, Log};
use crate::ids::{ComponentId, EngineId};
use crate::line::DueLine;
use crate::status::Status;
use chrono::NaiveDate;

/// The oldest dated part that is still on an engine.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OldestPart {
    /// Which part.
    pub component: ComponentId,
    /// The first day on which it may have been made.
    pub made_first: NaiveDate,
    /// The last such day: an engine that had it from new is no younger than this.
    pub made_last: NaiveDate,
}

/// The oldest dated part still fitted to an engine itself, by the last day on which it may have been made; of parts
/// as old the first by identifier. Common practice: the oldest rubber that was never renewed bounds the age of an
/// engine from below. Parts on the aircraft tell nothing of the engine.
#[must_use]
pub fn oldest_part(history: &History, id: EngineId) -> Option<OldestPart> {
    let fitted = history.fitted_to(id).into_iter().filter_map(|component| {
        let state = history.component(component)?;
        let on_engine = state.current()?.host == Host::Engine(id);
        let made = state.made.filter(|_| on_engine)?;
        Some(OldestPart { component, made_first: made.first, made_last: made.last })
    });
    fitted.min_by_key(|part| (part.made_last, part.component))
}

/// What is said of an engine's age where no log and no date of making tells it.
#[must_use]
pub fn age_words(history: &History, id: EngineId) -> Option<String> {
    let engine = history.engine(id)?;
    if engine.log == Log::Logged || engine.made_on.is_some() {
        return None;
    }
    Some(oldest_part(history, id).map_or_else(
        || "Its age is not known, and no dated part on it bounds it.".to_owned(),
        |oldest| {
            let label = history.component(oldest.component).map(ComponentState::label).unwrap_or_default();
            let (first, last) = (oldest.made_first, oldest.made_last);
            let made = if first == last {
                format!("on {first}")
            } else {
                format!("from {first} to {last}")
            };
            format!(
                "Its age is not known. The oldest dated part on it, {label}, was made {made}: unless that part came from stock or from another engine, the engine is no younger."
            )
        },
    ))
}

/// The lines that cannot be counted, or are past, in their order: what to inspect before it runs, since nothing on
/// record says that it is good for longer.
#[must_use]
pub fn inspect_now(lines: &[DueLine], as_of: NaiveDate) -> Vec<&DueLine> {
    let pressing =
        |line: &&DueLine| matches!(line.status(as_of), Status::Unknown | Status::Overdue);
    lines.iter().filter(pressing).collect()
}
