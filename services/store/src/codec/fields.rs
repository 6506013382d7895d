//! The small vocabulary that stored JSON is written and read with: identifiers, days, hours, words, lists.

use crate::days;
use crate::error::StoreError;
use chrono::NaiveDate;
use gudgeon_life::hours::Hours;
use gudgeon_life::ids::Uid;
use gudgeon_life::version::hex;
use serde_json::{Map, Value};

/// An object of these members. Those without a value, and empty lists, are left out.
pub(super) fn object<const N: usize>(members: [(&str, Value); N]) -> Value {
    let there = members.into_iter().filter(|(_, value)| !value.is_null());
    Value::Object(there.map(|(key, value)| (key.to_owned(), value)).collect())
}

/// A value that may be absent.
pub(super) fn opt<T>(value: Option<T>, write: impl Fn(T) -> Value) -> Value {
    value.map_or(Value::Null, write)
}

/// A text.
pub(super) fn text(text: impl Into<String>) -> Value {
    Value::String(text.into())
}

/// An identifier, in the hyphenated form of RFC 9562.
pub(super) fn uid(uid: Uid) -> Value {
    text(uid.to_string())
}

/// A SHA-256, in hexadecimal.
pub(super) fn digest(digest: [u8; 32]) -> Value {
    text(hex(digest))
}

/// A day, in the form of ISO 8601.
pub(super) fn day(day: NaiveDate) -> Value {
    text(days::iso(day))
}

/// A whole number.
pub(super) fn whole(number: impl Into<i64>) -> Value {
    Value::from(number.into())
}

/// Running hours: `{"s": seconds}`.
pub(super) fn hours(hours: Hours) -> Value {
    object([("s", whole(hours.seconds()))])
}

/// A list; absent when it is empty.
pub(super) fn list<T>(items: &[T], write: impl Fn(&T) -> Value) -> Value {
    if items.is_empty() { Value::Null } else { Value::Array(items.iter().map(write).collect()) }
}

/// Reads a text.
pub(super) fn as_text(value: &Value) -> Option<String> {
    value.as_str().map(str::to_owned)
}

/// Reads an identifier.
pub(super) fn as_uid(value: &Value) -> Option<Uid> {
    Uid::parse(value.as_str()?)
}

/// Reads a SHA-256.
pub(super) fn as_digest(value: &Value) -> Option<[u8; 32]> {
    let text = value.as_str().filter(|text| text.len() == 64 && text.is_ascii())?;
    let mut digest = [0; 32];
    for (at, byte) in digest.iter_mut().enumerate() {
        *byte = u8::from_str_radix(text.get(2 * at..2 * at + 2)?, 16).ok()?;
    }
    Some(digest)
}

/// Reads a day.
pub(super) fn as_day(value: &Value) -> Option<NaiveDate> {
    value.as_str()?.parse().ok()
}

/// Reads a whole number.
pub(super) fn as_whole(value: &Value) -> Option<i64> {
    value.as_i64()
}

/// Reads running hours.
pub(super) fn as_hours(value: &Value) -> Option<Hours> {
    value.get("s")?.as_i64().map(Hours::from_seconds)
}

/// Reads one of the words of `all`.
pub(super) fn as_word<T: Copy, const N: usize>(
    all: [T; N],
    word: fn(T) -> &'static str,
) -> impl Fn(&Value) -> Option<T> {
    move |value| all.into_iter().find(|one| value.as_str() == Some(word(*one)))
}

/// Reads a word by its own check.
pub(super) fn as_slug<T>(new: fn(&str) -> Option<T>) -> impl Fn(&Value) -> Option<T> {
    move |value| new(value.as_str()?)
}

/// The members of a stored object.
pub(super) struct Fields<'a> {
    map: &'a Map<String, Value>,
    /// What it is, for messages.
    of: &'a str,
}

impl<'a> Fields<'a> {
    /// The members of `value`, which is called `of` in messages.
    pub(super) fn of(value: &'a Value, of: &'a str) -> Result<Self, StoreError> {
        match value {
            Value::Object(map) => Ok(Self { map, of }),
            _ => Err(StoreError::Corrupt(format!("{of}: no object"))),
        }
    }

    /// A member as it is.
    pub(super) fn any(&self, key: &str) -> Result<&'a Value, StoreError> {
        self.map.get(key).ok_or_else(|| StoreError::Corrupt(format!("{}: no `{key}`", self.of)))
    }

    /// A member as it is, if it is there.
    pub(super) fn part(&self, key: &str) -> Option<&'a Value> {
        self.map.get(key)
    }

    /// A member that must be there.
    pub(super) fn get<T>(
        &self,
        key: &str,
        read: impl Fn(&Value) -> Option<T>,
    ) -> Result<T, StoreError> {
        read(self.any(key)?).ok_or_else(|| self.unreadable(key))
    }

    /// A member that may be absent.
    pub(super) fn opt<T>(
        &self,
        key: &str,
        read: impl Fn(&Value) -> Option<T>,
    ) -> Result<Option<T>, StoreError> {
        let Some(value) = self.map.get(key) else { return Ok(None) };
        read(value).map(Some).ok_or_else(|| self.unreadable(key))
    }

    /// A list that is absent when it is empty.
    pub(super) fn list<T>(
        &self,
        key: &str,
        read: impl Fn(&'a Value) -> Result<T, StoreError>,
    ) -> Result<Vec<T>, StoreError> {
        match self.map.get(key) {
            None => Ok(Vec::new()),
            Some(Value::Array(items)) => items.iter().map(read).collect(),
            Some(_) => Err(self.unreadable(key)),
        }
    }

    /// A list of plain values.
    pub(super) fn list_of<T>(
        &self,
        key: &str,
        read: impl Fn(&Value) -> Option<T>,
    ) -> Result<Vec<T>, StoreError> {
        self.list(key, |value| read(value).ok_or_else(|| self.unreadable(key)))
    }

    /// What to say of a member that cannot be read.
    pub(super) fn unreadable(&self, key: &str) -> StoreError {
        StoreError::Corrupt(format!("{}: `{key}` cannot be read", self.of))
    }
}
