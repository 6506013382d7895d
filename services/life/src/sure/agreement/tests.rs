//! Shops compared by hand.

use super::*;
use proptest::prelude::*;

fn reading(shop: u64, engine: u64, hours: f64, value: f64) -> Reading {
    Reading { shop, engine, hours, value }
}

/// A scatter that no chance decides: each engine's is another, and adds up to nothing.
fn scatter(engine: u64, at: u64) -> f64 {
    [0.02, -0.01, 0.01, -0.02, 0.015, -0.015]
        [usize::try_from((engine + 2 * at) % 6).expect("small")]
}

/// Engines that were at each of three shops at the same hours; the third shop reads `offset` high.
fn three_shops(engines: u64, offset: f64) -> Vec<Reading> {
    let of = |engine: u64| {
        (1..=3).map(move |shop| {
            let gauge = if shop == 3 { offset } else { 0.0 };
            reading(
                shop,
                engine,
                100.0,
                5.0 + 0.1 * f64::from(u32::try_from(engine).expect("small"))
                    + gauge
                    + scatter(engine, shop),
            )
        })
    };
    (0..engines).flat_map(of).collect()
}

// All at the same hours: the offset is the mean difference, 0.5 but for the scatter's mean. Once the third shop is out,
// nothing is seen between the other two.
#[test]
fn one_gauge_that_reads_high_is_found_and_the_others_are_cleared() {
    let found = compare(&three_shops(12, 0.5));
    assert_eq!(found.comparisons, 3);
    let verdicts: Vec<Verdict> =
        found.shops.iter().map(|shop| shop.answer.expect("an offset").verdict()).collect();
    assert_eq!(verdicts, [Verdict::NoneSeen, Verdict::NoneSeen, Verdict::High]);
    let third = found.shops.last().and_then(|shop| shop.answer.ok()).expect("an offset");
    assert!((third.offset - 0.5).abs() < 0.02, "{third:?}");
    assert!(third.to_string().starts_with("reads 0."), "{third}");
    let calm = compare(&three_shops(12, 0.0));
    assert!(
        calm.shops.iter().all(|it| it.answer.expect("an offset").verdict() == Verdict::NoneSeen)
    );
}

#[test]
fn of_two_shops_nothing_tells_which_is_right() {
    let two: Vec<Reading> =
        three_shops(12, 0.5).into_iter().filter(|reading| reading.shop != 1).collect();
    let found = compare(&two);
    assert_eq!(found.comparisons, 1);
    let answers: Vec<Offset> =
        found.shops.iter().map(|shop| shop.answer.expect("an offset")).collect();
    let [low, high] = answers.as_slice() else { panic!("two shops") };
    assert_eq!((low.verdict(), high.verdict()), (Verdict::Low, Verdict::High));
    assert!((low.offset + high.offset).abs() < 1e-12);
    assert!(high.to_string().ends_with("the readings do not tell"), "{high}");
}

#[test]
fn what_cannot_be_said_is_said() {
    assert_eq!(compare(&[]), Agreement { shops: vec![], comparisons: 0 });
    let few = compare(&three_shops(4, 0.5));
    assert!(few.shops.iter().all(|it| it.answer == Err(Cannot::FewShared { engines: 4 })));
    let apart: Vec<Reading> = (0..20).map(|at| reading(at % 2, at, 100.0, 1.0)).collect();
    let found = compare(&apart);
    assert!(found.shops.iter().all(|it| it.answer == Err(Cannot::FewShared { engines: 0 })));
    // Always first here and 100 h later there.
    let ordered: Vec<Reading> = (0..8)
        .flat_map(|at| [reading(1, at, 100.0, scatter(at, 0)), reading(2, at, 200.0, 1.0)])
        .collect();
    assert!(compare(&ordered).shops.iter().all(|it| it.answer == Err(Cannot::Confounded)));
    let exact: Vec<Reading> =
        (0..8).flat_map(|at| [reading(1, at, 100.0, 1.0), reading(2, at, 100.0, 1.0)]).collect();
    assert!(compare(&exact).shops.iter().all(|it| it.answer == Err(Cannot::NoScatter)));
}

proptest! {
    #[test]
    fn no_figure_is_ever_nan_or_infinite(
        readings in prop::collection::vec(
            (0..4_u64, 0..8_u64, prop_oneof![0.0..1e5_f64, Just(0.0), 99.0..101.0_f64],
             prop_oneof![-1e9..1e9_f64, Just(0.0), Just(1e-300), 0.1..0.2_f64]),
            0..80),
    ) {
        let readings: Vec<Reading> =
            readings.into_iter().map(|(shop, engine, hours, value)| reading(shop, engine, hours, value)).collect();
        for shop in compare(&readings).shops {
            if let Ok(found) = shop.answer {
                for figure in [found.offset, found.se, found.low, found.high, found.certainty()] {
                    prop_assert!(figure.is_finite(), "{found:?}");
                }
            }
        }
    }
}
