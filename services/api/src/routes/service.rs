//! Whether the service runs, which version it is, and what its problems mean. Open to all, and without
//! anything that is not.

use crate::call::Call;
use crate::problem::{Kind, Problem};
use actix_web::{HttpResponse, web};
use serde_json::json;

/// The process runs.
pub(super) async fn livez() -> HttpResponse {
    HttpResponse::Ok().json(json!({ "status": "alive" }))
}

/// The database answers and has its tables.
pub(super) async fn readyz(call: Call) -> Result<HttpResponse, Problem> {
    let app = call.app.clone();
    match web::block(move || app.store.engine_types()).await? {
        Ok(_) => Ok(HttpResponse::Ok().json(json!({ "status": "ready" }))),
        Err(error) => Err(Problem::not_ready(error)),
    }
}

/// The version of the program.
pub(super) async fn version() -> HttpResponse {
    HttpResponse::Ok().json(json!({ "name": "gudgeon", "version": env!("CARGO_PKG_VERSION") }))
}

/// What a problem's `type` stands for.
pub(super) async fn problem(call: Call) -> Result<HttpResponse, Problem> {
    let kind =
        Kind::of_slug(call.path("slug")).ok_or_else(|| Problem::not_found("kind of problem"))?;
    Ok(HttpResponse::Ok().json(json!({
        "type": kind.address(),
        "title": kind.title,
        "status": kind.status,
        "advice": kind.advice,
    })))
}
