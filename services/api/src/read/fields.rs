//! A view of an object that collects every fault: fields are asked for one by one, and a field nobody
//! asked for is reported when the view ends (a typing error would otherwise lose a measurement).

use super::words::{did_you_mean, nearest};
use super::{Found, Node, join, quoted};
use chrono::{DateTime, NaiveDate, Utc};
use gudgeon_life::ids::Uid;
use std::cell::RefCell;
use std::collections::BTreeMap;

/// A view of an object.
#[derive(Debug)]
pub struct Fields<'a> {
    found: &'a Found,
    pointer: String,
    /// The first of each name.
    nodes: BTreeMap<&'a str, &'a Node>,
    asked: RefCell<Vec<&'static str>>,
    /// False for a view of something that is no object at all: that was reported, the rest is not.
    real: bool,
}

impl<'a> Fields<'a> {
    /// A field that has to be there.
    pub fn required(&self, name: &'static str) -> Option<Value<'a>> {
        let value = self.get(name);
        if value.is_none() && self.real {
            self.fault(name, "missing", format!("the field `{name}` is missing"));
        }
        value
    }

    /// A field that may be missing or `null`.
    pub fn optional(&self, name: &'static str) -> Option<Value<'a>> {
        self.get(name).filter(|value| *value.node != Node::Null)
    }

    /// A field that has to be there, but may be `null`: the sender says openly that it is not known.
    pub fn nullable(&self, name: &'static str) -> Option<Value<'a>> {
        self.required(name).filter(|value| *value.node != Node::Null)
    }

    /// Adds a fault about one field.
    pub fn fault(&self, name: &str, code: &'static str, detail: impl Into<String>) {
        self.found.fault(&self.at(name), code, detail);
    }

    /// The JSON pointer of a field.
    #[must_use]
    pub fn at(&self, name: &str) -> String {
        join(&self.pointer, name)
    }

    fn get(&self, name: &'static str) -> Option<Value<'a>> {
        self.asked.borrow_mut().push(name);
        let node = self.nodes.get(name)?;
        Some(Value::new(self.found, self.at(name), node))
    }
}

impl Drop for Fields<'_> {
    fn drop(&mut self) {
        let asked = self.asked.borrow();
        for name in self.nodes.keys().filter(|name| !asked.contains(name)) {
            let known = asked.iter().copied().filter(|known| !self.nodes.contains_key(known));
            let hint = did_you_mean(&nearest(name, known));
            let detail = format!("no field {} is known here{hint}", quoted(name));
            self.found.fault(&join(&self.pointer, name), "unknown-field", detail);
        }
    }
}

/// One value and where it stands.
#[derive(Clone, Debug)]
pub struct Value<'a> {
    found: &'a Found,
    pointer: String,
    node: &'a Node,
}

impl<'a> Value<'a> {
    pub(super) const fn new(found: &'a Found, pointer: String, node: &'a Node) -> Self {
        Self { found, pointer, node }
    }

    /// Its JSON pointer.
    #[must_use]
    pub fn pointer(&self) -> &str {
        &self.pointer
    }

    /// The value as it was read.
    #[must_use]
    pub const fn node(&self) -> &'a Node {
        self.node
    }

    /// Adds a fault about this value; `None`, so that a reader can end with it.
    pub fn fault<T>(&self, code: &'static str, detail: impl Into<String>) -> Option<T> {
        self.found.fault(&self.pointer, code, detail);
        None
    }

    pub(super) fn wrong_type<T>(&self, expected: &str) -> Option<T> {
        self.fault("wrong-type", format!("expected {expected}, found {}", self.node.kind()))
    }

    pub(super) fn keep(&self, text: &str) {
        self.found.keep(&self.pointer, text);
    }

    /// An object. Anything else is reported once, and gives a view whose fields are all missing.
    #[must_use]
    pub fn object(&self) -> Fields<'a> {
        let mut nodes = BTreeMap::new();
        if let Node::Object(pairs) = self.node {
            for (name, node) in pairs {
                if nodes.insert(name.as_str(), node).is_some() {
                    let detail = format!("the field {} is given more than once", quoted(name));
                    self.found.fault(&join(&self.pointer, name), "duplicate-key", detail);
                }
            }
        } else {
            self.wrong_type::<()>("an object");
        }
        Fields {
            found: self.found,
            pointer: self.pointer.clone(),
            nodes,
            asked: RefCell::default(),
            real: matches!(self.node, Node::Object(_)),
        }
    }

