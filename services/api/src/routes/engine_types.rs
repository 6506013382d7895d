//! Engine types: the operator's files, by name, the active version of each.

use crate::answers::{hex, instant};
use crate::auth::{Operator, Reader};
use crate::call::Call;
use crate::problem::{Kind, Problem};
use crate::read::Fault;
use actix_web::http::StatusCode;
use actix_web::{HttpResponse, web};
use gudgeon_store::TypeRow;
use serde_json::{Value, json};
use sha2::{Digest, Sha256};

/// Makes a file the active version of an engine type. The body is the file itself.
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
    let shown = json!({ "name": name, "digest": hex(digest), "title": read.title });
    let activated = web::block(move || {
        app.store.put_engine_type(&name, &toml, digest, now, app.programmes.as_ref())
    })
    .await??;
    let status = if activated { StatusCode::CREATED } else { StatusCode::OK };
    Ok(HttpResponse::build(status).json(shown))
}

/// The active version of one type, as the file says it.
pub(super) async fn get(_: Reader, call: Call) -> Result<HttpResponse, Problem> {
    let name = call.path("name").to_owned();
    let app = call.app.clone();
    let row = web::block(move || app.store.engine_type(&name)).await??;
    let row = row.ok_or_else(|| Problem::not_found("engine type"))?;
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
        "activated_at": instant(row.activated_at),
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
