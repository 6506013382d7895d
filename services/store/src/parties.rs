//! Owners, workshops and inspectors, with names and addresses as their standing registration gives them.

use crate::FLEET;
use crate::bytes::Id;
use crate::conn::Store;
use crate::dialect::{self, AnyConn};
use crate::error::StoreError;
use crate::facts::{self, FactRow};
use crate::schema::{party, stream};
use crate::streams;
use crate::suppressions;
use crate::values::Stored;
use chrono::NaiveDate;
use diesel::prelude::*;
use gudgeon_life::amend::standing_versions;
use gudgeon_life::fact::{Content, Entry, Fact, PartyRole, Stream, StreamKind};
use gudgeon_life::ids::{PartyId, Uid};

/// How many parties one statement names, far below what any database permits.
const IDS_MAX: usize = 10_000;

/// An owner, a workshop or an inspector.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PartyRow {
    /// Its key, for paging.
    pub key: i64,
    /// Who.
    pub party: PartyId,
    /// What they are here.
    pub role: PartyRole,
    /// Their name; empty once it is erased.
    pub name: String,
    /// Their e-mail address.
    pub email: Option<String>,
    /// The day since which name and address are erased.
    pub erased_on: Option<NaiveDate>,
}

/// A party as a row.
#[derive(Insertable, AsChangeset, Queryable, Selectable)]
#[diesel(table_name = party, treat_none_as_null = true)]
pub(crate) struct PartyRecord {
    fleet_id: i64,
    stream_id: i64,
    uid: Id,
    role: String,
    name: String,
    email: Option<String>,
    erased_on: Option<NaiveDate>,
}

impl PartyRecord {
    fn row(self) -> Result<PartyRow, StoreError> {
        let role = PartyRole::ALL
            .into_iter()
            .find(|role| role.word() == self.role)
            .ok_or_else(|| StoreError::Corrupt(format!("a party of role `{}`", self.role)))?;
        Ok(PartyRow {
            key: self.stream_id,
            party: PartyId(Uid::from(self.uid)),
            role,
            name: self.name,
            email: self.email,
            erased_on: self.erased_on,
        })
    }
}

/// Works a party's row out from its registrations as they stand: the last of them by day, whatever came first.
/// An erased one has no texts left.
pub(crate) fn project(conn: &mut AnyConn, stream_id: i64) -> Result<(), StoreError> {
    let stored: Vec<Stored> =
        facts::rows_of(conn, stream_id)?.iter().map(FactRow::stored).collect::<Result<_, _>>()?;
    let all: Vec<Fact> = stored.iter().map(|it| it.fact.clone()).collect();
    let versions = standing_versions(&all);
    let standing = versions.iter().filter_map(|(root, version)| {
        let version = stored.iter().find(|it| it.fact.id == *version)?;
        let (entry, within) = registration(&version.fact.entry)?;
        Some(((entry.on, entry.order_in_day, *root), entry, version, within))
    });
    let erasures = stored.iter().filter(|it| matches!(it.fact.entry.content, Content::Erased(_)));
    let erased_on = erasures.map(|it| it.fact.entry.on).min();
    let last = standing.max_by_key(|(place, ..)| *place);
    let Some((_, Entry { content: Content::PartyRegistered(it), .. }, version, within)) = last
    else {
        // Withdrawn, it was never registered: nobody is to be written to, and no name is to stay.
        diesel::delete(party::table.find((FLEET, stream_id))).execute(conn)?;
        return Ok(());
    };
    let text = |name: &str| version.texts.private.get(&format!("{within}/{name}")).cloned();
    let record = PartyRecord {
        fleet_id: FLEET,
        stream_id,
        uid: Id::from(it.party.0),
        role: it.role.word().to_owned(),
        name: text("name").unwrap_or_default(),
        email: text("email"),
        erased_on,
    };
    suppressions::forget_others(conn, record.uid, record.email.as_deref())?;
    dialect::put_party(conn, &record)?;
    Ok(())
}

/// The parties with these identifiers. The key of their table leads to them, where it is asked for whole.
pub(crate) fn named(conn: &mut AnyConn, ids: &[Id]) -> QueryResult<Vec<PartyRecord>> {
    party::table
        .inner_join(stream::table.on(stream::id.eq(party::stream_id)))
        .filter(party::fleet_id.eq(FLEET))
        .filter(stream::fleet_id.eq(FLEET))
        .filter(stream::kind.eq(streams::kind_number(StreamKind::Party)))
        .filter(stream::uid.eq_any(ids))
        .select(PartyRecord::as_select())
        .load(conn)
}

/// The registration that a fact holds, and where in its body the texts of that stand.
fn registration(entry: &Entry) -> Option<(&Entry, &'static str)> {
    match &entry.content {
        Content::PartyRegistered(_) => Some((entry, "")),
        Content::Amendment(it) => Some((it.replacement.as_deref()?, "/record")),
        _ => None,
    }
}

impl Store {
    /// One party.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn party(&self, id: PartyId) -> Result<Option<PartyRow>, StoreError> {
        self.read(|conn| {
            let Some(stream) = streams::find(conn, Stream::party(id))? else {
                return Ok(None);
            };
            let record: Option<PartyRecord> = party::table
                .find((FLEET, stream.id))
                .select(PartyRecord::as_select())
                .first(conn)
                .optional()?;
            record.map(PartyRecord::row).transpose()
        })
    }

    /// These parties, in no order; those that are not registered are left out.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn parties_of(&self, ids: &[PartyId]) -> Result<Vec<PartyRow>, StoreError> {
        self.read(|conn| {
            let mut parties = Vec::new();
            for chunk in ids.chunks(IDS_MAX) {
                let ids: Vec<Id> = chunk.iter().map(|party| Id::from(party.0)).collect();
                for record in named(conn, &ids)? {
                    parties.push(record.row()?);
                }
            }
            Ok(parties)
        })
    }

    /// The parties of one role, in order of key, after a key.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn parties(
        &self,
        role: PartyRole,
        after_key: Option<i64>,
        limit: i64,
    ) -> Result<Vec<PartyRow>, StoreError> {
        self.read(|conn| {
            let records: Vec<PartyRecord> = party::table
                .filter(party::fleet_id.eq(FLEET))
                .filter(party::role.eq(role.word()))
                .filter(party::stream_id.gt(after_key.unwrap_or(0)))
                .order(party::stream_id)
                .limit(limit)
                .select(PartyRecord::as_select())
                .load(conn)?;
            records.into_iter().map(PartyRecord::row).collect()
        })
    }
}
