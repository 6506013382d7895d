//! Aircraft: their registration, owners and hour meters.

use crate::access;
use crate::answers::records;
use crate::auth::Reader;
use crate::call::Call;
use crate::problem::Problem;
use actix_web::{HttpResponse, web};
use gudgeon_life::fact::{Content, Stream};
use gudgeon_life::ids::{AircraftId, FactId};
use serde_json::json;

/// The aircraft with its meter, its owner and the engines now in it.
pub(super) async fn get(reader: Reader, call: Call) -> Result<HttpResponse, Problem> {
    let id = AircraftId(call.uid("id")?);
    let (app, today) = (call.app.clone(), call.today());
    let body = web::block(move || {
        let (store, stream) = (&app.store, Stream::aircraft(id));
        let known = store.stream_known(stream)?;
        if !known || !access::sees(store, &reader.0, today, stream)? {
            return Err(Problem::not_found("aircraft"));
        }
        let history = store.history_of(stream)?;
        let state = history.aircraft(id);
        let in_it = history.engines.iter().filter(|(_, engine)| engine.aircraft == Some(id));
        let in_it: Vec<_> = in_it.map(|(engine, _)| *engine).collect();
        let engines = access::visible(store, &reader.0, today, &in_it)?;
        let registered = store
            .fact(FactId(id.0))?
            .filter(|stored| matches!(stored.fact.entry.content, Content::AircraftRegistered(_)));
        Ok(json!({
            "record": registered.as_ref().map(records::record),
            "mark": state.and_then(|it| it.mark.clone()),
            "basis": state.and_then(|it| it.basis).map(gudgeon_life::hours::Basis::word),
            "owner": state.and_then(|it| it.owner).map(|owner| owner.to_string()),
            "meter": state.and_then(|it| it.meter).map(|(meter, on)| {
                json!({ "hours": meter.to_string(), "on": on.to_string() })
            }),
            "engines": engines.iter().map(ToString::to_string).collect::<Vec<_>>(),
        }))
    })
    .await??;
    Ok(HttpResponse::Ok().json(body))
}
