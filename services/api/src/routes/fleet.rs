//! The fleet, worst first, page by page.

use crate::access;
use crate::answers::engines::EngineOut;
use crate::answers::json;
use crate::answers::lines::{LinesOut, is_pressing, worst_first};
use crate::app::App;
use crate::auth::{Reader, Viewer};
use crate::call::{Call, cursor};
use crate::problem::Problem;
use actix_web::http::header;
use actix_web::{HttpResponse, web};
use chrono::NaiveDate;
use gudgeon_life::cautions::CAUTIONS;
use gudgeon_life::ids::PartyId;
use gudgeon_life::line::DueLine;
use gudgeon_life::status::Status;
use gudgeon_store::{EngineRow, FleetQuery};
use serde_json::{Value, json};
use std::collections::HashMap;

/// Every engine that may be seen, with its worst status. An owner's come on one page.
pub(super) async fn engines(viewer: Viewer, call: Call) -> Result<HttpResponse, Problem> {
    let query = call.query(&["after", "limit"])?;
    if let Some(owner) = access::owner(&viewer.0)? {
        let (app, today) = (call.app.clone(), call.today());
        let rows = web::block(move || engines_of(&app, owner, today)).await??;
        return Ok(engines_page(&rows, None));
    }
    let query = FleetQuery {
        as_of: call.today(),
        sight: access::narrowed_to(&viewer.0, call.today())?,
        status: None,
        after: query.after()?,
        limit: query.limit()?,
    };
    let app = call.app.clone();
    let rows = web::block(move || app.store.fleet(&query)).await??;
    let next = next(&rows, &query, &format!("{}/v1/engines?", call.app.base_url));
    Ok(engines_page(&rows, next.as_deref()))
}

fn engines_page(rows: &[(Status, EngineRow)], next: Option<&str>) -> HttpResponse {
    let engines = rows.iter().map(
        |(status, row)| json!({ "status": status.word(), "engine": json(&EngineOut::from(row)) }),
    );
    page(json!({ "engines": engines.collect::<Vec<_>>(), "next": next }), next)
}

/// An owner's engines, the worst first.
fn engines_of(
    app: &App,
    owner: PartyId,
    today: NaiveDate,
) -> Result<Vec<(Status, EngineRow)>, Problem> {
    let engines = app.store.engines_of_owners(&[owner])?;
    let keys: Vec<i64> = engines.iter().map(|row| row.key).collect();
    let mut worst: HashMap<i64, Status> = HashMap::new();
    for (key, line) in app.store.due_lines(&keys)? {
        let status = line.status(today);
        worst.entry(key).and_modify(|it| *it = (*it).min(status)).or_insert(status);
    }
    // Without a programme nothing is known to be due, or not to be.
    let status = |row: &EngineRow| worst.get(&row.key).copied().unwrap_or(Status::Unknown);
    let mut rows: Vec<_> = engines.into_iter().map(|row| (status(&row), row)).collect();
    rows.sort_by_key(|(status, row)| (*status, row.key));
    Ok(rows)
}

/// Every engine that may be seen, with its lines that are not "not due".
pub(super) async fn due(reader: Reader, call: Call) -> Result<HttpResponse, Problem> {
    let asked = call.query(&["as_of", "status", "after", "limit"])?;
    let query = FleetQuery {
        as_of: asked.as_of(call.today())?,
        sight: access::narrowed_to(&reader.0, call.today())?,
        status: asked.status()?,
        after: asked.after()?,
        limit: asked.limit()?,
    };
    let app = call.app.clone();
    let (rows, mut lines, counts) = web::block(move || {
        let rows = app.store.fleet(&query)?;
        let keys: Vec<i64> = rows.iter().map(|(_, row)| row.key).collect();
        let mut lines: HashMap<i64, Vec<DueLine>> = HashMap::new();
        for (key, line) in app.store.due_lines(&keys)? {
            lines.entry(key).or_default().push(line);
        }
        let counts = app.store.fleet_counts(query.as_of, query.sight)?;
        Ok::<_, Problem>((rows, lines, counts))
    })
    .await??;
    let status = query.status.map(|it| format!("&status={}", it.word())).unwrap_or_default();
    let address = format!("{}/v1/fleet/due?as_of={}{status}&", call.app.base_url, query.as_of);
    let next = next(&rows, &query, &address);
    let engines = rows.iter().map(|(status, row)| {
        let lines = worst_first(lines.remove(&row.key).unwrap_or_default(), query.as_of);
        let out = LinesOut::of(row, query.as_of);
        let pressing = lines.iter().filter(|line| is_pressing(line, query.as_of));
        let pressing = pressing.map(|line| out.line(line, None));
        json!({
            "status": status.word(),
            "status_printed": status.printed(),
            "engine": json(&EngineOut::from(row)),
            "lines": json(&pressing.collect::<Vec<_>>()),
        })
    });
    let counts = counts.iter().map(|(status, count)| (status.word().to_owned(), json!(count)));
    let body = json!({
        "as_of": query.as_of.to_string(),
        "counts": counts.collect::<serde_json::Map<_, _>>(),
        "engines": engines.collect::<Vec<_>>(),
        "next": next,
        "cautions": CAUTIONS,
    });
    Ok(page(body, next.as_deref()))
}

/// The address of the page after a full one.
fn next(rows: &[(Status, EngineRow)], query: &FleetQuery, address: &str) -> Option<String> {
    let full = i64::try_from(rows.len()).is_ok_and(|count| count == query.limit);
    let (status, last) = rows.last().filter(|_| full)?;
    let after = cursor(status.rank(), last.key);
    Some(format!("{address}limit={}&after={after}", query.limit))
}

/// A page with its link (RFC 8288).
pub(super) fn page(body: Value, next: Option<&str>) -> HttpResponse {
    let mut response = HttpResponse::Ok();
    if let Some(next) = next {
        response.insert_header((header::LINK, format!("<{next}>; rel=\"next\"")));
    }
    response.json(body)
}
