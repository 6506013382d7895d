//! The week of a report: ISO 8601, Monday to Sunday, named by its week-year and number.

use chrono::{Datelike, Days, NaiveDate, Weekday};
use std::fmt;

/// One ISO 8601 week. The week-year is not always the calendar year: 2027-01-01 is in 2026-W53.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ReportWeek {
    /// The Monday says everything else.
    monday: NaiveDate,
}

/// Why a text is not a week. The message says what would be right.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum WeekError {
    /// Not in the form `2026-W48`.
    NotAWeek(String),
    /// A week number that this year does not have.
    OutOfRange {
        /// As written.
        text: String,
        /// The week-year asked for.
        year: i32,
        /// The number of its last week, 52 or 53.
        last: u32,
    },
}

impl fmt::Display for WeekError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotAWeek(text) => write!(
                f,
                "`{text}` is not a week; write week-year and number as ISO 8601 does, such as 2026-W48"
            ),
            Self::OutOfRange { text, year, last } => {
                write!(f, "`{text}` does not exist; {year} has the weeks 01 to {last}")
            }
        }
    }
}

impl std::error::Error for WeekError {}

impl ReportWeek {
    /// The week that holds this day.
    #[must_use]
    pub fn of(day: NaiveDate) -> Self {
        let since_monday = u64::from(day.weekday().num_days_from_monday());
        Self { monday: day.checked_sub_days(Days::new(since_monday)).unwrap_or(NaiveDate::MIN) }
    }

    /// The week of this week-year and number, if the year has it.
    #[must_use]
    pub fn new(year: i32, number: u32) -> Option<Self> {
        NaiveDate::from_isoywd_opt(year, number, Weekday::Mon).map(|monday| Self { monday })
    }

    /// Reads `2026-W48`, as [`ReportWeek`] prints it.
    ///
    /// # Errors
    /// [`WeekError`], whose text says what would be right.
    pub fn parse(text: &str) -> Result<Self, WeekError> {
        let not_a_week = || WeekError::NotAWeek(text.to_owned());
        let (year, number) = text.split_once("-W").ok_or_else(not_a_week)?;
        let year =
            digits(year, 4).and_then(|year| i32::try_from(year).ok()).ok_or_else(not_a_week)?;
        let number = digits(number, 2).ok_or_else(not_a_week)?;
        Self::new(year, number).ok_or_else(|| WeekError::OutOfRange {
            text: text.to_owned(),
            year,
            last: last_week(year),
        })
    }

    /// The week-year.
    #[must_use]
    pub fn year(self) -> i32 {
        self.monday.iso_week().year()
    }

    /// The number of the week in its week-year, 1 to 53.
    #[must_use]
    pub fn number(self) -> u32 {
        self.monday.iso_week().week()
    }

    /// Its first day.
    #[must_use]
    pub const fn monday(self) -> NaiveDate {
        self.monday
    }

    /// Its last day.
    #[must_use]
    pub fn sunday(self) -> NaiveDate {
        self.day(Weekday::Sun)
    }

    /// Its day of this name.
    #[must_use]
    pub fn day(self, weekday: Weekday) -> NaiveDate {
        self.days_on(u64::from(weekday.num_days_from_monday()))
    }

    /// The week after; the calendar's last week stays where it is.
    #[must_use]
    pub fn next(self) -> Self {
        Self::of(self.days_on(7))
    }

    /// The week before; the calendar's first week stays where it is.
    #[must_use]
    pub fn previous(self) -> Self {
        Self::of(self.monday.checked_sub_days(Days::new(7)).unwrap_or(self.monday))
    }

    /// Whether it is every fourth week's turn: the same for everybody, through the turn of every year.
    #[must_use]
    pub fn is_fourth(self) -> bool {
        self.monday.num_days_from_ce().div_euclid(7) % 4 == 0
    }

    fn days_on(self, days: u64) -> NaiveDate {
        self.monday.checked_add_days(Days::new(days)).unwrap_or(NaiveDate::MAX)
    }
}

