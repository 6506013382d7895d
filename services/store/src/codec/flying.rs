//! How the aircraft of an engine flies, as it is kept with the engine's status: plain numbers, as texts that read
//! back to the same bit.

use super::words::{Day, Number, Word};
use crate::error::StoreError;
use chrono::NaiveDate;
use gudgeon_life::sure::engine::Flying;
use gudgeon_life::sure::rate::{CannotSay, Kind, Owner, Rate};
use gudgeon_life::sure::season::Hemisphere;
use serde::{Deserialize, Serialize};
use std::borrow::Cow;

/// Writes all of it but the day up to which the engine is counted, which has a column of its own.
pub(crate) fn write_flying(flying: &Flying) -> Result<String, StoreError> {
    let row = FlyingRow {
        cannot_say: flying.rate.as_ref().err().map(|why| Why::of(*why)),
        flown_by: Word(flying.flown_by),
        hemisphere: Word(flying.hemisphere),
        rate: flying.rate.as_ref().ok().map(RateRow::of),
    };
    serde_json::to_string(&row).map_err(|error| corrupt(&error.to_string()))
}

/// Reads it back.
pub(crate) fn read_flying(
    written: &str,
    counted_on: Option<NaiveDate>,
) -> Result<Flying, StoreError> {
    let row: FlyingRow<'_> =
        serde_json::from_str(written).map_err(|error| corrupt(&error.to_string()))?;
    let rate = match (&row.rate, &row.cannot_say) {
        (Some(rate), None) => Ok(rate.read().ok_or_else(|| corrupt("the kinds of owner"))?),
        (None, Some(why)) => Err(why.read().ok_or_else(|| corrupt("why nothing can be said"))?),
        _ => return Err(corrupt("a rate, or why there is none")),
    };
    Ok(Flying { rate, flown_by: row.flown_by.0, hemisphere: row.hemisphere.0, counted_on })
}

fn corrupt(what: &str) -> StoreError {
    StoreError::Corrupt(format!("how an aircraft flies: {what}"))
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct FlyingRow<'a> {
    #[serde(borrow, skip_serializing_if = "Option::is_none")]
    cannot_say: Option<Why<'a>>,
    flown_by: Word<Owner>,
    hemisphere: Word<Hemisphere>,
    #[serde(skip_serializing_if = "Option::is_none")]
    rate: Option<RateRow>,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct RateRow {
    gaps: u32,
    /// Weight, shape and exposure of one kind of owner after the other.
    kinds: Vec<Number>,
    last: Day,
    lump_hours: Number,
    months: [Number; 12],
}

impl RateRow {
    fn of(rate: &Rate) -> Self {
        let kinds = rate.kinds.iter().flat_map(|it| [it.weight, it.shape, it.exposure_days]);
        Self {
            gaps: rate.gaps,
            kinds: kinds.map(Number).collect(),
            last: Day(rate.last),
            lump_hours: Number(rate.lump_hours),
            months: rate.months.map(Number),
        }
    }

    fn read(&self) -> Option<Rate> {
        let kind = |told: [Number; 3]| {
            let [weight, shape, exposure_days] = told.map(|it| it.0);
            Kind { weight, shape, exposure_days }
        };
        let (kinds, rest) = self.kinds.as_chunks();
        let kinds = <[[Number; 3]; 3]>::try_from(kinds).ok().filter(|_| rest.is_empty())?;
        Some(Rate {
            last: self.last.0,
            gaps: self.gaps,
            lump_hours: self.lump_hours.0,
            kinds: kinds.map(kind),
            months: self.months.map(|it| it.0),
        })
    }
}

/// Why nothing can be said, and since when.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Why<'a> {
    #[serde(skip_serializing_if = "Option::is_none")]
    on: Option<Day>,
    #[serde(borrow)]
    why: Cow<'a, str>,
}

