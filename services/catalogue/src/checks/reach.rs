//! Checks how far an item reaches: what ends it for good, and which engines or parts it is for.

use crate::items::ItemDraft;
use gudgeon_life::programme::Subject;

/// What ends an item for good must not end what may happen again.
pub(super) fn check_until(item: &ItemDraft<'_>) {
    if item.table.has("until") && item.table.has("after") {
        let message = "would end it for good, and what comes `after` may happen again; take one of \
                       the two out";
        item.table.fault("until", message);
    }
}

/// Whether every key of `applies-to` has something to ask.
pub(super) fn check_applies(item: &ItemDraft<'_>) {
    let Some(draft) = &item.applies else { return };
    let table = &draft.table;
    let marked = table.has("serials") || table.has("lots");
    if table.has("part") && !marked {
        let message = "says which part `serials` and `lots` are of, and there are none; add them or \
                       take it out";
        table.fault("part", message);
    }
    match &item.subject {
        Some(Subject::Engine) if table.has("lots") && !table.has("part") => {
            let message = "an engine has no lot; expected `part` beside it, or an item about a \
                           `component`";
            table.fault("lots", message);
        }
        Some(Subject::Component(kind)) if draft.applies.part.as_ref() == Some(kind) => {
            table.fault("part", format!("the item is about each `{kind}` already; take it out"));
        }
        _ => {}
    }
}
