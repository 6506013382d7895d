//! How often the likelihood-ratio bound of B10 holds for parts that inspections found bad, and how far off B10 is.
//!
//! Fleets of 60 parts with a Weibull life, each inspected every so many hours from a place of its own, and seen until 300
//! to 1500 hours. Judged at 90 %, where a bound that is too bold or too timid shows soonest.

use super::random::Random;
use super::{Row, median, percent};
use gudgeon_life::sure::part_life::{Part, weibull};

const FLEETS: u64 = 400;
const PARTS: u32 = 60;
const CONFIDENCE: f64 = 0.9;

/// Shape, B10 and hours between inspections.
const LIVES: [(f64, f64, f64); 5] = [
    (2.5, 488.0, 50.0),
    (2.5, 488.0, 200.0),
    (2.5, 488.0, 400.0),
    (1.3, 266.0, 100.0),
    (1.3, 266.0, 400.0),
];

fn part(shape: f64, b10: f64, gap: f64, random: &mut Random) -> Option<Part> {
    let scale = b10 / (-(0.9_f64.ln())).powf(1.0 / shape);
    let fails = scale * (-random.share().ln()).powf(1.0 / shape);
    let until = random.between(300.0, 1500.0);
    let mut good = 0.0;
    let mut next = random.between(0.0, gap);
    while next < until {
        if fails <= next {
            return Part::found_bad(good, next).ok();
        }
        (good, next) = (next, next + gap);
    }
    Part::running(good).ok()
}

pub(super) fn rows(seed: u64) -> Vec<Row> {
    let lives = LIVES.into_iter().zip(0..);
    lives.flat_map(|(life, number)| of_life(seed, number, life)).collect()
}

fn of_life(seed: u64, number: u64, (shape, b10, gap): (f64, f64, f64)) -> Vec<Row> {
    let (mut fitted, mut holds) = (0, 0);
    let mut biases = Vec::new();
    for fleet in 0..FLEETS {
        let mut random = Random::new(seed, 10 * fleet + number);
        let parts: Vec<Part> =
            (0..PARTS).filter_map(|_| part(shape, b10, gap, &mut random)).collect();
        let Some(life) = weibull::fit(&parts) else { continue };
        fitted += 1;
        biases.push(100.0 * (life.b10_h / b10 - 1.0));
        let lower = weibull::b10_lower(&parts, CONFIDENCE);
        holds += usize::from(lower.is_none_or(|lower| lower <= b10));
    }
    let row = |what: &str, found, wanted| {
        Row::new(format!("shape {shape}, inspected every {gap} h: {what}"), found, wanted)
    };
    vec![
        row("90 % bound holds, %", percent(holds, fitted), [85.0, 95.0]),
        row("B10 off, median, %", median(biases), [-6.0, 6.0]),
    ]
}