/// As ISO 8601 writes it: `2026-W48`.
impl fmt::Display for ReportWeek {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:04}-W{:02}", self.year(), self.number())
    }
}

/// The number of a week-year's last week: the week of 28 December always is it (ISO 8601).
#[must_use]
pub fn last_week(year: i32) -> u32 {
    NaiveDate::from_ymd_opt(year, 12, 28).map_or(52, |day| day.iso_week().week())
}

/// The day of the week as ISO 8601 counts it: Monday 1 to Sunday 7.
#[must_use]
pub fn weekday_number(day: NaiveDate) -> u32 {
    day.weekday().number_from_monday()
}

/// Exactly so many digits, as a number.
pub(crate) fn digits(text: &str, count: usize) -> Option<u32> {
    let right = text.len() == count && text.bytes().all(|b| b.is_ascii_digit());
    if right { text.parse().ok() } else { None }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> NaiveDate {
        text.parse().expect("a day")
    }

    // Expected values: the week dates in ISO 8601's own examples (2009-W01 begins on 2008-12-29, 2009-W53 ends on
    // 2010-01-03), and the rule that a year whose 1 January is a Thursday has 53 weeks (2026).
    #[test]
    fn names_weeks_by_their_week_year() {
        for (of, name, monday, sunday) in [
            ("2008-12-29", "2009-W01", "2008-12-29", "2009-01-04"),
            ("2010-01-03", "2009-W53", "2009-12-28", "2010-01-03"),
            ("2027-01-01", "2026-W53", "2026-12-28", "2027-01-03"),
        ] {
            let week = ReportWeek::of(day(of));
            assert_eq!(week.to_string(), name);
            assert_eq!((week.monday(), week.sunday()), (day(monday), day(sunday)));
            assert_eq!(ReportWeek::parse(name), Ok(week));
        }
    }

    #[test]
    fn the_week_after_the_last_of_2026_is_the_first_of_2027() {
        let last = ReportWeek::parse("2026-W53").expect("2026 has 53 weeks");
        assert_eq!(last.next().to_string(), "2027-W01");
        assert_eq!(last.day(Weekday::Wed), day("2026-12-30"));
        assert!(last < last.next());
    }

    #[test]
    fn every_fourth_week_has_its_turn_through_the_turn_of_the_year() {
        let weeks = |from: ReportWeek| std::iter::successors(Some(from), |week| Some(week.next()));
        let first = ReportWeek::parse("2026-W01").expect("a week");
        let turns: Vec<bool> = weeks(first).take(80).map(ReportWeek::is_fourth).collect();
        let at = turns.iter().position(|turn| *turn).expect("one of four");
        let expected: Vec<bool> = (0..80).map(|week| week % 4 == at).collect();
        assert_eq!(turns, expected);
        assert_eq!(first.previous().to_string(), "2025-W52");
    }

    #[test]
    fn refuses_what_is_not_a_week() {
        for text in [
            "",
            "2026",
            "2026-48",
            "2026W48",
            "2026-W4",
            "2026-W048",
            "26-W48",
            "2026-w48",
            "+026-W48",
        ] {
            assert_eq!(
                ReportWeek::parse(text),
                Err(WeekError::NotAWeek(text.to_owned())),
                "{text}"
            );
        }
        for (text, last) in [("2025-W53", 52), ("2026-W54", 53), ("2026-W00", 53)] {
            let error = ReportWeek::parse(text).expect_err("no such week");
            assert!(error.to_string().ends_with(&format!("01 to {last}")), "{error}");
        }
    }

    #[test]
    fn the_ends_of_the_calendar_do_not_panic() {
        for end in [NaiveDate::MIN, NaiveDate::MAX] {
            let week = ReportWeek::of(end);
            assert!(week.monday() <= week.sunday());
            assert!(week.next() >= week);
        }
    }
}
