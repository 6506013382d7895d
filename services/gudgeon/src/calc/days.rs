//! The sums of the calendar: date codes, shifts, weeks.

use super::answer;
use chrono::{Datelike, NaiveDate};
use gudgeon_api::read::Fields;
use gudgeon_life::calendar::{days_between, end_of_month, shift};
use gudgeon_life::date_code::{self, Scheme};
use gudgeon_life::week::{ReportWeek, weekday_number};
use serde::Serialize;

/// The longest date code, in characters.
const CODE_CHARS_MAX: usize = 40;
/// The furthest a shift reaches in any one unit: from the first year of the calendar to its last.
const SHIFT_DAYS_MAX: i64 = 3_652_059;
/// The same in months.
const SHIFT_MONTHS_MAX: i64 = 12 * 9999;
/// The most dates of one series.
const SERIES_MAX: i64 = 1200;

#[derive(Serialize)]
struct DateCodeOut {
    first: String,
    last: String,
    age_days: AgeOut,
}

#[derive(Serialize)]
struct AgeOut {
    min: i64,
    max: i64,
}

/// `{"scheme":"quarter","code":"3Q19","as_of":"2025-01-01"}`: the days it may mean, and its age.
pub(super) fn date_code(fields: &Fields<'_>) -> Option<String> {
    let scheme = fields.required("scheme").and_then(|it| it.word(&Scheme::ALL, Scheme::word));
    let code = fields.required("code").and_then(|it| it.text(CODE_CHARS_MAX));
    let as_of = fields.required("as_of").and_then(|it| it.day());
    let (scheme, code, as_of) = (scheme?, code?, as_of?);
    match date_code::decode(scheme, &code, as_of) {
        Ok(days) => {
            let (min, max) = days.age_days(as_of);
            answer(&DateCodeOut {
                first: days.first.to_string(),
                last: days.last.to_string(),
                age_days: AgeOut { min, max },
            })
        }
        Err(error) => {
            fields.fault("code", error.slug(), error.to_string());
            None
        }
    }
}

#[derive(Serialize)]
struct ShiftOut {
    due: String,
    due_end_of_month: String,
    days_between: i64,
    weekday_iso: u32,
}

#[derive(Serialize)]
struct SeriesOut {
    from_anchor: Vec<String>,
}

/// A day shifted by years and months first, then weeks and days; or, with `every_months` and `count`, a series
/// of days each counted from the anchor.
pub(super) fn calendar(fields: &Fields<'_>) -> Option<String> {
    let start = fields.required("start").and_then(|it| it.day());
    if fields.optional("every_months").is_some() || fields.optional("count").is_some() {
        return series(fields, start);
    }
    let units = [
        ("years", SHIFT_MONTHS_MAX / 12),
        ("months", SHIFT_MONTHS_MAX),
        ("weeks", SHIFT_DAYS_MAX / 7),
        ("days", SHIFT_DAYS_MAX),
    ];
    let given = units.map(|(name, most)| fields.optional(name).map(|it| it.whole(-most..=most)));
    if given.iter().all(Option::is_none) {
        fields.required("months")?;
    }
    let [years, months, weeks, days] = given.map(|unit| unit.unwrap_or(Some(0)));
    let months = years? * 12 + months?;
    let days = weeks? * 7 + days?;
    let start = start?;
    let Some(due) = shifted(start, months, days) else {
        fields.fault(
            "start",
            "out-of-range",
            "the day reached is not between the years 0001 and 9999",
        );
        return None;
    };
    answer(&ShiftOut {
        due: due.to_string(),
        due_end_of_month: end_of_month(due).to_string(),
        days_between: days_between(start, due),
        weekday_iso: weekday_number(due),
    })
}

fn series(fields: &Fields<'_>, start: Option<NaiveDate>) -> Option<String> {
    let every = fields.required("every_months").and_then(|it| it.whole(1..=SHIFT_MONTHS_MAX));
    let count = fields.required("count").and_then(|it| it.whole(1..=SERIES_MAX));
    let (start, every, count) = (start?, every?, count?);
    let days: Option<Vec<NaiveDate>> =
        (1..=count).map(|times| shifted(start, every * times, 0)).collect();
    let Some(days) = days else {
        fields.fault("count", "out-of-range", "the series runs past the year 9999");
        return None;
    };
    answer(&SeriesOut { from_anchor: days.iter().map(ToString::to_string).collect() })
}

/// The day reached, if its year can be written in four digits.
fn shifted(start: NaiveDate, months: i64, days: i64) -> Option<NaiveDate> {
    let months = i32::try_from(months).ok()?;
    shift(start, months, days).filter(|day| (1..=9999).contains(&day.year()))
}

#[derive(Serialize)]
struct WeekOut {
    iso_year: i32,
    iso_week: u32,
    iso_weekday: u32,
    week: String,
    monday: String,
    sunday: String,
}

/// `{"date":"2027-01-01"}`: its ISO 8601 week, 2026-W53, and that week's days.
pub(super) fn week(fields: &Fields<'_>) -> Option<String> {
    let day = fields.required("date")?.day()?;
    let week = ReportWeek::of(day);
    answer(&WeekOut {
        iso_year: week.year(),
        iso_week: week.number(),
        iso_weekday: weekday_number(day),
        week: week.to_string(),
        monday: week.monday().to_string(),
        sunday: week.sunday().to_string(),
    })
}
