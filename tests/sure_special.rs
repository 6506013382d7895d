//! Quantiles and distribution functions against `SciPy`.

use super::{Faults, cases};
use gudgeon_life::sure::special::{
    chi_square_quantile, f_quantile, gamma_p, gamma_q, gamma_quantile, negative_binomial_cdf,
    normal_quantile, student_t_quantile,
};

/// The tolerance that the files state.
const RELATIVE: f64 = 1e-8;

#[test]
fn quantiles_agree_with_scipy() {
    let mut faults = Faults::default();
    for case in cases("04_quantiles.json") {
        let number = |key| case.number(key);
        let quantile = match case.input["dist"].as_str() {
            Some("student_t") => student_t_quantile(number("p"), number("df")),
            Some("chi2") => chi_square_quantile(number("p"), number("df")),
            Some("gamma") => number("scale") * gamma_quantile(number("p"), number("shape")),
            Some("f") => f_quantile(number("p"), number("df1"), number("df2")),
            Some("normal") => normal_quantile(number("p")),
            _ => {
                let (shape, x) = (number("shape"), number("x"));
                faults.near(&case, "cdf", gamma_p(shape, x), &case.expect["cdf"], RELATIVE);
                faults.near(&case, "sf", gamma_q(shape, x), &case.expect["sf"], RELATIVE);
                continue;
            }
        };
        // The normal median is 0 here and within 1e-16 of it there.
        if case.expect["q"].as_f64().is_none_or(|it| it.abs() > 1e-15) || quantile.abs() > 1e-15 {
            faults.near(&case, "q", quantile, &case.expect["q"], RELATIVE);
        }
    }
    faults.none();
}

#[test]
fn gamma_poisson_predictions_agree_with_scipy() {
    let mut faults = Faults::default();
    for case in cases("05_gamma_poisson_predictive.json") {
        let shape = case.number("prior_shape") + case.number("count");
        let rate = case.number("prior_rate") + case.number("exposure");
        let ahead = case.number("future_exposure");
        let success = rate / (rate + ahead);
        let mean = shape / rate * ahead;
        let quantile = |p| gamma_quantile(p, shape) / rate;
        let expect = |key: &str| &case.expect[key];
        for (key, found) in [
            ("post_shape", shape),
            ("post_rate", rate),
            ("rate_q10", quantile(0.1)),
            ("rate_q50", quantile(0.5)),
            ("rate_q90", quantile(0.9)),
            ("predictive_mean", mean),
            ("predictive_sd", (mean + mean * mean / shape).sqrt()),
            ("prob_zero", negative_binomial_cdf(0, shape, success)),
        ] {
            faults.near(&case, key, found, expect(key), RELATIVE);
        }
        let whole: u32 = format!("{:.0}", mean.floor()).parse().expect("a count");
        let at_mean = negative_binomial_cdf(whole, shape, success);
        faults.near(&case, "cdf_at_mean", at_mean, expect("cdf_at_mean"), RELATIVE);
        for (level, expected) in expect("predictive_quantiles").as_object().expect("quantiles") {
            let p: f64 = level.parse().expect("a level");
            let found =
                (0..10_000).find(|count| negative_binomial_cdf(*count, shape, success) >= p);
            faults.near(&case, level, found.map_or(-1.0, f64::from), expected, 0.0);
        }
    }
    faults.none();
}
