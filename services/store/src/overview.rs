//! What the weekly mails to workshops and inspectors ask for, each in one query: who holds what, who was silent, and
//! whose readings are old.

use crate::FLEET;
use crate::bytes::Id;
use crate::conn::Store;
use crate::days;
use crate::engines::{EngineRow, KEYS_MAX, StatusRow};
use crate::error::StoreError;
use crate::schema::{custody, engine_status, fact, party, preference};
use crate::values::Instant;
use chrono::NaiveDate;
use diesel::dsl::max;
use diesel::prelude::*;
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
        self.read(|conn| {
            let rows: Vec<(String, Option<i64>)> = preference::table
                .inner_join(party::table.on(
                    party::fleet_id.eq(preference::fleet_id).and(party::uid.eq(preference::party)),
                ))
                .filter(preference::fleet_id.eq(FLEET))
                .filter(preference::mode.eq(Mode::Off.word()))
                .filter(party::erased_on.is_null())
                .order((preference::changed_at.desc(), preference::party))
                .limit(limit)
                .select((party::name, preference::changed_at))
                .load(conn)?;
            let muted = |(name, since): (String, Option<i64>)| MutedParty {
                name,
                since: since.map(Instant),
            };
            Ok(rows.into_iter().map(muted).collect())
        })
    }

    /// When each workshop last posted anything; those who never did are left out.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn last_posts(&self) -> Result<HashMap<PartyId, Instant>, StoreError> {
        self.read(|conn| {
            let rows: Vec<(Option<Id>, Option<i64>)> = fact::table
                .filter(fact::fleet_id.eq(FLEET))
                .filter(fact::posted_by.is_not_null())
                .group_by(fact::posted_by)
                .select((fact::posted_by, max(fact::received_at)))
                .load(conn)?;
            let last =
                |(by, at): (Option<Id>, Option<i64>)| Some((PartyId(Uid::from(by?)), Instant(at?)));
            Ok(rows.into_iter().filter_map(last).collect())
        })
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
            let mut engines: Vec<(Id, StatusRow)> = Vec::new();
            for chunk in shops.chunks(KEYS_MAX) {
                let ids: Vec<Id> = chunk.iter().map(|shop| Id::from(shop.0)).collect();
                let rows: Vec<(Id, StatusRow)> = custody::table
                    .inner_join(
                        engine_status::table.on(engine_status::fleet_id
                            .eq(custody::fleet_id)
                            .and(engine_status::engine_id.eq(custody::engine_id))),
                    )
                    .filter(custody::fleet_id.eq(FLEET))
                    .filter(custody::shop.eq_any(ids))
                    .filter(custody::from_day.le(on))
                    .filter(custody::until_day.ge(on))
                    .select((custody::shop, StatusRow::as_select()))
                    .load(conn)?;
                engines.extend(rows);
            }
            engines.sort_by_key(|(shop, row)| (row.engine_id, *shop));
            // Two grants may hold on one day.
            engines.dedup_by_key(|(shop, row)| (row.engine_id, *shop));
            let read = |(shop, row): (Id, StatusRow)| Ok((PartyId(Uid::from(shop)), row.row()?));
            engines.into_iter().map(read).collect()
        })
    }
}
