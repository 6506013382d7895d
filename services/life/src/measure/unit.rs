//! The units that benches write, and exact conversion between those that measure the same thing.
//!
//! Factors are those of NIST SP 811 (2008), appendix B.8, in full: the inch is 25.4 mm, the pound-force is
//! 0.453 592 37 kg x 9.806 65 m/s2 = 4.448 221 615 260 5 N, and every other factor follows from the two. So
//! 1 lbf·ft = 1.355 817 948 331 400 4 N·m and 1 psi = 4.448 221 615 260 5 N / 645.16 mm2, without rounding.

use super::interval::Interval;
use super::ratio::Ratio;
use std::fmt;

/// What a unit measures. Units of one dimension convert into each other.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Dimension {
    /// Lengths, gaps, clearances.
    Length,
    /// Tightening and loosening torque.
    Torque,
    /// Gauge pressure.
    Pressure,
    /// Pressure lost in a time.
    PressureRate,
    /// Electrical resistance.
    Resistance,
    /// Temperature.
    Temperature,
    /// Durations of a test.
    Time,
    /// A part of a whole.
    Share,
    /// Hardness of rubber.
    Hardness,
    /// An angle, such as ignition timing.
    Angle,
    /// A voltage.
    Voltage,
    /// A number without a unit, such as a count or a quotient.
    Bare,
}

/// A unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Unit {
    /// mm.
    Millimetre,
    /// Thousandths of a millimetre.
    Micrometre,
    /// Inches.
    Inch,
    /// N·m.
    NewtonMetre,
    /// Pound-force feet.
    PoundFoot,
    /// Pound-force inches.
    PoundInch,
    /// kPa.
    Kilopascal,
    /// bar.
    Bar,
    /// Pound-force per square inch.
    Psi,
    /// kPa lost a minute.
    KilopascalPerMinute,
    /// bar lost a minute.
    BarPerMinute,
    /// psi lost a minute.
    PsiPerMinute,
    /// Ω.
    Ohm,
    /// Thousands of Ω.
    Kilohm,
    /// Millions of Ω.
    Megohm,
    /// °C.
    Celsius,
    /// °F.
    Fahrenheit,
    /// Minutes.
    Minute,
    /// Seconds.
    Second,
    /// Percent.
    Percent,
    /// Shore A hardness.
    ShoreA,
    /// Degrees of angle.
    Degree,
    /// V.
    Volt,
    /// None.
    Bare,
}

impl Unit {
    /// All units, in the order in which messages list them.
    pub const ALL: [Self; 24] = [
        Self::Millimetre,
        Self::Micrometre,
        Self::Inch,
        Self::NewtonMetre,
        Self::PoundFoot,
        Self::PoundInch,
        Self::Kilopascal,
        Self::Bar,
        Self::Psi,
        Self::KilopascalPerMinute,
        Self::BarPerMinute,
        Self::PsiPerMinute,
        Self::Ohm,
        Self::Kilohm,
        Self::Megohm,
        Self::Celsius,
        Self::Fahrenheit,
        Self::Minute,
        Self::Second,
        Self::Percent,
        Self::ShoreA,
        Self::Degree,
        Self::Volt,
        Self::Bare,
    ];

