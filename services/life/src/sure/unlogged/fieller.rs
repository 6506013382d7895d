//! Hours from a single indicator: a straight line read backwards, with Fieller's limits.
//!
//! The check on the method that weighs all indicators together, and no more: by itself its 80 % interval is right
//! in 59 to 72 of 100 engines. Draper & Smith, "Applied Regression Analysis", section 3.2 (inverse regression).

use super::super::real;
use super::super::special::student_t_quantile;
use std::fmt;

/// A line to be read backwards, and what was measured.
#[derive(Clone, Debug, PartialEq)]
pub struct Calibration {
    /// Hours, or whatever else is sought.
    pub x: Vec<f64>,
    /// What was measured there.
    pub y: Vec<f64>,
    /// What was measured at the unknown place: the mean of `repeats` measurements.
    pub y0: f64,
    /// How many.
    pub repeats: u32,
    /// The confidence of both limits together, 0.5 to 0.999.
    pub confidence: f64,
    /// Whether `y0` is the mean of very many measurements, without a scatter of its own.
    pub mean_response: bool,
}

/// Where the line meets what was measured.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Inverse {
    /// The point.
    pub estimate: f64,
    /// t² s² / (b² Sxx): from 1 on the slope is lost in the scatter.
    pub g: f64,
    /// The limits; `None`, unbounded: this indicator cannot say.
    pub limits: Option<(f64, f64)>,
}

/// Why a line cannot be read backwards. The message says what would be right.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum FiellerError {
    /// Not as many values as hours, or fewer than three.
    Points,
    /// Values out of range.
    Value,
    /// A confidence out of range.
    Confidence,
    /// No measurement.
    Repeats,
    /// All at the same hours, or a level line: nothing to read.
    Level,
}

impl FiellerError {
    /// The word used in the API.
    #[must_use]
    pub const fn slug(self) -> &'static str {
        match self {
            Self::Points => "too-few-points",
            Self::Value => "value-out-of-range",
            Self::Confidence => "confidence-out-of-range",
            Self::Repeats => "repeats-out-of-range",
            Self::Level => "no-slope",
        }
    }
}

impl fmt::Display for FiellerError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Points => "a line needs as many values as hours, and at least three of each",
            Self::Value => "a value is between -1e9 and 1e9",
            Self::Confidence => "a confidence is between 0.5 and 0.999",
            Self::Repeats => "a value is measured at least once",
            Self::Level => "the values must be at different hours and change with them",
        })
    }
}

impl std::error::Error for FiellerError {}

/// Reads a line backwards.
///
/// # Errors
/// [`FiellerError`] for figures that make no sense, or a line without a slope.
pub fn invert(asked: &Calibration) -> Result<Inverse, FiellerError> {
    let Calibration { x, y, y0, repeats, confidence, mean_response } = asked;
    if x.len() != y.len() || x.len() < 3 {
        return Err(FiellerError::Points);
    }
    if !x.iter().chain(y).chain([y0]).all(|value| super::sensible(*value)) {
        return Err(FiellerError::Value);
    }
    if !(0.5..=0.999).contains(confidence) {
        return Err(FiellerError::Confidence);
    }
    if *repeats == 0 {
        return Err(FiellerError::Repeats);
    }
    let n = real(x.len());
    let (x_mean, y_mean) = (x.iter().sum::<f64>() / n, y.iter().sum::<f64>() / n);
    let sxx: f64 = x.iter().map(|x| (x - x_mean) * (x - x_mean)).sum();
    let sxy: f64 = x.iter().zip(y).map(|(x, y)| (x - x_mean) * (y - y_mean)).sum();
    let slope = sxy / sxx;
    if !slope.is_normal() {
        return Err(FiellerError::Level);
    }
    let away = |(x, y): (&f64, &f64)| y - y_mean - slope * (x - x_mean);
    let squares: f64 = x.iter().zip(y).map(|it| away(it) * away(it)).sum();
    let scatter = squares / (n - 2.0);
    let t = student_t_quantile(f64::midpoint(1.0, *confidence), n - 2.0);
    let distance = (y0 - y_mean) / slope;
    let g = t * t * scatter / (slope * slope * sxx);
    if !distance.is_finite() || !g.is_finite() {
        return Err(FiellerError::Level);
    }
    let own = if *mean_response { 0.0 } else { 1.0 / f64::from(*repeats) };
    let limits = (g < 1.0).then(|| {
        let under = (own + 1.0 / n) * (1.0 - g) + distance * distance / sxx;
        let half = t * scatter.sqrt() / (slope.abs() * (1.0 - g)) * under.sqrt();
        let middle = x_mean + distance / (1.0 - g);
        (middle - half, middle + half)
    });
    let limits = limits.filter(|(low, high)| low.is_finite() && high.is_finite());
    Ok(Inverse { estimate: x_mean + distance, g, limits })
}
