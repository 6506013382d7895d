//! The sums of the bench: hours, torque, compression, bore, copper.

use super::answer;
use gudgeon_api::read::{Fields, Value};
use gudgeon_life::bench::{self, BenchError, Strokes, Wrench};
use gudgeon_life::copper::{self, CopperError, Winding};
use gudgeon_life::decimal::{Decimal, DecimalError};
use serde::Serialize;
use serde_json::value::RawValue;

/// The most levels a bore is measured on.
const LEVELS_MAX: usize = 100;
/// Decimal places of a torque: finer than any wrench.
const TORQUE_PLACES: u32 = 3;

#[derive(Serialize)]
struct HoursOut {
    seconds: i64,
    tenths: String,
    h_mm: String,
}

/// `{"value":"1043:12"}`: the same hours in seconds, in tenths by the published table, and as hours and minutes.
pub(super) fn hours(fields: &Fields<'_>) -> Option<String> {
    let hours = fields.required("value")?.hours()?;
    answer(&HoursOut {
        seconds: hours.seconds(),
        tenths: hours.tenths_by_table(),
        h_mm: hours.h_mm(),
    })
}

#[derive(Serialize)]
#[serde(rename_all = "lowercase")]
enum TorqueOut {
    Wrench(Box<RawValue>),
    Target(Box<RawValue>),
}

/// `{"target":135,"length":10,"extension":1.5}`: what the wrench must show; with `wrench` in place of `target`,
/// what the fastener got.
pub(super) fn torque(fields: &Fields<'_>) -> Option<String> {
    let wrench_shows = fields.optional("wrench");
    let target = match &wrench_shows {
        None => fields.required("target"),
        Some(wrench) => fields.optional("target").and_then(|_| {
            wrench.fault(
                "too-many",
                "give `target` or `wrench`, not both: the other one is the answer",
            )
        }),
    };
    let shown = wrench_shows.as_ref().and_then(decimal);
    let wanted = target.as_ref().and_then(decimal);
    let length = fields.required("length").as_ref().and_then(decimal);
    let extension = fields.required("extension").as_ref().and_then(decimal);
    let wrench = Wrench { length: length?, extension: extension? };
    let (name, found) = match (wanted, shown) {
        (Some(target), _) => ("target", wrench.reading(target)),
        (None, shown) => ("wrench", wrench.target(shown?)),
    };
    match found.map(|torque| exact(torque.rounded(TORQUE_PLACES))) {
        Ok(torque) if name == "target" => answer(&TorqueOut::Wrench(torque?)),
        Ok(torque) => answer(&TorqueOut::Target(torque?)),
        Err(error) => refused(fields, name, error),
    }
}

#[derive(Serialize)]
struct CompressionOut {
    loss_percent: Box<RawValue>,
    comparative_only: bool,
    finding: Option<&'static str>,
}

/// `{"supply":80,"cylinder":59,"strokes":4}`: the loss, and whether the published limit makes it suspect.
pub(super) fn compression(fields: &Fields<'_>) -> Option<String> {
    let supply = fields.required("supply").as_ref().and_then(decimal);
    let cylinder = fields.required("cylinder").as_ref().and_then(decimal);
    let strokes = fields.required("strokes").and_then(|it| {
        let strokes = u32::try_from(it.whole(0..=99)?).unwrap_or_default();
        Strokes::new(strokes)
            .or_else(|error| it.fault(error.slug(), error.to_string()).ok_or(error))
            .ok()
    });
    match bench::compression(supply?, cylinder?, strokes?) {
        Ok(found) => answer(&CompressionOut {
            loss_percent: exact(found.loss_percent)?,
            comparative_only: found.suspect.is_none(),
            finding: found.suspect.map(|suspect| if suspect { "suspect" } else { "within-limit" }),
        }),
        Err(error) => refused(fields, "supply", error),
    }
}

#[derive(Serialize)]
struct BoreOut {
    out_of_round: Box<RawValue>,
    taper: Box<RawValue>,
}