    /// A list of at most so many entries.
    #[must_use]
    pub fn list(&self, entries_max: usize) -> Vec<Self> {
        let Node::List(nodes) = self.node else {
            self.wrong_type::<()>("a list");
            return Vec::new();
        };
        if nodes.len() > entries_max {
            let count = nodes.len();
            let detail = format!("the list has {count} entries; at most {entries_max} are taken");
            self.fault::<()>("list-too-long", detail);
            return Vec::new();
        }
        let entry = |(at, node)| Self::new(self.found, join(&self.pointer, &format!("{at}")), node);
        nodes.iter().enumerate().map(entry).collect()
    }

    /// A text of 1 to so many characters on one line, without the space around it.
    #[must_use]
    pub fn text(&self, chars_max: usize) -> Option<String> {
        let text = self.string("a text")?.trim();
        if text.is_empty() {
            return self.fault("empty", "the text is empty; leave the field out instead");
        }
        let count = text.chars().count();
        if count > chars_max {
            let detail = format!("the text has {count} characters; at most {chars_max} are taken");
            return self.fault("too-long", detail);
        }
        if text.chars().any(is_control) {
            return self.fault(
                "control-characters",
                "the text holds a line break, tab or other control character; write it on one line",
            );
        }
        Some(text.to_owned())
    }

    /// A short name, made by the given constructor: lower-case letters, digits and hyphens.
    pub fn slug<T>(&self, new: impl Fn(&str) -> Option<T>) -> Option<T> {
        let text = self.string("a short name such as `fan-belt`")?;
        new(text).or_else(|| {
            self.fault(
                "bad-name",
                format!(
                    "{} is not a short name; write 1 to 60 lower-case letters, digits and hyphens, such as `fan-belt`",
                    quoted(text)
                ),
            )
        })
    }

    /// One of a fixed set of words.
    pub fn word<T: Copy>(&self, all: &[T], word: fn(T) -> &'static str) -> Option<T> {
        let list = all.iter().map(|it| format!("`{}`", word(*it))).collect::<Vec<_>>().join(", ");
        let text = self.string(&format!("one of {list}"))?;
        all.iter().copied().find(|it| word(*it) == text).or_else(|| {
            let detail = format!("{} is not one of {list}", quoted(text));
            self.fault("unknown-word", detail)
        })
    }

    /// `true` or `false`.
    #[must_use]
    pub fn flag(&self) -> Option<bool> {
        match self.node {
            Node::Bool(flag) => Some(*flag),
            _ => self.wrong_type("true or false"),
        }
    }

    /// A calendar day, `2026-11-25`.
    #[must_use]
    pub fn day(&self) -> Option<NaiveDate> {
        let text = self.string("a day such as `2026-11-25`")?;
        day(text).or_else(|| {
            let detail = format!("{} is not a day; write it such as 2026-11-25", quoted(text));
            self.fault("bad-date", detail)
        })
    }

    /// An instant with its offset from UTC, `2026-11-25T14:05:00+01:00` (RFC 3339).
    #[must_use]
    pub fn instant(&self) -> Option<DateTime<Utc>> {
        let text = self.string("a time such as `2026-11-25T14:05:00+01:00`")?;
        match DateTime::parse_from_rfc3339(text) {
            Ok(time) => Some(time.to_utc()),
            Err(_) => self.fault(
                "bad-time",
                format!(
                    "{} is not a time with its offset; write it such as 2026-11-25T14:05:00+01:00",
                    quoted(text)
                ),
            ),
        }
    }

    /// A UUID in its hyphenated form.
    #[must_use]
    pub fn uid(&self) -> Option<Uid> {
        let text = self.string("a UUID")?;
        Uid::parse(text).or_else(|| {
            self.fault(
                "bad-uuid",
                format!(
                    "{} is not a UUID; write it such as 017f22e2-79b0-7cc3-98c4-dc0c0c07398f",
                    quoted(text)
                ),
            )
        })
    }

    /// A string as it is.
    #[must_use]
    pub fn string(&self, expected: &str) -> Option<&'a str> {
        match self.node {
            Node::Text(text) => Some(text),
            _ => self.wrong_type(expected),
        }
    }
}

/// A day in exactly the form `2026-11-25`.
#[must_use]
pub fn day(text: &str) -> Option<NaiveDate> {
    let bytes = text.as_bytes();
    let shape = bytes.len() == 10
        && bytes.iter().enumerate().all(|(at, byte)| match at {
            4 | 7 => *byte == b'-',
            _ => byte.is_ascii_digit(),
        });
    if shape { text.parse().ok() } else { None }
}

