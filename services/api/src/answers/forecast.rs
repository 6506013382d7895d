//! Forecasts as clients see them: early, middle and late day, what they rest on, and what to mind.

use gudgeon_life::sure::engine::{Flying, in_words};
use gudgeon_life::sure::forecast::{Days, Forecast, Today};
use serde::Serialize;

/// When the hours of a line will be used up.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct ForecastOut {
    status: &'static str,
    /// The day to plan by; absent when it is not within ten years, like the others.
    p10: Option<String>,
    p50: Option<String>,
    p90: Option<String>,
    basis: Option<BasisOut>,
    warnings: Vec<&'static str>,
    in_words: String,
}

#[derive(Clone, Debug, Serialize)]
struct BasisOut {
    rests_on: &'static str,
    /// Stretches between readings.
    stretches: u32,
    last_reading: String,
    /// Who flies the aircraft, and on which half of the earth.
    flown_by: &'static str,
    hemisphere: &'static str,
    /// What would make it narrower, and nobody wrote down.
    #[serde(skip_serializing_if = "Option::is_none")]
    not_on_record: Option<&'static str>,
}

impl ForecastOut {
    pub(crate) fn new(forecast: &Forecast, flying: &Flying) -> Self {
        let in_words = in_words(forecast);
        let text = |day: Option<chrono::NaiveDate>| day.map(|day| day.to_string());
        let none = |status| Self {
            status,
            p10: None,
            p50: None,
            p90: None,
            basis: None,
            warnings: Vec::new(),
            in_words: in_words.clone(),
        };
        match forecast {
            Forecast::AlreadyReached => none("already-reached"),
            Forecast::CannotSay(_) => none("cannot-say"),
            Forecast::Days(days) => Self {
                p10: text(days.p10),
                p50: text(days.p50),
                p90: text(days.p90),
                basis: Some(BasisOut {
                    rests_on: days.basis.word(),
                    stretches: days.gaps,
                    last_reading: days.last_reading.to_string(),
                    flown_by: flying.flown_by.word(),
                    hemisphere: flying.hemisphere.word(),
                    not_on_record: flying.not_on_record(),
                }),
                warnings: warnings(days),
                ..none("ok")
            },
        }
    }
}

fn warnings(days: &Days) -> Vec<&'static str> {
    let all = [
        (days.today == Today::MayBeDue, "may-already-be-due"),
        (days.today == Today::ProbablyPassed, "probably-passed"),
        (days.stale, "stale"),
        (days.only_early(), "only-the-early-day-says-anything"),
        (days.p90.is_none(), "may-not-be-reached-in-ten-years"),
    ];
    all.into_iter().filter(|(applies, _)| *applies).map(|(_, warning)| warning).collect()
}
