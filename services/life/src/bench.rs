//! Sums of the work bench: torque through an extension, differential compression, bore geometry.
//!
//! All on exact decimals. A sum refuses what no bench can give, and says what would be right.

use crate::decimal::Decimal;
use std::fmt;

/// Why a sum has no answer. The message says what would be right.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum BenchError {
    /// A torque of zero or less.
    Torque,
    /// A wrench length of zero or less.
    WrenchLength,
    /// An extension that points back to the grip or beyond it.
    Extension,
    /// A result larger than can be meant.
    TooLarge,
    /// A supply pressure of zero or less.
    Supply,
    /// A cylinder pressure below zero, or above the supply.
    Cylinder,
    /// Neither a two-stroke nor a four-stroke.
    Strokes,
    /// A diameter of zero or less.
    Diameter,
    /// The two directions were not measured on the same levels.
    Levels,
    /// Fewer than two levels.
    FewLevels,
}

impl BenchError {
    /// The word used in the API.
    #[must_use]
    pub const fn slug(self) -> &'static str {
        match self {
            Self::Torque => "torque-not-positive",
            Self::WrenchLength => "length-not-positive",
            Self::Extension => "extension-past-grip",
            Self::TooLarge => "result-too-large",
            Self::Supply => "supply-not-positive",
            Self::Cylinder => "cylinder-out-of-range",
            Self::Strokes => "strokes-not-two-or-four",
            Self::Diameter => "diameter-not-positive",
            Self::Levels => "levels-differ",
            Self::FewLevels => "too-few-levels",
        }
    }
}

impl fmt::Display for BenchError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Torque => "a torque is above zero",
            Self::WrenchLength => "the length of a wrench, from drive to middle of grip, is above zero",
            Self::Extension => {
                "an extension that points back (below zero) must be shorter than the wrench"
            }
            Self::TooLarge => "the result is too large to be meant; check length and extension",
            Self::Supply => "the regulated supply pressure is above zero",
            Self::Cylinder => {
                "the cylinder holds between zero and the supply pressure; a reading above it means a gauge to check"
            }
            Self::Strokes => "an engine has 2 or 4 strokes",
            Self::Diameter => "a diameter is above zero",
            Self::Levels => "measure both directions on the same levels: as many values in `a` as in `b`",
            Self::FewLevels => {
                "a taper needs at least two levels in each direction; three are usual"
            }
        })
    }
}

impl std::error::Error for BenchError {}

/// A torque wrench with a straight extension, in one unit of length.
///
/// At 90 degrees to the wrench an extension changes nothing, and this sum is not for it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Wrench {
    /// From the drive to the middle of the grip.
    pub length: Decimal,
    /// From the drive to the fastener, along the wrench; below zero when it points back to the grip.
    pub extension: Decimal,
}

impl Wrench {
    /// What the wrench must show so that the fastener gets `target`: target x L / (L + E).
    ///
    /// Source: US Army TM 1-1500-204-23-9 fig 8-16; offset back: L - E.
    ///
    /// # Errors
    /// [`BenchError`] when the torque or the lengths cannot be, or the result is too large.
    pub fn reading(self, target: Decimal) -> Result<Decimal, BenchError> {
        let reach = self.reach(target)?;
        target.scaled(self.length, reach).ok_or(BenchError::TooLarge)
    }

    /// What the fastener got when the wrench showed `reading`: reading x (L + E) / L.
    ///
    /// Source: US Army TM 9-254 fig 45.
    ///
    /// # Errors
    /// [`BenchError`] when the torque or the lengths cannot be, or the result is too large.
    pub fn target(self, reading: Decimal) -> Result<Decimal, BenchError> {
        let reach = self.reach(reading)?;
        reading.scaled(reach, self.length).ok_or(BenchError::TooLarge)
    }

