//! Erasing what is personal about an owner, a workshop or an inspector.

use super::parties::registered;
use crate::answers::records;
use crate::auth::Operator;
use crate::call::Call;
use crate::problem::{Kind, Problem};
use crate::requests::{self, parties};
use actix_web::http::StatusCode;
use actix_web::{HttpResponse, web};
use gudgeon_life::fact::PartyRole;
use gudgeon_life::ids::{FactId, PartyId};
use gudgeon_store::{Appended, Post};
use serde_json::json;

pub(super) async fn put_of_owner(_: Operator, call: Call) -> Result<HttpResponse, Problem> {
    put(call, PartyRole::Owner).await
}

pub(super) async fn put_of_shop(_: Operator, call: Call) -> Result<HttpResponse, Problem> {
    put(call, PartyRole::Shop).await
}

pub(super) async fn put_of_inspector(_: Operator, call: Call) -> Result<HttpResponse, Problem> {
    put(call, PartyRole::Inspector).await
}

/// `{on, reason?, notes?}`: answered once nothing of it is left where the service keeps it.
async fn put(call: Call, role: PartyRole) -> Result<HttpResponse, Problem> {
    let party = PartyId(call.uid("id")?);
    let fact = FactId(call.uid("fact")?);
    let (app, now, today) = (call.app.clone(), call.now, call.today());
    let body = call.body("application/json").await?;
    let posted = requests::read(&body, Some(fact), today, None, |fields, context| {
        parties::erasure(party, role, fields, context)
    })?;
    let (status, stored) = web::block(move || {
        let (store, programmes) = (&app.store, app.programmes.as_ref());
        let found = registered(store.fact(FactId(party.0))?, role);
        found.ok_or_else(|| Problem::not_found(role.word()))?;
        let post = Post {
            fact: posted.fact,
            texts: posted.texts,
            by: None,
            recorded_at: posted.recorded_at,
            received_at: now,
        };
        match store.erase(&post, programmes)? {
            Appended::Created(stored) => Ok((StatusCode::CREATED, stored)),
            Appended::Same(stored) => Ok((StatusCode::OK, stored)),
            Appended::Differs(_) => {
                let detail = "this id is taken by another record; make a new id";
                Err(Problem::new(Kind::DIFFERENT_CONTENT, detail))
            }
        }
    })
    .await??;
    Ok(HttpResponse::build(status).json(json!({ "record": records::record(&stored) })))
}
