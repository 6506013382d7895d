//! Engines as they stand on record, their due lines, and the fleet worst first.

use crate::FLEET;
use crate::bytes::{Digest, Id};
use crate::codec;
use crate::conn::Store;
use crate::custody::Sight;
use crate::days;
use crate::dialect::AnyConn;
use crate::error::StoreError;
use crate::lines::{LineRow, Measured};
use crate::priors;
use crate::schema::{custody, due_line, engine_span, engine_status};
use crate::streams;
use chrono::NaiveDate;
use diesel::dsl::{count_star, exists};
use diesel::prelude::*;
use diesel::sql_types::{Integer, Text};
use gudgeon_life::fact::Stream;
use gudgeon_life::hours::Hours;
use gudgeon_life::ids::{AircraftId, EngineId, PartyId, Uid};
use gudgeon_life::line::DueLine;
use gudgeon_life::status::Status;
use gudgeon_life::sure::engine::Flying;

/// How many keys one statement names, far below what any database permits.
pub(crate) const KEYS_MAX: usize = 10_000;

/// An engine as it stands on record.
#[derive(Clone, Debug, PartialEq)]
pub struct EngineRow {
    /// Its key, for paging and for its due lines.
    pub key: i64,
    /// Which engine.
    pub engine: EngineId,
    /// The short name of its type; `None` until it is registered.
    pub engine_type: Option<String>,
    /// The version of the type that its due lines follow; `None` when the type is not here.
    pub type_digest: Option<[u8; 32]>,
    /// Its serial number.
    pub serial: Option<String>,
    /// The aircraft it is in.
    pub aircraft: Option<AircraftId>,
    /// That aircraft's registration mark.
    pub mark: Option<String>,
    /// Its own owner, else the aircraft's.
    pub owner: Option<PartyId>,
    /// Hours since new at the last reading.
    pub tsn: Option<Hours>,
    /// Hours since the last full overhaul at the last reading.
    pub tso: Option<Hours>,
    /// The day of that reading.
    pub hours_on: Option<NaiveDate>,
    /// How many full overhauls are on record.
    pub overhauls: i64,
    /// What its aircraft's hour meter showed last.
    pub meter: Option<Hours>,
    /// Whether its hours are known from new.
    pub logged: bool,
    /// The version of how its type wears that its due lines follow; `None` where there was none.
    pub wear_version: Option<u32>,
    /// How its aircraft flies: what forecasts of its lines need beside them.
    pub flying: Flying,
    /// What contradicts, in words.
    pub conflicts: Vec<String>,
    /// The workshop that it was last given to.
    pub custodian: Option<PartyId>,
    /// The last day of that; `None` while no end is set.
    pub custodian_until: Option<NaiveDate>,
}

#[diesel::declare_sql_function]
extern "SQL" {
    /// So many characters of a text, from one of them on; the first is 1.
    fn substr(text: Text, from: Integer, count: Integer) -> Text;
}

/// One page of the fleet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct FleetQuery {
    /// The day that statuses are told for.
    pub as_of: NaiveDate,
    /// Only engines that this workshop may see.
    pub sight: Option<Sight>,
    /// Only engines of this status.
    pub status: Option<Status>,
    /// Rank of the status and key of the last engine of the page before.
    pub after: Option<(i16, i64)>,
    /// How many at most.
    pub limit: i64,
}

/// An engine's status as a row.
#[derive(Clone, Debug, PartialEq, Eq, Insertable, AsChangeset, Queryable, Selectable)]
#[diesel(table_name = engine_status, treat_none_as_null = true)]
pub(crate) struct StatusRow {
    pub(crate) fleet_id: i64,
    pub(crate) engine_id: i64,
    pub(crate) engine: Id,
    pub(crate) engine_type: Option<String>,
    pub(crate) type_digest: Option<Digest>,
    pub(crate) serial: Option<String>,
    pub(crate) aircraft: Option<Id>,
    pub(crate) mark: Option<String>,
    pub(crate) owner: Option<Id>,
    pub(crate) custodian: Option<Id>,
    pub(crate) custodian_until: Option<NaiveDate>,
    pub(crate) tsn_seconds: Option<i64>,
    pub(crate) tso_seconds: Option<i64>,
    pub(crate) overhauls: i64,
    pub(crate) clock_seconds: Option<i64>,
    pub(crate) hours_on: Option<NaiveDate>,
    pub(crate) meter_seconds: Option<i64>,
    pub(crate) logged: bool,
    pub(crate) wear_version: Option<i64>,
    pub(crate) flying: String,
    pub(crate) plan_by: String,
    pub(crate) conflicts: String,
}

/// The engine's own count, the day of its last reading and the meter, as columns.
type MeasuredColumns = (Option<i64>, Option<NaiveDate>, Option<i64>);

fn measured((clock, hours_on, meter): MeasuredColumns) -> Measured {
    Measured {
        clock: clock.map(Hours::from_seconds),
        hours_on: hours_on.map(days::read),
        meter: meter.map(Hours::from_seconds),
    }
}

