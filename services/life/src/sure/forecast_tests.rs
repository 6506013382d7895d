//! The rows of the table of degenerate cases, and what holds for any readings.

use super::forecast::{Ahead, DAYS_MAX, Days, Forecast, Today};
use super::rate::{Basis, CannotSay, Meter, Owner, Rate, Reading};
use super::season::Hemisphere;
use crate::calendar::{day_after, days_between, shift};
use crate::hours::Hours;
use chrono::NaiveDate;
use proptest::prelude::*;

fn on(text: &str) -> NaiveDate {
    text.parse().expect("a day")
}

fn reading(day: &str, hours: i64) -> Reading {
    Reading { on: on(day), hours: Hours::from_whole(hours), meter: Meter::Same }
}

fn learn(readings: &[Reading]) -> Result<Rate, CannotSay> {
    Rate::learn(readings, Hemisphere::North, Owner::Unknown)
}

/// A private aircraft read four times, last on 2025-06-30.
fn some() -> [Reading; 4] {
    [
        reading("2024-06-30", 500),
        reading("2024-09-30", 515),
        reading("2025-03-31", 524),
        reading("2025-06-30", 540),
    ]
}

fn days(readings: &[Reading], hours_left: i64, as_of: &str) -> Days {
    let rate = learn(readings).expect("a rate");
    match Ahead::of(rate).reach(Hours::from_whole(hours_left), on(as_of)) {
        Forecast::Days(days) => days,
        other => panic!("{other}"),
    }
}

fn says(readings: &[Reading], hours_left: i64, as_of: &str) -> String {
    days(readings, hours_left, as_of).to_string()
}

#[test]
fn without_a_reading_nothing_is_said() {
    let none = learn(&[]);
    assert_eq!(none, Err(CannotSay::NoReading));
    let words = Forecast::CannotSay(CannotSay::NoReading).to_string();
    assert_eq!(words, "cannot say: there is no reading of the hours yet");
}

#[test]
fn one_reading_gives_typical_use() {
    let days = days(&[reading("2025-06-30", 500)], 25, "2025-07-01");
    assert_eq!((days.basis, days.gaps), (Basis::PriorOnly, 0));
    assert!(days.to_string().contains("from typical use, not from this aircraft"), "{days}");
}

#[test]
fn one_or_two_stretches_are_few() {
    for count in [2, 3] {
        let days = days(&some()[..count], 25, "2025-07-01");
        assert_eq!(days.basis, Basis::FewReadings);
        assert!(days.to_string().contains("from few readings"), "{days}");
    }
    assert_eq!(days(&some(), 25, "2025-07-01").basis, Basis::OwnReadings);
}

// The reference says for eight stretches of no flying: about 11 hours a year, and a late day beyond ten years.
#[test]
fn an_aircraft_that_never_flew_may_not_get_there_in_ten_years() {
    let readings: Vec<Reading> = (0..9)
        .map(|at| Reading {
            on: shift(on("2023-01-01"), at, 0).expect("a day"),
            ..reading("2023-01-01", 500)
        })
        .collect();
    let days = days(&readings, 100, "2023-09-02");
    assert_eq!(days.p90, None);
    assert!(days.p10.is_some());
    let words = days.to_string();
    assert!(words.starts_with("not before "), "{words}");
    assert!(words.contains("may not be reached in ten years"), "{words}");
}

#[test]
fn a_meter_that_goes_down_unexplained_asks_for_an_answer() {
    let mut readings = some();
    readings[2].hours = Hours::from_whole(510);
    let refused = learn(&readings);
    assert_eq!(refused, Err(CannotSay::MeterDecreases { on: on("2025-03-31") }));
    readings[2].meter = Meter::New;
    assert_eq!(learn(&readings).map(|rate| rate.gaps), Ok(2));
}

