//! Running hours as whole seconds: reading them as people write them, and printing them without a lie.
//!
//! A tenth of an hour is 360 s and a minute is 60 s, so both ways of writing hours are exact. No
//! floating-point number ever holds a running hour.

use std::fmt;
use std::iter::Sum;
use std::ops::{Add, AddAssign, Neg, Sub};

/// Seconds in one hour.
const HOUR_SECONDS: i64 = 3600;
/// Seconds in one tenth of an hour.
const TENTH_SECONDS: i64 = 360;
/// Seconds in one minute.
const MINUTE_SECONDS: i64 = 60;
/// The most hours that can be entered: far beyond any piston engine, far below any overflow.
pub const HOURS_MAX: i64 = 1_000_000;

/// A span or a total of running hours, in whole seconds. Differences may be negative.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Hours(i64);

/// What a meter counts. Hours of two bases are never subtracted from one another.
///
/// Source: 14 CFR 1.1 "time in service" for `Airborne`; the other two are common practice.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Basis {
    /// From leaving the ground until touching it again (time in service, air time).
    Airborne,
    /// Tachometer hours: true only at the reference engine speed.
    Tach,
    /// Clock hours with the engine running.
    EngineRun,
}

impl Basis {
    /// All bases, in the order in which messages list them.
    pub const ALL: [Self; 3] = [Self::Airborne, Self::Tach, Self::EngineRun];

    /// The word used in files, in the API and on paper.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Airborne => "airborne",
            Self::Tach => "tach",
            Self::EngineRun => "engine-run",
        }
    }
}

/// Why a text is not a number of hours. The message says what would be right.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum HoursError {
    /// Neither a decimal number nor hours and minutes.
    NotHours(String),
    /// Minutes of 60 or more, or not two digits.
    Minutes(String),
    /// More decimals than whole seconds can hold.
    TooFine(String),
    /// More than [`HOURS_MAX`].
    TooMany(String),
    /// Below zero where only a total makes sense.
    Negative(String),
}

impl fmt::Display for HoursError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotHours(text) => write!(
                f,
                "`{text}` is not a number of hours; write decimal hours such as 1043.2, or hours and minutes such as 1043:12"
            ),
            Self::Minutes(text) => write!(
                f,
                "`{text}` has no minutes between 00 and 59 after the colon; 1043:12 means 1043 hours 12 minutes"
            ),
            Self::TooFine(text) => write!(
                f,
                "`{text}` is finer than one second; give hours with at most two decimals, or hours and minutes"
            ),
            Self::TooMany(text) => {
                write!(f, "`{text}` is more than {HOURS_MAX} hours; check the decimal mark")
            }
            Self::Negative(text) => {
                write!(f, "`{text}` is below zero; hours count up from 0")
            }
        }
    }
}

impl std::error::Error for HoursError {}

impl Hours {
    /// No hours at all.
    pub const ZERO: Self = Self(0);

    /// A number of whole seconds.
    #[must_use]
    pub const fn from_seconds(seconds: i64) -> Self {
        Self(seconds)
    }

    /// A number of whole hours.
    #[must_use]
    pub const fn from_whole(hours: i64) -> Self {
        Self(hours * HOUR_SECONDS)
    }

    /// The whole seconds.
    #[must_use]
    pub const fn seconds(self) -> i64 {
        self.0
    }

    /// Reads `1043.2`, `1043` or `1043:12`; refuses anything negative, ambiguous or finer than a second.
    ///
    /// # Errors
    /// [`HoursError`], whose text names the value and says what would be right.
    pub fn parse(text: &str) -> Result<Self, HoursError> {
        let text = text.trim();
        if let Some(rest) = text.strip_prefix('-') {
            return match Self::parse(rest) {
                Ok(_) | Err(HoursError::TooMany(_)) => Err(HoursError::Negative(text.to_owned())),
                Err(_) => Err(HoursError::NotHours(text.to_owned())),
            };
        }
        match text.split_once(':') {
            Some((hours, minutes)) => Self::parse_clock(text, hours, minutes),
            None => Self::parse_decimal(text),
        }
    }

    fn parse_clock(text: &str, hours: &str, minutes: &str) -> Result<Self, HoursError> {
        let hours = whole(text, hours)?;
        let two_digits = minutes.len() == 2 && minutes.bytes().all(|b| b.is_ascii_digit());
        match minutes.parse::<i64>() {
            Ok(minutes) if two_digits && minutes < 60 => {
                Ok(Self(hours * HOUR_SECONDS + minutes * MINUTE_SECONDS))
            }
            _ => Err(HoursError::Minutes(text.to_owned())),
        }
    }

    fn parse_decimal(text: &str) -> Result<Self, HoursError> {
        let (hours, fraction) = text.split_once('.').unwrap_or((text, "0"));
        let hours = whole(text, hours)?;
        if fraction.is_empty() || !fraction.bytes().all(|b| b.is_ascii_digit()) {
            return Err(HoursError::NotHours(text.to_owned()));
        }
        let digits = fraction.trim_end_matches('0');
        // Six decimals are enough to find the odd exact one (0.000278 h is not a whole second anyway).
        let Ok(places) = u32::try_from(digits.len()) else {
            return Err(HoursError::TooFine(text.to_owned()));
        };
        if places > 6 {
            return Err(HoursError::TooFine(text.to_owned()));
        }
        let numerator = if places == 0 { 0 } else { whole(text, digits)? } * HOUR_SECONDS;
        let denominator = 10_i64.pow(places);
        if numerator % denominator != 0 {
            return Err(HoursError::TooFine(text.to_owned()));
        }
        Ok(Self(hours * HOUR_SECONDS + numerator / denominator))
    }

