//! Every row of "how much may be said", and what may be said of a programme's limit.

use super::evidence::down;
use super::*;
use proptest::prelude::*;

fn failed(hours: &[f64]) -> Vec<Part> {
    hours.iter().map(|at| Part::failed(*at).expect("possible")).collect()
}

fn running(hours: &[f64]) -> Vec<Part> {
    hours.iter().map(|at| Part::running(*at).expect("possible")).collect()
}

fn found_bad(intervals: &[(f64, f64)]) -> Vec<Part> {
    intervals.iter().map(|(good, bad)| Part::found_bad(*good, *bad).expect("possible")).collect()
}

const TEN: [f64; 10] = [310.0, 420.0, 505.0, 560.0, 640.0, 700.0, 775.0, 850.0, 960.0, 1100.0];

#[test]
fn no_parts_and_parts_that_never_ran_say_nothing() {
    let none = Evidence::weigh(&[]);
    assert_eq!((none.says, none.survival), (Says::Cannot(Cannot::NoParts), Survival::CannotSay));
    let new = Evidence::weigh(&running(&[0.0, 0.0]));
    assert_eq!(new.says, Says::Cannot(Cannot::NothingRan));
    assert_eq!(new.against(100.0), Against::CannotSay);
}

#[test]
fn up_to_three_failures_bring_a_bound_under_an_assumed_shape() {
    for failures in 0..=3 {
        let mut parts = running(&[500.0; 20]);
        parts.extend(failed(&TEN[..failures]));
        let found = Evidence::weigh(&parts);
        let Says::Assumed { bound, why: WhyAssumed::FewFailures } = found.says else {
            panic!("{found:?}")
        };
        assert_eq!(
            (bound.failures, found.failures, found.parts),
            (failures, failures, 20 + failures)
        );
        assert!(
            found.says.to_string().contains("assumes a constant failure rate"),
            "{}",
            found.says
        );
        assert!(matches!(found.survival, Survival::KaplanMeier(_)));
    }
}

#[test]
fn four_to_nine_failures_are_labelled_few() {
    for (failures, few) in [(4, true), (9, true), (10, false)] {
        let found = Evidence::weigh(&failed(&TEN[..failures]));
        let Says::Weibull { life, few_failures, .. } = found.says else { panic!("{found:?}") };
        assert_eq!(few_failures, few);
        assert!(life.b10_lower95_h.is_some_and(|lower| lower < life.b10_h), "{life:?}");
        assert!(life.shape_95.0 < life.shape && life.shape < life.shape_95.1);
        assert_eq!(found.says.to_string().contains("few failures"), few, "{}", found.says);
    }
}

#[test]
fn intervals_that_tell_no_shape_bring_the_assumed_one() {
    let never =
        Evidence::weigh(&found_bad(&[(0.0, 100.0), (0.0, 200.0), (0.0, 300.0), (0.0, 400.0)]));
    // Never known good, nothing is known to have run at all.
    assert_eq!(never.says, Says::Cannot(Cannot::NothingRan));
    let mut parts = found_bad(&[(0.0, 100.0), (0.0, 200.0), (0.0, 300.0), (0.0, 400.0)]);
    parts.extend(running(&[600.0]));
    let never = Evidence::weigh(&parts);
    assert!(matches!(never.says, Says::Assumed { why: WhyAssumed::NeverInspectedBefore, .. }));
    let one = Evidence::weigh(&found_bad(&[(100.0, 200.0); 5]));
    assert!(matches!(one.says, Says::Assumed { why: WhyAssumed::OneInterval, .. }), "{one:?}");
    assert!(matches!(one.survival, Survival::Turnbull(_)));
}

#[test]
fn failures_all_at_one_hour_tell_that_hour() {
    let mut parts = failed(&[300.0; 5]);
    parts.extend(running(&[400.0]));
    let found = Evidence::weigh(&parts);
    assert_eq!(found.says, Says::Cannot(Cannot::AllAtOneHour(300.0)));
    assert_eq!(found.says.to_string(), "cannot say: all failures on record are at 300.0 h");
}

// Ten failures within three hours at 300: a shape far above 20.
#[test]
fn a_cliff_leaves_the_survival_curve_alone() {
    let hours: Vec<f64> = (0..10).map(|at| 300.0 + 0.3 * f64::from(at)).collect();
    let found = Evidence::weigh(&failed(&hours));
    assert_eq!(found.says, Says::SurvivalOnly);
    assert_eq!(found.against(100.0), Against::CannotSay);
}

// Four early failures among very many that ran hardly longer: B10 lies far beyond what any part has run.
#[test]
fn a_life_beyond_twice_the_longest_running_time_is_marked() {
    let mut parts = running(&[100.0; 400]);
    parts.extend(failed(&[20.0, 45.0, 70.0, 95.0]));
    let found = Evidence::weigh(&parts);
    let Says::Weibull { life, extrapolated, .. } = found.says else { panic!("{found:?}") };
    assert!(extrapolated && life.b10_h > 200.0, "{life:?}");
    assert!(found.says.to_string().ends_with("beyond what any part has run"));
}

