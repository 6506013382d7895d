//! Engines: their registration, where they are, what is due on them and why.

use crate::access;
use crate::answers::components::ComponentOut;
use crate::answers::conflicts::coded;
use crate::answers::engines::EngineOut;
use crate::answers::lines::{LinesOut, worst_first};
use crate::answers::lost_log::AcceptedOut;
use crate::answers::{json, records};
use crate::app::App;
use crate::auth::Viewer;
use crate::call::Call;
use crate::problem::{Kind, Problem};
use actix_web::{HttpResponse, web};
use chrono::NaiveDate;
use gudgeon_life::cautions::CAUTIONS;
use gudgeon_life::fact::{Content, Stream};
use gudgeon_life::history::{History, Log};
use gudgeon_life::ids::{EngineId, FactId, PositionId};
use gudgeon_life::line::DueLine;
use gudgeon_life::no_log::{age_words, inspect_now};
use gudgeon_life::version::{ActiveVersion, hex};
use gudgeon_life::working::working;
use gudgeon_store::{EngineRow, Principal, Stored};
use serde_json::{Value, json};

/// The engine with its registration.
pub(super) async fn get(viewer: Viewer, call: Call) -> Result<HttpResponse, Problem> {
    let id = EngineId(call.uid("id")?);
    let (app, today) = (call.app.clone(), call.today());
    let body = web::block(move || {
        let row = access::engine(&app.store, &viewer.0, today, id)?;
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
pub(super) async fn get_due(viewer: Viewer, call: Call) -> Result<HttpResponse, Problem> {
    let id = EngineId(call.uid("id")?);
    let today = call.today();
    let as_of = call.query(&["as_of"])?.as_of(today)?;
    let app = call.app.clone();
    let body = web::block(move || {
        let row = access::engine(&app.store, &viewer.0, today, id)?;
        due(&app, &row, as_of)
    })
    .await??;
    Ok(HttpResponse::Ok().json(body))
}

fn due(app: &App, row: &EngineRow, as_of: NaiveDate) -> Result<Value, Problem> {
    let id = row.engine;
    let history = app.store.history_of(Stream::engine(id))?;
    let engine_type = app.counted_type_of(row)?;
    let evidence = app.store.evidence_of(row)?;
    let lines = app.store.due_lines(&[row.key])?.into_iter().map(|(_, line)| line).collect();
    let lines = worst_first(lines, as_of);
    let unlogged = history.engine(id).is_some_and(|engine| engine.log == Log::Unknown);
    let no_log = unlogged.then(|| no_log(&history, id, &lines, as_of));
    let out = LinesOut::of(row, as_of);
    let lines = lines.iter().map(|line| {
        let words =
            engine_type.as_ref().map(|it| working(&history, id, it, &evidence, line, as_of));
        out.line(line, words)
    });
    let basis = history.engine(id).and_then(|engine| engine.basis);
    Ok(json!({
        "as_of": as_of.to_string(),
        "engine": json(&EngineOut::from(row)),
        "basis": basis.map(gudgeon_life::hours::Basis::word),
        "engine_type": engine_type.as_ref().map(|it| json!({
            "name": it.name.as_str(),
            "title": it.title,
            "invented": it.invented,
            "digest": row.type_digest.map(hex),
        })),
        "programme": app.version_of(row)?.map(|active| programme(row, &active)),
        "entered_up_to": engine_type.as_ref().map(|it| it.entered_up_to.to_string()),
        "conflicts": history.conflicts_of(id).into_iter().map(coded).map(|it| json(&it)).collect::<Vec<_>>(),
        "no_log": no_log,
        "lines": json(&lines.collect::<Vec<_>>()),
        "cautions": CAUTIONS,
    }))
}

/// What is said of an engine without a log: how old it is at least, and what to inspect before it runs.
fn no_log(history: &History, id: EngineId, lines: &[DueLine], as_of: NaiveDate) -> Value {
    let inspect = inspect_now(lines, as_of).into_iter().map(|line| {
        json!({
            "item": line.item.as_str(),
            "title": line.title,
            "position": line.position.as_ref().map(PositionId::as_str),
        })
    });
    let accepted = history.engine(id).and_then(|it| it.accepted.as_ref());
    json!({
        "estimate_accepted": accepted.map(|it| json(&AcceptedOut::new(it, as_of))),
        "age": age_words(history, id),
        "inspect_now": inspect.collect::<Vec<_>>(),
    })
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
pub(super) async fn get_history(viewer: Viewer, call: Call) -> Result<HttpResponse, Problem> {
    let id = EngineId(call.uid("id")?);
    let (app, today) = (call.app.clone(), call.today());
    let body = web::block(move || {
        let Some(mut facts) = records_for(&app, &viewer.0, today, id)? else {
            return Err(Problem::not_found("engine"));
        };
        let seen = access::sees(&app.store, &viewer.0, today, Stream::engine(id))?;
        let history = app.store.history_of(Stream::engine(id))?;
        facts.sort_by_key(|stored| {
            let entry = &stored.fact.entry;
            (entry.on, entry.order_in_day, stored.received_at, stored.fact.id)
        });
        let conflicts = history.conflicts_of(id).into_iter().filter(|_| seen).map(coded);
        Ok(json!({
            "engine": id.to_string(),
            "records": facts.iter().map(records::record).collect::<Vec<_>>(),
            "conflicts": conflicts.map(|it| json(&it)).collect::<Vec<_>>(),
        }))
    })
    .await??;
    Ok(HttpResponse::Ok().json(body))
}

/// The records that a reader may see: all of them, or those that a workshop posted itself while it held the
/// engine; `None` where that is nothing.
fn records_for(
    app: &App,
    principal: &Principal,
    today: NaiveDate,
    id: EngineId,
) -> Result<Option<Vec<Stored>>, Problem> {
    match access::engine(&app.store, principal, today, id) {
        Ok(_) => records_about(app, id).map(Some),
        Err(problem) if problem.kind == Kind::NOT_FOUND => {
            let mut facts = app.store.facts_of(Stream::engine(id))?;
            facts.retain(|stored| access::is_own(principal, stored));
            Ok(Some(facts).filter(|facts| !facts.is_empty()))
        }
        Err(problem) => Err(problem),
    }
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
pub(super) async fn get_components(viewer: Viewer, call: Call) -> Result<HttpResponse, Problem> {
    let id = EngineId(call.uid("id")?);
    let (app, today) = (call.app.clone(), call.today());
    let body = web::block(move || {
        access::engine(&app.store, &viewer.0, today, id)?;
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
