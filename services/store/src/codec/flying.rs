//! How the aircraft of an engine flies, as it is kept with the engine's status: plain numbers, as texts that read
//! back to the same bit.

use super::canonical::canonical;
use super::fields::{Fields, as_day, as_whole, as_word, day, list, object, text, whole};
use super::parse;
use crate::error::StoreError;
use chrono::NaiveDate;
use gudgeon_life::sure::engine::Flying;
use gudgeon_life::sure::rate::{CannotSay, Kind, Owner, Rate};
use gudgeon_life::sure::season::Hemisphere;
use serde_json::Value;

/// Writes all of it but the day up to which the engine is counted, which has a column of its own.
pub(crate) fn write_flying(flying: &Flying) -> String {
    let (rate, cannot_say) = match &flying.rate {
        Ok(rate) => (rate_out(rate), Value::Null),
        Err(why) => (Value::Null, cannot_say_out(*why)),
    };
    canonical(&object([
        ("cannot_say", cannot_say),
        ("flown_by", text(flying.flown_by.word())),
        ("hemisphere", text(flying.hemisphere.word())),
        ("rate", rate),
    ]))
}

/// Reads it back.
pub(crate) fn read_flying(
    written: &str,
    counted_on: Option<NaiveDate>,
) -> Result<Flying, StoreError> {
    let value = parse(written)?;
    let it = Fields::of(&value, "how an aircraft flies")?;
    let rate = match it.part("rate") {
        Some(rate) => Ok(rate_in(rate)?),
        None => Err(cannot_say_in(it.any("cannot_say")?)?),
    };
    Ok(Flying {
        rate,
        flown_by: it.get("flown_by", as_word(Owner::ALL, Owner::word))?,
        hemisphere: it.get("hemisphere", as_word(Hemisphere::ALL, Hemisphere::word))?,
        counted_on,
    })
}

fn rate_out(rate: &Rate) -> Value {
    let kinds: Vec<f64> =
        rate.kinds.iter().flat_map(|it| [it.weight, it.shape, it.exposure_days]).collect();
    object([
        ("gaps", whole(rate.gaps)),
        ("kinds", numbers(&kinds)),
        ("last", day(rate.last)),
        ("lump_hours", number(rate.lump_hours)),
        ("months", numbers(&rate.months)),
    ])
}

fn rate_in(value: &Value) -> Result<Rate, StoreError> {
    let it = Fields::of(value, "a rate")?;
    let told: [f64; 9] = exactly(&it, "kinds")?;
    let mut kinds = [Kind::default(); 3];
    for (kind, told) in kinds.iter_mut().zip(told.chunks_exact(3)) {
        if let [weight, shape, exposure_days] = *told {
            *kind = Kind { weight, shape, exposure_days };
        }
    }
    Ok(Rate {
        last: it.get("last", as_day)?,
        gaps: it.get("gaps", |value| u32::try_from(as_whole(value)?).ok())?,
        lump_hours: it.get("lump_hours", as_number)?,
        kinds,
        months: exactly(&it, "months")?,
    })
}

fn exactly<const N: usize>(fields: &Fields<'_>, key: &str) -> Result<[f64; N], StoreError> {
    let told = fields.list_of(key, as_number)?;
    <[f64; N]>::try_from(told.as_slice()).ok().ok_or_else(|| fields.unreadable(key))
}

fn numbers(numbers: &[f64]) -> Value {
    list(numbers, |it| number(*it))
}

/// The shortest text that reads back to the same number.
fn number(number: f64) -> Value {
    text(number.to_string())
}

fn as_number(value: &Value) -> Option<f64> {
    value.as_str()?.parse().ok().filter(|number: &f64| number.is_finite())
}

fn cannot_say_out(why: CannotSay) -> Value {
    let (word, on) = match why {
        CannotSay::NoReading => ("no-reading", None),
        CannotSay::MeterDecreases { on } => ("meter-decreases", Some(on)),
        CannotSay::ReadingsTooOld { last } => ("readings-too-old", Some(last)),
        CannotSay::RecordsContradict { from } => ("records-contradict", Some(from)),
        CannotSay::NotInAircraft => ("not-in-aircraft", None),
        CannotSay::ReadApart => ("read-apart", None),
    };
    object([("on", on.map_or(Value::Null, day)), ("why", text(word))])
}

fn cannot_say_in(value: &Value) -> Result<CannotSay, StoreError> {
    let it = Fields::of(value, "why nothing can be said")?;
    let on = it.opt("on", as_day)?;
    it.get("why", |why| {
        Some(match (why.as_str()?, on) {
            ("no-reading", _) => CannotSay::NoReading,
            ("meter-decreases", Some(on)) => CannotSay::MeterDecreases { on },
            ("readings-too-old", Some(last)) => CannotSay::ReadingsTooOld { last },
            ("records-contradict", Some(from)) => CannotSay::RecordsContradict { from },
            ("not-in-aircraft", _) => CannotSay::NotInAircraft,
            ("read-apart", _) => CannotSay::ReadApart,
            _ => return None,
        })
    })
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
            let written = write_flying(&flying);
            assert_eq!(
                read_flying(&written, flying.counted_on).expect("readable"),
                flying,
                "{written}"
            );
        }
    }

    #[test]
    fn what_cannot_be_a_number_is_told() {
        let written = r#"{"flown_by":"club","hemisphere":"north","rate":{"gaps":0,"kinds":["1"],"last":"2026-01-10","lump_hours":"inf","months":[]}}"#;
        assert!(read_flying(written, None).is_err_and(|error| error.to_string().contains("kinds")));
    }
}
