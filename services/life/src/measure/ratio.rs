//! Fractions of whole numbers: what conversions and quotients of decimals come to, exactly.

use crate::decimal::Decimal;
use std::cmp::Ordering;
use std::fmt;

/// Billionths in one, the step of a [`Decimal`].
const ONE: i128 = 1_000_000_000;
/// Significant digits of a printed fraction that no decimal holds: finer than any gauge of the trade.
const DIGITS_PRINTED: usize = 6;

/// An exact fraction in lowest terms.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Ratio {
    above: i128,
    /// Always more than zero.
    below: i128,
}

impl Ratio {
    /// Nothing.
    pub const ZERO: Self = Self { above: 0, below: 1 };

    /// `above` / `below`; `None` when `below` is zero or a number cannot be held.
    #[must_use]
    pub fn new(above: i128, below: i128) -> Option<Self> {
        let divisor = i128::try_from(common_divisor(above, below)).ok()?;
        let sign = below.signum();
        let above = above.checked_div(divisor)?.checked_mul(sign)?;
        let below = below.checked_div(divisor)?.checked_mul(sign)?;
        (below > 0).then_some(Self { above, below })
    }

    /// A whole number.
    #[must_use]
    pub fn whole(value: i32) -> Self {
        Self { above: i128::from(value), below: 1 }
    }

    /// The sum, if it can be held.
    #[must_use]
    pub fn plus(self, other: Self) -> Option<Self> {
        let left = self.above.checked_mul(other.below)?;
        let right = other.above.checked_mul(self.below)?;
        Self::new(left.checked_add(right)?, self.below.checked_mul(other.below)?)
    }

    /// The difference, if it can be held.
    #[must_use]
    pub fn minus(self, other: Self) -> Option<Self> {
        self.plus(Self { above: other.above.checked_neg()?, below: other.below })
    }

    /// The product, if it can be held.
    #[must_use]
    pub fn times(self, other: Self) -> Option<Self> {
        // Shortened crosswise first: factors of units are long, and mostly cancel.
        let left = Self::new(self.above, other.below)?;
        let right = Self::new(other.above, self.below)?;
        Self::new(left.above.checked_mul(right.above)?, left.below.checked_mul(right.below)?)
    }

    /// The quotient; `None` for a division by zero, too.
    #[must_use]
    pub fn over(self, other: Self) -> Option<Self> {
        self.times(Self::new(other.below, other.above)?)
    }

    /// Its size without the sign.
    #[must_use]
    pub fn size(self) -> Self {
        // A numerator comes from checked sums of decimals, so its size can always be held.
        Self { above: self.above.saturating_abs(), below: self.below }
    }

    /// The next whole number at or below it.
    #[must_use]
    pub const fn floor(self) -> i128 {
        self.above.div_euclid(self.below)
    }

    /// The same number as a decimal, if one of nine places is exactly it.
    #[must_use]
    pub fn exactly(self) -> Option<Decimal> {
        let billionths = self.times(Self { above: ONE, below: 1 })?;
        if billionths.below == 1 { Decimal::from_billionths(billionths.above) } else { None }
    }

    /// The nearest decimal of so many places (a tie away from zero); `None` where it cannot be held.
    #[must_use]
    pub fn rounded(self, places: u32) -> Option<Decimal> {
        let step = 10_i128.checked_pow(places.min(9))?;
        let steps = self.size().times(Self { above: step, below: 1 })?;
        let nearest = steps.plus(Self { above: 1, below: 2 })?.floor();
        let billionths = nearest.checked_mul(ONE / step)?.checked_mul(self.above.signum())?;
        Decimal::from_billionths(billionths)
    }
}

impl From<Decimal> for Ratio {
    fn from(decimal: Decimal) -> Self {
        let above = i128::from(decimal.billionths());
        Self::new(above, ONE).unwrap_or(Self::ZERO)
    }
}

