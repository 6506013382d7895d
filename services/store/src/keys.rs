//! Keys of the API. Only their SHA-256 is here, so that a stolen database opens nothing.

use crate::FLEET;
use crate::bytes::{Digest, Id};
use crate::conn::Store;
use crate::error::StoreError;
use crate::schema::api_key;
use crate::values::Instant;
use diesel::prelude::*;
use gudgeon_life::ids::{PartyId, Uid};

/// What the holder of a key may do.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Role {
    /// Posts about the engines in its custody.
    Shop,
    /// Sees its own engines, and says which workshops may.
    Owner,
    /// Reads everything.
    Inspector,
    /// Runs the service.
    Operator,
}

impl Role {
    /// All roles, in the order in which messages list them.
    pub const ALL: [Self; 4] = [Self::Shop, Self::Owner, Self::Inspector, Self::Operator];

    /// The word used on the command line and in stored rows.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Shop => "shop",
            Self::Owner => "owner",
            Self::Inspector => "inspector",
            Self::Operator => "operator",
        }
    }
}

/// Who holds a key.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Principal {
    /// The key's own key; `None` for whoever comes by the link of a mail.
    pub key: Option<i64>,
    /// What they may do.
    pub role: Role,
    /// The workshop that they post for, or the owner who they are.
    pub party: Option<PartyId>,
    /// What the operator called the key.
    pub label: String,
}

/// A key to be added.
#[derive(Clone, Copy, Debug)]
pub struct NewKey<'a> {
    /// SHA-256 of the key.
    pub hash: [u8; 32],
    /// What its holder may do.
    pub role: Role,
    /// The workshop that they post for, or the owner who they are.
    pub party: Option<PartyId>,
    /// What to call it.
    pub label: &'a str,
    /// When it was made.
    pub created_at: Instant,
    /// When it ends; `None` for never.
    pub expires_at: Option<Instant>,
}

impl Store {
    /// Adds a key.
    ///
    /// # Errors
    /// [`StoreError`] when the database fails or holds the same hash already.
    pub fn add_key(&self, key: &NewKey<'_>) -> Result<(), StoreError> {
        self.write(|conn| {
            diesel::insert_into(api_key::table)
                .values((
                    api_key::fleet_id.eq(FLEET),
                    api_key::hash.eq(Digest(key.hash)),
                    api_key::role.eq(key.role.word()),
                    api_key::party.eq(key.party.map(|party| Id::from(party.0))),
                    api_key::label.eq(key.label),
                    api_key::created_at.eq(key.created_at.0),
                    api_key::expires_at.eq(key.expires_at.map(|at| at.0)),
                ))
                .execute(conn)?;
            Ok(())
        })
    }

    /// Who holds the key with this hash; `None` when it is unknown, expired or revoked.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn principal(
        &self,
        hash: &[u8; 32],
        now: Instant,
    ) -> Result<Option<Principal>, StoreError> {
        self.read(|conn| {
            let row: Option<(i64, String, Option<Id>, String)> = api_key::table
                .filter(api_key::fleet_id.eq(FLEET))
                .filter(api_key::hash.eq(Digest(*hash)))
                .filter(api_key::revoked_at.is_null())
                .filter(api_key::expires_at.is_null().or(api_key::expires_at.gt(now.0)))
                .select((api_key::id, api_key::role, api_key::party, api_key::label))
                .first(conn)
                .optional()?;
            let Some((key, word, party, label)) = row else { return Ok(None) };
            let role = Role::ALL
                .into_iter()
                .find(|role| role.word() == word)
                .ok_or_else(|| StoreError::Corrupt(format!("a key of role `{word}`")))?;
            let party = party.map(|party| PartyId(Uid::from(party)));
            Ok(Some(Principal { key: Some(key), role, party, label }))
        })
    }

    /// Ends a key now; false when there is none that has not ended.
    ///
    /// # Errors
    /// [`StoreError`] when the database fails.
    pub fn revoke_key(&self, hash: &[u8; 32], now: Instant) -> Result<bool, StoreError> {
        self.write(|conn| {
            let rows = diesel::update(
                api_key::table
                    .filter(api_key::fleet_id.eq(FLEET))
                    .filter(api_key::hash.eq(Digest(*hash)))
                    .filter(api_key::revoked_at.is_null()),
            )
            .set(api_key::revoked_at.eq(now.0))
            .execute(conn)?;
            Ok(rows > 0)
        })
    }
}
