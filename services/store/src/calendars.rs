//! What the calendars of owners told so far: calendar programs take a change only when its number is higher than
//! the one before (RFC 5545, section 3.8.7.4), and take an event away only when they are told that it is off.

use crate::FLEET;
use crate::bytes::Id;
use crate::conn::Store;
use crate::days;
use crate::dialect::{self, AnyConn};
use crate::erasure;
use crate::error::StoreError;
use crate::schema::calendar_entry;
use crate::values::Instant;
use chrono::NaiveDate;
use diesel::prelude::*;
use gudgeon_life::calendar::days_between;
use gudgeon_life::ids::{PartyId, Uid};
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};

/// An estimated day that moves by fewer days than this leaves its event where it is.
const ESTIMATE_DAYS: i64 = 7;

/// An event that a calendar is to tell.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WantedEvent {
    /// The same for the same thing, whenever it falls due.
    pub uid: Uid,
    /// On which day it is.
    pub day: NaiveDate,
    /// Whether that day is a forecast.
    pub estimated: bool,
    /// Its title.
    pub summary: String,
}

/// An event as a calendar tells it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CalendarEvent {
    /// Which.
    pub uid: Uid,
    /// How often it was changed.
    pub sequence: i64,
    /// On which day it is, or was when it was taken off.
    pub day: NaiveDate,
    /// Its title.
    pub summary: String,
    /// Whether it was taken off: done, or not due for long.
    pub cancelled: bool,
    /// When it was last changed.
    pub changed_at: Instant,
}

/// A row, which is also a line of a backup.
#[derive(Clone, Debug, Insertable, AsChangeset, Queryable, Selectable, Serialize, Deserialize)]
#[diesel(table_name = calendar_entry)]
#[serde(deny_unknown_fields)]
pub(crate) struct CalendarRecord {
    pub(crate) party: Id,
    pub(crate) uid: Id,
    sequence: i64,
    #[serde(with = "days::text")]
    day: NaiveDate,
    summary: String,
    cancelled: bool,
    changed_at: i64,
}

impl CalendarRecord {
    fn of(party: PartyId, event: &CalendarEvent) -> Self {
        Self {
            party: Id::from(party.0),
            uid: Id::from(event.uid),
            sequence: event.sequence,
            day: days::stored(event.day),
            summary: event.summary.clone(),
            cancelled: event.cancelled,
            changed_at: event.changed_at.0,
        }
    }

    fn event(self) -> CalendarEvent {
        CalendarEvent {
            uid: Uid::from(self.uid),
            sequence: self.sequence,
            day: self.day,
            summary: self.summary,
            cancelled: self.cancelled,
            changed_at: Instant(self.changed_at),
        }
    }
}

impl Store {
    /// What an owner's calendar tells now that it is to hold these events and no others, by identifier. What it
    /// held before and holds no more is told as taken off. Nothing is written when nothing changed. An erased
    /// owner's calendar is empty.
    ///
    /// # Errors
    /// [`StoreError`] when the database fails.
    pub fn calendar(
        &self,
        party: PartyId,
        wanted: &[WantedEvent],
        now: Instant,
    ) -> Result<Vec<CalendarEvent>, StoreError> {
        let before = self.read(|conn| Ok(told(conn, party)?))?;
        let after = following(&before, wanted, now);
        if before == after {
            return Ok(after.into_values().collect());
        }
        self.write(|conn| {
            if erasure::is_party_erased(conn, party)? {
                return Ok(Vec::new());
            }
            let before = told(conn, party)?;
            let after = following(&before, wanted, now);
            for event in after.values().filter(|it| before.get(&it.uid) != Some(*it)) {
                dialect::put_calendar_entry(conn, &CalendarRecord::of(party, event))?;
            }
            Ok(after.into_values().collect())
        })
    }
}

/// What a party's calendar told, by identifier.
fn told(conn: &mut AnyConn, party: PartyId) -> QueryResult<BTreeMap<Uid, CalendarEvent>> {
    let records: Vec<CalendarRecord> = calendar_entry::table
        .filter(calendar_entry::fleet_id.eq(FLEET))
        .filter(calendar_entry::party.eq(Id::from(party.0)))
        .select(CalendarRecord::as_select())
        .load(conn)?;
    let events = records.into_iter().map(CalendarRecord::event);
    Ok(events.map(|event| (event.uid, event)).collect())
}

/// What a calendar tells after it told something else.
fn following(
    before: &BTreeMap<Uid, CalendarEvent>,
    wanted: &[WantedEvent],
    now: Instant,
) -> BTreeMap<Uid, CalendarEvent> {
    let mut after = before.clone();
    let kept: BTreeSet<Uid> = wanted.iter().map(|it| it.uid).collect();
    for event in after.values_mut() {
        if !event.cancelled && !kept.contains(&event.uid) {
            event.cancelled = true;
            event.sequence += 1;
            event.changed_at = now;
        }
    }
    for it in wanted {
        let known = before.get(&it.uid);
        let stays = known.filter(|known| {
            let moved = days_between(known.day, it.day).abs();
            let near = moved == 0 || it.estimated && moved < ESTIMATE_DAYS;
            near && !known.cancelled && known.summary == it.summary
        });
        if stays.is_none() {
            let event = CalendarEvent {
                uid: it.uid,
                sequence: known.map_or(0, |known| known.sequence + 1),
                day: it.day,
                summary: it.summary.clone(),
                cancelled: false,
                changed_at: now,
            };
            after.insert(it.uid, event);
        }
    }
    after
}

/// Forgets what the calendar of a party that is being erased told.
pub(crate) fn take_away(conn: &mut AnyConn, party: PartyId) -> QueryResult<usize> {
    let theirs = calendar_entry::table
        .filter(calendar_entry::fleet_id.eq(FLEET))
        .filter(calendar_entry::party.eq(Id::from(party.0)));
    diesel::delete(theirs).execute(conn)
}
