//! Checks how far an item reaches: what ends it for good, how it goes on past its life, and which engines or
//! parts it is for.

use crate::items::ItemDraft;
use gudgeon_life::programme::{Class, Notice, Subject};

/// What ends an item for good must not end what may happen again.
pub(super) fn check_until(item: &ItemDraft<'_>) {
    if item.table.has("until") && item.table.has("after") {
        let message = "would end it for good, and what comes `after` may happen again; take one of \
                       the two out";
        item.table.fault("until", message);
    }
}

/// What lets an item run on condition begins where its extension ends, leaves its life alone, and comes due
/// with the usual notice.
pub(super) fn check_on_condition(item: &ItemDraft<'_>) {
    let Some(every) = &item.on_condition else { return };
    let fault = |message: &str| item.table.fault("on-condition", message);
    let permits = item.class.is_none_or(Class::permits_tolerance);
    if permits && !item.limits.is_empty() && !item.table.has("extension-percent") {
        fault("begins when `extension-percent` ends, and there is none; add it or take this out");
    }
    if !item.done_by.is_empty() && !item.is_renewal() {
        fault(
            "an inspection lets it run on and begins no new life; expected nothing but renewed or \
             overhauled in `done-by`",
        );
    }
    let usual = Notice::default();
    if let Some(hours) = every.amounts.hours.filter(|hours| *hours <= usual.hours) {
        fault(&format!(
            "found {hours} h; expected more than the usual notice of {} h",
            usual.hours
        ));
    }
    let spans = every.amounts.interval().spans.into_iter();
    for span in spans.filter(|span| span.days_nominal() <= i64::from(usual.days)) {
        fault(&format!("found {span}; expected more than the usual notice of {} days", usual.days));
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
