//! Every key of the format, and every word it may hold, is shown by an item of a shipped engine type.

use super::shipped::{SHIPPED, read};
use crate::{applies, items, limits};
use gudgeon_life::calendar::CalendarMode;
use gudgeon_life::date_code::CodeDay;
use gudgeon_life::fact::{Attribute, EventKind};
use gudgeon_life::programme::{Action, Class, CountsFrom, Granted, Item, Limit, NextPolicy};
use std::collections::BTreeSet;
use toml::de::{DeTable, DeValue};

/// Every key of a table and of the tables in it, dotted from the item: `tolerance.hours`.
fn keys_of(table: &DeTable<'_>, prefix: &str, keys: &mut BTreeSet<String>) {
    for (key, value) in table {
        let key = format!("{prefix}{}", key.get_ref());
        match value.get_ref() {
            DeValue::Table(inner) => keys_of(inner, &format!("{key}."), keys),
            DeValue::Array(places) => {
                for place in places {
                    if let DeValue::Table(inner) = place.get_ref() {
                        keys_of(inner, &format!("{key}."), keys);
                    }
                }
            }
            _ => {}
        }
        keys.insert(key);
    }
}

#[test]
fn every_key_is_shown() {
    let mut shown = BTreeSet::new();
    for (_, text) in SHIPPED {
        let document = DeTable::parse(text).expect("shipped files are TOML");
        keys_of(document.get_ref(), "", &mut shown);
    }
    let is_shown = |key: &str| {
        shown.contains(&format!("items.{key}")) || shown.contains(&format!("items.limits.{key}"))
    };
    let spans = ["first", "every"].map(|key| (key, limits::SPAN_KEYS.known));
    let tables = [
        ("", items::ITEM_KEYS.known),
        ("", limits::KEYS.known),
        ("applies-to", applies::KEYS.known),
        ("tolerance", items::TOLERANCE_KEYS.known),
        ("notice", items::NOTICE_KEYS.known),
    ];
    for (table, keys) in tables.into_iter().chain(spans) {
        for key in keys {
            let key = if table.is_empty() { (*key).to_owned() } else { format!("{table}.{key}") };
            assert!(is_shown(&key), "no shipped item shows {key}");
        }
    }
}

fn all_items() -> Vec<Item> {
    SHIPPED.into_iter().flat_map(|(name, text)| read(name, text).items).collect()
}

#[test]
fn every_word_is_shown() {
    let items = all_items();
    let any = |holds: &dyn Fn(&Item) -> bool| items.iter().any(holds);
    let any_limit =
        |holds: &dyn Fn(&Limit) -> bool| items.iter().flat_map(|item| &item.limits).any(holds);
    for class in Class::ALL {
        assert!(any(&|item| item.class == class), "{}", class.word());
    }
    for next in NextPolicy::ALL {
        assert!(any(&|item| item.next == next), "{}", next.word());
    }
    for granted in Granted::ALL {
        let shown = any(&|item| item.tolerance.is_some() && item.granted == granted);
        assert!(shown, "{}", granted.word());
    }
    for action in Action::ALL {
        assert!(any(&|item| item.done_by.contains(&action)), "{}", action.word());
    }
    for kind in EventKind::ALL {
        assert!(any(&|item| item.after.contains(&kind)), "{}", kind.word());
    }
    for attribute in Attribute::ALL {
        let shown = any(&|item| item.applies.described.contains_key(&attribute));
        assert!(shown, "{}", attribute.word());
    }
    for mode in CalendarMode::ALL {
        assert!(any_limit(&|limit| limit.calendar == mode), "{}", mode.word());
    }
    for day in [CodeDay::First, CodeDay::Last] {
        assert!(any_limit(&|limit| limit.code_day == day), "{day:?}");
    }
    let begins = |from: CountsFrom| any_limit(&|limit| limit.counts_from == from);
    assert!(begins(CountsFrom::New) && begins(CountsFrom::Overhaul) && begins(CountsFrom::Done));
    assert!(begins(CountsFrom::FirstFitted) && begins(CountsFrom::Fitted));
    assert!(begins(CountsFrom::Made));
    assert!(any_limit(&|limit| matches!(limit.counts_from, CountsFrom::Effective(_))));
}

/// A standard, a regulation or common practice; what is made up says so.
#[test]
fn every_item_says_where_its_rule_comes_from() {
    for item in all_items() {
        let sources =
            ["common practice", "invented", "CFR", "Part-ML", "CAP 747", "SAE", "Std 625", "UK"];
        let named = sources.iter().any(|word| item.source.contains(word));
        assert!(named, "{}: {}", item.id, item.source);
    }
}
