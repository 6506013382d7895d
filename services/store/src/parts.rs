//! Parts as searches find them: which engines hold what, made when. One row for each engine that a part is on, or
//! one with the engine 0 for a part that is on none; written as the engines around a part are worked out.

use crate::FLEET;
use crate::bytes::Id;
use crate::conn::Store;
use crate::custody::{Sight, engines_seen};
use crate::days;
use crate::dialect::{self, AnyConn};
use crate::error::StoreError;
use crate::facts::Around;
use crate::graph::Nodes;
use crate::schema::part;
use chrono::NaiveDate;
use diesel::prelude::*;
use gudgeon_life::fact::{Host, StreamKind};
use gudgeon_life::history::{ComponentState, History};
use gudgeon_life::ids::{ComponentId, EngineId, PartKind, Uid};
use std::collections::{BTreeMap, BTreeSet};

/// The engine of a part that is on none.
const NO_ENGINE: i64 = 0;
/// How many engines one statement names.
const ENGINES_MAX: usize = 500;

/// A part on an engine, or on none, as a row.
#[derive(Clone, Debug, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = part, treat_none_as_default_value = false)]
pub(crate) struct PartRecord {
    fleet_id: i64,
    stream_id: i64,
    engine_id: i64,
    uid: Id,
    kind: String,
    lot: Option<String>,
    serial: Option<String>,
    maker_part: Option<String>,
    position: Option<String>,
    made_first: NaiveDate,
    made_last: Option<NaiveDate>,
}

/// The place of a part in the order of a search. Clients of the API hand it back as it was.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct PartPlace {
    /// The first day on which it may have been made.
    pub made_first: NaiveDate,
    /// The part's key.
    pub part: i64,
    /// The engine's key; 0 for none.
    pub engine: i64,
}

/// What parts are searched for, oldest first; those of unknown age come before all others.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct PartQuery {
    /// Only this kind.
    pub kind: Option<String>,
    /// Only this lot.
    pub lot: Option<String>,
    /// Only those that may have been made by this day: the first day that their code allows is not after it.
    pub made_until: Option<NaiveDate>,
    /// Those whose age is not known: alone, or with those that were made by a day.
    pub undated: bool,
    /// Only parts on engines that this workshop may see.
    pub sight: Option<Sight>,
    /// The last of the page before.
    pub after: Option<PartPlace>,
    /// How many at most.
    pub limit: i64,
}

/// A part on an engine, or on none.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PartRow {
    /// Its place in the order.
    pub place: PartPlace,
    /// Which part.
    pub component: ComponentId,
    /// What kind.
    pub kind: String,
    /// Its lot.
    pub lot: Option<String>,
    /// Its serial number.
    pub serial: Option<String>,
    /// What its maker calls it.
    pub maker_part: Option<String>,
    /// Where on the engine.
    pub position: Option<String>,
    /// The first and last day on which it may have been made; `None` when its age is not known.
    pub made: Option<(NaiveDate, NaiveDate)>,
}

impl PartRecord {
    fn of(key: i64, engine_id: i64, id: ComponentId, state: &ComponentState) -> Option<Self> {
        let fit = state.current().filter(|_| engine_id != NO_ENGINE);
        Some(Self {
            fleet_id: FLEET,
            stream_id: key,
            engine_id,
            uid: Id::from(id.0),
            kind: state.kind.as_ref().map(PartKind::as_str)?.to_owned(),
            lot: state.lot.clone(),
            serial: state.serial.clone(),
            maker_part: state.maker_part.clone(),
            position: fit.and_then(|fit| fit.position.as_ref()).map(ToString::to_string),
            made_first: state.made.map_or(days::FIRST, |made| days::stored(made.first)),
            made_last: state.made.map(|made| days::stored(made.last)),
        })
    }

    const fn place(&self) -> PartPlace {
        PartPlace { made_first: self.made_first, part: self.stream_id, engine: self.engine_id }
    }

    fn row(self) -> PartRow {
        PartRow {
            place: self.place(),
            component: ComponentId(Uid::from(self.uid)),
            kind: self.kind,
            lot: self.lot,
            serial: self.serial,
            maker_part: self.maker_part,
            position: self.position,
            made: self.made_last.map(|last| (self.made_first, last)),
        }
    }
}

/// The rows of the parts around an engine, as they are written or are to be.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct PartRows {
    /// The parts on the engine, by key.
    fitted: Vec<PartRecord>,
    /// Parts by key, with the row of each that is on no engine; a part that is on one has none.
    loose: BTreeMap<i64, Option<PartRecord>>,
}

