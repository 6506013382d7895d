//! `calc spread`: values of one kind beside each other, and the critical values that one of them is held against.

use super::answer;
use super::lists::{numbers, optional};
use gudgeon_api::read::Fields;
use gudgeon_life::sure::spread::{
    FleetScatter, Judged, Known, Method, Slip, SpreadError, SpreadMax, VALUES_MAX, Verdict, grubbs,
    grubbs_critical, judge, robust,
};
use serde::Serialize;

#[derive(Serialize)]
struct CriticalOut {
    one_sided: f64,
    two_sided: f64,
}

#[derive(Serialize)]
struct SpreadOut {
    mean: Option<f64>,
    sd: Option<f64>,
    g: Option<f64>,
    critical: Option<f64>,
    index: Option<usize>,
    is_outlier: bool,
    median: Option<f64>,
    mad: Option<f64>,
    mad_sigma: Option<f64>,
    robust_z: Option<Vec<f64>>,
    range: Option<f64>,
    cv_pct: Option<f64>,
    max_over_min: Option<f64>,
    within_spread: Option<bool>,
    verdicts: Vec<&'static str>,
    screen: ScreenOut,
}

#[derive(Serialize)]
struct ScreenOut {
    method: &'static str,
    statistic: Option<f64>,
    critical: Option<f64>,
    flagged: Option<usize>,
    too_few: bool,
}

const fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Impossible(None) => "impossible",
        Verdict::Impossible(Some(Slip::DecimalPoint)) => "impossible: a slip of the decimal point?",
        Verdict::Impossible(Some(Slip::Inches)) => "impossible: inches and millimetres mixed up?",
        Verdict::Impossible(Some(Slip::PsiForBar)) => "impossible: psi and bar mixed up?",
        Verdict::Inside => "inside",
        Verdict::Outside => "outside",
        Verdict::CannotDecide => "cannot decide: measure again",
        Verdict::NoLimit => "no limit",
    }
}

const fn method(method: Method) -> &'static str {
    match method {
        Method::Fleet => "fleet",
        Method::Robust => "robust",
        Method::Grubbs => "grubbs",
        Method::None => "none",
    }
}

/// `{"x":[...],"alpha":0.05,"two_sided":true}` with, as far as known, `possible_from` and `possible_to`, `low` and
/// `high`, `gauge_u`, `resolution`, `range_max`, `fleet_sigma` with `fleet_freedom`; or `{"n":6,"alpha":0.05}` for the
/// critical values alone.
pub(super) fn spread(fields: &Fields<'_>) -> Option<String> {
    let alpha = fields.required("alpha").and_then(|it| it.float());
    if let Some(n) = fields.optional("n") {
        let n = n.whole(3..=i64::try_from(VALUES_MAX).unwrap_or(i64::MAX));
        let (n, alpha) = (usize::try_from(n?).ok()?, alpha?);
        let critical = |two_sided| grubbs_critical(n, alpha, two_sided);
        return match (critical(false), critical(true)) {
            (Some(one_sided), Some(two_sided)) => answer(&CriticalOut { one_sided, two_sided }),
            _ => bad_alpha(fields),
        };
    }
    let two_sided = fields.optional("two_sided").map_or(Some(true), |it| it.flag());
    let values = numbers(fields, "x");
    let known = known(fields);
    let (alpha, two_sided, values, known) = (alpha?, two_sided?, values?, known?);
    if grubbs_critical(3, alpha, two_sided).is_none() {
        return bad_alpha(fields);
    }
    match judge(&values, &known) {
        Ok(judged) => answer(&out(&values, alpha, two_sided, judged)),
        Err(error) => {
            let name = match error {
                SpreadError::Value | SpreadError::TooMany => "x",
                SpreadError::Known => "low",
            };
            fields.fault(name, error.slug(), error.to_string());
            None
        }
    }
}

fn bad_alpha(fields: &Fields<'_>) -> Option<String> {
    fields.fault(
        "alpha",
        "out-of-range",
        "write the chance of a false alarm, above 0 and at most 0.5",
    );
    None
}

fn out(values: &[f64], alpha: f64, two_sided: bool, judged: Judged) -> SpreadOut {
    let test = grubbs(values, alpha, two_sided);
    let middle = robust(values);
    let Judged { verdicts, spread, spread_within, screen } = judged;
    SpreadOut {
        mean: test.map(|it| it.mean),
        sd: test.map(|it| it.sd),
        g: test.and_then(|it| it.g),
        critical: test.map(|it| it.critical),
        index: test.map(|it| it.index),
        is_outlier: test.is_some_and(|it| it.is_outlier()),
        median: middle.as_ref().map(|it| it.median),
        mad: middle.as_ref().map(|it| it.mad),
        mad_sigma: middle.as_ref().map(|it| it.mad_sigma),
        robust_z: middle.and_then(|it| it.z),
        range: spread.map(|it| it.range),
        cv_pct: spread.and_then(|it| it.cv_percent),
        max_over_min: spread.and_then(|it| it.max_over_min),
        within_spread: spread_within,
        verdicts: verdicts.into_iter().map(verdict).collect(),
        screen: ScreenOut {
            method: method(screen.method),
            statistic: screen.statistic,
            critical: screen.critical,
            flagged: screen.flagged,
            too_few: screen.too_few,
        },
    }
}

fn known(fields: &Fields<'_>) -> Option<Known> {
    let from = optional(fields, "possible_from");
    let to = optional(fields, "possible_to");
    let (low, high) = (optional(fields, "low"), optional(fields, "high"));
    let gauge_u = optional(fields, "gauge_u");
    let resolution = optional(fields, "resolution");
    let range_max = optional(fields, "range_max");
    let sigma = optional(fields, "fleet_sigma");
    let freedom = fields.optional("fleet_freedom").map_or(Some(0), |it| it.whole(0..=1_000_000));
    let freedom = usize::try_from(freedom?).unwrap_or_default();
    Some(Known {
        possible: from.zip(to).map(|(from, to)| from..=to),
        low,
        high,
        gauge_u: gauge_u.unwrap_or_default(),
        resolution,
        spread_max: range_max.map(SpreadMax::Range),
        fleet: sigma.map(|sigma| FleetScatter { sigma, freedom }),
    })
}
