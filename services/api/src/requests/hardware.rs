//! How things are fastened, which parts were put together, and the photographs of an inspection.

use super::engine_types::read_digest;
use super::measurements::UNIT_CHARS_MAX;
use super::name;
use crate::read::{Fields, Value};
use gudgeon_life::decimal::Decimal;
use gudgeon_life::fact::{
    BoltFit, Fastening, Length, LengthUnit, Locking, MatchedPart, MatchedSet, Seen, Torque,
    WasherFacing,
};
use gudgeon_life::ids::{ComponentId, ItemId, PartKind, PositionId};

/// Photographs that one finding or mark names.
const PHOTOS_MAX: usize = 20;
/// Parts of one set: head, cylinder, piston, pin, rings and their kin.
const PARTS_MAX: usize = 20;

/// `{item, position?, seen, washer?, bolt?: {length, room}, torque?: {value, unit}, compound?, locking?}`.
pub(super) fn fastening(value: &Value<'_>) -> Option<Fastening> {
    let fields = value.object();
    let item = fields.required("item").and_then(|it| it.slug(ItemId::new));
    let position = fields.optional("position").and_then(|it| it.slug(PositionId::new));
    let seen = fields.required("seen").and_then(|it| it.word(&Seen::ALL, Seen::word));
    let washer =
        fields.optional("washer").and_then(|it| it.word(&WasherFacing::ALL, WasherFacing::word));
    let bolt = fields.optional("bolt").and_then(|it| bolt(&it));
    let torque = fields.optional("torque").and_then(|it| torque(&it));
    let compound = name(fields.optional("compound"));
    let locking = fields.optional("locking").and_then(|it| it.word(&Locking::ALL, Locking::word));
    Some(Fastening { item: item?, position, seen: seen?, washer, bolt, torque, compound, locking })
}

/// `{length: {value, unit}, room: {value, unit}}`.
fn bolt(value: &Value<'_>) -> Option<BoltFit> {
    let fields = value.object();
    let of = |name| fields.required(name).and_then(|it| length(&it));
    let (length, room) = (of("length"), of("room"));
    Some(BoltFit { length: length?, room: room? })
}

/// `{value, unit}` in `mm` or `in`.
fn length(value: &Value<'_>) -> Option<Length> {
    let fields = value.object();
    let amount = fields.required("value").and_then(|it| {
        let text = it.decimal()?;
        match Decimal::parse(&text) {
            Ok(amount) if amount > Decimal::ZERO => Some(amount),
            Ok(_) => it.fault("out-of-range", "a length is more than nothing"),
            Err(error) => it.fault("out-of-range", error.to_string()),
        }
    });
    let unit = fields.required("unit").and_then(|it| it.word(&LengthUnit::ALL, LengthUnit::word));
    Some(Length { value: amount?, unit: unit? })
}

/// `{value, unit}`.
fn torque(value: &Value<'_>) -> Option<Torque> {
    let fields = value.object();
    let amount = fields.required("value").and_then(|it| it.decimal());
    let unit = fields.required("unit").and_then(|it| it.text(UNIT_CHARS_MAX));
    Some(Torque { value: amount?, unit: unit? })
}

/// `{position, parts: [{part, mark, new?, component?}]}`.
pub(super) fn matched_set(value: &Value<'_>) -> Option<MatchedSet> {
    let fields = value.object();
    let position = fields.required("position").and_then(|it| it.slug(PositionId::new));
    let listed = fields.required("parts").map_or(Vec::new(), |it| it.list(PARTS_MAX));
    let parts: Vec<MatchedPart> = listed.iter().filter_map(part).collect();
    Some(MatchedSet { position: position?, parts })
}

fn part(value: &Value<'_>) -> Option<MatchedPart> {
    let fields = value.object();
    let part = fields.required("part").and_then(|it| it.slug(PartKind::new));
    let mark = name(fields.required("mark"));
    let is_new = fields.optional("new").and_then(|it| it.flag()).unwrap_or(false);
    let component = fields.optional("component").and_then(|it| it.uid()).map(ComponentId);
    Some(MatchedPart { part: part?, mark: mark?, is_new, component })
}

/// Photographs by the SHA-256 of their files, none twice.
pub(super) fn photos(fields: &Fields<'_>) -> Vec<[u8; 32]> {
    let listed = fields.optional("photos").map_or(Vec::new(), |it| it.list(PHOTOS_MAX));
    let mut photos: Vec<[u8; 32]> = Vec::new();
    for value in listed {
        let expected = "the SHA-256 of a file as 64 hexadecimal digits";
        let Some(text) = value.string(expected) else { continue };
        match read_digest(text) {
            Some(photo) if photos.contains(&photo) => {
                value.fault::<()>("twice", "this photograph is named twice");
            }
            Some(photo) => photos.push(photo),
            None => {
                value.fault::<()>("bad-digest", format!("a photograph is named by {expected}"));
            }
        }
    }
    photos
}
