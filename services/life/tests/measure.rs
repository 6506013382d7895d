//! Units and judgements for any values: what must hold whatever is measured.

#![cfg(test)]

use gudgeon_life::decimal::Decimal;
use gudgeon_life::measure::{Bounds, Interval, Ratio, Unit, Verdict, judge};
use proptest::prelude::*;

/// Decimals as benches write them, with up to nine places and no needless zero.
fn decimals() -> impl Strategy<Value = Decimal> {
    (-1_000_000_000_i64..=1_000_000_000, 0_usize..=9, any::<u32>()).prop_map(
        |(whole, places, rest)| {
            let rest = format!("{rest:09}");
            let text = format!("{whole}.{}0", rest.get(..places).unwrap_or("0"));
            let whole_only = Decimal::parse(&whole.to_string()).unwrap();
            Decimal::parse(&text).unwrap_or(whole_only)
        },
    )
}

fn units() -> impl Strategy<Value = Unit> {
    proptest::sample::select(Unit::ALL.to_vec())
}

proptest! {
    #[test]
    fn a_round_trip_through_any_unit_gives_the_very_text_back(
        stored in decimals(), from in units(), through in units(),
    ) {
        let there = from.convert(stored.into(), through);
        prop_assert_eq!(there.is_some(), from.dimension() == through.dimension());
        if let Some(there) = there {
            let back = through.convert(there, from).and_then(Ratio::exactly);
            prop_assert_eq!(back.map(|it| it.to_string()), Some(stored.to_string()));
        }
    }

    /// A verdict never depends on the unit it was measured or limited in.
    #[test]
    fn a_verdict_is_the_same_in_every_unit(
        value in 0_i32..200_000, uncertainty in 0_i32..5_000, limit in 0_i32..200_000,
    ) {
        let thousandths = |value: i32| Decimal::whole(value).scaled(Decimal::whole(1), Decimal::whole(1000)).unwrap();
        let reading = Interval::around(thousandths(value).into(), thousandths(uncertainty).into()).unwrap();
        let limits = Bounds { min: None, max: Some(thousandths(limit)) };
        let verdict = judge(reading, limits);
        let inches = Unit::Millimetre.convert_interval(reading, Unit::Inch).unwrap();
        let back = Unit::Inch.convert_interval(inches, Unit::Millimetre).unwrap();
        prop_assert_eq!(judge(back, limits), verdict);
        // The rule in whole thousandths, written out.
        let expected = if value - uncertainty > limit {
            Verdict::Beyond
        } else if value + uncertainty <= limit {
            Verdict::Within
        } else {
            Verdict::CannotDecide
        };
        prop_assert_eq!(verdict, expected);
    }

    #[test]
    fn fractions_are_ordered_as_decimals_are(left in decimals(), right in decimals()) {
        prop_assert_eq!(Ratio::from(left).cmp(&right.into()), left.cmp(&right));
    }
}
