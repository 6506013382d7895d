//! `GET /v1/engines/{id}/visits`: what to do together, and when.

use crate::access;
use crate::answers::engines::EngineOut;
use crate::answers::json;
use crate::auth::Viewer;
use crate::call::Call;
use crate::problem::Problem;
use crate::visits::{self, Asked};
use actix_web::{HttpResponse, web};
use gudgeon_life::cautions::CAUTIONS;
use gudgeon_life::ids::EngineId;
use serde_json::json;

/// The visits of the year to come.
pub(super) async fn get(viewer: Viewer, call: Call) -> Result<HttpResponse, Problem> {
    let id = EngineId(call.uid("id")?);
    let today = call.today();
    let asked = Asked::of(&call.query(&visits::PARAMETERS)?, today)?;
    let app = call.app.clone();
    let body = web::block(move || {
        let row = access::engine(&app.store, &viewer.0, today, id)?;
        let mut body = json(&visits::of(&app, &row, asked)?);
        if let Some(fields) = body.as_object_mut() {
            fields.insert("as_of".to_owned(), json!(asked.as_of.to_string()));
            fields.insert("engine".to_owned(), json(&EngineOut::from(&row)));
            fields.insert("cautions".to_owned(), json!(CAUTIONS));
        }
        Ok::<_, Problem>(body)
    })
    .await??;
    Ok(HttpResponse::Ok().json(body))
}
