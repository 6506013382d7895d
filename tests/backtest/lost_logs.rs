//! How often the true hours of an engine without a log lie inside their interval, and not above their P95.
//!
//! Five indicators of every engine: clearance, ring gap, play, leakage, and a winding's resistance that tells nothing.
//! Each rises from a level of the engine's own through a short run-in and then along a line, whose slope differs
//! between engines by 18 % in everything at once and by 15 % in each by itself; gauges scatter. A logged engine has an age
//! of 150 to 1500 h and was measured then and up to three times before; one that arrives has run 0 to 1500 h. Levels and
//! scatter are of the size of those in the check values `18_hours_from_wear`.

use super::random::Random;
use super::{Row, percent};
use gudgeon_life::sure::unlogged::{self, Bounds, Fleet, Measured};

const ARRIVALS: u64 = 4000;
const OVERHAUL_H: f64 = 1500.0;

/// Level, wear in an hour, run-in, scatter of levels, scatter of the gauge.
const INDICATORS: [[f64; 5]; 5] = [
    [0.080, 0.92e-4, 0.012, 0.011, 0.005],
    [0.37, 3.3e-4, 0.045, 0.042, 0.016],
    [0.0125, 1.9e-5, 0.002, 0.008, 0.0035],
    [3.0, 0.0091, 0.9, 1.6, 2.0],
    [8.0, 0.0, 0.0, 0.25, 0.06],
];

struct Engine {
    levels: [f64; 5],
    slopes: [f64; 5],
}

impl Engine {
    fn draw(random: &mut Random) -> Self {
        let common = 0.18 * random.normal();
        let levels = INDICATORS.map(|[level, _, _, scatter, _]| level + scatter * random.normal());
        let slopes =
            INDICATORS.map(|[_, slope, ..]| slope * (common + 0.15 * random.normal()).exp());
        Self { levels, slopes }
    }

    fn measure(&self, hours: f64, random: &mut Random) -> Vec<f64> {
        let own = self.levels.iter().zip(&self.slopes).zip(&INDICATORS);
        own.map(|((level, slope), [_, _, run_in, _, gauge])| {
            level + slope * hours + run_in * (1.0 - (-hours / 50.0).exp()) + gauge * random.normal()
        })
        .collect()
    }
}

fn fleet(engines: u64, random: &mut Random) -> Option<Fleet> {
    let mut rows = Vec::new();
    for engine in 0..engines {
        let drawn = Engine::draw(random);
        let age = random.between(150.0, OVERHAUL_H);
        for number in 0..=random.below(4) {
            let hours = if number == 0 { age } else { random.between(0.0, age) };
            let values = drawn.measure(hours, random).into_iter().map(Some).collect();
            rows.push(unlogged::Row { engine, hours, values });
        }
    }
    Fleet::new(rows, OVERHAUL_H).ok()
}

pub(super) fn rows(seed: u64) -> Vec<Row> {
    [10, 20, 40].into_iter().flat_map(|engines| of_engines(seed, engines)).collect()
}

/// What was said of arriving engines, and how often it was true.
#[derive(Default)]
struct Tally {
    said: usize,
    inside: usize,
    below: usize,
    at_least: usize,
    above: usize,
}

fn of_engines(seed: u64, engines: u64) -> Vec<Row> {
    let mut tally = Tally::default();
    let mut widths = Vec::new();
    for arrival in 0..ARRIVALS {
        let mut random = Random::new(seed, 100 * arrival + engines);
        let Some(fleet) = fleet(engines, &mut random) else { continue };
        let hours = random.between(0.0, OVERHAUL_H);
        let measured = Engine::draw(&mut random).measure(hours, &mut random);
        let measured: Vec<Measured> = measured.into_iter().map(Measured::Value).collect();
        let found = fleet.estimate(&measured, Bounds::default()).ok().and_then(|it| it.answer.ok());
        let Some(found) = found else { continue };
        let figures = found.drawn_past_the_fleet();
        tally.said += 1;
        tally.inside += usize::from((found.p10..=figures.p90).contains(&hours));
        tally.below += usize::from(hours <= figures.p95);
        if found.upper().is_some() {
            widths.push(figures.p90 - found.p10);
        } else {
            tally.at_least += 1;
            tally.above += usize::from(hours >= found.p10);
        }
    }
    let Tally { said, inside, below, at_least, above } = tally;
    let row =
        |what: &str, found, wanted| Row::new(format!("{engines} engines: {what}"), found, wanted);
    vec![
        row("inside P10 to P90, %", percent(inside, said), [76.0, 84.0]),
        row("not above P95, %", percent(below, said), [94.0, 100.0]),
        row("\"at least P10\" is true, %", percent(above, at_least), [65.0, 100.0]),
        row("told no more than \"at least P10\", %", percent(at_least, said), [0.0, 30.0]),
        row("width of P10 to P90, median, h", super::median(widths), [200.0, 600.0]),
    ]
}
