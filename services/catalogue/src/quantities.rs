//! Reads the quantities that a bench measures, and checks their figures against one another.

use crate::items::read_slugs;
use crate::read::{Keys, Table, one_of};
use gudgeon_life::bench::Strokes;
use gudgeon_life::ids::{ItemId, PositionId, Quantity};
use gudgeon_life::measure::{
    Bounds, CorrectedBy, Correction, Derivation, Derived, Dimension, Gauge, QuantityRule, Ratio,
    Unit, Wear,
};

/// The keys of a quantity.
pub(crate) const QUANTITY_KEYS: Keys = Keys {
    known: &[
        "id",
        "title",
        "unit",
        "positions",
        "source",
        "new",
        "limit",
        "range",
        "gauge",
        "wear",
        "group",
        "apart-max",
        "feeds",
        "correction",
        "derived",
    ],
    refused: &[],
};
/// The keys of `new`, `limit` and `range`.
pub(crate) const BOUNDS_KEYS: Keys = Keys { known: &["min", "max"], refused: &[] };
/// The keys of `gauge`.
pub(crate) const GAUGE_KEYS: Keys = Keys { known: &["name", "uncertainty"], refused: &[] };
/// The keys of `correction`.
pub(crate) const CORRECTION_KEYS: Keys = Keys { known: &["by", "to"], refused: &[] };
/// The keys of `derived`.
pub(crate) const DERIVED_KEYS: Keys = Keys { known: &["by", "of"], refused: &[] };

/// Reference temperatures of windings, °C.
const REFERENCES_C: std::ops::RangeInclusive<u32> = 0..=150;

/// A quantity as far as it could be read, with its table for what is said of it later.
pub(crate) struct QuantityDraft<'a> {
    pub(crate) table: Table<'a>,
    pub(crate) rule: Option<QuantityRule>,
}

/// Reads every quantity.
pub(crate) fn read_quantities<'a>(root: &Table<'a>) -> Vec<QuantityDraft<'a>> {
    let expected = "one table [[quantities]] for each thing that is measured";
    let entries = root.optional("quantities", expected).map(|it| it.list()).unwrap_or_default();
    let tables = entries.into_iter().filter_map(|entry| entry.table());
    (1..).zip(tables).map(|(number, table)| read_quantity(table.named_part(number))).collect()
}

