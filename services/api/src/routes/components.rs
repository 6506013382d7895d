//! Parts with their own hours or age.

use crate::access;
use crate::answers::components::ComponentOut;
use crate::answers::{json, records};
use crate::auth::Reader;
use crate::call::Call;
use crate::problem::Problem;
use actix_web::{HttpResponse, web};
use gudgeon_life::fact::{Content, Stream};
use gudgeon_life::ids::{ComponentId, FactId};
use serde_json::json;

pub(super) async fn get(reader: Reader, call: Call) -> Result<HttpResponse, Problem> {
    let id = ComponentId(call.uid("id")?);
    let (app, today) = (call.app.clone(), call.today());
    let body = web::block(move || {
        let (store, stream) = (&app.store, Stream::component(id));
        let known = store.stream_known(stream)?;
        if !known || !access::sees(store, &reader.0, today, stream)? {
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
