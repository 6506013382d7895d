//! Parts with their own hours or age: their registration, and where they are fitted.

use super::{Context, NOTE_CHARS_MAX, entry, name, papers};
use crate::read::{Fields, Value};
use chrono::NaiveDate;
use gudgeon_life::date_code::{Scheme, decode};
use gudgeon_life::fact::{
    Code, ComponentFitted, ComponentRegistered, ComponentRemoved, Content, Entry, Host,
    RemovalCause,
};
use gudgeon_life::ids::{AircraftId, ComponentId, EngineId, PartKind, PositionId};

/// `{on, kind, serial?, lot?, maker_part?, code?: {scheme, text}, cured_on?, hours, first_fitted_on?,
/// overhauled?: {on, hours_since}}`; `hours` is `null` when not known.
pub(crate) fn component(
    component: ComponentId,
    fields: &Fields<'_>,
    context: &Context,
) -> Option<Entry> {
    let on = context.day(fields.required("on"));
    let kind = fields.required("kind").and_then(|it| it.slug(PartKind::new));
    let serial = name(fields.optional("serial"));
    let lot = name(fields.optional("lot"));
    let maker_part = name(fields.optional("maker_part"));
    let code = fields.optional("code").and_then(|it| code(&it, context));
    let cured_on = cured_on(fields, code.as_ref(), context);
    let hours = fields.nullable("hours").and_then(|it| it.hours());
    let first_fitted_on = context.day(fields.optional("first_fitted_on"));
    let overhauled = fields.optional("overhauled").and_then(|it| papers(&it, on, hours, context));
    let says = || {
        Some(Content::ComponentRegistered(ComponentRegistered {
            component,
            kind: kind?,
            serial,
            lot,
            maker_part,
            code,
            cured_on,
            hours,
            first_fitted_on,
            overhauled,
        }))
    };
    let says = says();
    entry(fields, on, says)
}

/// `{on, engine | aircraft, position?, meter?}`.
pub(crate) fn fitted(
    component: ComponentId,
    fields: &Fields<'_>,
    context: &Context,
) -> Option<Entry> {
    let host = host(fields);
    let position = fields.optional("position").and_then(|it| it.slug(PositionId::new));
    let meter = fields.optional("meter").and_then(|it| it.hours());
    let says = || {
        Some(Content::ComponentFitted(ComponentFitted { component, host: host?, position, meter }))
    };
    context.dated(fields, says())
}

/// `{on, meter?, cause?, reason?}`.
pub(crate) fn removed(
    component: ComponentId,
    fields: &Fields<'_>,
    context: &Context,
) -> Option<Entry> {
    context.private(fields.optional("reason"), NOTE_CHARS_MAX);
    let meter = fields.optional("meter").and_then(|it| it.hours());
    let cause =
        fields.optional("cause").and_then(|it| it.word(&RemovalCause::ALL, RemovalCause::word));
    let says = Content::ComponentRemoved(ComponentRemoved { component, meter, cause });
    context.dated(fields, Some(says))
}

fn host(fields: &Fields<'_>) -> Option<Host> {
    match (fields.optional("engine"), fields.optional("aircraft")) {
        (Some(engine), None) => engine.uid().map(|id| Host::Engine(EngineId(id))),
        (None, Some(aircraft)) => aircraft.uid().map(|id| Host::Aircraft(AircraftId(id))),
        (None, None) => {
            fields.fault("engine", "missing", "name what it was fitted to: `engine` or `aircraft`");
            None
        }
        (Some(_), Some(_)) => {
            let detail = "a part is on an engine or on an aircraft, not on both; leave one out";
            fields.fault("aircraft", "contradiction", detail);
            None
        }
    }
}

/// The day of the cure: of a part that was put together later, not after its code says that it was made.
fn cured_on(fields: &Fields<'_>, code: Option<&Code>, context: &Context) -> Option<NaiveDate> {
    let cured_on = context.day(fields.optional("cured_on"))?;
    let made = code.and_then(|it| decode(it.scheme, &it.text, context.today).ok());
    if let Some(made) = made.filter(|made| cured_on > made.last) {
        let detail =
            format!("cured on {cured_on}, but its code says that it was made by {}", made.last);
        fields.fault("cured_on", "contradiction", detail);
        return None;
    }
    Some(cured_on)
}

/// A code has to be readable by its scheme when it is posted; later readings can only get better.
fn code(value: &Value<'_>, context: &Context) -> Option<Code> {
    let fields = value.object();
    let scheme = fields.required("scheme").and_then(|it| it.word(&Scheme::ALL, Scheme::word));
    let text = name(fields.required("text"));
    let (scheme, text) = scheme.zip(text)?;
    if let Err(error) = decode(scheme, &text, context.today) {
        fields.fault("text", "bad-date-code", error.to_string());
        return None;
    }
    Some(Code { scheme, text })
}
