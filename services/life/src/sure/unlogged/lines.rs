//! How the indicators of a type's logged engines run with hours, and how they scatter around it, all together.

use super::super::matrix::Symmetric;
use super::super::real;
use super::Cannot;

/// An indicator changes with hours if its slope is this many standard errors from none.
const SLOPE_MIN_SE: f64 = 2.5;
/// With this many engines or more, the run-in is told from the line.
const ENGINES_FOR_RUN_IN: usize = 12;
/// How fast the run-in fades, h.
const RUN_IN_H: f64 = 50.0;
/// The scatter may double its square at these hours, or never: the growth that makes the data most likely counts.
const GROWTHS_H: [Option<f64>; 4] = [Some(200.0), Some(400.0), Some(800.0), None];
/// What the correlation of the indicators is drawn towards, and how many engines that weighs.
const CORRELATION_PRIOR: (f64, f64) = (0.5, 10.0);
/// Fewer degrees of freedom than this tell no scatter.
const FREEDOM_MIN: usize = 3;

/// A logged engine on one day, with the indicators in use alone.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Line {
    pub(super) engine: u64,
    pub(super) hours: f64,
    pub(super) values: Vec<f64>,
}

/// Everything that the logged engines say.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Fitted {
    /// Whether the lines have a run-in.
    run_in: bool,
    /// At which hours the scatter's square has doubled.
    growth_h: Option<f64>,
    /// For each indicator, the coefficients of its line.
    coefficients: Vec<Vec<f64>>,
    /// (X'WX)⁻¹.
    spread: Symmetric,
    /// The inverse of the covariance of the indicators.
    pub(super) precision: Symmetric,
    /// Degrees of freedom.
    pub(super) freedom: f64,
    /// The most hours of any logged engine.
    pub(super) oldest_h: f64,
}

impl Fitted {
    /// What a line is made of at some hours: a level, the hours, and the run-in.
    fn columns(&self, hours: f64) -> Vec<f64> {
        columns(hours, self.run_in)
    }

    /// How far measurements are from the lines at some hours, and how much wider than the covariance they scatter
    /// there.
    pub(super) fn residual(&self, seen: &[f64], hours: f64) -> (Vec<f64>, f64) {
        let columns = self.columns(hours);
        let away = seen.iter().zip(&self.coefficients).map(|(value, line)| {
            value - line.iter().zip(&columns).map(|(b, x)| b * x).sum::<f64>()
        });
        (away.collect(), growth(hours, self.growth_h) + self.spread.quadratic(&columns))
    }
}

fn columns(hours: f64, run_in: bool) -> Vec<f64> {
    let mut columns = vec![1.0, hours];
    if run_in {
        columns.push(1.0 - (-hours / RUN_IN_H).exp());
    }
    columns
}

/// How much the square of the scatter has grown.
fn growth(hours: f64, growth_h: Option<f64>) -> f64 {
    1.0 + growth_h.map_or(0.0, |double| (hours / double) * (hours / double))
}

/// How many engines there are.
pub(super) fn engines(rows: &[Line]) -> usize {
    let mut numbers: Vec<u64> = rows.iter().map(|row| row.engine).collect();
    numbers.sort_unstable();
    numbers.dedup();
    numbers.len()
}

/// The weight of each row: one engine weighs 1.
fn weights(rows: &[Line]) -> Vec<f64> {
    let of = |row: &Line| rows.iter().filter(|other| other.engine == row.engine).count();
    rows.iter().map(|row| 1.0 / real(of(row))).collect()
}

/// A weighted least-squares fit of several responses to the same columns.
struct Fit {
    spread: Symmetric,
    coefficients: Vec<Vec<f64>>,
    residuals: Vec<Vec<f64>>,
}

fn least_squares(rows: &[Line], weights: &[f64], run_in: bool) -> Option<Fit> {
    let xs: Vec<Vec<f64>> = rows.iter().map(|row| columns(row.hours, run_in)).collect();
    let mut normal = Symmetric::zeros(if run_in { 3 } else { 2 });
    for (x, weight) in xs.iter().zip(weights) {
        normal.add_outer(*weight, x);
    }
    let (spread, _) = normal.inverse()?;
    let responses = rows.first()?.values.len();
    let mut sums = vec![vec![0.0; spread.size()]; responses];
    for ((row, x), weight) in rows.iter().zip(&xs).zip(weights) {
        for (sum, value) in sums.iter_mut().zip(&row.values) {
            for (cell, x) in sum.iter_mut().zip(x) {
                *cell += weight * x * value;
            }
        }
    }
    let coefficients: Vec<Vec<f64>> = sums.iter().map(|sum| spread.times(sum)).collect();
    let away = |(row, x): (&Line, &Vec<f64>)| -> Vec<f64> {
        let fitted = |line: &Vec<f64>| line.iter().zip(x).map(|(b, x)| b * x).sum::<f64>();
        row.values.iter().zip(&coefficients).map(|(value, line)| value - fitted(line)).collect()
    };
    let residuals = rows.iter().zip(&xs).map(away).collect();
    Some(Fit { spread, coefficients, residuals })
}