// 500 to 512.5 on the old meter and 0.5 to 3 on the new one: 15 hours, as if it had been read 515.
#[test]
fn a_change_of_meter_with_both_figures_loses_no_hours() {
    let half = |halves: i64| Hours::from_seconds(1800 * halves);
    let replaced = Meter::Replaced { old_final: half(1025), new_start: half(1) };
    let changed = [some()[0], Reading { meter: replaced, ..reading("2024-09-30", 3) }];
    assert_eq!(learn(&changed), learn(&some()[..2]));
    let backwards = Meter::Replaced { old_final: half(999), new_start: half(1) };
    let changed = [some()[0], Reading { meter: backwards, ..reading("2024-09-30", 3) }];
    assert_eq!(learn(&changed), Err(CannotSay::MeterDecreases { on: on("2024-09-30") }));
}

#[test]
fn of_several_readings_of_a_day_the_last_counts() {
    let [first, second, third, last] = some();
    let twice = [first, reading("2024-09-30", 700), second, third, last];
    assert_eq!(learn(&twice), learn(&some()));
    let new_that_day = [first, Reading { meter: Meter::New, ..second }, second, third, last];
    assert_eq!(learn(&new_that_day).map(|rate| rate.gaps), Ok(2));
}

#[test]
fn readings_come_in_any_order() {
    let mut turned = some();
    turned.reverse();
    assert_eq!(learn(&turned), learn(&some()));
}

#[test]
fn no_hours_left_is_already_reached() {
    let ahead = Ahead::of(learn(&some()).expect("a rate"));
    for left in [0, -5] {
        let found = ahead.reach(Hours::from_whole(left), on("2025-07-01"));
        assert_eq!(found, Forecast::AlreadyReached);
    }
}

#[test]
fn days_count_from_the_last_reading_and_never_move_by_themselves() {
    let fresh = days(&some(), 25, "2025-07-01");
    let p10 = fresh.p10.expect("an early day");
    let p90 = fresh.p90.expect("a late day");
    assert_eq!((fresh.today, fresh.stale), (Today::Ahead, false));
    let at = |day: NaiveDate| days(&some(), 25, &day.to_string());
    assert_eq!(at(p10).today, Today::Ahead);
    let maybe = at(day_after(p10));
    assert_eq!((maybe.today, maybe.p10), (Today::MayBeDue, Some(p10)));
    assert!(maybe.to_string().contains("may already be due, read the meter"), "{maybe}");
    let passed = at(day_after(p90));
    assert_eq!((passed.today, passed.p90), (Today::ProbablyPassed, Some(p90)));
    assert!(passed.to_string().contains("probably passed, read the meter"), "{passed}");
}

// 180 days after 2025-06-30 is 2025-12-27; 730 days after it is 2027-06-30.
#[test]
fn old_readings_are_marked_and_very_old_ones_say_nothing() {
    assert!(!days(&some(), 25, "2025-12-27").stale);
    let stale = days(&some(), 25, "2025-12-28");
    assert!(stale.stale);
    assert!(stale.to_string().contains("more than half a year old"), "{stale}");
    assert!(days(&some(), 25, "2027-06-30").stale);
    let ahead = Ahead::of(learn(&some()).expect("a rate"));
    let last = on("2025-06-30");
    let found = ahead.reach(Hours::from_whole(25), on("2027-07-01"));
    assert_eq!(found, Forecast::CannotSay(CannotSay::ReadingsTooOld { last }));
}

#[test]
fn days_far_apart_give_the_early_one_alone() {
    let far = days(&[reading("2025-06-30", 500)], 150, "2025-07-01");
    assert!(far.only_early());
    assert!(far.to_string().starts_with("not before "), "{far}");
}

#[test]
fn far_off_hours_are_not_within_ten_years() {
    let never = days(&some(), 100_000, "2025-07-01");
    assert_eq!((never.p10, never.p50, never.p90), (None, None, None));
    assert!(says(&some(), 100_000, "2025-07-01").starts_with("not within ten years"));
}

#[test]
fn a_likely_stretch_is_told_by_days_or_by_weeks() {
    let wide = says(&some(), 25, "2025-07-01");
    assert!(wide.starts_with("likely between the weeks of Mon "), "{wide}");
    let near = says(&some(), 1, "2025-07-01");
    assert!(near.starts_with("likely between ") && !near.contains("weeks"), "{near}");
    assert!(near.contains(", plan by "), "{near}");
}

