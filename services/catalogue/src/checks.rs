//! Checks what the tables say against one another: rules that contradict themselves, names that lead
//! nowhere, keys that would act on nothing.
//!
//! A key that acts on nothing is refused like a wrong one: whoever wrote it counted on it.

pub(crate) mod bench;
mod limits;
mod reach;

use crate::items::{ItemDraft, PositionDraft};
use crate::limits::LimitDraft;
use crate::nearest::nearest;
use crate::read::{Table, one_of};
use gudgeon_life::calendar::CalendarSpan;
use gudgeon_life::hours::Hours;
use gudgeon_life::ids::ItemId;
use gudgeon_life::programme::{Class, NextPolicy, Notice};
use std::collections::BTreeMap;

/// Every position once, and every position that an item names.
pub(crate) fn check_positions(positions: &[PositionDraft<'_>], items: &[ItemDraft<'_>]) {
    let mut lines = BTreeMap::new();
    for position in positions {
        if let Some(id) = &position.id
            && let Some(line) = lines.insert(id, position.table.line())
        {
            let message = format!("`{id}` is on line {line} already; expected each position once");
            position.table.fault("id", message);
        }
    }
    for item in items {
        for id in item.positions.iter().filter(|id| !lines.contains_key(*id)) {
            let known = || lines.keys().map(|id| id.as_str());
            item.table.fault("positions", no_such("position", id.as_str(), known));
        }
    }
}

/// Every item by itself, then against the others.
pub(crate) fn check_items(items: &[ItemDraft<'_>]) {
    let mut by_id: BTreeMap<&ItemId, &ItemDraft<'_>> = BTreeMap::new();
    for item in items {
        limits::check_limits(item);
        reach::check_until(item);
        reach::check_applies(item);
        check_permission(item);
        reach::check_on_condition(item);
        check_tolerance(item);
        check_next(item);
        check_notice(item);
        let Some(id) = &item.id else { continue };
        if let Some(first) = by_id.get(id) {
            let line = first.table.line();
            let message = format!("`{id}` is on line {line} already; expected each item once");
            item.table.fault("id", message);
        } else {
            by_id.insert(id, item);
        }
    }
    for item in items {
        check_satisfied_by(item, &by_id);
    }
}

pub(crate) fn no_such<'k, I: Iterator<Item = &'k str>>(
    what: &str,
    typed: &str,
    known: impl Fn() -> I,
) -> String {
    nearest(typed, known()).map_or_else(
        || {
            let known = known().collect::<Vec<_>>().join(", ");
            format!("found no {what} `{typed}`; expected one of {known}")
        },
        |meant| format!("found no {what} `{typed}`; did you mean `{meant}`?"),
    )
}

/// Why a key about intervals is refused where only a happening asks for the work.
const DUE_AT_ONCE: &str = "acts on intervals, and what comes `after` something is due at once; take \
     it out";

/// Whether anything may run late at all.
fn check_permission(item: &ItemDraft<'_>) {
    let has_tolerance = item.table.has("tolerance");
    let has_extension = item.table.has("extension-percent");
    let has_shelf = item.limits.iter().any(|limit| limit.shelf);
    let late = ["tolerance", "extension-percent", "on-condition"];
    for key in late.into_iter().filter(|key| item.table.has(key)) {
        if let Some(class) = item.class.filter(|class| !class.permits_tolerance()) {
            let message = format!("class `{}` never runs late; take it out", class.word());
            item.table.fault(key, message);
        }
        if has_shelf {
            item.table.fault(key, "a part past its shelf life is not fitted; take it out");
        }
        if item.limits.is_empty() {
            item.table.fault(key, DUE_AT_ONCE);
        }
    }
    if has_extension && item.class == Some(Class::RequiredInspection) {
        let message = "runs beyond a recommended life, and this inspection is required; take it \
                       out, or use `tolerance` where the rule gives one";
        item.table.fault("extension-percent", message);
    }
    if has_extension && has_tolerance {
        let message = "no tolerance comes on top of `extension-percent`; take one of the two out";
        item.table.fault("tolerance", message);
    }
    if has_tolerance && !item.table.has("granted") {
        let message = "missing; expected what the tolerance needs: automatic, before-due or \
                       en-route";
        item.table.fault("granted", message);
    }
    if item.table.has("granted") && !has_tolerance {
        item.table.fault("granted", "acts on `tolerance`, and there is none; take it out");
    }
}

fn check_tolerance(item: &ItemDraft<'_>) {
    let Some((table, tolerance)) = &item.tolerance else { return };
    if !["hours", "months", "days", "percent"].into_iter().any(|key| table.has(key)) {
        let message = "found nothing to act on; expected hours, months, days or percent";
        item.table.fault("tolerance", message);
    }
    for key in ["hours-max", "days-max"].into_iter().filter(|key| table.has(key)) {
        if !table.has("percent") {
            table.fault(key, "acts on `percent`, and there is none; add it or take this out");
        }
    }
    refuse_without_leg(item, table, &["hours", "hours-max"], &["months", "days", "days-max"]);
    if let (Some(hours), Some(every)) = (tolerance.hours, shortest_hours(item))
        && hours >= every
    {
        let message = format!("found {hours} h; expected less than the interval of {every} h");
        table.fault("hours", message);
    }
    let months = tolerance.months.map(CalendarSpan::months);
    for span in months.into_iter().chain(tolerance.days.map(CalendarSpan::days)) {
        if let Some(every) = shortest_days(item).filter(|every| span.days_nominal() >= *every) {
            let message =
                format!("found {span}; expected less than the interval of some {every} days");
            item.table.fault("tolerance", message);
        }
    }
}

/// Refuses keys about hours where no limit counts hours, and about days where none counts days.
fn refuse_without_leg(
    item: &ItemDraft<'_>,
    table: &Table<'_>,
    hours_keys: &[&str],
    calendar_keys: &[&str],
) {
    let refuse = |keys: &[&str], what: &str| {
        for key in keys.iter().filter(|key| table.has(key)) {
            table
                .fault(key, format!("the item counts no {what}, so it would not act; take it out"));
        }
    };
    if !item.limits.iter().any(LimitDraft::counts_hours) {
        refuse(hours_keys, "hours");
    }
    if !item.limits.iter().any(LimitDraft::counts_calendar) {
        refuse(calendar_keys, "calendar time");
    }
}

fn shortest_hours(item: &ItemDraft<'_>) -> Option<Hours> {
    let every = |limit: &LimitDraft<'_>| limit.intervals().filter_map(|it| it.amounts.hours).min();
    let steps = |limit: &LimitDraft<'_>| {
        let before = std::iter::once(Hours::ZERO).chain(limit.once.iter().copied());
        limit.once.iter().zip(before).map(|(step, before)| *step - before).min()
    };
    item.limits.iter().flat_map(|limit| [every(limit), steps(limit)]).flatten().min()
}

