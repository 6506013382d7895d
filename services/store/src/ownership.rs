//! Where to look for what belonged to somebody: everything that was ever told to.

use crate::FLEET;
use crate::bytes::Id;
use crate::conn::Store;
use crate::dialect::{self, AnyConn};
use crate::error::StoreError;
use crate::facts;
use crate::graph::{self, Nodes};
use crate::schema::{owner_claim, stream};
use crate::streams::stream_of;
use crate::values::Stored;
use diesel::prelude::*;
use gudgeon_life::fact::{Content, Fact, StreamKind};
use gudgeon_life::ids::PartyId;
use gudgeon_life::owned::{Owned, owned_by};
use std::collections::BTreeMap;

/// Something that was told to belong to somebody.
#[derive(Insertable)]
#[diesel(table_name = owner_claim, treat_none_as_default_value = false)]
pub(crate) struct OwnerClaimRow {
    fleet_id: i64,
    owner: Id,
    stream_id: i64,
}

/// Notes the owner that a fact tells, for good: whether it still stands is asked when it is needed.
pub(crate) fn claim(conn: &mut AnyConn, stream_id: i64, content: &Content) -> QueryResult<()> {
    match content {
        Content::Ownership(it) => {
            let row = OwnerClaimRow { fleet_id: FLEET, owner: Id::from(it.owner.0), stream_id };
            dialect::add_owner_claim(conn, &row).map(|_| ())
        }
        Content::Amendment(it) => match &it.replacement {
            Some(entry) => claim(conn, stream_id, &entry.content),
            None => Ok(()),
        },
        _ => Ok(()),
    }
}

/// What belonged to somebody, and when.
pub(crate) fn owned(conn: &mut AnyConn, owner: PartyId) -> Result<Vec<Owned>, StoreError> {
    let rows: Vec<(i64, i16, Id)> = owner_claim::table
        .inner_join(stream::table.on(stream::id.eq(owner_claim::stream_id)))
        .filter(owner_claim::fleet_id.eq(FLEET))
        .filter(owner_claim::owner.eq(Id::from(owner.0)))
        .select((stream::id, stream::kind, stream::uid))
        .load(conn)?;
    let mut nodes = Nodes::new();
    for (key, kind, uid) in rows {
        nodes.insert(key, stream_of(kind, uid)?);
    }
    nodes.extend(graph::near(conn, &nodes, StreamKind::Engine)?);
    nodes.extend(graph::near(conn, &nodes, StreamKind::Component)?);
    Ok(owned_by(&facts::facts_of(conn, &nodes)?, owner))
}

/// Those of a thing's facts that are about days on which it belonged to somebody. A correction goes with the
/// fact that it corrects.
#[must_use]
pub fn while_owned(facts: Vec<Stored>, owned: &Owned) -> Vec<Stored> {
    let days: BTreeMap<_, _> = facts.iter().map(|it| (it.fact.id, it.fact.entry.on)).collect();
    let day = |fact: &Fact| match &fact.entry.content {
        Content::Amendment(it) => days.get(&it.root).copied().unwrap_or(fact.entry.on),
        _ => fact.entry.on,
    };
    facts.into_iter().filter(|it| owned.on(day(&it.fact))).collect()
}

impl Store {
    /// The aircraft, engines and parts that belonged to somebody, and when.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn owned(&self, owner: PartyId) -> Result<Vec<Owned>, StoreError> {
        self.read(|conn| owned(conn, owner))
    }
}