    /// From grip to fastener, once everything makes sense.
    fn reach(self, torque: Decimal) -> Result<Decimal, BenchError> {
        if torque <= Decimal::ZERO {
            return Err(BenchError::Torque);
        }
        if self.length <= Decimal::ZERO {
            return Err(BenchError::WrenchLength);
        }
        let reach = self.length.plus(self.extension).ok_or(BenchError::TooLarge)?;
        if reach > Decimal::ZERO { Ok(reach) } else { Err(BenchError::Extension) }
    }
}

/// How an engine breathes, as far as a compression figure goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Strokes {
    /// Ports, not valves: the figure can only be compared with the engine's own earlier ones.
    Two,
    /// Valves: the published limit applies, where the maker gives no other.
    Four,
}

impl Strokes {
    /// The kind of engine with so many strokes.
    ///
    /// # Errors
    /// [`BenchError::Strokes`] for anything but 2 and 4.
    pub const fn new(strokes: u32) -> Result<Self, BenchError> {
        match strokes {
            2 => Ok(Self::Two),
            4 => Ok(Self::Four),
            _ => Err(BenchError::Strokes),
        }
    }
}

/// What a differential compression test says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Compression {
    /// How much of the supply pressure is lost, in percent.
    pub loss_percent: Decimal,
    /// Whether the loss is above 25 percent; `None` where the figure is comparative only and never a judgement.
    pub suspect: Option<bool>,
}

/// The loss of a differential compression test, from the regulated supply and what the cylinder holds.
///
/// A four-stroke cylinder that loses more than 25 percent is suspect: run it again and repeat (AC 43.13-1B
/// para 8-14). A two-stroke figure is comparative only (common practice: the rings must cover the ports).
///
/// # Errors
/// [`BenchError::Supply`] or [`BenchError::Cylinder`] for pressures that cannot be.
pub fn compression(
    supply: Decimal,
    cylinder: Decimal,
    strokes: Strokes,
) -> Result<Compression, BenchError> {
    if supply <= Decimal::ZERO {
        return Err(BenchError::Supply);
    }
    if cylinder < Decimal::ZERO || cylinder > supply {
        return Err(BenchError::Cylinder);
    }
    let lost = supply.minus(cylinder).ok_or(BenchError::Cylinder)?;
    let loss_percent = lost.scaled(Decimal::whole(100), supply).ok_or(BenchError::TooLarge)?;
    // Judged on the pressures themselves: a percentage may have been rounded.
    let limit =
        supply.scaled(Decimal::whole(25), Decimal::whole(100)).ok_or(BenchError::TooLarge)?;
    let suspect = match strokes {
        Strokes::Two => None,
        Strokes::Four => Some(lost > limit),
    };
    Ok(Compression { loss_percent, suspect })
}

/// The shape of a bore, in the unit it was measured in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Bore {
    /// The biggest difference of the two directions on one level.
    pub out_of_round: Decimal,
    /// The biggest difference between levels in one direction.
    pub taper: Decimal,
}

/// The shape of a bore from diameters in two directions at right angles, level by level, top to bottom.
///
/// Source: service-manual definitions; taper by the simple cylindricity method.
///
/// # Errors
/// [`BenchError`] for diameters that cannot be, unequal numbers of levels, or fewer than two.
pub fn bore(a: &[Decimal], b: &[Decimal]) -> Result<Bore, BenchError> {
    if a.len() != b.len() {
        return Err(BenchError::Levels);
    }
    if a.len() < 2 {
        return Err(BenchError::FewLevels);
    }
    if a.iter().chain(b).any(|diameter| *diameter <= Decimal::ZERO) {
        return Err(BenchError::Diameter);
    }
    let out_of_round = a.iter().zip(b).filter_map(|(a, b)| a.max(b).minus(*a.min(b))).max();
    let taper = [a, b].into_iter().filter_map(spread).max();
    // Both lists hold at least two positive values, so neither maximum is missing.
    Ok(Bore { out_of_round: out_of_round.unwrap_or_default(), taper: taper.unwrap_or_default() })
}

