//! Days as rows hold them: text of ten characters that sorts as the days do.

use chrono::{Datelike, NaiveDate};

/// The first and the last day that a row can hold: 0001-01-01 and 9999-12-31. They stand for the ends of
/// the calendar.
const fn first_and_last() -> (NaiveDate, NaiveDate) {
    match (NaiveDate::from_ymd_opt(1, 1, 1), NaiveDate::from_ymd_opt(9999, 12, 31)) {
        (Some(first), Some(last)) => (first, last),
        _ => (NaiveDate::MIN, NaiveDate::MAX),
    }
}

/// The first day that a row can hold.
pub(crate) const FIRST: NaiveDate = first_and_last().0;

/// The last day that a row can hold.
pub(crate) const LAST: NaiveDate = first_and_last().1;

/// A day as a row holds it.
pub(crate) fn stored(day: NaiveDate) -> NaiveDate {
    day.clamp(FIRST, LAST)
}

/// A day as it was before [`stored`].
pub(crate) fn read(day: NaiveDate) -> NaiveDate {
    match day {
        FIRST => NaiveDate::MIN,
        LAST => NaiveDate::MAX,
        day => day,
    }
}

/// A day as ISO 8601 writes it. Each post writes dozens of them, and chrono takes several times as long.
pub(crate) fn iso(day: NaiveDate) -> String {
    let year = match u32::try_from(day.year()) {
        Ok(year) if year <= 9999 => year,
        _ => return day.to_string(),
    };
    let mut text = *b"0000-00-00";
    let mut left = (year * 100 + day.month()) * 100 + day.day();
    for place in text.iter_mut().rev().filter(|place| **place == b'0') {
        *place += u8::try_from(left % 10).unwrap_or_default();
        left /= 10;
    }
    str::from_utf8(&text).unwrap_or_default().to_owned()
}

/// Days in an export: `YYYY-MM-DD`.
pub(crate) mod text {
    use chrono::NaiveDate;
    use serde::de::Error as _;
    use serde::{Deserialize, Deserializer, Serializer};

    #[expect(clippy::trivially_copy_pass_by_ref, reason = "serde calls it so")]
    pub(crate) fn serialize<S: Serializer>(day: &NaiveDate, to: S) -> Result<S::Ok, S::Error> {
        to.serialize_str(&super::iso(*day))
    }

    pub(crate) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<NaiveDate, D::Error> {
        String::deserialize(from)?.parse().map_err(D::Error::custom)
    }
}

/// The same where there may be none: then its key is left out.
pub(crate) mod optional_text {
    use chrono::NaiveDate;
    use serde::{Deserialize, Deserializer, Serializer};

    #[expect(clippy::ref_option, clippy::trivially_copy_pass_by_ref, reason = "serde calls it so")]
    pub(crate) fn serialize<S: Serializer>(
        day: &Option<NaiveDate>,
        to: S,
    ) -> Result<S::Ok, S::Error> {
        match day {
            Some(day) => super::text::serialize(day, to),
            None => to.serialize_none(),
        }
    }

    pub(crate) fn deserialize<'de, D: Deserializer<'de>>(
        from: D,
    ) -> Result<Option<NaiveDate>, D::Error> {
        #[derive(Deserialize)]
        struct Day(#[serde(with = "super::text")] NaiveDate);
        Ok(Option::<Day>::deserialize(from)?.map(|day| day.0))
    }
}

#[cfg(test)]
mod tests {
    use super::{FIRST, LAST, iso};
    use chrono::{Days, NaiveDate};

    // Against chrono, over all that a row can hold and the ends of the calendar.
    #[test]
    fn days_are_written_as_chrono_writes_them() {
        let mut day = FIRST - Days::new(800);
        while day < LAST + Days::new(800) {
            assert_eq!(iso(day), day.to_string());
            day = day + Days::new(97);
        }
        for day in [FIRST, LAST, NaiveDate::MIN, NaiveDate::MAX] {
            assert_eq!(iso(day), day.to_string());
        }
    }
}
