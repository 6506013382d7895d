//! Aircraft and engines: their registration, where engines are, and what hour meters show.

use super::{Context, entry, name, papers};
use crate::read::Fields;
use gudgeon_life::fact::{
    AircraftRegistered, Content, EngineInstalled, EngineRegistered, EngineRemoved, Entry, Host,
    MeterChanged, Reading,
};
use gudgeon_life::hours::{Basis, Hours};
use gudgeon_life::ids::{AircraftId, EngineId, ItemId};
use gudgeon_life::sure::rate::Owner;
use gudgeon_life::sure::season::Hemisphere;

/// `{on, mark, basis, flown_by?, hemisphere?}`.
pub(crate) fn aircraft(
    aircraft: AircraftId,
    fields: &Fields<'_>,
    context: &Context,
) -> Option<Entry> {
    let mark = name(fields.required("mark"));
    let basis = basis(fields);
    let flown_by = fields.optional("flown_by").and_then(|it| it.word(&Owner::ALL, Owner::word));
    let hemisphere =
        fields.optional("hemisphere").and_then(|it| it.word(&Hemisphere::ALL, Hemisphere::word));
    let says = mark.zip(basis).map(|(mark, basis)| {
        let (flown_by, hemisphere) = (flown_by.unwrap_or_default(), hemisphere.unwrap_or_default());
        let registered = AircraftRegistered { aircraft, mark, basis, flown_by, hemisphere };
        Content::AircraftRegistered(registered)
    });
    context.dated(fields, says)
}

/// `{on, engine_type, serial, basis, tsn, made_on?, overhauled?: {on, hours_since}}`; `tsn` is `null` for an engine without a log.
pub(crate) fn engine(engine: EngineId, fields: &Fields<'_>, context: &Context) -> Option<Entry> {
    let on = context.day(fields.required("on"));
    let engine_type = fields.required("engine_type").and_then(|it| it.slug(ItemId::new));
    let serial = name(fields.required("serial"));
    let basis = basis(fields);
    let tsn = fields.nullable("tsn").and_then(|it| it.hours());
    let made_on = context.day(fields.optional("made_on"));
    let overhauled = fields.optional("overhauled").and_then(|it| papers(&it, on, tsn, context));
    let says = || {
        Some(Content::EngineRegistered(EngineRegistered {
            engine,
            engine_type: engine_type?,
            serial: serial?,
            basis: basis?,
            tsn,
            made_on,
            overhauled,
        }))
    };
    let says = says();
    entry(fields, on, says)
}

/// `{on, aircraft, meter}`.
pub(crate) fn installed(engine: EngineId, fields: &Fields<'_>, context: &Context) -> Option<Entry> {
    let aircraft = fields.required("aircraft").and_then(|it| it.uid()).map(AircraftId);
    let says = aircraft.zip(meter(fields)).map(|(aircraft, meter)| {
        Content::EngineInstalled(EngineInstalled { engine, aircraft, meter })
    });
    context.dated(fields, says)
}

/// `{on, meter}`.
pub(crate) fn removed(engine: EngineId, fields: &Fields<'_>, context: &Context) -> Option<Entry> {
    let says = meter(fields).map(|meter| Content::EngineRemoved(EngineRemoved { engine, meter }));
    context.dated(fields, says)
}

/// `{on, meter}`.
pub(crate) fn reading(of: Host, fields: &Fields<'_>, context: &Context) -> Option<Entry> {
    let says = meter(fields).map(|meter| Content::Reading(Reading { of, meter }));
    context.dated(fields, says)
}

/// `{on, old_end, new_start}`.
pub(crate) fn meter_changed(
    aircraft: AircraftId,
    fields: &Fields<'_>,
    context: &Context,
) -> Option<Entry> {
    let old_end = fields.required("old_end").and_then(|it| it.hours());
    let new_start = fields.required("new_start").and_then(|it| it.hours());
    let says = old_end.zip(new_start).map(|(old_end, new_start)| {
        Content::MeterChanged(MeterChanged { aircraft, old_end, new_start })
    });
    context.dated(fields, says)
}

fn basis(fields: &Fields<'_>) -> Option<Basis> {
    fields.required("basis").and_then(|it| it.word(&Basis::ALL, Basis::word))
}

fn meter(fields: &Fields<'_>) -> Option<Hours> {
    fields.required("meter").and_then(|it| it.hours())
}
