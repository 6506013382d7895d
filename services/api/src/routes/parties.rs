//! Workshops, their keys, and owners.

use crate::access;
use crate::answers::{instant, records};
use crate::auth::{Operator, Reader, mint_key};
use crate::call::Call;
use crate::problem::Problem;
use crate::read::{self, Found};
use crate::requests::NAME_CHARS_MAX;
use actix_web::{HttpResponse, web};
use gudgeon_life::fact::{Content, PartyRole, Stream};
use gudgeon_life::ids::{FactId, PartyId};
use gudgeon_store::{NewKey, Role, Stored};
use serde_json::json;

/// A shop; another shop sees nothing of it.
pub(super) async fn get_shop(reader: Reader, call: Call) -> Result<HttpResponse, Problem> {
    let id = PartyId(call.uid("id")?);
    let app = call.app.clone();
    let record = web::block(move || {
        let own = access::narrowed_to(&reader.0)?.is_none_or(|shop| shop == id);
        let stored = app.store.fact(FactId(id.0))?.filter(|_| own);
        registered(stored, PartyRole::Shop).ok_or_else(|| Problem::not_found("shop"))
    })
    .await??;
    Ok(HttpResponse::Ok().json(json!({ "record": records::record(&record) })))
}

/// An owner. A shop sees those whom it registered, and those of its engines.
pub(super) async fn get_owner(reader: Reader, call: Call) -> Result<HttpResponse, Problem> {
    let id = PartyId(call.uid("id")?);
    let app = call.app.clone();
    let record = web::block(move || {
        let stored = registered(app.store.fact(FactId(id.0))?, PartyRole::Owner)
            .ok_or_else(|| Problem::not_found("owner"))?;
        let engines = app.store.engines_of_owners(&[id])?;
        let engines: Vec<_> = engines.iter().map(|row| row.engine).collect();
        let seen = access::sees(&app.store, &reader.0, Stream::party(id))?
            || !access::visible(&app.store, &reader.0, &engines)?.is_empty();
        if seen { Ok(stored) } else { Err(Problem::not_found("owner")) }
    })
    .await??;
    Ok(HttpResponse::Ok().json(json!({ "record": records::record(&record) })))
}

/// `{label}`: a new key of a shop, shown this once.
pub(super) async fn post_key(_: Operator, call: Call) -> Result<HttpResponse, Problem> {
    let id = PartyId(call.uid("id")?);
    let (app, now) = (call.app.clone(), call.now);
    let body = call.body("application/json").await?;
    let node = read::parse(&body).map_err(Problem::malformed)?;
    let found = Found::default();
    let label = found.object(&node).required("label").and_then(|it| it.text(NAME_CHARS_MAX));
    found.into_result().map_err(Problem::invalid)?;
    let label = label.unwrap_or_default();
    let (key, hash) = mint_key();
    let shown = json!({ "key": key, "label": label, "created_at": instant(now) });
    web::block(move || {
        registered(app.store.fact(FactId(id.0))?, PartyRole::Shop)
            .ok_or_else(|| Problem::not_found("shop"))?;
        app.store.add_key(&NewKey {
            hash,
            role: Role::Shop,
            party: Some(id),
            label: &label,
            created_at: now,
            expires_at: None,
        })?;
        Ok::<(), Problem>(())
    })
    .await??;
    Ok(HttpResponse::Created().json(shown))
}

/// A stored fact, if it registers a party of this role.
fn registered(stored: Option<Stored>, role: PartyRole) -> Option<Stored> {
    stored.filter(|stored| {
        matches!(&stored.fact.entry.content, Content::PartyRegistered(it) if it.role == role)
    })
}