impl Why<'_> {
    fn of(why: CannotSay) -> Self {
        let (why, on) = match why {
            CannotSay::NoReading => ("no-reading", None),
            CannotSay::MeterDecreases { on } => ("meter-decreases", Some(on)),
            CannotSay::ReadingsTooOld { last } => ("readings-too-old", Some(last)),
            CannotSay::RecordsContradict { from } => ("records-contradict", Some(from)),
            CannotSay::NotInAircraft => ("not-in-aircraft", None),
            CannotSay::ReadApart => ("read-apart", None),
        };
        Self { on: on.map(Day), why: Cow::Borrowed(why) }
    }

    fn read(&self) -> Option<CannotSay> {
        Some(match (self.why.as_ref(), self.on.as_ref().map(|day| day.0)) {
            ("no-reading", _) => CannotSay::NoReading,
            ("meter-decreases", Some(on)) => CannotSay::MeterDecreases { on },
            ("readings-too-old", Some(last)) => CannotSay::ReadingsTooOld { last },
            ("records-contradict", Some(from)) => CannotSay::RecordsContradict { from },
            ("not-in-aircraft", _) => CannotSay::NotInAircraft,
            ("read-apart", _) => CannotSay::ReadApart,
            _ => return None,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use gudgeon_life::hours::Hours;
    use gudgeon_life::sure::rate::{Meter, Reading};

    fn day(text: &str) -> NaiveDate {
        text.parse().expect("a day")
    }

    // What is written is what is read, to the last bit: a forecast made of it must not differ from the records'.
    #[test]
    fn what_is_kept_reads_back_the_same() {
        let read = |on: &str, tenths: i64| Reading {
            on: day(on),
            hours: Hours::from_seconds(tenths * 360),
            meter: Meter::Same,
        };
        let readings =
            [read("2026-01-10", 10_000), read("2026-03-01", 10_137), read("2026-06-02", 10_432)];
        let learnt = Rate::learn(&readings, Hemisphere::South, Owner::Unknown);
        let cannot = [
            CannotSay::NoReading,
            CannotSay::MeterDecreases { on: day("2026-01-10") },
            CannotSay::ReadingsTooOld { last: day("2026-01-10") },
            CannotSay::RecordsContradict { from: day("2026-01-10") },
            CannotSay::NotInAircraft,
            CannotSay::ReadApart,
        ];
        for rate in std::iter::once(learnt).chain(cannot.map(Err)) {
            let flying = Flying {
                rate,
                flown_by: Owner::Club,
                hemisphere: Hemisphere::Equator,
                counted_on: Some(day("2026-06-02")),
            };
            let written = write_flying(&flying).expect("writable");
            assert_eq!(
                read_flying(&written, flying.counted_on).expect("readable"),
                flying,
                "{written}"
            );
        }
    }

    // As the first version wrote it; rows like it lie in databases.
    #[test]
    fn what_the_first_version_wrote_is_read_and_written() {
        let months = [r#""1""#; 12].join(",");
        let written = format!(
            r#"{{"flown_by":"club","hemisphere":"north","rate":{{"gaps":2,"kinds":["0.25","2","9.5","0.5","3","8","0.25","4","7"],"last":"2026-01-10","lump_hours":"3.5","months":[{months}]}}}}"#
        );
        let flying = read_flying(&written, None).expect("readable");
        let rate = flying.rate.expect("a rate");
        assert_eq!((rate.gaps, rate.last), (2, day("2026-01-10")));
        assert!((rate.kinds[1].shape - 3.0).abs() < f64::EPSILON, "{rate:?}");
        assert_eq!(write_flying(&flying).expect("writable"), written);
        let written = r#"{"cannot_say":{"on":"2026-01-10","why":"meter-decreases"},"flown_by":"unknown","hemisphere":"south"}"#;
        let flying = read_flying(written, None).expect("readable");
        assert_eq!(flying.rate, Err(CannotSay::MeterDecreases { on: day("2026-01-10") }));
        assert_eq!(write_flying(&flying).expect("writable"), written);
    }

    #[test]
    fn what_cannot_be_a_number_is_told() {
        let row = |kinds: &str, lump: &str| {
            let months = [r#""1""#; 12].join(",");
            format!(
                r#"{{"flown_by":"club","hemisphere":"north","rate":{{"gaps":0,"kinds":[{kinds}],"last":"2026-01-10","lump_hours":"{lump}","months":[{months}]}}}}"#
            )
        };
        let error = read_flying(&row(r#""1""#, "3"), None).expect_err("one number of nine");
        assert!(error.to_string().contains("kinds"), "{error}");
        let error = read_flying(&row("", "inf"), None).expect_err("no number");
        assert!(error.to_string().contains("`inf` is not a number"), "{error}");
    }
}
