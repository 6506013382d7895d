//! How each engine type wears: learnt once a week from what its logged engines tell, and kept as versions.
//!
//! A version is never changed, because due lines follow it. An engine takes the newest one whenever it is worked out,
//! and is worked out for it when the one that it follows is older by [`OVERTAKEN_DAYS`] than the newest: no clock is
//! asked but by whoever learns.

use crate::FLEET;
use crate::codec;
use crate::conn::Store;
use crate::days;
use crate::dialect::{self, AnyConn};
use crate::engines::EngineRow;
use crate::error::StoreError;
use crate::schema::{engine_status, wear_prior};
use chrono::{Days, NaiveDate};
use diesel::dsl::max;
use diesel::prelude::*;
use gudgeon_life::history::EngineState;
use gudgeon_life::line::DueLine;
use gudgeon_life::programme::EngineType;
use gudgeon_life::sure::fleet::Fleet;
use gudgeon_life::sure::prior::{ENGINES_MAX, Evidence, Learning, WearPrior, Worn};
use gudgeon_life::week::ReportWeek;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// No line follows a version for longer than this after a newer one was worked out.
pub(crate) const OVERTAKEN_DAYS: u64 = 90;
/// Engines read at a time.
const CHUNK: i64 = 200;

/// A version of how a type wears.
#[derive(
    Clone, Debug, PartialEq, Eq, Insertable, Queryable, Selectable, Serialize, Deserialize,
)]
#[diesel(table_name = wear_prior)]
#[serde(deny_unknown_fields)]
pub(crate) struct PriorRow {
    pub(crate) engine_type: String,
    pub(crate) version: i64,
    #[serde(with = "days::text")]
    pub(crate) worked_out_on: NaiveDate,
    pub(crate) fleets: String,
}

impl PriorRow {
    fn evidence(&self) -> Result<Evidence, StoreError> {
        let version = number(self.version).ok_or_else(|| {
            StoreError::Corrupt(format!("how a type wears has the version {}", self.version))
        })?;
        let (on, fleets) = (days::read(self.worked_out_on), codec::read_fleets(&self.fleets)?);
        Ok(Evidence { wear: Some(WearPrior { version, on, fleets }) })
    }
}

/// A version by its number; `None` for 0, which stands for none.
pub(crate) fn number(version: i64) -> Option<u32> {
    u32::try_from(version).ok().filter(|it| *it > 0)
}

/// What is known of a type when one of its engines is worked out. Of a type on which nothing wears nothing is asked.
pub(crate) fn newest_for(
    conn: &mut AnyConn,
    engine_type: &EngineType,
) -> Result<Evidence, StoreError> {
    if engine_type.bench.quantities.iter().all(|it| it.wear.is_none()) {
        return Ok(Evidence::default());
    }
    let newest = newest(conn, engine_type.name.as_str())?;
    newest.map_or_else(|| Ok(Evidence::default()), |row| row.evidence())
}

/// The version that is kept with an engine as the one that its lines follow: 0 where there is none yet, and `None`
/// where nothing was measured that it could steady.
pub(crate) fn followed(state: &EngineState, lines: &[DueLine], evidence: &Evidence) -> Option<i64> {
    let worn = lines.iter().any(|line| line.wear.iter().any(|it| it.readings > 0));
    let version = evidence.wear.as_ref().map_or(0, |it| i64::from(it.version));
    (worn || !state.measured.is_empty()).then_some(version)
}

fn newest(conn: &mut AnyConn, engine_type: &str) -> QueryResult<Option<PriorRow>> {
    wear_prior::table
        .filter(wear_prior::fleet_id.eq(FLEET))
        .filter(wear_prior::engine_type.eq(engine_type))
        .order(wear_prior::version.desc())
        .select(PriorRow::as_select())
        .first(conn)
        .optional()
}

/// The versions of a type that came after the one that an engine follows. One that follows none, as nothing was
/// measured of it, has nothing to follow in them either.
#[diesel::dsl::auto_type(no_type_alias)]
pub(crate) fn later_than<'a>(engine_type: &'a str, followed: Option<i64>) -> _ {
    let fleet: i64 = FLEET;
    let followed: i64 = followed.unwrap_or(i64::MAX);
    wear_prior::table
        .filter(wear_prior::fleet_id.eq(fleet))
        .filter(wear_prior::engine_type.eq(engine_type))
        .filter(wear_prior::version.gt(followed))
}

