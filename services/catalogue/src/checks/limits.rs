//! Checks each limit: whether its count has a beginning, comes to an end, and holds no key without effect.

use crate::items::ItemDraft;
use crate::limits::LimitDraft;
use gudgeon_life::calendar::CalendarMode;
use gudgeon_life::programme::{Action, CountsFrom, Subject};

/// Every limit of an item, and their names among each other.
pub(super) fn check_limits(item: &ItemDraft<'_>) {
    let on_engine = item.subject == Some(Subject::Engine);
    for (at, limit) in item.limits.iter().enumerate() {
        check_counts_from(limit, on_engine);
        check_once_and_first(limit);
        if matches!(item.subject, Some(Subject::Component(_))) {
            check_goes_on(item, limit);
        }
        check_shelf(limit, on_engine);
        check_calendar(limit, on_engine);
        let earlier = item.limits.iter().take(at);
        if limit.name.is_some() && earlier.into_iter().any(|other| other.name == limit.name) {
            limit.table.fault("name", "stands on an earlier limit too; expected each name once");
        }
    }
}

fn check_counts_from(limit: &LimitDraft<'_>, on_engine: bool) {
    match limit.counts_from {
        Some(CountsFrom::FirstFitted | CountsFrom::Fitted) if on_engine => {
            let message = "found a fitting of the engine itself; expected new, overhaul, made, \
                           effective or done, or a `component` that is fitted";
            limit.table.fault("counts-from", message);
        }
        Some(CountsFrom::Done) if !limit.once.is_empty() => {
            let message = "found steps counted from the last of them; expected new, overhaul, fitted \
                           or another beginning that stands";
            limit.table.fault("counts-from", message);
        }
        Some(CountsFrom::Made) if limit.counts_hours() => {
            let message = "found hours counted from a day; expected `counts-from = \"new\"` for \
                           hours, and `made` for calendar time alone";
            limit.table.fault("counts-from", message);
        }
        _ => {}
    }
}

fn check_shelf(limit: &LimitDraft<'_>, on_engine: bool) {
    if !limit.shelf {
        return;
    }
    if on_engine {
        let message = "found a shelf life of the engine itself; expected a `component` beside it";
        limit.table.fault("shelf", message);
    } else if limit.counts_from.is_some_and(|from| from != CountsFrom::Made) {
        let message = "a shelf life runs from the day the part was made; expected \
                       `counts-from = \"made\"`";
        limit.table.fault("shelf", message);
    }
}

fn check_calendar(limit: &LimitDraft<'_>, on_engine: bool) {
    if limit.calendar == Some(CalendarMode::EndOfMonth) && !limit.counts_months() {
        let message = "`end-of-month` acts on months, and `every` has none; take it out";
        limit.table.fault("calendar", message);
    } else if limit.calendar.is_some() && !limit.counts_calendar() {
        let message = "acts on months and days, and `every` has neither; take it out";
        limit.table.fault("calendar", message);
    }
    let from_code = matches!(limit.counts_from, None | Some(CountsFrom::Made | CountsFrom::New));
    if limit.code_day.is_some() && (on_engine || !from_code || !limit.counts_calendar()) {
        let message = "acts on the date code of a part, in a calendar limit of a `component` that \
                       counts from made or new; take it out";
        limit.table.fault("code-day", message);
    }
}

fn check_once_and_first(limit: &LimitDraft<'_>) {
    if limit.shelf {
        for key in ["once", "first"].into_iter().filter(|key| limit.table.has(key)) {
            limit.table.fault(key, "a shelf life runs once, from made to fitted; take it out");
        }
        return;
    }
    let Some(first) = &limit.first else { return };
    if limit.table.has("once") {
        let message =
            "stands beside `once`, whose steps come first already; take one of the two out";
        limit.table.fault("first", message);
    } else if limit.counts_from == Some(CountsFrom::Done) {
        let message = "counts from a beginning, and `done` has none before it was done; expected \
                       another `counts-from`, or the key left out";
        limit.table.fault("first", message);
    } else if limit.every.as_ref().is_some_and(|every| every.amounts == first.amounts) {
        limit.table.fault("first", "is the same as `every`; take it out");
    }
}

/// Only a new part follows a part that is renewed, and its life begins at the beginning: what should come
/// after the first interval or the last step never would.
fn check_goes_on(item: &ItemDraft<'_>, limit: &LimitDraft<'_>) {
    let renewed_alone = item.done_by.iter().all(|action| *action == Action::Renewed);
    let counts_again =
        matches!(limit.counts_from, None | Some(CountsFrom::Done | CountsFrom::Effective(_)));
    if counts_again || limit.shelf || item.done_by.is_empty() || !renewed_alone {
        return;
    }
    for key in ["once", "first"].into_iter().filter(|key| limit.table.has(key)) {
        let message = "a part that is renewed begins again from the beginning, so what follows would \
                       never come; expected `every` alone, or other work in `done-by`";
        limit.table.fault(key, message);
    }
}
