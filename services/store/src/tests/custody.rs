//! Who may see which engine, on which day. All of it is common practice of the trade, worked by hand.

use super::sample::{
    Bench, Programme, amended, day, engine, given, inspected, party, post, registered,
};
use crate::{FleetQuery, Post, Sight};
use gudgeon_life::fact::{Fact, Stream};

/// The workshops among 90, 91 and 92 that may see engine 1 on a day; listings and counts say the same.
fn seen(bench: &Bench, on: &str) -> Vec<u8> {
    let on = day(on);
    let sees = |shop: &u8| {
        let sight = Sight { shop: party(*shop), on };
        let sees = bench.store.may_see(sight, engine(1)).expect("readable");
        let query =
            FleetQuery { as_of: on, sight: Some(sight), status: None, after: None, limit: 9 };
        let listed = bench.store.fleet(&query).expect("readable").len();
        let counted = bench.store.fleet_counts(on, Some(sight)).expect("readable");
        let counted: i64 = counted.iter().map(|(_, count)| count).sum();
        assert_eq!((listed, counted), (usize::from(sees), i64::from(sees)), "{shop} on {on}");
        sees
    };
    [90, 91, 92].into_iter().filter(sees).collect()
}

fn post_by(bench: &Bench, fact: Fact, by: Option<u8>) {
    let post = Post { by: by.map(party), ..post(fact) };
    bench.store.append(&post, &Programme).expect("stored");
}

fn custodian(bench: &Bench) -> (Option<u8>, Option<String>) {
    let row = bench.store.engine(engine(1)).expect("readable").expect("it is there");
    let shop = row.custodian.map(|shop| shop.0.bytes()[0]);
    (shop, row.custodian_until.map(|day| day.to_string()))
}

#[test]
fn the_workshop_that_registers_an_engine_holds_it_until_somebody_is_granted_it() {
    let bench = Bench::with_type();
    post_by(&bench, registered(1, "2026-01-01", 1, "1000"), Some(90));
    post_by(&bench, inspected(2, "2026-02-01", 1, "532.5"), Some(91));
    assert_eq!(seen(&bench, "2020-01-01"), [90]);
    assert_eq!(seen(&bench, "2026-11-25"), [90]);
    assert_eq!(custodian(&bench), (Some(90), None));
    bench.append(given(3, "2026-06-01", 1, 92, Some("2026-08-31")));
    assert_eq!(seen(&bench, "2026-05-31"), [90]);
    assert_eq!(seen(&bench, "2026-06-01"), [92]);
    assert_eq!(seen(&bench, "2026-08-31"), [92]);
    assert_eq!(seen(&bench, "2026-09-01"), Vec::<u8>::new());
    assert_eq!(custodian(&bench), (Some(92), Some("2026-08-31".to_owned())));
}

/// Grants in every order, and one posted twice. 90 registered the engine and holds it until 1 June, when 91
/// is granted it without an end; a later grant ends that of 91 on 20 July. 92 is granted it for July. A
/// grant to 90 for December is withdrawn, and the end of that of 92 is corrected from 15 to 31 July.
#[test]
fn grants_end_by_a_later_one_or_a_correction_whatever_came_first() {
    let facts = |order: [usize; 6]| {
        let all = [
            (registered(1, "2026-01-01", 1, "1000"), Some(90)),
            (given(2, "2026-06-01", 1, 91, None), None),
            (given(3, "2026-07-01", 1, 91, Some("2026-07-20")), None),
            (given(4, "2026-07-01", 1, 92, Some("2026-07-15")), None),
            (given(5, "2026-12-01", 1, 90, None), None),
            (amended(6, 5, Stream::engine(engine(1)), None), None),
        ];
        order.map(|at| all[at].clone())
    };
    let orders = [[0, 1, 2, 3, 4, 5], [5, 4, 3, 2, 1, 0], [3, 5, 0, 4, 2, 1], [1, 0, 5, 2, 4, 3]];
    for order in orders {
        let bench = Bench::with_type();
        for (fact, by) in facts(order) {
            post_by(&bench, fact.clone(), by);
            post_by(&bench, fact, by);
        }
        let corrected = given(4, "2026-07-01", 1, 92, Some("2026-07-31"));
        bench.append(amended(7, 4, Stream::engine(engine(1)), Some(corrected)));
        let days = ["2026-05-31", "2026-06-30", "2026-07-20", "2026-07-31", "2026-12-01"];
        let seen = days.map(|on| seen(&bench, on));
        let expected: [Vec<u8>; 5] = [vec![90], vec![91], vec![91, 92], vec![92], vec![]];
        assert_eq!(seen, expected, "{order:?}");
    }
}

// Two workshops tell of an engine that nobody has registered: both keep what they began, until it is.
#[test]
fn an_engine_that_nobody_registered_is_held_by_whoever_tells_of_it() {
    let bench = Bench::with_type();
    post_by(&bench, inspected(2, "2026-02-01", 1, "532.5"), Some(91));
    assert_eq!(seen(&bench, "2026-11-25"), [91]);
    post_by(&bench, inspected(3, "2026-01-20", 1, "530"), Some(92));
    assert_eq!(seen(&bench, "2026-11-25"), [91, 92]);
    post_by(&bench, registered(1, "2026-03-01", 1, "1000"), Some(92));
    assert_eq!(seen(&bench, "2026-11-25"), [92]);
}