/// Readings of any days and hours, in any order.
fn any_readings() -> impl Strategy<Value = Vec<Reading>> {
    let meter = prop_oneof![
        4 => Just(Meter::Same),
        1 => Just(Meter::New),
        1 => (any::<i64>(), any::<i64>()).prop_map(|(old, new)| Meter::Replaced {
            old_final: Hours::from_seconds(old),
            new_start: Hours::from_seconds(new),
        }),
    ];
    let day = prop_oneof![9 => 0_i64..4_000, 1 => -90_000_000_i64..90_000_000];
    let step = prop_oneof![3 => 0_i64..400_000, 1 => Just(0), 1 => 0..i64::MAX / 64];
    let entries = proptest::collection::vec((day, step, meter), 0..12);
    entries.prop_map(|mut entries| {
        entries.sort_by_key(|it| it.0);
        let mut total = 0;
        entries
            .into_iter()
            .map(|(day, step, meter)| {
                total += step;
                let on = shift(NaiveDate::default(), 0, day).unwrap_or(NaiveDate::MAX);
                Reading { on, hours: Hours::from_seconds(total), meter }
            })
            .collect()
    })
}

proptest! {
    #[test]
    fn nothing_but_finite_numbers_comes_out(
        readings in any_readings(),
        left in any::<i64>(),
        hemisphere in proptest::sample::select(&Hemisphere::ALL[..]),
        owner in proptest::sample::select(&Owner::ALL[..]),
        days in 0_usize..5_000,
    ) {
        let Ok(rate) = Rate::learn(&readings, hemisphere, owner) else { return Ok(()) };
        let numbers = rate.kinds.iter().flat_map(|it| [it.weight, it.shape, it.exposure_days]);
        let mut numbers: Vec<f64> = numbers.chain(rate.months).collect();
        numbers.extend([rate.lump_hours, rate.hours_per_year()]);
        let ahead = Ahead::of(rate);
        let flown = ahead.hours_within(days);
        numbers.extend([flown.p10, flown.p50, flown.p90]);
        prop_assert!(numbers.iter().all(|it| it.is_finite()), "{numbers:?}");
        prop_assert!(flown.p10 <= flown.p50 && flown.p50 <= flown.p90, "{flown:?}");
        if let Forecast::Days(days) = ahead.reach(Hours::from_seconds(left), rate.last) {
            let within = |day: Option<NaiveDate>| day.is_none_or(|day| {
                (1..=i64::try_from(DAYS_MAX).unwrap_or(0)).contains(&days_between(rate.last, day))
            });
            prop_assert!(within(days.p10) && within(days.p50) && within(days.p90));
            prop_assert!(days.p10 <= days.p50 || days.p50.is_none());
            prop_assert!(days.p50 <= days.p90 || days.p90.is_none());
        }
    }

    // The search by halves against a scan of every day.
    #[test]
    fn the_first_day_is_the_first(
        steps in proptest::collection::vec((1_i64..200, 0_i64..90_000), 0..8),
        left in 1_i64..400_000,
    ) {
        let (mut day, mut hours) = (0, 0);
        let mut readings = vec![reading("2024-06-30", 0)];
        for (days, seconds) in steps {
            day += days;
            hours += seconds;
            let on = shift(on("2024-06-30"), 0, day).expect("a day");
            readings.push(Reading { on, hours: Hours::from_seconds(hours), meter: Meter::Same });
        }
        let rate = learn(&readings).expect("a rate");
        let ahead = Ahead::of(rate);
        let Forecast::Days(days) = ahead.reach(Hours::from_seconds(left), rate.last) else {
            panic!("hours are left")
        };
        let hours = super::decimal_hours(Hours::from_seconds(left));
        for (level, found) in [(0.1, days.p10), (0.5, days.p50), (0.9, days.p90)] {
            let first = (1..=DAYS_MAX).find(|day| ahead.at_most(*day, *day, hours) >= level);
            let first = first.and_then(|day| shift(rate.last, 0, i64::try_from(day).ok()?));
            prop_assert_eq!(first, found);
        }
    }
}
