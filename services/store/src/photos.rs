//! Photographs, by the SHA-256 of their bytes: kept in the database, so that every replica has them.
//!
//! A record may name a photograph before it is sent or after. Each is one row that is read and written alone,
//! never with others. Of one that was erased the row stays without its bytes, and nobody can send it again.

use crate::FLEET;
use crate::bytes::{Digest, Id};
use crate::conn::Store;
use crate::dialect::{self, AnyConn};
use crate::error::StoreError;
use crate::schema::{photo, photo_sender, photo_use};
use crate::values::Instant;
use diesel::prelude::*;
use gudgeon_life::fact::{Content, Erased, Inspection, StreamKind};
use gudgeon_life::ids::{EngineId, FactId, PartyId, Uid};
use sha2::{Digest as _, Sha256};
use std::collections::BTreeSet;

/// The party that stands for the operator.
const OPERATOR: Id = Id([0; 16]);
/// How many photographs one statement asks for.
const DIGESTS_MAX: usize = 500;

/// A photograph as a row.
#[derive(Insertable)]
#[diesel(table_name = photo, treat_none_as_default_value = false)]
pub(crate) struct PhotoRow {
    pub(crate) fleet_id: i64,
    pub(crate) digest: Digest,
    pub(crate) bytes: Option<Vec<u8>>,
    pub(crate) received_at: i64,
}

/// Who sent a photograph.
#[derive(Insertable)]
#[diesel(table_name = photo_sender, treat_none_as_default_value = false)]
pub(crate) struct SenderRow {
    pub(crate) fleet_id: i64,
    pub(crate) digest: Digest,
    pub(crate) sender: Id,
    pub(crate) sent_at: i64,
    pub(crate) size: i64,
}

/// A record that names a photograph.
#[derive(Insertable)]
#[diesel(table_name = photo_use, treat_none_as_default_value = false)]
pub(crate) struct UseRow {
    fleet_id: i64,
    digest: Digest,
    fact_uid: Id,
    engine: Id,
    posted_by: Id,
}

/// What became of a photograph that was sent.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sent {
    /// It is new here.
    Created,
    /// It was here; now it is known that this sender has it too.
    Same,
    /// It was erased, and is not taken again.
    Erased,
}

/// Whether a photograph that a record names can be seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PhotoState {
    /// Its bytes are here.
    Here,
    /// Nobody has sent it yet.
    Missing,
    /// It was erased.
    Erased,
}

impl PhotoState {
    /// The word used in the API and on paper.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Here => "here",
            Self::Missing => "missing",
            Self::Erased => "erased",
        }
    }
}

/// A record that names a photograph.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PhotoUse {
    /// The engine that the record is about.
    pub engine: EngineId,
    /// The workshop that posted the record; `None` for the operator.
    pub by: Option<PartyId>,
}

/// Who sent a photograph, and which records name it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct PhotoTies {
    /// Everybody who sent it; `None` is the operator.
    pub senders: Vec<Option<PartyId>>,
    /// Every record that names it, in order of the records' identifiers.
    pub uses: Vec<PhotoUse>,
}

/// What was sent by somebody since an instant.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct SentSince {
    /// How many photographs.
    pub count: usize,
    /// How many bytes they have together.
    pub bytes: i64,
}

/// The SHA-256 of a photograph: its name.
#[must_use]
pub fn photo_digest(bytes: &[u8]) -> [u8; 32] {
    Sha256::digest(bytes).into()
}

/// The photographs that a fact names, each once.
#[must_use]
pub fn photos_named(content: &Content) -> BTreeSet<[u8; 32]> {
    named(content).map(|(_, photos)| photos).unwrap_or_default()
}

fn of_inspection(it: &Inspection) -> BTreeSet<[u8; 32]> {
    let found = it.findings.iter().flat_map(|finding| &finding.photos);
    found.chain(it.marks.iter().flat_map(|mark| &mark.photos)).copied().collect()
}

