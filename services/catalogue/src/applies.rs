//! Reads which engines or parts an item is for: serial numbers, lots, and how the engine is built and used.

use crate::nearest::nearest;
use crate::read::{Entry, Keys, Table};
use gudgeon_life::fact::Attribute;
use gudgeon_life::ids::{PartKind, is_slug};
use gudgeon_life::programme::{Applies, SerialRange};
use std::collections::BTreeSet;

/// The keys of `applies-to`.
pub(crate) const KEYS: Keys = Keys {
    known: &["serials", "part", "lots", "ignition", "use", "fuel", "oil", "lubrication", "regime"],
    refused: &[],
};

/// The words that engines are usually described with. Others may be used; one that is nearly one of these is
/// a slip of the keyboard, and would quietly leave the rule out.
#[must_use]
pub const fn usual_words(attribute: Attribute) -> &'static [&'static str] {
    match attribute {
        Attribute::Ignition => &["single", "dual", "points", "electronic"],
        Attribute::Use => &["private", "school", "tow", "hire", "salt-air"],
        Attribute::Fuel => &["unleaded", "leaded", "ethanol-blend"],
        Attribute::Oil => &["mineral", "semi-synthetic", "synthetic"],
        Attribute::Lubrication => &["premixed", "injected"],
        Attribute::Regime => &["us-part-91", "part-ml", "uk-national"],
    }
}

/// The usual word that another one is probably a slip for; `None` for a usual word, and for one of its own.
#[must_use]
pub fn meant_word(attribute: Attribute, word: &str) -> Option<&'static str> {
    let usual = usual_words(attribute);
    // The names of rules differ by a letter or two from country to country.
    if usual.contains(&word) || attribute == Attribute::Regime {
        return None;
    }
    nearest(word, usual.iter().copied())
}

/// What `applies-to` says, as far as it could be read.
pub(crate) struct AppliesDraft<'a> {
    pub(crate) table: Table<'a>,
    pub(crate) applies: Applies,
}

/// Reads the table `applies-to`, if there is one.
pub(crate) fn read_applies<'a>(item: &Table<'a>) -> Option<AppliesDraft<'a>> {
    let expected = "a table [items.applies-to] with serials, lots, use or the like";
    let table = item.optional("applies-to", expected)?.table()?;
    table.refuse_other_keys(&KEYS);
    if !KEYS.known.iter().any(|key| table.has(key)) {
        item.fault("applies-to", format!("found nothing in it; expected {expected}"));
    }
    let mut applies = Applies::default();
    let serials = "a list of serial numbers from one to another, such as \"K100-K299\"";
    for entry in list(&table, "serials", serials) {
        applies.serials.extend(read_range(&entry));
    }
    let lots = list(&table, "lots", "a list of lots as they are marked on the part");
    applies.lots = lots.iter().filter_map(Entry::text).collect();
    applies.part = table
        .optional("part", "a short name for the kind of part, such as \"crankshaft\"")
        .and_then(|entry| entry.slug(PartKind::new));
    for attribute in Attribute::ALL {
        let usual = usual_words(attribute).join(", ");
        let entries = list(&table, attribute.word(), &format!("a list of words such as {usual}"));
        let words: BTreeSet<String> =
            entries.iter().filter_map(|entry| read_word(entry, attribute)).collect();
        if !words.is_empty() {
            applies.described.insert(attribute, words);
        }
    }
    Some(AppliesDraft { table, applies })
}

fn list<'t, 'a>(table: &'t Table<'a>, key: &'static str, expected: &str) -> Vec<Entry<'t, 'a>> {
    table.optional(key, expected).map(|entry| entry.list()).unwrap_or_default()
}

fn read_word(entry: &Entry<'_, '_>, attribute: Attribute) -> Option<String> {
    let word = entry.slug(|text| is_slug(text).then(|| text.to_owned()))?;
    match meant_word(attribute, &word) {
        Some(meant) => {
            entry.fault(format!("found {word:?}; did you mean `{meant}`?"));
            None
        }
        None => Some(word),
    }
}

/// `K100-K299`: the same letters in front of both numbers, the smaller first.
fn read_range(entry: &Entry<'_, '_>) -> Option<SerialRange> {
    let text = entry.text()?;
    // The letters may hold a hyphen themselves: each is tried as the one between the two numbers.
    let halves = text.match_indices('-').filter_map(|(at, hyphen)| {
        let (first, rest) = text.split_at_checked(at)?;
        Some((numbered(first)?, numbered(rest.strip_prefix(hyphen)?)?))
    });
    let halves: Vec<_> = halves.collect();
    let alike = halves.iter().find(|((prefix, _), (other, _))| prefix == other);
    match alike.or(halves.first()).copied() {
        Some(((prefix, first), (other, last))) if prefix == other && first <= last => {
            Some(SerialRange { prefix: prefix.to_owned(), first, last })
        }
        Some(((prefix, first), (other, last))) if prefix == other => {
            entry.fault(format!("found {first} before {last}; expected the smaller number first"));
            None
        }
        Some(((prefix, _), (other, _))) => {
            entry.fault(format!(
                "found {prefix:?} before the first number and {other:?} before the last; expected \
                 the same letters before both"
            ));
            None
        }
        None => {
            entry.fault(format!(
                "found {text:?}; expected two serial numbers with a hyphen between them, such as \
                 \"K100-K299\", or \"K117-K117\" for one alone"
            ));
            None
        }
    }
}

/// The letters in front of a serial number, and its number.
fn numbered(serial: &str) -> Option<(&str, u64)> {
    let serial = serial.trim();
    let digits = serial.bytes().rev().take_while(u8::is_ascii_digit).count();
    let (prefix, number) = serial.split_at_checked(serial.len() - digits)?;
    Some((prefix, number.parse().ok()?))
}
