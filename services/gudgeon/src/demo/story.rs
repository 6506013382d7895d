//! The invented story as its people posted it: one request a line, moved on to the week it is told in.

use chrono::{Datelike, Days, NaiveDate};
use gudgeon_life::date_code::{Scheme, decode};
use serde::Deserialize;
use serde_json::Value;

/// Every request of the story, in the order of arrival.
const POSTS: &str = include_str!("../../../../config/demo/posts.ndjson");
/// The engine types of the story, by name, with their files.
pub(super) const ENGINE_TYPES: [(&str, &str); 3] = [
    ("oarlock-twin", include_str!("../../../../config/engine-types/oarlock-twin.toml")),
    ("thwart-twin", include_str!("../../../../config/engine-types/thwart-twin.toml")),
    ("transom-flat", include_str!("../../../../config/engine-types/transom-flat.toml")),
];
/// The day from which their programmes count: before everything that the story tells.
pub(super) const ACTIVATED_ON: &str = "2020-01-01";
/// The Monday of the week that the story is written for.
const WRITTEN_FOR: Option<NaiveDate> = NaiveDate::from_ymd_opt(2026, 11, 23);

/// One request. The file also says on which day it arrived, which only orders the lines.
#[derive(Clone, Debug, Deserialize)]
pub(super) struct Post {
    /// `operator`, `inspector`, or the short name of a workshop.
    pub(super) by: String,
    /// The path below the service's address.
    pub(super) put: String,
    /// The body.
    pub(super) body: Value,
    /// The short name of the workshop that this registers.
    pub(super) shop: Option<String>,
}

/// The story, told for the week of `today`: all days are moved on by whole weeks, never back.
pub(super) fn posts(today: NaiveDate) -> Result<Vec<Post>, serde_json::Error> {
    let shift_days = shift_days(today);
    POSTS
        .lines()
        .map(|line| {
            let mut post: Post = serde_json::from_str(line)?;
            move_on(&mut post.body, shift_days);
            Ok(post)
        })
        .collect()
}

fn shift_days(today: NaiveDate) -> u64 {
    let days = WRITTEN_FOR.map_or(0, |monday| today.signed_duration_since(monday).num_days());
    u64::try_from(days.div_euclid(7) * 7).unwrap_or(0)
}

/// Moves every day and every quarter code in a body on.
fn move_on(body: &mut Value, shift_days: u64) {
    if shift_days == 0 {
        return;
    }
    match body {
        Value::String(text) => {
            if let Some(day) = text.parse().ok().and_then(|day| later(day, shift_days)) {
                *text = day.to_string();
            } else if let Some(code) = later_quarter(text, shift_days) {
                *text = code;
            }
        }
        Value::Array(values) => values.iter_mut().for_each(|value| move_on(value, shift_days)),
        Value::Object(fields) => {
            fields.values_mut().for_each(|value| move_on(value, shift_days));
        }
        Value::Null | Value::Bool(_) | Value::Number(_) => {}
    }
}

fn later(day: NaiveDate, shift_days: u64) -> Option<NaiveDate> {
    day.checked_add_days(Days::new(shift_days))
}

fn later_quarter(text: &str, shift_days: u64) -> Option<String> {
    let made = decode(Scheme::Quarter, text, WRITTEN_FOR?).ok()?;
    let day = later(made.first, shift_days)?;
    Some(format!("{}Q{:02}", day.month0() / 3 + 1, day.year() % 100))
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    // 2027-01-04 is six weeks after 2026-11-23; 3Q19 begins 2019-07-01, and 42 days later is still 3Q19.
    #[test]
    fn a_later_telling_moves_days_by_whole_weeks_and_leaves_words_alone() {
        let shift = shift_days("2027-01-06".parse().unwrap());
        assert_eq!(shift, 42);
        let mut body = json!({"on": "2026-11-20", "code": {"text": "3Q19"}, "note": "at 2026"});
        move_on(&mut body, shift);
        assert_eq!(body, json!({"on": "2027-01-01", "code": {"text": "3Q19"}, "note": "at 2026"}));
        move_on(&mut body, 364);
        assert_eq!(body["code"]["text"], "2Q20", "2019-07-01 + 364 days is 2020-06-29");
    }

    #[test]
    fn an_earlier_clock_does_not_move_the_story_back() {
        assert_eq!(shift_days("2026-01-01".parse().unwrap()), 0);
    }
}