/// The photographs that a fact names, with the engine that it is about.
fn named(content: &Content) -> Option<(EngineId, BTreeSet<[u8; 32]>)> {
    match content {
        Content::Inspection(it) => Some((it.engine, of_inspection(it))),
        Content::Amendment(it) if it.stream.kind == StreamKind::Engine => {
            let (_, photos) = named(&it.replacement.as_ref()?.content)?;
            Some((EngineId(it.stream.id), photos))
        }
        _ => None,
    }
}

/// Notes which photographs a fact names, for good.
pub(crate) fn claim(
    conn: &mut AnyConn,
    fact: FactId,
    content: &Content,
    by: Option<PartyId>,
) -> QueryResult<()> {
    let Some((engine, photos)) = named(content) else { return Ok(()) };
    let row = |digest| UseRow {
        fleet_id: FLEET,
        digest: Digest(digest),
        fact_uid: Id::from(fact.0),
        engine: Id::from(engine.0),
        posted_by: party_id(by),
    };
    let rows: Vec<UseRow> = photos.into_iter().map(row).collect();
    if rows.is_empty() { Ok(()) } else { dialect::add_photo_uses(conn, &rows).map(|_| ()) }
}

/// Takes the photographs away that an erasure names: their rows stay, so that they are not taken again.
pub(crate) fn take_away(conn: &mut AnyConn, it: &Erased, at: Instant) -> QueryResult<()> {
    for digest in &it.photos {
        let digest = Digest(*digest);
        let row = PhotoRow { fleet_id: FLEET, digest, bytes: None, received_at: at.0 };
        dialect::empty_photo(conn, &row)?;
        diesel::delete(
            photo_sender::table
                .filter(photo_sender::fleet_id.eq(FLEET))
                .filter(photo_sender::digest.eq(digest)),
        )
        .execute(conn)?;
    }
    Ok(())
}

/// What somebody sent and no record names: nobody else could ever see it.
pub(crate) fn unnamed_of(conn: &mut AnyConn, sender: PartyId) -> QueryResult<Vec<[u8; 32]>> {
    let naming = photo_use::table
        .filter(photo_use::fleet_id.eq(photo_sender::fleet_id))
        .filter(photo_use::digest.eq(photo_sender::digest));
    let digests: Vec<Digest> = photo_sender::table
        .filter(photo_sender::fleet_id.eq(FLEET))
        .filter(photo_sender::sender.eq(Id::from(sender.0)))
        .filter(diesel::dsl::not(diesel::dsl::exists(naming)))
        .select(photo_sender::digest)
        .load(conn)?;
    Ok(digests.into_iter().map(|digest| digest.0).collect())
}

/// Keeps a photograph and who sent it.
pub(crate) fn keep(conn: &mut AnyConn, row: &PhotoRow, senders: &[SenderRow]) -> QueryResult<Sent> {
    let added = dialect::add_photo(conn, row)?;
    let of_digest =
        photo::table.filter(photo::fleet_id.eq(FLEET)).filter(photo::digest.eq(row.digest));
    if added == 0 {
        let here: Option<Digest> = of_digest
            .filter(photo::bytes.is_not_null())
            .select(photo::digest)
            .first(conn)
            .optional()?;
        if here.is_none() {
            return Ok(Sent::Erased);
        }
    }
    dialect::add_photo_senders(conn, senders)?;
    Ok(if added == 0 { Sent::Same } else { Sent::Created })
}

/// The bytes of a photograph.
pub(crate) fn bytes(conn: &mut AnyConn, digest: Digest) -> QueryResult<Option<Vec<u8>>> {
    let found: Option<Option<Vec<u8>>> =
        photo::table.find((FLEET, digest)).select(photo::bytes).first(conn).optional()?;
    Ok(found.flatten())
}

fn party_id(party: Option<PartyId>) -> Id {
    party.map_or(OPERATOR, |party| Id::from(party.0))
}

fn party_of(id: Id) -> Option<PartyId> {
    (id != OPERATOR).then(|| PartyId(Uid::from(id)))
}