    /// How it is written in answers, on sheets and in files.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Millimetre => "mm",
            Self::Micrometre => "um",
            Self::Inch => "in",
            Self::NewtonMetre => "N·m",
            Self::PoundFoot => "lbf·ft",
            Self::PoundInch => "lbf·in",
            Self::Kilopascal => "kPa",
            Self::Bar => "bar",
            Self::Psi => "psi",
            Self::KilopascalPerMinute => "kPa/min",
            Self::BarPerMinute => "bar/min",
            Self::PsiPerMinute => "psi/min",
            Self::Ohm => "ohm",
            Self::Kilohm => "kohm",
            Self::Megohm => "Mohm",
            Self::Celsius => "°C",
            Self::Fahrenheit => "°F",
            Self::Minute => "min",
            Self::Second => "s",
            Self::Percent => "%",
            Self::ShoreA => "Shore A",
            Self::Degree => "deg",
            Self::Volt => "V",
            Self::Bare => "1",
        }
    }

    /// Reads a unit as people write it: `N·m`, `Nm`, `ft-lb`, `lbf ft`, `in-lb`, `"`, `kΩ`, `megohm`, `C`.
    /// `mohm` is refused: it is a thousandth, and was meant as a million.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let plain: String =
            text.chars().filter(|c| !matches!(c, ' ' | '·' | '-' | '.' | '*' | '°')).collect();
        // The letter Omega and the sign for ohm are two characters that look alike.
        if let "M\u{3a9}" | "M\u{2126}" | "Mohm" | "MOhm" | "Mohms" | "MOhms" = plain.as_str() {
            return Some(Self::Megohm);
        }
        Some(match plain.to_lowercase().as_str() {
            "mm" => Self::Millimetre,
            "um" | "µm" | "μm" => Self::Micrometre,
            "in" | "inch" | "inches" | "\"" => Self::Inch,
            "nm" => Self::NewtonMetre,
            "lbfft" | "lbft" | "ftlb" | "ftlbf" | "ftlbs" => Self::PoundFoot,
            "lbfin" | "lbin" | "inlb" | "inlbf" | "inlbs" => Self::PoundInch,
            "kpa" => Self::Kilopascal,
            "bar" => Self::Bar,
            "psi" | "psig" => Self::Psi,
            "kpa/min" => Self::KilopascalPerMinute,
            "bar/min" => Self::BarPerMinute,
            "psi/min" => Self::PsiPerMinute,
            "ohm" | "ohms" | "ω" => Self::Ohm,
            "kohm" | "kohms" | "kω" => Self::Kilohm,
            "megohm" | "megohms" => Self::Megohm,
            "c" | "degc" => Self::Celsius,
            "f" | "degf" => Self::Fahrenheit,
            "min" => Self::Minute,
            "s" => Self::Second,
            "%" | "percent" => Self::Percent,
            "shorea" => Self::ShoreA,
            "deg" => Self::Degree,
            "v" => Self::Volt,
            "1" => Self::Bare,
            _ => return None,
        })
    }

    /// What it measures.
    #[must_use]
    pub const fn dimension(self) -> Dimension {
        match self {
            Self::Millimetre | Self::Micrometre | Self::Inch => Dimension::Length,
            Self::NewtonMetre | Self::PoundFoot | Self::PoundInch => Dimension::Torque,
            Self::Kilopascal | Self::Bar | Self::Psi => Dimension::Pressure,
            Self::KilopascalPerMinute | Self::BarPerMinute | Self::PsiPerMinute => {
                Dimension::PressureRate
            }
            Self::Ohm | Self::Kilohm | Self::Megohm => Dimension::Resistance,
            Self::Celsius | Self::Fahrenheit => Dimension::Temperature,
            Self::Minute | Self::Second => Dimension::Time,
            Self::Percent => Dimension::Share,
            Self::ShoreA => Dimension::Hardness,
            Self::Degree => Dimension::Angle,
            Self::Volt => Dimension::Voltage,
            Self::Bare => Dimension::Bare,
        }
    }

    /// The units of a dimension, as a message lists them: `mm, um or in`.
    #[must_use]
    pub fn listed(dimension: Dimension) -> String {
        let own = Self::ALL.into_iter().filter(|unit| unit.dimension() == dimension);
        let words: Vec<&str> = own.map(Self::word).collect();
        match words.split_last() {
            Some((last, [])) => (*last).to_owned(),
            Some((last, before)) => format!("{} or {last}", before.join(", ")),
            None => String::new(),
        }
    }

    /// How many of the first unit of its dimension one of it is.
    const fn factor(self) -> (i128, i128) {
        match self {
            Self::Micrometre => (1, 1000),
            Self::Inch => (254, 10),
            Self::PoundFoot => (13_558_179_483_314_004, 10_000_000_000_000_000),
            Self::PoundInch => (1_129_848_290_276_167, 10_000_000_000_000_000),
            Self::Bar | Self::BarPerMinute => (100, 1),
            Self::Psi | Self::PsiPerMinute => (44_482_216_152_605, 6_451_600_000_000),
            Self::Kilohm => (1000, 1),
            Self::Megohm => (1_000_000, 1),
            Self::Fahrenheit => (5, 9),
            Self::Second => (1, 60),
            _ => (1, 1),
        }
    }

    /// How many of `other` one of it is, for differences and uncertainties; `None` between dimensions.
    #[must_use]
    pub fn per(self, other: Self) -> Option<Ratio> {
        if self.dimension() != other.dimension() {
            return None;
        }
        let ((above, below), (other_above, other_below)) = (self.factor(), other.factor());
        Ratio::new(above, below)?.over(Ratio::new(other_above, other_below)?)
    }

    /// The same value in another unit, exactly; `None` between dimensions, or where it cannot be held.
    #[must_use]
    pub fn convert(self, value: Ratio, other: Self) -> Option<Ratio> {
        let from_zero = value.minus(self.zero())?.times(self.per(other)?)?;
        from_zero.plus(other.zero())
    }

    /// The same interval in another unit.
    #[must_use]
    pub fn convert_interval(self, interval: Interval, other: Self) -> Option<Interval> {
        interval.each(|value| self.convert(value, other))
    }

    /// What it shows where °C shows nothing: °F begins at 32 (NIST SP 811, B.8, degree Fahrenheit).
    fn zero(self) -> Ratio {
        if self == Self::Fahrenheit { Ratio::whole(32) } else { Ratio::ZERO }
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decimal::Decimal;

    fn converted(value: &str, from: Unit, to: Unit, places: u32) -> String {
        let value = Decimal::parse(value).expect("a decimal").into();
        let found = from.convert(value, to).and_then(|it| it.rounded(places));
        found.expect("possible").to_string()
    }

    // NIST SP 811 (2008), appendix B.8, whose factors have seven digits: inch 2.54 E-02 m; pound-force foot
    // 1.355 818 E+00 N·m; pound-force inch 1.129 848 E-01 N·m; psi 6.894 757 E+00 kPa; bar 1.0 E+02 kPa;
    // degree Fahrenheit t/°C = (t/°F - 32)/1.8.
    #[test]
    fn factors_are_those_of_nist_sp_811() {
        for (value, from, to, places, expected) in [
            ("1", Unit::Inch, Unit::Millimetre, 9, "25.4"),
            ("1", Unit::PoundFoot, Unit::NewtonMetre, 6, "1.355818"),
            ("1", Unit::PoundInch, Unit::NewtonMetre, 7, "0.1129848"),
            ("1", Unit::PoundFoot, Unit::PoundInch, 9, "12"),
            ("1", Unit::Psi, Unit::Kilopascal, 6, "6.894757"),
            ("1", Unit::Bar, Unit::Kilopascal, 9, "100"),
            ("1", Unit::Bar, Unit::Psi, 4, "14.5038"),
            ("1", Unit::PsiPerMinute, Unit::KilopascalPerMinute, 6, "6.894757"),
            ("6.8", Unit::Kilohm, Unit::Ohm, 9, "6800"),
            ("0.5", Unit::Megohm, Unit::Kilohm, 9, "500"),
            ("212", Unit::Fahrenheit, Unit::Celsius, 9, "100"),
            ("-40", Unit::Fahrenheit, Unit::Celsius, 9, "-40"),
            ("20", Unit::Celsius, Unit::Fahrenheit, 9, "68"),
            ("0.004", Unit::Inch, Unit::Micrometre, 9, "101.6"),
            ("90", Unit::Second, Unit::Minute, 9, "1.5"),
        ] {
            assert_eq!(converted(value, from, to, places), expected, "{value} {from} in {to}");
        }
    }

    // A difference of 1.8 °F is one of 1 °C, wherever it lies.
    #[test]
    fn a_difference_of_temperatures_has_no_offset() {
        assert_eq!(Unit::Fahrenheit.per(Unit::Celsius), Ratio::new(5, 9));
        assert_eq!(Unit::Psi.per(Unit::Millimetre), None);
        assert_eq!(Unit::Psi.convert(Ratio::ZERO, Unit::Ohm), None);
    }

    #[test]
    fn units_are_read_as_people_write_them() {
        for (unit, spellings) in [
            (Unit::NewtonMetre, vec!["N·m", "Nm", "N m", "N.m"]),
            (Unit::PoundFoot, vec!["lbf·ft", "ft-lb", "lb ft", "lbf.ft", "ft lbs"]),
            (Unit::PoundInch, vec!["lbf·in", "in-lb", "IN-LB"]),
            (Unit::Kilohm, vec!["kohm", "kΩ", "k ohm"]),
            (Unit::Megohm, vec!["Mohm", "MΩ", "megohm"]),
            (Unit::Celsius, vec!["°C", "C", "deg C"]),
        ] {
            for text in spellings {
                assert_eq!(Unit::parse(text), Some(unit), "{text}");
            }
        }
        for text in ["mohm", "mΩ", "", "furlong", "m"] {
            assert_eq!(Unit::parse(text), None, "{text}");
        }
        for unit in Unit::ALL {
            assert_eq!(Unit::parse(unit.word()), Some(unit), "{unit}");
        }
        assert_eq!(Unit::listed(Dimension::Pressure), "kPa, bar or psi");
        assert_eq!(Unit::listed(Dimension::Share), "%");
    }
}