impl PartRows {
    /// As they are written, of all parts among these streams.
    pub(crate) fn read(conn: &mut AnyConn, engine_key: i64, of: &Nodes) -> QueryResult<Self> {
        let parts = of.iter().filter(|(_, stream)| stream.kind == StreamKind::Component);
        let mut loose: BTreeMap<i64, Option<PartRecord>> =
            parts.map(|(key, _)| (*key, None)).collect();
        let keys: Vec<i64> = loose.keys().copied().collect();
        loose.extend(loose_rows(conn, &keys)?.into_iter().map(|row| (row.stream_id, Some(row))));
        Ok(Self { fitted: of_engine(conn, engine_key)?, loose })
    }

    /// As they are to be by the records around the engine: the parts that are on it, and those that came off it and
    /// are on none.
    pub(crate) fn after(&self, engine_key: i64, engine: EngineId, around: &Around) -> Self {
        let history = &around.history;
        let on_it: BTreeSet<ComponentId> = history.fitted_to(engine).into_iter().collect();
        let mut fitted = BTreeMap::new();
        let mut loose = self.loose.clone();
        for (id, key) in around.components() {
            let Some(state) = history.component(id) else { continue };
            if on_it.contains(&id) {
                fitted.insert(key, PartRecord::of(key, engine_key, id, state));
                if !self.fitted.iter().any(|row| row.stream_id == key) {
                    loose.insert(key, None);
                }
            } else if is_loose(history, engine, state) {
                loose.insert(key, PartRecord::of(key, NO_ENGINE, id, state));
            }
        }
        Self { fitted: fitted.into_values().flatten().collect(), loose }
    }

    /// Writes these in place of those before; only what differs.
    pub(crate) fn replace(&self, conn: &mut AnyConn, before: &Self) -> QueryResult<()> {
        if self == before {
            return Ok(());
        }
        replace(conn, &before.fitted, &self.fitted)?;
        replace(conn, &before.loose(), &self.loose())
    }

    fn loose(&self) -> Vec<PartRecord> {
        self.loose.values().flatten().cloned().collect()
    }
}

/// Writes the parts that are on an engine, and those that came off it and are on none.
pub(crate) fn put(
    conn: &mut AnyConn,
    engine_key: i64,
    engine: EngineId,
    around: &Around,
) -> QueryResult<()> {
    let mut before = PartRows { fitted: of_engine(conn, engine_key)?, ..PartRows::default() };
    let after = before.after(engine_key, engine, around);
    let keys: Vec<i64> = after.loose.keys().copied().collect();
    for row in loose_rows(conn, &keys)? {
        before.loose.insert(row.stream_id, Some(row));
    }
    after.replace(conn, &before)
}

/// Writes a part that no engine's lines rest on: it was never fitted to any.
pub(crate) fn put_unfitted(conn: &mut AnyConn, key: i64, around: &Around) -> QueryResult<()> {
    let of_key = around.components().find(|(_, of)| *of == key);
    let Some((id, _)) = of_key else { return Ok(()) };
    let row = around.history.component(id).and_then(|it| PartRecord::of(key, NO_ENGINE, id, it));
    let before = loose_rows(conn, &[key])?;
    replace(conn, &before, row.as_slice())
}

/// Whether a part that is not on this engine is on none, as far as that is for this engine to say: it is for the
/// engine that the part was on last.
fn is_loose(history: &History, engine: EngineId, state: &ComponentState) -> bool {
    let Some(last) = state.fits.last() else { return true };
    match last.host {
        Host::Engine(id) => id == engine,
        Host::Aircraft(id) => {
            let inside =
                |it: &EngineId| history.engine(*it).is_some_and(|state| state.aircraft == Some(id));
            inside(&engine) || !history.engines.keys().any(inside)
        }
    }
}

fn of_engine(conn: &mut AnyConn, engine_key: i64) -> QueryResult<Vec<PartRecord>> {
    part::table
        .filter(part::fleet_id.eq(FLEET))
        .filter(part::engine_id.eq(engine_key))
        .order(part::stream_id)
        .select(PartRecord::as_select())
        .load(conn)
}

/// The rows of those of these parts that are on no engine.
fn loose_rows(conn: &mut AnyConn, keys: &[i64]) -> QueryResult<Vec<PartRecord>> {
    let mut rows: Vec<PartRecord> = Vec::new();
    for keys in keys.chunks(dialect::list_len_max(conn)) {
        let loose = part::table
            .filter(part::fleet_id.eq(FLEET))
            .filter(part::engine_id.eq(NO_ENGINE))
            .select(PartRecord::as_select());
        rows.extend(match keys {
            [key] => loose.filter(part::stream_id.eq(*key)).load(conn)?,
            _ => loose.filter(part::stream_id.eq_any(keys)).load(conn)?,
        });
    }
    Ok(rows)
}

