//! Checks quantities and sheets against one another, the positions and the items: names that lead nowhere,
//! units that do not fit, limits that would judge what is never judged.

use super::no_such;
use crate::items::{ItemDraft, PositionDraft};
use crate::quantities::{QuantityDraft, unit_misfit};
use crate::read::Table;
use crate::sheets::{PointDraft, SheetDraft};
use gudgeon_life::bench::Strokes;
use gudgeon_life::ids::{ItemId, PositionId, Quantity};
use gudgeon_life::measure::{Derivation, Dimension, QuantityRule};
use gudgeon_life::sheet::Asked;
use std::collections::{BTreeMap, BTreeSet};

/// What quantities and sheets may name.
struct Known<'a> {
    positions: BTreeSet<&'a PositionId>,
    items: BTreeSet<&'a ItemId>,
    quantities: BTreeMap<&'a Quantity, &'a QuantityRule>,
}

impl Known<'_> {
    fn check_positions(&self, table: &Table<'_>, positions: &[PositionId]) {
        for id in positions.iter().filter(|id| !self.positions.contains(id)) {
            let known = || self.positions.iter().map(|id| id.as_str());
            table.fault("positions", no_such("position", id.as_str(), known));
        }
    }

    fn no_quantity(&self, id: &Quantity) -> String {
        no_such("quantity", id.as_str(), || self.quantities.keys().map(|id| id.as_str()))
    }
}

/// Every quantity and every point of every sheet.
pub(crate) fn check_bench(
    root: &Table<'_>,
    strokes: Option<Strokes>,
    quantities: &[QuantityDraft<'_>],
    sheets: &[SheetDraft<'_>],
    positions: &[PositionDraft<'_>],
    items: &[ItemDraft<'_>],
) {
    let known = Known {
        positions: positions.iter().filter_map(|it| it.id.as_ref()).collect(),
        items: items.iter().filter_map(|it| it.id.as_ref()).collect(),
        quantities: quantities
            .iter()
            .filter_map(|it| it.rule.as_ref())
            .map(|rule| (&rule.id, rule))
            .collect(),
    };
    let named = quantities.iter().filter_map(|it| Some((&it.table, it.rule.as_ref()?.id.as_str())));
    check_once(named, "quantity");
    check_once(sheets.iter().filter_map(|it| Some((&it.table, it.id.as_ref()?.as_str()))), "sheet");
    for draft in quantities {
        if let Some(rule) = &draft.rule {
            check_quantity(&draft.table, rule, &known);
        }
    }
    check_groups(quantities);
    check_compression(root, strokes, quantities);
    for point in sheets.iter().flat_map(|sheet| &sheet.points) {
        check_point(point, &known);
    }
}

/// Each name once.
fn check_once<'t, 'a: 't>(named: impl Iterator<Item = (&'t Table<'a>, &'t str)>, what: &str) {
    let mut lines = BTreeMap::new();
    for (table, id) in named {
        if let Some(line) = lines.insert(id, table.line()) {
            let message = format!("`{id}` is on line {line} already; expected each {what} once");
            table.fault("id", message);
        }
    }
}

fn check_quantity(table: &Table<'_>, rule: &QuantityRule, known: &Known<'_>) {
    known.check_positions(table, &rule.positions);
    if let Some(item) = rule.feeds.as_ref().filter(|item| !known.items.contains(item)) {
        let items = || known.items.iter().map(|id| id.as_str());
        table.fault("feeds", no_such("item", item.as_str(), items));
    }
    let Some(derived) = &rule.derived else { return };
    let mut units = Vec::new();
    for id in &derived.of {
        match known.quantities.get(id) {
            None => table.fault("derived.of", known.no_quantity(id)),
            Some(of) if of.derived.is_some() => {
                let message = format!(
                    "found `{id}`, which follows from others itself; expected a measured one"
                );
                table.fault("derived.of", message);
            }
            Some(of) => units.push(of.unit),
        }
    }
    if units.len() == derived.by.sources()
        && let Some(misfit) = unit_misfit(derived.by, rule.unit, &units)
    {
        table.fault("unit", format!("`{}` {misfit}", derived.by.word()));
    }
}

/// What is compared has one unit, and one figure of how far apart is far.
fn check_groups(quantities: &[QuantityDraft<'_>]) {
    let mut first: BTreeMap<&Quantity, &QuantityRule> = BTreeMap::new();
    for draft in quantities {
        let Some(rule) = &draft.rule else { continue };
        let Some(group) = &rule.group else { continue };
        let before = first.entry(group).or_insert(rule);
        if (before.unit, before.apart_max) != (rule.unit, rule.apart_max) {
            let message = format!(
                "found `{group}`, which `{}` is in with another unit or `apart-max`; expected the same",
                before.id
            );
            draft.table.fault("group", message);
        }
    }
}

/// A compression is judged on a four-stroke alone, and only where the file says that it is one.
fn check_compression(root: &Table<'_>, strokes: Option<Strokes>, quantities: &[QuantityDraft<'_>]) {
    let rules = || quantities.iter().filter_map(|it| it.rule.as_ref());
    let derived = rules().filter_map(|rule| Some((rule, rule.derived.as_ref()?)));
    let losses: Vec<_> = derived.filter(|(_, it)| it.by == Derivation::CompressionLoss).collect();
    if losses.is_empty() {
        return;
    }
    if !root.has("strokes") {
        let message = "missing; expected 2 or 4 beside a compression loss, which is judged on a \
                       four-stroke only";
        root.fault("strokes", message);
    }
    if strokes != Some(Strokes::Two) {
        return;
    }
    let of_loss = |id: &Quantity| {
        losses.iter().any(|(rule, derived)| rule.id == *id || derived.of.contains(id))
    };
    for draft in quantities {
        let Some(rule) = &draft.rule else { continue };
        if of_loss(&rule.id) && !rule.limit.is_empty() {
            let message = "a two-stroke's compression is comparative only, since the rings have to \
                           cover the ports; take it out";
            draft.table.fault("limit", message);
        }
    }
}

fn check_point(draft: &PointDraft<'_>, known: &Known<'_>) {
    let Some(point) = &draft.point else { return };
    known.check_positions(&draft.table, &point.positions);
    let Some((id, _)) = point.asks.quantity() else { return };
    let fault = |message: String| draft.table.fault("quantity", message);
    let Some(rule) = known.quantities.get(id) else { return fault(known.no_quantity(id)) };
    if rule.derived.is_some() {
        fault(format!("found `{id}`, which follows from others; expected one that is measured"));
    }
    let is_torque = rule.unit.dimension() == Dimension::Torque;
    match &point.asks {
        Asked::Torque(..) if !is_torque => {
            fault(format!("found `{id}` in {}; expected a torque", rule.unit));
        }
        Asked::Measure(..) if is_torque => {
            fault(format!("found `{id}`, a torque; expected `asks = \"torque\"`"));
        }
        _ => {}
    }
    let strange = point.positions.iter().find(|it| !rule.positions.contains(it));
    if let Some(position) = strange {
        let message = format!("found `{position}`, where `{id}` is not measured");
        draft.table.fault("positions", message);
    } else if point.positions.is_empty() && !rule.positions.is_empty() {
        let message = format!("missing; expected some of those where `{id}` is measured");
        draft.table.fault("positions", message);
    }
}
