//! The inspection sheets of an engine type, as its active version has them.

use crate::answers::bench::{blank, sheet_row};
use crate::app::App;
use crate::auth::Reader;
use crate::call::Call;
use crate::problem::Problem;
use actix_web::{HttpResponse, web};
use gudgeon_life::ids::ItemId;
use gudgeon_life::programme::EngineType;
use gudgeon_store::Programmes as _;
use serde_json::json;
use std::sync::Arc;

/// The active version of a type.
///
/// # Errors
/// Not found where there is none of this name, or none active.
pub(crate) fn active_type(app: &App, name: &str) -> Result<Arc<EngineType>, Problem> {
    let row = app.store.engine_type(name)?;
    let found = row.and_then(|row| app.programmes.get(&row.digest, &row.toml));
    found.ok_or_else(|| Problem::not_found("engine type"))
}

/// The sheets of a type, one line each.
pub(super) async fn list(_: Reader, call: Call) -> Result<HttpResponse, Problem> {
    let name = call.path("name").to_owned();
    let app = call.app.clone();
    let engine_type = web::block(move || active_type(&app, &name)).await??;
    let sheets: Vec<_> = engine_type.bench.sheets.iter().map(sheet_row).collect();
    Ok(HttpResponse::Ok().json(json!({ "sheets": sheets })))
}

/// One blank sheet.
pub(super) async fn get(_: Reader, call: Call) -> Result<HttpResponse, Problem> {
    let (name, id) = (call.path("name").to_owned(), call.path("sheet").to_owned());
    let app = call.app.clone();
    let engine_type = web::block(move || active_type(&app, &name)).await??;
    let sheet = ItemId::new(&id).and_then(|id| engine_type.bench.sheet(&id));
    let sheet = sheet.ok_or_else(|| Problem::not_found("sheet of this engine type"))?;
    Ok(HttpResponse::Ok().json(blank(sheet, &engine_type)))
}
