//! Inspections and their amendments.

use crate::access;
use crate::answers::records;
use crate::auth::{Reader, Writer};
use crate::call::Call;
use crate::problem::Problem;
use crate::requests::{amendments, inspections};
use crate::write::post;
use actix_web::{HttpResponse, web};
use gudgeon_life::fact::Content;
use gudgeon_life::ids::FactId;
use serde_json::json;

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
        let store = &app.store;
        let stored = store
            .fact(id)?
            .filter(|stored| matches!(stored.fact.entry.content, Content::Inspection(_)));
        let stored = stored.ok_or_else(|| Problem::not_found("inspection"))?;
        if !access::sees_record(store, &reader.0, today, &stored)? {
            return Err(Problem::not_found("inspection"));
        }
        let facts = store.facts_of(stored.stream)?;
        let amendments = facts.iter().filter(
            |fact| matches!(&fact.fact.entry.content, Content::Amendment(it) if it.root == id),
        );
        let superseded: Vec<FactId> = amendments
            .clone()
            .filter_map(|fact| match &fact.fact.entry.content {
                Content::Amendment(it) => Some(it.supersedes),
                _ => None,
            })
            .collect();
        let versions = std::iter::once(&stored).chain(amendments.clone());
        let contents = versions.clone().map(|it| &it.fact.entry.content);
        let photos = records::photos_of(store, contents)?;
        let standing = versions.map(|it| it.fact.id).filter(|id| !superseded.contains(id));
        Ok(json!({
            "record": records::record(&stored),
            "amendments": amendments.map(records::record).collect::<Vec<_>>(),
            "superseded": superseded.iter().map(ToString::to_string).collect::<Vec<_>>(),
            "photos": photos,
            "standing": standing.map(|id| id.to_string()).collect::<Vec<_>>(),
        }))
    })
    .await??;
    Ok(HttpResponse::Ok().json(body))
}