/// One step of an engine's worst status, as a row.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = engine_span, treat_none_as_default_value = false)]
pub(crate) struct SpanRow {
    pub(crate) fleet_id: i64,
    pub(crate) engine_id: i64,
    pub(crate) from_day: NaiveDate,
    pub(crate) until_day: NaiveDate,
    pub(crate) rank: i16,
}

impl StatusRow {
    /// What the engine's lines are measured against.
    pub(crate) fn measured(&self) -> Measured {
        measured((self.clock_seconds, self.hours_on, self.meter_seconds))
    }

    /// With the workshop that the engine was last given to, and the last day of that.
    pub(crate) fn in_custody(self, custodian: Option<(Id, NaiveDate)>) -> Self {
        let until = custodian.map(|(_, until)| until).filter(|until| *until != days::LAST);
        Self { custodian: custodian.map(|(shop, _)| shop), custodian_until: until, ..self }
    }

    pub(crate) fn row(self) -> Result<EngineRow, StoreError> {
        let party = |id: Id| PartyId(Uid::from(id));
        let counted_on = self.hours_on.map(days::read);
        Ok(EngineRow {
            key: self.engine_id,
            engine: EngineId(Uid::from(self.engine)),
            engine_type: self.engine_type,
            type_digest: self.type_digest.map(|digest| digest.0),
            serial: self.serial,
            aircraft: self.aircraft.map(|id| AircraftId(Uid::from(id))),
            mark: self.mark,
            owner: self.owner.map(party),
            tsn: self.tsn_seconds.map(Hours::from_seconds),
            tso: self.tso_seconds.map(Hours::from_seconds),
            overhauls: self.overhauls,
            hours_on: self.hours_on,
            meter: self.meter_seconds.map(Hours::from_seconds),
            logged: self.logged,
            wear_version: self.wear_version.and_then(priors::number),
            flying: codec::read_flying(&self.flying, counted_on)?,
            conflicts: codec::read_sentences(&self.conflicts)?,
            custodian: self.custodian.map(party),
            custodian_until: self.custodian_until,
        })
    }
}

/// The engines that a workshop may see on a day.
#[diesel::dsl::auto_type(no_type_alias)]
fn seen_by(shop: Id, on: NaiveDate) -> _ {
    let fleet: i64 = FLEET;
    custody::table
        .filter(custody::from_day.le(on))
        .filter(custody::until_day.ge(on))
        .filter(custody::fleet_id.eq(fleet))
        .filter(custody::shop.eq(shop))
        .filter(custody::engine_id.eq(engine_span::engine_id))
}

impl Store {
    /// One engine.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn engine(&self, id: EngineId) -> Result<Option<EngineRow>, StoreError> {
        self.read(|conn| {
            let Some(stream) = streams::find(conn, Stream::engine(id))? else { return Ok(None) };
            status_row(conn, stream.id)?.map(StatusRow::row).transpose()
        })
    }

    /// The due lines of some engines, by key and then in the order of their programmes.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn due_lines(&self, keys: &[i64]) -> Result<Vec<(i64, DueLine)>, StoreError> {
        self.read(|conn| {
            let mut lines = Vec::new();
            for chunk in keys.chunks(KEYS_MAX) {
                let rows: Vec<(LineRow, MeasuredColumns, String)> = due_line::table
                    .inner_join(
                        engine_status::table.on(engine_status::fleet_id
                            .eq(due_line::fleet_id)
                            .and(engine_status::engine_id.eq(due_line::engine_id))),
                    )
                    .filter(due_line::fleet_id.eq(FLEET))
                    .filter(due_line::engine_id.eq_any(chunk))
                    .order((due_line::engine_id, due_line::ordinal))
                    .select((
                        LineRow::as_select(),
                        (
                            engine_status::clock_seconds,
                            engine_status::hours_on,
                            engine_status::meter_seconds,
                        ),
                        substr(engine_status::plan_by, due_line::ordinal * 11 + 1, 10),
                    ))
                    .load(conn)?;
                for (row, columns, plan_by) in rows {
                    let mut line = row.line(&measured(columns))?;
                    if let Ok(by) = plan_by.parse() {
                        line.plan(days::read(by));
                    }
                    lines.push((row.engine_id, line));
                }
            }
            Ok(lines)
        })
    }

    /// The engines with these keys, by key.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn engine_rows(&self, keys: &[i64]) -> Result<Vec<EngineRow>, StoreError> {
        self.read(|conn| rows_of(conn, keys))
    }

    /// One page of the fleet, worst first, then by key.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn fleet(&self, query: &FleetQuery) -> Result<Vec<(Status, EngineRow)>, StoreError> {
        self.read(|conn| {
            let rows = match query.after {
                None => part(conn, query, Part::From(0), query.limit)?,
                Some((rank, key)) => {
                    let mut rows = part(conn, query, Part::Rest(rank, key), query.limit)?;
                    let left = query.limit - i64::try_from(rows.len()).unwrap_or(query.limit);
                    rows.extend(part(conn, query, Part::From(rank.saturating_add(1)), left)?);
                    rows
                }
            };
            rows.into_iter().map(|(rank, row)| Ok((status_of(rank)?, row.row()?))).collect()
        })
    }

    /// How many engines have each status on a day, worst first; a status that none has is left out.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn fleet_counts(
        &self,
        as_of: NaiveDate,
        sight: Option<Sight>,
    ) -> Result<Vec<(Status, i64)>, StoreError> {
        let as_of = days::stored(as_of);
        self.read(|conn| {
            let mut select = engine_span::table
                .filter(engine_span::fleet_id.eq(FLEET))
                .filter(engine_span::from_day.le(as_of))
                .filter(engine_span::until_day.ge(as_of))
                .group_by(engine_span::rank)
                .order(engine_span::rank)
                .select((engine_span::rank, count_star()))
                .into_boxed();
            if let Some(Sight { shop, on }) = sight {
                select = select.filter(exists(seen_by(Id::from(shop.0), days::stored(on))));
            }
            let rows: Vec<(i16, i64)> = select.load(conn)?;
            rows.into_iter().map(|(rank, count)| Ok((status_of(rank)?, count))).collect()
        })
    }

    /// The engines of some owners, by key.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn engines_of_owners(&self, owners: &[PartyId]) -> Result<Vec<EngineRow>, StoreError> {
        self.read(|conn| {
            let mut engines = Vec::new();
            for chunk in owners.chunks(KEYS_MAX) {
                let ids: Vec<Id> = chunk.iter().map(|owner| Id::from(owner.0)).collect();
                let rows: Vec<StatusRow> = engine_status::table
                    .filter(engine_status::fleet_id.eq(FLEET))
                    .filter(engine_status::owner.eq_any(ids))
                    .select(StatusRow::as_select())
                    .load(conn)?;
                engines.extend(rows);
            }
            engines.sort_unstable_by_key(|row| row.engine_id);
            engines.into_iter().map(StatusRow::row).collect()
        })
    }
}

