//! Values read as numbers: running hours, decimals, whole numbers, floating-point numbers.

use super::fields::Value;
use super::{Node, quoted};
use gudgeon_life::hours::{Hours, HoursError};
use std::ops::RangeInclusive;

/// Longer than any number of hours or measured value that means something.
const NUMBER_CHARS_MAX: usize = 30;
/// As many digits as any reader of JSON holds exactly.
const DECIMAL_DIGITS_MAX: usize = 15;

impl Value<'_> {
    /// Running hours: `1043.2`, `"1043.2"` or `"1043:12"`, not negative. What was written is kept.
    #[must_use]
    pub fn hours(&self) -> Option<Hours> {
        let text = self.number_text("hours such as 1043.2 or \"1043:12\"", "bad-hours")?;
        match Hours::parse(text) {
            Ok(hours) => {
                self.keep(text);
                Some(hours)
            }
            Err(error) => {
                let code = match error {
                    HoursError::Negative(_) => "negative",
                    HoursError::TooMany(_) => "out-of-range",
                    _ => "bad-hours",
                };
                self.fault(code, error.to_string())
            }
        }
    }

    /// A plain decimal such as `67.52`, as a number or a text, at most 15 digits; without needless zeros.
    /// What was written is kept.
    #[must_use]
    pub fn decimal(&self) -> Option<String> {
        let text = self.number_text("a decimal number such as 67.52", "bad-number")?;
        let Some(plain) = plain_decimal(text) else {
            return self.fault(
                "bad-number",
                format!(
                    "{} is not a plain decimal number; write it such as 67.52: a point as the decimal mark, no exponent, at most 15 digits",
                    quoted(text)
                ),
            );
        };
        self.keep(text);
        Some(plain)
    }

    /// A whole number within limits, as a JSON number.
    #[must_use]
    pub fn whole(&self, limits: RangeInclusive<i64>) -> Option<i64> {
        let (min, max) = (*limits.start(), *limits.end());
        let Node::Number(text) = self.node() else {
            return self.wrong_type(&format!("a whole number from {min} to {max}"));
        };
        let digits = text.strip_prefix('-').unwrap_or(text);
        if !digits.bytes().all(|b| b.is_ascii_digit()) {
            return self.fault(
                "bad-number",
                format!("{} is not a whole number; write one from {min} to {max}", quoted(text)),
            );
        }
        match text.parse() {
            Ok(value) if limits.contains(&value) => Some(value),
            _ if min >= 0 && text.starts_with('-') => self.fault(
                "negative",
                format!("{} is below zero; write a whole number from {min} to {max}", quoted(text)),
            ),
            _ => self
                .fault("out-of-range", format!("{} is not between {min} and {max}", quoted(text))),
        }
    }

    /// A floating-point number, for sums that are not about hours. JSON numbers only; never infinite.
    #[must_use]
    pub fn float(&self) -> Option<f64> {
        let Node::Number(text) = self.node() else {
            return self.wrong_type("a number");
        };
        match text.parse::<f64>() {
            Ok(value) if value.is_finite() => Some(value),
            _ => self.fault("out-of-range", format!("{} is too large a number", quoted(text))),
        }
    }

    /// The text of a number that may be written as a JSON number or as a string.
    fn number_text(&self, expected: &str, code: &'static str) -> Option<&str> {
        let (Node::Number(text) | Node::Text(text)) = self.node() else {
            return self.wrong_type(expected);
        };
        let text = text.trim();
        if text.chars().count() > NUMBER_CHARS_MAX || text.chars().any(char::is_control) {
            return self.fault(code, format!("this is not a number; write {expected}"));
        }
        Some(text)
    }
}

