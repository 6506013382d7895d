//! A stored fact in the shape in which it was posted, with what the server added.
//!
//! What travels beside a fact (names, notes, hours as written) is put back at its place by its JSON pointer.

use super::inspections::inspection;
use super::instant;
use crate::requests::UNDATED;
use gudgeon_life::fact::{
    Affected, AircraftRegistered, Amendment, ComponentRegistered, ComponentRemoved, Concession,
    Content, Described, Entry, Host, HoursAccepted, Papers, RemovalCause, Stream, StreamKind,
};
use gudgeon_life::sure::rate::Owner;
use gudgeon_life::sure::season::Hemisphere;
use gudgeon_life::version::hex;
use gudgeon_store::{Store, StoreError, Stored, photos_named};
use serde_json::{Map, Value, json};
use std::collections::{BTreeMap, BTreeSet};

/// A fact as it is kept.
pub(crate) fn record(stored: &Stored) -> Value {
    let mut body = posted(&stored.fact.entry, &stored.texts.as_posted, &stored.texts.private);
    if let Value::Object(fields) = &mut body {
        fields.insert("id".to_owned(), json!(stored.fact.id.to_string()));
        fields.insert("fact".to_owned(), json!(kind(&stored.fact.entry.content)));
        fields.insert("stream".to_owned(), stream(stored.stream));
        fields.insert("seq".to_owned(), json!(stored.seq));
        fields.insert("hash".to_owned(), json!(hex(stored.hash)));
        fields.insert("received_at".to_owned(), json!(instant(stored.received_at)));
        fields.insert("recorded_at".to_owned(), json!(stored.recorded_at.map(instant)));
        fields.insert("posted_by".to_owned(), json!(stored.by.map(|id| id.to_string())));
    }
    body
}

/// The photographs that records name, each with whether it is here.
pub(crate) fn photos_of<'a>(
    store: &Store,
    contents: impl IntoIterator<Item = &'a Content>,
) -> Result<Value, StoreError> {
    let named: BTreeSet<[u8; 32]> = contents.into_iter().flat_map(photos_named).collect();
    let named: Vec<[u8; 32]> = named.into_iter().collect();
    let states = store.photo_states(&named)?.into_iter();
    let told =
        states.map(|(digest, state)| json!({ "sha256": hex(digest), "state": state.word() }));
    Ok(Value::Array(told.collect()))
}

/// A fact in the shape in which it was posted.
pub(crate) fn posted(
    entry: &Entry,
    as_posted: &BTreeMap<String, String>,
    private: &BTreeMap<String, String>,
) -> Value {
    let mut body = entry_body(entry);
    for (pointer, text) in as_posted.iter().chain(private) {
        put_back(&mut body, pointer, text);
    }
    body
}

/// The kind of a fact, as answers name it.
pub(crate) const fn kind(content: &Content) -> &'static str {
    match content {
        Content::PartyRegistered(_) => "party-registered",
        Content::AircraftRegistered(_) => "aircraft-registered",
        Content::EngineRegistered(_) => "engine-registered",
        Content::ComponentRegistered(_) => "component-registered",
        Content::Ownership(_) => "ownership",
        Content::Custody(_) => "custody",
        Content::Erased(_) => "erased",
        Content::EngineRemoved(_) => "engine-removed",
        Content::EngineInstalled(_) => "engine-installed",
        Content::ComponentRemoved(_) => "component-removed",
        Content::ComponentFitted(_) => "component-fitted",
        Content::MeterChanged(_) => "meter-changed",
        Content::Reading(_) => "reading",
        Content::Inspection(_) => "inspection",
        Content::Event(_) => "event",
        Content::Preserved(_) => "preserved",
        Content::Concession(_) => "concession",
        Content::HoursAccepted(_) => "hours-accepted",
        Content::ComponentOverhauled(_) => "component-overhauled",
        Content::MakerRestart(_) => "maker-restart",
        Content::Described(_) => "described",
        Content::ProgrammeActivated(_) => "programme-activated",
        Content::Amendment(_) => "amendment",
    }
}

fn stream(stream: Stream) -> Value {
    json!({ "kind": stream_word(stream.kind), "id": stream.id.to_string() })
}

pub(crate) const fn stream_word(kind: StreamKind) -> &'static str {
    match kind {
        StreamKind::Party => "party",
        StreamKind::Aircraft => "aircraft",
        StreamKind::Engine => "engine",
        StreamKind::Component => "component",
        StreamKind::Fleet => "fleet",
    }
}

