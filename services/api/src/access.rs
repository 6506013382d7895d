//! What a key may see and post about. A shop: its engines, and the aircraft and parts of those engines.

use crate::problem::Problem;
use gudgeon_life::fact::{Stream, StreamKind};
use gudgeon_life::ids::{EngineId, PartyId};
use gudgeon_store::{EngineRow, Principal, Role, Store, StoreError};

/// The workshop whose engines a listing is narrowed to; `None` for those who see all.
pub(crate) fn narrowed_to(principal: &Principal) -> Result<Option<PartyId>, Problem> {
    match (principal.role, principal.party) {
        (Role::Inspector | Role::Operator, _) => Ok(None),
        (Role::Shop, Some(shop)) => Ok(Some(shop)),
        (Role::Shop, None) => Err(Problem::internal("a shop's key names no shop")),
    }
}

/// An engine that is here and may be seen; anything else is not found.
pub(crate) fn engine(
    store: &Store,
    principal: &Principal,
    id: EngineId,
) -> Result<EngineRow, Problem> {
    let shop = narrowed_to(principal)?;
    let row = store.engine(id)?;
    let seen = match shop {
        Some(shop) => store.may_see(shop, id)?,
        None => true,
    };
    row.filter(|_| seen).ok_or_else(|| Problem::not_found("engine"))
}

/// Whether the record of a thing may be seen. What is not here cannot be seen by a shop.
pub(crate) fn sees(store: &Store, principal: &Principal, stream: Stream) -> Result<bool, Problem> {
    let Some(shop) = narrowed_to(principal)? else { return Ok(true) };
    if stream.kind == StreamKind::Engine && store.may_see(shop, EngineId(stream.id))? {
        return Ok(true);
    }
    let facts = store.facts_of(stream)?;
    if facts.iter().any(|stored| stored.by == Some(shop)) {
        return Ok(true);
    }
    Ok(any_visible(store, shop, &touched_by(store, stream)?)?)
}

/// The engines whose lines hang on a stream. That is the same for all its facts, so the first tells it.
fn touched_by(store: &Store, stream: Stream) -> Result<Vec<EngineId>, StoreError> {
    match store.facts_of(stream)?.first() {
        Some(first) => Ok(store.fact(first.fact.id)?.map_or(Vec::new(), |stored| stored.touched)),
        None => Ok(Vec::new()),
    }
}

/// Whether a fact may be posted to the record of a thing: what is not here yet is open to all, so that
/// posts may arrive in any order; what is here has to be visible. An aircraft or part that no engine hangs
/// on is nobody's yet: the first workshop that installs its engine there takes it on.
pub(crate) fn may_post(
    store: &Store,
    principal: &Principal,
    stream: Stream,
) -> Result<bool, Problem> {
    if narrowed_to(principal)?.is_none() || !store.stream_known(stream)? {
        return Ok(true);
    }
    let unclaimed = matches!(stream.kind, StreamKind::Aircraft | StreamKind::Component)
        && touched_by(store, stream)?.is_empty();
    Ok(unclaimed || sees(store, principal, stream)?)
}

/// Those of the engines that may be seen.
pub(crate) fn visible(
    store: &Store,
    principal: &Principal,
    engines: &[EngineId],
) -> Result<Vec<EngineId>, Problem> {
    let Some(shop) = narrowed_to(principal)? else { return Ok(engines.to_vec()) };
    let mut seen = Vec::new();
    for id in engines {
        if store.may_see(shop, *id)? {
            seen.push(*id);
        }
    }
    Ok(seen)
}

fn any_visible(store: &Store, shop: PartyId, engines: &[EngineId]) -> Result<bool, StoreError> {
    for id in engines {
        if store.may_see(shop, *id)? {
            return Ok(true);
        }
    }
    Ok(false)
}
