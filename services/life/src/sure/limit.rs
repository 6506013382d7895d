//! What the readings on record say about the measured limit of an item, at the border between real numbers and
//! whole seconds: bounds leave this module rounded down to the tenth of an hour.
//!
//! Where the type has a [`prior`](super::prior), the line is steadied by it, and one reading is enough; else it is
//! drawn from the readings of this engine's part alone, three at least. Which of the two it was is said.

use super::prior::{Evidence, Steadying};
use super::trend::{
    Basis as RestsOn, CONFIDENCE, CannotSay, Early, Estimate, Measured, Question, Trend, trend,
};
use crate::decimal::Decimal;
use crate::hours::Hours;
use crate::measure::{Interval, QuantityRule, Ratio, Wear as Goes};
use crate::series::{ReadAt, Series};
use crate::subject::LineSubject;
use crate::wear::{Basis, Caution, Says, TrendRule, Wear, WhyNot};

/// A gauge whose errors are spread evenly over its step has this many standard deviations in the step.
const STEP_PER_SD: f64 = 3.464_101_615_137_754_6;
/// An expanded uncertainty is two standard deviations (k = 2).
const COVERAGE: f64 = 2.0;

/// What the trend of an item says at each of its places; empty where the item has none.
pub(crate) fn wear(subject: &LineSubject<'_>, evidence: &Evidence) -> Vec<Wear> {
    let Some(asked) = &subject.item.trend else { return Vec::new() };
    let Some(rule) = subject.engine_type.bench.quantity(&asked.quantity) else { return Vec::new() };
    let places = subject.places_of(rule).into_iter();
    let at_place = |place| {
        let series = subject.series(rule, place);
        at_place(subject, asked, &series, evidence.steadying(subject, &series))
    };
    places.map(at_place).collect()
}

fn at_place(
    subject: &LineSubject<'_>,
    asked: &TrendRule,
    series: &Series<'_>,
    steadying: Option<Steadying<'_>>,
) -> Wear {
    let QuantityRule { id, title, .. } = series.rule;
    let found = asked_of(series, asked.run_in, steadying);
    let Found { says, basis, readings, cautions } = found;
    Wear {
        quantity: id.clone(),
        title: title.clone(),
        position: series.place.filter(|place| subject.position != Some(*place)).cloned(),
        limit: limit_words(series.rule),
        readings,
        last: series.readings.last().and_then(|it| it.at),
        says,
        basis,
        cautions,
    }
}

/// The limit on the side to which a quantity wears, with its unit.
pub(crate) fn limit_words(rule: &QuantityRule) -> String {
    let (most, least) = ends(rule);
    let end = most.map(|it| format!("at most {it}")).or(least.map(|it| format!("at least {it}")));
    end.map_or_else(String::new, |end| format!("{end} {}", rule.unit))
}

/// Its upper and lower limit, of which only the one counts to which it wears.
fn ends(rule: &QuantityRule) -> (Option<Decimal>, Option<Decimal>) {
    match rule.wear {
        Some(Goes::Falls) => (None, rule.limit.min),
        Some(Goes::Rises) => (rule.limit.max, None),
        None => (rule.limit.max, rule.limit.min),
    }
}

struct Found {
    says: Says,
    basis: Basis,
    readings: usize,
    cautions: Vec<Caution>,
}

fn asked_of(series: &Series<'_>, run_in: Hours, steadying: Option<Steadying<'_>>) -> Found {
    let by_itself =
        |says, readings| Found { says, basis: Basis::Own, readings, cautions: Vec::new() };
    let cannot = |why| by_itself(Says::CannotSay(why), used(series, run_in).len());
    if series.readings.last().is_some_and(|it| it.at.is_none()) {
        return cannot(WhyNot::NoHours);
    }
    match drawn(series, run_in, steadying) {
        Trend::AlreadyReached(_) => by_itself(Says::Reached, series.readings.len()),
        Trend::CannotSay(why) => cannot(match why {
            CannotSay::NoReading => WhyNot::NoReading,
            CannotSay::NeedsReadings { .. } => WhyNot::NeedsReadings,
            CannotSay::SameHours => WhyNot::SameHours,
            CannotSay::NoLimit | CannotSay::OutOfRange => WhyNot::OutOfRange,
        }),
        Trend::Estimate(line) => Found {
            says: match line.early {
                Early::At(hours) => {
                    let last = super::whole_seconds(line.last_hours);
                    Says::Reaches { bound: tenths(hours).max(last), point: line.point() }
                }
                Early::AtLastReading => Says::MeasureAgain,
                Early::NotWithin(hours) => Says::NotWithin(super::whole_seconds(hours)),
                Early::NoWear => Says::NoWear,
            },
            basis: basis(&line, steadying),
            readings: line.count,
            cautions: cautions(&line),
        },
    }
}

