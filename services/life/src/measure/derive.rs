//! What follows from readings: shapes, clearances, losses, rates, and resistances at one temperature.
//!
//! The sums of the bench that `gudgeon calc` answers stand in [`crate::bench`]; those here carry the gauge's
//! uncertainty along, at its worst, because what they give is judged against a limit.

use super::interval::Interval;
use super::ratio::Ratio;
use crate::bench::{self, BenchError};
use crate::decimal::Decimal;

/// Pi to sixteen places: what it leaves out changes no gauge's last digit.
const PI: (i128, i128) = (31_415_926_535_897_932, 10_000_000_000_000_000);
/// The inferred zero-resistance temperature of copper, tenths of °C below zero (IEC 60028).
const COPPER_ZERO_TENTHS: i128 = 2345;
/// 2 to the power of 0/10, 1/10 ... 9/10, in billionths: the steps of insulation resistance within ten kelvin.
const TENTH_POWERS_OF_TWO: [i128; 10] = [
    1_000_000_000,
    1_071_773_463,
    1_148_698_355,
    1_231_144_413,
    1_319_507_911,
    1_414_213_562,
    1_515_716_567,
    1_624_504_793,
    1_741_101_127,
    1_866_065_983,
];
/// Winding temperatures beyond this many kelvin from the reference are no bench's.
const KELVIN_MAX: i128 = 200;

/// The largest less the smallest of several readings: run-out of a dial, end play, spread of plug gaps,
/// evenness of torque. `None` for fewer than two.
#[must_use]
pub fn spread(readings: &[Interval]) -> Option<Interval> {
    let least = readings.iter().min_by_key(|it| it.value)?;
    let most = readings.iter().max_by_key(|it| it.value)?;
    if readings.len() < 2 {
        return None;
    }
    not_below_zero(most.minus(*least)?)
}

/// Which figure of a bore's shape.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shape {
    /// The biggest difference of the two directions on one level.
    OutOfRound,
    /// The biggest difference between levels in one direction.
    Taper,
}

/// The shape of a bore from its grid of diameters, in their unit, with the uncertainty of both diameters that
/// make it.
///
/// # Errors
/// [`BenchError`] as [`bench::bore`] gives it.
pub fn bore_shape(
    a: &[Decimal],
    b: &[Decimal],
    uncertainty: Decimal,
    shape: Shape,
) -> Result<Interval, BenchError> {
    let found = bench::bore(a, b)?;
    let value = match shape {
        Shape::OutOfRound => found.out_of_round,
        Shape::Taper => found.taper,
    };
    let both = Ratio::from(uncertainty).times(Ratio::whole(2));
    let interval = both.and_then(|both| Interval::around(value.into(), both));
    interval.and_then(not_below_zero).ok_or(BenchError::TooLarge)
}

/// The smallest bore less the largest piston: the clearance at the tightest place.
#[must_use]
pub fn clearance(bores: &[Interval], pistons: &[Interval]) -> Option<Interval> {
    let bore = bores.iter().min_by_key(|it| it.value)?;
    bore.minus(*pistons.iter().max_by_key(|it| it.value)?)
}

/// A part in percent of a whole: a ring gap of its bore.
#[must_use]
pub fn percent(part: Interval, whole: Interval) -> Option<Interval> {
    part.over(whole)?.each(|it| it.times(Ratio::whole(100)))
}

/// The loss of a differential compression test in percent of the supply, as AC 43.13-1B para 8-14 counts it.
/// `None` for a supply of zero.
#[must_use]
pub fn loss_percent(supply: Interval, cylinder: Interval) -> Option<Interval> {
    let kept = percent(cylinder, supply)?;
    not_below_zero(Interval::exact(Ratio::whole(100)).minus(kept)?)
}

/// The pressure that a crankcase lost, for each minute of the test.
#[must_use]
pub fn loss_rate(before: Interval, after: Interval, minutes: Interval) -> Option<Interval> {
    not_below_zero(before.minus(after)?)?.over(minutes)
}

/// By how much a ring gap grows when the bore's diameter grows: by pi times that (geometry; what the ring
/// itself loses comes on top).
#[must_use]
pub fn ring_gap_growth(bore_growth: Ratio) -> Option<Ratio> {
    bore_growth.times(Ratio::new(PI.0, PI.1)?)
}

