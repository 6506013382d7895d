//! How flying spreads over the year: month factors, and how many days of each month a stretch of time holds.

use chrono::{Datelike, NaiveDate};

/// One number for each month, January first.
pub type Months = [f64; 12];

/// How much more or less than average is flown in each month on the northern half of the earth; their mean is 1.
///
/// From simulated fleets; to be replaced by a fleet's own once thirty aircraft-years are on record.
const NORTH: Months = [0.49, 0.58, 0.96, 1.18, 1.31, 1.42, 1.36, 1.31, 1.16, 0.98, 0.71, 0.54];

/// Days of each month in a common year.
const LENGTHS: [i32; 12] = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];

/// Which half of the earth an aircraft flies on: summer there is winter here.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Hemisphere {
    /// Summer is in July.
    North,
    /// Summer is in January.
    South,
    /// Near the equator: every month counts alike.
    Equator,
    /// Not told: every month counts alike.
    #[default]
    Unknown,
}

impl Hemisphere {
    /// All of them, in the order in which messages list them.
    pub const ALL: [Self; 4] = [Self::North, Self::South, Self::Equator, Self::Unknown];

    /// The word used in files and in the API.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::North => "north",
            Self::South => "south",
            Self::Equator => "equator",
            Self::Unknown => "unknown",
        }
    }

    /// The month factors to begin with.
    #[must_use]
    pub fn months(self) -> Months {
        let mut months = NORTH;
        match self {
            Self::North => {}
            Self::South => months.rotate_left(6),
            Self::Equator | Self::Unknown => months = [1.0; 12],
        }
        months
    }
}

/// The factor of the month that a day is in.
pub(super) fn of_day(months: &Months, day: NaiveDate) -> f64 {
    months.iter().zip(0_u32..).find(|(_, month0)| *month0 == day.month0()).map_or(1.0, |it| *it.0)
}

/// How many days of each month lie from one day to the day before another.
pub(super) fn days_by_month(from: NaiveDate, until: NaiveDate) -> Months {
    let mut days = [0.0; 12];
    let counted = days_before(until).into_iter().zip(days_before(from));
    for (days, (until, from)) in days.iter_mut().zip(counted) {
        *days = f64::from(until - from);
    }
    days
}

/// How many days of each month lie between the beginning of the year 0 and a day.
fn days_before(day: NaiveDate) -> [i32; 12] {
    let year = day.year();
    let past = year - 1;
    let leap_years = past.div_euclid(4) - past.div_euclid(100) + past.div_euclid(400);
    let mut counts = LENGTHS;
    for (month0, count) in (0_u32..).zip(&mut counts) {
        let (length, february) = (*count, month0 == 1);
        *count = length * year + if february { leap_years } else { 0 };
        if month0 < day.month0() {
            *count += length + i32::from(february && day.leap_year());
        } else if month0 == day.month0() {
            *count += i32::try_from(day.day0()).unwrap_or_default();
        }
    }
    counts
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calendar::shift;
    use proptest::prelude::*;

    #[test]
    fn the_south_is_half_a_year_ahead() {
        let south = Hemisphere::South.months();
        assert!((south[0] - 1.36).abs() < 1e-12 && (south[6] - 0.49).abs() < 1e-12, "{south:?}");
    }

    proptest! {
        // Counted day by day.
        #[test]
        fn days_of_each_month_are_those_of_the_calendar(start in -800_000_i64..800_000, days in 0_i64..1_500) {
            let from = shift(NaiveDate::default(), 0, start).expect("a day of the calendar");
            let until = shift(from, 0, days).expect("a day of the calendar");
            let mut counted = [0_u32; 12];
            for day in from.iter_days().take_while(|day| *day < until) {
                let month = usize::try_from(day.month0()).unwrap_or_default();
                counted[month] += 1;
            }
            let found = days_by_month(from, until).map(|days| format!("{days}"));
            prop_assert_eq!(found, counted.map(|days| days.to_string()));
        }
    }
}
