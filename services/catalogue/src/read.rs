//! Reads TOML tables while collecting every fault, each with its line, item and key.
//!
//! Nothing here stops at the first fault: a reader that meets one records it and answers `None`, so that a
//! person sees all of them at once.

use crate::Fault;
use crate::nearest::nearest;
use chrono::NaiveDate;
use gudgeon_life::decimal::Decimal;
use gudgeon_life::hours::Hours;
use gudgeon_life::ids::is_slug;
use std::cell::RefCell;
use std::ops::RangeInclusive;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// The longest text quoted back in a message, in characters.
const QUOTED_MAX: usize = 60;

/// The file being read and the faults found in it so far.
pub(crate) struct Source<'a> {
    file: &'a str,
    line_ends: Vec<usize>,
    faults: RefCell<Vec<Fault>>,
}

impl<'a> Source<'a> {
    /// A file with no faults yet.
    pub(crate) fn new(file: &'a str, text: &str) -> Self {
        let line_ends = text.match_indices('\n').map(|(at, _)| at).collect();
        Self { file, line_ends, faults: RefCell::default() }
    }

    /// Records a fault at a byte of the file.
    pub(crate) fn fault(&self, at: usize, item: Option<&str>, key: &str, message: String) {
        let line = self.line(at);
        self.faults.borrow_mut().push(Fault {
            file: self.file.to_owned(),
            line: Some(line),
            item: item.map(str::to_owned),
            key: key.escape_debug().to_string(),
            message,
        });
    }

    fn line(&self, at: usize) -> usize {
        self.line_ends.partition_point(|end| *end < at) + 1
    }

    /// All faults, in the order of the file.
    pub(crate) fn take_faults(&self) -> Vec<Fault> {
        let mut faults = self.faults.take();
        faults.sort_by_key(|fault| fault.line);
        faults
    }
}

/// The keys that a table may have, and those it may not, each with the reason.
pub(crate) struct Keys {
    /// Read and acted on.
    pub(crate) known: &'static [&'static str],
    /// Understood but refused: a rule that is not counted must never be passed over in silence.
    pub(crate) refused: &'static [(&'static str, &'static str)],
}

/// One table of the file.
#[derive(Clone)]
pub(crate) struct Table<'a> {
    source: &'a Source<'a>,
    entries: &'a DeTable<'a>,
    at: usize,
    item: Option<String>,
    prefix: String,
}

impl<'a> Table<'a> {
    /// The whole file.
    pub(crate) fn root(source: &'a Source<'a>, document: &'a Spanned<DeTable<'a>>) -> Self {
        Self { source, entries: document.get_ref(), at: 0, item: None, prefix: String::new() }
    }

    /// The same table as an item: its faults carry its name, or its place in the file if it has none.
    pub(crate) fn named_item(self, place: usize) -> Self {
        let name = match self.entries.get("id").map(Spanned::get_ref) {
            Some(DeValue::String(id)) if is_slug(id) => id.to_string(),
            _ => format!("number {place}"),
        };
        Self { item: Some(name), prefix: String::new(), ..self }
    }

    /// The same table as one of many that are no items: its keys carry its name, or its place in the list.
    pub(crate) fn named_part(self, place: usize) -> Self {
        let name = match self.entries.get("id").map(Spanned::get_ref) {
            Some(DeValue::String(id)) if is_slug(id) => id.to_string(),
            _ => place.to_string(),
        };
        let prefix = format!("{}{name}.", self.prefix);
        Self { prefix, ..self }
    }

    /// Whether the key is there, whatever it holds.
    pub(crate) fn has(&self, key: &str) -> bool {
        self.entries.contains_key(key)
    }

    /// The number of the line on which the table begins.
    pub(crate) fn line(&self) -> usize {
        self.source.line(self.at)
    }

    /// Records a fault at the key, or at the head of the table when the key is not there.
    pub(crate) fn fault(&self, key: &str, message: impl Into<String>) {
        let at = self.entries.get_key_value(key).map_or(self.at, |(key, _)| key.span().start);
        self.fault_at(at, key, message.into());
    }