/// The least ring gap of a bore, 0.004 of its diameter in either unit (common practice: 0.004 in for each inch).
#[must_use]
pub fn ring_gap_min(bore: Ratio) -> Option<Ratio> {
    bore.times(Ratio::new(4, 1000)?)
}

/// The hole of the tester for a differential compression test, by the bore, both in inches: 0.040 below
/// 5.00 in, 0.060 from there (AC 43.13-1B Chg 1, para 8-14). The AC is for where the maker says nothing.
#[must_use]
pub fn tester_orifice_in(bore_in: Ratio) -> Option<Ratio> {
    Ratio::new(if bore_in < Ratio::whole(5) { 40 } else { 60 }, 1000)
}

/// What a wrench has to show on a self-locking nut: its run-down torque comes on top when it is a third of the
/// recommended value or more (US Army TB 43-0218). The third is taken of the lower limit, the strict reading.
#[must_use]
pub fn self_locking(range: [Ratio; 2], run_down: Ratio) -> Option<[Ratio; 2]> {
    let [low, high] = range;
    if run_down.times(Ratio::whole(3))? < low {
        return Some(range);
    }
    Some([low.plus(run_down)?, high.plus(run_down)?])
}

/// Whether an electrode is worn to half of what it was, or less: time to retire a plug (a published handbook's
/// rule).
#[must_use]
pub fn worn_to_half(new: Ratio, now: Ratio) -> bool {
    now.times(Ratio::whole(2)).is_some_and(|twice| twice <= new)
}

/// A copper winding's resistance brought from one temperature to another, both in °C, by the inferred zero:
/// R (234.5 + Tref) / (234.5 + T) (IEC 60028). `None` at or below that zero.
#[must_use]
pub fn copper(resistance: Ratio, temperature: Ratio, reference_c: i32) -> Option<Ratio> {
    let zero = Ratio::new(COPPER_ZERO_TENTHS, 10)?;
    let (now, then) = (temperature.plus(zero)?, Ratio::whole(reference_c).plus(zero)?);
    if now <= Ratio::ZERO || then <= Ratio::ZERO {
        return None;
    }
    resistance.times(then)?.over(now)
}

/// An insulation resistance brought to a reference temperature, both in °C: it halves for every 10 kelvin more
/// (IEEE 43, KT = 0.5^((Tref-T)/10)). The rule is a coarse one, so the winding's temperature counts in whole
/// degrees, taken down, which gives the lower resistance. `None` for temperatures out of all reason.
#[must_use]
pub fn insulation(resistance: Ratio, temperature: Ratio, reference_c: i32) -> Option<Ratio> {
    let warmer = i128::from(reference_c).checked_sub(temperature.floor())?;
    if warmer.abs() > KELVIN_MAX {
        return None;
    }
    let tens = u32::try_from(warmer.div_euclid(10).unsigned_abs()).ok()?;
    let within = usize::try_from(warmer.rem_euclid(10)).ok()?;
    let doubled = Ratio::new(1_i128.checked_shl(tens)?, 1)?;
    let step = Ratio::new(*TENTH_POWERS_OF_TWO.get(within)?, 1_000_000_000)?;
    let resistance =
        if warmer < 0 { resistance.times(doubled)? } else { resistance.over(doubled)? };
    resistance.over(step)
}

/// The polarisation index: insulation resistance after ten minutes over that after one (IEEE 43). It says
/// little about the small windings of a magneto.
#[must_use]
pub fn polarisation_index(after_ten: Interval, after_one: Interval) -> Option<Interval> {
    after_ten.over(after_one)
}

