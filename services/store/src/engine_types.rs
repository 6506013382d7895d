//! Engine types: every version of every file, by digest; one version of a name is active.

use crate::FLEET;
use crate::bytes::{Digest, Id};
use crate::conn::Store;
use crate::dialect::{self, AnyConn};
use crate::error::StoreError;
use crate::recompute;
use crate::schema::{engine_status, engine_type};
use crate::values::{Instant, Programmes};
use diesel::prelude::*;
use gudgeon_life::ids::{EngineId, Uid};

/// The active version of an engine type.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TypeRow {
    /// Its short name.
    pub name: String,
    /// SHA-256 of its file.
    pub digest: [u8; 32],
    /// The file.
    pub toml: String,
    /// When this version became the active one.
    pub activated_at: Instant,
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = engine_type)]
struct TypeRecord {
    name: String,
    digest: Digest,
    toml: String,
    activated_at: i64,
}

impl TypeRecord {
    fn row(self) -> TypeRow {
        TypeRow {
            name: self.name,
            digest: self.digest.0,
            toml: self.toml,
            activated_at: Instant(self.activated_at),
        }
    }
}

/// The active version of a type.
pub(crate) fn active(conn: &mut AnyConn, name: &str) -> QueryResult<Option<TypeRow>> {
    let record: Option<TypeRecord> = engine_type::table
        .filter(engine_type::fleet_id.eq(FLEET))
        .filter(engine_type::name.eq(name))
        .filter(engine_type::active.eq(true))
        .select(TypeRecord::as_select())
        .first(conn)
        .optional()?;
    Ok(record.map(TypeRecord::row))
}

impl Store {
    /// Makes a version of an engine type the active one and works out its engines anew. False when it was
    /// active already: then nothing is written.
    ///
    /// # Errors
    /// [`StoreError::Refused`] when `programmes` cannot read the file; others when the database fails.
    pub fn put_engine_type(
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
            if active(conn, name)?.is_some_and(|row| row.digest == digest) {
                return Ok(false);
            }
            activate(conn, name, toml, digest, at)?;
            let engines: Vec<(i64, Id)> = engine_status::table
                .filter(engine_status::fleet_id.eq(FLEET))
                .filter(engine_status::engine_type.eq(name))
                .order(engine_status::engine)
                .select((engine_status::engine_id, engine_status::engine))
                .load(conn)?;
            for (key, engine) in engines {
                recompute::engine(conn, key, EngineId(Uid::from(engine)), programmes)?;
            }
            Ok(true)
        })
    }

    /// The active engine types, by name.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn engine_types(&self) -> Result<Vec<TypeRow>, StoreError> {
        self.read(|conn| {
            let records: Vec<TypeRecord> = engine_type::table
                .filter(engine_type::fleet_id.eq(FLEET))
                .filter(engine_type::active.eq(true))
                .order(engine_type::name)
                .select(TypeRecord::as_select())
                .load(conn)?;
            Ok(records.into_iter().map(TypeRecord::row).collect())
        })
    }

    /// The active version of one engine type.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn engine_type(&self, name: &str) -> Result<Option<TypeRow>, StoreError> {
        self.read(|conn| Ok(active(conn, name)?))
    }
}

/// Makes one version active and all others of its name not; adds it if it was never here.
fn activate(
    conn: &mut AnyConn,
    name: &str,
    toml: &str,
    digest: [u8; 32],
    at: Instant,
) -> QueryResult<()> {
    let of_name = || {
        engine_type::table
            .filter(engine_type::fleet_id.eq(FLEET))
            .filter(engine_type::name.eq(name))
    };
    diesel::update(of_name().filter(engine_type::active.eq(true)))
        .set(engine_type::active.eq(false))
        .execute(conn)?;
    let again = diesel::update(of_name().filter(engine_type::digest.eq(Digest(digest))))
        .set((engine_type::active.eq(true), engine_type::activated_at.eq(at.0)))
        .execute(conn)?;
    if again == 0 {
        diesel::insert_into(engine_type::table)
            .values((
                engine_type::fleet_id.eq(FLEET),
                engine_type::name.eq(name),
                engine_type::digest.eq(Digest(digest)),
                engine_type::toml.eq(toml),
                engine_type::activated_at.eq(at.0),
                engine_type::active.eq(true),
            ))
            .execute(conn)?;
    }
    Ok(())
}
