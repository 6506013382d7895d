//! How often the truth lies between the early and the late day of a forecast, and how far off the days are.

use super::flying::Aircraft;
use super::random::Random;
use super::{Row, percent, real};
use chrono::NaiveDate;
use gudgeon_life::calendar::days_between;
use gudgeon_life::hours::Hours;
use gudgeon_life::sure::forecast::{Ahead, DAYS_MAX, Forecast};
use gudgeon_life::sure::rate::{Meter, Owner, Rate, Reading};
use gudgeon_life::sure::season::Hemisphere;

const AIRCRAFT: u64 = 6000;
/// Hours left, and the most that the loss may be beside that of the mean rate.
const LIMITS: [(u32, f64); 4] = [(10, 0.6), (25, 0.6), (50, 0.6), (100, 0.7)];
const LEVELS: [f64; 3] = [0.1, 0.5, 0.9];
/// The normal quantiles of [`LEVELS`], from any table.
const NORMAL: [f64; 3] = [1.2816, 0.0, -1.2816];

/// What was counted for one number of hours left.
#[derive(Default)]
struct Tally {
    count: usize,
    within: usize,
    early: usize,
    loss: f64,
    loss_of_mean: f64,
}

pub(super) fn rows(seed: u64) -> Vec<Row> {
    let mut tallies = LIMITS.map(|_| Tally::default());
    for number in 0..AIRCRAFT {
        let mut random = Random::new(seed, number);
        let gaps = 1 + random.below(29);
        let aircraft = Aircraft::simulate(&mut random, gaps);
        let Ok(rate) = Rate::learn(&aircraft.readings, Hemisphere::North, Owner::Unknown) else {
            continue;
        };
        let ahead = Ahead::of(rate);
        for (tally, (hours, _)) in tallies.iter_mut().zip(LIMITS) {
            tally.add(&aircraft, &ahead, hours);
        }
    }
    let rows = tallies.iter().zip(LIMITS).flat_map(|(tally, (hours, loss_max))| {
        let covered = percent(tally.within, tally.count);
        let early = percent(tally.early, tally.count);
        let row =
            |what: &str, found, wanted| Row::new(format!("{what}, {hours} h left"), found, wanted);
        [
            row("truth from P10 to P90, %", covered, [76.0, 84.0]),
            row("truth before P10, %", early, [6.0, 13.0]),
            row(
                "pinball loss beside the mean rate's",
                tally.loss / tally.loss_of_mean,
                [0.0, loss_max],
            ),
        ]
    });
    rows.collect()
}

impl Tally {
    fn add(&mut self, aircraft: &Aircraft, ahead: &Ahead, hours: u32) {
        let last = ahead.rate().last;
        let Forecast::Days(days) = ahead.reach(Hours::from_whole(i64::from(hours)), last) else {
            return;
        };
        let reached = aircraft.ahead_tenths.iter().position(|tenths| *tenths >= 10 * hours);
        // Days that are not within ten years count as the first one after them.
        let never = real(DAYS_MAX + 1);
        let truth = reached.map_or(never, |at| real(at + 1));
        let day = |day: Option<NaiveDate>| {
            day.map_or(never, |day| f64::from(i32::try_from(days_between(last, day)).unwrap_or(0)))
        };
        let found = [days.p10, days.p50, days.p90].map(day);
        self.count += 1;
        self.within += usize::from((found[0]..=found[2]).contains(&truth));
        self.early += usize::from(truth < found[0]);
        self.loss += loss(found, truth);
        self.loss_of_mean += loss(by_mean(&aircraft.readings, f64::from(hours), never), truth);
    }
}

/// Pinball loss, summed over the three days: what is too late and what is too early, each weighed by its level.
fn loss(found: [f64; 3], truth: f64) -> f64 {
    let losses = found.iter().zip(LEVELS).map(|(day, level)| {
        let late = truth - day;
        (level * late).max((level - 1.0) * late)
    });
    losses.sum()
}

/// What is usually done instead: hours left over the mean rate, give or take the scatter of the stretches.
fn by_mean(readings: &[Reading], hours_left: f64, never: f64) -> [f64; 3] {
    let pairs = readings.iter().zip(readings.iter().skip(1));
    let known = pairs.filter(|(_, after)| after.meter == Meter::Same).map(|(before, after)| {
        let seconds = (after.hours - before.hours).seconds();
        let days = days_between(before.on, after.on);
        (
            f64::from(i32::try_from(seconds).unwrap_or(i32::MAX)) / 3600.0,
            f64::from(i32::try_from(days).unwrap_or(i32::MAX)),
        )
    });
    let stretches: Vec<(f64, f64)> = known.collect();
    let hours: f64 = stretches.iter().map(|it| it.0).sum();
    let days: f64 = stretches.iter().map(|it| it.1).sum();
    let rate = hours / days.max(1.0);
    if rate <= 0.0 {
        return [never; 3];
    }
    let scatter =
        stretches.iter().map(|(hours, days)| (hours - rate * days).powi(2) / (rate * days));
    let lump = scatter.sum::<f64>() / real(stretches.len().saturating_sub(1)).max(1.0);
    // rate × t + z sqrt(lump × rate × t) = hours left, for the square root of rate × t.
    NORMAL.map(|z| {
        let half = z * lump.sqrt() / 2.0;
        let root = (half * half + hours_left).sqrt() - half;
        (root * root / rate).min(never)
    })
}
