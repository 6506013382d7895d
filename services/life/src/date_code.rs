//! Date codes on parts: each decodes, by a named scheme, to an interval of days.
//!
//! A code never says a single day, so an age from a code is a range; limits count from its older end unless
//! their source says otherwise.

use crate::calendar::{days_between, end_of_month};
use crate::week::{digits, last_week};
use chrono::{Datelike, Days, Months, NaiveDate, Weekday};
use std::fmt;

/// How a date code is read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Scheme {
    /// Quarter and year, `3Q19` (cure date of SAE ARP5316 / AS1933); a leading `A` marks assembly.
    Quarter,
    /// ISO 8601 week, `2019-W23`.
    IsoWeek,
    /// US tyre week, `2319` (49 CFR 574.5): Sunday to Saturday, week 01 the first full one.
    TyreWeek,
    /// Month and year, `06/19`, `06/2019` or `2019-06`.
    MonthYear,
}

impl Scheme {
    /// All schemes, in the order in which messages list them.
    pub const ALL: [Self; 4] = [Self::Quarter, Self::IsoWeek, Self::TyreWeek, Self::MonthYear];

    /// The word used in files and in the API.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Quarter => "quarter",
            Self::IsoWeek => "iso-week",
            Self::TyreWeek => "tyre-week",
            Self::MonthYear => "month-year",
        }
    }

    /// How a code of this scheme is written, with an example.
    #[must_use]
    pub const fn form(self) -> &'static str {
        match self {
            Self::Quarter => {
                "a quarter 1 to 4, the letter Q and two digits of the year, such as 3Q19 (A3Q19 for an assembly date)"
            }
            Self::IsoWeek => "year and week as ISO 8601 writes them, such as 2019-W23",
            Self::TyreWeek => "two digits of the week and two of the year, such as 2319",
            Self::MonthYear => "month and year, such as 06/19, 06/2019 or 2019-06",
        }
    }
}

/// Which day of a code's interval a limit counts from.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum CodeDay {
    /// The first: the part may be that old.
    #[default]
    First,
    /// The last, where the source says so.
    Last,
}

/// Days from `first` to `last`, both included.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct DayInterval {
    /// The first day it may have been made.
    pub first: NaiveDate,
    /// The last day it may have been made.
    pub last: NaiveDate,
}

impl DayInterval {
    /// The day that a limit counts from.
    #[must_use]
    pub const fn day(self, which: CodeDay) -> NaiveDate {
        match which {
            CodeDay::First => self.first,
            CodeDay::Last => self.last,
        }
    }

    /// The least and the greatest age in days on a day; never below zero.
    #[must_use]
    pub fn age_days(self, as_of: NaiveDate) -> (i64, i64) {
        let age = |made: NaiveDate| days_between(made, as_of).max(0);
        (age(self.last), age(self.first))
    }
}

/// Why a code cannot be read. The message says what would be right.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum CodeError {
    /// Not in the form of its scheme.
    Form(Scheme, String),
    /// A quarter other than 1 to 4.
    Quarter(String),
    /// A week that its year does not have.
    Week {
        /// As written.
        code: String,
        /// The year read from it; `None` when no year has such a week.
        year: Option<i32>,
        /// The number of that year's last week.
        last: u32,
    },
    /// A month other than 1 to 12.
    Month(String),
    /// A year before 1900, written in full.
    Year(String),
    /// A three-digit tyre code, which does not say its decade.
    Ambiguous {
        /// As written.
        code: String,
        /// The years that it may mean.
        years: Vec<i32>,
    },
    /// The first day it may mean is later than the day it is read on.
    InTheFuture {
        /// As written.
        code: String,
        /// That first day.
        first: NaiveDate,
        /// The day it is read on.
        as_of: NaiveDate,
    },
}

impl CodeError {
    /// The word used in the API.
    #[must_use]
    pub const fn slug(&self) -> &'static str {
        match self {
            Self::Form(..) => "not-in-scheme",
            Self::Quarter(_) => "quarter-out-of-range",
            Self::Week { .. } => "week-out-of-range",
            Self::Month(_) => "month-out-of-range",
            Self::Year(_) => "year-out-of-range",
            Self::Ambiguous { .. } => "ambiguous",
            Self::InTheFuture { .. } => "in-the-future",
        }
    }
}