    fn fault_at(&self, at: usize, key: &str, message: String) {
        let key = format!("{}{key}", self.prefix);
        self.source.fault(at, self.item.as_deref(), &key, message);
    }

    /// Refuses every key that is not known, with the nearest known one or all of them.
    pub(crate) fn refuse_other_keys(&self, keys: &Keys) {
        for key in self.entries.keys().map(|key| key.get_ref().as_ref()) {
            if keys.known.contains(&key) {
                continue;
            }
            let refused = keys.refused.iter().find(|(refused, _)| *refused == key);
            let message = match (refused, nearest(key, keys.known.iter().copied())) {
                (Some((_, reason)), _) => (*reason).to_owned(),
                (None, Some(meant)) => format!("no such key; did you mean `{meant}`?"),
                (None, None) => {
                    format!("no such key here; expected one of {}", keys.known.join(", "))
                }
            };
            self.fault(key, message);
        }
    }

    /// What stands at a key, if it is there. `expected` says what would be right.
    pub(crate) fn optional(
        &self,
        key: &'static str,
        expected: impl Into<String>,
    ) -> Option<Entry<'_, 'a>> {
        let (name, value) = self.entries.get_key_value(key)?;
        let at = name.span().start;
        Some(Entry { table: self, key, at, value: value.get_ref(), expected: expected.into() })
    }

    /// What stands at a key; a fault when it is not there.
    pub(crate) fn required(
        &self,
        key: &'static str,
        expected: impl Into<String>,
    ) -> Option<Entry<'_, 'a>> {
        let expected = expected.into();
        if !self.has(key) {
            self.fault(key, format!("missing; expected {expected}"));
        }
        self.optional(key, expected)
    }
}

/// What stands at one key, or in one place of its list, and what would be right there.
pub(crate) struct Entry<'t, 'a> {
    table: &'t Table<'a>,
    key: &'static str,
    at: usize,
    value: &'a DeValue<'a>,
    expected: String,
}

impl<'t, 'a> Entry<'t, 'a> {
    /// Records that something else was found than expected.
    fn unexpected<T>(&self) -> Option<T> {
        let found = shown(self.value);
        self.fault(format!("found {found}; expected {}", self.expected));
        None
    }

    /// Records a fault here.
    pub(crate) fn fault(&self, message: String) {
        self.table.fault_at(self.at, self.key, message);
    }

    /// A text with something in it.
    pub(crate) fn text(&self) -> Option<String> {
        match self.value {
            DeValue::String(text) if !text.trim().is_empty() => Some(text.trim().to_owned()),
            _ => self.unexpected(),
        }
    }

    /// A short name: lower-case letters, digits and hyphens.
    pub(crate) fn slug<T>(&self, make: impl Fn(&str) -> Option<T>) -> Option<T> {
        match self.value {
            DeValue::String(text) if is_slug(text) => make(text),
            found => {
                let found = shown(found);
                let expected = &self.expected;
                self.fault(format!(
                    "found {found}; expected {expected}, in lower-case letters, digits and hyphens"
                ));
                None
            }
        }
    }

    /// One of some words.
    pub(crate) fn word<T: Copy>(&self, all: &[T], word: impl Fn(T) -> &'static str) -> Option<T> {
        let DeValue::String(text) = self.value else { return self.unexpected() };
        let found = all.iter().copied().find(|one| word(*one) == text);
        if found.is_none() {
            let meant = nearest(text, all.iter().map(|one| word(*one)))
                .map_or_else(String::new, |meant| format!(" (did you mean `{meant}`?)"));
            self.fault(format!("found {}; expected {}{meant}", shown(self.value), self.expected));
        }
        found
    }

    /// `true` or `false`.
    pub(crate) fn flag(&self) -> Option<bool> {
        match self.value {
            DeValue::Boolean(flag) => Some(*flag),
            _ => self.unexpected(),
        }
    }

    /// A day, written without quotes and without a time.
    pub(crate) fn date(&self) -> Option<NaiveDate> {
        let DeValue::Datetime(stamp) = self.value else { return self.unexpected() };
        let day = match (stamp.date, stamp.time) {
            (Some(date), None) => NaiveDate::from_ymd_opt(
                i32::from(date.year),
                u32::from(date.month),
                u32::from(date.day),
            ),
            _ => None,
        };
        day.or_else(|| self.unexpected())
    }

