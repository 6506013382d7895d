//! What a workshop found and did.

use super::hardware::{fastening, matched_set, photos};
use super::measurements::measurement;
use super::{Context, ENTRIES_MAX, NAME_CHARS_MAX, NOTE_CHARS_MAX, end, entry, name};
use crate::read::{Fields, Node, Value};
use chrono::NaiveDate;
use gudgeon_life::fact::{
    Condition, Content, Entry, Finding, Inspection, InspectionReading, Mark, OverhaulScope,
    Recheck, WorkDone,
};
use gudgeon_life::hours::Hours;
use gudgeon_life::ids::{EngineId, ItemId, PartyId, PositionId};
use gudgeon_life::programme::Action;

/// `{engine, shop?, work_order?, sheet?, opened_on, released_on, readings?, tsn?, findings?, measurements?,
/// work?, marks?, matched?, fastenings?, overhaul?, test_run?, run_in?, release?, note?}`.
pub(crate) fn inspection(fields: &Fields<'_>, context: &Context) -> Option<Entry> {
    let engine = fields.required("engine").and_then(|it| it.uid()).map(EngineId);
    let shop = shop(fields, context);
    let work_order = name(fields.optional("work_order"));
    let sheet = fields.optional("sheet").and_then(|it| it.slug(ItemId::new));
    let days = days(fields, context);
    let readings = each(fields, "readings", |it| reading(it, days, context));
    let tsn = fields.optional("tsn").and_then(|it| it.hours());
    let findings = each(fields, "findings", |it| finding(it, days, context));
    let measurements = each(fields, "measurements", measurement);
    let work = each(fields, "work", |it| work(it, context));
    let marks = each(fields, "marks", mark);
    let matched = each(fields, "matched", matched_set);
    let fastenings = each(fields, "fastenings", fastening);
    let overhaul = fields.optional("overhaul").and_then(|it| {
        let scope = it.object().required("scope")?;
        scope.word(&OverhaulScope::ALL, OverhaulScope::word)
    });
    let test_run = fields.optional("test_run").and_then(|it| it.hours());
    let run_in = fields.optional("run_in").and_then(|it| it.hours());
    let released = fields.optional("release").map(|it| release(&it, context)).is_some();
    context.private(fields.optional("note"), NOTE_CHARS_MAX);
    let says = || {
        Some(Content::Inspection(Inspection {
            engine: engine?,
            shop: shop?,
            work_order,
            sheet,
            opened_on: days?.0,
            released,
            readings,
            tsn,
            findings,
            measurements,
            work,
            marks,
            overhaul,
            test_run,
            run_in,
            fastenings,
            matched,
        }))
    };
    let says = says();
    entry(fields, days.map(|(_, released_on)| released_on), says)
}

/// The workshop: that of the key, unless the operator posts in its name.
fn shop(fields: &Fields<'_>, context: &Context) -> Option<PartyId> {
    let Some(own) = context.shop else {
        return fields.required("shop").and_then(|it| it.uid()).map(PartyId);
    };
    let Some(value) = fields.optional("shop") else { return Some(own) };
    let named = PartyId(value.uid()?);
    if named == own {
        return Some(own);
    }
    value.fault("not-yours", "this key belongs to another workshop; leave `shop` out")
}

/// The days opened and released.
fn days(fields: &Fields<'_>, context: &Context) -> Option<(NaiveDate, NaiveDate)> {
    let opened_on = context.day(fields.required("opened_on"));
    let released_on = context.day(fields.required("released_on"));
    let (opened_on, released_on) = opened_on.zip(released_on)?;
    if opened_on > released_on {
        let detail =
            format!("released on {released_on}, before the work was opened on {opened_on}");
        fields.fault("released_on", "before-opened", detail);
        return None;
    }
    Some((opened_on, released_on))
}

/// `{on?, meter}`; without a day it was read on the day of release.
fn reading(
    value: &Value<'_>,
    days: Option<(NaiveDate, NaiveDate)>,
    context: &Context,
) -> Option<InspectionReading> {
    let fields = value.object();
    let meter = fields.required("meter").and_then(|it| it.hours());
    let on = match fields.optional("on") {
        Some(on) => {
            let day = context.day(Some(on.clone()))?;
            let (opened_on, released_on) = days?;
            if !(opened_on..=released_on).contains(&day) {
                let detail =
                    format!("read on {day}, but the work ran from {opened_on} to {released_on}");
                return on.fault("outside-work", detail);
            }
            day
        }
        None => days?.1,
    };
    Some(InspectionReading { on, meter: meter? })
}

