//! How each party wants its weekly reports, and which of the links in them still hold.
//!
//! Whoever never chose has no row, and gets what [`Preference::default`] says. Of an erased party a row stays
//! that turns mails off and counts its links as revoked; nobody chooses for it any more.

use crate::FLEET;
use crate::bytes::Id;
use crate::conn::Store;
use crate::dialect::{self, AnyConn};
use crate::erasure;
use crate::error::StoreError;
use crate::plans;
use crate::schema::preference;
use crate::values::Instant;
use chrono::{NaiveTime, Timelike as _, Weekday};
use diesel::prelude::*;
use gudgeon_life::ids::{PartyId, Uid};
use gudgeon_life::preference::{
    Dates, DecimalMark, HoursForm, Mode, Preference, ReportKind, Style,
};
use gudgeon_life::zone::Zone;
use serde::{Deserialize, Serialize};
use std::collections::HashMap;

/// How a party wants one kind of report, as it is kept.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct PreferenceRow {
    /// What was chosen, or else the default.
    pub preference: Preference,
    /// When it was chosen; `None` when nothing ever was.
    pub changed_at: Option<Instant>,
    /// How often all links of these mails were revoked: a link holds while it names this number.
    pub links_generation: i64,
}

/// A row, which is also a line of a backup.
#[derive(Clone, Debug, Insertable, AsChangeset, Queryable, Selectable, Serialize, Deserialize)]
#[diesel(table_name = preference, treat_none_as_null = true)]
#[serde(deny_unknown_fields)]
pub(crate) struct PreferenceRecord {
    pub(crate) party: Id,
    pub(crate) kind: String,
    weekday: i16,
    minute_of_day: i16,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    zone: Option<String>,
    mode: String,
    dates: String,
    decimal_mark: String,
    hours: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    changed_at: Option<i64>,
    links_generation: i64,
}

impl PreferenceRecord {
    fn of(party: PartyId, kind: ReportKind, row: &PreferenceRow) -> Self {
        let it = &row.preference;
        let minute_of_day = it.at.num_seconds_from_midnight() / 60;
        Self {
            party: Id::from(party.0),
            kind: kind.word().to_owned(),
            weekday: i16::try_from(it.weekday.number_from_monday()).unwrap_or(1),
            minute_of_day: i16::try_from(minute_of_day).unwrap_or(0),
            zone: it.zone.map(|zone| zone.name().to_owned()),
            mode: it.mode.word().to_owned(),
            dates: it.style.dates.word().to_owned(),
            decimal_mark: it.style.decimal_mark.word().to_owned(),
            hours: it.style.hours.word().to_owned(),
            changed_at: row.changed_at.map(|at| at.0),
            links_generation: row.links_generation,
        }
    }

    fn row(&self) -> Result<PreferenceRow, StoreError> {
        let corrupt =
            || StoreError::Corrupt(format!("the preference of {}", Uid::from(self.party)));
        let weekday = u8::try_from(self.weekday - 1).ok();
        let weekday = weekday.and_then(|day| Weekday::try_from(day).ok()).ok_or_else(corrupt)?;
        let seconds = u32::try_from(i32::from(self.minute_of_day) * 60).ok();
        let at = seconds.and_then(|it| NaiveTime::from_num_seconds_from_midnight_opt(it, 0));
        let preference = Preference {
            weekday,
            at: at.ok_or_else(corrupt)?,
            zone: self.zone.as_deref().map(Zone::parse).transpose().ok().ok_or_else(corrupt)?,
            mode: named(Mode::ALL, Mode::word, &self.mode).ok_or_else(corrupt)?,
            style: Style {
                dates: named(Dates::ALL, Dates::word, &self.dates).ok_or_else(corrupt)?,
                decimal_mark: named(DecimalMark::ALL, DecimalMark::word, &self.decimal_mark)
                    .ok_or_else(corrupt)?,
                hours: named(HoursForm::ALL, HoursForm::word, &self.hours).ok_or_else(corrupt)?,
            },
        };
        let changed_at = self.changed_at.map(Instant);
        Ok(PreferenceRow { preference, changed_at, links_generation: self.links_generation })
    }
}