/// A size cannot be below zero, whatever the uncertainty.
fn not_below_zero(interval: Interval) -> Option<Interval> {
    interval.each(|it| Some(it.max(Ratio::ZERO)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn decimal(text: &str) -> Decimal {
        Decimal::parse(text).expect("a decimal")
    }

    fn ratio(text: &str) -> Ratio {
        decimal(text).into()
    }

    fn around(value: &str, uncertainty: &str) -> Interval {
        Interval::around(ratio(value), ratio(uncertainty)).expect("possible")
    }

    fn shown(interval: Option<Interval>) -> [String; 3] {
        let it = interval.expect("possible");
        [it.low, it.value, it.high].map(|ratio| ratio.to_string())
    }

    // Worked by hand: the difference of two readings is uncertain by both uncertainties together.
    #[test]
    fn differences_carry_both_uncertainties() {
        let dial = [around("0.02", "0.005"), around("0.05", "0.005"), around("-0.01", "0.005")];
        assert_eq!(shown(spread(&dial)), ["0.05", "0.06", "0.07"]);
        assert_eq!(spread(&dial[..1]), None);
        let alike = [around("0.6", "0.05"), around("0.6", "0.05")];
        assert_eq!(shown(spread(&alike)), ["0", "0", "0.1"]);
        let bores = [around("67.52", "0.01"), around("67.5", "0.01")];
        let pistons = [around("67.42", "0.01"), around("67.43", "0.01")];
        assert_eq!(shown(clearance(&bores, &pistons)), ["0.05", "0.07", "0.09"]);
    }

    // 67.52 - 67.50 = 0.02 in direction a; 67.52 - 67.51 = 0.01 on the first level; twice 0.002 either way.
    #[test]
    fn the_shape_of_a_bore_from_its_grid() {
        let a = ["67.52", "67.51", "67.5"].map(decimal);
        let b = ["67.51", "67.51", "67.5"].map(decimal);
        let shape = |shape| bore_shape(&a, &b, decimal("0.002"), shape).ok();
        assert_eq!(shown(shape(Shape::OutOfRound)), ["0.006", "0.01", "0.014"]);
        assert_eq!(shown(shape(Shape::Taper)), ["0.016", "0.02", "0.024"]);
        assert_eq!(bore_shape(&a, &b[..2], Decimal::ZERO, Shape::Taper), Err(BenchError::Levels));
    }

    // Lost 0.05 bar of 0.5 in two and a half minutes: 0.02 a minute, by hand. At worst (0.5 + 0.01) - (0.45 - 0.01)
    // = 0.07, at best 0.03.
    #[test]
    fn losses_and_rates() {
        let minutes = Interval::exact(ratio("2.5"));
        let rate = loss_rate(around("0.5", "0.01"), around("0.45", "0.01"), minutes);
        assert_eq!(shown(rate), ["0.012", "0.02", "0.028"]);
        let zero = Interval::exact(Ratio::ZERO);
        assert_eq!(loss_rate(around("0.5", "0"), around("0.4", "0"), zero), None);
        // 59 of 80 is a loss of 26.25 percent (AC 43.13-1B); a gauge good to 1 psi leaves 58/81 to 60/79.
        let exact = loss_percent(around("80", "0"), around("59", "0"));
        assert_eq!(shown(exact), ["26.25", "26.25", "26.25"]);
        let loss = loss_percent(around("80", "1"), around("59", "1"));
        assert_eq!(shown(loss), ["24.0506", "26.25", "28.3951"]);
        assert_eq!(shown(percent(around("0.27", "0"), around("67.5", "0"))), ["0.4", "0.4", "0.4"]);
    }

    // Twice 10 kelvin colder than 40 °C quarters it; 15 kelvin is 2^1.5 = 2.828427; warmer gives more.
    #[test]
    fn insulation_halves_for_every_ten_kelvin() {
        let at = |temperature: &str| {
            insulation(ratio("100"), ratio(temperature), 40).map(|it| it.to_string())
        };
        assert_eq!(at("20"), Some("25".to_owned()));
        assert_eq!(at("25"), Some("35.3553".to_owned()));
        // Taken down to whole degrees: never a better figure than the winding earns.
        assert_eq!(at("25.9"), at("25"));
        assert_eq!(at("50"), Some("200".to_owned()));
        assert_eq!(at("-300"), None);
    }

    // IEC 60028: 100 ohm at 20 °C are 100 x 314.5 / 254.5 = 123.576 at 80.
    #[test]
    fn copper_by_the_inferred_zero() {
        let found = copper(ratio("100"), ratio("20"), 80).map(|it| it.to_string());
        assert_eq!(found, Some("123.576".to_owned()));
        assert_eq!(copper(ratio("100"), ratio("-234.5"), 20), None);
    }

    // A run-down of 20 in-lb is more than a third of 50 (16.67) and is added; 15 is less and is not.
    #[test]
    fn run_down_torque_from_a_third_on() {
        let range = [ratio("50"), ratio("70")];
        assert_eq!(self_locking(range, ratio("15")), Some(range));
        assert_eq!(self_locking(range, ratio("20")), Some([ratio("70"), ratio("90")]));
        assert_eq!(
            self_locking([ratio("60"), ratio("90")], ratio("20")),
            Some([ratio("80"), ratio("110")])
        );
    }
}
