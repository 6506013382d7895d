//! What an inspector is told: how the whole fleet stands, every week, since that all is well is news too.

use super::{Asked, Contents};
use crate::render::{RenderError, Renderer};
use crate::snapshot::InspectorSnapshot;
use gudgeon_life::preference::Mode;
use gudgeon_life::status::Status;

/// What the mail says, in the mode that the inspector chose.
pub(super) fn contents(
    renderer: &Renderer,
    snapshot: &InspectorSnapshot,
    asked: &Asked,
) -> Result<Contents, RenderError> {
    let overdue = snapshot.counts.iter().any(|(status, _)| *status == Status::Overdue);
    if asked.preference.mode == Mode::OverdueOnly && !overdue {
        return Ok(Contents::NothingToSay("no engine is overdue"));
    }
    Ok(match renderer.inspector(snapshot, &asked.edition())? {
        Some(mail) => Contents::Composed(mail),
        None => Contents::NothingToSay("no engine is on record"),
    })
}
