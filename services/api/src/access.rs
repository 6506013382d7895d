//! What a key may see and post about on a day. A shop: the engines that it holds, the aircraft and parts of
//! those engines, and always what it posted itself. An owner: what is theirs.

use crate::problem::{Kind, Problem};
use chrono::NaiveDate;
use gudgeon_life::fact::{Affected, Amendment, Content, Fact, Host, Stream, StreamKind};
use gudgeon_life::ids::{EngineId, PartyId};
use gudgeon_store::{EngineRow, Principal, Role, Sight, Store, StoreError, Stored};

/// Whose eyes a key gives.
enum Eyes {
    /// Those of an inspector or the operator, who see all.
    All,
    /// Those of a workshop.
    Shop(PartyId),
    /// Those of an owner.
    Owner(PartyId),
}

fn eyes(principal: &Principal) -> Result<Eyes, Problem> {
    match (principal.role, principal.party) {
        (Role::Inspector | Role::Operator, _) => Ok(Eyes::All),
        (Role::Shop, Some(shop)) => Ok(Eyes::Shop(shop)),
        (Role::Owner, Some(owner)) => Ok(Eyes::Owner(owner)),
        (Role::Shop | Role::Owner, None) => {
            Err(Problem::internal("a key of a shop or an owner names neither"))
        }
    }
}

/// The workshop that a key is of; `None` for those who see all. An owner is neither, and is refused.
pub(crate) fn shop(principal: &Principal) -> Result<Option<PartyId>, Problem> {
    match eyes(principal)? {
        Eyes::All => Ok(None),
        Eyes::Shop(shop) => Ok(Some(shop)),
        Eyes::Owner(_) => {
            Err(Problem::new(Kind::FORBIDDEN, "an owner's key opens only what names its engines"))
        }
    }
}

/// The owner whose key this is; `None` for everybody else.
pub(crate) fn owner(principal: &Principal) -> Result<Option<PartyId>, Problem> {
    Ok(match eyes(principal)? {
        Eyes::Owner(owner) => Some(owner),
        Eyes::All | Eyes::Shop(_) => None,
    })
}

/// Who is named beside what a key posts: its workshop or owner, nobody for those who see all.
pub(crate) fn poster(principal: &Principal) -> Result<Option<PartyId>, Problem> {
    Ok(match eyes(principal)? {
        Eyes::All => None,
        Eyes::Shop(party) | Eyes::Owner(party) => Some(party),
    })
}

/// The workshop whose engines a listing is narrowed to, on the day that it asks; `None` for those who see all.
pub(crate) fn narrowed_to(
    principal: &Principal,
    today: NaiveDate,
) -> Result<Option<Sight>, Problem> {
    Ok(shop(principal)?.map(|shop| Sight { shop, on: today }))
}

/// An engine that is here and may be seen; anything else is not found.
pub(crate) fn engine(
    store: &Store,
    principal: &Principal,
    today: NaiveDate,
    id: EngineId,
) -> Result<EngineRow, Problem> {
    let row = store.engine(id)?;
    let seen = sees(store, principal, today, Stream::engine(id))?;
    row.filter(|_| seen).ok_or_else(|| Problem::not_found("engine"))
}

/// Whether the record of a thing may be seen. What is not here cannot be seen by a shop.
pub(crate) fn sees(
    store: &Store,
    principal: &Principal,
    today: NaiveDate,
    stream: Stream,
) -> Result<bool, Problem> {
    Ok(match eyes(principal)? {
        Eyes::All => true,
        Eyes::Shop(shop) => shop_sees(store, Sight { shop, on: today }, stream)?,
        Eyes::Owner(owner) => owns(store, owner, stream, &[today])?,
    })
}

/// Whether something was somebody's on each of these days.
fn owns(
    store: &Store,
    owner: PartyId,
    stream: Stream,
    days: &[NaiveDate],
) -> Result<bool, StoreError> {
    let things = store.owned(owner)?;
    let on = |day: &NaiveDate| things.iter().any(|it| it.of == stream && it.on(*day));
    Ok(days.iter().all(on))
}

/// A shop sees an aircraft or part by any engine that hangs on it; while none does, by having told of it. It
/// sees people and workshops that it told of.
fn shop_sees(store: &Store, sight: Sight, stream: Stream) -> Result<bool, StoreError> {
    match stream.kind {
        StreamKind::Engine => store.may_see(sight, EngineId(stream.id)),
        StreamKind::Party | StreamKind::Fleet => told_of(store, sight.shop, stream),
        StreamKind::Aircraft | StreamKind::Component => {
            let engines = touched_by(store, stream)?;
            if engines.is_empty() {
                return told_of(store, sight.shop, stream);
            }
            any_visible(store, sight, &engines)
        }
    }
}

fn told_of(store: &Store, shop: PartyId, stream: Stream) -> Result<bool, StoreError> {
    Ok(store.facts_of(stream)?.iter().any(|stored| stored.by == Some(shop)))
}

/// Whether one record may be seen: what a shop posted stays its own to read, whoever holds the engine now.
pub(crate) fn sees_record(
    store: &Store,
    principal: &Principal,
    today: NaiveDate,
    stored: &Stored,
) -> Result<bool, Problem> {
    Ok(is_own(principal, stored) || sees(store, principal, today, stored.stream)?)
}

/// Whether a record was posted by the workshop whose key this is.
pub(crate) fn is_own(principal: &Principal, stored: &Stored) -> bool {
    principal.role == Role::Shop && principal.party.is_some() && stored.by == principal.party
}