    /// Running hours: `100`, `12.5` or `"12:30"`.
    pub(crate) fn hours(&self) -> Option<Hours> {
        let text = match self.value {
            DeValue::Integer(whole) if whole.radix() == 10 => whole.as_str(),
            DeValue::Float(decimal) => decimal.as_str(),
            DeValue::String(text) => text.as_ref(),
            _ => return self.unexpected(),
        };
        match Hours::parse(text) {
            Ok(hours) => Some(hours),
            Err(error) => {
                self.fault(format!("{error}; expected {}", self.expected));
                None
            }
        }
    }

    /// Running hours, more than none.
    pub(crate) fn hours_above_zero(&self) -> Option<Hours> {
        let hours = self.hours()?;
        if hours == Hours::ZERO { self.unexpected() } else { Some(hours) }
    }

    /// A decimal: `67.5`, `2` or `"67.5"`.
    pub(crate) fn decimal(&self) -> Option<Decimal> {
        let text = match self.value {
            DeValue::Integer(whole) if whole.radix() == 10 => whole.as_str(),
            DeValue::Float(decimal) => decimal.as_str(),
            DeValue::String(text) => text.as_ref(),
            _ => return self.unexpected(),
        };
        match Decimal::parse(text) {
            Ok(decimal) => Some(decimal),
            Err(error) => {
                self.fault(format!("{error}; expected {}", self.expected));
                None
            }
        }
    }

    /// A decimal, more than nothing.
    pub(crate) fn decimal_above_zero(&self) -> Option<Decimal> {
        let decimal = self.decimal()?;
        if decimal <= Decimal::ZERO { self.unexpected() } else { Some(decimal) }
    }

    /// A whole number within bounds.
    pub(crate) fn whole(&self, bounds: &RangeInclusive<u32>) -> Option<u32> {
        let number = match self.value {
            DeValue::Integer(whole) if whole.radix() == 10 => whole.as_str().parse().ok(),
            _ => None,
        };
        number.filter(|number| bounds.contains(number)).or_else(|| self.unexpected())
    }

    /// What stands in each place of a list with at least one.
    pub(crate) fn list(&self) -> Vec<Entry<'t, 'a>> {
        let DeValue::Array(values) = self.value else {
            self.unexpected::<()>();
            return Vec::new();
        };
        if values.is_empty() {
            self.fault(format!("found an empty list; expected {}", self.expected));
        }
        let entry = |value: &'a Spanned<DeValue<'a>>| Entry {
            table: self.table,
            key: self.key,
            at: value.span().start,
            value: value.get_ref(),
            expected: self.expected.clone(),
        };
        values.iter().map(entry).collect()
    }

    /// A table.
    pub(crate) fn table(&self) -> Option<Table<'a>> {
        let DeValue::Table(entries) = self.value else { return self.unexpected() };
        Some(Table {
            source: self.table.source,
            entries,
            at: self.at,
            item: self.table.item.clone(),
            prefix: format!("{}{}.", self.table.prefix, self.key),
        })
    }
}

/// `one of a, b, c`, for messages.
pub(crate) fn one_of<T: Copy>(all: &[T], word: impl Fn(T) -> &'static str) -> String {
    let words: Vec<&str> = all.iter().map(|one| word(*one)).collect();
    format!("one of {}", words.join(", "))
}

/// A value as a message quotes it: no control characters, not too long.
fn shown(value: &DeValue<'_>) -> String {
    match value {
        DeValue::String(text) => {
            let start: String = text.chars().take(QUOTED_MAX).collect();
            let more = if start.len() < text.len() { " and more" } else { "" };
            format!("{start:?}{more}")
        }
        DeValue::Integer(whole) => whole.to_string(),
        DeValue::Float(decimal) => decimal.to_string(),
        DeValue::Boolean(flag) => flag.to_string(),
        DeValue::Datetime(stamp) => stamp.to_string(),
        DeValue::Array(_) => "a list".to_owned(),
        DeValue::Table(_) => "a table".to_owned(),
    }
}
