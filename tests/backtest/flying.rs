//! A simulator of flying: how many tenths of an hour an aircraft flies each day, and when somebody reads it.
//!
//! 15 to 250 hours a year, each ratio as likely; a season from hardly any to a hard one, about a summer that is
//! not the same for everybody; a third stay on the ground for two to five months; weeks of good and of bad
//! weather; a yearly drift of the owner's habits of 30 %; groundings; one meter in eight replaced; readings 7
//! to 180 days apart; a tenth fly in the south and are taken for northern ones.

use super::random::Random;
use chrono::{Datelike, Days, NaiveDate};
use gudgeon_life::hours::Hours;
use gudgeon_life::sure::forecast::DAYS_MAX;
use gudgeon_life::sure::rate::{Meter, Reading};
use std::f64::consts::TAU;

/// The first day of every aircraft's records.
const FIRST: NaiveDate = NaiveDate::from_ymd_opt(2015, 1, 1).expect("a day");
/// The longest stretch between two readings, in days.
const GAP_DAYS_MAX: f64 = 180.0;

/// An aircraft: what was read of it, and what it then really flew.
pub(super) struct Aircraft {
    pub(super) readings: Vec<Reading>,
    /// Tenths of an hour flown since the last reading, after each day.
    pub(super) ahead_tenths: Vec<u32>,
}

impl Aircraft {
    /// An aircraft with so many stretches between readings.
    pub(super) fn simulate(random: &mut Random, gaps: u32) -> Self {
        let habits = Habits::draw(random);
        let typical_days = random.log_between(7.0, GAP_DAYS_MAX);
        let spans: Vec<usize> = (0..gaps)
            .map(|_| whole((typical_days * random.between(0.6, 1.4)).clamp(7.0, GAP_DAYS_MAX)))
            .collect();
        // Begins on any day of a year.
        let start = FIRST + Days::new(u64::from(random.below(365)));
        let past: usize = spans.iter().sum();
        let flown = habits.fly(random, start, past + DAYS_MAX);
        let new_meter_at =
            if random.chance(0.12) { random.below(gaps.max(1)) + 1 } else { u32::MAX };
        let (mut day, mut shown) = (0, 5_000);
        let mut readings = vec![reading(start, 0, shown, false)];
        for (span, number) in spans.into_iter().zip(1_u32..) {
            let is_new = number == new_meter_at;
            let hours: u32 = flown.iter().skip(day).take(span).sum();
            // The new meter went on in the middle of the stretch: half of the hours are lost.
            shown = if is_new { hours / 2 } else { shown + hours };
            day += span;
            readings.push(reading(start, day, shown, is_new));
        }
        let mut total = 0;
        let ahead = flown.iter().skip(past).map(|tenths| {
            total += tenths;
            total
        });
        Self { readings, ahead_tenths: ahead.collect() }
    }
}

fn reading(start: NaiveDate, day: usize, tenths: u32, is_new: bool) -> Reading {
    Reading {
        on: start + Days::new(u64::try_from(day).unwrap_or_default()),
        hours: Hours::from_seconds(360 * i64::from(tenths)),
        meter: if is_new { Meter::New } else { Meter::Same },
    }
}

/// How somebody flies.
struct Habits {
    hours_per_year: f64,
    flight_hours: f64,
    /// How much is flown in each month; the mean is 1.
    months: [f64; 12],
}

impl Habits {
    fn draw(random: &mut Random) -> Self {
        let depth = random.between(0.1, 0.95);
        let south = if random.chance(0.1) { 6.0 } else { 0.0 };
        let summer = 6.2 + 0.6 * random.normal() + south;
        let mut months = [0.0; 12];
        for (month, factor) in (0_u32..).zip(&mut months) {
            *factor = 1.0 + depth * (TAU * (f64::from(month) - summer) / 12.0).cos();
        }
        if random.chance(1.0 / 3.0) {
            let closed = 2.0 + f64::from(random.below(4));
            for (month, factor) in (0_u32..).zip(&mut months) {
                // Months from the middle of winter, around the turn of the year.
                let apart = (f64::from(month) - summer - 6.0).rem_euclid(12.0);
                if apart.min(12.0 - apart) < closed / 2.0 {
                    *factor = 0.0;
                }
            }
        }
        let mean = months.iter().sum::<f64>() / 12.0;
        Self {
            hours_per_year: random.log_between(15.0, 250.0),
            flight_hours: random.between(1.0, 2.5),
            months: months.map(|factor| factor / mean),
        }
    }

    /// Tenths of an hour for each of so many days.
    fn fly(&self, random: &mut Random, start: NaiveDate, days: usize) -> Vec<u32> {
        let mut flown = Vec::with_capacity(days);
        let (mut year, mut week, mut grounded) = (1.0, 1.0, 0);
        for (day, number) in start.iter_days().take(days).zip(0_u32..) {
            if number % 365 == 0 {
                // Around one's usual, a year more and a year less.
                year = (0.3 * random.normal() - 0.045).exp();
            }
            if number % 7 == 0 {
                week = random.gamma(1.0);
            }
            if grounded == 0 && random.chance(0.3 / 365.0) {
                grounded = 14 + random.below(60);
            }
            grounded = u32::saturating_sub(grounded, 1);
            let month = self.months.iter().zip(0_u32..).find(|it| it.1 == day.month0());
            let season = month.map_or(1.0, |it| *it.0);
            let hours =
                if grounded > 0 { 0.0 } else { self.hours_per_year / 365.25 * season * year };
            let flights = random.poisson(hours * week / self.flight_hours);
            let tenths = (0..flights).map(|_| whole(10.0 * self.flight_hours * random.gamma(4.0)));
            flown.push(u32::try_from(tenths.sum::<usize>()).unwrap_or(u32::MAX));
        }
        flown
    }
}

/// A number rounded to a whole one.
#[expect(
    clippy::as_conversions,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a small positive number that was rounded"
)]
fn whole(number: f64) -> usize {
    number.round() as usize
}
