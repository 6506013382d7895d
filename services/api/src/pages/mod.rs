//! The inspector's pages, which are read only, and those behind the links of mails (`linked`): rendered here, no
//! script. What they say about a due line comes from
//! `gudgeon_life::words`, as in the mails.

mod charts;
mod engine;
mod evidence;
mod fleet;
mod inspection;
mod linked;
mod lost_log;
mod parts;
mod sets;
mod sheet;
mod sign_in;
mod timeline;
mod visits;

use crate::app::App;
use crate::layer::escaped;
use crate::problem::Problem;
use actix_web::http::header;
use actix_web::{HttpResponse, Route, guard, web};
use chrono::NaiveDate;
use gudgeon_life::programme::EngineType;
use gudgeon_store::{EngineRow, Programmes as _};
use serde::Serialize;
use std::collections::HashMap;
use std::sync::{Arc, LazyLock};
use tera::{Context, Kwargs, State, Tera, Value};

const STYLE: &str = include_str!("../../templates/style.css");

static TEMPLATES: LazyLock<Result<Tera, tera::Error>> = LazyLock::new(|| {
    let mut tera = Tera::new();
    tera.register_filter("days_whole", days_whole);
    tera.add_raw_templates([
        ("base.html", include_str!("../../templates/base.html")),
        ("charts.html", include_str!("../../templates/charts.html")),
        ("engine.html", include_str!("../../templates/engine.html")),
        ("life.html", include_str!("../../templates/life.html")),
        ("shops.html", include_str!("../../templates/shops.html")),
        ("fleet.html", include_str!("../../templates/fleet.html")),
        ("lost-log.html", include_str!("../../templates/lost-log.html")),
        ("inspection.html", include_str!("../../templates/inspection.html")),
        ("linked.html", include_str!("../../templates/linked.html")),
        ("mails.html", include_str!("../../templates/mails.html")),
        ("no-link.html", include_str!("../../templates/no-link.html")),
        ("parts.html", include_str!("../../templates/parts.html")),
        ("reading.html", include_str!("../../templates/reading.html")),
        ("reported.html", include_str!("../../templates/reported.html")),
        ("revoked.html", include_str!("../../templates/revoked.html")),
        ("sheet.html", include_str!("../../templates/sheet.html")),
        ("sign-in.html", include_str!("../../templates/sign-in.html")),
        ("stop.html", include_str!("../../templates/stop.html")),
        ("visits.html", include_str!("../../templates/visits.html")),
        ("visits-plan.html", include_str!("../../templates/visits-plan.html")),
    ])?;
    Ok(tera)
});

/// Adds the pages and their style sheet.
pub(crate) fn configure(cfg: &mut web::ServiceConfig) {
    cfg.route("/", read().to(fleet::show))
        .route("/engines/{id}", read().to(engine::show))
        .route("/engines/{id}/visits", read().to(visits::show))
        .route("/inspections/{id}", read().to(inspection::show))
        .route("/parts", read().to(parts::show))
        .route("/parts/life", read().to(evidence::life))
        .route("/shops", read().to(evidence::shops))
        .route("/engine-types/{name}/sheets/{sheet}", read().to(sheet::show))
        .route("/sign-in", read().to(sign_in::form))
        .route("/sign-in", web::post().to(sign_in::enter))
        .route("/sign-out", web::post().to(sign_in::leave))
        .route("/style.css", read().to(style))
        .route("/favicon.ico", read().to(no_icon))
        .configure(linked::configure);
}

/// A route for `GET`, and for `HEAD` as its shadow.
fn read() -> Route {
    web::route().guard(guard::Any(guard::Get()).or(guard::Head()))
}

/// Browsers ask for an icon unasked; there is none, and that is no mistake.
async fn no_icon() -> HttpResponse {
    HttpResponse::NoContent().finish()
}

async fn style() -> HttpResponse {
    HttpResponse::Ok()
        .content_type("text/css; charset=utf-8")
        .insert_header((header::CACHE_CONTROL, "max-age=300"))
        .body(STYLE)
}

/// What every page knows besides its own content.
#[derive(Serialize)]
struct Frame {
    /// The title of the page.
    title: String,
    /// Who is signed in; `None` on the sign-in page.
    reader: Option<String>,
    /// Whether this is the demonstration.
    demo: bool,
}

/// A page with its frame.
#[derive(Serialize)]
struct Page<'a, T> {
    frame: Frame,
    page: &'a T,
}

fn rendered<T: Serialize>(template: &str, frame: Frame, page: &T) -> Result<String, Problem> {
    let tera = TEMPLATES.as_ref().map_err(Problem::internal)?;
    let context = Context::from_serialize(&Page { frame, page }).map_err(Problem::internal)?;
    tera.render(template, &context).map_err(Problem::internal)
}

fn html(page: String) -> HttpResponse {
    HttpResponse::Ok().content_type("text/html; charset=utf-8").body(page)
}

/// A template's filter: text with every day in it (`2026-11-25`) kept on one line, since browsers may break a
/// line at the hyphens of a day. It escapes the text itself.
fn days_whole(text: &str, _: Kwargs, _: &State) -> Value {
    let words = text.split(' ').map(|word| {
        let day = word.trim_matches(|c: char| !c.is_ascii_digit());
        match day.parse::<NaiveDate>() {
            Ok(_) => format!("<span class=\"word\">{}</span>", escaped(word)),
            Err(_) => escaped(word),
        }
    });
    Value::safe_string(&words.collect::<Vec<_>>().join(" "))
}

/// The active engine types by name.
fn engine_types(app: &App) -> Result<HashMap<String, Arc<EngineType>>, Problem> {
    let rows = app.store.engine_types()?;
    Ok(rows
        .into_iter()
        .filter_map(|row| Some((row.name, app.programmes.get(&row.digest, &row.toml)?)))
        .collect())
}

/// What an engine's type is called; says so when it is invented.
fn type_title(row: &EngineRow, engine_type: Option<&EngineType>) -> String {
    match (engine_type, &row.engine_type) {
        (Some(it), _) if it.invented => format!("{} (invented type)", it.title),
        (Some(it), _) => it.title.clone(),
        (None, Some(name)) => format!("{name} (no programme is active)"),
        (None, None) => "type not on record".to_owned(),
    }
}

/// Where on the engine a line is, as people call it.
fn place(engine_type: Option<&EngineType>, position: &str) -> String {
    let known =
        engine_type.and_then(|it| it.positions.iter().find(|known| known.id.as_str() == position));
    known.map_or(position, |known| known.title.as_str()).to_owned()
}

/// The query that keeps a page on the day it was asked for; nothing when that is today.
fn day_query(asked: Option<&str>, as_of: NaiveDate) -> String {
    asked.map(|_| format!("?as_of={as_of}")).unwrap_or_default()
}

#[cfg(test)]
mod tests;
