//! Inspections and their amendments.

use crate::answers::{bench, json, records};
use crate::app::App;
use crate::auth::{Reader, Writer};
use crate::call::Call;
use crate::check;
use crate::problem::Problem;
use crate::requests::{amendments, inspections};
use crate::versions::Versions;
use crate::write::post;
use actix_web::{HttpResponse, web};
use gudgeon_life::fact::Fact;
use gudgeon_life::ids::FactId;
use gudgeon_store::Stored;
use serde_json::{Map, Value, json};

pub(super) async fn put(writer: Writer, call: Call) -> Result<HttpResponse, Problem> {
    let id = FactId(call.uid("id")?);
    post(call, writer.0, Some(id), inspections::inspection).await
}

pub(super) async fn put_amendment(writer: Writer, call: Call) -> Result<HttpResponse, Problem> {
    let root = FactId(call.uid("id")?);
    let id = FactId(call.uid("fact")?);
    post(call, writer.0, Some(id), move |fields, context| {
        amendments::of_inspection(root, fields, context)
    })
    .await
}

pub(super) async fn post_amendment(writer: Writer, call: Call) -> Result<HttpResponse, Problem> {
    let root = FactId(call.uid("id")?);
    post(call, writer.0, None, move |fields, context| {
        amendments::of_inspection(root, fields, context)
    })
    .await
}

/// The inspection as first posted, and every amendment of it in order of arrival. Nothing is hidden: a
/// version that another supersedes stays readable.
pub(super) async fn get(reader: Reader, call: Call) -> Result<HttpResponse, Problem> {
    let id = FactId(call.uid("id")?);
    let (app, today) = (call.app.clone(), call.today());
    let body = web::block(move || {
        let versions = Versions::read(&app.store, &reader.0, today, id)?;
        let photos =
            records::photos_of(&app.store, versions.all().map(|it| &it.fact.entry.content))?;
        let superseded = versions.superseded();
        let standing: Vec<&Stored> =
            versions.all().filter(|it| !superseded.contains(&it.fact.id)).collect();
        let mut body = json!({
            "record": records::record(&versions.first),
            "amendments": versions.amendments.iter().map(records::record).collect::<Vec<_>>(),
            "superseded": superseded.iter().map(ToString::to_string).collect::<Vec<_>>(),
            "photos": photos,
            "standing": standing.iter().map(|it| it.fact.id.to_string()).collect::<Vec<_>>(),
        });
        if let (Value::Object(fields), [standing]) = (&mut body, standing.as_slice()) {
            fields.extend(measured(&app, &standing.fact)?);
        }
        Ok::<Value, Problem>(body)
    })
    .await??;
    Ok(HttpResponse::Ok().json(body))
}

/// What the version that stands comes to: what is odd about it and, by the programme of today if one is active,
/// what its measurements prove and what its sheet still asks for.
fn measured(app: &App, standing: &Fact) -> Result<Map<String, Value>, Problem> {
    let Some(report) = check::report(standing) else { return Ok(Map::new()) };
    let engine_type = report.engine_type(app)?;
    let judged = engine_type.as_ref().map(|it| bench::of(report.inspection, it));
    let mut fields = judged.unwrap_or_default();
    fields.insert("warnings".to_owned(), json(&report.odd(app, engine_type.as_deref())?));
    Ok(fields)
}
