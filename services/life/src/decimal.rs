//! Exact decimals for what is measured on a bench: a bore of 67.52 mm is 67.52, not the nearest binary fraction.
//!
//! Fixed point, in billionths. Every product and quotient that a value cannot hold is refused, so that
//! nothing infinite or undefined can come out of a sum.

use std::fmt;

/// Billionths in one.
const ONE: i64 = 1_000_000_000;
/// Decimal places that a value holds.
const PLACES: usize = 9;
/// The largest whole number that can be entered: beyond any reading in any unit of the trade.
pub const DECIMAL_MAX: i64 = 1_000_000_000;

/// A decimal number of up to nine places between -[`DECIMAL_MAX`] and [`DECIMAL_MAX`].
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Decimal(i64);

/// Why a text is not such a number. The message says what would be right.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum DecimalError {
    /// Not a decimal number at all.
    NotDecimal(String),
    /// More than nine decimal places.
    TooFine(String),
    /// Beyond [`DECIMAL_MAX`] on either side of zero.
    TooLarge(String),
}

impl fmt::Display for DecimalError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotDecimal(text) => {
                write!(
                    f,
                    "`{text}` is not a decimal number; write digits with a point, such as 67.52"
                )
            }
            Self::TooFine(text) => write!(f, "`{text}` has more than {PLACES} decimal places"),
            Self::TooLarge(text) => {
                write!(f, "`{text}` is beyond {DECIMAL_MAX}; check the decimal mark")
            }
        }
    }
}

impl std::error::Error for DecimalError {}

impl Decimal {
    /// Nothing.
    pub const ZERO: Self = Self(0);

    /// A whole number.
    #[must_use]
    pub fn whole(value: i32) -> Self {
        Self(i64::from(value) * ONE)
    }

    /// Reads `67.52`, `-1.5` or `80`: a point as the decimal mark, no exponent. Never through a float.
    ///
    /// # Errors
    /// [`DecimalError`], whose text names the value and says what would be right.
    pub fn parse(text: &str) -> Result<Self, DecimalError> {
        let (sign, unsigned) = text.strip_prefix('-').map_or((1, text), |rest| (-1, rest));
        let (whole, fraction) = unsigned.split_once('.').unwrap_or((unsigned, "0"));
        if !all_digits(whole) || !all_digits(fraction) {
            return Err(DecimalError::NotDecimal(text.to_owned()));
        }
        let fraction = fraction.trim_end_matches('0');
        if fraction.len() > PLACES {
            return Err(DecimalError::TooFine(text.to_owned()));
        }
        // Filled up to nine places, the fraction is a number of billionths.
        let digits = format!("{whole}{fraction:0<PLACES$}");
        match digits.parse::<i64>() {
            Ok(units) if units <= DECIMAL_MAX * ONE => Ok(Self(sign * units)),
            _ => Err(DecimalError::TooLarge(text.to_owned())),
        }
    }

    /// How many billionths it is.
    pub(crate) const fn billionths(self) -> i64 {
        self.0
    }

    /// So many billionths, if they can be held.
    pub(crate) fn from_billionths(billionths: i128) -> Option<Self> {
        i64::try_from(billionths).ok().map(Self)
    }

    /// The difference, if it can be held.
    #[must_use]
    pub fn minus(self, other: Self) -> Option<Self> {
        self.0.checked_sub(other.0).map(Self)
    }

    /// The sum, if it can be held.
    #[must_use]
    pub fn plus(self, other: Self) -> Option<Self> {
        self.0.checked_add(other.0).map(Self)
    }

    /// `self` x `times` / `by`, rounded to the nearest billionth (a tie away from zero); `None` when `by` is
    /// zero or the result cannot be held.
    #[must_use]
    pub fn scaled(self, times: Self, by: Self) -> Option<Self> {
        let product = i128::from(self.0) * i128::from(times.0);
        divide_rounded(product, i128::from(by.0))
            .and_then(|units| i64::try_from(units).ok())
            .map(Self)
    }

