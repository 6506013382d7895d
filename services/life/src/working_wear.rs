//! The part of a working that tells of a measured limit: the readings, what is left out, and where their trend
//! leads.

use crate::hours::Hours;
use crate::measure::Ratio;
use crate::series::Series;
use crate::subject::LineSubject;
use crate::sure::fleet::Fleet;
use crate::sure::limit::{limit_words, run_in_until, uncertainty, used};
use crate::sure::prior::{Evidence, Steadying};
use crate::wear::{Basis, HOLDS_PERCENT, Says, Wear};
use crate::words::counted;

/// The readings and the trend of an item's measured limit, place by place, in sentences.
pub(crate) fn wear_words(
    subject: &LineSubject<'_>,
    evidence: &Evidence,
    wear: &[Wear],
) -> Vec<String> {
    let Some(asked) = &subject.item.trend else { return Vec::new() };
    let Some(rule) = subject.engine_type.bench.quantity(&asked.quantity) else { return Vec::new() };
    let series = subject.places_of(rule).into_iter().map(|place| subject.series(rule, place));
    series
        .zip(wear)
        .flat_map(|(series, wear)| {
            let mut words = vec![readings_words(&series, wear)];
            words.extend(run_in_words(&series, asked.run_in));
            let steadied = evidence.steadying(subject, &series);
            let steadied = steadied.filter(|_| matches!(wear.basis, Basis::Fleet { .. }));
            words.extend(steadied.map(|it| fleet_words(&series, it)));
            words.push(trend_words(&series, asked.run_in, wear));
            words
        })
        .collect()
}

fn readings_words(series: &Series<'_>, wear: &Wear) -> String {
    let unit = series.rule.unit;
    let readings: Vec<String> = series
        .readings
        .iter()
        .map(|it| {
            let at = it.at.map_or_else(
                || "at hours that are not on record".to_owned(),
                |at| format!("at {at} h"),
            );
            format!("{} {unit} {at}", plain(it.value.value))
        })
        .collect();
    let told = if readings.is_empty() { "none".to_owned() } else { readings.join(", ") };
    let earlier = match series.earlier {
        0 => String::new(),
        count => format!("; {count} before the part was changed"),
    };
    format!("Readings, {} ({}): {told}{earlier}.", wear.name(), limit_words(series.rule))
}

fn run_in_words(series: &Series<'_>, run_in: Hours) -> Option<String> {
    let left_out = series.readings.len() - used(series, run_in).len();
    let until = run_in_until(series, run_in);
    (left_out > 0).then(|| format!("Running-in until {until} h: {left_out} left out."))
}

/// All that is known of the type, in full: whoever steadies the readings by it again has every figure.
fn fleet_words(series: &Series<'_>, by: Steadying<'_>) -> String {
    let Steadying { fleet, version, on, new_at } = by;
    let Fleet { mean, covariance, scatter_sd, scatter_freedom, engines } = *fleet;
    let unit = series.rule.unit;
    format!(
        "Fleet: {engines} engines of the type, as worked out on {on} (version {version}), counted from {new_at} h, \
         when the part was new: they begin at {} {unit}, variance {}, and change by {} {unit} an hour, variance {}, \
         covariance {}; readings scatter by {scatter_sd} {unit}, known from {scatter_freedom} degrees of freedom.",
        mean.intercept, covariance.intercept, mean.slope, covariance.slope, covariance.both,
    )
}

fn trend_words(series: &Series<'_>, run_in: Hours, wear: &Wear) -> String {
    let due = wear.due().map_or_else(String::new, |due| format!(" Due: {due} h."));
    let by_line = |leads: String| {
        let readings = wear.readings;
        match wear.basis {
            Basis::Own => {
                let uncertainty = plain(uncertainty(&used(series, run_in)));
                format!(
                    "by a line through {readings} readings, uncertainty {uncertainty} each, {leads}"
                )
            }
            Basis::Fleet { engines, .. } => {
                let readings = counted(i64::try_from(readings).unwrap_or(i64::MAX), "reading");
                format!("by a line through {readings}, steadied by {engines} engines, {leads}")
            }
        }
    };
    let says = match wear.says {
        Says::Reaches { .. } => {
            by_line(format!("the limit is not reached before that in {HOLDS_PERCENT} of 100 cases"))
        }
        Says::MeasureAgain => by_line(
            "it cannot be excluded that it is beyond the limit at the last reading".to_owned(),
        ),
        Says::NotWithin(hours) => by_line(format!("the limit is not reached within {hours} h")),
        Says::NoWear => by_line("no wear towards the limit is visible".to_owned()),
        Says::Reached => "the last reading is at the limit or beyond".to_owned(),
        Says::CannotSay(_) => wear.in_words(),
    };
    format!("Trend: {says}.{due}")
}

/// A figure to the ninth place, in plain digits.
fn plain(value: Ratio) -> String {
    value.rounded(9).map_or_else(|| value.to_string(), |it| it.to_string())
}
