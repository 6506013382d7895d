//! Reads the engine type, its positions and its items.

use crate::applies::{AppliesDraft, read_applies};
use crate::checks;
use crate::limits::{Amounts, IntervalDraft, LimitDraft, read_amounts, read_interval, read_limits};
use crate::read::{Entry, Keys, Table, one_of};
use crate::sheets;
use crate::trends::{TrendDraft, read_trend};
use gudgeon_life::fact::EventKind;
use gudgeon_life::hours::Basis;
use gudgeon_life::ids::{ItemId, PartKind, PositionId};
use gudgeon_life::programme::{
    Action, Class, EngineType, Granted, Item, NextPolicy, Notice, Position, Subject, Tolerance,
};

const TYPE_KEYS: Keys = Keys {
    known: &[
        "name",
        "title",
        "invented",
        "basis",
        "entered-up-to",
        "strokes",
        "positions",
        "items",
        "quantities",
        "sheets",
    ],
    refused: &[("limits", LIMIT_IS_OF_QUANTITY), ("applies-to", APPLIES_TO_ITEM)],
};

const POSITION_KEYS: Keys = Keys { known: &["id", "title"], refused: &[] };

/// The keys of an item.
pub(crate) const ITEM_KEYS: Keys = Keys {
    known: &[
        "id",
        "title",
        "component",
        "positions",
        "class",
        "source",
        "counts-from",
        "effective",
        "once",
        "first",
        "every",
        "calendar",
        "shelf",
        "code-day",
        "limits",
        "next",
        "tolerance",
        "granted",
        "extension-percent",
        "on-condition",
        "trend",
        "satisfied-by",
        "done-by",
        "until",
        "after",
        "applies-to",
        "notice",
    ],
    refused: &[
        ("limit", LIMIT_IS_OF_QUANTITY),
        ("events", EVENTS_ARE_AFTER),
        ("recheck", RECHECK_IS_RECORDED),
        ("preservation", PRESERVATION_IS_RECORDED),
    ],
};

const APPLIES_TO_ITEM: &str = "says which engines one item is for; expected inside an item. What is \
     for other engines altogether goes in a type of its own";
const LIMIT_IS_OF_QUANTITY: &str = "a measured limit stands with its quantity, and an item follows it by \
     `trend = { quantity = \"...\" }`; intervals go under `every`, several of them under `limits` of an item";
const EVENTS_ARE_AFTER: &str = "no such key; what makes an item due at once stands under `after`";
const RECHECK_IS_RECORDED: &str = "a recheck is recorded with its finding, not in a programme; take \
     it out";
const PRESERVATION_IS_RECORDED: &str = "a preservation is recorded with its engine, not in a \
     programme; take it out. Coming back into use is `after = [\"return-to-use\"]`";

/// The keys of `tolerance`.
pub(crate) const TOLERANCE_KEYS: Keys =
    Keys { known: &["hours", "months", "days", "percent", "hours-max", "days-max"], refused: &[] };
/// The keys of `notice`.
pub(crate) const NOTICE_KEYS: Keys = Keys { known: &["hours", "days"], refused: &[] };

/// A position as far as it could be read.
pub(crate) struct PositionDraft<'a> {
    pub(crate) table: Table<'a>,
    pub(crate) id: Option<PositionId>,
    title: Option<String>,
}

impl PositionDraft<'_> {
    fn finish(self) -> Option<Position> {
        Some(Position { id: self.id?, title: self.title? })
    }
}

/// An item as far as it could be read: what could not be is `None`, and has its fault recorded.
pub(crate) struct ItemDraft<'a> {
    pub(crate) table: Table<'a>,
    pub(crate) id: Option<ItemId>,
    pub(crate) title: Option<String>,
    pub(crate) subject: Option<Subject>,
    pub(crate) positions: Vec<PositionId>,
    pub(crate) class: Option<Class>,
    pub(crate) source: Option<String>,
    pub(crate) limits: Vec<LimitDraft<'a>>,
    pub(crate) next: Option<NextPolicy>,
    pub(crate) tolerance: Option<(Table<'a>, Tolerance)>,
    pub(crate) granted: Option<Granted>,
    pub(crate) extension_percent: Option<u32>,
    pub(crate) on_condition: Option<IntervalDraft<'a>>,
    pub(crate) trend: Option<TrendDraft<'a>>,
    pub(crate) satisfied_by: Vec<ItemId>,
    pub(crate) done_by: Vec<Action>,
    pub(crate) until: Vec<Action>,
    pub(crate) after: Vec<EventKind>,
    pub(crate) applies: Option<AppliesDraft<'a>>,
    pub(crate) notice: Option<(Table<'a>, Notice)>,
}

impl ItemDraft<'_> {
    /// Whether only a renewal or an overhaul counts as having done it.
    pub(crate) fn is_renewal(&self) -> bool {
        !self.done_by.is_empty() && self.done_by.iter().all(|action| action.starts_afresh())
    }

    /// Whether any interval runs again after the work, as far as can be told.
    pub(crate) fn repeats(&self) -> bool {
        let goes_on = |action: &Action| !self.until.contains(action);
        self.limits.iter().any(|limit| limit.every.is_some()) && self.done_by.iter().any(goes_on)
    }

    fn finish(self) -> Option<Item> {
        Some(Item {
            id: self.id?,
            title: self.title?,
            subject: self.subject?,
            positions: self.positions,
            class: self.class?,
            source: self.source?,
            limits: self.limits.into_iter().map(LimitDraft::finish).collect::<Option<_>>()?,
            // A renewal always counts from done, and what is done once counts from nothing.
            next: self.next.unwrap_or(NextPolicy::FromDone),
            tolerance: self.tolerance.map(|(_, tolerance)| tolerance),
            granted: self.granted.unwrap_or(Granted::Automatic),
            extension_percent: self.extension_percent,
            on_condition: self.on_condition.map(|every| every.amounts.interval()),
            trend: match self.trend {
                Some(trend) => Some(trend.finish()?),
                None => None,
            },
            satisfied_by: self.satisfied_by,
            done_by: self.done_by,
            until: self.until,
            after: self.after,
            applies: self.applies.map(|it| it.applies).unwrap_or_default(),
            notice: self.notice.map(|(_, notice)| notice).unwrap_or_default(),
        })
    }
}

