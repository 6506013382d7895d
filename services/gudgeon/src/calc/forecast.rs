//! The forecast of the day on which hours will be used up.

use super::answer;
use chrono::NaiveDate;
use gudgeon_api::read::{Fields, Value};
use gudgeon_life::hours::Hours;
use gudgeon_life::sure::forecast::{Ahead, Days, Forecast, HoursFlown, Today};
use gudgeon_life::sure::rate::{CannotSay, Meter, Owner, Rate, Reading};
use gudgeon_life::sure::season::Hemisphere;
use serde::Serialize;
use std::collections::BTreeMap;

/// The most readings of one aircraft.
const READINGS_MAX: usize = 5000;
/// For so many days ahead the hours flown are told.
const DAYS_AHEAD: [usize; 3] = [30, 90, 365];

#[derive(Serialize)]
struct ForecastOut {
    status: &'static str,
    basis: String,
    n_gaps: u32,
    rate_h_per_year: f64,
    phi: f64,
    weights: [f64; 3],
    post_shape: [f64; 3],
    post_rate_days: [f64; 3],
    month_factors: [f64; 12],
    date_p10: Option<DayText>,
    date_p50: Option<DayText>,
    date_p90: Option<DayText>,
    hours_quantiles: BTreeMap<usize, [f64; 3]>,
    last_reading: DayText,
    warnings: Vec<&'static str>,
    words: String,
}

/// A day as text: domain types have no JSON form of their own.
type DayText = String;

#[derive(Serialize)]
struct NoForecastOut {
    status: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    reason: Option<&'static str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    at: Option<DayText>,
    words: String,
}

/// Readings and hours left at the last of them: the early, middle and late day, and what they rest on.
pub(super) fn forecast(fields: &Fields<'_>) -> Option<String> {
    let readings = fields.required("readings").and_then(|it| readings(&it));
    let hours_left = fields.required("remaining_hours").and_then(|it| hours_left(&it));
    let hemisphere =
        fields.required("hemisphere").and_then(|it| it.word(&Hemisphere::ALL, Hemisphere::word));
    let owner = match fields.optional("owner_kind") {
        Some(it) => it.word(&Owner::ALL, Owner::word),
        None => Some(Owner::Unknown),
    };
    let as_of = fields.optional("as_of").and_then(|it| it.day());
    let (readings, hours_left) = (readings?, hours_left?);
    let ahead = match Rate::learn(&readings, hemisphere?, owner?) {
        Ok(rate) => Ahead::of(rate),
        Err(why) => return cannot_say(why),
    };
    // Without a day of asking, it is asked on the day of the last reading.
    match ahead.reach(hours_left, as_of.unwrap_or(ahead.rate().last)) {
        Forecast::Days(days) => answer(&days_out(&ahead, &days)),
        Forecast::CannotSay(why) => cannot_say(why),
        reached @ Forecast::AlreadyReached => answer(&NoForecastOut {
            status: "limit_already_reached",
            reason: None,
            at: None,
            words: reached.to_string(),
        }),
    }
}

fn readings(list: &Value<'_>) -> Option<Vec<Reading>> {
    let read: Vec<Option<Reading>> = list.list(READINGS_MAX).iter().map(reading).collect();
    read.into_iter().collect()
}

fn reading(entry: &Value<'_>) -> Option<Reading> {
    let fields = entry.object();
    let on = fields.required("date").and_then(|it| it.day());
    let hours = fields.required("meter").and_then(|it| it.hours());
    let is_new = fields.optional("new_meter").is_some_and(|it| it.flag() == Some(true));
    let old_final = fields.optional("old_final").and_then(|it| it.hours());
    let new_start = fields.optional("new_start").and_then(|it| it.hours());
    let meter = match (old_final, new_start) {
        (Some(old_final), Some(new_start)) => Meter::Replaced { old_final, new_start },
        _ if is_new => Meter::New,
        _ => Meter::Same,
    };
    Some(Reading { on: on?, hours: hours?, meter })
}

/// Hours left: none when the limit is passed, by however much.
fn hours_left(value: &Value<'_>) -> Option<Hours> {
    if value.float()? <= 0.0 { Some(Hours::ZERO) } else { value.hours() }
}

fn days_out(ahead: &Ahead, days: &Days) -> ForecastOut {
    let rate = ahead.rate();
    let within = |span| {
        let HoursFlown { p10, p50, p90 } = ahead.hours_within(span);
        (span, [p10, p50, p90])
    };
    let text = |day: Option<NaiveDate>| day.map(|day| day.to_string());
    ForecastOut {
        status: "ok",
        basis: days.basis.word().replace('-', "_"),
        n_gaps: days.gaps,
        rate_h_per_year: rate.hours_per_year(),
        phi: rate.lump_hours,
        weights: rate.kinds.map(|kind| kind.weight),
        post_shape: rate.kinds.map(|kind| kind.shape),
        post_rate_days: rate.kinds.map(|kind| kind.exposure_days),
        month_factors: rate.months,
        date_p10: text(days.p10),
        date_p50: text(days.p50),
        date_p90: text(days.p90),
        hours_quantiles: DAYS_AHEAD.map(within).into(),
        last_reading: days.last_reading.to_string(),
        warnings: warnings(days),
        words: days.to_string(),
    }
}

fn warnings(days: &Days) -> Vec<&'static str> {
    let mut warnings = Vec::new();
    match days.today {
        Today::Ahead => {}
        Today::MayBeDue => warnings.push("may_already_be_due"),
        Today::ProbablyPassed => warnings.push("probably_passed"),
    }
    if days.stale {
        warnings.push("stale");
    }
    if days.only_early() {
        warnings.push("only_the_early_day_says_anything");
    }
    if days.p90.is_none() {
        warnings.push("may_not_be_reached_in_ten_years");
    }
    warnings
}

fn cannot_say(why: CannotSay) -> Option<String> {
    let (status, reason, at) = match why {
        CannotSay::NoReading => ("cannot_say", Some("no reading"), None),
        CannotSay::ReadingsTooOld { last } => ("cannot_say", Some("readings too old"), Some(last)),
        CannotSay::MeterDecreases { on } => ("meter_decreases", None, Some(on)),
        CannotSay::RecordsContradict { from } => {
            ("cannot_say", Some("records contradict"), Some(from))
        }
        CannotSay::NotInAircraft => ("cannot_say", Some("not in an aircraft"), None),
        CannotSay::ReadApart => ("cannot_say", Some("read apart"), None),
    };
    let at = at.map(|day| day.to_string());
    answer(&NoForecastOut { status, reason, at, words: Forecast::CannotSay(why).to_string() })
}