fn spread(diameters: &[Decimal]) -> Option<Decimal> {
    diameters.iter().max()?.minus(*diameters.iter().min()?)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn decimal(text: &str) -> Decimal {
        Decimal::parse(text).expect("a decimal")
    }

    fn wrench(length: &str, extension: &str) -> Wrench {
        Wrench { length: decimal(length), extension: decimal(extension) }
    }

    // TM 9-2350-261-20-1: 40 ft-lb through 12 + 4 in reads 30. TM 1-1500-204-23-9 fig 8-16: 300 in-lb through
    // 10 + 4 in reads 214 (rounded).
    #[test]
    fn torque_through_an_extension_as_published() {
        assert_eq!(wrench("12", "4").reading(decimal("40")), Ok(decimal("30")));
        let reading = wrench("10", "4").reading(decimal("300")).expect("possible");
        assert_eq!(reading.rounded(0), decimal("214"));
    }

    // TM 9-254 fig 45: 60 in-lb shown through 12 + 2 in gives 70.
    #[test]
    fn torque_at_the_fastener_as_published() {
        assert_eq!(wrench("12", "2").target(decimal("60")), Ok(decimal("70")));
    }

    #[test]
    fn impossible_wrenches_are_refused() {
        let torque = decimal("40");
        assert_eq!(wrench("10", "1").reading(Decimal::ZERO), Err(BenchError::Torque));
        assert_eq!(wrench("0", "1").reading(torque), Err(BenchError::WrenchLength));
        assert_eq!(wrench("10", "-10").reading(torque), Err(BenchError::Extension));
        assert_eq!(wrench("10", "-12").target(torque), Err(BenchError::Extension));
        assert_eq!(
            wrench("1000000000", "-999999999.999999999").reading(decimal("1000")),
            Err(BenchError::TooLarge)
        );
    }

    // AC 43.13-1B para 8-14: a loss in excess of 25 percent (under 60 of 80) is suspect.
    #[test]
    fn a_loss_above_a_quarter_is_suspect_in_a_four_stroke_only() {
        let test = |cylinder: &str, strokes| compression(decimal("80"), decimal(cylinder), strokes);
        assert_eq!(
            test("60", Strokes::Four),
            Ok(Compression { loss_percent: decimal("25"), suspect: Some(false) })
        );
        assert_eq!(
            test("59", Strokes::Four),
            Ok(Compression { loss_percent: decimal("26.25"), suspect: Some(true) })
        );
        assert_eq!(test("20", Strokes::Two).map(|found| found.suspect), Ok(None));
        assert_eq!(test("80.1", Strokes::Four), Err(BenchError::Cylinder));
        assert_eq!(test("-1", Strokes::Four), Err(BenchError::Cylinder));
        assert_eq!(
            compression(Decimal::ZERO, Decimal::ZERO, Strokes::Two),
            Err(BenchError::Supply)
        );
        assert_eq!(Strokes::new(3), Err(BenchError::Strokes));
    }

    // Worked by hand from the definitions: the widest pair of a level, the widest range of a direction.
    #[test]
    fn bore_geometry_is_exact() {
        let list = |texts: [&str; 3]| texts.map(decimal);
        let a = list(["67.52", "67.51", "67.5"]);
        let b = list(["67.51", "67.51", "67.5"]);
        let found = bore(&a, &b).expect("possible");
        assert_eq!(
            (found.out_of_round.to_string(), found.taper.to_string()),
            ("0.01".to_owned(), "0.02".to_owned())
        );
        assert_eq!(bore(&b, &a), Ok(found));
        assert_eq!(bore(&a, &b[..2]), Err(BenchError::Levels));
        assert_eq!(bore(&a[..1], &b[..1]), Err(BenchError::FewLevels));
        assert_eq!(bore(&list(["67.5", "0", "67.5"]), &b), Err(BenchError::Diameter));
    }
}
