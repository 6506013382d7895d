//! How things are fastened and which parts were put together, as JSON and back.

use super::fields::{Fields, as_slug, as_text, as_uid, as_word, list, object, opt, text, uid};
use crate::error::StoreError;
use gudgeon_life::decimal::Decimal;
use gudgeon_life::fact::{
    BoltFit, Fastening, Length, LengthUnit, Locking, MatchedPart, MatchedSet, Seen, Torque,
    WasherFacing,
};
use gudgeon_life::ids::{ComponentId, ItemId, PartKind, PositionId};
use serde_json::Value;

pub(super) fn fastening(it: &Fastening) -> Value {
    object([
        ("bolt", opt(it.bolt, bolt)),
        ("compound", opt(it.compound.as_ref(), text)),
        ("item", text(it.item.as_str())),
        ("locking", opt(it.locking, |it| text(it.word()))),
        ("position", opt(it.position.as_ref(), |at| text(at.as_str()))),
        ("seen", text(it.seen.word())),
        ("torque", opt(it.torque.as_ref(), torque)),
        ("washer", opt(it.washer, |it| text(it.word()))),
    ])
}

fn bolt(it: BoltFit) -> Value {
    object([("length", length(it.length)), ("room", length(it.room))])
}

fn length(it: Length) -> Value {
    object([("unit", text(it.unit.word())), ("value", text(it.value.to_string()))])
}

fn torque(it: &Torque) -> Value {
    object([("unit", text(&it.unit)), ("value", text(&it.value))])
}

pub(super) fn matched_set(it: &MatchedSet) -> Value {
    object([("parts", list(&it.parts, part)), ("position", text(it.position.as_str()))])
}

fn part(it: &MatchedPart) -> Value {
    object([
        ("component", opt(it.component, |id| uid(id.0))),
        ("mark", text(&it.mark)),
        ("new", opt(it.is_new.then_some("new"), text)),
        ("part", text(it.part.as_str())),
    ])
}

pub(super) fn read_fastening(value: &Value) -> Result<Fastening, StoreError> {
    let it = Fields::of(value, "a fastening")?;
    Ok(Fastening {
        item: it.get("item", as_slug(ItemId::new))?,
        position: it.opt("position", as_slug(PositionId::new))?,
        seen: it.get("seen", as_word(Seen::ALL, Seen::word))?,
        washer: it.opt("washer", as_word(WasherFacing::ALL, WasherFacing::word))?,
        bolt: it.part("bolt").map(read_bolt).transpose()?,
        torque: it.part("torque").map(read_torque).transpose()?,
        compound: it.opt("compound", as_text)?,
        locking: it.opt("locking", as_word(Locking::ALL, Locking::word))?,
    })
}

fn read_bolt(value: &Value) -> Result<BoltFit, StoreError> {
    let it = Fields::of(value, "a bolt")?;
    Ok(BoltFit { length: read_length(it.any("length")?)?, room: read_length(it.any("room")?)? })
}

fn read_length(value: &Value) -> Result<Length, StoreError> {
    let it = Fields::of(value, "a length")?;
    Ok(Length {
        value: it.get("value", |value| Decimal::parse(value.as_str()?).ok())?,
        unit: it.get("unit", as_word(LengthUnit::ALL, LengthUnit::word))?,
    })
}

fn read_torque(value: &Value) -> Result<Torque, StoreError> {
    let it = Fields::of(value, "a torque")?;
    Ok(Torque { value: it.get("value", as_text)?, unit: it.get("unit", as_text)? })
}

pub(super) fn read_matched_set(value: &Value) -> Result<MatchedSet, StoreError> {
    let it = Fields::of(value, "a matched set")?;
    Ok(MatchedSet {
        position: it.get("position", as_slug(PositionId::new))?,
        parts: it.list("parts", read_part)?,
    })
}

fn read_part(value: &Value) -> Result<MatchedPart, StoreError> {
    let it = Fields::of(value, "a part of a set")?;
    Ok(MatchedPart {
        part: it.get("part", as_slug(PartKind::new))?,
        mark: it.get("mark", as_text)?,
        is_new: it.opt("new", as_text)?.is_some(),
        component: it.opt("component", as_uid)?.map(ComponentId),
    })
}
