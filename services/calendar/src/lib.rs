//! Calendars of what is due on somebody's engines, as a feed to subscribe to and as a file beside a mail.
//!
//! Every line in trouble, or due within twelve months, is one event on one whole day. It keeps its identifier for
//! ever: done, it moves to the day on which it is due next, or is told as cancelled when that is far off. What is
//! due by hours stands on the early day of its forecast, the one to plan by, and says that it is a forecast.

mod event;
mod ics;

pub use ics::CONTENT_TYPE;

use chrono::{Days, NaiveDate};
use event::Event;
use gudgeon_life::calendar::days_between;
use gudgeon_life::ids::{PartyId, Uid};
use gudgeon_life::line::DueLine;
use gudgeon_life::sure::engine::Forecasts;
use gudgeon_store::{CalendarEvent, Instant, Programmes, Store, StoreError};
use std::collections::{BTreeMap, HashMap};

/// How long an event is told as cancelled, in days: long enough for every program that looks now and then.
const CANCELLED_DAYS: i64 = 90;

/// The calendar of an owner on a day, as iCalendar text (RFC 5545). The same as long as the records and the day
/// are; what it told is kept, so that changes are told with a higher sequence.
///
/// # Errors
/// [`StoreError`] when the database fails.
pub fn calendar(
    store: &Store,
    programmes: &dyn Programmes,
    owner: PartyId,
    today: NaiveDate,
    now: Instant,
) -> Result<String, StoreError> {
    let events = events(store, programmes, owner, today)?;
    let wanted: Vec<_> = events.values().map(|event| event.wanted.clone()).collect();
    let told = store.calendar(owner, &wanted, now)?;
    let shown = told.iter().filter(|it| is_shown(it, now));
    let described = shown.map(|it| (it, events.get(&it.uid)));
    Ok(ics::text(described))
}

/// Whether an event is told: a cancelled one only for a time.
fn is_shown(event: &CalendarEvent, now: Instant) -> bool {
    let age = (now.0 - event.changed_at.0) / (24 * 3600 * 1_000_000);
    !event.cancelled || age <= CANCELLED_DAYS
}

/// What falls due on the engines of an owner, by identifier.
fn events(
    store: &Store,
    programmes: &dyn Programmes,
    owner: PartyId,
    today: NaiveDate,
) -> Result<BTreeMap<Uid, Event>, StoreError> {
    let engines = store.engines_of_owners(&[owner])?;
    let keys: Vec<i64> = engines.iter().map(|row| row.key).collect();
    let mut lines: HashMap<i64, Vec<DueLine>> = HashMap::new();
    for (key, line) in store.due_lines(&keys)? {
        lines.entry(key).or_default().push(line);
    }
    let types = store.active_programmes(programmes)?;
    let mut events = BTreeMap::new();
    for row in &engines {
        let engine_type = row.engine_type.as_ref().and_then(|name| types.get(name));
        let forecasts = Forecasts::from(row.flying);
        for line in lines.remove(&row.key).unwrap_or_default() {
            let forecast = forecasts.line(&line, today);
            let engine_type = engine_type.map(|(it, _)| it.as_ref());
            let event = Event::of(row, engine_type, &line, forecast, today);
            events.extend(event.map(|event| (event.wanted.uid, event)));
        }
    }
    Ok(events)
}

/// A year from a day, to which events are told.
fn year_from(today: NaiveDate) -> NaiveDate {
    today.checked_add_days(Days::new(365)).unwrap_or(NaiveDate::MAX)
}

/// Whether a day is near enough to be told.
fn is_near(day: NaiveDate, today: NaiveDate) -> bool {
    days_between(day, year_from(today)) >= 0
}