/// Reads the whole file. `None` only when a fault has been recorded.
pub(crate) fn read_engine_type(root: &Table<'_>) -> Option<EngineType> {
    root.refuse_other_keys(&TYPE_KEYS);
    let name = root
        .required("name", "a short name for engines to be registered under, such as \"fan-twin\"")
        .and_then(|entry| entry.slug(ItemId::new));
    let title = root.required("title", "what people call the type, in quotes");
    let title = title.and_then(|entry| entry.text());
    let invented = root
        .required("invented", "true for a type made up for a demonstration, false for a real one")
        .and_then(|entry| entry.flag());
    let basis = root
        .required("basis", one_of(&Basis::ALL, Basis::word))
        .and_then(|entry| entry.word(&Basis::ALL, Basis::word));
    let entered_up_to = root
        .required(
            "entered-up-to",
            "the day up to which directives and bulletins are entered, written without quotes, \
             such as 2026-10-31",
        )
        .and_then(|entry| entry.date());
    let positions = read_positions(root);
    let items = read_items(root);
    checks::check_positions(&positions, &items);
    checks::check_items(&items);
    let bench = sheets::read_bench(root, &positions, &items);
    Some(EngineType {
        name: name?,
        title: title?,
        invented: invented?,
        basis: basis?,
        entered_up_to: entered_up_to?,
        positions: positions.into_iter().map(PositionDraft::finish).collect::<Option<_>>()?,
        items: items.into_iter().map(ItemDraft::finish).collect::<Option<_>>()?,
        bench: bench?,
    })
}

fn tables<'a>(root: &Table<'a>, key: &'static str, expected: &str) -> Vec<Table<'a>> {
    let entries = root.required(key, expected).map(|entry| entry.list()).unwrap_or_default();
    entries.into_iter().filter_map(|entry| entry.table()).collect()
}

fn read_positions<'a>(root: &Table<'a>) -> Vec<PositionDraft<'a>> {
    let tables = tables(root, "positions", "one table [[positions]] for each place on the engine");
    let read = |table: Table<'a>| {
        table.refuse_other_keys(&POSITION_KEYS);
        let id = table.required("id", "a short name, such as \"pto\"");
        let id = id.and_then(|entry| entry.slug(PositionId::new));
        let title = table.required("title", "what people call the place, in quotes");
        let title = title.and_then(|entry| entry.text());
        PositionDraft { table, id, title }
    };
    tables.into_iter().map(read).collect()
}

fn read_items<'a>(root: &Table<'a>) -> Vec<ItemDraft<'a>> {
    let tables = tables(root, "items", "one table [[items]] for each thing to be done");
    (1..).zip(tables).map(|(number, table)| read_item(number, table)).collect()
}

