//! Time zones of the IANA database, by the names that people know them by.

use chrono::{DateTime, NaiveDate, NaiveDateTime, TimeDelta, TimeZone as _, Utc};
use chrono_tz::{GapInfo, TZ_VARIANTS, Tz};
use std::fmt;

/// One zone of the IANA database.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Zone(Tz);

/// A text that names no zone. The message says what would be right.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ZoneError(pub String);

impl fmt::Display for ZoneError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "`{}` is not a time zone; write its IANA name, such as Europe/Prague or UTC",
            self.0
        )
    }
}

impl std::error::Error for ZoneError {}

impl Zone {
    /// Coordinated Universal Time.
    pub const UTC: Self = Self(Tz::UTC);

    /// Reads an IANA name, such as `Europe/Prague`.
    ///
    /// # Errors
    /// [`ZoneError`], whose text says what would be right.
    pub fn parse(name: &str) -> Result<Self, ZoneError> {
        name.parse().map(Self).ok().ok_or_else(|| ZoneError(name.to_owned()))
    }

    /// Its IANA name.
    #[must_use]
    pub fn name(self) -> &'static str {
        self.0.name()
    }

    /// All zones, in order of name.
    pub fn all() -> impl Iterator<Item = Self> {
        TZ_VARIANTS.into_iter().map(Self)
    }

    /// The one instant at which clocks there show this, as whole seconds. Where they show it twice, the first
    /// time; where they skip it, the instant at which they go on.
    #[must_use]
    pub fn instant(self, local: NaiveDateTime) -> DateTime<Utc> {
        let shown = self.0.from_local_datetime(&local).earliest();
        let skipped = || GapInfo::new(&local, &self.0).and_then(|gap| gap.end);
        // Neither shown nor skipped is only what lies beyond the calendar.
        shown.or_else(skipped).map_or_else(|| local.and_utc(), |at| at.to_utc())
    }

    /// What clocks there show at an instant.
    #[must_use]
    pub fn local(self, at: DateTime<Utc>) -> NaiveDateTime {
        self.0.from_utc_datetime(&at.naive_utc()).naive_local()
    }

    /// The day there at an instant, given as microseconds since the Unix epoch.
    #[must_use]
    pub fn day(self, at_micros: i64) -> NaiveDate {
        let at = DateTime::UNIX_EPOCH.checked_add_signed(TimeDelta::microseconds(at_micros));
        at.map_or(NaiveDate::MAX, |at| self.local(at).date())
    }
}

/// By its IANA name.
impl fmt::Display for Zone {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(zone: &str, local: &str) -> String {
        let local = local.parse().expect("a date and a time");
        Zone::parse(zone).expect("a zone").instant(local).format("%Y-%m-%dT%H:%M:%SZ").to_string()
    }

    // Expected by the rules of the zones: the EU changes at 01:00 UTC (Directive 2000/84/EC), Samoa went over the
    // whole of 2011-12-30 (its Act of 2011, in the IANA file `australasia`), Nepal is 5:45 ahead.
    #[test]
    fn a_skipped_time_is_when_clocks_go_on_and_a_repeated_one_is_its_first() {
        for (zone, local, expected) in [
            ("Europe/Prague", "2026-11-23T07:00:00", "2026-11-23T06:00:00Z"),
            ("Europe/Prague", "2026-06-01T07:00:00", "2026-06-01T05:00:00Z"),
            ("Asia/Kathmandu", "2026-11-23T07:00:00", "2026-11-23T01:15:00Z"),
            ("Europe/Prague", "2026-03-29T02:30:00", "2026-03-29T01:00:00Z"),
            ("Europe/Prague", "2026-10-25T02:30:00", "2026-10-25T00:30:00Z"),
            ("Pacific/Apia", "2011-12-30T07:00:00", "2011-12-30T10:00:00Z"),
            ("Pacific/Apia", "2011-12-29T07:00:00", "2011-12-29T17:00:00Z"),
        ] {
            assert_eq!(at(zone, local), expected, "{zone} {local}");
        }
    }

    #[test]
    fn what_is_no_zone_is_refused_and_told_what_would_be() {
        for text in ["", "Prague", "europe/prague", "+01:00", "Europe/Prague "] {
            let error = Zone::parse(text).expect_err("no zone");
            assert!(error.to_string().contains("Europe/Prague or UTC"), "{error}");
        }
        assert!(Zone::all().count() > 400);
        assert!(Zone::all().all(|zone| Zone::parse(zone.name()) == Ok(zone)));
    }

    // 2026-11-22 18:00 UTC is Monday 07:00 in Auckland, 13 hours ahead in summer.
    #[test]
    fn the_day_is_that_of_the_place() {
        let at = 1_795_370_400_000_000;
        let day = |zone: &str| Zone::parse(zone).expect("a zone").day(at).to_string();
        assert_eq!(day("UTC"), "2026-11-22");
        assert_eq!(day("Pacific/Auckland"), "2026-11-23");
    }
}