/// Writes only what differs.
fn replace(conn: &mut AnyConn, before: &[PartRecord], after: &[PartRecord]) -> QueryResult<()> {
    for row in before.iter().filter(|row| !after.contains(row)) {
        diesel::delete(part::table.find((FLEET, row.stream_id, row.engine_id))).execute(conn)?;
    }
    let fresh: Vec<PartRecord> =
        after.iter().filter(|row| !before.contains(row)).cloned().collect();
    if fresh.is_empty() { Ok(()) } else { dialect::add_parts(conn, &fresh) }
}

/// A part of a search's order that an index leads straight to, however deep the page.
#[derive(Clone, Copy)]
enum Reach {
    /// The further engines that one part is on.
    SamePart(PartPlace),
    /// The further parts that may have been made from one day on.
    SameDay(PartPlace),
    /// All that may have been made later.
    Later(NaiveDate),
    /// All of them.
    All,
}

impl Store {
    /// One page of a search, in the order of [`PartPlace`].
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn parts(&self, query: &PartQuery) -> Result<Vec<PartRow>, StoreError> {
        self.read(|conn| Ok(page(conn, query)?.into_iter().map(PartRecord::row).collect()))
    }
}

pub(crate) fn page(conn: &mut AnyConn, query: &PartQuery) -> QueryResult<Vec<PartRecord>> {
    match (query.sight, query.after) {
        (Some(sight), _) => seen(conn, query, sight),
        (None, None) => reach(conn, query, Reach::All, query.limit),
        (None, Some(place)) => after(conn, query, place),
    }
}

fn after(conn: &mut AnyConn, query: &PartQuery, place: PartPlace) -> QueryResult<Vec<PartRecord>> {
    let mut rows = Vec::new();
    let place = PartPlace { made_first: days::stored(place.made_first), ..place };
    for part in [Reach::SamePart(place), Reach::SameDay(place), Reach::Later(place.made_first)] {
        let left = query.limit - i64::try_from(rows.len()).unwrap_or(query.limit);
        if left > 0 {
            rows.extend(reach(conn, query, part, left)?);
        }
    }
    Ok(rows)
}

fn reach(
    conn: &mut AnyConn,
    query: &PartQuery,
    part: Reach,
    limit: i64,
) -> QueryResult<Vec<PartRecord>> {
    let mut select = part::table
        .filter(part::fleet_id.eq(FLEET))
        .order((part::made_first, part::stream_id, part::engine_id))
        .limit(limit)
        .select(PartRecord::as_select())
        .into_boxed();
    if let Some(kind) = &query.kind {
        select = select.filter(part::kind.eq(kind));
    }
    if let Some(lot) = &query.lot {
        select = select.filter(part::lot.eq(lot));
    }
    let (first, last) = made_between(query);
    select = match part {
        Reach::SamePart(place) => select
            .filter(part::made_first.eq(place.made_first))
            .filter(part::stream_id.eq(place.part))
            .filter(part::engine_id.gt(place.engine)),
        Reach::SameDay(place) => select
            .filter(part::made_first.eq(place.made_first))
            .filter(part::stream_id.gt(place.part)),
        Reach::Later(day) => {
            select.filter(part::made_first.gt(day)).filter(part::made_first.le(last))
        }
        Reach::All => select.filter(part::made_first.ge(first)).filter(part::made_first.le(last)),
    };
    select.load(conn)
}

/// The days from which on and until which a part that is searched for may have been made; the first day of all
/// stands for an age that is not known.
fn made_between(query: &PartQuery) -> (NaiveDate, NaiveDate) {
    let dated = days::FIRST.succ_opt().unwrap_or(days::FIRST);
    match (query.made_until.map(days::stored), query.undated) {
        (Some(until), true) => (days::FIRST, until),
        (Some(until), false) => (dated, until),
        (None, true) => (days::FIRST, days::FIRST),
        (None, false) => (days::FIRST, days::LAST),
    }
}

/// What a workshop finds: of the engines that it holds, which are few, all parts are gone through.
fn seen(conn: &mut AnyConn, query: &PartQuery, sight: Sight) -> QueryResult<Vec<PartRecord>> {
    let (first, last) = made_between(query);
    let mut rows: Vec<PartRecord> = Vec::new();
    for engines in engines_seen(conn, sight)?.chunks(ENGINES_MAX) {
        let of_engines: Vec<PartRecord> = part::table
            .filter(part::fleet_id.eq(FLEET))
            .filter(part::engine_id.eq_any(engines))
            .select(PartRecord::as_select())
            .load(conn)?;
        rows.extend(of_engines.into_iter().filter(|row| {
            query.kind.as_ref().is_none_or(|kind| row.kind == *kind)
                && query.lot.as_ref().is_none_or(|lot| row.lot.as_ref() == Some(lot))
                && (first..=last).contains(&row.made_first)
                && query.after.is_none_or(|after| row.place() > after)
        }));
    }
    rows.sort_unstable_by_key(PartRecord::place);
    rows.truncate(usize::try_from(query.limit).unwrap_or(usize::MAX));
    Ok(rows)
}