/// What a line rests on.
pub(crate) fn basis(line: &Estimate, steadying: Option<Steadying<'_>>) -> Basis {
    match (line.basis, steadying) {
        (RestsOn::Fleet { engines }, Some(Steadying { version, on, .. })) => {
            Basis::Fleet { engines, version, on }
        }
        _ => Basis::Own,
    }
}

/// Hours rounded down to the tenth, which is how they are printed, so that whoever reads them has all of them.
fn tenths(hours: f64) -> Hours {
    let seconds = super::whole_seconds(hours).seconds();
    Hours::from_seconds(seconds.div_euclid(TENTH) * TENTH)
}

/// Seconds in a tenth of an hour.
const TENTH: i64 = 360;

fn cautions(line: &Estimate) -> Vec<Caution> {
    let all = [
        (line.one_reading_dominates, Caution::OneReadingDominates),
        (line.extrapolated, Caution::Extrapolated),
        (line.scatter_of_gauge, Caution::ScatterOfGauge),
    ];
    all.into_iter().filter(|(applies, _)| *applies).map(|(_, caution)| caution).collect()
}

/// The line through a series, with its edge.
pub(crate) fn drawn(series: &Series<'_>, run_in: Hours, steadying: Option<Steadying<'_>>) -> Trend {
    let (most, least) = ends(series.rule);
    let measured: Vec<Measured> = series
        .readings
        .iter()
        .filter_map(|it| Some(Measured { at: it.at?, value: real(it.value.value) }))
        .collect();
    let question = Question {
        upper: most.map(|it| real(it.into())),
        lower: least.map(|it| real(it.into())),
        confidence: CONFIDENCE,
        run_in_until: run_in_until(series, run_in),
        part_changed_at: None,
        gauge_step: Some(STEP_PER_SD * real(uncertainty(&used(series, run_in))) / COVERAGE),
    };
    trend(&measured, &question, steadying.map(Steadying::fleet_here).as_ref())
}

/// Up to here readings are of the running-in.
pub(crate) fn run_in_until(series: &Series<'_>, run_in: Hours) -> Hours {
    series.begins.map_or(Hours::ZERO, |begins| begins + run_in)
}

/// The readings that a line is drawn through.
pub(crate) fn used(series: &Series<'_>, run_in: Hours) -> Vec<ReadAt> {
    let until = run_in_until(series, run_in);
    let after = |it: &&ReadAt| it.at.is_some_and(|at| at >= until);
    series.readings.iter().filter(after).copied().collect()
}

/// The largest expanded uncertainty of any of the readings. They are taken to scatter by half of it at least, however
/// well they agree.
pub(crate) fn uncertainty(readings: &[ReadAt]) -> Ratio {
    let half = |it: Interval| it.high.minus(it.low)?.over(Ratio::whole(2));
    readings.iter().filter_map(|it| half(it.value)).max().unwrap_or(Ratio::ZERO)
}

/// A fraction as a real number, to the ninth place; beyond a thousand million, that.
pub(crate) fn real(ratio: Ratio) -> f64 {
    let billionths = ratio.rounded(9).map_or(i64::MAX, Decimal::billionths);
    let part = |value: i64| super::real(value);
    part(billionths.div_euclid(BILLION)) + part(billionths.rem_euclid(BILLION)) / 1e9
}

const BILLION: i64 = 1_000_000_000;
