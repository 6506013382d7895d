//! What happens to engines and parts besides running and work: events, storage, permissions, overhauls of
//! parts, records restarted by the maker, and how engines are built and used.

use super::inspections::release;
use super::{Context, ENTRIES_MAX, NAME_CHARS_MAX, NOTE_CHARS_MAX, end, entry};
use crate::read::{Fields, Node, Value};
use gudgeon_catalogue::meant_word;
use gudgeon_life::fact::{
    Affected, Attribute, ComponentOverhauled, Concession, Content, Described, Entry, Event,
    EventKind, Host, HoursAccepted, MakerRestart, Preserved,
};
use gudgeon_life::ids::{ComponentId, EngineId, ItemId, PositionId, is_slug};
use std::collections::{BTreeMap, BTreeSet};

/// `{on, kind, meter?, note?}`.
pub(crate) fn event(of: Affected, fields: &Fields<'_>, context: &Context) -> Option<Entry> {
    let kind = fields.required("kind").and_then(|it| it.word(&EventKind::ALL, EventKind::word));
    let meter = fields.optional("meter").and_then(|it| it.hours());
    context.private(fields.optional("note"), NOTE_CHARS_MAX);
    context.dated(fields, kind.map(|kind| Content::Event(Event { of, kind, meter })))
}

/// `{on, until?, method?}`.
pub(crate) fn preserved(engine: EngineId, fields: &Fields<'_>, context: &Context) -> Option<Entry> {
    let on = context.day(fields.required("on"));
    let until = end(fields.optional("until"), on);
    context.private(fields.optional("method"), NOTE_CHARS_MAX);
    entry(fields, on, Some(Content::Preserved(Preserved { engine, until })))
}

/// `{on, item, position?, until?, by, reference}`.
pub(crate) fn concession(
    engine: EngineId,
    fields: &Fields<'_>,
    context: &Context,
) -> Option<Entry> {
    let on = context.day(fields.required("on"));
    let item = fields.required("item").and_then(|it| it.slug(ItemId::new));
    let position = fields.optional("position").and_then(|it| it.slug(PositionId::new));
    let until = end(fields.optional("until"), on);
    context.private(fields.required("by"), NAME_CHARS_MAX);
    context.private(fields.required("reference"), NAME_CHARS_MAX);
    let says = item.map(|item| Content::Concession(Concession { engine, item, position, until }));
    entry(fields, on, says)
}

/// `{on, hours, until, reason, by, reference}`: the working figure of an estimate of hours that no log tells.
pub(crate) fn hours_accepted(
    engine: EngineId,
    fields: &Fields<'_>,
    context: &Context,
) -> Option<Entry> {
    let on = context.day(fields.required("on"));
    let hours = fields.required("hours").and_then(|it| it.hours());
    let until = end(fields.required("until"), on);
    context.private(fields.required("reason"), NOTE_CHARS_MAX);
    context.private(fields.required("by"), NAME_CHARS_MAX);
    context.private(fields.required("reference"), NAME_CHARS_MAX);
    let says = hours.zip(until);
    let says =
        says.map(|(hours, until)| Content::HoursAccepted(HoursAccepted { engine, hours, until }));
    entry(fields, on, says)
}

/// `{on, release?}`.
pub(crate) fn overhauled(
    component: ComponentId,
    fields: &Fields<'_>,
    context: &Context,
) -> Option<Entry> {
    let released = fields.optional("release").map(|it| release(&it, context)).is_some();
    let says = Content::ComponentOverhauled(ComponentOverhauled { component, released });
    context.dated(fields, Some(says))
}

/// `{on, by, statement}`: who of the maker or its agents, and what they certified.
pub(crate) fn restarted(engine: EngineId, fields: &Fields<'_>, context: &Context) -> Option<Entry> {
    context.private(fields.required("by"), NAME_CHARS_MAX);
    context.private(fields.required("statement"), NOTE_CHARS_MAX);
    context.dated(fields, Some(Content::MakerRestart(MakerRestart { engine })))
}

/// `{on, ignition?, use?, fuel?, oil?, lubrication?, regime?}`, each a word or a list of words; at least one.
pub(crate) fn described(of: Host, fields: &Fields<'_>, context: &Context) -> Option<Entry> {
    let told = Attribute::ALL.into_iter().filter_map(|attribute| {
        fields.optional(attribute.word()).map(|value| (attribute, words(attribute, &value)))
    });
    let values: BTreeMap<Attribute, BTreeSet<String>> = told.collect();
    let says = if values.is_empty() {
        let names = Attribute::ALL.map(|it| format!("`{}`", it.word())).join(", ");
        fields.fault("use", "missing", format!("say at least one of {names}"));
        None
    } else {
        Some(Content::Described(Described { of, values }))
    };
    context.dated(fields, says)
}

/// One short word, or a list of them, none twice.
fn words(attribute: Attribute, value: &Value<'_>) -> BTreeSet<String> {
    let list = match value.node() {
        Node::List(entries) if entries.is_empty() => {
            value.fault::<()>("empty", "the list is empty; leave the field out instead");
            Vec::new()
        }
        Node::List(_) => value.list(ENTRIES_MAX),
        _ => vec![value.clone()],
    };
    let mut words = BTreeSet::new();
    for entry in &list {
        let word = entry.slug(|text| is_slug(text).then(|| text.to_owned()));
        let Some(word) = word else { continue };
        if let Some(meant) = meant_word(attribute, &word) {
            // A rule for the word that was meant would silently not apply.
            let detail = format!("`{word}` is not a usual word here; did you mean `{meant}`?");
            entry.fault::<()>("unusual-word", detail);
        } else if !words.insert(word.clone()) {
            entry.fault::<()>("twice", format!("the word `{word}` is listed twice"));
        }
    }
    words
}
