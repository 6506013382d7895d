//! Forecasts of days against the reference implementation, through `gudgeon calc forecast`.

use super::{Faults, calc, cases};

/// The tolerance that the file states; days are exact.
const RELATIVE: f64 = 1e-6;

#[test]
fn forecasts_agree_with_the_reference() {
    let cases = cases("17_hours_forecast.json");
    let mut faults = Faults::default();
    for (case, answer) in cases.iter().zip(calc("forecast", &cases)) {
        faults.agree(case, "", &answer, &case.expect, RELATIVE);
    }
    faults.none();
}
