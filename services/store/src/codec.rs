//! Between values and the text that is stored: facts, private texts, due lines. All of it is version 1.
//!
//! `fact.data` is `{"as_posted": {pointer: text}, "content": {..}}`. The content digest covers the entry
//! alone, so that 1043.2 and "1043:12" are the same content.

mod canonical;
mod content_in;
mod content_out;
mod fields;
mod flying;
mod hardware;
mod line;
mod prior;
mod words;
mod worn;

use crate::days;
use crate::error::StoreError;
use crate::values::Texts;
use canonical::canonical;
use chrono::NaiveDate;
use fields::Fields;
use gudgeon_life::fact::Entry;
use serde_json::Value;
use sha2::{Digest as _, Sha256};
use std::collections::BTreeMap;

pub(crate) use flying::{read_flying, write_flying};
pub(crate) use line::{LineColumns, line_detail, read_line_detail};
pub(crate) use prior::{read_fleets, read_told, write_fleets, write_told};

/// The version that facts are written in.
pub(crate) const VERSION: i32 = 1;

const CONTENT_DOMAIN: &[u8] = b"gudgeon/content/v1\0";

/// An entry as columns of a row.
#[derive(Clone, Debug)]
pub(crate) struct Coded {
    pub(crate) kind: &'static str,
    pub(crate) day: NaiveDate,
    pub(crate) order_in_day: i32,
    pub(crate) data: String,
    pub(crate) content_digest: [u8; 32],
}

/// The columns of a stored entry, to be read back.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Coding<'a> {
    pub(crate) v: i32,
    pub(crate) kind: &'a str,
    pub(crate) day: NaiveDate,
    pub(crate) order_in_day: i32,
    pub(crate) data: &'a str,
}

/// Writes an entry.
pub(crate) fn write(
    entry: &Entry,
    as_posted: &BTreeMap<String, String>,
) -> Result<Coded, StoreError> {
    if days::stored(entry.on) != entry.on {
        return Err(StoreError::Refused(format!(
            "the day {} is outside the years 0001 to 9999",
            entry.on
        )));
    }
    let content = canonical(&content_out::content(&entry.content));
    let as_posted = canonical(&texts_value(as_posted));
    Ok(Coded {
        kind: content_out::kind_word(&entry.content),
        day: entry.on,
        order_in_day: i32::from(entry.order_in_day),
        data: format!(r#"{{"as_posted":{as_posted},"content":{content}}}"#),
        content_digest: digest_of(entry, &content),
    })
}

/// Reads an entry back, with its texts as posted.
pub(crate) fn read(coding: Coding<'_>) -> Result<(Entry, BTreeMap<String, String>), StoreError> {
    if coding.v != VERSION {
        return Err(StoreError::Corrupt(format!(
            "a fact of version {}; this build reads version {VERSION}",
            coding.v
        )));
    }
    let data = parse(coding.data)?;
    let fields = Fields::of(&data, coding.kind)?;
    let order_in_day = u16::try_from(coding.order_in_day)
        .map_err(|error| StoreError::Corrupt(format!("an order in the day: {error}")))?;
    let content = content_in::content(coding.kind, fields.any("content")?)?;
    let entry = Entry { on: coding.day, order_in_day, content };
    Ok((entry, texts(fields.any("as_posted")?)?))
}

/// SHA-256 of what an entry says, apart from how its figures were written.
pub(crate) fn content_digest(entry: &Entry) -> [u8; 32] {
    digest_of(entry, &canonical(&content_out::content(&entry.content)))
}

/// The same by the canonical text of its content: of the whole entry in that form.
fn digest_of(entry: &Entry, content: &str) -> [u8; 32] {
    let Entry { on, order_in_day, .. } = entry;
    let kind = content_out::kind_word(&entry.content);
    let canonical = format!(
        r#"{{"content":{content},"kind":"{kind}","on":"{on}","order_in_day":{order_in_day}}}"#
    );
    Sha256::new().chain_update(CONTENT_DOMAIN).chain_update(canonical).finalize().into()
}

/// The private texts as stored; `None` when there are none.
pub(crate) fn write_private(texts: &Texts) -> Option<String> {
    (!texts.private.is_empty()).then(|| canonical(&texts_value(&texts.private)))
}

/// Reads private texts back.
pub(crate) fn read_private(body: &str) -> Result<BTreeMap<String, String>, StoreError> {
    texts(&parse(body)?)
}

/// A list of sentences as stored.
pub(crate) fn write_sentences(sentences: &[String]) -> String {
    canonical(&Value::Array(sentences.iter().cloned().map(Value::String).collect()))
}

/// Reads a list of sentences back.
pub(crate) fn read_sentences(text: &str) -> Result<Vec<String>, StoreError> {
    serde_json::from_str(text).map_err(|error| StoreError::Corrupt(error.to_string()))
}

fn parse(text: &str) -> Result<Value, StoreError> {
    serde_json::from_str(text).map_err(|error| StoreError::Corrupt(error.to_string()))
}

fn texts_value(texts: &BTreeMap<String, String>) -> Value {
    Value::Object(
        texts.iter().map(|(at, text)| (at.clone(), Value::String(text.clone()))).collect(),
    )
}

fn texts(value: &Value) -> Result<BTreeMap<String, String>, StoreError> {
    serde_json::from_value(value.clone()).map_err(|error| StoreError::Corrupt(error.to_string()))
}

#[cfg(test)]
mod tests;
