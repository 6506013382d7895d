//! Engine types: every version of every file, by digest. A version is the active one of its name by a dated
//! fact; its engines are then worked out anew a few at a time, so that posts never wait for a fleet.

use crate::FLEET;
use crate::bytes::{Digest, Id};
use crate::conn::Store;
use crate::days;
use crate::dialect::{self, AnyConn};
use crate::error::StoreError;
use crate::facts;
use crate::graph::Nodes;
use crate::locks::Locks;
use crate::priors;
use crate::recompute;
use crate::schema::{engine_status, engine_type};
use crate::streams;
use crate::values::{Instant, Programmes};
use chrono::NaiveDate;
use diesel::prelude::*;
use gudgeon_life::fact::Stream;
use gudgeon_life::history::History;
use gudgeon_life::ids::{EngineId, ItemId, Uid};
use gudgeon_life::programme::EngineType;
use gudgeon_life::version::ActiveVersion;
use std::collections::HashMap;
use std::sync::Arc;

/// An engine type as its engines are counted by it, with what is told of that version.
pub type ActiveProgramme = (Arc<EngineType>, ActiveVersion);

/// One version of an engine type.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TypeRow {
    /// Its short name.
    pub name: String,
    /// SHA-256 of its file.
    pub digest: [u8; 32],
    /// The file.
    pub toml: String,
    /// When it was added.
    pub added_at: Instant,
    /// The day from which it is the active version; `None` when another is, or none.
    pub active_from: Option<NaiveDate>,
    /// The version that was active before this active one; `None` for the first.
    pub replaces: Option<[u8; 32]>,
}

impl TypeRow {
    /// What is told of the version, when it is the active one.
    #[must_use]
    pub fn active(&self) -> Option<ActiveVersion> {
        let (digest, replaces) = (self.digest, self.replaces);
        self.active_from.map(|since| ActiveVersion { digest, since, replaces })
    }
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = engine_type)]
struct TypeRecord {
    name: String,
    digest: Digest,
    toml: String,
    added_at: i64,
    active_from: Option<NaiveDate>,
    replaces: Option<Digest>,
}

impl TypeRecord {
    fn row(self) -> TypeRow {
        TypeRow {
            name: self.name,
            digest: self.digest.0,
            toml: self.toml,
            added_at: Instant(self.added_at),
            active_from: self.active_from.map(days::read),
            replaces: self.replaces.map(|digest| digest.0),
        }
    }
}

/// The active version of a type.
pub(crate) fn active(conn: &mut AnyConn, name: &str) -> QueryResult<Option<TypeRow>> {
    let record: Option<TypeRecord> = engine_type::table
        .filter(engine_type::fleet_id.eq(FLEET))
        .filter(engine_type::name.eq(name))
        .filter(engine_type::active_from.is_not_null())
        .select(TypeRecord::as_select())
        .get_result(conn)
        .optional()?;
    Ok(record.map(TypeRecord::row))
}

/// The digest of the active version of a type.
pub(crate) fn active_digest(conn: &mut AnyConn, name: &str) -> QueryResult<Option<[u8; 32]>> {
    let digest: Option<Digest> = engine_type::table
        .filter(engine_type::fleet_id.eq(FLEET))
        .filter(engine_type::name.eq(name))
        .filter(engine_type::active_from.is_not_null())
        .select(engine_type::digest)
        .get_result(conn)
        .optional()?;
    Ok(digest.map(|digest| digest.0))
}

/// A programme with the digest of its file.
type Programme = ([u8; 32], Arc<EngineType>);

/// The programme of the active version of a type; `None` when the type is not here.
pub(crate) fn active_programme(
    conn: &mut AnyConn,
    name: &ItemId,
    programmes: &dyn Programmes,
) -> Result<Option<Programme>, StoreError> {
    let Some(digest) = active_digest(conn, name.as_str())? else { return Ok(None) };
    let programme = read(conn, name.as_str(), digest, programmes)?.ok_or_else(|| {
        StoreError::Corrupt(format!("the active engine type `{name}` cannot be read"))
    })?;
    Ok(Some((digest, programme)))
}

