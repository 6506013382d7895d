//! What a workshop is told: the work that comes in on the engines that it holds.

use super::{Asked, Contents};
use crate::render::{RenderError, Renderer};
use crate::snapshot::ShopSnapshot;
use gudgeon_life::preference::Mode;
use gudgeon_life::status::Status;

/// What the mail says, in the mode that the workshop chose.
pub(super) fn contents(
    renderer: &Renderer,
    snapshot: &ShopSnapshot,
    asked: &Asked,
) -> Result<Contents, RenderError> {
    let engines = &snapshot.engines;
    let overdue = engines.iter().any(|engine| engine.worst(asked.as_of) == Status::Overdue);
    if asked.preference.mode == Mode::OverdueOnly && !overdue {
        return Ok(Contents::NothingToSay("nothing is overdue on the engines in their hands"));
    }
    Ok(match renderer.shop(snapshot, &asked.edition())? {
        Some(mail) => Contents::Composed(mail),
        None => Contents::NothingToSay("no work is coming in and no post needs a correction"),
    })
}