impl fmt::Display for CodeError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Form(scheme, code) => {
                write!(f, "`{code}` is not a {} code; write {}", scheme.word(), scheme.form())
            }
            Self::Quarter(code) => write!(f, "`{code}` has no quarter 1 to 4 before the letter Q"),
            Self::Week { code, year: Some(year), last } => {
                write!(
                    f,
                    "`{code}` names a week that {year} does not have; its weeks are 01 to {last}"
                )
            }
            Self::Week { code, year: None, last } => {
                write!(f, "`{code}` names a week that no year has; weeks are 01 to {last}")
            }
            Self::Month(code) => write!(f, "`{code}` has no month 01 to 12"),
            Self::Year(code) => write!(f, "`{code}` has a year before 1900; check the year"),
            Self::Ambiguous { code, years } => {
                let years: Vec<String> = years.iter().map(ToString::to_string).collect();
                write!(
                    f,
                    "`{code}` has three digits and does not say its decade: it may be from {}; state the year from other evidence",
                    years.join(" or ")
                )
            }
            Self::InTheFuture { code, first, as_of } => write!(
                f,
                "`{code}` begins on {first}, which is after {as_of}; a part cannot have been made later than that"
            ),
        }
    }
}

impl std::error::Error for CodeError {}

/// The days a code may mean, read on a day.
///
/// Two digits of a year mean the latest such year up to the one after `as_of`'s (own reading), so that a
/// code just ahead of its time is refused and not taken for one of the last century.
///
/// # Errors
/// [`CodeError`], whose text names the code and says what would be right.
pub fn decode(scheme: Scheme, code: &str, as_of: NaiveDate) -> Result<DayInterval, CodeError> {
    let plain = code.trim().to_ascii_uppercase();
    let days = match scheme {
        Scheme::Quarter => quarter(&plain, as_of),
        Scheme::IsoWeek => iso_week(&plain),
        Scheme::TyreWeek => tyre_week(&plain, as_of),
        Scheme::MonthYear => month_year(&plain, as_of),
    }?;
    if days.first > as_of {
        return Err(CodeError::InTheFuture { code: plain, first: days.first, as_of });
    }
    Ok(days)
}

fn quarter(code: &str, as_of: NaiveDate) -> Result<DayInterval, CodeError> {
    let form = || CodeError::Form(Scheme::Quarter, code.to_owned());
    let (quarter, year) =
        code.strip_prefix('A').unwrap_or(code).split_once('Q').ok_or_else(form)?;
    let quarter = digits(quarter, 1).ok_or_else(form)?;
    let year = digits(year, 2).ok_or_else(form)?;
    if !(1..=4).contains(&quarter) {
        return Err(CodeError::Quarter(code.to_owned()));
    }
    months(full_year(year, as_of), quarter * 3 - 2, 3).ok_or_else(form)
}

fn iso_week(code: &str) -> Result<DayInterval, CodeError> {
    let form = || CodeError::Form(Scheme::IsoWeek, code.to_owned());
    let (year, week) = code.split_once('W').ok_or_else(form)?;
    let year = digits(year.strip_suffix('-').unwrap_or(year), 4).ok_or_else(form)?;
    let week = digits(week, 2).ok_or_else(form)?;
    let year = written_year(year, code)?;
    let first = NaiveDate::from_isoywd_opt(year, week, Weekday::Mon).ok_or_else(|| {
        CodeError::Week { code: code.to_owned(), year: Some(year), last: last_week(year) }
    })?;
    seven_days(first).ok_or_else(form)
}

/// Source: 49 CFR 574.5(b)(3); three-digit codes (before mid-2000) give only the last digit of the year.
fn tyre_week(code: &str, as_of: NaiveDate) -> Result<DayInterval, CodeError> {
    let form = || CodeError::Form(Scheme::TyreWeek, code.to_owned());
    if let Some(short) = digits(code, 3) {
        return Err(short_tyre_week(code, short));
    }
    let number = digits(code, 4).ok_or_else(form)?;
    let (week, year) = (number / 100, full_year(number % 100, as_of));
    let first_sunday = first_sunday(year).ok_or_else(form)?;
    let first = week
        .checked_sub(1)
        .and_then(|weeks| first_sunday.checked_add_days(Days::new(u64::from(weeks) * 7)))
        // A 53rd week that begins in the next year is that year's week 01.
        .filter(|sunday| sunday.year() == year)
        .ok_or_else(|| CodeError::Week {
            code: code.to_owned(),
            year: Some(year),
            last: last_tyre_week(first_sunday),
        })?;
    seven_days(first).ok_or_else(form)
}