/// A version as `programmes` reads it, `None` when it cannot. The file of one that it remembers is not fetched.
fn read(
    conn: &mut AnyConn,
    name: &str,
    digest: [u8; 32],
    programmes: &dyn Programmes,
) -> QueryResult<Option<Arc<EngineType>>> {
    if let Some(known) = programmes.known(&digest) {
        return Ok(Some(known));
    }
    let row = version(conn, name, digest)?;
    Ok(row.and_then(|row| programmes.get(&digest, &row.toml)))
}

/// The version of a type with this digest, if it is the active one.
#[diesel::dsl::auto_type(no_type_alias)]
pub(crate) fn active_as<'a>(name: &'a str, digest: Digest) -> _ {
    let fleet: i64 = FLEET;
    engine_type::table
        .filter(engine_type::fleet_id.eq(fleet))
        .filter(engine_type::name.eq(name))
        .filter(engine_type::digest.eq(digest))
        .filter(engine_type::active_from.is_not_null())
}

/// Marks the version that the activations on record say is active. One that is not here yet becomes active
/// when it is added.
pub(crate) fn settle(conn: &mut AnyConn, name: &str) -> Result<(), StoreError> {
    let fleet = Stream::fleet();
    let Some(stream) = streams::find(conn, fleet)? else { return Ok(()) };
    let history = History::fold(&facts::facts_of(conn, &Nodes::from([(stream.id, fleet)]))?);
    let Some(last) = ItemId::new(name).and_then(|name| history.activations.get(&name).copied())
    else {
        return Ok(());
    };
    let of_name = || {
        engine_type::table
            .filter(engine_type::fleet_id.eq(FLEET))
            .filter(engine_type::name.eq(name))
    };
    diesel::update(of_name().filter(engine_type::digest.ne(Digest(last.digest))))
        .set((
            engine_type::active_from.eq(None::<NaiveDate>),
            engine_type::replaces.eq(None::<Digest>),
        ))
        .execute(conn)?;
    diesel::update(of_name().filter(engine_type::digest.eq(Digest(last.digest))))
        .set((
            engine_type::active_from.eq(days::stored(last.moment.on)),
            engine_type::replaces.eq(last.replaces.map(Digest)),
        ))
        .execute(conn)?;
    Ok(())
}

impl Store {
    /// Adds a version of an engine type; an activation makes it count. False when it was here already.
    ///
    /// # Errors
    /// [`StoreError::Refused`] when `programmes` cannot read the file; others when the database fails.
    pub fn add_engine_type(
        &self,
        name: &str,
        toml: &str,
        digest: [u8; 32],
        at: Instant,
        programmes: &dyn Programmes,
    ) -> Result<bool, StoreError> {
        if programmes.get(&digest, toml).is_none() {
            return Err(StoreError::Refused(format!(
                "the engine type `{name}` cannot be read; check its file first"
            )));
        }
        self.write(|conn| {
            dialect::change_types(conn)?;
            if version(conn, name, digest)?.is_some() {
                return Ok(false);
            }
            diesel::insert_into(engine_type::table)
                .values((
                    engine_type::fleet_id.eq(FLEET),
                    engine_type::name.eq(name),
                    engine_type::digest.eq(Digest(digest)),
                    engine_type::toml.eq(toml),
                    engine_type::added_at.eq(at.0),
                ))
                .execute(conn)?;
            settle(conn, name)?;
            Ok(true)
        })
    }

    /// Works out anew some of the engines that are not counted by the active version of their type, or that follow a
    /// version of how it wears which was overtaken long ago; at most `limit`, and gives how many. Zero when none is
    /// left.
    ///
    /// # Errors
    /// [`StoreError`] when the database fails; what was worked out before stays.
    pub fn recount_some(
        &self,
        limit: usize,
        programmes: &dyn Programmes,
    ) -> Result<usize, StoreError> {
        let behind = self.read(|conn| behind(conn, limit))?;
        for (key, engine) in &behind {
            self.write(|conn| {
                if dialect::has_other_writers(conn) {
                    dialect::hold_types(conn)?;
                    Locks::default().settle(conn, *key, Stream::engine(*engine))?;
                }
                recompute::engine(conn, *key, *engine, programmes).map(|_| ())
            })?;
        }
        Ok(behind.len())
    }

