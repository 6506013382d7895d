//! How the estimate does on a fleet's own logged engines: each in turn is taken as one without a log.

use super::super::real;
use super::{Bounds, Fleet, Measured, Row};

/// How the method does on a fleet's own logged engines.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Calibrated {
    /// Engines that could be estimated from the others.
    pub engines: usize,
    /// The widening that this holds for; give it to [`Fleet::with_kappa`].
    pub kappa: f64,
    /// Of these, how many had their true hours inside their 80 % interval, %.
    pub inside_80_percent: f64,
    /// And how many not above their P95, %.
    pub below_p95_percent: f64,
}

impl Fleet {
    /// How well the method does on this very fleet: each engine in turn is taken as one without a log and estimated
    /// from the others. With 15 engines or more of which fewer than 70 % lie inside their 80 % interval, the scatter
    /// is taken wider by tenths until they do, or twice as wide. `None` where no engine can be estimated.
    #[must_use]
    pub fn calibrate(&self) -> Option<Calibrated> {
        let mut kappa = self.kappa;
        loop {
            let found = self.clone().with_kappa(kappa).leave_one_out()?;
            let narrow = found.engines >= 15 && found.inside_80_percent < 70.0;
            if !narrow || kappa >= 2.0 {
                return Some(found);
            }
            kappa += 0.1;
        }
    }

    fn leave_one_out(&self) -> Option<Calibrated> {
        let mut numbers: Vec<u64> = self.rows.iter().map(|row| row.engine).collect();
        numbers.sort_unstable();
        numbers.dedup();
        let shares: Vec<(f64, f64)> = numbers.iter().filter_map(|one| self.without(*one)).collect();
        let engines = shares.len();
        let percent = |sum: f64| 100.0 * sum / real(engines);
        (engines > 0).then(|| Calibrated {
            engines,
            kappa: self.kappa,
            inside_80_percent: percent(shares.iter().map(|it| it.0).sum()),
            below_p95_percent: percent(shares.iter().map(|it| it.1).sum()),
        })
    }

    /// The share of one engine's rows that lie inside their 80 % interval, and not above their P95, estimated from
    /// the others.
    fn without(&self, engine: u64) -> Option<(f64, f64)> {
        let (own, others): (Vec<Row>, Vec<Row>) =
            self.rows.iter().cloned().partition(|row| row.engine == engine);
        let others = Self { rows: others, ..self.clone() };
        let judged = own.iter().filter_map(|row| {
            let seen = |value: &Option<f64>| value.map_or(Measured::Missing, Measured::Value);
            let measured: Vec<Measured> = row.values.iter().map(seen).collect();
            let hours = others.estimate(&measured, Bounds::default()).ok()?.answer.ok()?;
            let upper = hours.drawn_past_the_fleet();
            let inside = (hours.p10..=upper.p90).contains(&row.hours);
            Some((f64::from(u8::from(inside)), f64::from(u8::from(row.hours <= upper.p95))))
        });
        let judged: Vec<(f64, f64)> = judged.collect();
        let count = real(judged.len());
        let mean = |sum: f64| sum / count;
        (!judged.is_empty()).then(|| {
            (mean(judged.iter().map(|it| it.0).sum()), mean(judged.iter().map(|it| it.1).sum()))
        })
    }
}
