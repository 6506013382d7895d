//! When two serial numbers are the same: people write them with and without hyphens, in either case.

/// What of a serial number tells one thing from another: its letters and digits, letters in lower case.
/// `None` without any digit: "unknown" or "plate missing" names nothing.
///
/// Common practice; serial numbers are never unique keys, and this one is none either.
#[must_use]
pub fn serial_key(serial: &str) -> Option<String> {
    let key: String =
        serial.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase).collect();
    key.contains(|c: char| c.is_ascii_digit()).then_some(key)
}

/// Whether two serial numbers are the same.
pub(crate) fn is_same_serial(one: Option<&str>, other: Option<&str>) -> bool {
    let key = one.and_then(serial_key);
    key.is_some() && key == other.and_then(serial_key)
}

#[cfg(test)]
mod tests {
    use super::*;

    // Common practice: the plate, the log and the parcel write one number in three ways.
    #[test]
    fn hyphens_spaces_and_case_do_not_make_another_number() {
        assert_eq!(serial_key("OT-0302"), serial_key("ot 0302"));
        assert!(is_same_serial(Some("OT-0302"), Some("OT0302")));
        assert!(!is_same_serial(Some("OT-0302"), Some("OT-302")), "zeros are part of the number");
    }

    #[test]
    fn words_without_a_digit_name_nothing() {
        assert!(!is_same_serial(Some("unknown"), Some("unknown")));
        assert!(!is_same_serial(None, None));
    }
}