/// For each indicator the sign of its slope, if it is seen to change with hours. `None` if no line can be drawn.
pub(super) fn informative(rows: &[Line]) -> Option<Vec<Option<f64>>> {
    let weights = weights(rows);
    let fit = least_squares(rows, &weights, false)?;
    let freedom = real(engines(rows)) - 2.0;
    let sign = |(at, line): (usize, &Vec<f64>)| {
        let squares: f64 = fit
            .residuals
            .iter()
            .zip(&weights)
            .filter_map(|(row, weight)| row.get(at).map(|away| weight * away * away))
            .sum();
        let slope = *line.last()?;
        let se = (squares / freedom * fit.spread.at(1, 1)).sqrt();
        (slope.abs() >= SLOPE_MIN_SE * se && slope.abs() > 0.0).then(|| slope.signum())
    };
    Some(fit.coefficients.iter().enumerate().map(sign).collect())
}

/// The lines and their scatter, of the indicators that have a slope.
pub(super) fn fit(rows: &[Line], slopes: &[Option<f64>]) -> Result<Fitted, Cannot> {
    let signs: Vec<f64> = slopes.iter().flatten().copied().collect();
    if signs.is_empty() {
        return Err(Cannot::NothingInformative);
    }
    let kept = |row: &Line| Line {
        values: row.values.iter().zip(slopes).filter(|it| it.1.is_some()).map(|it| *it.0).collect(),
        ..row.clone()
    };
    let rows: Vec<Line> = rows.iter().map(kept).collect();
    let count_engines = engines(&rows);
    let run_in = count_engines >= ENGINES_FOR_RUN_IN;
    let freedom = count_engines.saturating_sub(if run_in { 3 } else { 2 });
    if freedom < FREEDOM_MIN {
        return Err(Cannot::FewEngines { engines: count_engines });
    }
    best_growth(&rows, run_in, real(freedom), &signs).ok_or(Cannot::NoScatter)
}

/// The fit with the growth of scatter that makes the data most likely.
fn best_growth(rows: &[Line], run_in: bool, freedom: f64, signs: &[f64]) -> Option<Fitted> {
    let plain = weights(rows);
    let engine_count = real(engines(rows));
    let mut best: Option<(f64, Fitted)> = None;
    for growth_h in GROWTHS_H {
        let grown: Vec<f64> = rows.iter().map(|row| growth(row.hours, growth_h)).collect();
        let weights: Vec<f64> = plain.iter().zip(&grown).map(|(weight, by)| weight / by).collect();
        let fit = least_squares(rows, &weights, run_in)?;
        let mut scatter = Symmetric::zeros(signs.len());
        for (away, weight) in fit.residuals.iter().zip(&weights) {
            scatter.add_outer(weight / freedom, away);
        }
        let variances = scatter.diagonal();
        if !variances.iter().all(|variance| variance.is_normal()) {
            return None;
        }
        let widened: f64 = plain.iter().zip(&grown).map(|(weight, by)| weight * by.ln()).sum();
        let likely = -real(signs.len()) / 2.0 * widened
            - engine_count / 2.0 * variances.iter().map(|variance| variance.ln()).sum::<f64>();
        if best.as_ref().is_none_or(|(most, _)| likely > *most) {
            let (precision, _) = steadied(&scatter, freedom, signs).inverse()?;
            let oldest_h = rows.iter().map(|row| row.hours).fold(0.0, f64::max);
            let Fit { spread, coefficients, .. } = fit;
            best = Some((
                likely,
                Fitted { run_in, growth_h, coefficients, spread, precision, freedom, oldest_h },
            ));
        }
    }
    best.map(|(_, fitted)| fitted)
}

/// The covariance with its correlations drawn towards what indicators of wear usually have.
fn steadied(scatter: &Symmetric, freedom: f64, signs: &[f64]) -> Symmetric {
    let (usual, weight) = CORRELATION_PRIOR;
    let scales: Vec<f64> = scatter.diagonal().into_iter().map(f64::sqrt).collect();
    let of = |at: usize, list: &[f64]| list.get(at).copied().unwrap_or_default();
    Symmetric::of(scatter.size(), |row, column| {
        let (cell, product) = (scatter.at(row, column), of(row, &scales) * of(column, &scales));
        if row == column {
            return cell;
        }
        let expected = usual * of(row, signs) * of(column, signs);
        (freedom * cell / product + weight * expected) / (freedom + weight) * product
    })
}