fn short_tyre_week(code: &str, number: u32) -> CodeError {
    if !(1..=53).contains(&(number / 10)) {
        return CodeError::Week { code: code.to_owned(), year: None, last: 53 };
    }
    // Four digits came in during 2000, so a 0 may still mean that year.
    let years = [1980, 1990, 2000].map(|decade| decade + i32::try_from(number % 10).unwrap_or(0));
    CodeError::Ambiguous {
        code: code.to_owned(),
        years: years.into_iter().filter(|year| *year <= 2000).collect(),
    }
}

fn month_year(code: &str, as_of: NaiveDate) -> Result<DayInterval, CodeError> {
    let form = || CodeError::Form(Scheme::MonthYear, code.to_owned());
    let (month, year) = if let Some((month, year)) = code.split_once('/') {
        let month = digits(month, 2).ok_or_else(form)?;
        let year = match digits(year, 2) {
            Some(short) => full_year(short, as_of),
            None => written_year(digits(year, 4).ok_or_else(form)?, code)?,
        };
        (month, year)
    } else {
        let (year, month) = code.split_once('-').ok_or_else(form)?;
        let year = digits(year, 4).ok_or_else(form)?;
        (digits(month, 2).ok_or_else(form)?, written_year(year, code)?)
    };
    months(year, month, 1).ok_or_else(|| CodeError::Month(code.to_owned()))
}

/// The latest year that ends in these two digits, up to the one after `as_of`'s.
fn full_year(two_digits: u32, as_of: NaiveDate) -> i32 {
    let latest = as_of.year() + 1;
    let two_digits = i32::try_from(two_digits).unwrap_or(0);
    latest - (latest - two_digits).rem_euclid(100)
}

fn written_year(year: u32, code: &str) -> Result<i32, CodeError> {
    match i32::try_from(year) {
        Ok(year) if year >= 1900 => Ok(year),
        _ => Err(CodeError::Year(code.to_owned())),
    }
}

/// So many whole months from the first of this one; `None` if there is no such month.
fn months(year: i32, month: u32, count: u32) -> Option<DayInterval> {
    let first = NaiveDate::from_ymd_opt(year, month, 1)?;
    let last = end_of_month(first.checked_add_months(Months::new(count - 1))?);
    Some(DayInterval { first, last })
}

fn seven_days(first: NaiveDate) -> Option<DayInterval> {
    first.checked_add_days(Days::new(6)).map(|last| DayInterval { first, last })
}

fn first_sunday(year: i32) -> Option<NaiveDate> {
    let new_year = NaiveDate::from_ymd_opt(year, 1, 1)?;
    let until_sunday = (7 - new_year.weekday().num_days_from_sunday()) % 7;
    new_year.checked_add_days(Days::new(u64::from(until_sunday)))
}

