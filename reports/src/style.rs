//! How a reader wants figures written: days in the order of a language, with the form of ISO 8601 beside it, a decimal
//! comma, hours with minutes.
//!
//! Mails are composed in one notation. It is changed here, at the end and in one place, so that no sentence is
//! written twice and none is forgotten. Only what cannot be anything else is changed: a day of four, two and two
//! digits, and a number with one decimal that is said to be hours or a meter's.

use chrono::NaiveDate;
use gudgeon_life::preference::{Dates, DecimalMark, HoursForm, Style};
use serde_json::Value;

/// The letters of a day: `2026-11-24`.
const DAY_CHARS: usize = 10;
/// What stands before a figure that is a meter's.
const METER: &str = "meter ";
/// What stands behind a figure that is hours.
const HOURS: &str = " h";
/// The fields that hold names and words for style sheets, which stay as they are.
const VERBATIM: [&str; 5] = ["key", "name", "first", "links", "week"];

/// A view with all its words as the reader wants them.
pub(crate) fn restyled(view: Value, style: Style) -> Value {
    match view {
        Value::String(words) => Value::String(told(&words, style)),
        Value::Array(list) => list.into_iter().map(|it| restyled(it, style)).collect(),
        Value::Object(fields) => {
            let field = |(name, value): (String, Value)| {
                let verbatim = VERBATIM.contains(&name.as_str());
                (name, if verbatim { value } else { restyled(value, style) })
            };
            Value::Object(fields.into_iter().map(field).collect())
        }
        other => other,
    }
}

/// A sentence with its days and hours as the reader wants them.
pub(crate) fn told(words: &str, style: Style) -> String {
    let (mut told, mut rest) = (String::with_capacity(words.len()), words);
    while let Some(first) = rest.chars().next() {
        let bounded =
            !told.ends_with(|c: char| c.is_alphanumeric() || matches!(c, '-' | '.' | ':'));
        if let Some((on, after)) = day(rest).filter(|_| bounded && style.dates != Dates::Iso) {
            told.push_str(&day_words(on, style.dates));
            // What stands beside the day already goes on behind it.
            let beside = after.strip_prefix(" (");
            told.extend([" (", &on.to_string(), if beside.is_some() { ", " } else { ")" }]);
            rest = beside.unwrap_or(after);
        } else if let Some((whole, tenth, after)) =
            tenths(rest).filter(|(_, _, after)| bounded && is_hours(&told, after))
        {
            told.push_str(&hours_words(whole, tenth, style));
            rest = after;
        } else {
            told.push(first);
            rest = rest.get(first.len_utf8()..).unwrap_or_default();
        }
    }
    told
}

/// A day that the words begin with, and what follows.
fn day(words: &str) -> Option<(NaiveDate, &str)> {
    let (day, after) = words.split_at_checked(DAY_CHARS)?;
    let digits =
        |(at, c): (usize, char)| if matches!(at, 4 | 7) { c == '-' } else { c.is_ascii_digit() };
    if !day.char_indices().all(digits)
        || after.starts_with(|c: char| c.is_alphanumeric() || c == '-')
    {
        return None;
    }
    Some((day.parse().ok()?, after))
}

fn day_words(on: NaiveDate, dates: Dates) -> String {
    let form = match dates {
        Dates::Iso => "%Y-%m-%d",
        Dates::DayMonthYear => "%-d %b %Y",
        Dates::MonthDayYear => "%b %-d, %Y",
    };
    on.format(form).to_string()
}

/// A number with one decimal that the words begin with: its whole part, its tenth, and what follows.
fn tenths(words: &str) -> Option<(&str, u32, &str)> {
    let (whole, after) = words.split_once('.')?;
    if !whole.starts_with(|c: char| c.is_ascii_digit())
        || !whole.chars().all(|c| c.is_ascii_digit())
    {
        return None;
    }
    let mut letters = after.chars();
    let tenth = letters.next()?.to_digit(10)?;
    let after = letters.as_str();
    let ends = !after.starts_with(|c: char| c.is_alphanumeric());
    ends.then_some((whole, tenth, after))
}

fn is_hours(before: &str, after: &str) -> bool {
    let hours = after.strip_prefix(HOURS);
    let hours = hours.is_some_and(|rest| !rest.starts_with(char::is_alphanumeric));
    let decimals =
        after.strip_prefix('.').is_some_and(|rest| rest.starts_with(|c: char| c.is_ascii_digit()));
    hours || (before.ends_with(METER) && !decimals)
}

/// A tenth of an hour is six minutes. Figures are rounded to tenths towards the strict side before they come here,
/// and stay on that side.
fn hours_words(whole: &str, tenth: u32, style: Style) -> String {
    match (style.hours, style.decimal_mark) {
        (HoursForm::HoursMinutes, _) => format!("{whole}:{:02}", tenth * 6),
        (HoursForm::Decimal, DecimalMark::Point) => format!("{whole}.{tenth}"),
        (HoursForm::Decimal, DecimalMark::Comma) => format!("{whole},{tenth}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SENTENCE: &str = "From 12.4 h, due Mon 2026-12-07 (in 12 days); hour meter 548.0. See part 5.2, FAA AC 43.13, read 2026-11-16.";

    fn style(dates: Dates, decimal_mark: DecimalMark, hours: HoursForm) -> Style {
        Style { dates, decimal_mark, hours }
    }

    #[test]
    fn the_notation_of_composing_is_the_default() {
        assert_eq!(told(SENTENCE, Style::default()), SENTENCE);
    }

    // 12.4 h = 12 h 24 min; 548.0 = 548:00.
    #[test]
    fn days_and_hours_are_written_as_wanted() {
        assert_eq!(
            told(SENTENCE, style(Dates::DayMonthYear, DecimalMark::Comma, HoursForm::Decimal)),
            "From 12,4 h, due Mon 7 Dec 2026 (2026-12-07, in 12 days); hour meter 548,0. See part 5.2, FAA AC 43.13, read 16 Nov 2026 (2026-11-16)."
        );
        assert_eq!(
            told(SENTENCE, style(Dates::MonthDayYear, DecimalMark::Point, HoursForm::HoursMinutes)),
            "From 12:24 h, due Mon Dec 7, 2026 (2026-12-07, in 12 days); hour meter 548:00. See part 5.2, FAA AC 43.13, read Nov 16, 2026 (2026-11-16)."
        );
    }

    #[test]
    fn what_only_looks_like_a_day_or_hours_stays() {
        let comma = style(Dates::DayMonthYear, DecimalMark::Comma, HoursForm::Decimal);
        for words in [
            "2026-13-40",
            "lot 12026-11-24",
            "2026-11-245",
            "AB-2026-11-24",
            "1.2.3 h",
            "12.44 h",
            "67.61 mm",
            "2026-W48",
        ] {
            assert_eq!(told(words, comma), words);
        }
    }
}
