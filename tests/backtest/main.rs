//! Back-tests: do the estimates of "how sure" hold as often as they say? In simulated fleets, where the truth is
//! known.
//!
//!     cargo bench -p gudgeon-tests --bench backtest             # all methods
//!     cargo bench -p gudgeon-tests --bench backtest -- wear 7   # one method, another seed
//!
//! Prints the seed and one row for each figure with the range it must be in, and fails when one is outside.
//! The simulators are made from descriptions of how people fly and how engines wear, not from the methods. They
//! are plausible, not real: a service's own logged engines have the last word.

#![expect(clippy::print_stdout, reason = "a bench prints what it measured")]
#![expect(clippy::float_arithmetic, reason = "simulators are made of real numbers")]

mod cost;
mod flying;
mod forecast;
mod lost_logs;
mod part_life;
mod random;
mod shops;
mod wear;

use std::env;
use std::process::ExitCode;
use std::time::Instant;

/// The seed unless another is given.
const SEED: u64 = 20_261_126;

/// A figure measured and the range that it must be in.
struct Row {
    what: String,
    found: f64,
    wanted: [f64; 2],
}

impl Row {
    fn new(what: String, found: f64, wanted: [f64; 2]) -> Self {
        Self { what, found, wanted }
    }

    fn holds(&self) -> bool {
        (self.wanted[0]..=self.wanted[1]).contains(&self.found)
    }
}

/// Measures a method with a seed.
type Method = fn(u64) -> Vec<Row>;

/// The methods by name.
const METHODS: [(&str, Method); 6] = [
    ("forecast", forecast::rows),
    ("wear", wear::rows),
    ("lost-logs", lost_logs::rows),
    ("part-life", part_life::rows),
    ("shops", shops::rows),
    ("cost", cost::rows),
];

fn main() -> ExitCode {
    let words: Vec<String> = env::args().skip(1).filter(|word| !word.starts_with('-')).collect();
    let seed = words.iter().find_map(|word| word.parse().ok()).unwrap_or(SEED);
    let is_named = |name: &str| words.iter().any(|word| word == name);
    let any_named = METHODS.iter().any(|(name, _)| is_named(name));
    println!("seed {seed}");
    let mut wrong = 0;
    for (name, rows) in METHODS {
        if any_named && !is_named(name) {
            continue;
        }
        let start = Instant::now();
        println!("\n| {name:<60} | found | wanted |\n| {:-<60} | ----: | ------ |", "");
        for row in rows(seed) {
            let Row { what, found, wanted: [least, most] } = &row;
            let mark = if row.holds() { "" } else { " WRONG" };
            println!("| {what:<60} | {found:.2} | {least} to {most}{mark} |");
            wrong += u32::from(!row.holds());
        }
        println!("{:.1} s", start.elapsed().as_secs_f64());
    }
    println!("\n{wrong} outside of their range");
    if wrong == 0 { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

/// A count as a real number.
fn real(count: usize) -> f64 {
    f64::from(u32::try_from(count).unwrap_or(u32::MAX))
}

/// How many in a hundred.
fn percent(part: usize, whole: usize) -> f64 {
    100.0 * real(part) / real(whole.max(1))
}

/// The middle of some values.
fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or_default()
}
