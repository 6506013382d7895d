//! The page of an engine's visits: what to do together and when, and what if it flies more or a visit is put off.

use super::{Frame, html, rendered, type_title};
use crate::access;
use crate::app::App;
use crate::auth::PageReader;
use crate::call::Call;
use crate::problem::Problem;
use crate::visits::{self, Asked, VisitsOut};
use actix_web::{HttpResponse, web};
use gudgeon_life::cautions::CAUTIONS;
use gudgeon_life::ids::EngineId;
use gudgeon_store::Principal;
use serde::Serialize;

#[derive(Serialize)]
pub(super) struct Page {
    name: String,
    title: String,
    as_of_iso: String,
    /// The engine's page of the same day, and the address of this one.
    engine: String,
    path: String,
    hours_per_month: String,
    not_before: String,
    visits: VisitsOut,
    cautions: [&'static str; CAUTIONS.len()],
}

/// `GET /engines/{id}/visits?as_of&hours_per_month&not_before`
pub(super) async fn show(reader: PageReader, call: Call) -> Result<HttpResponse, Problem> {
    let today = call.today();
    let asked = Asked::of(&call.query(&visits::PARAMETERS)?, today)?;
    let id = EngineId(call.uid("id")?);
    let app = call.app.clone();
    web::block(move || page(&app, &reader.0, id, asked, today)).await?.map(html)
}

fn page(
    app: &App,
    reader: &Principal,
    id: EngineId,
    asked: Asked,
    today: chrono::NaiveDate,
) -> Result<String, Problem> {
    let row = access::engine(&app.store, reader, today, id)?;
    let engine_type = app.counted_type_of(&row)?;
    let view = Page {
        name: row.mark.clone().unwrap_or_else(|| "Not installed".to_owned()),
        title: type_title(&row, engine_type.as_deref()),
        as_of_iso: asked.as_of.to_string(),
        engine: format!("/engines/{id}?as_of={}", asked.as_of),
        path: format!("/engines/{id}/visits"),
        hours_per_month: asked.hours_per_month.map_or_else(String::new, |it| it.to_string()),
        not_before: asked.not_before.map_or_else(String::new, |it| it.to_string()),
        visits: visits::of(app, &row, asked)?,
        cautions: CAUTIONS,
    };
    let frame = Frame {
        title: format!("Visits of {}", view.name),
        reader: Some(reader.label.clone()),
        demo: app.demo,
    };
    rendered("visits.html", frame, &view)
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    pub(in crate::pages) fn sample(name: &str) -> Page {
        let text = || name.to_owned();
        Page {
            name: text(),
            title: text(),
            as_of_iso: "2026-11-25".to_owned(),
            engine: "/engines/x".to_owned(),
            path: "/engines/x/visits".to_owned(),
            hours_per_month: "10".to_owned(),
            not_before: "2026-12-24".to_owned(),
            visits: crate::visits::tests::sample(name),
            cautions: CAUTIONS,
        }
    }
}
