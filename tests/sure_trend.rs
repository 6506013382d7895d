//! Wear trends against the reference, through `gudgeon calc trend`.

use super::{Faults, calc, cases};

fn agrees(file: &str, relative: f64) {
    let cases = cases(file);
    let mut faults = Faults::default();
    for (case, answer) in cases.iter().zip(calc("trend", &cases)) {
        faults.agree(case, "", &answer, &case.expect, relative);
    }
    faults.none();
}

#[test]
fn an_engines_own_line_agrees_with_scipy() {
    agrees("02_limit_crossing.json", 1e-7);
}

#[test]
fn a_line_steadied_by_a_fleet_agrees_with_the_reference() {
    agrees("19_limit_crossing_fleet_prior.json", 1e-6);
}
