//! Lines through readings against NIST's certified values, `statsmodels` and `SciPy`.

use super::{Case, Faults, cases};
use gudgeon_life::sure::line::{Fit, Point, TheilSen, siegel};
use serde_json::json;

/// The tolerance that the files state.
const RELATIVE: f64 = 1e-8;

fn points(case: &Case) -> Vec<Point> {
    case.numbers("x").into_iter().zip(case.numbers("y")).collect()
}

#[test]
fn least_squares_agree_with_the_certified_values() {
    let mut faults = Faults::default();
    for case in cases("01_linear_regression.json") {
        let fit = Fit::of(&points(&case)).expect("a line");
        let found = json!({
            "intercept": fit.line.intercept,
            "slope": fit.line.slope,
            "se_intercept": fit.residual_sd() * fit.leverage(0.0).sqrt(),
            "se_slope": fit.residual_sd() / fit.hours_squares.sqrt(),
            "residual_sd": fit.residual_sd(),
            "r_squared": 1.0 - fit.residual_squares / fit.values_squares,
            "df": fit.freedom(),
        });
        faults.agree(&case, "", &found, &case.expect, RELATIVE);
    }
    faults.none();
}

#[test]
fn robust_lines_agree_with_scipy() {
    let mut faults = Faults::default();
    for case in cases("12_theil_sen.json") {
        let points = points(&case);
        let found = TheilSen::of(&points, case.number("confidence")).expect("a line");
        let siegel = siegel(&points).expect("a line");
        // `SciPy` offers two intercepts for one slope; the method's own is called "joint" there. The other one, through
        // the medians of hours and of values, is not used here.
        for (key, found) in [
            ("slope", found.line.slope),
            ("intercept_joint", found.line.intercept),
            ("low_slope", found.slope_low),
            ("high_slope", found.slope_high),
            ("siegel_slope", siegel.slope),
            ("siegel_intercept", siegel.intercept),
        ] {
            faults.near(&case, key, found, &case.expect[key], RELATIVE);
        }
    }
    faults.none();
}
