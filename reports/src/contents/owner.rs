//! What an owner is told: the engines that are his or hers, with what is due on them.

use super::{Asked, Contents};
use crate::render::{RenderError, Renderer};
use crate::snapshot::OwnerSnapshot;
use gudgeon_life::preference::Mode;
use gudgeon_life::status::Status;

/// What the mail says, in the mode that its owner chose.
pub(super) fn contents(
    renderer: &Renderer,
    snapshot: &OwnerSnapshot,
    asked: &Asked,
) -> Result<Contents, RenderError> {
    let Some(worst) = snapshot.engines.iter().map(|engine| engine.worst(asked.as_of)).min() else {
        return Ok(Contents::NothingToSay("no engine is on record for them"));
    };
    let mode = asked.preference.mode;
    if mode == Mode::OverdueOnly && worst != Status::Overdue {
        return Ok(Contents::NothingToSay("nothing is overdue"));
    }
    let edition = asked.edition();
    if let Some(rendered) = renderer.owner(snapshot, &edition)? {
        return Ok(Contents::Composed(rendered));
    }
    if mode == Mode::EveryWeek || asked.week.is_fourth() {
        return Ok(Contents::Composed(renderer.nothing_due(snapshot, &edition)?));
    }
    Ok(Contents::NothingToSay("nothing is due on record"))
}