fn entry_body(entry: &Entry) -> Value {
    let mut body = content_body(&entry.content);
    if let Value::Object(fields) = &mut body {
        match &entry.content {
            Content::Inspection(_) => {
                fields.insert("released_on".to_owned(), json!(entry.on.to_string()));
            }
            // An amendment's day is that of what it puts in place.
            Content::Amendment(_) => {}
            _ if entry.on == UNDATED => {}
            _ => {
                fields.insert("on".to_owned(), json!(entry.on.to_string()));
            }
        }
        if entry.order_in_day != 0 {
            fields.insert("order_in_day".to_owned(), json!(entry.order_in_day));
        }
        fields.retain(|_, value| !value.is_null());
    }
    body
}

fn aircraft(it: &AircraftRegistered) -> Value {
    json!({
        "mark": it.mark,
        "basis": it.basis.word(),
        "flown_by": (it.flown_by != Owner::Unknown).then(|| it.flown_by.word()),
        "hemisphere": (it.hemisphere != Hemisphere::Unknown).then(|| it.hemisphere.word()),
    })
}

fn content_body(content: &Content) -> Value {
    match content {
        Content::PartyRegistered(it) => json!({
            "role": it.role.word(),
        }),
        Content::AircraftRegistered(it) => aircraft(it),
        Content::EngineRegistered(it) => json!({
            "engine_type": it.engine_type.as_str(),
            "serial": it.serial,
            "basis": it.basis.word(),
            "tsn": text(it.tsn),
            "made_on": text(it.made_on),
            "overhauled": it.overhauled.map(papers),
        }),
        Content::ComponentRegistered(it) => component(it),
        Content::Ownership(it) => with(host(it.of), "owner", it.owner.to_string()),
        Content::Custody(it) => json!({
            "engine": it.engine.to_string(),
            "shop": it.shop.to_string(),
            "until": text(it.until),
        }),
        Content::Erased(it) => json!({
            "party": it.party.to_string(),
            "notes": it.notes,
            "records": it.facts.iter().map(ToString::to_string).collect::<Vec<_>>(),
            "photos": it.photos.iter().map(|photo| hex(*photo)).collect::<Vec<_>>(),
        }),
        Content::EngineRemoved(it) => {
            json!({ "engine": it.engine.to_string(), "meter": it.meter.to_string() })
        }
        Content::EngineInstalled(it) => json!({
            "engine": it.engine.to_string(),
            "aircraft": it.aircraft.to_string(),
            "meter": it.meter.to_string(),
        }),
        Content::ComponentRemoved(it) => removed(it),
        Content::ComponentFitted(it) => {
            let mut fields = host(it.host);
            fields.insert("component".to_owned(), json!(it.component.to_string()));
            fields.insert("position".to_owned(), json!(text(it.position.as_ref())));
            fields.insert("meter".to_owned(), json!(text(it.meter)));
            Value::Object(fields)
        }
        Content::MeterChanged(it) => json!({
            "aircraft": it.aircraft.to_string(),
            "old_end": it.old_end.to_string(),
            "new_start": it.new_start.to_string(),
        }),
        Content::Reading(it) => with(host(it.of), "meter", it.meter.to_string()),
        Content::Inspection(it) => inspection(it),
        Content::Event(it) => {
            let mut fields = affected(it.of);
            fields.insert("kind".to_owned(), json!(it.kind.word()));
            fields.insert("meter".to_owned(), json!(text(it.meter)));
            Value::Object(fields)
        }
        Content::Preserved(it) => {
            json!({ "engine": it.engine.to_string(), "until": text(it.until) })
        }
        Content::Concession(it) => concession(it),
        Content::HoursAccepted(it) => hours_accepted(*it),
        Content::ComponentOverhauled(it) => {
            json!({ "component": it.component.to_string(), "release": release(it.released) })
        }
        Content::MakerRestart(it) => json!({ "engine": it.engine.to_string() }),
        Content::Described(it) => described(it),
        Content::ProgrammeActivated(it) => {
            json!({ "engine_type": it.engine_type.as_str(), "digest": hex(it.digest) })
        }
        Content::Amendment(it) => amendment(it),
    }
}

fn component(it: &ComponentRegistered) -> Value {
    let code = it.code.as_ref();
    json!({
        "kind": it.kind.as_str(),
        "serial": it.serial,
        "lot": it.lot,
        "maker_part": it.maker_part,
        "code": code.map(|code| json!({ "scheme": code.scheme.word(), "text": code.text })),
        "cured_on": text(it.cured_on),
        "hours": text(it.hours),
        "first_fitted_on": text(it.first_fitted_on),
        "overhauled": it.overhauled.map(papers),
    })
}