/// Compared as continued fractions, so that no product can grow too large.
impl Ord for Ratio {
    fn cmp(&self, other: &Self) -> Ordering {
        compare((self.above, self.below), (other.above, other.below))
    }
}

impl PartialOrd for Ratio {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

/// Each step takes the rest of a division, as Euclid does, so that it ends.
fn compare(left: (i128, i128), right: (i128, i128)) -> Ordering {
    let (whole_left, rest_left) = (left.0.div_euclid(left.1), left.0.rem_euclid(left.1));
    let (whole_right, rest_right) = (right.0.div_euclid(right.1), right.0.rem_euclid(right.1));
    whole_left.cmp(&whole_right).then_with(|| match (rest_left, rest_right) {
        (0, 0) => Ordering::Equal,
        (0, _) => Ordering::Less,
        (_, 0) => Ordering::Greater,
        _ => compare((right.1, rest_right), (left.1, rest_left)),
    })
}

/// In plain digits: exact where a decimal holds it in a few places, else to six significant digits.
impl fmt::Display for Ratio {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let whole_digits = match self.size().floor() {
            0 => 0,
            whole => whole.to_string().len(),
        };
        let places = u32::try_from(DIGITS_PRINTED.saturating_sub(whole_digits)).unwrap_or(0);
        match self.rounded(places) {
            Some(decimal) => decimal.fmt(f),
            None => write!(f, "{}/{}", self.above, self.below),
        }
    }
}

/// The greatest common divisor; at least 1.
fn common_divisor(left: i128, right: i128) -> u128 {
    let (mut left, mut right) = (left.unsigned_abs(), right.unsigned_abs());
    while right != 0 {
        (left, right) = (right, left % right);
    }
    left.max(1)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ratio(above: i128, below: i128) -> Ratio {
        Ratio::new(above, below).expect("possible")
    }

    // School fractions, worked by hand.
    #[test]
    fn sums_are_exact_and_in_lowest_terms() {
        let (third, sixth) = (ratio(1, 3), ratio(-2, -12));
        assert_eq!(sixth, ratio(1, 6));
        assert_eq!(third.plus(sixth), Some(ratio(1, 2)));
        assert_eq!(sixth.minus(third), Some(ratio(-1, 6)));
        assert_eq!(third.times(sixth), Some(ratio(1, 18)));
        assert_eq!(third.over(sixth), Some(Ratio::whole(2)));
        assert_eq!(third.over(Ratio::ZERO), None);
        assert_eq!(Ratio::new(1, 0), None);
        assert_eq!(Ratio::new(i128::MIN, -1), None);
        assert_eq!(third.exactly(), None);
        assert_eq!(ratio(-1, 6).size(), sixth);
    }

    #[test]
    fn order_holds_where_products_would_overflow() {
        let large = i128::MAX / 2;
        assert!(ratio(large, large - 1) < ratio(large - 1, large - 2));
        assert!(ratio(-large, large - 1) > ratio(-(large - 1), large - 2));
        let mut sorted = vec![ratio(1, 2), ratio(-1, 3), ratio(2, 3), Ratio::ZERO, ratio(3, 5)];
        sorted.sort();
        assert_eq!(sorted, [ratio(-1, 3), Ratio::ZERO, ratio(1, 2), ratio(3, 5), ratio(2, 3)]);
    }

    // Rounded by hand; a tie goes away from zero.
    #[test]
    fn prints_few_digits_and_rounds_to_the_nearest() {
        assert_eq!(ratio(2, 3).to_string(), "0.666667");
        assert_eq!(ratio(-200_000, 3).to_string(), "-66666.7");
        assert_eq!(ratio(6752, 100).to_string(), "67.52");
        assert_eq!(ratio(1, 8).rounded(2).map(|it| it.to_string()), Some("0.13".to_owned()));
        assert_eq!(ratio(-1, 8).rounded(2).map(|it| it.to_string()), Some("-0.13".to_owned()));
    }
}
