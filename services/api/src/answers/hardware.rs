//! How things are fastened and which parts were put together, in the shape in which they were posted.

use gudgeon_life::fact::{Fastening, Length, Locking, MatchedPart, MatchedSet, WasherFacing};
use gudgeon_life::ids::PositionId;
use gudgeon_life::version::hex;
use serde_json::{Value, json};

/// An object without the members that have no value.
fn told(mut body: Value) -> Value {
    if let Value::Object(fields) = &mut body {
        fields.retain(|_, value| !value.is_null());
    }
    body
}

pub(super) fn fastening(it: &Fastening) -> Value {
    told(json!({
        "item": it.item.as_str(),
        "position": it.position.as_ref().map(PositionId::as_str),
        "seen": it.seen.word(),
        "washer": it.washer.map(WasherFacing::word),
        "bolt": it.bolt.map(|it| json!({ "length": length(it.length), "room": length(it.room) })),
        "torque": it.torque.as_ref().map(|it| json!({ "value": it.value, "unit": it.unit })),
        "compound": it.compound,
        "locking": it.locking.map(Locking::word),
    }))
}

fn length(it: Length) -> Value {
    json!({ "value": it.value.to_string(), "unit": it.unit.word() })
}

pub(super) fn matched_set(it: &MatchedSet) -> Value {
    let parts: Vec<Value> = it.parts.iter().map(part).collect();
    json!({ "position": it.position.as_str(), "parts": parts })
}

fn part(it: &MatchedPart) -> Value {
    told(json!({
        "part": it.part.as_str(),
        "mark": it.mark,
        "new": it.is_new.then_some(true),
        "component": it.component.map(|id| id.to_string()),
    }))
}

/// Photographs by the SHA-256 of their files; absent when there are none.
pub(super) fn photos(photos: &[[u8; 32]]) -> Option<Vec<String>> {
    (!photos.is_empty()).then(|| photos.iter().map(|photo| hex(*photo)).collect())
}
