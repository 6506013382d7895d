//! A reading with what its gauge leaves open: the value, and how low and how high the truth may lie.

use super::ratio::Ratio;

/// A value and the bounds of its expanded uncertainty, all in one unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Interval {
    /// As read or worked out.
    pub value: Ratio,
    /// The least that it may be.
    pub low: Ratio,
    /// The most that it may be.
    pub high: Ratio,
}

impl Interval {
    /// A value that is known exactly: a count, a setting.
    #[must_use]
    pub const fn exact(value: Ratio) -> Self {
        Self { value, low: value, high: value }
    }

    /// A value, give or take the expanded uncertainty; `None` where a bound cannot be held.
    #[must_use]
    pub fn around(value: Ratio, uncertainty: Ratio) -> Option<Self> {
        let uncertainty = uncertainty.size();
        Some(Self { value, low: value.minus(uncertainty)?, high: value.plus(uncertainty)? })
    }

    /// The same with each of the three changed alike, by what keeps their order.
    pub(crate) fn each(self, change: impl Fn(Ratio) -> Option<Ratio>) -> Option<Self> {
        Some(Self { value: change(self.value)?, low: change(self.low)?, high: change(self.high)? })
    }

    /// The difference, with both uncertainties at their worst.
    #[must_use]
    pub fn minus(self, other: Self) -> Option<Self> {
        Some(Self {
            value: self.value.minus(other.value)?,
            low: self.low.minus(other.high)?,
            high: self.high.minus(other.low)?,
        })
    }

    /// The quotient of what is not below zero by what is above zero, at its worst on both sides.
    #[must_use]
    pub fn over(self, other: Self) -> Option<Self> {
        if other.low <= Ratio::ZERO {
            return None;
        }
        Some(Self {
            value: self.value.over(other.value)?,
            low: self.low.max(Ratio::ZERO).over(other.high)?,
            high: self.high.over(other.low)?,
        })
    }
}