    /// The active engine types, by name.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn engine_types(&self) -> Result<Vec<TypeRow>, StoreError> {
        self.read(|conn| Ok(all_active(conn)?))
    }

    /// The active engine types as `programmes` reads them, by name; one that cannot be read is left out. The file of
    /// one that it remembers is not fetched, so that asking again costs a few short rows.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn active_programmes(
        &self,
        programmes: &dyn Programmes,
    ) -> Result<HashMap<String, ActiveProgramme>, StoreError> {
        self.read(|conn| {
            let versions: Vec<(String, Digest, NaiveDate, Option<Digest>)> = engine_type::table
                .filter(engine_type::fleet_id.eq(FLEET))
                .filter(engine_type::active_from.is_not_null())
                .select((
                    engine_type::name,
                    engine_type::digest,
                    engine_type::active_from.assume_not_null(),
                    engine_type::replaces,
                ))
                .load(conn)?;
            let mut active = HashMap::new();
            for (name, Digest(digest), since, replaces) in versions {
                let known = read(conn, &name, digest, programmes)?;
                let (since, replaces) = (days::read(since), replaces.map(|it| it.0));
                let of = ActiveVersion { digest, since, replaces };
                active.extend(known.map(|known| (name, (known, of))));
            }
            Ok(active)
        })
    }

    /// The active version of one engine type.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn engine_type(&self, name: &str) -> Result<Option<TypeRow>, StoreError> {
        self.read(|conn| Ok(active(conn, name)?))
    }

    /// One version of an engine type, active or not.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn engine_type_version(
        &self,
        name: &str,
        digest: [u8; 32],
    ) -> Result<Option<TypeRow>, StoreError> {
        self.read(|conn| Ok(version(conn, name, digest)?))
    }
}

/// One version of a type.
pub(crate) fn version(
    conn: &mut AnyConn,
    name: &str,
    digest: [u8; 32],
) -> QueryResult<Option<TypeRow>> {
    let record: Option<TypeRecord> = engine_type::table
        .filter(engine_type::fleet_id.eq(FLEET))
        .filter(engine_type::name.eq(name))
        .filter(engine_type::digest.eq(Digest(digest)))
        .select(TypeRecord::as_select())
        .get_result(conn)
        .optional()?;
    Ok(record.map(TypeRecord::row))
}

fn all_active(conn: &mut AnyConn) -> QueryResult<Vec<TypeRow>> {
    let records: Vec<TypeRecord> = engine_type::table
        .filter(engine_type::fleet_id.eq(FLEET))
        .filter(engine_type::active_from.is_not_null())
        .order(engine_type::name)
        .select(TypeRecord::as_select())
        .load(conn)?;
    Ok(records.into_iter().map(TypeRecord::row).collect())
}

/// Engines counted by no version, or by another than the active one: the two ranges beside it in the index. Then
/// those whose type's wear was worked out anew long ago.
fn behind(conn: &mut AnyConn, limit: usize) -> Result<Vec<(i64, EngineId)>, StoreError> {
    let mut found = Vec::new();
    for row in all_active(conn)? {
        let of_type = || {
            engine_status::table
                .filter(engine_status::fleet_id.eq(FLEET))
                .filter(engine_status::engine_type.eq(&row.name))
                .select((engine_status::engine_id, engine_status::engine))
                .into_boxed()
        };
        let digest = Digest(row.digest);
        let mut ranges = vec![
            of_type().filter(engine_status::type_digest.is_null()),
            of_type().filter(engine_status::type_digest.lt(digest)),
            of_type().filter(engine_status::type_digest.gt(digest)),
        ];
        if let Some(overtaken) = priors::overtaken(conn, &row.name)? {
            let by_version = of_type().filter(engine_status::type_digest.eq(digest));
            ranges.push(by_version.filter(engine_status::wear_version.le(overtaken)));
        }
        for range in ranges {
            let left = i64::try_from(limit.saturating_sub(found.len())).unwrap_or(i64::MAX);
            let rows: Vec<(i64, Id)> = range.limit(left).load(conn)?;
            found.extend(rows.into_iter().map(|(key, id)| (key, EngineId(Uid::from(id)))));
        }
    }
    Ok(found)
}
