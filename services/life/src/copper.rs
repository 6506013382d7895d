//! Resistance of a copper winding at a reference temperature.
//!
//! Copper gains 0.39 % per degree, so a reading is brought back to one temperature before it is compared.
//! For coil, stator and charging windings only; never for resistor caps or ignition electronics.

#![expect(
    clippy::float_arithmetic,
    reason = "a ratio of measured resistances; bounded inputs keep it finite"
)]

use std::fmt;
use std::ops::RangeInclusive;

/// The temperature coefficient of annealed copper at 20 °C, per kelvin (IEC 60028).
pub const COPPER_ALPHA20: f64 = 0.00393;
/// The inferred zero-resistance temperature of copper, °C below zero (IEC 60028).
const COPPER_ZERO_C: f64 = 234.5;
/// Coefficients that the form with 234.5 may be used for: those of copper as tables round them.
const COPPER_ALPHAS: RangeInclusive<f64> = 0.0039..=0.00396;
/// Coefficients of the metals that windings are made of.
const METAL_ALPHAS: RangeInclusive<f64> = 0.001..=0.01;
/// Winding temperatures that a bench can meet, °C.
const TEMPERATURES_C: RangeInclusive<f64> = -40.0..=150.0;
/// The largest uncertainty of a winding's temperature that still says something, K.
const UNCERTAINTY_MAX_C: f64 = 100.0;
/// Above this a winding is open, whatever a meter shows, Ω.
const RESISTANCE_MAX_OHM: f64 = 1e9;

/// A resistance as measured.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Winding {
    /// Measured, Ω, leads already taken off.
    pub resistance_ohm: f64,
    /// The winding's temperature at that time, °C.
    pub temp_c: f64,
    /// The temperature to bring it to, °C.
    pub ref_temp_c: f64,
    /// The metal's temperature coefficient at 20 °C, per kelvin; [`COPPER_ALPHA20`] for copper.
    pub alpha20: f64,
    /// How uncertain the winding's temperature is, K.
    pub temp_uncertainty_c: f64,
}

/// The same resistance at the reference temperature, by both published forms. They differ by at most 0.02 %.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Corrected {
    /// By the coefficient: R (1 + a (Tref - 20)) / (1 + a (T - 20)), Ω.
    pub by_alpha_ohm: f64,
    /// By the inferred zero: R (234.5 + Tref) / (234.5 + T), Ω; `None` for a metal that is not copper.
    pub by_zero_ohm: Option<f64>,
    /// The part of the uncertainty that comes from the temperature, relative: a uT / (1 + a (T - 20)).
    pub relative_u_from_temp: f64,
}

/// Why a resistance cannot be corrected. The message says what would be right.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum CopperError {
    /// Zero, negative or open circuit.
    Resistance,
    /// A winding temperature that no bench meets.
    Temperature,
    /// A reference temperature that no bench meets.
    Reference,
    /// Not the coefficient of a metal.
    Alpha,
    /// Negative, or so large that nothing is known.
    Uncertainty,
}

impl CopperError {
    /// The word used in the API.
    #[must_use]
    pub const fn slug(self) -> &'static str {
        match self {
            Self::Resistance => "resistance-out-of-range",
            Self::Temperature => "temperature-out-of-range",
            Self::Reference => "reference-out-of-range",
            Self::Alpha => "alpha-out-of-range",
            Self::Uncertainty => "uncertainty-out-of-range",
        }
    }
}

impl fmt::Display for CopperError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Resistance => {
                "a winding's resistance is above zero and below 1e9 ohm; a short or open circuit is a fault, not a number"
            }
            Self::Temperature => "a winding is measured between -40 and 150 degrees Celsius",
            Self::Reference => "a reference temperature is between -40 and 150 degrees Celsius",
            Self::Alpha => "a metal's coefficient at 20 degrees Celsius is between 0.001 and 0.01 per kelvin; copper has 0.00393",
            Self::Uncertainty => "the uncertainty of a temperature is between 0 and 100 kelvin",
        })
    }
}

impl std::error::Error for CopperError {}

/// Brings a winding's resistance to the reference temperature.
///
/// Every bound below keeps the divisors above 0.4, so that no result is infinite or undefined.
///
/// # Errors
/// [`CopperError`] for a value outside its bounds, NaN included.
pub fn correct(winding: Winding) -> Result<Corrected, CopperError> {
    let Winding { resistance_ohm, temp_c, ref_temp_c, alpha20, temp_uncertainty_c } = winding;
    if !(resistance_ohm > 0.0 && resistance_ohm < RESISTANCE_MAX_OHM) {
        return Err(CopperError::Resistance);
    }
    if !TEMPERATURES_C.contains(&temp_c) {
        return Err(CopperError::Temperature);
    }
    if !TEMPERATURES_C.contains(&ref_temp_c) {
        return Err(CopperError::Reference);
    }
    if !METAL_ALPHAS.contains(&alpha20) {
        return Err(CopperError::Alpha);
    }
    if !(0.0..=UNCERTAINTY_MAX_C).contains(&temp_uncertainty_c) {
        return Err(CopperError::Uncertainty);
    }
    let growth = 1.0 + alpha20 * (temp_c - 20.0);
    let by_alpha_ohm = resistance_ohm * (1.0 + alpha20 * (ref_temp_c - 20.0)) / growth;
    let by_zero_ohm = COPPER_ALPHAS
        .contains(&alpha20)
        .then(|| resistance_ohm * (COPPER_ZERO_C + ref_temp_c) / (COPPER_ZERO_C + temp_c));
    Ok(Corrected {
        by_alpha_ohm,
        by_zero_ohm,
        relative_u_from_temp: alpha20 * temp_uncertainty_c / growth,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const COLD: Winding = Winding {
        resistance_ohm: 1.0,
        temp_c: 25.0,
        ref_temp_c: 100.0,
        alpha20: COPPER_ALPHA20,
        temp_uncertainty_c: 2.0,
    };

    // Published factor table, 25 °C base: 1.289 at 100 °C.
    #[test]
    fn agrees_with_the_published_factor() {
        let found = correct(COLD).expect("possible");
        assert!((found.by_zero_ohm.expect("copper") - 1.289).abs() < 0.0005, "{found:?}");
        assert!((found.by_alpha_ohm - 1.289).abs() < 0.0005, "{found:?}");
    }

    #[test]
    fn another_metal_has_no_copper_form() {
        let aluminium = Winding { alpha20: 0.00403, ..COLD };
        assert_eq!(correct(aluminium).map(|found| found.by_zero_ohm), Ok(None));
    }

    #[test]
    fn impossible_windings_are_refused() {
        for (winding, error) in [
            (Winding { resistance_ohm: 0.0, ..COLD }, CopperError::Resistance),
            (Winding { resistance_ohm: f64::INFINITY, ..COLD }, CopperError::Resistance),
            (Winding { resistance_ohm: f64::NAN, ..COLD }, CopperError::Resistance),
            (Winding { temp_c: 150.1, ..COLD }, CopperError::Temperature),
            (Winding { temp_c: -40.1, ..COLD }, CopperError::Temperature),
            (Winding { ref_temp_c: f64::NAN, ..COLD }, CopperError::Reference),
            (Winding { alpha20: 0.0, ..COLD }, CopperError::Alpha),
            (Winding { temp_uncertainty_c: -1.0, ..COLD }, CopperError::Uncertainty),
        ] {
            assert_eq!(correct(winding), Err(error), "{winding:?}");
        }
    }
}
