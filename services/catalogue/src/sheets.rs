//! Reads the inspection sheets, and puts together what an engine type says of the bench.

use crate::checks::bench::check_bench;
use crate::items::{ItemDraft, PositionDraft, read_slugs};
use crate::quantities::{read_quantities, read_strokes};
use crate::read::{Keys, Table, one_of};
use crate::trends::check_trends;
use gudgeon_life::ids::{ItemId, PositionId, Quantity};
use gudgeon_life::sheet::{Asked, Bench, Point, Readings, Sheet, SheetKind};

/// The keys of a sheet.
pub(crate) const SHEET_KEYS: Keys =
    Keys { known: &["id", "title", "kind", "points"], refused: &[] };
/// The keys of a point.
pub(crate) const POINT_KEYS: Keys = Keys {
    known: &["asks", "title", "positions", "item", "quantity", "readings", "grid", "lines"],
    refused: &[],
};

/// A sheet as far as it could be read.
pub(crate) struct SheetDraft<'a> {
    pub(crate) table: Table<'a>,
    pub(crate) id: Option<ItemId>,
    title: Option<String>,
    kind: Option<SheetKind>,
    pub(crate) points: Vec<PointDraft<'a>>,
}

/// A point as far as it could be read.
pub(crate) struct PointDraft<'a> {
    pub(crate) table: Table<'a>,
    pub(crate) point: Option<Point>,
}

impl SheetDraft<'_> {
    fn finish(self) -> Option<Sheet> {
        let points = self.points.into_iter().map(|it| it.point).collect::<Option<_>>()?;
        Some(Sheet { id: self.id?, title: self.title?, kind: self.kind?, points })
    }
}

/// Reads quantities and sheets. `None` only when a fault has been recorded.
pub(crate) fn read_bench(
    root: &Table<'_>,
    positions: &[PositionDraft<'_>],
    items: &[ItemDraft<'_>],
) -> Option<Bench> {
    let strokes = read_strokes(root);
    let quantities = read_quantities(root);
    let sheets = read_sheets(root);
    check_bench(root, strokes, &quantities, &sheets, positions, items);
    check_trends(items, &quantities);
    Some(Bench {
        strokes,
        quantities: quantities.into_iter().map(|it| it.rule).collect::<Option<_>>()?,
        sheets: sheets.into_iter().map(SheetDraft::finish).collect::<Option<_>>()?,
    })
}

fn read_sheets<'a>(root: &Table<'a>) -> Vec<SheetDraft<'a>> {
    let expected = "one table [[sheets]] for each inspection sheet";
    let entries = root.optional("sheets", expected).map(|it| it.list()).unwrap_or_default();
    let tables = entries.into_iter().filter_map(|entry| entry.table());
    (1..).zip(tables).map(|(number, table)| read_sheet(table.named_part(number))).collect()
}

fn read_sheet(table: Table<'_>) -> SheetDraft<'_> {
    table.refuse_other_keys(&SHEET_KEYS);
    let id = table.required("id", "a short name, such as \"teardown\"");
    let id = id.and_then(|entry| entry.slug(ItemId::new));
    let title = table.required("title", "what people call the sheet, in quotes");
    let title = title.and_then(|entry| entry.text());
    let kind = table
        .required("kind", one_of(&SheetKind::ALL, SheetKind::word))
        .and_then(|entry| entry.word(&SheetKind::ALL, SheetKind::word));
    let entries = table.required("points", "one table [[sheets.points]] for each point");
    let entries = entries.map(|entry| entry.list()).unwrap_or_default();
    let tables = entries.into_iter().filter_map(|entry| entry.table());
    let points = (1..).zip(tables).map(|(number, table)| read_point(table.named_part(number)));
    let points = points.collect();
    SheetDraft { table, id, title, kind, points }
}

/// The words of `asks`.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Asks {
    Look,
    Measure,
    Torque,
    Mark,
    Photo,
}

impl Asks {
    const ALL: [Self; 5] = [Self::Look, Self::Measure, Self::Torque, Self::Mark, Self::Photo];

    const fn word(self) -> &'static str {
        match self {
            Self::Look => "look",
            Self::Measure => "measure",
            Self::Torque => "torque",
            Self::Mark => "mark",
            Self::Photo => "photo",
        }
    }

    /// Whether its answer is a figure of a quantity, and not a word about an item.
    const fn is_figure(self) -> bool {
        matches!(self, Self::Measure | Self::Torque)
    }
}

fn read_point(table: Table<'_>) -> PointDraft<'_> {
    table.refuse_other_keys(&POINT_KEYS);
    let title = table.required("title", "the point in the words of the sheet, in quotes");
    let title = title.and_then(|entry| entry.text());
    let positions = read_slugs(&table, "positions", "positions of this type", PositionId::new);
    let lines = table.optional("lines", "a whole number of lines to write on, from 1 to 6");
    let lines = lines.and_then(|entry| entry.whole(&(1..=6))).unwrap_or(1);
    let asks = read_asked(&table);
    let point = || Some(Point { asks: asks?, title: title?, positions, lines });
    let point = point();
    PointDraft { table, point }
}

fn read_asked(table: &Table<'_>) -> Option<Asked> {
    let asks = table
        .required("asks", one_of(&Asks::ALL, Asks::word))
        .and_then(|entry| entry.word(&Asks::ALL, Asks::word))?;
    let of_others: &[&str] =
        if asks.is_figure() { &["item"] } else { &["quantity", "readings", "grid"] };
    for key in of_others.iter().filter(|key| table.has(key)) {
        table.fault(key, format!("acts on nothing where a point asks for a {}", asks.word()));
    }
    if asks.is_figure() {
        let quantity = table.required("quantity", "the id of a quantity, such as \"ring-gap\"");
        let quantity = quantity.and_then(|entry| entry.slug(Quantity::new));
        let readings = read_readings(table);
        return Some(match asks {
            Asks::Torque => Asked::Torque(quantity?, readings),
            _ => Asked::Measure(quantity?, readings),
        });
    }
    let item = table.required("item", "the short name that its answer has, such as \"fan-belt\"");
    let item = item.and_then(|entry| entry.slug(ItemId::new))?;
    Some(match asks {
        Asks::Mark => Asked::Mark(item),
        Asks::Photo => Asked::Photo(item),
        _ => Asked::Look(item),
    })
}

/// One reading, unless the point says otherwise.
fn read_readings(table: &Table<'_>) -> Readings {
    let grid = table.optional("grid", "a whole number of levels from 2 to 6");
    let count = table.optional("readings", "a whole number of readings from 1 to 24");
    if grid.is_some() && count.is_some() {
        table.fault("readings", "stands beside `grid`; expected one of the two");
    }
    match (grid, count) {
        (Some(levels), _) => Readings::Grid(levels.whole(&(2..=6)).unwrap_or(2)),
        (None, Some(count)) => Readings::Count(count.whole(&(1..=24)).unwrap_or(1)),
        (None, None) => Readings::Count(1),
    }
}
