//! How many parts survive, step by step, assuming no form of life: Kaplan and Meier's curve.
//!
//! At risk at a time u are the parts with entry < u <= last seen. Standard errors are Greenwood's; the 95 % limits
//! are those of log(-log S), which stay between 0 and 1. For parts that failed at known times; what an inspection
//! found bad has its own curve (`turnbull`).

use super::Part;
use crate::sure::real;
use crate::sure::special::normal_quantile;

/// One time at which parts failed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Step {
    /// The time, h.
    pub time_h: f64,
    /// Parts at risk then.
    pub at_risk: usize,
    /// How many of them failed.
    pub events: usize,
    /// The share that survives it, 0 to 1.
    pub survival: f64,
    /// What is known about how sure that is; `None` where nothing survives.
    pub limits: Option<Limits>,
    /// The cumulative hazard (Nelson and Aalen): the sum of events over at risk.
    pub nelson_aalen: f64,
}

/// How sure a step is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// Greenwood's standard error.
    pub greenwood_se: f64,
    /// The lower 95 % limit of the survival.
    pub lower95: f64,
    /// The upper 95 % limit.
    pub upper95: f64,
}

/// A survival curve.
#[derive(Clone, Debug, PartialEq)]
pub struct KaplanMeier {
    /// Its steps, by time.
    pub steps: Vec<Step>,
    /// Half have failed by then, h; `None`: more than half still run at the longest time.
    pub median_h: Option<f64>,
}

/// The curve; `None` if any part was found bad at an inspection, since then its time of failure is not known.
#[must_use]
pub fn curve(parts: &[Part]) -> Option<KaplanMeier> {
    if parts.iter().any(|part| part.bad.is_some() && !part.is_exact()) {
        return None;
    }
    let mut exits: Vec<(f64, bool)> =
        parts.iter().map(|part| (part.good, part.bad.is_some())).collect();
    exits.sort_by(|left, right| left.0.total_cmp(&right.0));
    let mut entries: Vec<f64> = parts.iter().map(|part| part.entry).collect();
    entries.sort_by(f64::total_cmp);

    let (mut survival, mut greenwood, mut nelson_aalen) = (1.0, 0.0, 0.0);
    let (mut entered, mut left) = (0, 0);
    let mut steps = Vec::new();
    for at_once in exits.chunk_by(|one, next| one.0.total_cmp(&next.0).is_eq()) {
        let time_h = at_once.first()?.0;
        entered += entries.iter().skip(entered).take_while(|entry| **entry < time_h).count();
        // A part last seen at the very hour of its entry was never at risk, and is not in `entered` yet.
        let at_risk = entered.saturating_sub(left);
        let events = at_once.iter().filter(|(_, failed)| *failed).count();
        left += at_once.len();
        if events == 0 || at_risk == 0 {
            continue;
        }
        let (failed, risked) = (real(events), real(at_risk));
        survival *= 1.0 - failed / risked;
        greenwood += failed / (risked * (risked - failed));
        nelson_aalen += failed / risked;
        let limits = (events < at_risk && survival > 0.0).then(|| limits(survival, greenwood));
        let survival = if events < at_risk { survival } else { 0.0 };
        steps.push(Step { time_h, at_risk, events, survival, limits, nelson_aalen });
    }
    let median_h = steps.iter().find(|step| step.survival <= 0.5).map(|step| step.time_h);
    Some(KaplanMeier { steps, median_h })
}

fn limits(survival: f64, greenwood: f64) -> Limits {
    let z = normal_quantile(0.975);
    let ln_survival = survival.ln();
    let wide = z * greenwood.sqrt() / ln_survival;
    Limits {
        greenwood_se: survival * greenwood.sqrt(),
        lower95: (ln_survival * (-wide).exp()).exp(),
        upper95: (ln_survival * wide.exp()).exp(),
    }
}

impl KaplanMeier {
    /// The share that survives so many hours.
    #[must_use]
    pub fn surviving(&self, hours: f64) -> f64 {
        self.steps
            .iter()
            .take_while(|step| step.time_h <= hours)
            .last()
            .map_or(1.0, |it| it.survival)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn part(entry: f64, exit: f64, failed: bool) -> Part {
        let part = if failed { Part::failed(exit) } else { Part::running(exit) };
        part.and_then(|part| part.entered(entry)).expect("possible")
    }

    // By hand: of 4 at risk one fails at 100 (0.75), of 2 at risk one at 300 (0.375). Greenwood:
    // 1/(4*3) + 1/(2*1) = 0.58333, standard error 0.375 √0.58333 = 0.28641.
    #[test]
    fn four_parts_by_hand() {
        let parts = [
            part(0.0, 100.0, true),
            part(0.0, 200.0, false),
            part(0.0, 300.0, true),
            part(0.0, 400.0, false),
        ];
        let curve = curve(&parts).expect("times of failure are known");
        let [first, second] = curve.steps.as_slice() else { panic!("{curve:?}") };
        assert!((first.survival - 0.75).abs() < 1e-15 && (second.survival - 0.375).abs() < 1e-15);
        let limits = second.limits.expect("some survive");
        assert!((limits.greenwood_se - 0.28641).abs() < 1e-5, "{limits:?}");
        assert_eq!((curve.median_h, curve.surviving(299.0)), (Some(300.0), first.survival));
    }

    // A part that entered at 150 was not at risk at 100, and one that left where it entered never was.
    #[test]
    fn late_entries_are_at_risk_only_afterwards() {
        let parts = [
            part(0.0, 100.0, true),
            part(150.0, 400.0, false),
            part(300.0, 300.0, false),
            part(0.0, 400.0, false),
        ];
        let curve = curve(&parts).expect("times of failure are known");
        let [only] = curve.steps.as_slice() else { panic!("{curve:?}") };
        assert_eq!((only.at_risk, only.events, curve.median_h), (2, 1, Some(100.0)));
    }

    #[test]
    fn what_an_inspection_found_bad_has_another_curve() {
        let found = Part::found_bad(100.0, 200.0).expect("possible");
        assert_eq!(curve(&[found]), None);
        assert_eq!(curve(&[]), Some(KaplanMeier { steps: vec![], median_h: None }));
    }
}