/// Control characters, line separators, and marks that turn the direction of the text after them.
fn is_control(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{2028}' | '\u{2029}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

#[cfg(test)]
mod tests {
    use super::super::{Fault, parse};
    use super::*;
    use gudgeon_life::hours::Basis;
    use gudgeon_life::ids::ItemId;

    /// The faults of a body read with `read`, as pointer and code.
    fn faults(json: &str, read: impl Fn(&Fields<'_>)) -> Vec<(String, &'static str)> {
        let node = parse(json.as_bytes()).expect("the test's JSON is right");
        let found = Found::default();
        read(&found.object(&node));
        let faults = found.into_result().err().unwrap_or_default();
        faults.into_iter().map(|fault| (fault.pointer, fault.code)).collect()
    }

    #[test]
    fn all_faults_come_at_once_with_their_pointers() {
        let json = r#"{"on":"2026-02-30","metre":1,"readings":[{"meter":-1},7],"a/b":1,"on":"x"}"#;
        let found = faults(json, |fields| {
            let _ = fields.required("on").and_then(|it| it.day());
            let _ = fields.required("meter").and_then(|it| it.hours());
            for reading in fields.required("readings").map_or(Vec::new(), |it| it.list(10)) {
                let reading = reading.object();
                let _ = reading.required("meter").and_then(|it| it.hours());
            }
        });
        let expected = [
            ("/a~1b", "unknown-field"),
            ("/meter", "missing"),
            ("/metre", "unknown-field"),
            ("/on", "duplicate-key"),
            ("/on", "bad-date"),
            ("/readings/0/meter", "negative"),
            ("/readings/1", "wrong-type"),
        ];
        let expected: Vec<_> = expected.map(|(at, code)| (at.to_owned(), code)).into();
        assert_eq!(found, expected);
    }

    #[test]
    fn an_unknown_field_is_told_its_nearest_name() {
        let node = parse(br#"{"metre":1}"#).expect("JSON");
        let found = Found::default();
        let _ = found.object(&node).required("meter");
        let faults = found.into_result().expect_err("two faults");
        let unknown = faults.iter().find(|fault| fault.code == "unknown-field");
        let detail = "no field `metre` is known here; did you mean `meter`?".to_owned();
        let expected = Fault { pointer: "/metre".to_owned(), code: "unknown-field", detail };
        assert_eq!(unknown, Some(&expected));
    }

    #[test]
    fn texts_names_words_days_times_and_ids() {
        for (json, code) in [
            (r#"{"it":"  "}"#, "empty"),
            (r#"{"it":"123456"}"#, "too-long"),
            (r#"{"it":"a\r\nb"}"#, "control-characters"),
            (r#"{"it":"a\u0000"}"#, "control-characters"),
            (r#"{"it":"a\u202eb"}"#, "control-characters"),
            (r#"{"it":5}"#, "wrong-type"),
        ] {
            let found = faults(json, |fields| {
                assert_eq!(fields.required("it").and_then(|it| it.text(5)), None);
            });
            assert_eq!(found, [("/it".to_owned(), code)], "{json}");
        }
        let wrong = r#"{"slug":"Fan Belt","word":"air","day":"2026-1-5","time":"2026-11-25T14:05:00","id":"7","flag":"yes","none":null}"#;
        let found = faults(wrong, |fields| {
            let _ = fields.required("slug").and_then(|it| it.slug(ItemId::new));
            let _ = fields.required("word").and_then(|it| it.word(&Basis::ALL, Basis::word));
            let _ = fields.required("day").and_then(|it| it.day());
            let _ = fields.required("time").and_then(|it| it.instant());
            let _ = fields.required("id").and_then(|it| it.uid());
            let _ = fields.required("flag").and_then(|it| it.flag());
            assert!(fields.nullable("none").is_none());
            assert!(fields.optional("absent").is_none());
            assert!(fields.nullable("gone").is_none());
        });
        let codes: Vec<_> = found.iter().map(|(at, code)| (at.as_str(), *code)).collect();
        let expected = [
            ("/day", "bad-date"),
            ("/flag", "wrong-type"),
            ("/gone", "missing"),
            ("/id", "bad-uuid"),
            ("/slug", "bad-name"),
            ("/time", "bad-time"),
            ("/word", "unknown-word"),
        ];
        assert_eq!(codes, expected);
    }

    #[test]
    fn a_body_that_is_no_object_is_one_fault() {
        for json in ["[]", "7", "null", "\"x\""] {
            let found = faults(json, |fields| {
                assert!(fields.required("meter").is_none());
            });
            assert_eq!(found, [(String::new(), "wrong-type")], "{json}");
        }
    }
}
