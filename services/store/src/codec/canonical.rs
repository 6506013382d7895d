//! JSON in the one form of RFC 8785, for the values that we store: objects, arrays, strings, integers.

use serde::Serialize;
use serde_json::{Map, Value};
use std::cmp::Ordering;

/// The canonical text: keys in the order of their UTF-16 code units, no spaces, shortest escapes.
pub(super) fn canonical(value: &Value) -> String {
    let mut out = Vec::new();
    write(value, &mut out);
    // It was written from texts.
    String::from_utf8(out).unwrap_or_default()
}

fn write(value: &Value, out: &mut Vec<u8>) {
    match value {
        Value::Array(items) => {
            out.push(b'[');
            for (at, item) in items.iter().enumerate() {
                if at > 0 {
                    out.push(b',');
                }
                write(item, out);
            }
            out.push(b']');
        }
        Value::Object(map) => write_object(map, out),
        scalar => write_scalar(scalar, out),
    }
}

fn write_object(map: &Map<String, Value>, out: &mut Vec<u8>) {
    let mut members: Vec<(&String, &Value)> = map.iter().collect();
    members.sort_by(|(a, _), (b, _)| order(a, b));
    out.push(b'{');
    for (at, (key, value)) in members.into_iter().enumerate() {
        if at > 0 {
            out.push(b',');
        }
        write_scalar(key, out);
        out.push(b':');
        write(value, out);
    }
    out.push(b'}');
}

/// `serde_json` escapes strings and prints integers exactly as RFC 8785 asks.
fn write_scalar(scalar: &impl Serialize, out: &mut Vec<u8>) {
    // Memory takes whatever is written, and every text can be.
    let _ = serde_json::to_writer(out, scalar);
}

/// The order of two keys.
fn order(a: &str, b: &str) -> Ordering {
    // Bytes of ASCII are in the same order.
    if a.is_ascii() && b.is_ascii() { a.cmp(b) } else { a.encode_utf16().cmp(b.encode_utf16()) }
}

#[cfg(test)]
mod tests {
    use super::*;

    // The keys and their order are the sorting example of RFC 8785 section 3.2.3.
    #[test]
    fn sorts_as_the_rfc_shows() {
        let text = "{\"\\u20ac\":1,\"\\r\":2,\"\\ufb33\":3,\"1\":4,\"\\ud83d\\ude00\":5,\"\\u0080\":6,\"\\u00f6\":7}";
        let value: Value = serde_json::from_str(text).expect("the example parses");
        assert_eq!(
            canonical(&value),
            "{\"\\r\":2,\"1\":4,\"\u{80}\":6,\"\u{f6}\":7,\"\u{20ac}\":1,\"\u{1f600}\":5,\"\u{fb33}\":3}"
        );
    }

    // The string of RFC 8785 section 3.2.2.2's example, as it must come out.
    #[test]
    fn escapes_as_the_rfc_shows() {
        let value = Value::String("\u{20ac}$\u{f}\nA'B\"\\\\\"/".to_owned());
        assert_eq!(canonical(&value), "\"\u{20ac}$\\u000f\\nA'B\\\"\\\\\\\\\\\"/\"");
    }
}
