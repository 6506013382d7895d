//! Which version of an engine type is to be counted by.

use super::Context;
use crate::read::{Fields, Value};
use gudgeon_life::fact::{Content, Entry, ProgrammeActivated};
use gudgeon_life::ids::ItemId;

/// `{on, digest}`.
pub(crate) fn activated(
    engine_type: ItemId,
    fields: &Fields<'_>,
    context: &Context,
) -> Option<Entry> {
    let digest = fields.required("digest").and_then(|value| digest(&value));
    let says = digest
        .map(|digest| Content::ProgrammeActivated(ProgrammeActivated { engine_type, digest }));
    context.dated(fields, says)
}

fn digest(value: &Value<'_>) -> Option<[u8; 32]> {
    let text = value.text(64)?;
    match read_digest(&text) {
        Some(digest) => Some(digest),
        None => value.fault(
            "digest",
            "a digest is 64 hexadecimal digits, as answered when the file was sent",
        ),
    }
}

/// Reads a SHA-256 in hexadecimal.
pub(crate) fn read_digest(text: &str) -> Option<[u8; 32]> {
    let digits: Vec<u8> = text
        .chars()
        .map(|c| c.to_digit(16).and_then(|digit| u8::try_from(digit).ok()))
        .collect::<Option<_>>()?;
    let bytes = digits.chunks_exact(2).map(|pair| pair.iter().fold(0, |acc, it| acc * 16 + it));
    <[u8; 32]>::try_from(bytes.collect::<Vec<u8>>()).ok().filter(|_| digits.len() == 64)
}
