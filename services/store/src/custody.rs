//! Which workshop may see which engine, on which day: kept as the facts of the engine's stream amount to.

use crate::FLEET;
use crate::bytes::Id;
use crate::conn::Store;
use crate::days;
use crate::dialect::{self, AnyConn, on};
use crate::error::StoreError;
use crate::facts::{self, FactRow};
use crate::schema::custody;
use crate::streams;
use chrono::NaiveDate;
use diesel::prelude::*;
use gudgeon_life::custody::{Stint, stints};
use gudgeon_life::fact::{Content, Fact, Stream};
use gudgeon_life::ids::{EngineId, PartyId, Uid};

/// A workshop, and the day on which it asks to see something.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sight {
    /// Which workshop.
    pub shop: PartyId,
    /// The day.
    pub on: NaiveDate,
}

/// Days on which a workshop may see an engine.
#[derive(Clone, Debug, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = custody, treat_none_as_default_value = false)]
pub(crate) struct CustodyRow {
    fleet_id: i64,
    shop: Id,
    engine_id: i64,
    fact_uid: Id,
    from_day: NaiveDate,
    until_day: NaiveDate,
    order_in_day: i32,
}

impl CustodyRow {
    fn of(engine_id: i64, stint: &Stint) -> Self {
        Self {
            fleet_id: FLEET,
            shop: Id::from(stint.shop.0),
            engine_id,
            fact_uid: Id::from(stint.fact.0),
            from_day: days::stored(stint.from),
            until_day: days::stored(stint.until),
            order_in_day: i32::from(stint.order_in_day),
        }
    }
}

/// Whether a fact of an engine's stream bears on its custody. An engine that is not registered yet is held by whoever
/// posts about it.
pub(crate) fn bears(content: &Content, registered: bool) -> bool {
    let moves = matches!(
        content,
        Content::Custody(_) | Content::EngineRegistered(_) | Content::Amendment(_)
    );
    moves || !registered
}

/// Works the custody of an engine out anew where a fact of its stream bears on it. `registered` is whether it is
/// known that the engine is.
pub(crate) fn project(
    conn: &mut AnyConn,
    engine_id: i64,
    engine: Uid,
    content: &Content,
    registered: bool,
) -> Result<(), StoreError> {
    if !bears(content, registered || facts::is_here(conn, Id::from(engine))?) {
        return Ok(());
    }
    let stored = facts::rows_of(conn, engine_id)?;
    let stored = stored.iter().map(FactRow::stored).collect::<Result<Vec<_>, _>>()?;
    let posted: Vec<(Fact, Option<PartyId>)> =
        stored.into_iter().map(|it| (it.fact, it.by)).collect();
    let stints = stints(&posted);
    let mut after: Vec<CustodyRow> =
        stints.iter().map(|stint| CustodyRow::of(engine_id, stint)).collect();
    after.sort_by_key(|row| (row.shop, row.fact_uid));
    let of_engine = || {
        custody::table.filter(custody::fleet_id.eq(FLEET)).filter(custody::engine_id.eq(engine_id))
    };
    let before: Vec<CustodyRow> = of_engine()
        .order((custody::shop, custody::fact_uid))
        .select(CustodyRow::as_select())
        .load(conn)?;
    if before != after {
        diesel::delete(of_engine()).execute(conn)?;
        dialect::add_custody(conn, &after)?;
    }
    Ok(())
}

/// The workshop that an engine was last given to, and the last day of that.
pub(crate) fn custodian(
    conn: &mut AnyConn,
    engine_id: i64,
) -> QueryResult<Option<(Id, NaiveDate)>> {
    let last = custody::table
        .filter(custody::fleet_id.eq(FLEET))
        .filter(custody::engine_id.eq(engine_id))
        .order((custody::from_day.desc(), custody::order_in_day.desc(), custody::fact_uid.desc()))
        .select((custody::shop, custody::until_day));
    on!(conn, conn => last.get_result(conn)).optional()
}

/// The engines that workshops hold on a day, by key, each once with each who holds it: two grants may hold on one
/// day.
pub(crate) fn held_by(
    conn: &mut AnyConn,
    shops: &[Id],
    on: NaiveDate,
) -> QueryResult<Vec<(Id, i64)>> {
    let mut held: Vec<(Id, i64)> = custody::table
        .filter(custody::fleet_id.eq(FLEET))
        .filter(custody::shop.eq_any(shops))
        .filter(custody::from_day.le(on))
        .filter(custody::until_day.ge(on))
        .select((custody::shop, custody::engine_id))
        .load(conn)?;
    held.sort_unstable_by_key(|(shop, engine)| (*engine, *shop));
    held.dedup();
    Ok(held)
}

/// The engines that a workshop may see on a day, by key.
pub(crate) fn engines_seen(conn: &mut AnyConn, sight: Sight) -> QueryResult<Vec<i64>> {
    let on = days::stored(sight.on);
    custody::table
        .filter(custody::fleet_id.eq(FLEET))
        .filter(custody::shop.eq(Id::from(sight.shop.0)))
        .filter(custody::from_day.le(on))
        .filter(custody::until_day.ge(on))
        .order(custody::engine_id)
        .select(custody::engine_id)
        .distinct()
        .load(conn)
}

impl Store {
    /// Whether a workshop may see and post about an engine on a day.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn may_see(&self, sight: Sight, engine: EngineId) -> Result<bool, StoreError> {
        let on = days::stored(sight.on);
        self.read(|conn| {
            let Some(engine) = streams::find(conn, Stream::engine(engine))? else {
                return Ok(false);
            };
            let found: Option<i64> = custody::table
                .filter(custody::fleet_id.eq(FLEET))
                .filter(custody::shop.eq(Id::from(sight.shop.0)))
                .filter(custody::engine_id.eq(engine.id))
                .filter(custody::from_day.le(on))
                .filter(custody::until_day.ge(on))
                .select(custody::engine_id)
                .get_result(conn)
                .optional()?;
            Ok(found.is_some())
        })
    }
}
