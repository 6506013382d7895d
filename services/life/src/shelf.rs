//! Parts on the shelf: until when one may be fitted for the first time.

use crate::calendar::add;
use crate::history::ComponentState;
use crate::programme::{Item, Subject};
use chrono::NaiveDate;

/// The last day on which a part may be fitted for the first time, by the shelf limits of an item; the
/// earliest of several. `None` where the item sets none for such a part, where the part was fitted already,
/// or where its date code does not tell when it was made.
///
/// Source: the shelf lives themselves are the item's (such as ARP5316 for elastomers, counted from the last
/// day of the cure quarter).
#[must_use]
pub fn shelf_ends(part: &ComponentState, item: &Item) -> Option<NaiveDate> {
    let is_its_kind =
        matches!(&item.subject, Subject::Component(kind) if part.kind.as_ref() == Some(kind));
    if !is_its_kind || part.first_fitted().is_some() {
        return None;
    }
    let made = part.made?;
    let shelf = item.limits.iter().filter(|limit| limit.shelf);
    let ends = shelf.flat_map(|limit| {
        let from = made.day(limit.code_day);
        limit.every.spans.iter().map(move |span| add(from, *span, limit.calendar))
    });
    ends.min()
}