fn read_quantity(table: Table<'_>) -> QuantityDraft<'_> {
    table.refuse_other_keys(&QUANTITY_KEYS);
    let text = |key, expected| table.required(key, expected).and_then(|entry| entry.text());
    let id = table.required("id", "a short name, such as \"ring-gap\"");
    let id = id.and_then(|entry| entry.slug(Quantity::new));
    let title = text("title", "what people call the quantity, in quotes");
    let source = text("source", "where its figures come from, or \"common practice\" if nowhere");
    let unit = table.required("unit", one_of(&Unit::ALL, Unit::word));
    let unit = unit.and_then(|entry| entry.word(&Unit::ALL, Unit::word));
    let wear = table.optional("wear", one_of(&Wear::ALL, Wear::word));
    let group = table.optional("group", "a short name for what is compared, such as \"cylinders\"");
    let feeds = table.optional("feeds", "the id of an item, such as \"pistons-and-rings\"");
    let apart_max = table.optional("apart-max", "a decimal number above zero, such as 0.05");
    let derived = read_derived(&table);
    let is_derived = table.has("derived");
    let range = if is_derived { Some(Bounds::default()) } else { read_range(&table) };
    let rule = || {
        Some(QuantityRule {
            positions: Vec::new(),
            id: id?,
            title: title?,
            unit: unit?,
            source: source?,
            new: read_bounds(&table, "new"),
            limit: read_bounds(&table, "limit"),
            range: range?,
            gauge: read_gauge(&table),
            wear: wear.and_then(|entry| entry.word(&Wear::ALL, Wear::word)),
            group: group.and_then(|entry| entry.slug(Quantity::new)),
            apart_max: apart_max.and_then(|entry| entry.decimal_above_zero()),
            feeds: feeds.and_then(|entry| entry.slug(ItemId::new)),
            correction: read_correction(&table),
            derived,
        })
    };
    let positions = read_slugs(&table, "positions", "positions of this type", PositionId::new);
    let rule = rule().map(|rule| QuantityRule { positions, ..rule });
    if let Some(rule) = &rule {
        check_figures(&table, rule);
    }
    QuantityDraft { table, rule }
}

/// Required of what is measured: without it no slip of the keyboard could be told from a worn part.
fn read_range(table: &Table<'_>) -> Option<Bounds> {
    let expected = "what it can be at all, such as { min = 60, max = 80 }";
    let found = table.required("range", expected)?;
    found.table()?;
    let bounds = read_bounds(table, "range");
    if bounds.min.is_none() || bounds.max.is_none() {
        table.fault("range", "has one end only; expected both min and max");
        return None;
    }
    Some(bounds)
}

fn read_bounds(table: &Table<'_>, key: &'static str) -> Bounds {
    let found = table.optional(key, "min, max or both, such as { min = 0.2, max = 0.6 }");
    let Some(bounds) = found.and_then(|entry| entry.table()) else { return Bounds::default() };
    bounds.refuse_other_keys(&BOUNDS_KEYS);
    let end = |end| {
        bounds.optional(end, "a decimal number, such as 67.5").and_then(|entry| entry.decimal())
    };
    let (min, max) = (end("min"), end("max"));
    if let Some((min, max)) = min.zip(max).filter(|(min, max)| min > max) {
        table.fault(
            key,
            format!("found min {min} above max {max}; expected it the other way round"),
        );
    }
    Bounds { min, max }
}

fn read_gauge(table: &Table<'_>) -> Option<Gauge> {
    let expected =
        "what it is measured with, such as { name = \"micrometer\", uncertainty = 0.005 }";
    let gauge = table.optional("gauge", expected)?.table()?;
    gauge.refuse_other_keys(&GAUGE_KEYS);
    let name = gauge.required("name", "what people call the gauge").and_then(|entry| entry.text());
    let uncertainty = gauge
        .required("uncertainty", "its expanded uncertainty (k = 2), a decimal number above zero")
        .and_then(|entry| entry.decimal_above_zero());
    Some(Gauge { name: name?, uncertainty: uncertainty? })
}

fn read_correction(table: &Table<'_>) -> Option<Correction> {
    let expected = "the rule and the temperature, such as { by = \"copper\", to = 20 }";
    let correction = table.optional("correction", expected)?.table()?;
    correction.refuse_other_keys(&CORRECTION_KEYS);
    let by = correction
        .required("by", one_of(&CorrectedBy::ALL, CorrectedBy::word))
        .and_then(|entry| entry.word(&CorrectedBy::ALL, CorrectedBy::word));
    let to = correction
        .required("to", "a whole number of °C from 0 to 150")
        .and_then(|entry| entry.whole(&REFERENCES_C));
    Some(Correction { by: by?, to_c: i32::try_from(to?).ok()? })
}

fn read_derived(table: &Table<'_>) -> Option<Derived> {
    let expected = "how it follows, such as { by = \"taper\", of = [\"bore\"] }";
    let derived = table.optional("derived", expected)?.table()?;
    derived.refuse_other_keys(&DERIVED_KEYS);
    let by = derived
        .required("by", one_of(&Derivation::ALL, Derivation::word))
        .and_then(|entry| entry.word(&Derivation::ALL, Derivation::word));
    let entries = derived.required("of", "a list of ids of quantities");
    let entries = entries.map(|entry| entry.list()).unwrap_or_default();
    let of: Vec<Quantity> = entries.iter().filter_map(|it| it.slug(Quantity::new)).collect();
    let by = by?;
    if of.len() == entries.len() && of.len() != by.sources() {
        let message = format!(
            "found {}; expected {}, which `{}` follows from",
            of.len(),
            by.sources(),
            by.word()
        );
        derived.fault("of", message);
    }
    Some(Derived { by, of })
}

/// A quantity by itself.
fn check_figures(table: &Table<'_>, rule: &QuantityRule) {
    if rule.derived.is_some() {
        for key in ["gauge", "range", "correction"].into_iter().filter(|key| table.has(key)) {
            let message = "acts on nothing: it follows from other quantities; take it out";
            table.fault(key, message);
        }
    } else if !rule.limit.is_empty() && !table.has("gauge") {
        let message = "missing; expected the usual gauge and its uncertainty beside a limit, since \
                       no reading is judged without";
        table.fault("gauge", message);
    }
    for (key, bounds) in [("new", rule.new), ("limit", rule.limit)] {
        let outside = [bounds.min, bounds.max].into_iter().flatten();
        for end in outside.filter(|end| !rule.range.hold(Ratio::from(*end))) {
            table.fault(key, format!("found {end}, outside `range`; expected within"));
        }
    }
    if rule.group.is_some() && !table.has("apart-max") {
        table.fault("group", "acts on nothing without `apart-max`; add it or take this out");
    }
    if rule.correction.is_some() && rule.unit.dimension() != Dimension::Resistance {
        table.fault("correction", "is for resistances; take it out");
    }
}

/// Reads how the engine breathes.
pub(crate) fn read_strokes(root: &Table<'_>) -> Option<Strokes> {
    let strokes = root.optional("strokes", "2 or 4, without quotes")?;
    let number = strokes.whole(&(2..=4))?;
    let known = Strokes::new(number).ok();
    if known.is_none() {
        strokes.fault(format!("found {number}; expected 2 or 4, without quotes"));
    }
    known
}

/// How the unit of a quantity has to be, by those it follows from; `None` where it fits.
pub(crate) fn unit_misfit(by: Derivation, own: Unit, of: &[Unit]) -> Option<String> {
    let alike = of.iter().all(|unit| Some(unit) == of.first());
    if by != Derivation::LossRate && !alike {
        return Some("found quantities of different units; expected one unit".to_owned());
    }
    let lost_a_minute = |pressure: Unit| match pressure {
        Unit::Kilopascal => Some(Unit::KilopascalPerMinute),
        Unit::Bar => Some(Unit::BarPerMinute),
        Unit::Psi => Some(Unit::PsiPerMinute),
        _ => None,
    };
    let expected = match by {
        Derivation::OutOfRound | Derivation::Taper | Derivation::Spread | Derivation::Clearance => {
            of.first().copied()?
        }
        Derivation::PercentOf | Derivation::CompressionLoss => Unit::Percent,
        Derivation::Quotient => Unit::Bare,
        Derivation::LossRate => {
            let [before, after, Unit::Minute] = of else {
                return Some("expected two pressures and minutes".to_owned());
            };
            match lost_a_minute(*before).filter(|_| before == after) {
                Some(unit) => unit,
                None => return Some("expected two pressures in one unit, and minutes".to_owned()),
            }
        }
    };
    (own != expected).then(|| format!("gives {expected}, and this quantity is in {own}"))
}