impl Store {
    /// Keeps a photograph and notes who sent it; `None` is the operator. The same one again changes nothing.
    ///
    /// # Errors
    /// [`StoreError`] when the database fails; nothing is kept then.
    pub fn put_photo(
        &self,
        bytes: &[u8],
        sender: Option<PartyId>,
        at: Instant,
    ) -> Result<Sent, StoreError> {
        let digest = Digest(photo_digest(bytes));
        let size = i64::try_from(bytes.len())
            .map_err(|error| StoreError::Refused(format!("too long a photograph: {error}")))?;
        let row =
            PhotoRow { fleet_id: FLEET, digest, bytes: Some(bytes.to_vec()), received_at: at.0 };
        let sender = party_id(sender);
        let sender = SenderRow { fleet_id: FLEET, digest, sender, sent_at: at.0, size };
        self.write(|conn| Ok(keep(conn, &row, std::slice::from_ref(&sender))?))
    }

    /// The bytes of a photograph, if they are here.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn photo(&self, digest: [u8; 32]) -> Result<Option<Vec<u8>>, StoreError> {
        self.read(|conn| Ok(bytes(conn, Digest(digest))?))
    }

    /// Who sent a photograph, and which records name it.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn photo_ties(&self, digest: [u8; 32]) -> Result<PhotoTies, StoreError> {
        let digest = Digest(digest);
        self.read(|conn| {
            let senders: Vec<Id> = photo_sender::table
                .filter(photo_sender::fleet_id.eq(FLEET))
                .filter(photo_sender::digest.eq(digest))
                .order(photo_sender::sender)
                .select(photo_sender::sender)
                .load(conn)?;
            let uses: Vec<(Id, Id)> = photo_use::table
                .filter(photo_use::fleet_id.eq(FLEET))
                .filter(photo_use::digest.eq(digest))
                .order(photo_use::fact_uid)
                .select((photo_use::engine, photo_use::posted_by))
                .load(conn)?;
            let of =
                |(engine, by)| PhotoUse { engine: EngineId(Uid::from(engine)), by: party_of(by) };
            Ok(PhotoTies {
                senders: senders.into_iter().map(party_of).collect(),
                uses: uses.into_iter().map(of).collect(),
            })
        })
    }

    /// Which of these photographs can be seen, in their order.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn photo_states(
        &self,
        digests: &[[u8; 32]],
    ) -> Result<Vec<([u8; 32], PhotoState)>, StoreError> {
        self.read(|conn| {
            let mut known: Vec<(Digest, bool)> = Vec::new();
            for chunk in digests.chunks(DIGESTS_MAX) {
                let chunk: Vec<Digest> = chunk.iter().map(|it| Digest(*it)).collect();
                let found = photo::table
                    .filter(photo::fleet_id.eq(FLEET))
                    .filter(photo::digest.eq_any(chunk))
                    .select((photo::digest, photo::bytes.is_not_null()))
                    .load::<(Digest, bool)>(conn)?;
                known.extend(found);
            }
            let state = |digest: [u8; 32]| match known.iter().find(|it| it.0 == Digest(digest)) {
                Some((_, true)) => PhotoState::Here,
                Some((_, false)) => PhotoState::Erased,
                None => PhotoState::Missing,
            };
            Ok(digests.iter().map(|digest| (*digest, state(*digest))).collect())
        })
    }

    /// What somebody sent since an instant; `None` is the operator.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn photos_sent_since(
        &self,
        sender: Option<PartyId>,
        since: Instant,
    ) -> Result<SentSince, StoreError> {
        let sizes: Vec<i64> = self.read(|conn| {
            Ok(photo_sender::table
                .filter(photo_sender::fleet_id.eq(FLEET))
                .filter(photo_sender::sender.eq(party_id(sender)))
                .filter(photo_sender::sent_at.gt(since.0))
                .select(photo_sender::size)
                .load(conn)?)
        })?;
        Ok(SentSince { count: sizes.len(), bytes: sizes.iter().sum() })
    }
}