    /// Rounded to so many decimal places (a tie away from zero); nine or more change nothing.
    #[must_use]
    pub fn rounded(self, places: u32) -> Self {
        let step = (ONE / 10_i64.saturating_pow(places)).max(1);
        let rounded = divide_rounded(i128::from(self.0), i128::from(step))
            .and_then(|steps| i64::try_from(steps).ok())
            .and_then(|steps| steps.checked_mul(step));
        Self(rounded.unwrap_or(self.0))
    }
}

/// In plain digits without trailing zeros: `0.02`, `26.25`, `70`.
impl fmt::Display for Decimal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let size = self.0.unsigned_abs();
        let one = ONE.unsigned_abs();
        let sign = if self.0 < 0 { "-" } else { "" };
        let fraction = format!("{:09}", size % one);
        match fraction.trim_end_matches('0') {
            "" => write!(f, "{sign}{}", size / one),
            fraction => write!(f, "{sign}{}.{fraction}", size / one),
        }
    }
}

fn all_digits(text: &str) -> bool {
    !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit())
}

/// The quotient nearest to the true one; a tie goes away from zero.
fn divide_rounded(numerator: i128, denominator: i128) -> Option<i128> {
    let quotient = numerator.checked_div(denominator)?;
    let rest = numerator.checked_rem(denominator)?;
    if rest.unsigned_abs() < denominator.unsigned_abs() - rest.unsigned_abs() {
        return Some(quotient);
    }
    quotient.checked_add(numerator.signum() * denominator.signum())
}

#[cfg(test)]
mod tests {
    use super::*;

    // Expected values: the decimal digits themselves, written out by hand.
    #[test]
    fn reads_and_prints_exact_decimals() {
        for (text, printed) in [
            ("67.52", "67.52"),
            ("67.520", "67.52"),
            ("0", "0"),
            ("-0", "0"),
            ("-1.5", "-1.5"),
            ("007.10", "7.1"),
            ("0.000000001", "0.000000001"),
            ("0.00000000100", "0.000000001"),
            ("1000000000", "1000000000"),
        ] {
            assert_eq!(
                Decimal::parse(text).map(|d| d.to_string()),
                Ok(printed.to_owned()),
                "{text}"
            );
        }
    }

    #[test]
    fn refuses_what_it_cannot_hold() {
        for text in ["", "-", ".", "1.", ".5", "+1", "1,5", "0x1", "1e3", "NaN", "inf", "--1", "1 "]
        {
            assert_eq!(
                Decimal::parse(text),
                Err(DecimalError::NotDecimal(text.to_owned())),
                "{text}"
            );
        }
        for text in ["0.0000000001", "-67.1234567891"] {
            assert_eq!(Decimal::parse(text), Err(DecimalError::TooFine(text.to_owned())), "{text}");
        }
        for text in ["1000000000.1", "-1000000001", "99999999999999999999"] {
            assert_eq!(
                Decimal::parse(text),
                Err(DecimalError::TooLarge(text.to_owned())),
                "{text}"
            );
        }
    }

    #[test]
    fn divides_to_the_nearest_and_never_by_zero() {
        let [one, two, three] = [1, 2, 3].map(Decimal::whole);
        assert_eq!(two.scaled(one, three).map(|d| d.to_string()), Some("0.666666667".to_owned()));
        assert_eq!(
            Decimal::whole(-2).scaled(one, three).map(|d| d.to_string()),
            Some("-0.666666667".to_owned())
        );
        assert_eq!(one.scaled(one, Decimal::ZERO), None);
        let large = Decimal::whole(1_000_000_000);
        assert_eq!(large.scaled(large, one), None);
        assert_eq!(
            Decimal::parse("0.0005").map(|d| d.rounded(3).to_string()),
            Ok("0.001".to_owned())
        );
        assert_eq!(
            Decimal::parse("117.3913043").map(|d| d.rounded(3).to_string()),
            Ok("117.391".to_owned())
        );
    }
}
