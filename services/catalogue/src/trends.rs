//! Reads the measured limit of an item, and checks that its quantity wears towards a limit where the item is.

use crate::checks::no_such;
use crate::items::ItemDraft;
use crate::quantities::QuantityDraft;
use crate::read::{Keys, Table};
use gudgeon_life::hours::Hours;
use gudgeon_life::ids::Quantity;
use gudgeon_life::measure::{QuantityRule, Wear};
use gudgeon_life::sure::trend::RUN_IN;
use gudgeon_life::wear::TrendRule;

/// The keys of `trend`.
pub(crate) const TREND_KEYS: Keys = Keys { known: &["quantity", "run-in"], refused: &[] };

/// A measured limit as far as it could be read.
pub(crate) struct TrendDraft<'a> {
    table: Table<'a>,
    quantity: Option<Quantity>,
    run_in: Hours,
}

impl TrendDraft<'_> {
    pub(crate) fn finish(self) -> Option<TrendRule> {
        Some(TrendRule { quantity: self.quantity?, run_in: self.run_in })
    }
}

pub(crate) fn read_trend<'a>(item: &Table<'a>) -> Option<TrendDraft<'a>> {
    let expected = "a quantity, such as { quantity = \"bore\" }";
    let table = item.optional("trend", expected)?.table()?;
    table.refuse_other_keys(&TREND_KEYS);
    let quantity = table.required("quantity", "the id of a quantity of this type");
    let quantity = quantity.and_then(|entry| entry.slug(Quantity::new));
    let run_in = table.optional("run-in", "hours, such as 50 or 0");
    let run_in = run_in.and_then(|entry| entry.hours()).unwrap_or(RUN_IN);
    Some(TrendDraft { table, quantity, run_in })
}

/// Every item with a measured limit, against the quantities.
pub(crate) fn check_trends(items: &[ItemDraft<'_>], quantities: &[QuantityDraft<'_>]) {
    for item in items {
        let Some(trend) = &item.trend else { continue };
        if item.limits.is_empty() {
            let message = "brings an interval forward, and the item has none; add `every`, or take \
                           it out";
            item.table.fault("trend", message);
        }
        for key in ["extension-percent", "on-condition"] {
            if item.table.has(key) {
                let message = "a measured limit is never extended; take one of the two out";
                item.table.fault(key, message);
            }
        }
        let Some(id) = &trend.quantity else { continue };
        let mut rules = quantities.iter().filter_map(|it| it.rule.as_ref());
        if let Some(rule) = rules.find(|rule| rule.id == *id) {
            check_rule(item, trend, rule);
        } else {
            let known = || quantities.iter().filter_map(|it| Some(it.rule.as_ref()?.id.as_str()));
            trend.table.fault("quantity", no_such("quantity", id.as_str(), known));
        }
    }
}

/// Whether the quantity has a limit that it wears to, and is measured where the item is.
fn check_rule(item: &ItemDraft<'_>, trend: &TrendDraft<'_>, rule: &QuantityRule) {
    let fault = |message: String| trend.table.fault("quantity", message);
    let id = &rule.id;
    match rule.wear {
        None => {
            fault(format!("found `{id}`, which has no `wear`; expected one that rises or falls"));
        }
        Some(Wear::Rises) if rule.limit.max.is_none() => {
            fault(format!("found `{id}`, which rises and has no `max` in its `limit`; add it"));
        }
        Some(Wear::Falls) if rule.limit.min.is_none() => {
            fault(format!("found `{id}`, which falls and has no `min` in its `limit`; add it"));
        }
        Some(_) => {}
    }
    let measured_once = rule.positions.is_empty();
    let strange = item.positions.iter().find(|it| !measured_once && !rule.positions.contains(it));
    if let Some(position) = strange {
        fault(format!("found `{id}`, which is not measured at `{position}` of this item"));
    }
}
