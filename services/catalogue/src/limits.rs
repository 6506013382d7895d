//! Reads the limits of an item: where each count begins, how far it goes, how its calendar ends.

use crate::read::{Keys, Table, one_of};
use gudgeon_life::calendar::{CalendarMode, CalendarSpan};
use gudgeon_life::date_code::CodeDay;
use gudgeon_life::hours::Hours;
use gudgeon_life::programme::{CountsFrom, Interval, Limit};
use std::ops::RangeInclusive;

/// A hundred years: more is a slip of the keyboard.
const MONTHS: RangeInclusive<u32> = 1..=1200;
/// A hundred years.
const DAYS: RangeInclusive<u32> = 1..=36_525;

/// The keys of a limit, allowed in the item itself or in a table of `limits`.
pub(crate) const LIMIT_KEYS: [&str; 8] =
    ["calendar", "code-day", "counts-from", "effective", "every", "first", "once", "shelf"];

/// The keys of one of the `limits`.
pub(crate) const KEYS: Keys = Keys {
    known: &[
        "name",
        "counts-from",
        "effective",
        "once",
        "first",
        "every",
        "calendar",
        "shelf",
        "code-day",
    ],
    refused: &[],
};

/// The keys of an interval.
pub(crate) const SPAN_KEYS: Keys = Keys {
    known: &["hours", "months", "days"],
    refused: &[("years", YEARS), ("percent", "no percentage here; expected hours, months or days")],
};
const YEARS: &str = "write years as months: 5 years are `months = 60`";

/// Hours and calendar time, either or both.
#[derive(Clone, Copy, Default, PartialEq, Eq)]
pub(crate) struct Amounts {
    pub(crate) hours: Option<Hours>,
    pub(crate) months: Option<u32>,
    pub(crate) days: Option<u32>,
}

impl Amounts {
    /// As an interval. Months and days are counted apart, not added up.
    pub(crate) fn interval(&self) -> Interval {
        let months = self.months.map(CalendarSpan::months);
        let spans = months.into_iter().chain(self.days.map(CalendarSpan::days)).collect();
        Interval { hours: self.hours, spans }
    }
}

/// An interval as far as it could be read.
#[derive(Clone)]
pub(crate) struct IntervalDraft<'a> {
    table: Option<Table<'a>>,
    pub(crate) amounts: Amounts,
}

impl IntervalDraft<'_> {
    /// Whether it has such a leg. What cannot be read may have had one.
    fn counts(&self, keys: &[&str]) -> bool {
        self.table.as_ref().is_none_or(|table| keys.iter().any(|key| table.has(key)))
    }
}

/// A limit as far as it could be read.
pub(crate) struct LimitDraft<'a> {
    /// The table it stands in: the item itself, or one of its `limits`.
    pub(crate) table: Table<'a>,
    pub(crate) name: Option<String>,
    pub(crate) counts_from: Option<CountsFrom>,
    pub(crate) once: Vec<Hours>,
    pub(crate) first: Option<IntervalDraft<'a>>,
    pub(crate) every: Option<IntervalDraft<'a>>,
    pub(crate) calendar: Option<CalendarMode>,
    pub(crate) shelf: bool,
    pub(crate) code_day: Option<CodeDay>,
}

impl<'a> LimitDraft<'a> {
    /// The intervals it is counted by: the repeat, and the first where that differs.
    pub(crate) fn intervals(&self) -> impl Iterator<Item = &IntervalDraft<'a>> {
        self.first.iter().chain(&self.every)
    }

    /// Whether it has an hours leg.
    pub(crate) fn counts_hours(&self) -> bool {
        self.table.has("once") || self.intervals().any(|it| it.counts(&["hours"]))
    }

    /// Whether it has a calendar leg.
    pub(crate) fn counts_calendar(&self) -> bool {
        self.intervals().any(|it| it.counts(&["months", "days"]))
    }

    /// Whether it counts months.
    pub(crate) fn counts_months(&self) -> bool {
        self.intervals().any(|it| it.counts(&["months"]))
    }

    /// The limit, unless a fault was found in it.
    pub(crate) fn finish(self) -> Option<Limit> {
        Some(Limit {
            name: self.name,
            counts_from: self.counts_from?,
            once: self.once,
            first: self.first.map(|first| first.amounts.interval()),
            every: self.every.map(|every| every.amounts.interval()).unwrap_or_default(),
            calendar: self.calendar.unwrap_or(CalendarMode::Day),
            shelf: self.shelf,
            code_day: self.code_day.unwrap_or_default(),
        })
    }
}

/// Reads the one limit written in the item itself, or all of its `limits`. An item that only comes after
/// something that happened has none.
pub(crate) fn read_limits<'a>(item: &Table<'a>) -> Vec<LimitDraft<'a>> {
    let Some(limits) = item.optional("limits", "one table [[items.limits]] for each limit") else {
        let by_happening_alone = item.has("after") && !LIMIT_KEYS.iter().any(|key| item.has(key));
        return if by_happening_alone { Vec::new() } else { vec![read_limit(item.clone())] };
    };
    for key in LIMIT_KEYS.into_iter().filter(|key| item.has(key)) {
        item.fault(key, "stands beside `limits`; expected inside one of its tables");
    }
    let tables = limits.list().into_iter().filter_map(|entry| entry.table());
    tables
        .map(|table| {
            table.refuse_other_keys(&KEYS);
            let name = table.required("name", "what this limit is called, such as \"in service\"");
            let name = name.and_then(|entry| entry.text());
            LimitDraft { name, ..read_limit(table) }
        })
        .collect()
}