fn read_item(number: usize, table: Table<'_>) -> ItemDraft<'_> {
    let table = table.named_item(number);
    table.refuse_other_keys(&ITEM_KEYS);
    let text = |key, expected| table.required(key, expected).and_then(|entry| entry.text());
    let id = table.required("id", "a short name, such as \"fan-belt\"");
    let id = id.and_then(|entry| entry.slug(ItemId::new));
    let class = table
        .required("class", one_of(&Class::ALL, Class::word))
        .and_then(|entry| entry.word(&Class::ALL, Class::word));
    let next = table
        .optional("next", one_of(&NextPolicy::ALL, NextPolicy::word))
        .and_then(|entry| entry.word(&NextPolicy::ALL, NextPolicy::word));
    let granted = table
        .optional("granted", one_of(&Granted::ALL, Granted::word))
        .and_then(|entry| entry.word(&Granted::ALL, Granted::word));
    let extension = table.optional("extension-percent", "a whole number from 1 to 100");
    ItemDraft {
        id,
        title: text("title", "what people call the item, in quotes"),
        subject: read_subject(&table),
        positions: read_slugs(&table, "positions", "positions of this type", PositionId::new),
        class,
        source: text("source", "where the rule comes from, or \"common practice\" if nowhere"),
        limits: read_limits(&table),
        next,
        tolerance: read_tolerance(&table),
        granted,
        extension_percent: extension.and_then(|entry| entry.whole(&(1..=100))),
        on_condition: read_interval(&table, "on-condition"),
        trend: read_trend(&table),
        satisfied_by: read_slugs(&table, "satisfied-by", "ids of larger items", ItemId::new),
        done_by: read_done_by(&table),
        until: read_until(&table),
        after: read_after(&table),
        applies: read_applies(&table),
        notice: read_notice(&table),
        table,
    }
}

fn read_subject(table: &Table<'_>) -> Option<Subject> {
    let expected = "a short name for the kind of part, such as \"fan-belt\"";
    match table.optional("component", expected) {
        None => Some(Subject::Engine),
        Some(entry) => entry.slug(PartKind::new).map(Subject::Component),
    }
}

const TWICE: &str = "found the same name twice; expected each once";

/// Names in a list, none twice.
pub(crate) fn read_slugs<T: PartialEq>(
    table: &Table<'_>,
    key: &'static str,
    what: &str,
    make: impl Fn(&str) -> Option<T>,
) -> Vec<T> {
    let entries = table.optional(key, format!("a list of {what}"));
    let mut found = Vec::new();
    for entry in entries.map(|entry| entry.list()).unwrap_or_default() {
        match entry.slug(&make) {
            Some(slug) if found.contains(&slug) => entry.fault(TWICE.to_owned()),
            Some(slug) => found.push(slug),
            None => {}
        }
    }
    found
}

/// Required: what was only looked at must never pass for renewed.
fn read_done_by(table: &Table<'_>) -> Vec<Action> {
    let actions = one_of(&Action::ALL, Action::word);
    let entries = table.required("done-by", format!("a list with at least {actions}"));
    read_words(entries, &Action::ALL, Action::word)
}

fn read_until(table: &Table<'_>) -> Vec<Action> {
    let actions = one_of(&Action::ALL, Action::word);
    let entries = table.optional("until", format!("a list with at least {actions}"));
    read_words(entries, &Action::ALL, Action::word)
}

fn read_after(table: &Table<'_>) -> Vec<EventKind> {
    let kinds = one_of(&EventKind::ALL, EventKind::word);
    let entries = table.optional("after", format!("a list with at least {kinds}"));
    read_words(entries, &EventKind::ALL, EventKind::word)
}

fn read_words<T: Copy + PartialEq>(
    entries: Option<Entry<'_, '_>>,
    all: &[T],
    word: impl Fn(T) -> &'static str,
) -> Vec<T> {
    let mut found = Vec::new();
    for entry in entries.map(|entry| entry.list()).unwrap_or_default() {
        match entry.word(all, &word) {
            Some(one) if found.contains(&one) => entry.fault(TWICE.to_owned()),
            Some(one) => found.push(one),
            None => {}
        }
    }
    found
}

fn read_tolerance<'a>(table: &Table<'a>) -> Option<(Table<'a>, Tolerance)> {
    let expected = "hours, months, days or percent, such as { hours = 10, months = 1 }";
    let tolerance = table.optional("tolerance", expected)?.table()?;
    tolerance.refuse_other_keys(&TOLERANCE_KEYS);
    let Amounts { hours, months, days } = read_amounts(&tolerance);
    let percent = tolerance.optional("percent", "a whole number from 1 to 99");
    let percent = percent.and_then(|entry| entry.whole(&(1..=99)));
    let hours_max = tolerance.optional("hours-max", "hours above zero, such as 5");
    let hours_max = hours_max.and_then(|entry| entry.hours_above_zero());
    let days_max = tolerance.optional("days-max", "a whole number of days from 1 to 3650");
    let days_max = days_max.and_then(|entry| entry.whole(&(1..=3650)));
    Some((tolerance, Tolerance { hours, months, days, percent, hours_max, days_max }))
}

fn read_notice<'a>(table: &Table<'a>) -> Option<(Table<'a>, Notice)> {
    let notice = table.optional("notice", "hours, days or both, such as { hours = 5, days = 14 }");
    let notice = notice?.table()?;
    notice.refuse_other_keys(&NOTICE_KEYS);
    let usual = Notice::default();
    let hours = notice.optional("hours", "hours, such as 5 or 0");
    let days = notice.optional("days", "a whole number of days from 0 to 3650");
    let hours = hours.and_then(|entry| entry.hours()).unwrap_or(usual.hours);
    let days = days.and_then(|entry| entry.whole(&(0..=3650))).unwrap_or(usual.days);
    Some((notice, Notice { hours, days }))
}
