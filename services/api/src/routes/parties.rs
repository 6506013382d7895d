//! Workshops, their keys, owners and inspectors.

use crate::access;
use crate::answers::{instant, records};
use crate::app::App;
use crate::auth::{Operator, Reader, mint_key};
use crate::call::Call;
use crate::problem::{Kind, Problem};
use crate::read::{self, Found};
use crate::requests::NAME_CHARS_MAX;
use actix_web::{HttpResponse, web};
use gudgeon_life::fact::{Content, PartyRole, Stream};
use gudgeon_life::ids::{FactId, PartyId};
use gudgeon_store::{NewKey, Role, Stored};
use serde_json::{Value, json};

/// A shop; another shop sees nothing of it.
pub(super) async fn get_shop(reader: Reader, call: Call) -> Result<HttpResponse, Problem> {
    let id = PartyId(call.uid("id")?);
    let app = call.app.clone();
    let body = web::block(move || {
        let own = access::shop(&reader.0)?.is_none_or(|shop| shop == id);
        let stored = app.store.fact(FactId(id.0))?.filter(|_| own);
        let record = registered(stored, PartyRole::Shop);
        answer(&app, id, &record.ok_or_else(|| Problem::not_found("shop"))?)
    })
    .await??;
    Ok(HttpResponse::Ok().json(body))
}

/// An owner. A shop sees those whom it registered, and those of its engines.
pub(super) async fn get_owner(reader: Reader, call: Call) -> Result<HttpResponse, Problem> {
    let id = PartyId(call.uid("id")?);
    let (app, today) = (call.app.clone(), call.today());
    let body = web::block(move || {
        let stored = registered(app.store.fact(FactId(id.0))?, PartyRole::Owner)
            .ok_or_else(|| Problem::not_found("owner"))?;
        let engines = app.store.engines_of_owners(&[id])?;
        let engines: Vec<_> = engines.iter().map(|row| row.engine).collect();
        let seen = access::sees(&app.store, &reader.0, today, Stream::party(id))?
            || !access::visible(&app.store, &reader.0, today, &engines)?.is_empty();
        if seen { answer(&app, id, &stored) } else { Err(Problem::not_found("owner")) }
    })
    .await??;
    Ok(HttpResponse::Ok().json(body))
}

/// An inspector, for the operator.
pub(super) async fn get_inspector(_: Operator, call: Call) -> Result<HttpResponse, Problem> {
    let id = PartyId(call.uid("id")?);
    let app = call.app.clone();
    let body = web::block(move || {
        let record = registered(app.store.fact(FactId(id.0))?, PartyRole::Inspector);
        answer(&app, id, &record.ok_or_else(|| Problem::not_found("inspector"))?)
    })
    .await??;
    Ok(HttpResponse::Ok().json(body))
}

/// A registration as it was posted, without what was erased.
fn answer(app: &App, id: PartyId, record: &Stored) -> Result<Value, Problem> {
    let erased_on = app.store.party(id)?.and_then(|party| party.erased_on);
    Ok(json!({
        "record": records::record(record),
        "erased_on": erased_on.map(|day| day.to_string()),
    }))
}

/// `{label}`: a new key of a shop, shown this once.
pub(super) async fn post_key_of_shop(_: Operator, call: Call) -> Result<HttpResponse, Problem> {
    post_key(call, PartyRole::Shop).await
}

/// `{label}`: a new key of an owner, shown this once.
pub(super) async fn post_key_of_owner(_: Operator, call: Call) -> Result<HttpResponse, Problem> {
    post_key(call, PartyRole::Owner).await
}

async fn post_key(call: Call, of: PartyRole) -> Result<HttpResponse, Problem> {
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
    let role = match of {
        PartyRole::Shop => Role::Shop,
        PartyRole::Owner => Role::Owner,
        PartyRole::Inspector => Role::Inspector,
    };
    web::block(move || {
        let found = registered(app.store.fact(FactId(id.0))?, of);
        found.ok_or_else(|| Problem::not_found(of.word()))?;
        if app.store.party(id)?.is_some_and(|party| party.erased_on.is_some()) {
            return Err(Problem::new(Kind::ERASED, "whoever was erased gets no keys"));
        }
        app.store.add_key(&NewKey {
            hash,
            role,
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
pub(super) fn registered(stored: Option<Stored>, role: PartyRole) -> Option<Stored> {
    stored.filter(|stored| {
        matches!(&stored.fact.entry.content, Content::PartyRegistered(it) if it.role == role)
    })
}
