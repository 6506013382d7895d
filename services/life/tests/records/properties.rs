//! What must hold for any records: order and doubles do not matter, more hours never make a line less due,
//! a tolerance never moves a due date, time alone never makes a line better.

use crate::bench_shop::{Shop, belt_item, d, h, item, limit};
use chrono::{Days, NaiveDate};
use gudgeon_life::due::due_list;
use gudgeon_life::fact::{Condition, Fact, OverhaulScope};
use gudgeon_life::history::History;
use gudgeon_life::hours::Hours;
use gudgeon_life::line::DueLine;
use gudgeon_life::programme::{Action, CountsFrom, EngineType, Item, NextPolicy, Tolerance};
use gudgeon_life::status::{Status, worst_steps};
use gudgeon_life::sure::prior::Evidence;
use proptest::prelude::*;

/// One thing that happens to engine 1 in aircraft 1, so many days and tenths of an hour after the last.
#[derive(Clone, Debug)]
enum Happening {
    Read,
    Inspect(bool),
    Overhaul,
    Find(Condition),
    NewBelt,
    ChangeMeter,
    Swap,
}

fn happenings() -> impl Strategy<Value = Vec<(Happening, u64, i64)>> {
    let kind = prop_oneof![
        4 => Just(Happening::Read),
        3 => any::<bool>().prop_map(Happening::Inspect),
        1 => Just(Happening::Overhaul),
        1 => prop_oneof![Just(Condition::Repair), Just(Condition::Monitor)].prop_map(Happening::Find),
        1 => Just(Happening::NewBelt),
        1 => Just(Happening::ChangeMeter),
        1 => Just(Happening::Swap),
    ];
    prop::collection::vec((kind, 1_u64..200, 0_i64..400), 1..25)
}

/// The records of those happenings, the last day and the aircraft and meter the engine ended in.
fn records(happenings: &[(Happening, u64, i64)], logged: bool) -> (Shop, NaiveDate, usize, Hours) {
    let mut shop = Shop::new();
    let mut on = d("2018-01-01");
    let (mut aircraft, mut meter, mut belts) = (1, Hours::ZERO, 0);
    shop.engine(1, "2018-01-01", logged.then_some("0"), Some("2017-12-01"));
    shop.install(1, 1, "2018-01-01", "0");
    for (happening, days, tenths) in happenings {
        on = on + Days::new(*days);
        meter += Hours::from_seconds(tenths * 360);
        let (day, at) = (on.to_string(), meter.to_string());
        match happening {
            Happening::Read => {
                shop.reading(aircraft, &day, &at);
            }
            Happening::Inspect(renewed) => {
                let action = if *renewed { Action::Renewed } else { Action::Inspected };
                shop.work(1, &day, &at, "hundred-hour", action);
            }
            Happening::Overhaul => {
                shop.work(1, &day, &at, "overhaul", Action::Overhauled);
                shop.last().overhaul = Some(OverhaulScope::Full);
                shop.last().test_run = Some(h("0"));
            }
            Happening::Find(condition) => {
                shop.inspection(1, &day).findings = vec![Shop::finding("exhaust", *condition)];
            }
            Happening::NewBelt => {
                belts += 1;
                shop.component(belts, "fan-belt", &day, Some("0"), Some("1Q17"));
                shop.fit(belts, 1, &day);
            }
            Happening::ChangeMeter => {
                shop.meter_change(aircraft, &day, &at, "0");
                meter = Hours::ZERO;
            }
            Happening::Swap => {
                shop.remove(1, &day, &at);
                aircraft += 1;
                shop.install(1, aircraft, &day, &at);
            }
        }
    }
    (shop, on, aircraft, meter)
}

fn programme(next: NextPolicy, tolerance: Option<Tolerance>) -> EngineType {
    let mut hundred = Item { next, tolerance, ..item("hundred-hour", Some("100"), Some(12)) };
    hundred.limits[0].counts_from = CountsFrom::New;
    let overhaul = Item {
        limits: vec![limit(Some("300"), Some(60), CountsFrom::Overhaul)],
        ..item("overhaul", None, None)
    };
    Shop::engine_type(vec![hundred, overhaul, belt_item()])
}

fn lines(facts: &[Fact], programme: &EngineType) -> Vec<DueLine> {
    due_list(&History::fold(facts), Shop::engine_id(1), programme, &Evidence::default())
}

fn policies() -> impl Strategy<Value = NextPolicy> {
    prop::sample::select(NextPolicy::ALL.to_vec())
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(256) })]

    #[test]
    fn order_and_doubles_do_not_matter(
        story in happenings(),
        logged in any::<bool>(),
        shuffle in any::<prop::sample::Index>(),
        doubled in any::<prop::sample::Index>(),
    ) {
        let facts = records(&story, logged).0.facts();
        let mut mixed = facts.clone();
        mixed.push(facts[doubled.index(facts.len())].clone());
        // A rotation of the reversed list puts every fact behind some that belong after it.
        mixed.reverse();
        let middle = shuffle.index(mixed.len());
        mixed.rotate_left(middle);
        prop_assert_eq!(History::fold(&facts), History::fold(&mixed));
    }

    #[test]
    fn more_hours_never_make_a_line_less_due(
        story in happenings(),
        logged in any::<bool>(),
        more in 0_i64..5000,
        next in policies(),
    ) {
        let programme = programme(next, None);
        let (mut shop, on, aircraft, meter) = records(&story, logged);
        let later = on + Days::new(1);
        let before = lines(&shop.facts(), &programme);
        let at = meter + Hours::from_seconds(more * 360);
        shop.reading(aircraft, &later.to_string(), &at.to_string());
        let after = lines(&shop.facts(), &programme);
        prop_assert_eq!(before.len(), after.len());
        for (before, after) in before.iter().zip(&after) {
            prop_assert!(after.status(later) <= before.status(later), "{:?}\n{:?}", before, after);
        }
    }

    #[test]
    fn a_tolerance_never_moves_a_due_date(
        story in happenings(),
        hours in 0_i64..20,
        months in 0_u32..3,
        next in prop::sample::select(vec![NextPolicy::FromDue, NextPolicy::FromDone]),
    ) {
        let facts = records(&story, true).0.facts();
        let tolerance = Tolerance {
            hours: Some(Hours::from_whole(hours)),
            months: Some(months),
            ..Tolerance::default()
        };
        let strict = lines(&facts, &programme(next, None));
        let tolerant = lines(&facts, &programme(next, Some(tolerance)));
        for (strict, tolerant) in strict.iter().zip(&tolerant) {
            prop_assert_eq!(strict.due_hours(), tolerant.due_hours());
            prop_assert_eq!(strict.due_on(), tolerant.due_on());
            prop_assert!(strict.latest_on() <= tolerant.latest_on());
        }
    }

    #[test]
    fn time_alone_never_makes_a_line_better_and_the_worst_line_speaks_for_the_engine(
        story in happenings(),
        next in policies(),
        ahead in 0_u64..3000,
    ) {
        let (shop, on, ..) = records(&story, true);
        let lines = lines(&shop.facts(), &programme(next, None));
        let (today, later) = (on, on + Days::new(ahead));
        let days: Vec<_> = lines.iter().map(|line| line.days).collect();
        for line in &lines {
            prop_assert!(line.status(later) <= line.status(today));
        }
        let steps = worst_steps(&days);
        let from_steps = steps.iter().rev().find(|(from, _)| *from <= later).map(|(_, it)| *it);
        let worst = lines.iter().map(|line| line.status(later)).min().unwrap_or(Status::NotDue);
        prop_assert_eq!(from_steps, Some(worst));
    }
}