fn read_limit(table: Table<'_>) -> LimitDraft<'_> {
    let every = read_every(&table);
    let first = read_interval(&table, "first");
    let once = read_once(&table);
    let calendar = table
        .optional("calendar", one_of(&CalendarMode::ALL, CalendarMode::word))
        .and_then(|entry| entry.word(&CalendarMode::ALL, CalendarMode::word));
    let shelf = table.optional("shelf", "true or false").and_then(|entry| entry.flag());
    let code_day = table
        .optional("code-day", one_of(&CODE_DAYS, code_day_word))
        .and_then(|entry| entry.word(&CODE_DAYS, code_day_word));
    let counts_from = read_counts_from(&table);
    let shelf = shelf.unwrap_or(false);
    LimitDraft { name: None, counts_from, once, first, every, calendar, shelf, code_day, table }
}

/// Required, unless steps or something that happened ask for the work.
fn read_every<'a>(limit: &Table<'a>) -> Option<IntervalDraft<'a>> {
    if limit.has("every") || limit.has("once") {
        return read_interval(limit, "every");
    }
    let message = "missing; expected hours, months or days, such as { hours = 100, months = 12 }, \
                   or `once` steps, or `after` alone for what only a happening asks for";
    limit.fault("every", message);
    Some(IntervalDraft { table: None, amounts: Amounts::default() })
}

/// Reads an interval by hours, months or days, under any key.
pub(crate) fn read_interval<'a>(limit: &Table<'a>, key: &'static str) -> Option<IntervalDraft<'a>> {
    let expected = "hours, months or days, such as { hours = 100, months = 12 }";
    let table = limit.optional(key, expected)?.table();
    let amounts = table.as_ref().map(|table| {
        table.refuse_other_keys(&SPAN_KEYS);
        if !SPAN_KEYS.known.iter().any(|key| table.has(key)) {
            let message = "found neither hours nor calendar time; expected hours, months or days";
            limit.fault(key, message);
        }
        read_amounts(table)
    });
    Some(IntervalDraft { table, amounts: amounts.unwrap_or_default() })
}

fn read_once(limit: &Table<'_>) -> Vec<Hours> {
    let entries = limit.optional("once", "a list of hours above zero, such as [2, 10, 25, 50]");
    let mut steps: Vec<Hours> = Vec::new();
    for entry in entries.map(|entry| entry.list()).unwrap_or_default() {
        let Some(step) = entry.hours_above_zero() else { continue };
        match steps.last() {
            Some(before) if *before >= step => {
                entry.fault(format!("found {step} h after {before} h; expected rising steps"));
            }
            _ => steps.push(step),
        }
    }
    steps
}

/// Reads `hours`, `months` and `days` of a table that may have more.
pub(crate) fn read_amounts(table: &Table<'_>) -> Amounts {
    let hours = table.optional("hours", "hours above zero, such as 100, 12.5 or \"12:30\"");
    let months = table.optional("months", "a whole number of months from 1 to 1200");
    let days = table.optional("days", "a whole number of days from 1 to 36525");
    Amounts {
        hours: hours.and_then(|entry| entry.hours_above_zero()),
        months: months.and_then(|entry| entry.whole(&MONTHS)),
        days: days.and_then(|entry| entry.whole(&DAYS)),
    }
}

/// The words of `counts-from`. The day of `effective` stands in a key of its own.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Anchor {
    New,
    Overhaul,
    FirstFitted,
    Fitted,
    Made,
    Effective,
    Done,
}

impl Anchor {
    const ALL: [Self; 7] = [
        Self::New,
        Self::Overhaul,
        Self::FirstFitted,
        Self::Fitted,
        Self::Made,
        Self::Effective,
        Self::Done,
    ];

    const fn word(self) -> &'static str {
        match self {
            Self::New => "new",
            Self::Overhaul => "overhaul",
            Self::FirstFitted => "first-fitted",
            Self::Fitted => "fitted",
            Self::Made => "made",
            Self::Effective => "effective",
            Self::Done => "done",
        }
    }
}

fn read_counts_from(table: &Table<'_>) -> Option<CountsFrom> {
    let anchor = table
        .required("counts-from", one_of(&Anchor::ALL, Anchor::word))
        .and_then(|entry| entry.word(&Anchor::ALL, Anchor::word))?;
    if anchor != Anchor::Effective && table.has("effective") {
        let message = "acts only with `counts-from = \"effective\"`; take one of the two out";
        table.fault("effective", message);
    }
    Some(match anchor {
        Anchor::New => CountsFrom::New,
        Anchor::Overhaul => CountsFrom::Overhaul,
        Anchor::FirstFitted => CountsFrom::FirstFitted,
        Anchor::Fitted => CountsFrom::Fitted,
        Anchor::Made => CountsFrom::Made,
        Anchor::Done => CountsFrom::Done,
        Anchor::Effective => {
            let day = "the day it took effect, written without quotes, such as 2026-05-01";
            CountsFrom::Effective(table.required("effective", day).and_then(|day| day.date())?)
        }
    })
}

const CODE_DAYS: [CodeDay; 2] = [CodeDay::First, CodeDay::Last];

const fn code_day_word(day: CodeDay) -> &'static str {
    match day {
        CodeDay::First => "first",
        CodeDay::Last => "last",
    }
}
