//! The way of a post: check, append, and answer with what is kept, what is odd about it and what is now due.

use crate::access;
use crate::answers::conflicts::coded;
use crate::answers::engines::EngineOut;
use crate::answers::lines::{LineOut, LinesOut, worst_first};
use crate::answers::{Warning, bench, json, records};
use crate::app::App;
use crate::call::{Call, day_of};
use crate::check;
use crate::problem::{Kind, Problem};
use crate::read::{Fault, Fields};
use crate::requests::{self, Context, Posted};
use actix_web::http::StatusCode;
use actix_web::http::header;
use actix_web::{HttpResponse, web};
use chrono::NaiveDate;
use gudgeon_life::cautions::CAUTIONS;
use gudgeon_life::conflict::Conflict;
use gudgeon_life::fact::{Content, Entry, PartyRegistered, StreamKind};
use gudgeon_life::ids::{EngineId, FactId};
use gudgeon_life::programme::EngineType;
use gudgeon_store::{Appended, Instant, Post, Principal, Stored};
use serde_json::{Value, json};
use std::sync::Arc;

/// Reads a body, posts its fact and answers. Without an `id` in the address, the body holds it.
pub(crate) async fn post(
    call: Call,
    principal: Principal,
    id: Option<FactId>,
    reader: impl FnOnce(&Fields<'_>, &Context) -> Option<Entry>,
) -> Result<HttpResponse, Problem> {
    let (app, now, today) = (call.app.clone(), call.now, call.today());
    let told_by = access::poster(&principal)?;
    let address = call.address();
    let body = call.body("application/json").await?;
    let posted = requests::read(&body, id, today, told_by, reader)?;
    let location = if id.is_some() { address } else { format!("{address}/{}", posted.fact.id) };
    let answer = web::block(move || write(&app, &principal, posted, now)).await??;
    let mut response = HttpResponse::build(answer.status);
    if answer.status == StatusCode::CREATED {
        response.insert_header((header::LOCATION, location));
    }
    Ok(response.json(answer.body))
}

struct Answer {
    status: StatusCode,
    body: Value,
}

/// A post that is kept.
pub(crate) struct Kept {
    /// As it is kept.
    pub(crate) stored: Stored,
    /// Whether it is new; it was here already otherwise.
    pub(crate) created: bool,
    /// What is odd about it.
    pub(crate) warnings: Vec<Warning>,
    /// The engines whose lines it bears on, as far as whoever posted it may see them.
    pub(crate) engines: Vec<EngineId>,
    /// The type of the engine that it reports on, where it is a report.
    engine_type: Option<Arc<EngineType>>,
}

fn write(
    app: &App,
    principal: &Principal,
    posted: Posted,
    now: Instant,
) -> Result<Answer, Problem> {
    let kept = keep(app, principal, posted, now)?;
    let stored = &kept.stored;
    let mut body = json!({ "record": records::record(stored), "warnings": json(&kept.warnings) });
    if let Value::Object(fields) = &mut body {
        let report = check::report(&stored.fact);
        if let Some((report, engine_type)) = report.zip(kept.engine_type.as_deref()) {
            fields.extend(bench::of(report.inspection, engine_type));
        }
        let photos = records::photos_of(&app.store, [&stored.fact.entry.content])?;
        if photos.as_array().is_some_and(|photos| !photos.is_empty()) {
            fields.insert("photos".to_owned(), photos);
        }
        if !kept.engines.is_empty() {
            fields.insert("due".to_owned(), due(app, &kept.engines, day_of(now))?);
        }
    }
    let status = if kept.created { StatusCode::CREATED } else { StatusCode::OK };
    Ok(Answer { status, body })
}

/// Checks a post and keeps it.
///
/// # Errors
/// A post that is refused, of other content than what is kept under its id, or of what may not be seen.
pub(crate) fn keep(
    app: &App,
    principal: &Principal,
    posted: Posted,
    now: Instant,
) -> Result<Kept, Problem> {
    let store = &app.store;
    let fact = posted.fact.clone();
    let stream = fact.entry.content.stream();
    let today = day_of(now);
    if !access::may_post(store, principal, today, &fact)? {
        return Err(Problem::not_found("record"));
    }
    for linked in fact.entry.content.links() {
        if !access::may_link(store, principal, today, &fact, linked)? {
            return Err(Problem::not_found("aircraft or engine named in the body"));
        }
    }
    check::amends(store, principal, &fact)?;
    check::not_erased(store, &fact)?;
    let faults = check::against_programme(app, &fact.entry, "")?;
    if !faults.is_empty() {
        return Err(Problem::invalid(faults));
    }
    let mut warnings = check::unknown_things(store, &fact)?;
    warnings.extend(check::odd(&fact.entry, today));
    warnings.extend(check::idle(app, &fact.entry)?);
    let report = check::report(&fact);
    let engine_type = report.as_ref().map(|it| it.engine_type(app)).transpose()?.flatten();
    if let Some(report) = &report {
        warnings.extend(report.odd(app, engine_type.as_deref())?);
    }
    let post = Post {
        fact: posted.fact,
        texts: posted.texts,
        by: access::poster(principal)?,
        recorded_at: posted.recorded_at,
        received_at: now,
    };
    let (stored, created) = match store.append(&post, app.programmes.as_ref())? {
        Appended::Created(stored) => (stored, true),
        Appended::Same(stored) => (stored, false),
        Appended::Differs(stored) => return Err(differs(app, principal, today, &post, &stored)?),
    };
    if access::sees(store, principal, today, stream)? {
        warnings.extend(stored.conflicts.iter().map(contradiction));
    }
    let engines = access::visible(store, principal, today, &stored.touched)?;
    warnings.extend(check::fitted_past_shelf(store, &fact, &engines)?);
    warnings.extend(check::mismatched(store, &fact, &engines)?);
    Ok(Kept { stored, created, warnings, engines, engine_type })
}

/// What is now due on engines, worst first.
fn due(app: &App, engines: &[EngineId], as_of: NaiveDate) -> Result<Value, Problem> {
    let mut out = Vec::new();
    for id in engines {
        let Some(row) = app.store.engine(*id)? else { continue };
        let lines = app.store.due_lines(&[row.key])?.into_iter().map(|(_, line)| line).collect();
        let told = LinesOut::of(&row, as_of);
        let lines: Vec<LineOut> =
            worst_first(lines, as_of).iter().map(|line| told.line(line, None)).collect();
        out.push(json!({ "engine": json(&EngineOut::from(&row)), "lines": json(&lines) }));
    }
    Ok(json!({ "as_of": as_of.to_string(), "engines": out, "cautions": CAUTIONS }))
}

/// A contradiction as a warning.
fn contradiction(conflict: &Conflict) -> Warning {
    let coded = coded(conflict);
    Warning { code: coded.code, detail: coded.detail, pointer: None }
}

/// The id is taken by other content: say what differs, to those who may see what is kept.
fn differs(
    app: &App,
    principal: &Principal,
    today: NaiveDate,
    post: &Post,
    stored: &Stored,
) -> Result<Problem, Problem> {
    if !access::sees_record(&app.store, principal, today, stored)? {
        let detail = "this id is taken by another record; make a new id";
        return Ok(Problem::new(Kind::DIFFERENT_CONTENT, detail));
    }
    let sent = records::posted(&post.fact.entry, &post.texts.as_posted, &post.texts.private);
    let kept = records::posted(&stored.fact.entry, &stored.texts.as_posted, &stored.texts.private);
    let detail = match amendments_address(stored) {
        Some(address) => format!(
            "nothing was changed: the record under this id has other content; to correct it, post an amendment to {address}"
        ),
        None => "nothing was changed: the record under this id has other content".to_owned(),
    };
    let mut problem = Problem::new(Kind::DIFFERENT_CONTENT, detail);
    problem.faults = differing(&sent, &kept);
    Ok(problem)
}

fn differing(sent: &Value, kept: &Value) -> Vec<Fault> {
    let (Value::Object(sent), Value::Object(kept)) = (sent, kept) else { return Vec::new() };
    let names: std::collections::BTreeSet<&String> = sent.keys().chain(kept.keys()).collect();
    let differs = names.into_iter().filter(|name| sent.get(*name) != kept.get(*name));
    let faults = differs.map(|name| Fault {
        pointer: format!("/{name}"),
        code: "differs",
        detail: format!("`{name}` is not what is kept under this id"),
    });
    faults.collect()
}

/// Where amendments of a record are sent, when it can be amended.
fn amendments_address(stored: &Stored) -> Option<String> {
    let (id, thing) = (stored.fact.id, stored.stream.id);
    let things = match stored.stream.kind {
        StreamKind::Party => "owners",
        StreamKind::Aircraft => "aircraft",
        StreamKind::Engine => "engines",
        StreamKind::Component => "components",
        StreamKind::Fleet => return None,
    };
    let records = match &stored.fact.entry.content {
        Content::Inspection(_) => return Some(format!("/v1/inspections/{id}/amendments")),
        Content::PartyRegistered(PartyRegistered { role, .. }) => {
            return Some(format!("/v1/{}s/{thing}/amendments", role.word()));
        }
        Content::AircraftRegistered(_)
        | Content::EngineRegistered(_)
        | Content::ComponentRegistered(_) => {
            return Some(format!("/v1/{things}/{thing}/amendments"));
        }
        Content::Ownership(_) => "ownerships",
        Content::EngineInstalled(_) => "installations",
        Content::EngineRemoved(_) | Content::ComponentRemoved(_) => "removals",
        Content::ComponentFitted(_) => "fittings",
        Content::MeterChanged(_) => "meter-changes",
        Content::Reading(_) => "readings",
        Content::Event(_) => "events",
        Content::Preserved(_) => "preservations",
        Content::Concession(_) => "concessions",
        Content::HoursAccepted(_) => "hours-estimate",
        Content::ComponentOverhauled(_) => "overhauls",
        Content::MakerRestart(_) => "maker-restarts",
        Content::Described(_) => "descriptions",
        Content::Custody(_) => "custody",
        Content::Erased(_) | Content::ProgrammeActivated(_) | Content::Amendment(_) => return None,
    };
    Some(format!("/v1/{things}/{thing}/{records}/{id}/amendments"))
}
