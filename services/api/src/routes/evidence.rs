//! What the engines of a type tell together: the life of their parts, and how workshops agree. For inspectors, since
//! it is made of everybody's records.

use crate::answers::json;
use crate::auth::Inspector;
use crate::call::Call;
use crate::evidence;
use crate::problem::Problem;
use actix_web::{HttpResponse, web};
use gudgeon_life::cautions::CAUTIONS;
use serde_json::{Value, json};

/// `GET /v1/fleet/life?engine_type&kind&as_of`
pub(super) async fn life(_: Inspector, call: Call) -> Result<HttpResponse, Problem> {
    let query = call.query(&["engine_type", "kind", "as_of"])?;
    let as_of = query.as_of(call.today())?;
    let app = call.app.clone();
    let body = web::block(move || {
        let engine_type = evidence::engine_type(&app, &query)?;
        let told = evidence::life(&app, &engine_type, query.get("kind"), as_of)?;
        Ok::<_, Problem>(with_cautions(json(&told)))
    })
    .await??;
    Ok(HttpResponse::Ok().json(body))
}

/// `GET /v1/fleet/shops?engine_type`
pub(super) async fn shops(_: Inspector, call: Call) -> Result<HttpResponse, Problem> {
    let query = call.query(&["engine_type"])?;
    let app = call.app.clone();
    let body = web::block(move || {
        let engine_type = evidence::engine_type(&app, &query)?;
        Ok::<_, Problem>(with_cautions(json(&evidence::shops(&app, &engine_type)?)))
    })
    .await??;
    Ok(HttpResponse::Ok().json(body))
}

fn with_cautions(mut body: Value) -> Value {
    if let Some(fields) = body.as_object_mut() {
        fields.insert("cautions".to_owned(), json!(CAUTIONS));
    }
    body
}