/// A part of the fleet's order that an index leads straight to, however deep the page.
#[derive(Clone, Copy)]
enum Part {
    /// The engines of this rank and of better ones.
    From(i16),
    /// The engines of one rank after a key.
    Rest(i16, i64),
}

fn part(
    conn: &mut AnyConn,
    query: &FleetQuery,
    part: Part,
    limit: i64,
) -> QueryResult<Vec<(i16, StatusRow)>> {
    let as_of = days::stored(query.as_of);
    let mut select = engine_span::table
        .inner_join(
            engine_status::table.on(engine_status::fleet_id
                .eq(engine_span::fleet_id)
                .and(engine_status::engine_id.eq(engine_span::engine_id))),
        )
        .filter(engine_span::fleet_id.eq(FLEET))
        .filter(engine_span::from_day.le(as_of))
        .filter(engine_span::until_day.ge(as_of))
        .order((engine_span::rank, engine_span::engine_id))
        .limit(limit)
        .select((engine_span::rank, StatusRow::as_select()))
        .into_boxed();
    select = match part {
        Part::From(rank) => select.filter(engine_span::rank.ge(rank)),
        Part::Rest(rank, key) => {
            select.filter(engine_span::rank.eq(rank)).filter(engine_span::engine_id.gt(key))
        }
    };
    if let Some(status) = query.status {
        select = select.filter(engine_span::rank.eq(status.rank()));
    }
    if let Some(Sight { shop, on }) = query.sight {
        select = select.filter(exists(seen_by(Id::from(shop.0), days::stored(on))));
    }
    select.load(conn)
}

/// The engines with these keys, by key within each [`KEYS_MAX`] of them.
pub(crate) fn rows_of(conn: &mut AnyConn, keys: &[i64]) -> Result<Vec<EngineRow>, StoreError> {
    let mut rows: Vec<StatusRow> = Vec::new();
    for chunk in keys.chunks(KEYS_MAX) {
        let of_keys = engine_status::table
            .filter(engine_status::fleet_id.eq(FLEET))
            .filter(engine_status::engine_id.eq_any(chunk))
            .order(engine_status::engine_id)
            .select(StatusRow::as_select());
        rows.extend(of_keys.load(conn)?);
    }
    rows.into_iter().map(StatusRow::row).collect()
}

/// The row of an engine.
pub(crate) fn status_row(conn: &mut AnyConn, engine_id: i64) -> QueryResult<Option<StatusRow>> {
    engine_status::table
        .find((FLEET, engine_id))
        .select(StatusRow::as_select())
        .get_result(conn)
        .optional()
}

fn status_of(rank: i16) -> Result<Status, StoreError> {
    Status::from_rank(rank)
        .ok_or_else(|| StoreError::Corrupt(format!("a status of the unknown rank {rank}")))
}
