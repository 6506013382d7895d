//! Engine types: the operator's files, by name, the active version of each.

use crate::answers::instant;
use crate::auth::{Operator, Reader};
use crate::call::Call;
use crate::problem::{Kind, Problem};
use crate::read::Fault;
use crate::recount;
use crate::requests::engine_types;
use crate::write::post;
use actix_web::http::StatusCode;
use actix_web::{HttpResponse, rt, web};
use gudgeon_life::ids::{FactId, ItemId};
use gudgeon_life::version::hex;
use gudgeon_store::TypeRow;
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use std::sync::Arc;

/// Adds a version of an engine type: the body is the file itself. An activation makes it count.
pub(super) async fn put(_: Operator, call: Call) -> Result<HttpResponse, Problem> {
    let name = call.path("name").to_owned();
    let (app, now) = (call.app.clone(), call.now);
    let body = call.body("application/toml").await?;
    let toml = String::from_utf8(body.to_vec()).map_err(|error| {
        Problem::new(Kind::MALFORMED, format!("the file is not UTF-8: {error}"))
    })?;
    let read = gudgeon_catalogue::parse(&format!("{name}.toml"), &toml).map_err(faults)?;
    if read.name.as_str() != name {
        return Err(Problem::invalid(vec![Fault {
            pointer: String::new(),
            code: "other-name",
            detail: format!(
                "the file is of the engine type `{}`, the address says `{name}`",
                read.name
            ),
        }]));
    }
    if read.invented && !app.demo {
        return Err(Problem::invalid(vec![Fault {
            pointer: String::new(),
            code: "invented",
            detail: "this engine type is invented, for the demonstration only; it is refused here"
                .to_owned(),
        }]));
    }
    let digest: [u8; 32] = Sha256::digest(toml.as_bytes()).into();
    let title = read.title.clone();
    let store = app.store.clone();
    let (added, version) = web::block(move || {
        let added = store.add_engine_type(&name, &toml, digest, now, app.programmes.as_ref())?;
        Ok::<_, Problem>((added, store.engine_type_version(&name, digest)?))
    })
    .await??;
    let version = version.ok_or_else(|| Problem::internal("a version just added is gone"))?;
    let mut shown = row(&version);
    if let Value::Object(fields) = &mut shown {
        fields.insert("title".to_owned(), json!(title));
    }
    let status = if added { StatusCode::CREATED } else { StatusCode::OK };
    Ok(HttpResponse::build(status).json(shown))
}

/// Makes a version the one to count by, from a day on. Engines follow in the background.
pub(super) async fn put_activation(
    operator: Operator,
    call: Call,
) -> Result<HttpResponse, Problem> {
    let fact = FactId(call.uid("fact")?);
    let name = call.path("name").to_owned();
    let engine_type = ItemId::new(&name).ok_or_else(|| Problem::not_found("engine type"))?;
    let app = call.app.clone();
    let answer = post(call, operator.0, Some(fact), move |fields, context| {
        engine_types::activated(engine_type, fields, context)
    })
    .await?;
    rt::spawn(recount::in_background(app.store.clone(), Arc::clone(&app.programmes)));
    Ok(answer)
}

/// The active version of one type, as the file says it.
pub(super) async fn get(_: Reader, call: Call) -> Result<HttpResponse, Problem> {
    let name = call.path("name").to_owned();
    let app = call.app.clone();
    let row = web::block(move || app.store.engine_type(&name)).await??;
    let row = row.ok_or_else(|| Problem::not_found("engine type"))?;
    Ok(HttpResponse::Ok().content_type("application/toml; charset=utf-8").body(row.toml))
}

/// One version, active or not, as the file says it.
pub(super) async fn get_version(_: Reader, call: Call) -> Result<HttpResponse, Problem> {
    let name = call.path("name").to_owned();
    let digest = engine_types::read_digest(call.path("digest"));
    let digest = digest.ok_or_else(|| Problem::not_found("version of an engine type"))?;
    let app = call.app.clone();
    let row = web::block(move || app.store.engine_type_version(&name, digest)).await??;
    let row = row.ok_or_else(|| Problem::not_found("version of an engine type"))?;
    Ok(HttpResponse::Ok().content_type("application/toml; charset=utf-8").body(row.toml))
}

/// The active engine types.
pub(super) async fn list(_: Reader, call: Call) -> Result<HttpResponse, Problem> {
    let app = call.app.clone();
    let rows = web::block(move || app.store.engine_types()).await??;
    Ok(HttpResponse::Ok().json(json!({ "engine_types": rows.iter().map(row).collect::<Vec<_>>() })))
}

fn row(row: &TypeRow) -> Value {
    json!({
        "name": row.name,
        "digest": hex(row.digest),
        "added_at": instant(row.added_at),
        "active_from": row.active_from.map(|day| day.to_string()),
        "replaces": row.replaces.map(hex),
    })
}

fn faults(faults: Vec<gudgeon_catalogue::Fault>) -> Problem {
    let faults = faults.into_iter().map(|fault| Fault {
        pointer: String::new(),
        code: "bad-engine-type",
        detail: fault.to_string(),
    });
    Problem::invalid(faults.collect())
}
