//! How often a gauge that reads like all others raises an alarm, and how often one that does not is found.
//!
//! Engines whose wear differs by 23 % and whose levels differ by twice the gauge's scatter; each mostly goes to a shop of
//! its own, and is measured there or elsewhere two to six times, 25 to 200 h apart. In one fleet of the false alarms the
//! shops' customers differ as well: those of the first wear twice as fast, and start at another level.

use super::random::Random;
use super::{Row, percent};
use gudgeon_life::sure::agreement::{Reading, Verdict, compare};

const FLEETS: u64 = 1500;
const POWER_FLEETS: u64 = 400;
/// The gauge's scatter, in mm.
const GAUGE: f64 = 0.005;
/// Wear in an hour.
const WEAR: f64 = 1.0e-4;

#[derive(Clone, Copy)]
struct Trade {
    shops: u32,
    engines: u32,
    /// The first shop's offset, in units of the gauge's scatter.
    offset: f64,
    /// Whether the first shop's customers wear their engines faster.
    dusty: bool,
}

fn readings(trade: Trade, random: &mut Random) -> Vec<Reading> {
    let mut readings = Vec::new();
    for engine in 0..trade.engines {
        let home = random.below(trade.shops);
        let harder = if trade.dusty && home == 0 { 2.0 } else { 1.0 };
        let slope = harder * WEAR * (1.0 + 0.23 * random.normal());
        let level = 0.08 * harder + 2.0 * GAUGE * random.normal();
        let mut hours = random.between(60.0, 400.0);
        for _ in 0..2 + random.below(5) {
            let shop = if random.chance(0.6) { home } else { random.below(trade.shops) };
            let offset = if shop == 0 { trade.offset * GAUGE } else { 0.0 };
            let value = level + slope * hours + offset + GAUGE * random.normal();
            readings.push(Reading {
                shop: u64::from(shop),
                engine: u64::from(engine),
                hours,
                value,
            });
            hours += random.between(25.0, 200.0);
        }
    }
    readings
}

pub(super) fn rows(seed: u64) -> Vec<Row> {
    let trade = |shops, engines, offset, dusty| Trade { shops, engines, offset, dusty };
    let calm = [
        trade(2, 8, 0.0, false),
        trade(2, 20, 0.0, false),
        trade(3, 12, 0.0, false),
        trade(3, 30, 0.0, false),
        trade(5, 60, 0.0, false),
        trade(5, 60, 0.0, true),
    ];
    let loud = [
        (trade(3, 30, 2.0, false), 90.0),
        (trade(5, 60, 1.0, false), 70.0),
        (trade(5, 60, 2.0, false), 95.0),
        (trade(5, 150, 1.0, false), 95.0),
    ];
    let calm = calm.into_iter().zip(0..).map(|(trade, number)| false_alarms(seed, number, trade));
    let loud = loud.into_iter().zip(10..);
    calm.chain(loud.flat_map(|((trade, least), number)| power(seed, number, trade, least)))
        .collect()
}

fn false_alarms(seed: u64, number: u64, trade: Trade) -> Row {
    let alarm = |fleet: &u64| {
        let found = compare(&readings(trade, &mut Random::new(seed, 100 * fleet + number)));
        let mut answers = found.shops.iter().filter_map(|shop| shop.answer.ok());
        answers.any(|offset| offset.verdict() != Verdict::NoneSeen)
    };
    let alarms = (0..FLEETS).filter(alarm).count();
    let Trade { shops, engines, .. } = trade;
    let dusty = if trade.dusty { ", one with other customers" } else { "" };
    let what = format!("{shops} shops, {engines} engines{dusty}: any false alarm, %");
    let fleets = usize::try_from(FLEETS).unwrap_or_default();
    Row::new(what, percent(alarms, fleets), [0.0, 5.0])
}

/// How often the first shop is found to read high, and how often another is blamed besides.
fn power(seed: u64, number: u64, trade: Trade, least: f64) -> [Row; 2] {
    let (mut found, mut blamed) = (0, 0);
    for fleet in 0..POWER_FLEETS {
        let answer = compare(&readings(trade, &mut Random::new(seed, 100 * fleet + number)));
        for shop in &answer.shops {
            let verdict = shop.answer.map_or(Verdict::NoneSeen, |offset| offset.verdict());
            if shop.shop == 0 {
                found += usize::from(verdict == Verdict::High);
            } else {
                blamed += usize::from(verdict != Verdict::NoneSeen);
            }
        }
    }
    let Trade { shops, engines, offset, .. } = trade;
    let fleets = usize::try_from(POWER_FLEETS).unwrap_or_default();
    let row = |what: &str, count, wanted| {
        let what = format!("{shops} shops, {engines} engines, one {offset} scatters high: {what}");
        Row::new(what, percent(count, fleets), wanted)
    };
    [row("found, %", found, [least, 100.0]), row("others blamed, %", blamed, [0.0, 10.0])]
}
