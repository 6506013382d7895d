//! The mixed model: offsets of shops, a wear rate for the type and one for each engine around it, a level for each
//! engine.
//!
//! Taking each engine's mean from its readings takes its level out exactly. What is left scatters with
//! s² (M + r hh'), h being the engine's hours less their mean, M the taking of means, and r the variance of wear rates in
//! units of the gauge's. For a given r everything is closed (Sherman and Morrison, engine by engine), so that only one
//! number is searched, the r of the highest restricted likelihood: Patterson & Thompson 1971.

use super::super::matrix::Symmetric;
use super::super::real;
use super::Reading;
use std::collections::{BTreeMap, BTreeSet};

/// A shop's offset against the mean of the others.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Effect {
    pub(super) offset: f64,
    pub(super) se: f64,
    /// The degrees of freedom of the scatter.
    pub(super) freedom: f64,
}

/// Why there are no offsets.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Unidentified {
    Confounded,
    NoScatter,
}

/// Logarithms of r, with hours in units of their root mean square, that are looked at besides r = 0.
const LN_RATIOS: (f64, f64) = (-12.0, 9.0);
const LOOKS: u32 = 42;
/// A sum of squares below this share of what there was is rounding.
const ROUNDING: f64 = 1e-10;

/// The shops in groups that engines connect, each with two shops at least.
pub(super) fn connected(readings: &[Reading], shops: &[u64]) -> Vec<Vec<u64>> {
    let mut engines: BTreeMap<u64, BTreeSet<u64>> = BTreeMap::new();
    for reading in readings.iter().filter(|reading| shops.contains(&reading.shop)) {
        engines.entry(reading.engine).or_default().insert(reading.shop);
    }
    let mut groups: Vec<BTreeSet<u64>> = Vec::new();
    for shops in engines.into_values().filter(|shops| shops.len() > 1) {
        let (touched, apart): (Vec<_>, Vec<_>) =
            groups.into_iter().partition(|group| !group.is_disjoint(&shops));
        groups = apart;
        groups.push(touched.into_iter().flatten().chain(shops).collect());
    }
    groups.into_iter().map(|group| group.into_iter().collect()).collect()
}

/// One engine's readings less their means: a row for each reading.
struct Engine {
    /// The columns of the model: shops but the first, and hours.
    rows: Vec<Vec<f64>>,
    values: Vec<f64>,
    hours: Vec<f64>,
}

/// What a wear rate of its own takes from one engine's sums.
struct Own {
    /// Hours times each column.
    along: Vec<f64>,
    /// Hours times values.
    value: f64,
    /// Hours times hours.
    hours: f64,
}

/// Sums over all engines, with r = 0, and what r changes of them.
struct Sums {
    normal: Symmetric,
    right: Vec<f64>,
    squares: f64,
    owns: Vec<Own>,
}

struct Solved {
    spread: Symmetric,
    coefficients: Vec<f64>,
    scatter: f64,
    likelihood: f64,
}

/// The offset of each shop of a connected group, in its order.
pub(super) fn effects(readings: &[Reading], shops: &[u64]) -> Result<Vec<Effect>, Unidentified> {
    let engines = engines(readings, shops);
    let rows: usize = engines.iter().map(|engine| engine.values.len()).sum();
    let columns = engines.iter().find_map(|engine| engine.rows.first()).map(Vec::len);
    let columns = columns.ok_or(Unidentified::NoScatter)?;
    let freedom = rows.saturating_sub(engines.len() + columns);
    if freedom == 0 {
        return Err(Unidentified::NoScatter);
    }
    let freedom = real(freedom);
    let sums = Sums::new(&engines, columns);
    let solve = |ratio: f64| sums.solve(ratio, freedom);
    let mut best = solve(0.0)?;
    if columns == shops.len() {
        let at =
            |ln_ratio: f64| solve(ln_ratio.exp()).map_or(f64::NEG_INFINITY, |it| it.likelihood);
        let (likelihood, ln_ratio) = highest(at);
        if likelihood > best.likelihood {
            best = solve(ln_ratio.exp())?;
        }
    }
    Ok((0..shops.len()).map(|shop| best.effect(shop, shops.len(), freedom)).collect())
}