/// Whether a photograph may be seen: by any engine whose record names it, or by having sent it while no record
/// does. A record names it for others only if it was posted by somebody who has it: nobody comes by a photograph
/// by naming its digest.
pub(crate) fn sees_photo(
    store: &Store,
    principal: &Principal,
    today: NaiveDate,
    digest: [u8; 32],
) -> Result<bool, Problem> {
    let Some(shop) = shop(principal)? else { return Ok(true) };
    let ties = store.photo_ties(digest)?;
    if ties.uses.is_empty() {
        return Ok(ties.senders.contains(&Some(shop)));
    }
    let had_it = |by: Option<PartyId>| by.is_none() || ties.senders.contains(&by);
    let engines: Vec<EngineId> =
        ties.uses.iter().filter(|it| had_it(it.by)).map(|it| it.engine).collect();
    Ok(any_visible(store, Sight { shop, on: today }, &engines)?)
}

/// The engines whose lines hang on a stream. That is the same for all its facts, so the first tells it.
fn touched_by(store: &Store, stream: Stream) -> Result<Vec<EngineId>, StoreError> {
    match store.facts_of(stream)?.first() {
        Some(first) => Ok(store.fact(first.fact.id)?.map_or(Vec::new(), |stored| stored.touched)),
        None => Ok(Vec::new()),
    }
}

/// Whether a fact may be posted. A shop may correct its own records for good, and tell late what it did on
/// days on which it held the engine.
pub(crate) fn may_post(
    store: &Store,
    principal: &Principal,
    today: NaiveDate,
    fact: &Fact,
) -> Result<bool, Problem> {
    let shop = match eyes(principal)? {
        Eyes::All => return Ok(true),
        Eyes::Shop(shop) => shop,
        Eyes::Owner(owner) => return owner_may_post(store, owner, today, fact),
    };
    let root = match &fact.entry.content {
        Content::Amendment(it) => store.fact(it.root)?,
        _ => None,
    };
    if root.is_some_and(|root| is_own(principal, &root)) {
        return Ok(true);
    }
    may_tell_of(store, shop, today, fact, fact.entry.content.stream())
}

/// An owner tells what an hour meter shows, what happened to an engine and which workshops may see it; and
/// corrects what he told, and the last, whoever told it. The engine has to be the owner's today, and on every day
/// that is told of: who sold it lets nobody in any more, however early the day.
fn owner_may_post(
    store: &Store,
    owner: PartyId,
    today: NaiveDate,
    fact: &Fact,
) -> Result<bool, Problem> {
    let entry = &fact.entry;
    let days = match &entry.content {
        Content::Reading(it) if matches!(it.of, Host::Engine(_)) => vec![entry.on],
        Content::Event(it) if matches!(it.of, Affected::Engine(_)) => vec![entry.on],
        Content::Custody(_) => vec![entry.on],
        Content::Amendment(it) => match amended(store, owner, it)? {
            Some(days) => days,
            None => return Ok(false),
        },
        _ => return Ok(false),
    };
    // Somewhere it is tomorrow already.
    let days: Vec<NaiveDate> = days.into_iter().map(|day| day.min(today)).chain([today]).collect();
    Ok(owns(store, owner, entry.content.stream(), &days)?)
}

/// The days that a correction tells of; `None` for one that an owner may not make.
fn amended(
    store: &Store,
    owner: PartyId,
    amendment: &Amendment,
) -> Result<Option<Vec<NaiveDate>>, StoreError> {
    let may = |root: &Stored| {
        matches!(root.fact.entry.content, Content::Custody(_)) || root.by == Some(owner)
    };
    let Some(root) = store.fact(amendment.root)?.filter(may) else { return Ok(None) };
    let after = amendment.replacement.as_ref().map(|entry| entry.on);
    Ok(Some(after.into_iter().chain([root.fact.entry.on]).collect()))
}

/// Whether a fact may tie its own record to another one.
pub(crate) fn may_link(
    store: &Store,
    principal: &Principal,
    today: NaiveDate,
    fact: &Fact,
    linked: Stream,
) -> Result<bool, Problem> {
    match eyes(principal)? {
        Eyes::All => Ok(true),
        Eyes::Shop(shop) => may_tell_of(store, shop, today, fact, linked),
        Eyes::Owner(_) => Ok(false),
    }
}

/// What is not here yet is open to all, so that posts may arrive in any order; what is here has to be visible,
/// today or on the day that the fact is about. An aircraft or part that no engine hangs on is nobody's yet:
/// the first workshop that installs its engine there takes it on.
fn may_tell_of(
    store: &Store,
    shop: PartyId,
    today: NaiveDate,
    fact: &Fact,
    stream: Stream,
) -> Result<bool, Problem> {
    if !store.stream_known(stream)? {
        return Ok(true);
    }
    let unclaimed = matches!(stream.kind, StreamKind::Aircraft | StreamKind::Component)
        && touched_by(store, stream)?.is_empty();
    if unclaimed || shop_sees(store, Sight { shop, on: today }, stream)? {
        return Ok(true);
    }
    Ok(shop_sees(store, Sight { shop, on: fact.entry.on.min(today) }, stream)?)
}

/// Those of the engines that may be seen.
pub(crate) fn visible(
    store: &Store,
    principal: &Principal,
    today: NaiveDate,
    engines: &[EngineId],
) -> Result<Vec<EngineId>, Problem> {
    let mut seen = Vec::new();
    for id in engines {
        if sees(store, principal, today, Stream::engine(*id))? {
            seen.push(*id);
        }
    }
    Ok(seen)
}

fn any_visible(store: &Store, sight: Sight, engines: &[EngineId]) -> Result<bool, StoreError> {
    for id in engines {
        if store.may_see(sight, *id)? {
            return Ok(true);
        }
    }
    Ok(false)
}
