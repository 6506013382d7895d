//! What assessments cost: learning a rate once and telling thirty items their days, beside the bare sums of as
//! many due dates in the same run.

use super::Row;
use super::flying::Aircraft;
use super::random::Random;
use gudgeon_life::calendar::{CalendarMode, CalendarSpan, add};
use gudgeon_life::hours::Hours;
use gudgeon_life::sure::forecast::Ahead;
use gudgeon_life::sure::rate::{Owner, Rate};
use gudgeon_life::sure::season::Hemisphere;
use std::hint::black_box;
use std::time::Instant;

const ENGINES: u32 = 200;
const ITEMS: i64 = 30;
/// How often the bare sums are made, for they take too little time to be measured once.
const SUMS: u32 = 200;

pub(super) fn rows(seed: u64) -> Vec<Row> {
    let mut random = Random::new(seed, 0);
    let aircraft: Vec<Aircraft> =
        (0..ENGINES).map(|_| Aircraft::simulate(&mut random, 24)).collect();
    let learnt = seconds(|| {
        for aircraft in &aircraft {
            black_box(Rate::learn(&aircraft.readings, Hemisphere::North, Owner::Unknown).ok());
        }
    });
    let rates = aircraft
        .iter()
        .filter_map(|it| Rate::learn(&it.readings, Hemisphere::North, Owner::Unknown).ok());
    let rates: Vec<Rate> = rates.collect();
    let reached = seconds(|| {
        for rate in &rates {
            let ahead = Ahead::of(*rate);
            for item in 1..=ITEMS {
                black_box(ahead.reach(Hours::from_whole(5 * item), rate.last));
            }
        }
    });
    let planned = seconds(|| {
        for rate in &rates {
            let ahead = Ahead::of(*rate);
            for item in 1..=ITEMS {
                black_box(ahead.early_day(Hours::from_whole(5 * item)));
            }
        }
    });
    let bare = seconds(|| {
        for rate in rates.iter().cycle().take(rates.len() * usize::try_from(SUMS).unwrap_or(1)) {
            for item in 1..=ITEMS {
                black_box(Hours::from_whole(1000) + Hours::from_whole(black_box(5 * item)));
                black_box(add(
                    black_box(rate.last),
                    CalendarSpan::months(12),
                    CalendarMode::EndOfMonth,
                ));
            }
        }
    });
    let engines = f64::from(ENGINES);
    let bare = bare / f64::from(SUMS);
    vec![
        Row::new(
            "assessments a second: a rate learnt, 30 items told".to_owned(),
            engines / (learnt + reached),
            [100.0, 1e9],
        ),
        Row::new(
            "microseconds to learn a rate from 25 readings".to_owned(),
            1e6 * learnt / engines,
            [0.0, 2_000.0],
        ),
        Row::new(
            "microseconds to tell 30 items their days".to_owned(),
            1e6 * reached / engines,
            [0.0, 20_000.0],
        ),
        Row::new(
            "microseconds to plan 30 items, as every post does".to_owned(),
            1e6 * planned / engines,
            [0.0, 10_000.0],
        ),
        Row::new(
            "all of it beside the bare sums of 30 due dates".to_owned(),
            (learnt + reached) / bare,
            [0.0, 1e5],
        ),
    ]
}

fn seconds(run: impl FnOnce()) -> f64 {
    let start = Instant::now();
    run();
    start.elapsed().as_secs_f64()
}
