//! How often the early figure of a wear trend comes before the truth, and how near the truth it is.
//!
//! Bore clearance that grows along a straight line; engines' slopes differ by 23 %, a gauge by 0.005 mm. Each
//! engine that is asked about has a fleet of its own, of 20 to 40 logged engines with 3 to 8 readings each. It is
//! asked about when it was last measured, after 30 to 80 % of its life. In a service an engine with three readings or
//! more is itself one of those that its type is known from, and there may be six of them in all: those are asked
//! about too.

use super::random::Random;
use super::{Row, median, percent};
use gudgeon_life::hours::Hours;
use gudgeon_life::sure::fleet::Fleet;
use gudgeon_life::sure::line::Point;
use gudgeon_life::sure::trend::{CONFIDENCE, Early, Measured, Question, Trend, trend};

const ENGINES: u64 = 4000;
const LIMIT: f64 = 0.2;
/// Between which shares of its life a logged engine was last measured, and the one that is asked about.
const LOGGED: [f64; 2] = [0.3, 1.0];
const ASKED: [f64; 2] = [0.3, 0.8];
const READINGS: [u32; 6] = [1, 2, 3, 4, 6, 10];
/// The fewest engines that a type is known from, and not many more.
const FEW: [u32; 3] = [6, 10, 20];

/// The true line of an engine.
struct Engine {
    intercept: f64,
    slope: f64,
}

impl Engine {
    fn draw(random: &mut Random) -> Self {
        let slope = 9e-5 * (1.0 + 0.23 * random.normal()).max(0.3);
        Self { intercept: 0.095 + 0.006 * random.normal(), slope }
    }

    /// When it really reaches the limit.
    fn truth_hours(&self) -> f64 {
        (LIMIT - self.intercept) / self.slope
    }

    /// Readings at inspections over its life, the last of them now, to a thousandth of a millimetre.
    fn measure(&self, random: &mut Random, count: u32, life: [f64; 2]) -> Vec<Point> {
        let until = self.truth_hours() * random.between(life[0], life[1]);
        let point = |number: u32| {
            let early = if number + 1 == count { 0.0 } else { random.share() };
            let place = (f64::from(number + 1) - early) / f64::from(count);
            let hours = (50.0 + (until - 50.0) * place).round();
            let value = self.intercept + self.slope * hours + 0.005 * random.normal();
            (hours, (1000.0 * value).round() / 1000.0)
        };
        (0..count).map(point).collect()
    }
}

/// What is known beside the readings of the engine that is asked about.
#[derive(Clone, Copy)]
enum Known {
    Nothing,
    /// Its type, from 20 to 40 other engines.
    Type,
    /// Its type, from so many engines, of which it is one when it has three readings.
    Few(u32),
}

pub(super) fn rows(seed: u64) -> Vec<Row> {
    let tried = |count, known| Tried::all(seed, count, known);
    let mut rows = Vec::new();
    for count in READINGS {
        let Tried { holds, shares } = tried(count, Known::Type);
        let what = format!("bound before the truth, {count} readings and a fleet, %");
        rows.push(Row::new(what, percent(holds, shares.len()), [93.0, 97.5]));
        let what = format!("median of bound / truth, {count} readings and a fleet");
        rows.push(Row::new(what, median(shares), [0.8, 1.0]));
    }
    for (count, engines) in READINGS.into_iter().flat_map(|count| FEW.map(|few| (count, few))) {
        let Tried { holds, shares } = tried(count, Known::Few(engines));
        let what = format!("bound before the truth, {count} readings, {engines} engines known, %");
        rows.push(Row::new(what, percent(holds, shares.len()), [92.5, 98.5]));
    }
    for count in READINGS.into_iter().filter(|count| *count >= 3) {
        let Tried { holds, shares } = tried(count, Known::Nothing);
        let what = format!("bound before the truth, {count} readings alone, %");
        rows.push(Row::new(what, percent(holds, shares.len()), [93.0, 98.5]));
    }
    rows
}

/// What became of the engines asked about.
#[derive(Default)]
struct Tried {
    /// How many bounds came before the truth.
    holds: usize,
    /// Each bound as a share of the truth.
    shares: Vec<f64>,
}

impl Tried {
    fn all(seed: u64, count: u32, known: Known) -> Self {
        let mut tried = Self::default();
        for number in 0..ENGINES {
            let mut random = Random::new(seed, number << 8 | u64::from(count));
            let others = match known {
                Known::Nothing => 0,
                Known::Type => 20 + random.below(21),
                Known::Few(engines) => engines - u32::from(count >= 3),
            };
            let others = (0..others).map(|_| {
                let readings = 3 + random.below(6);
                Engine::draw(&mut random).measure(&mut random, readings, LOGGED)
            });
            let mut engines: Vec<Vec<Point>> = others.collect();
            let engine = Engine::draw(&mut random);
            let points = engine.measure(&mut random, count, ASKED);
            if let Known::Few(_) = known {
                engines.push(points.clone());
            }
            if let Some(bound) = bound(&points, Fleet::learn(&engines).as_ref()) {
                tried.holds += usize::from(bound <= engine.truth_hours());
                tried.shares.push(bound / engine.truth_hours());
            }
        }
        tried
    }
}

/// The early figure; `None` when the readings have reached the limit themselves or show no wear.
fn bound(points: &[Point], fleet: Option<&Fleet>) -> Option<f64> {
    let question = Question {
        upper: Some(LIMIT),
        lower: None,
        confidence: CONFIDENCE,
        run_in_until: Hours::ZERO,
        part_changed_at: None,
        gauge_step: None,
    };
    let measured = points.iter().map(|(hours, value)| {
        let at = Hours::parse(&format!("{hours:.0}")).unwrap_or_default();
        Measured { at, value: *value }
    });
    match trend(&measured.collect::<Vec<_>>(), &question, fleet) {
        Trend::Estimate(estimate) => match estimate.early {
            Early::At(hours) | Early::NotWithin(hours) => Some(hours),
            Early::AtLastReading => Some(estimate.last_hours),
            Early::NoWear => None,
        },
        Trend::AlreadyReached(_) | Trend::CannotSay(_) => None,
    }
}