#[test]
fn more_than_half_still_running_have_no_median() {
    let mut parts = failed(&[100.0, 200.0]);
    parts.extend(running(&[500.0; 3]));
    let Survival::KaplanMeier(curve) = Evidence::weigh(&parts).survival else { panic!("a curve") };
    assert_eq!(curve.median_h, None);
}

#[test]
fn late_entries_with_inspections_have_a_life_and_no_curve() {
    let mut parts = found_bad(&[(300.0, 400.0), (400.0, 500.0), (500.0, 650.0), (600.0, 700.0)]);
    parts.push(Part::running(800.0).and_then(|it| it.entered(200.0)).expect("possible"));
    let found = Evidence::weigh(&parts);
    assert!(matches!(found.says, Says::Weibull { .. }), "{found:?}");
    assert_eq!(found.survival, Survival::CannotSay);
}

#[test]
fn a_limit_stands_to_the_evidence_in_words() {
    let found = Evidence::weigh(&failed(&TEN));
    let Says::Weibull { life, .. } = found.says else { panic!("{found:?}") };
    let lower = life.b10_lower95_h.expect("a bound");
    for (limit, start) in [
        (lower - 1.0, "the records agree with"),
        (lower + 1.0, "the records do not exclude"),
        (life.b10_h - 1.0, "the records do not exclude"),
        (life.b10_h + 1.0, "one part in ten has failed by about"),
    ] {
        let words = found.against(limit).to_string();
        assert!(words.starts_with(start), "{limit}: {words}");
    }
    assert!(found.against(1.0).to_string().ends_with("this lengthens no interval"));
}

#[test]
fn figures_are_rounded_down_to_what_they_support() {
    for (hours, rounded) in [(4.9, 0.0), (99.0, 95.0), (109.0, 100.0), (488.0, 480.0)] {
        assert!((down(hours) - rounded).abs() < 1e-9, "{hours}");
    }
}

#[test]
fn hours_that_make_no_sense_are_refused() {
    assert_eq!(Part::running(f64::NAN), Err(PartError::Hours));
    assert_eq!(Part::running(-1.0), Err(PartError::Hours));
    assert_eq!(Part::failed(0.0), Err(PartError::Bad));
    assert_eq!(Part::found_bad(200.0, 100.0), Err(PartError::Order));
    assert_eq!(Part::found_bad(200.0, f64::INFINITY), Err(PartError::Hours));
    let part = Part::failed(100.0).expect("possible");
    assert_eq!(part.entered(100.0), Err(PartError::Entry));
    assert_eq!(part.entered(101.0), Err(PartError::Entry));
    assert_eq!(part.entered(f64::NAN), Err(PartError::Hours));
}

/// Any part that can be, with hours of every size.
fn any_part() -> impl Strategy<Value = Part> {
    let hours = || prop_oneof![0.0..1e7_f64, 0.0..2000.0_f64, Just(0.0), Just(1e-300), Just(500.0)];
    (hours(), prop::option::of(hours()), hours()).prop_filter_map(
        "possible",
        |(good, more, entry)| {
            let part = match more {
                None => Part::running(good),
                Some(more) if more <= 0.0 => Part::failed(good),
                Some(more) => Part::found_bad(good, (good + more).min(1e7)),
            };
            let part = part.ok()?;
            Some(part.entered(entry).unwrap_or(part))
        },
    )
}

proptest! {
    #[test]
    fn no_figure_is_ever_nan_or_infinite(parts in prop::collection::vec(any_part(), 0..25)) {
        let found = Evidence::weigh(&parts);
        let mut figures = vec![found.longest_h];
        match found.says {
            Says::Weibull { life, .. } => figures.extend([
                life.shape, life.scale_h, life.log_likelihood, life.b10_h, life.median_h, life.mean_h,
                life.b10_lower95_h.unwrap_or_default(), life.b10_lower95_wald_log_h,
                life.shape_95.0, life.shape_95.1,
            ]),
            Says::Assumed { bound, .. } => figures.extend([
                bound.b10_lower_h, bound.scale_lower_h, bound.scale_h.unwrap_or_default(),
                bound.surviving_lower(500.0),
            ]),
            Says::Cannot(_) | Says::SurvivalOnly => {}
        }
        match found.survival {
            Survival::KaplanMeier(curve) => figures.extend(curve.steps.iter().flat_map(|step| {
                let limits = step.limits.map_or([0.0; 3], |it| [it.greenwood_se, it.lower95, it.upper95]);
                [step.survival, step.nelson_aalen].into_iter().chain(limits)
            })),
            Survival::Turnbull(curve) => {
                figures.push(curve.log_likelihood);
                figures.extend(curve.innermost.iter().flat_map(|it| {
                    [it.from_h, it.to_h.unwrap_or_default(), it.mass, it.survival_after]
                }));
            }
            Survival::CannotSay => {}
        }
        prop_assert!(figures.iter().all(|figure| figure.is_finite()), "{figures:?}");
    }
}