/// The last version of a type that no line may follow any more, for the newest is so much younger.
pub(crate) fn overtaken(conn: &mut AnyConn, engine_type: &str) -> QueryResult<Option<i64>> {
    let of_type = || {
        wear_prior::table
            .filter(wear_prior::fleet_id.eq(FLEET))
            .filter(wear_prior::engine_type.eq(engine_type))
    };
    let newest: Option<NaiveDate> =
        of_type().select(max(wear_prior::worked_out_on)).get_result(conn)?;
    let before = newest.and_then(|on| on.checked_sub_days(Days::new(OVERTAKEN_DAYS)));
    let Some(before) = before.map(days::stored) else { return Ok(None) };
    of_type()
        .filter(wear_prior::worked_out_on.lt(before))
        .select(max(wear_prior::version))
        .get_result(conn)
}

/// All versions, in order of type and number.
pub(crate) fn all(conn: &mut AnyConn) -> QueryResult<Vec<PriorRow>> {
    wear_prior::table
        .filter(wear_prior::fleet_id.eq(FLEET))
        .order((wear_prior::engine_type, wear_prior::version))
        .select(PriorRow::as_select())
        .load(conn)
}

impl Store {
    /// Learns anew how each active type wears, unless that was done in the same week of ISO 8601, and gives how many
    /// versions were added. Engines are read a few at a time, and at most [`ENGINES_MAX`] of a type, those registered
    /// last. Whoever does it at the same time adds nothing.
    ///
    /// # Errors
    /// [`StoreError`] when the database fails; what was added before stays.
    pub fn learn_wear(&self, today: NaiveDate) -> Result<usize, StoreError> {
        let mut added = 0;
        for engine_type in self.engine_types()? {
            let name = engine_type.name;
            let before = self.read(|conn| Ok(newest(conn, &name)?))?;
            let week = before.as_ref().map(|it| ReportWeek::of(days::read(it.worked_out_on)));
            if week == Some(ReportWeek::of(today)) {
                continue;
            }
            let fleets = self.learn(&name)?;
            // Where nothing is known, and nothing was, there is nothing to keep.
            let was_empty = before.as_ref().map_or(Ok(true), |it| {
                codec::read_fleets(&it.fleets).map(|fleets| fleets.is_empty())
            })?;
            if fleets.is_empty() && was_empty {
                continue;
            }
            let row = PriorRow {
                engine_type: name,
                version: before.map_or(0, |it| it.version) + 1,
                worked_out_on: days::stored(today),
                fleets: codec::write_fleets(&fleets)?,
            };
            added += self.write(|conn| Ok(dialect::add_wear_prior(conn, &row)?))?;
        }
        Ok(added)
    }

    /// What the engines of a type tell all together.
    fn learn(&self, engine_type: &str) -> Result<BTreeMap<Worn, Fleet>, StoreError> {
        let mut learning = Learning::default();
        let (mut before, mut left) = (i64::MAX, ENGINES_MAX);
        while left > 0 {
            let rows: Vec<(i64, Option<String>)> = self.read(|conn| {
                Ok(engine_status::table
                    .filter(engine_status::fleet_id.eq(FLEET))
                    .filter(engine_status::engine_type.eq(engine_type))
                    .filter(engine_status::trends.is_not_null())
                    .filter(engine_status::engine_id.lt(before))
                    .order(engine_status::engine_id.desc())
                    .limit(CHUNK)
                    .select((engine_status::engine_id, engine_status::trends))
                    .load(conn)?)
            })?;
            let Some((last, _)) = rows.last() else { break };
            before = *last;
            for (_, trends) in rows.iter().take(left) {
                learning.take(codec::read_told(trends.as_deref().unwrap_or_default())?);
            }
            left = left.saturating_sub(rows.len());
        }
        Ok(learning.learnt())
    }

    /// What was known of an engine's type when its due lines were worked out, for their words and charts.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn evidence_of(&self, engine: &EngineRow) -> Result<Evidence, StoreError> {
        let Some((name, version)) = engine.engine_type.as_ref().zip(engine.wear_version) else {
            return Ok(Evidence::default());
        };
        let row: PriorRow = self.read(|conn| {
            let key = (FLEET, name, i64::from(version));
            Ok(wear_prior::table.find(key).select(PriorRow::as_select()).get_result(conn)?)
        })?;
        row.evidence()
    }
}