/// The number of the last Sunday that is still in the year of the first one.
fn last_tyre_week(first_sunday: NaiveDate) -> u32 {
    let sunday_53 = first_sunday.checked_add_days(Days::new(52 * 7));
    if sunday_53.is_some_and(|sunday| sunday.year() == first_sunday.year()) { 53 } else { 52 }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> NaiveDate {
        text.parse().expect("a day")
    }

    fn read(scheme: Scheme, code: &str) -> Result<(String, String), &'static str> {
        match decode(scheme, code, day("2026-11-25")) {
            Ok(days) => Ok((days.first.to_string(), days.last.to_string())),
            Err(error) => Err(error.slug()),
        }
    }

    // Quarters: the convention of SAE ARP5316 / AS1933, `4Q92` and `A2Q80` being published examples. Tyre weeks: `0109` is
    // the example of 49 CFR 574.5(b)(3); 2017 has 53 Sundays. Weeks: ISO 8601.
    #[test]
    fn codes_decode_to_the_published_days() {
        for (scheme, code, first, last) in [
            (Scheme::Quarter, "4Q92", "1992-10-01", "1992-12-31"),
            (Scheme::Quarter, "A2Q80", "1980-04-01", "1980-06-30"),
            (Scheme::Quarter, " 3q19 ", "2019-07-01", "2019-09-30"),
            (Scheme::TyreWeek, "0109", "2009-01-04", "2009-01-10"),
            (Scheme::TyreWeek, "5317", "2017-12-31", "2018-01-06"),
            (Scheme::IsoWeek, "2009-W01", "2008-12-29", "2009-01-04"),
            (Scheme::IsoWeek, "2009W53", "2009-12-28", "2010-01-03"),
            (Scheme::MonthYear, "02/24", "2024-02-01", "2024-02-29"),
            (Scheme::MonthYear, "12/1999", "1999-12-01", "1999-12-31"),
            (Scheme::MonthYear, "2019-06", "2019-06-01", "2019-06-30"),
        ] {
            assert_eq!(read(scheme, code), Ok((first.to_owned(), last.to_owned())), "{code}");
        }
    }

    #[test]
    fn what_cannot_be_read_says_why() {
        for (scheme, code, slug) in [
            (Scheme::Quarter, "5Q19", "quarter-out-of-range"),
            (Scheme::Quarter, "0Q19", "quarter-out-of-range"),
            (Scheme::Quarter, "3Q2019", "not-in-scheme"),
            (Scheme::Quarter, "", "not-in-scheme"),
            (Scheme::TyreWeek, "5319", "week-out-of-range"),
            (Scheme::TyreWeek, "0019", "week-out-of-range"),
            (Scheme::TyreWeek, "540", "week-out-of-range"),
            (Scheme::TyreWeek, "+109", "not-in-scheme"),
            (Scheme::TyreWeek, "031", "ambiguous"),
            (Scheme::IsoWeek, "2025-W53", "week-out-of-range"),
            (Scheme::IsoWeek, "19-W23", "not-in-scheme"),
            (Scheme::IsoWeek, "0019-W23", "year-out-of-range"),
            (Scheme::MonthYear, "13/19", "month-out-of-range"),
            (Scheme::MonthYear, "2019-00", "month-out-of-range"),
            (Scheme::MonthYear, "0619", "not-in-scheme"),
            (Scheme::MonthYear, "12/26", "in-the-future"),
            (Scheme::Quarter, "1Q27", "in-the-future"),
            (Scheme::Quarter, "３Q19", "not-in-scheme"),
        ] {
            assert_eq!(read(scheme, code), Err(slug), "{code}");
        }
    }

    // 49 CFR 574.5's three-digit codes: `031` is week 3 of 1981 or 1991, as a vehicle owner's manual explains.
    #[test]
    fn a_three_digit_code_names_the_years_it_may_mean() {
        let error = decode(Scheme::TyreWeek, "031", day("2026-11-25")).expect_err("ambiguous");
        assert!(error.to_string().contains("1981 or 1991"), "{error}");
    }

    #[test]
    fn two_digits_turn_at_the_year_after_the_reading() {
        assert_eq!(full_year(27, day("2026-11-25")), 2027);
        assert_eq!(full_year(28, day("2026-11-25")), 1928);
        assert_eq!(full_year(0, day("1999-01-01")), 2000);
        assert_eq!(full_year(99, day("1999-01-01")), 1999);
    }

    // 2019-07-01 to 2025-01-01 is 2011 days, and from 2019-09-30 it is 1920: counted with a calendar.
    #[test]
    fn an_age_is_a_range_and_never_below_zero() {
        let days = decode(Scheme::Quarter, "3Q19", day("2025-01-01")).expect("a code");
        assert_eq!(days.age_days(day("2025-01-01")), (1920, 2011));
        assert_eq!(days.age_days(day("2019-08-01")), (0, 31));
        assert_eq!(days.day(CodeDay::First), day("2019-07-01"));
        assert_eq!(days.day(CodeDay::Last), day("2019-09-30"));
    }
}