/// `{item, position?, condition, recheck?, photos?, note?}`.
fn finding(
    value: &Value<'_>,
    days: Option<(NaiveDate, NaiveDate)>,
    context: &Context,
) -> Option<Finding> {
    let fields = value.object();
    let item = fields.required("item").and_then(|it| it.slug(ItemId::new));
    let position = fields.optional("position").and_then(|it| it.slug(PositionId::new));
    let condition =
        fields.required("condition").and_then(|it| it.word(&Condition::ALL, Condition::word));
    let recheck = fields.optional("recheck").and_then(|it| match condition {
        Some(Condition::Monitor) => recheck(&it, days.map(|(_, released_on)| released_on)),
        // The fault of a condition that cannot be read is on record already.
        None => None,
        Some(other) => it.fault(
            "contradiction",
            format!(
                "only what is to be watched is looked at again, and this is `{}`",
                other.word()
            ),
        ),
    });
    let photos = photos(&fields);
    context.private(fields.optional("note"), NOTE_CHARS_MAX);
    Some(Finding { item: item?, position, condition: condition?, recheck, photos })
}

/// `{hours?, on?}`: one of them at least; whichever comes first counts.
fn recheck(value: &Value<'_>, released_on: Option<NaiveDate>) -> Option<Recheck> {
    let fields = value.object();
    let (by_hours, by_day) = (fields.optional("hours"), fields.optional("on"));
    if by_hours.is_none() && by_day.is_none() && matches!(value.node(), Node::Object(_)) {
        return value.fault("missing", "say when to look again: after `hours`, or by `on`");
    }
    let hours = by_hours.and_then(|it| match it.hours() {
        Some(Hours::ZERO) => it.fault("out-of-range", "look again after more than no hours"),
        hours => hours,
    });
    Some(Recheck { hours, on: end(by_day, released_on) })
}

/// `{item, positions?, action, note?}`.
fn work(value: &Value<'_>, context: &Context) -> Option<WorkDone> {
    let fields = value.object();
    let item = fields.required("item").and_then(|it| it.slug(ItemId::new));
    let positions = position_list(&fields);
    let action = fields.required("action").and_then(|it| it.word(&Action::ALL, Action::word));
    context.private(fields.optional("note"), NOTE_CHARS_MAX);
    Some(WorkDone { item: item?, positions, action: action? })
}

/// Positions in the order given, none twice.
fn position_list(fields: &Fields<'_>) -> Vec<PositionId> {
    let mut positions: Vec<PositionId> = Vec::new();
    for value in fields.optional("positions").map_or(Vec::new(), |it| it.list(ENTRIES_MAX)) {
        match value.slug(PositionId::new) {
            Some(position) if positions.contains(&position) => {
                value.fault::<()>("twice", format!("the position `{position}` is listed twice"));
            }
            position => positions.extend(position),
        }
    }
    positions
}

/// `{item, position?, text, photos?}`.
fn mark(value: &Value<'_>) -> Option<Mark> {
    let fields = value.object();
    let item = fields.required("item").and_then(|it| it.slug(ItemId::new));
    let position = fields.optional("position").and_then(|it| it.slug(PositionId::new));
    let text = name(fields.required("text"));
    let photos = photos(&fields);
    Some(Mark { item: item?, position, text: text?, photos })
}

/// `{by, licence?, reference?}`: recorded, never given by us.
pub(super) fn release(value: &Value<'_>, context: &Context) {
    let fields = value.object();
    context.private(fields.required("by"), NAME_CHARS_MAX);
    context.private(fields.optional("licence"), NAME_CHARS_MAX);
    context.private(fields.optional("reference"), NAME_CHARS_MAX);
}

/// Every entry of an optional list.
fn each<T>(
    fields: &Fields<'_>,
    name: &'static str,
    read: impl Fn(&Value<'_>) -> Option<T>,
) -> Vec<T> {
    let list = fields.optional(name).map_or(Vec::new(), |it| it.list(ENTRIES_MAX));
    list.iter().filter_map(read).collect()
}