fn removed(it: &ComponentRemoved) -> Value {
    let cause = it.cause.map(RemovalCause::word);
    json!({ "component": it.component.to_string(), "meter": text(it.meter), "cause": cause })
}

fn papers(papers: Papers) -> Value {
    json!({ "on": papers.on.to_string(), "hours_since": papers.hours_since.to_string() })
}

/// Who released it travels beside the fact and is put back here, unless it was erased.
pub(super) fn release(released: bool) -> Option<Value> {
    released.then(|| json!({}))
}

fn hours_accepted(it: HoursAccepted) -> Value {
    json!({
        "engine": it.engine.to_string(),
        "hours": it.hours.to_string(),
        "until": it.until.to_string(),
    })
}

fn concession(it: &Concession) -> Value {
    json!({
        "engine": it.engine.to_string(),
        "item": it.item.as_str(),
        "position": text(it.position.as_ref()),
        "until": text(it.until),
    })
}

fn described(it: &Described) -> Value {
    let mut fields = host(it.of);
    let values = it.values.iter();
    fields.extend(values.map(|(attribute, words)| (attribute.word().to_owned(), json!(words))));
    Value::Object(fields)
}

fn amendment(it: &Amendment) -> Value {
    let mut fields = one(stream_word(it.stream.kind), it.stream.id.to_string());
    fields.insert("amends".to_owned(), json!(it.root.to_string()));
    fields.insert("supersedes".to_owned(), json!(it.supersedes.to_string()));
    match it.replacement.as_deref() {
        None => {
            fields.insert("withdrawn".to_owned(), json!(true));
        }
        Some(entry @ Entry { content: Content::Inspection(_), .. }) => {
            fields.insert("inspection".to_owned(), entry_body(entry));
        }
        Some(entry @ Entry { content: Content::Reading(_), .. }) => {
            if let Value::Object(replacement) = entry_body(entry) {
                fields.extend(replacement);
            }
        }
        Some(entry) => {
            fields.insert("record".to_owned(), entry_body(entry));
        }
    }
    Value::Object(fields)
}

fn host(host: Host) -> Map<String, Value> {
    match host {
        Host::Engine(id) => one("engine", id.to_string()),
        Host::Aircraft(id) => one("aircraft", id.to_string()),
    }
}

fn affected(affected: Affected) -> Map<String, Value> {
    match affected {
        Affected::Engine(id) => one("engine", id.to_string()),
        Affected::Component(id) => one("component", id.to_string()),
    }
}

pub(super) fn one(name: &str, value: String) -> Map<String, Value> {
    Map::from_iter([(name.to_owned(), Value::String(value))])
}

fn with(mut fields: Map<String, Value>, name: &str, value: String) -> Value {
    fields.insert(name.to_owned(), Value::String(value));
    Value::Object(fields)
}

pub(super) fn text(value: Option<impl ToString>) -> Option<String> {
    value.map(|value| value.to_string())
}

/// Puts a text at its JSON pointer, when the place around it is there.
fn put_back(body: &mut Value, pointer: &str, text: &str) {
    let Some((around, name)) = pointer.rsplit_once('/') else { return };
    match body.pointer_mut(around) {
        Some(Value::Object(fields)) => {
            let name = name.replace("~1", "/").replace("~0", "~");
            fields.insert(name, Value::String(text.to_owned()));
        }
        Some(Value::Array(entries)) => {
            let entry = name.parse::<usize>().ok().and_then(|at| entries.get_mut(at));
            if let Some(entry) = entry {
                *entry = Value::String(text.to_owned());
            }
        }
        _ => {}
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn texts_go_back_where_they_stood() {
        let mut body =
            json!({ "findings": [{ "item": "ring" }], "release": {}, "readings": ["1", "2"] });
        put_back(&mut body, "/findings/0/note", "worn");
        put_back(&mut body, "/release/by", "somebody");
        put_back(&mut body, "/gone/0/note", "lost");
        put_back(&mut body, "/readings/1", "2.0");
        put_back(&mut body, "/readings/2", "gone");
        let expected = json!({
            "findings": [{ "item": "ring", "note": "worn" }],
            "release": { "by": "somebody" },
            "readings": ["1", "2.0"],
        });
        assert_eq!(body, expected);
    }
}