/// The readings of these shops on engines with two or more, less each engine's means. The column of hours is left out
/// where every engine was measured at one hour.
fn engines(readings: &[Reading], shops: &[u64]) -> Vec<Engine> {
    let mut by_engine: BTreeMap<u64, Vec<&Reading>> = BTreeMap::new();
    for reading in readings.iter().filter(|reading| shops.contains(&reading.shop)) {
        by_engine.entry(reading.engine).or_default().push(reading);
    }
    by_engine.retain(|_, readings| readings.len() > 1);
    let away: Vec<Vec<f64>> = by_engine
        .values()
        .map(|readings| centred(readings.iter().map(|reading| reading.hours).collect()))
        .collect();
    let squares: f64 = away.iter().flatten().map(|hours| hours * hours).sum();
    let unit = (squares / real(away.iter().flatten().count())).sqrt();
    // Hours differ by less than a second: they do not differ.
    let with_hours = unit > 1.0 / 3600.0;
    let engine = |(readings, away): (&Vec<&Reading>, Vec<f64>)| {
        let hours: Vec<f64> =
            away.into_iter().map(|away| if with_hours { away / unit } else { 0.0 }).collect();
        let mut columns: Vec<Vec<f64>> = shops
            .iter()
            .skip(1)
            .map(|shop| {
                let here = |it: &&Reading| f64::from(u8::from(it.shop == *shop));
                centred(readings.iter().map(here).collect())
            })
            .collect();
        if with_hours {
            columns.push(hours.clone());
        }
        let rows = (0..readings.len())
            .map(|row| columns.iter().filter_map(|column| column.get(row).copied()).collect());
        let values = centred(readings.iter().map(|reading| reading.value).collect());
        Engine { rows: rows.collect(), values, hours }
    };
    by_engine.values().zip(away).map(engine).collect()
}

fn centred(values: Vec<f64>) -> Vec<f64> {
    let mean = values.iter().sum::<f64>() / real(values.len());
    values.into_iter().map(|value| value - mean).collect()
}

fn dot(left: &[f64], right: &[f64]) -> f64 {
    left.iter().zip(right).map(|(left, right)| left * right).sum()
}

impl Sums {
    fn new(engines: &[Engine], columns: usize) -> Self {
        let (mut normal, mut right) = (Symmetric::zeros(columns), vec![0.0; columns]);
        let mut squares = 0.0;
        let mut owns = Vec::with_capacity(engines.len());
        for engine in engines {
            let mut along = vec![0.0; columns];
            for ((row, value), hours) in engine.rows.iter().zip(&engine.values).zip(&engine.hours) {
                normal.add_outer(1.0, row);
                for ((right, along), cell) in right.iter_mut().zip(&mut along).zip(row) {
                    *right += cell * value;
                    *along += cell * hours;
                }
            }
            squares += dot(&engine.values, &engine.values);
            let value = dot(&engine.values, &engine.hours);
            owns.push(Own { along, value, hours: dot(&engine.hours, &engine.hours) });
        }
        Self { normal, right, squares, owns }
    }

    fn solve(&self, ratio: f64, freedom: f64) -> Result<Solved, Unidentified> {
        let (mut normal, mut right) = (self.normal.clone(), self.right.clone());
        let (mut squares, mut ln_widths) = (self.squares, 0.0);
        for own in &self.owns {
            let width = 1.0 + ratio * own.hours;
            let taken = ratio / width;
            normal.add_outer(-taken, &own.along);
            for (right, along) in right.iter_mut().zip(&own.along) {
                *right -= taken * along * own.value;
            }
            squares -= taken * own.value * own.value;
            ln_widths += width.ln();
        }
        let (spread, ln_determinant) = normal.inverse().ok_or(Unidentified::Confounded)?;
        let coefficients = spread.times(&right);
        let left = squares - dot(&right, &coefficients);
        if left.is_nan() || left <= self.squares * ROUNDING || left < f64::MIN_POSITIVE {
            return Err(Unidentified::NoScatter);
        }
        let likelihood = -0.5 * (ln_widths + ln_determinant + freedom * left.ln());
        Ok(Solved { spread, coefficients, scatter: left / freedom, likelihood })
    }
}

impl Solved {
    /// One shop's offset less the mean of the others': a sum over the columns, in which the first shop has none.
    fn effect(&self, shop: usize, shops: usize, freedom: f64) -> Effect {
        let others = real(shops - 1);
        let weight = |column: usize| {
            if column + 1 == shop {
                1.0
            } else if column + 1 < shops {
                -1.0 / others
            } else {
                0.0
            }
        };
        let weights: Vec<f64> = (0..self.coefficients.len()).map(weight).collect();
        let variance = self.scatter * self.spread.quadratic(&weights);
        Effect { offset: dot(&weights, &self.coefficients), se: variance.max(0.0).sqrt(), freedom }
    }
}

/// The highest value of the restricted likelihood, and where: the best of a first look, then golden sections.
fn highest(function: impl Fn(f64) -> f64) -> (f64, f64) {
    let step = (LN_RATIOS.1 - LN_RATIOS.0) / f64::from(LOOKS);
    let look = |at: u32| {
        let at = f64::from(at).mul_add(step, LN_RATIOS.0);
        (function(at), at)
    };
    let best = (0..=LOOKS).map(look).reduce(|best, it| if it.0 > best.0 { it } else { best });
    let (mut best, share) = (best.unwrap_or_default(), (5.0_f64.sqrt() - 1.0) / 2.0);
    let (mut low, mut high) = (best.1 - step, best.1 + step);
    for _ in 0..26 {
        let left = high - share * (high - low);
        let right = low + share * (high - low);
        let (f_left, f_right) = (function(left), function(right));
        if f_left < f_right {
            (low, best) = (left, (f_right, right));
        } else {
            (high, best) = (right, (f_left, left));
        }
    }
    best
}