/// The decimal without leading and trailing zeros, `-` only before something that is not zero.
fn plain_decimal(text: &str) -> Option<String> {
    let (sign, digits) = text.strip_prefix('-').map_or(("", text), |rest| ("-", rest));
    let (whole, fraction) = digits.split_once('.').unwrap_or((digits, "0"));
    let all_digits = |part: &str| !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit());
    let count = digits.len() - usize::from(digits.contains('.'));
    if !all_digits(whole) || !all_digits(fraction) || count > DECIMAL_DIGITS_MAX {
        return None;
    }
    let whole = whole.trim_start_matches('0');
    let whole = if whole.is_empty() { "0" } else { whole };
    let fraction = fraction.trim_end_matches('0');
    Some(match (whole, fraction) {
        ("0", "") => "0".to_owned(),
        (_, "") => format!("{sign}{whole}"),
        _ => format!("{sign}{whole}.{fraction}"),
    })
}

#[cfg(test)]
mod tests {
    use super::super::{Found, parse};
    use super::*;

    fn read<T>(json: &str, read: impl Fn(Value<'_>) -> Option<T>) -> Result<T, &'static str> {
        let node = parse(json.as_bytes()).expect("the test's JSON is right");
        let found = Found::default();
        let value = read(found.value(&node));
        match (value, found.into_result()) {
            (Some(value), Ok(_)) => Ok(value),
            (None, Err(faults)) => Err(faults.first().expect("there is a fault").code),
            _ => panic!("a value without a fault, or none with one: {json}"),
        }
    }

    // 1043.2 h = 1043 h 12 min = 3 755 520 s.
    #[test]
    fn hours_in_every_way_of_writing_them() {
        for json in ["1043.2", "\"1043.2\"", "\"1043:12\"", "1043.20", "\" 1043.2 \""] {
            assert_eq!(read(json, |it| it.hours()), Ok(Hours::from_seconds(3_755_520)), "{json}");
        }
        for (json, code) in [
            ("-1", "negative"),
            ("\"-0:30\"", "negative"),
            ("1e400", "bad-hours"),
            ("1e3", "bad-hours"),
            ("\"1043,2\"", "bad-hours"),
            ("\"\"", "bad-hours"),
            ("\"1\\n2\"", "bad-hours"),
            ("99999999", "out-of-range"),
            ("null", "wrong-type"),
            ("true", "wrong-type"),
            ("[1]", "wrong-type"),
        ] {
            assert_eq!(read(json, |it| it.hours()), Err(code), "{json}");
        }
        let endless = format!("\"{}\"", "9".repeat(1000));
        assert_eq!(read(&endless, |it| it.hours()), Err("bad-hours"));
    }

    #[test]
    fn decimals_lose_needless_zeros_and_nothing_else() {
        for (json, plain) in [
            ("67.520", "67.52"),
            ("\"-0.0\"", "0"),
            ("\"007.10\"", "7.1"),
            ("-1.5", "-1.5"),
            ("0.1", "0.1"),
            ("100", "100"),
            ("123456789012345", "123456789012345"),
        ] {
            assert_eq!(read(json, |it| it.decimal()).as_deref(), Ok(plain), "{json}");
        }
        for json in ["\"78,5\"", "1e2", "\".5\"", "\"5.\"", "\"+1\"", "12345678901234567"] {
            assert_eq!(read(json, |it| it.decimal()), Err("bad-number"), "{json}");
        }
    }

    #[test]
    fn whole_and_floating_point_numbers() {
        let whole = |it: Value<'_>| it.whole(0..=999);
        assert_eq!(read("7", whole), Ok(7));
        for (json, code) in [
            ("1000", "out-of-range"),
            ("99999999999999999999", "out-of-range"),
            ("-1", "negative"),
            ("1.0", "bad-number"),
            ("1e2", "bad-number"),
            ("\"7\"", "wrong-type"),
        ] {
            assert_eq!(read(json, whole), Err(code), "{json}");
        }
        assert_eq!(read("1.5", |it| it.float()), Ok(1.5));
        assert_eq!(read("1e400", |it| it.float()), Err("out-of-range"));
        assert_eq!(read("\"1.5\"", |it| it.float()), Err("wrong-type"));
    }
}
