//! JSON text as a tree that keeps the exact text of numbers, the order of fields, and doubled fields.

use super::{Fault, join};
use serde::de::{Deserialize, Deserializer, Error, MapAccess, SeqAccess, Visitor};
use serde_json::value::RawValue;
use std::fmt;

/// How deep lists and objects may lie in one another; no request of ours is deeper than six.
pub const DEPTH_MAX: usize = 16;

/// A JSON value.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Node {
    /// `null`.
    Null,
    /// `true` or `false`.
    Bool(bool),
    /// A number, as written.
    Number(String),
    /// A string, unescaped.
    Text(String),
    /// A list.
    List(Vec<Node>),
    /// An object: its fields in the order written, doubled ones included.
    Object(Vec<(String, Node)>),
}

impl Node {
    /// What it is, as a message says it.
    #[must_use]
    pub const fn kind(&self) -> &'static str {
        match self {
            Self::Null => "null",
            Self::Bool(_) => "true or false",
            Self::Number(_) => "a number",
            Self::Text(_) => "a text",
            Self::List(_) => "a list",
            Self::Object(_) => "an object",
        }
    }
}

/// Reads one JSON value (RFC 8259) from UTF-8 bytes.
///
/// # Errors
/// `malformed-json` with line and column, or `too-deep` beyond [`DEPTH_MAX`].
pub fn parse(bytes: &[u8]) -> Result<Node, Fault> {
    let malformed =
        |detail: String| Fault { pointer: String::new(), code: "malformed-json", detail };
    let text = std::str::from_utf8(bytes).map_err(|error| {
        malformed(format!("the body is not UTF-8: byte {} is wrong", error.valid_up_to()))
    })?;
    let raw: &RawValue = serde_json::from_str(text)
        .map_err(|error| malformed(format!("the body is not JSON: {error}")))?;
    walk(raw.get(), "", 1)
}

/// The tree of one value whose syntax is known to be right; `level` counts the outermost as 1.
///
/// Each level reads its part of the text again, so the work is at most `DEPTH_MAX` times the length.
fn walk(text: &str, pointer: &str, level: usize) -> Result<Node, Fault> {
    let broken = |_| Fault {
        pointer: pointer.to_owned(),
        code: "malformed-json",
        detail: "a text here has an escape that stands for no character".to_owned(),
    };
    match text.as_bytes().first() {
        Some(b'{' | b'[') if level > DEPTH_MAX => Err(Fault {
            pointer: pointer.to_owned(),
            code: "too-deep",
            detail: format!("lists and objects may lie {DEPTH_MAX} deep at most"),
        }),
        Some(b'{') => {
            let Pairs(pairs) = serde_json::from_str(text).map_err(broken)?;
            let fields = pairs.into_iter().map(|(name, raw)| {
                let node = walk(raw.get(), &join(pointer, &name), level + 1)?;
                Ok((name, node))
            });
            fields.collect::<Result<_, _>>().map(Node::Object)
        }
        Some(b'[') => {
            let Entries(entries) = serde_json::from_str(text).map_err(broken)?;
            let nodes = entries
                .iter()
                .enumerate()
                .map(|(at, raw)| walk(raw.get(), &join(pointer, &at.to_string()), level + 1));
            nodes.collect::<Result<_, _>>().map(Node::List)
        }
        Some(b'"') => serde_json::from_str(text).map(Node::Text).map_err(broken),
        Some(b't') => Ok(Node::Bool(true)),
        Some(b'f') => Ok(Node::Bool(false)),
        Some(b'n') => Ok(Node::Null),
        _ => Ok(Node::Number(text.to_owned())),
    }
}

/// The fields of an object, none merged. (A map would keep only the last of two.)
struct Pairs<'a>(Vec<(String, &'a RawValue)>);

/// The entries of a list.
struct Entries<'a>(Vec<&'a RawValue>);

impl<'de> Deserialize<'de> for Pairs<'de> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Collect;
        impl<'de> Visitor<'de> for Collect {
            type Value = Pairs<'de>;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("an object")
            }

            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Pairs<'de>, A::Error> {
                let mut pairs = Vec::new();
                while let Some(pair) = map.next_entry()? {
                    pairs.push(pair);
                }
                Ok(Pairs(pairs))
            }
        }
        deserializer.deserialize_map(Collect)
    }
}

impl<'de> Deserialize<'de> for Entries<'de> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Collect;
        impl<'de> Visitor<'de> for Collect {
            type Value = Entries<'de>;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a list")
            }

            fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<Entries<'de>, A::Error> {
                let mut entries = Vec::new();
                while let Some(entry) = list.next_element().map_err(A::Error::custom)? {
                    entries.push(entry);
                }
                Ok(Entries(entries))
            }
        }
        deserializer.deserialize_seq(Collect)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keeps_the_exact_text_of_numbers_and_both_of_two_fields() {
        let node = parse(br#" {"a": 1043.20, "a": 1e400, "b": [-0, true, null, "\u00e9"]} "#);
        let number = |text: &str| Node::Number(text.to_owned());
        let list = vec![number("-0"), Node::Bool(true), Node::Null, Node::Text("é".to_owned())];
        assert_eq!(
            node,
            Ok(Node::Object(vec![
                ("a".to_owned(), number("1043.20")),
                ("a".to_owned(), number("1e400")),
                ("b".to_owned(), Node::List(list)),
            ]))
        );
    }

    #[test]
    fn refuses_what_is_not_json() {
        for bytes in [
            &b""[..],
            b"{",
            b"NaN",
            b"{\"a\":NaN}",
            b"{\"a\":1}x",
            b"{'a':1}",
            b"[1,]",
            b"01",
            b"\"\xff\"",
            b"\"\\ud800\"",
            b"{\"\\udfff\":1}",
        ] {
            let code = parse(bytes).expect_err("must be refused").code;
            assert_eq!(code, "malformed-json", "{}", String::from_utf8_lossy(bytes));
        }
    }

    #[test]
    fn depth_is_bounded_without_recursion_beyond_it() {
        let nested = |depth: usize| format!("{}{}", "[".repeat(depth), "]".repeat(depth));
        assert!(parse(nested(DEPTH_MAX).as_bytes()).is_ok());
        for depth in [DEPTH_MAX + 1, 1000, 100_000] {
            assert_eq!(parse(nested(depth).as_bytes()).expect_err("too deep").code, "too-deep");
        }
    }
}
