//! What the weekly mails to workshops and inspectors ask for, each in one query: who holds what, who was silent, and
//! whose readings are old.

use crate::FLEET;
use crate::bytes::Id;
use crate::conn::Store;
use crate::custody;
use crate::days;
use crate::dialect::AnyConn;
use crate::engines::{self, EngineRow, KEYS_MAX, StatusRow};
use crate::error::StoreError;
use crate::schema::{engine_status, fact, party, preference, stream};
use crate::streams::kind_number;
use crate::values::Instant;
use chrono::NaiveDate;
use diesel::dsl::max;
use diesel::prelude::*;
use gudgeon_life::fact::{PartyRole, StreamKind};
use gudgeon_life::ids::{PartyId, Uid};
use gudgeon_life::preference::Mode;
use std::collections::HashMap;

/// Somebody who wants no mails of some kind.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MutedParty {
    /// The name, as registered.
    pub name: String,
    /// Since when, where that was noted.
    pub since: Option<Instant>,
}

/// A workshop, and when it last posted.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LastPost {
    /// Its key, for paging.
    pub key: i64,
    /// Its name, as registered.
    pub name: String,
    /// When it last posted; `None` if it never did.
    pub at: Option<Instant>,
}

/// How the engines of a fleet stand as to their readings.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Unread {
    /// How many have no reading, or none since the day.
    pub count: i64,
    /// Those of them whose last reading is the oldest, those without any first.
    pub oldest: Vec<EngineRow>,
}

impl Store {
    /// Those who switched mails off, the last to do so first. Whoever was erased wants none and is not told of.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn muted(&self, limit: i64) -> Result<Vec<MutedParty>, StoreError> {
        self.read(|conn| Ok(muted(conn, limit)?))
    }

    /// When workshops last posted anything, in order of key, after a key; those erased are left out. Of the facts,
    /// one is looked up for each workshop.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn last_posts(
        &self,
        after_key: Option<i64>,
        limit: i64,
    ) -> Result<Vec<LastPost>, StoreError> {
        self.read(|conn| Ok(last_posts(conn, after_key, limit)?))
    }

    /// The engines in an aircraft that have no reading since a day. Those in none run no hours.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn unread_since(&self, day: NaiveDate, limit: i64) -> Result<Unread, StoreError> {
        let day = days::stored(day);
        self.read(|conn| {
            let unread = || {
                let read_on = engine_status::hours_on;
                engine_status::table
                    .filter(engine_status::fleet_id.eq(FLEET))
                    .filter(engine_status::aircraft.is_not_null())
                    .filter(read_on.is_null().or(read_on.assume_not_null().lt(day)))
            };
            let rows: Vec<StatusRow> = unread()
                .order((
                    engine_status::hours_on.is_not_null(),
                    engine_status::hours_on,
                    engine_status::engine_id,
                ))
                .limit(limit)
                .select(StatusRow::as_select())
                .load(conn)?;
            Ok(Unread {
                count: unread().count().get_result(conn)?,
                oldest: rows.into_iter().map(StatusRow::row).collect::<Result<_, _>>()?,
            })
        })
    }

    /// The engines that some workshops hold on a day, each with who holds it, by key.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn engines_of_shops(
        &self,
        shops: &[PartyId],
        on: NaiveDate,
    ) -> Result<Vec<(PartyId, EngineRow)>, StoreError> {
        let on = days::stored(on);
        self.read(|conn| {
            let mut engines = Vec::new();
            for chunk in shops.chunks(KEYS_MAX) {
                let ids: Vec<Id> = chunk.iter().map(|shop| Id::from(shop.0)).collect();
                engines.extend(held(conn, &ids, on)?);
            }
            engines.sort_by_key(|(shop, row)| (row.key, *shop));
            Ok(engines)
        })
    }
}

/// See [`Store::engines_of_shops`]. The engines are asked for by their keys: one statement with both tables would go
/// through all engines, by what `SQLite` knows of them.
pub(crate) fn held(
    conn: &mut AnyConn,
    shops: &[Id],
    on: NaiveDate,
) -> Result<Vec<(PartyId, EngineRow)>, StoreError> {
    let held = custody::held_by(conn, shops, on)?;
    let mut keys: Vec<i64> = held.iter().map(|(_, engine)| *engine).collect();
    keys.dedup();
    let rows = engines::rows_of(conn, &keys)?;
    let rows: HashMap<i64, EngineRow> = rows.into_iter().map(|row| (row.key, row)).collect();
    let of =
        |(shop, engine): (Id, i64)| Some((PartyId(Uid::from(shop)), rows.get(&engine)?.clone()));
    Ok(held.into_iter().filter_map(of).collect())
}

/// See [`Store::muted`]. Few want no mails, and an index of their own leads to them.
pub(crate) fn muted(conn: &mut AnyConn, limit: i64) -> QueryResult<Vec<MutedParty>> {
    let rows: Vec<(String, Option<i64>)> = preference::table
        .inner_join(
            stream::table.on(stream::fleet_id
                .eq(preference::fleet_id)
                .and(stream::kind.eq(kind_number(StreamKind::Party)))
                .and(stream::uid.eq(preference::party))),
        )
        .inner_join(
            party::table
                .on(party::fleet_id.eq(preference::fleet_id).and(party::stream_id.eq(stream::id))),
        )
        .filter(preference::fleet_id.eq(FLEET))
        .filter(preference::mode.eq(Mode::Off.word()))
        .filter(party::erased_on.is_null())
        .order((preference::changed_at.desc(), preference::party))
        .limit(limit)
        .select((party::name, preference::changed_at))
        .load(conn)?;
    let muted =
        |(name, since): (String, Option<i64>)| MutedParty { name, since: since.map(Instant) };
    Ok(rows.into_iter().map(muted).collect())
}

/// See [`Store::last_posts`].
pub(crate) fn last_posts(
    conn: &mut AnyConn,
    after_key: Option<i64>,
    limit: i64,
) -> QueryResult<Vec<LastPost>> {
    let last = fact::table
        .filter(fact::fleet_id.eq(FLEET))
        .filter(fact::posted_by.eq(party::uid.nullable()))
        .select(max(fact::received_at))
        .single_value();
    let rows: Vec<(i64, String, Option<i64>)> = party::table
        .filter(party::fleet_id.eq(FLEET))
        .filter(party::role.eq(PartyRole::Shop.word()))
        .filter(party::stream_id.gt(after_key.unwrap_or(0)))
        .filter(party::erased_on.is_null())
        .order(party::stream_id)
        .limit(limit)
        .select((party::stream_id, party::name, last))
        .load(conn)?;
    let posted =
        |(key, name, at): (i64, String, Option<i64>)| LastPost { key, name, at: at.map(Instant) };
    Ok(rows.into_iter().map(posted).collect())
}