/// A month counts 30 days here, as it does for a tolerance in percent.
fn shortest_days(item: &ItemDraft<'_>) -> Option<i64> {
    let intervals = item.limits.iter().flat_map(LimitDraft::intervals);
    intervals.flat_map(|it| it.amounts.interval().spans).map(CalendarSpan::days_nominal).min()
}

fn check_next(item: &ItemDraft<'_>) {
    let policies = one_of(&NextPolicy::ALL, NextPolicy::word);
    match item.next {
        // While `done-by` cannot be read it is not known what repeats.
        Some(_) if !item.done_by.is_empty() && !item.repeats() => {
            item.table.fault("next", "acts on what repeats, and nothing does here; take it out");
        }
        Some(NextPolicy::FromDue | NextPolicy::Window) if item.is_renewal() => {
            let message = "a renewal or an overhaul always counts from done; expected from-done, \
                           or the key left out";
            item.table.fault("next", message);
        }
        Some(NextPolicy::Window) if item.table.has("extension-percent") => {
            let message = "`window` is the width of a `tolerance`, and none comes on top of \
                           `extension-percent`; expected from-due or from-done";
            item.table.fault("next", message);
        }
        Some(NextPolicy::Window) if !item.table.has("tolerance") => {
            let message = "`window` is the width of a `tolerance`, and there is none; add it, or \
                           expected from-due or from-done";
            item.table.fault("next", message);
        }
        None if !item.table.has("next") && item.repeats() && !item.is_renewal() => {
            let message =
                format!("missing; expected {policies}: where the next interval starts after work");
            item.table.fault("next", message);
        }
        _ => {}
    }
}

/// A notice as long as the interval would say "coming due" from the day the work was done.
fn check_notice(item: &ItemDraft<'_>) {
    if item.limits.is_empty() && item.table.has("notice") {
        item.table.fault("notice", DUE_AT_ONCE);
        return;
    }
    let (hours, days) = match &item.notice {
        Some((table, notice)) => {
            refuse_without_leg(item, table, &["hours"], &["days"]);
            (notice.hours, notice.days)
        }
        None => (Notice::default().hours, Notice::default().days),
    };
    if let Some(every) = shortest_hours(item)
        && hours >= every
    {
        let message = format!("is {hours} h; expected less than the interval of {every} h");
        item.table.fault("notice", message);
    }
    if let Some(every) = shortest_days(item)
        && i64::from(days) >= every
    {
        let message = format!("is {days} days; expected less than the interval of {every} days");
        item.table.fault("notice", message);
    }
}

fn check_satisfied_by(item: &ItemDraft<'_>, by_id: &BTreeMap<&ItemId, &ItemDraft<'_>>) {
    for larger_id in &item.satisfied_by {
        let fault = |message: String| item.table.fault("satisfied-by", message);
        if item.id.as_ref() == Some(larger_id) {
            fault(format!("found the item itself, `{larger_id}`; expected a larger item"));
            continue;
        }
        let Some(larger) = by_id.get(larger_id) else {
            let known = || by_id.keys().map(|id| id.as_str());
            fault(no_such("item", larger_id.as_str(), known));
            continue;
        };
        if item.id.as_ref().is_some_and(|id| larger.satisfied_by.contains(id)) {
            fault(format!("found `{larger_id}`, which this item closes; expected one way only"));
        }
        if larger.subject != item.subject {
            fault(format!("found `{larger_id}`, which is about another part; expected the same"));
        }
        // Work on one cylinder must not close what is due on the other, or on the whole engine.
        let everywhere = larger.positions.is_empty();
        let covered = item.positions.iter().all(|position| larger.positions.contains(position));
        if !everywhere && (item.positions.is_empty() || !covered) {
            fault(format!(
                "found `{larger_id}`, which is not done at every position of this item; expected \
                 one that is"
            ));
        }
    }
}
