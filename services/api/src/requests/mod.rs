//! From the body of a request to a fact: one reader for each kind of fact.
//!
//! A reader asks for all its fields, so that all faults are found. A field that is wrong counts as not given:
//! its fault is on record, and nothing of a body with faults is used.

pub(crate) mod amendments;
pub(crate) mod components;
pub(crate) mod engine_types;
pub(crate) mod engines;
pub(crate) mod happenings;
mod hardware;
pub(crate) mod inspections;
mod measurements;
pub(crate) mod parties;

use crate::problem::Problem;
use crate::read::{self, Fields, Found, Value};
use chrono::{Datelike, NaiveDate};
use gudgeon_life::calendar::{CalendarMode, CalendarSpan, add, day_after};
use gudgeon_life::fact::{Content, Entry, Fact, Papers};
use gudgeon_life::hours::Hours;
use gudgeon_life::ids::{FactId, PartyId};
use gudgeon_store::{Instant, Texts};
use std::cell::RefCell;
use std::collections::BTreeMap;

/// Characters in a name, number or mark.
pub(crate) const NAME_CHARS_MAX: usize = 120;
/// Characters in a note or a reason.
pub(crate) const NOTE_CHARS_MAX: usize = 2000;
/// Entries in a list of findings, measurements, work, readings or marks.
pub(crate) const ENTRIES_MAX: usize = 500;
/// The first day that a record can be about: there were no such engines before.
const FIRST_YEAR: i32 = 1900;
/// Years that a preservation, a permission or a recheck may reach ahead: further is a slip of the pen, and
/// would keep a line quiet for good.
const YEARS_AHEAD_MAX: u32 = 20;

/// The day of facts that hold from no day: the registration of a party, a withdrawal. A fixed day, so that
/// the same body is the same fact whenever it is sent.
pub(crate) const UNDATED: NaiveDate = match NaiveDate::from_ymd_opt(1970, 1, 1) {
    Some(day) => day,
    None => NaiveDate::MIN,
};

/// A fact read from a body, with what travels beside it.
#[derive(Debug)]
pub(crate) struct Posted {
    pub(crate) fact: Fact,
    pub(crate) texts: Texts,
    pub(crate) recorded_at: Option<Instant>,
}

/// What a reader knows besides the body.
#[derive(Debug)]
pub(crate) struct Context {
    /// The clock's day in UTC.
    pub(crate) today: NaiveDate,
    /// The workshop whose key is used, or the owner; neither may tell of the other's things.
    pub(crate) shop: Option<PartyId>,
    private: RefCell<BTreeMap<String, String>>,
}

/// Reads a body with one reader. Without an `id` in the address, the body has to hold it.
///
/// # Errors
/// A body that is no JSON, or holds faults.
pub(crate) fn read(
    body: &[u8],
    id: Option<FactId>,
    today: NaiveDate,
    shop: Option<PartyId>,
    reader: impl FnOnce(&Fields<'_>, &Context) -> Option<Entry>,
) -> Result<Posted, Problem> {
    let node = read::parse(body).map_err(Problem::malformed)?;
    let found = Found::default();
    let context = Context { today, shop, private: RefCell::default() };
    let (read, recorded_at) = {
        let fields = found.object(&node);
        let recorded_at = fields.optional("recorded_at").and_then(|it| it.instant());
        let id = id.or_else(|| fields.required("id").and_then(|it| it.uid()).map(FactId));
        (id.zip(reader(&fields, &context)), recorded_at)
    };
    let as_posted = found.into_result().map_err(Problem::invalid)?;
    let (id, entry) =
        read.ok_or_else(|| Problem::internal("a reader gave neither entry nor fault"))?;
    Ok(Posted {
        fact: Fact { id, entry },
        texts: Texts { private: context.private.into_inner(), as_posted },
        recorded_at: recorded_at.map(|at| Instant(at.timestamp_micros())),
    })
}

impl Context {
    /// A day that a record can be about: not before 1900, not after tomorrow (somewhere it is tomorrow).
    pub(crate) fn day(&self, value: Option<Value<'_>>) -> Option<NaiveDate> {
        let value = value?;
        let day = value.day()?;
        let last = day_after(self.today);
        if day > last {
            let detail = format!("{day} lies in the future; today is {} (UTC)", self.today);
            return value.fault("future-date", detail);
        }
        if day.year() < FIRST_YEAR {
            let detail = format!("{day} is too early; records begin in {FIRST_YEAR}");
            return value.fault("too-early", detail);
        }
        Some(day)
    }

    /// Takes a text that is personal or free, to be kept beside the fact. Tells whether there was one.
    pub(crate) fn private(&self, value: Option<Value<'_>>, chars_max: usize) -> bool {
        let text = value.as_ref().and_then(|value| value.text(chars_max));
        if let (Some(value), Some(text)) = (value, text) {
            self.private.borrow_mut().insert(value.pointer().to_owned(), text);
            return true;
        }
        false
    }

    /// An entry dated by the field `on`.
    pub(crate) fn dated(&self, fields: &Fields<'_>, content: Option<Content>) -> Option<Entry> {
        let on = self.day(fields.required("on"));
        entry(fields, on, content)
    }
}

/// An entry with its place in the day, once day and content are known.
pub(crate) fn entry(
    fields: &Fields<'_>,
    on: Option<NaiveDate>,
    content: Option<Content>,
) -> Option<Entry> {
    let order_in_day = match fields.optional("order_in_day") {
        Some(order) => order.whole(0..=999).and_then(|order| u16::try_from(order).ok())?,
        None => 0,
    };
    Some(Entry { on: on?, order_in_day, content: content? })
}

/// The last day of something that begins on the day `from`: not before it, and not out of all reason.
pub(crate) fn end(value: Option<Value<'_>>, from: Option<NaiveDate>) -> Option<NaiveDate> {
    let value = value?;
    let day = value.day()?;
    let from = from?;
    if day < from {
        let detail = format!("{day} lies before {from}, the day it holds from");
        return value.fault("before-start", detail);
    }
    let last = add(from, CalendarSpan::months(12 * YEARS_AHEAD_MAX), CalendarMode::Day);
    if day > last {
        let detail =
            format!("{day} lies more than {YEARS_AHEAD_MAX} years after {from}; check the year");
        return value.fault("too-late", detail);
    }
    Some(day)
}

/// `{on, hours_since}`: what papers say of the last overhaul before a thing was registered, on a day and with
/// so many hours on it.
pub(crate) fn papers(
    value: &Value<'_>,
    registered_on: Option<NaiveDate>,
    hours: Option<Hours>,
    context: &Context,
) -> Option<Papers> {
    let fields = value.object();
    let on = context.day(fields.required("on"));
    let hours_since = fields.required("hours_since").and_then(|it| it.hours());
    let (on, hours_since) = on.zip(hours_since)?;
    if let Some(registered_on) = registered_on.filter(|registered_on| on > *registered_on) {
        let detail = format!(
            "overhauled on {on}, after the registration of {registered_on}; post it as work of its own"
        );
        fields.fault("on", "after-registration", detail);
        return None;
    }
    if let Some(hours) = hours.filter(|hours| hours_since > *hours) {
        let detail = format!("{hours_since} h run since the overhaul, but only {hours} h in all");
        fields.fault("hours_since", "contradiction", detail);
        return None;
    }
    Some(Papers { on, hours_since })
}

/// A short text that is part of the fact: a serial number, a mark.
pub(crate) fn name(value: Option<Value<'_>>) -> Option<String> {
    value?.text(NAME_CHARS_MAX)
}