/// `{"a":[67.52,67.51,67.5],"b":[67.51,67.51,67.5]}`: two directions at right angles, level by level.
pub(super) fn bore(fields: &Fields<'_>) -> Option<String> {
    let a = fields.required("a").and_then(|it| diameters(&it));
    let b = fields.required("b").and_then(|it| diameters(&it));
    match bench::bore(&a?, &b?) {
        Ok(bore) => {
            answer(&BoreOut { out_of_round: exact(bore.out_of_round)?, taper: exact(bore.taper)? })
        }
        Err(error) => refused(fields, "a", error),
    }
}

/// Every diameter of a direction, or none when one of them is wrong.
fn diameters(list: &Value<'_>) -> Option<Vec<Decimal>> {
    let read = |it: &Value<'_>| {
        let diameter = decimal(it)?;
        if diameter > Decimal::ZERO {
            return Some(diameter);
        }
        it.fault(BenchError::Diameter.slug(), BenchError::Diameter.to_string())
    };
    // Read before collecting: every wrong entry is reported, not only the first.
    let read: Vec<Option<Decimal>> = list.list(LEVELS_MAX).iter().map(read).collect();
    read.into_iter().collect()
}

#[derive(Serialize)]
struct CopperOut {
    corrected_alpha: f64,
    corrected_234_5: Option<f64>,
    relative_u_from_temp: f64,
}

/// A winding's resistance at another temperature, by both published forms.
pub(super) fn copper(fields: &Fields<'_>) -> Option<String> {
    let number = |name| fields.required(name).and_then(|it| it.float());
    let resistance_ohm = number("resistance_ohm");
    let temp_c = number("temp_c");
    let ref_temp_c = number("ref_temp_c");
    let alpha20 = number("alpha20");
    let temp_uncertainty_c = number("temp_uncertainty_c");
    let winding = Winding {
        resistance_ohm: resistance_ohm?,
        temp_c: temp_c?,
        ref_temp_c: ref_temp_c?,
        alpha20: alpha20?,
        temp_uncertainty_c: temp_uncertainty_c?,
    };
    match copper::correct(winding) {
        Ok(found) => answer(&CopperOut {
            corrected_alpha: found.by_alpha_ohm,
            corrected_234_5: found.by_zero_ohm,
            relative_u_from_temp: found.relative_u_from_temp,
        }),
        Err(error) => {
            let name = match error {
                CopperError::Resistance => "resistance_ohm",
                CopperError::Temperature => "temp_c",
                CopperError::Reference => "ref_temp_c",
                CopperError::Alpha => "alpha20",
                CopperError::Uncertainty => "temp_uncertainty_c",
            };
            fields.fault(name, error.slug(), error.to_string());
            None
        }
    }
}

/// A number read exactly.
fn decimal(value: &Value<'_>) -> Option<Decimal> {
    let text = value.decimal()?;
    match Decimal::parse(&text) {
        Ok(decimal) => Some(decimal),
        Err(error) => {
            let code = match error {
                DecimalError::NotDecimal(_) => "bad-number",
                DecimalError::TooFine(_) => "too-fine",
                DecimalError::TooLarge(_) => "out-of-range",
            };
            value.fault(code, error.to_string())
        }
    }
}

/// A decimal as a JSON number with exactly its digits.
fn exact(decimal: Decimal) -> Option<Box<RawValue>> {
    RawValue::from_string(decimal.to_string()).ok()
}

/// A fault at the field that the error is about; `about` where the error itself does not say.
fn refused(fields: &Fields<'_>, about: &str, error: BenchError) -> Option<String> {
    let name = match error {
        BenchError::WrenchLength => "length",
        BenchError::Extension => "extension",
        BenchError::Cylinder => "cylinder",
        BenchError::Strokes => "strokes",
        BenchError::Levels | BenchError::FewLevels => "b",
        BenchError::Torque | BenchError::TooLarge | BenchError::Supply | BenchError::Diameter => {
            about
        }
    };
    fields.fault(name, error.slug(), error.to_string());
    None
}
