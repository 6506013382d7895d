//! Engines: their registration, where they are, what is due on them and why.

use crate::access;
use crate::answers::components::ComponentOut;
use crate::answers::conflicts::coded;
use crate::answers::engines::EngineOut;
use crate::answers::lines::{LineOut, worst_first};
use crate::answers::{json, records};
use crate::app::App;
use crate::auth::{Operator, Reader};
use crate::call::Call;
use crate::problem::Problem;
use crate::requests::parties;
use crate::write::post;
use actix_web::{HttpResponse, web};
use chrono::NaiveDate;
use gudgeon_life::cautions::CAUTIONS;
use gudgeon_life::fact::{Content, Stream};
use gudgeon_life::ids::{EngineId, FactId};
use gudgeon_life::version::{ActiveVersion, hex};
use gudgeon_life::working::working;
use gudgeon_store::{EngineRow, Principal, Stored};
use serde_json::{Value, json};

pub(super) async fn put_custody(operator: Operator, call: Call) -> Result<HttpResponse, Problem> {
    let (id, fact) = ids(&call)?;
    post(call, operator.0, Some(fact), move |fields, context| parties::custody(id, fields, context))
        .await
}

/// The engine with its registration.
pub(super) async fn get(reader: Reader, call: Call) -> Result<HttpResponse, Problem> {
    let id = EngineId(call.uid("id")?);
    let app = call.app.clone();
    let body = web::block(move || {
        let row = access::engine(&app.store, &reader.0, id)?;
        let registered = app
            .store
            .fact(FactId(id.0))?
            .filter(|stored| matches!(stored.fact.entry.content, Content::EngineRegistered(_)));
        Ok::<_, Problem>(json!({
            "engine": json(&EngineOut::from(&row)),
            "record": registered.as_ref().map(records::record),
        }))
    })
    .await??;
    Ok(HttpResponse::Ok().json(body))
}

/// What is due on the engine, worst first, with the working of every line.
pub(super) async fn get_due(reader: Reader, call: Call) -> Result<HttpResponse, Problem> {
    let id = EngineId(call.uid("id")?);
    let as_of = call.query(&["as_of"])?.as_of(call.today())?;
    let app = call.app.clone();
    let body = web::block(move || due(&app, &reader.0, id, as_of)).await??;
    Ok(HttpResponse::Ok().json(body))
}

fn due(app: &App, principal: &Principal, id: EngineId, as_of: NaiveDate) -> Result<Value, Problem> {
    let row = access::engine(&app.store, principal, id)?;
    let history = app.store.history_of(Stream::engine(id))?;
    let engine_type = app.counted_type_of(&row)?;
    let lines = app.store.due_lines(&[row.key])?.into_iter().map(|(_, line)| line).collect();
    let lines = worst_first(lines, as_of).into_iter().map(|line| {
        let words = engine_type.as_ref().map(|it| working(&history, id, it, &line, as_of));
        LineOut::new(&line, as_of, words)
    });
    let basis = history.engine(id).and_then(|engine| engine.basis);
    Ok(json!({
        "as_of": as_of.to_string(),
        "engine": json(&EngineOut::from(&row)),
        "basis": basis.map(gudgeon_life::hours::Basis::word),
        "engine_type": engine_type.as_ref().map(|it| json!({
            "name": it.name.as_str(),
            "title": it.title,
            "invented": it.invented,
            "digest": row.type_digest.map(hex),
        })),
        "programme": app.version_of(&row)?.map(|active| programme(&row, &active)),
        "entered_up_to": engine_type.as_ref().map(|it| it.entered_up_to.to_string()),
        "conflicts": history.conflicts_of(id).into_iter().map(coded).map(|it| json(&it)).collect::<Vec<_>>(),
        "lines": json(&lines.collect::<Vec<_>>()),
        "cautions": CAUTIONS,
    }))
}

/// By which version of the programme the engine is counted, and which it is to be counted by.
fn programme(row: &EngineRow, active: &ActiveVersion) -> Value {
    json!({
        "counted_by": row.type_digest.map(hex),
        "active": hex(active.digest),
        "active_from": active.since.to_string(),
        "replaces": active.replaces.map(hex),
    })
}

/// Every record that bears on the engine, in order of day, with what contradicts.
pub(super) async fn get_history(reader: Reader, call: Call) -> Result<HttpResponse, Problem> {
    let id = EngineId(call.uid("id")?);
    let app = call.app.clone();
    let body = web::block(move || {
        access::engine(&app.store, &reader.0, id)?;
        let history = app.store.history_of(Stream::engine(id))?;
        let mut facts = records_about(&app, id)?;
        facts.sort_by_key(|stored| {
            let entry = &stored.fact.entry;
            (entry.on, entry.order_in_day, stored.received_at, stored.fact.id)
        });
        let conflicts = history.conflicts_of(id).into_iter().map(coded);
        Ok::<_, Problem>(json!({
            "engine": id.to_string(),
            "records": facts.iter().map(records::record).collect::<Vec<_>>(),
            "conflicts": conflicts.map(|it| json(&it)).collect::<Vec<_>>(),
        }))
    })
    .await??;
    Ok(HttpResponse::Ok().json(body))
}

/// The facts of the engine, of every aircraft it was in, and of the parts now fitted to it.
fn records_about(app: &App, id: EngineId) -> Result<Vec<Stored>, Problem> {
    let store = &app.store;
    let mut facts = store.facts_of(Stream::engine(id))?;
    let mut others: Vec<Stream> =
        facts.iter().flat_map(|stored| stored.fact.entry.content.links()).collect();
    let history = store.history_of(Stream::engine(id))?;
    others.extend(history.fitted_to(id).into_iter().map(Stream::component));
    others.sort_unstable();
    others.dedup();
    for stream in others {
        facts.extend(store.facts_of(stream)?);
    }
    Ok(facts)
}

/// The parts now fitted to the engine or to the aircraft it is in.
pub(super) async fn get_components(reader: Reader, call: Call) -> Result<HttpResponse, Problem> {
    let id = EngineId(call.uid("id")?);
    let (app, today) = (call.app.clone(), call.today());
    let body = web::block(move || {
        access::engine(&app.store, &reader.0, id)?;
        let history = app.store.history_of(Stream::engine(id))?;
        let fitted = history.fitted_to(id);
        let parts = fitted.iter().filter_map(|part| ComponentOut::new(&history, *part, today));
        Ok::<_, Problem>(json!({
            "engine": id.to_string(),
            "components": json(&parts.collect::<Vec<_>>()),
        }))
    })
    .await??;
    Ok(HttpResponse::Ok().json(body))
}

fn ids(call: &Call) -> Result<(EngineId, FactId), Problem> {
    Ok((EngineId(call.uid("id")?), FactId(call.uid("fact")?)))
}