    /// Tenths of an hour, rounded up: for hours used.
    #[must_use]
    pub fn tenths_up(self) -> String {
        tenths(-(-self.0).div_euclid(TENTH_SECONDS))
    }

    /// Tenths of an hour, rounded down: for hours left.
    #[must_use]
    pub fn tenths_down(self) -> String {
        tenths(self.0.div_euclid(TENTH_SECONDS))
    }

    /// Tenths by the minutes-to-tenths table in common use (0-2 .0, 3-8 .1, ... 27-33 .5, ... 58-59 next hour).
    ///
    /// The table is from memory; it rounds to the nearest tenth, and a tie at 33 minutes goes down.
    #[must_use]
    pub fn tenths_by_table(self) -> String {
        let minutes = self.0.div_euclid(MINUTE_SECONDS);
        let tenth = match minutes.rem_euclid(60) {
            0..=2 => 0,
            3..=8 => 1,
            9..=14 => 2,
            15..=20 => 3,
            21..=26 => 4,
            27..=33 => 5,
            34..=39 => 6,
            40..=45 => 7,
            46..=51 => 8,
            52..=57 => 9,
            _ => 10,
        };
        tenths(minutes.div_euclid(60) * 10 + tenth)
    }

    /// Hours and minutes, whole minutes only: `1043:12`. Seconds are dropped.
    #[must_use]
    pub fn h_mm(self) -> String {
        let minutes = self.0.abs() / MINUTE_SECONDS;
        format!("{}{}:{:02}", self.sign(), minutes / 60, minutes % 60)
    }

    fn sign(self) -> &'static str {
        if self.0 < 0 { "-" } else { "" }
    }
}

/// The exact value, in the shortest form that loses nothing: tenths, else `h:mm`, else `h:mm:ss`.
impl fmt::Display for Hours {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.0 % TENTH_SECONDS == 0 {
            f.write_str(&tenths(self.0 / TENTH_SECONDS))
        } else if self.0 % MINUTE_SECONDS == 0 {
            f.write_str(&self.h_mm())
        } else {
            write!(f, "{}:{:02}", self.h_mm(), self.0.abs() % MINUTE_SECONDS)
        }
    }
}

impl Add for Hours {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }
}

impl AddAssign for Hours {
    fn add_assign(&mut self, other: Self) {
        self.0 += other.0;
    }
}

impl Sub for Hours {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0 - other.0)
    }
}

impl Neg for Hours {
    type Output = Self;
    fn neg(self) -> Self {
        Self(-self.0)
    }
}

impl Sum for Hours {
    fn sum<I: Iterator<Item = Self>>(iter: I) -> Self {
        iter.fold(Self::ZERO, Add::add)
    }
}

fn whole(text: &str, digits: &str) -> Result<i64, HoursError> {
    if digits.is_empty() || !digits.bytes().all(|b| b.is_ascii_digit()) {
        return Err(HoursError::NotHours(text.to_owned()));
    }
    match digits.parse::<i64>() {
        Ok(value) if value <= HOURS_MAX => Ok(value),
        _ => Err(HoursError::TooMany(text.to_owned())),
    }
}

fn tenths(count: i64) -> String {
    let sign = if count < 0 { "-" } else { "" };
    format!("{sign}{}.{}", count.abs() / 10, count.abs() % 10)
}

#[cfg(test)]
mod tests {
    use super::*;

    // Expected values: 1 h = 3600 s, worked by hand.
    #[test]
    fn reads_both_ways_of_writing_hours() {
        for (text, seconds) in [
            ("1043.2", 3_755_520),
            ("1043:12", 3_755_520),
            ("1043.20", 3_755_520),
            ("0", 0),
            ("0.01", 36),
            ("0.005", 18),
            ("7", 25_200),
            ("1043.12", 3_755_232),
        ] {
            assert_eq!(Hours::parse(text), Ok(Hours::from_seconds(seconds)), "{text}");
        }
    }

    #[test]
    fn refuses_what_is_not_hours() {
        for text in [
            "", ".", "1.", ".5", "1:5", "1:60", "1:005", "1e3", "1,5", "0.001", "x", "1:2:3",
            "1000001",
        ] {
            assert!(Hours::parse(text).is_err(), "{text}");
        }
        assert_eq!(Hours::parse("-3.5"), Err(HoursError::Negative("-3.5".to_owned())));
        assert_eq!(Hours::parse("-x"), Err(HoursError::NotHours("-x".to_owned())));
    }

    #[test]
    fn rounds_used_up_and_left_down() {
        let one_minute = Hours::from_seconds(60);
        assert_eq!(one_minute.tenths_up(), "0.1");
        assert_eq!(one_minute.tenths_down(), "0.0");
        assert_eq!((-one_minute).tenths_down(), "-0.1");
        assert_eq!((-one_minute).tenths_up(), "0.0");
    }

    #[test]
    fn prints_the_exact_value_in_its_shortest_form() {
        assert_eq!(Hours::from_seconds(3_755_520).to_string(), "1043.2");
        assert_eq!(Hours::from_seconds(3_755_580).to_string(), "1043:13");
        assert_eq!(Hours::from_seconds(3_755_585).to_string(), "1043:13:05");
        assert_eq!(Hours::from_seconds(-60).to_string(), "-0:01");
    }
}
