//! One serial number on two things: shown on both, their hours unknown from then on, until it is corrected.

use crate::bench_shop::{Shop, d, h};
use gudgeon_life::clock::Moment;
use gudgeon_life::conflict::ConflictKind;
use gudgeon_life::fact::{ComponentRegistered, Content, Stream};
use gudgeon_life::history::History;
use gudgeon_life::ids::PartKind;

fn twice(history: &History) -> Vec<Stream> {
    let told = history.conflicts.iter().filter(|it| it.kind == ConflictKind::SerialTwice);
    told.map(|it| it.stream).collect()
}

fn shaft(shop: &mut Shop, number: usize, on: &str, serial: &str, kind: &str) {
    shop.record(
        on,
        Content::ComponentRegistered(ComponentRegistered {
            component: Shop::component_id(number),
            kind: PartKind::new(kind).unwrap(),
            serial: Some(serial.to_owned()),
            lot: None,
            maker_part: None,
            code: None,
            hours: Some(h("40.0")),
            cured_on: None,
            first_fitted_on: None,
            overhauled: None,
        }),
    );
}

// The first engine's hours were right up to the day the second record appeared.
#[test]
fn two_engines_lose_their_hours_from_the_second_registration_on() {
    let mut shop = Shop::new();
    shop.engine(1, "2026-01-01", Some("88.0"), None);
    shop.engine(2, "2026-03-01", Some("12.0"), None);
    shop.serial(2, "t 1");
    let mut backwards = shop.facts();
    backwards.reverse();
    let history = History::fold(&shop.facts());
    assert_eq!(history, History::fold(&backwards), "the order of arrival does not matter");
    assert_eq!(twice(&history).len(), 2);
    let clock = &history.engines[&Shop::engine_id(1)].clock;
    let at = |day| clock.at(Moment::end_of(d(day))).map(|point| point.hours);
    assert_eq!((at("2026-02-28"), at("2026-03-01")), (Some(h("88.0")), None));
    assert_eq!(history.engines[&Shop::engine_id(2)].tsn(), None);
}

#[test]
fn two_parts_of_one_kind_on_engines_of_one_type_lose_their_lives() {
    let mut shop = Shop::new();
    shop.engine(1, "2026-01-01", Some("88.0"), None);
    shop.engine(2, "2026-01-01", Some("12.0"), None);
    shaft(&mut shop, 1, "2026-01-02", "C-9", "crankshaft");
    shaft(&mut shop, 2, "2026-01-02", "c9", "crankshaft");
    shaft(&mut shop, 3, "2026-01-02", "C-9", "gearbox");
    shop.fit(1, 1, "2026-01-03");
    shop.fit(3, 1, "2026-01-03");
    let apart = History::fold(&shop.facts());
    assert!(twice(&apart).is_empty(), "a part on the shelf may be of another maker");
    shop.fit(2, 2, "2026-02-03");
    let history = History::fold(&shop.facts());
    let parts = [1, 2].map(|n| Stream::component(Shop::component_id(n)));
    assert_eq!(twice(&history), parts);
    let hours = |n| history.component_hours(Shop::component_id(n), Moment::end_of(d("2026-03-01")));
    assert_eq!([1, 2, 3].map(hours), [None, None, Some(h("40.0"))]);
}

// A part that goes from engine to engine under one record is one part.
#[test]
fn a_part_that_moves_is_not_two() {
    let mut shop = Shop::new();
    shop.engine(1, "2026-01-01", Some("88.0"), None);
    shop.engine(2, "2026-01-01", Some("12.0"), None);
    shaft(&mut shop, 1, "2026-01-02", "C-9", "crankshaft");
    shop.fit(1, 1, "2026-01-03");
    shop.take_off(1, "2026-02-03");
    shop.fit(1, 2, "2026-02-04");
    assert!(twice(&History::fold(&shop.facts())).is_empty());
}