/// The one of these that has this word.
fn named<T: Copy, const N: usize>(
    all: [T; N],
    word: impl Fn(T) -> &'static str,
    found: &str,
) -> Option<T> {
    all.into_iter().find(|it| word(*it) == found)
}

impl Store {
    /// How a party wants one kind of report.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn preference(
        &self,
        party: PartyId,
        kind: ReportKind,
    ) -> Result<PreferenceRow, StoreError> {
        self.read(|conn| find(conn, party, kind))
    }

    /// How these parties want one kind of report; those who never chose are left out.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn preferences(
        &self,
        parties: &[PartyId],
        kind: ReportKind,
    ) -> Result<HashMap<PartyId, PreferenceRow>, StoreError> {
        let ids: Vec<Id> = parties.iter().map(|party| Id::from(party.0)).collect();
        self.read(|conn| {
            let records: Vec<PreferenceRecord> = preference::table
                .filter(preference::fleet_id.eq(FLEET))
                .filter(preference::kind.eq(kind.word()))
                .filter(preference::party.eq_any(ids))
                .select(PreferenceRecord::as_select())
                .load(conn)?;
            let rows = records.iter().map(|it| Ok((PartyId(Uid::from(it.party)), it.row()?)));
            rows.collect()
        })
    }

    /// Keeps how a party wants one kind of report from now on: what is planned and not due yet moves too. False when the party is erased: then nothing
    /// is kept.
    ///
    /// # Errors
    /// [`StoreError`] when the database fails.
    pub fn set_preference(
        &self,
        party: PartyId,
        kind: ReportKind,
        preference: &Preference,
        at: Instant,
    ) -> Result<bool, StoreError> {
        self.change(party, kind, |row| {
            row.preference = *preference;
            row.changed_at = Some(at);
            Some(at)
        })
    }

    /// Makes every link useless that these mails to a party held so far. False when the party is erased: its
    /// links are useless anyway.
    ///
    /// # Errors
    /// [`StoreError`] when the database fails.
    pub fn revoke_links(&self, party: PartyId, kind: ReportKind) -> Result<bool, StoreError> {
        self.change(party, kind, |row| {
            row.links_generation += 1;
            None
        })
    }

    fn change(
        &self,
        party: PartyId,
        kind: ReportKind,
        change: impl Fn(&mut PreferenceRow) -> Option<Instant>,
    ) -> Result<bool, StoreError> {
        self.write(|conn| {
            // This locks the party too, so that of two changes at once neither is lost.
            if erasure::is_party_erased(conn, party)? {
                return Ok(false);
            }
            let mut row = find(conn, party, kind)?;
            let chosen_at = change(&mut row);
            dialect::put_preference(conn, &PreferenceRecord::of(party, kind, &row))?;
            if let Some(at) = chosen_at {
                plans::plan_anew(conn, party, kind, (&row.preference, at))?;
            }
            Ok(true)
        })
    }
}

fn find(conn: &mut AnyConn, party: PartyId, kind: ReportKind) -> Result<PreferenceRow, StoreError> {
    let record: Option<PreferenceRecord> = preference::table
        .find((FLEET, Id::from(party.0), kind.word()))
        .select(PreferenceRecord::as_select())
        .get_result(conn)
        .optional()?;
    record.map_or_else(|| Ok(PreferenceRow::default()), |record| record.row())
}

/// Leaves a party that is being erased without mails and without links.
pub(crate) fn take_away(conn: &mut AnyConn, party: PartyId) -> Result<(), StoreError> {
    for kind in ReportKind::ALL {
        let links_generation = find(conn, party, kind)?.links_generation + 1;
        let preference = Preference { mode: Mode::Off, ..Preference::default() };
        let row = PreferenceRow { preference, changed_at: None, links_generation };
        dialect::put_preference(conn, &PreferenceRecord::of(party, kind, &row))?;
    }
    Ok(())
}
