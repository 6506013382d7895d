//! `calc due`: one item and its last work in, its due line and working out.

use super::answer;
use chrono::NaiveDate;
use gudgeon_api::read::{Fields, Node, Value};
use gudgeon_life::calendar::{CalendarMode, CalendarSpan};
use gudgeon_life::hours::Hours;
use gudgeon_life::line::{DueLine, Overrun};
use gudgeon_life::programme::{Class, Granted, NextPolicy, Notice, Tolerance};
use gudgeon_life::rule::Rule;
use gudgeon_life::sum::{DueSum, due_sum};
use serde::Serialize;

/// The longest interval or tolerance: a century.
const MONTHS_MAX: i64 = 1200;
/// The same in days.
const DAYS_MAX: i64 = 36_525;
/// The largest percentage.
const PERCENT_MAX: i64 = 100;

#[derive(Serialize)]
struct DueOut {
    due: AtOut,
    latest: AtOut,
    last_overrun: ByOut,
    last_overrun_beyond_tolerance: bool,
    overdue_by: ByOut,
    governs: &'static str,
    status: &'static str,
    working: Vec<String>,
}

impl DueOut {
    fn new(line: &DueLine, as_of: NaiveDate, working: Vec<String>) -> Self {
        Self {
            due: AtOut::new(line.due_hours(), line.due_on()),
            latest: AtOut::new(line.latest_hours(), line.latest_on()),
            last_overrun: ByOut::new(line.last_overrun),
            last_overrun_beyond_tolerance: line.last_overrun_beyond_tolerance,
            overdue_by: ByOut::new(line.overdue_by(as_of)),
            governs: line.governs(as_of).word(),
            status: line.status(as_of).word(),
            working,
        }
    }
}

#[derive(Serialize)]
struct AtOut {
    hours: Option<String>,
    on: Option<String>,
}

impl AtOut {
    /// Hours round down: nobody is told a later due than there is.
    fn new(hours: Option<Hours>, on: Option<NaiveDate>) -> Self {
        Self { hours: hours.map(Hours::tenths_down), on: on.map(|day| day.to_string()) }
    }
}

#[derive(Serialize)]
struct ByOut {
    hours: String,
    days: i64,
}

impl ByOut {
    fn new(late: Overrun) -> Self {
        Self { hours: late.hours.tenths_up(), days: late.days }
    }
}

/// Reads an item, its last work and what was due then; gives what is due now, and how it comes about.
pub(super) fn due(fields: &Fields<'_>) -> Option<String> {
    let as_of = fields.required("as_of").and_then(|it| it.day());
    let hours_now = fields.optional("hours_now").and_then(|it| it.hours());
    let item = fields.required("item").and_then(|it| item(&it));
    let last = moment(fields, "last");
    let was_due = moment(fields, "was_due");
    let (as_of, item) = (as_of?, item?);
    let (line, working) = due_sum(&DueSum {
        as_of,
        hours_now,
        rule: item.rule,
        every_hours: item.every_hours,
        every_spans: item.every_spans,
        calendar: item.calendar,
        last,
        was_due,
    });
    answer(&DueOut::new(&line, as_of, working))
}

/// A day and hours, either or both of them unknown.
fn moment(fields: &Fields<'_>, name: &'static str) -> (Option<NaiveDate>, Option<Hours>) {
    let Some(value) = fields.optional(name) else { return (None, None) };
    let inner = value.object();
    let on = inner.optional("on").and_then(|it| it.day());
    (on, inner.optional("hours").and_then(|it| it.hours()))
}

/// An item with its intervals.
struct Item {
    every_hours: Option<Hours>,
    every_spans: Vec<CalendarSpan>,
    calendar: CalendarMode,
    rule: Rule,
}

/// The item. What may be left out means the same as in a programme's file.
fn item(value: &Value<'_>) -> Option<Item> {
    let fields = value.object();
    let every = fields.required("every").map(|it| every(&it));
    let class = fields.required("class").and_then(|it| it.word(&Class::ALL, Class::word));
    let calendar =
        fields.optional("calendar").and_then(|it| it.word(&CalendarMode::ALL, CalendarMode::word));
    let next = fields.optional("next").and_then(|it| it.word(&NextPolicy::ALL, NextPolicy::word));
    let granted = fields.optional("granted").and_then(|it| it.word(&Granted::ALL, Granted::word));
    let extension_percent = whole(&fields, "extension_percent", 0..=PERCENT_MAX);
    let tolerance = fields.optional("tolerance").map(|it| tolerance(&it));
    let (every_hours, every_spans) = every?;
    let class = class?;
    let rule = Rule {
        class,
        next: next.unwrap_or(NextPolicy::FromDone),
        tolerance,
        granted: granted.unwrap_or(Granted::Automatic),
        extension_percent: extension_percent.filter(|percent| *percent > 0),
        notice: Notice::default(),
    };
    Some(Item { every_hours, every_spans, calendar: calendar.unwrap_or(CalendarMode::Day), rule })
}

/// The intervals by hours and by the calendar.
fn every(value: &Value<'_>) -> (Option<Hours>, Vec<CalendarSpan>) {
    let fields = value.object();
    let hours = fields.optional("hours").and_then(|it| match it.hours() {
        Some(Hours::ZERO) => it.fault("out-of-range", "an interval of hours is above zero"),
        hours => hours,
    });
    let months = whole(&fields, "months", 1..=MONTHS_MAX).map(CalendarSpan::months);
    let days = whole(&fields, "days", 1..=DAYS_MAX).map(CalendarSpan::days);
    let named = ["hours", "months", "days"];
    let none = named.into_iter().all(|name| fields.optional(name).is_none());
    if none && matches!(value.node(), Node::Object(_)) {
        value.fault::<()>("missing", "give at least one of hours, months and days");
    }
    (hours, months.into_iter().chain(days).collect())
}

fn tolerance(value: &Value<'_>) -> Tolerance {
    let fields = value.object();
    Tolerance {
        hours: fields.optional("hours").and_then(|it| it.hours()),
        months: whole(&fields, "months", 0..=MONTHS_MAX),
        days: whole(&fields, "days", 0..=DAYS_MAX),
        percent: whole(&fields, "percent", 0..=PERCENT_MAX),
        hours_max: fields.optional("hours_max").and_then(|it| it.hours()),
        days_max: whole(&fields, "days_max", 0..=DAYS_MAX),
    }
}

fn whole(
    fields: &Fields<'_>,
    name: &'static str,
    limits: std::ops::RangeInclusive<i64>,
) -> Option<u32> {
    fields.optional(name)?.whole(limits).and_then(|value| u32::try_from(value).ok())
}
