//! Days as rows hold them: text of ten characters that sorts as the days do.

use chrono::NaiveDate;

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

/// Days in an export: `YYYY-MM-DD`.
pub(crate) mod text {
    use chrono::NaiveDate;
    use serde::de::Error as _;
    use serde::{Deserialize, Deserializer, Serializer};

    #[expect(clippy::trivially_copy_pass_by_ref, reason = "serde calls it so")]
    pub(crate) fn serialize<S: Serializer>(day: &NaiveDate, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(day)
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
