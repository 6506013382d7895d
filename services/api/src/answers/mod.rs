//! What answers look like: the JSON shapes of the API, made from values that know nothing of JSON.

pub(crate) mod bench;
pub(crate) mod components;
pub(crate) mod conflicts;
pub(crate) mod engines;
mod forecast;
mod hardware;
mod inspections;
pub(crate) mod lines;
pub(crate) mod lost_log;
pub(crate) mod records;
mod wear;

use chrono::{DateTime, SecondsFormat};
use gudgeon_store::Instant;
use serde::Serialize;

/// Something odd about a post that was accepted.
#[derive(Clone, Debug, Serialize, PartialEq, Eq)]
pub(crate) struct Warning {
    /// What kind, as a word that programs can rely on.
    pub(crate) code: &'static str,
    /// A sentence about it.
    pub(crate) detail: String,
    /// Where in the body, when it is about one place.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) pointer: Option<String>,
}

/// A word and what it means.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct Coded {
    pub(crate) code: &'static str,
    pub(crate) detail: String,
}

/// An instant as RFC 3339 writes it, in UTC.
pub(crate) fn instant(at: Instant) -> String {
    let time = DateTime::from_timestamp_micros(at.0).unwrap_or_default();
    time.to_rfc3339_opts(SecondsFormat::AutoSi, true)
}

/// A value that serde can write, as JSON; our shapes hold nothing that has no JSON form.
pub(crate) fn json(value: &impl Serialize) -> serde_json::Value {
    serde_json::to_value(value).unwrap_or_default()
}
