//! The only place that asks what time it is.

use chrono::{DateTime, NaiveDate, Utc};
use gudgeon_store::Instant;

/// Now, as the store keeps it.
pub(crate) fn now() -> Instant {
    #[expect(
        clippy::disallowed_methods,
        reason = "this is the one clock that all others are given"
    )]
    let now = Utc::now();
    Instant(now.timestamp_micros())
}

/// The UTC day of an instant.
pub(crate) fn day_of(instant: Instant) -> NaiveDate {
    DateTime::from_timestamp_micros(instant.0).map_or(NaiveDate::MIN, |at| at.date_naive())
}
