//! Until when a part on the shelf may be fitted.

use crate::bench_shop::{Shop, item};
use gudgeon_life::date_code::CodeDay;
use gudgeon_life::history::History;
use gudgeon_life::ids::PartKind;
use gudgeon_life::programme::{CountsFrom, Item, Subject};
use gudgeon_life::shelf::shelf_ends;

/// Seals that keep so many years on the shelf, from the last day of their code.
fn seals(years: u32) -> Item {
    let mut item = item("seals", None, Some(12 * years));
    item.subject = Subject::Component(PartKind::new("seal").unwrap());
    for limit in &mut item.limits {
        limit.counts_from = CountsFrom::Made;
        limit.shelf = true;
        limit.code_day = CodeDay::Last;
    }
    item
}

/// The end of the shelf life of a part of this kind with this code.
fn ends(kind: &str, code: &str, item: &Item, fitted: bool) -> Option<String> {
    let mut shop = Shop::new();
    shop.engine(1, "2010-01-01", Some("0"), None);
    shop.component(1, kind, "2010-06-01", Some("0"), Some(code));
    if fitted {
        shop.fit(1, 1, "2012-01-01");
    }
    let history = History::fold(&shop.facts());
    let part = history.component(Shop::component_id(1)).unwrap();
    shelf_ends(part, item).map(|day| day.to_string())
}

// Case K12 of the published rules: ARP5316, 15 years from the last day of the cure quarter. And by the calendar:
// a part made in the second quarter of 2009 that keeps five years may be fitted until 2014-06-30.
#[test]
fn it_ends_so_long_after_the_last_day_of_the_code() {
    assert_eq!(ends("seal", "1Q10", &seals(15), false).as_deref(), Some("2025-03-31"));
    assert_eq!(ends("seal", "2Q09", &seals(5), false).as_deref(), Some("2014-06-30"));
}

#[test]
fn nothing_is_said_of_fitted_parts_other_kinds_and_unreadable_codes() {
    assert_eq!(ends("seal", "1Q10", &seals(15), true), None);
    assert_eq!(ends("hose", "1Q10", &seals(15), false), None);
    assert_eq!(ends("seal", "9Q10", &seals(15), false), None);
}
