//! Parts with their own hours or age.

use crate::access;
use crate::answers::components::ComponentOut;
use crate::answers::{json, records};
use crate::auth::{Reader, Writer};
use crate::call::Call;
use crate::problem::Problem;
use crate::requests::components;
use crate::write::post;
use actix_web::{HttpResponse, web};
use gudgeon_life::fact::{Content, Stream};
use gudgeon_life::ids::{ComponentId, FactId};
use serde_json::json;

pub(super) async fn put(writer: Writer, call: Call) -> Result<HttpResponse, Problem> {
    let id = ComponentId(call.uid("id")?);
    post(call, writer.0, Some(FactId(id.0)), move |fields, context| {
        components::component(id, fields, context)
    })
    .await
}

pub(super) async fn put_fitting(writer: Writer, call: Call) -> Result<HttpResponse, Problem> {
    let id = ComponentId(call.uid("id")?);
    let fact = FactId(call.uid("fact")?);
    post(call, writer.0, Some(fact), move |fields, context| components::fitted(id, fields, context))
        .await
}

pub(super) async fn put_removal(writer: Writer, call: Call) -> Result<HttpResponse, Problem> {
    let id = ComponentId(call.uid("id")?);
    let fact = FactId(call.uid("fact")?);
    post(call, writer.0, Some(fact), move |fields, context| {
        components::removed(id, fields, context)
    })
    .await
}

pub(super) async fn get(reader: Reader, call: Call) -> Result<HttpResponse, Problem> {
    let id = ComponentId(call.uid("id")?);
    let (app, today) = (call.app.clone(), call.today());
    let body = web::block(move || {
        let (store, stream) = (&app.store, Stream::component(id));
        let known = store.stream_known(stream)?;
        if !known || !access::sees(store, &reader.0, stream)? {
            return Err(Problem::not_found("component"));
        }
        let history = store.history_of(stream)?;
        let registered = store
            .fact(FactId(id.0))?
            .filter(|stored| matches!(stored.fact.entry.content, Content::ComponentRegistered(_)));
        Ok(json!({
            "record": registered.as_ref().map(records::record),
            "component": ComponentOut::new(&history, id, today).as_ref().map(json),
        }))
    })
    .await??;
    Ok(HttpResponse::Ok().json(body))
}
