//! The pages of what the engines of a type tell together: the life of their parts, and how workshops agree.

use super::{Frame, engine_types, html, rendered};
use crate::app::App;
use crate::auth::{PageReader, forbidden};
use crate::call::{Call, Query};
use crate::evidence::{self, LifeOut, ShopsOut};
use crate::problem::Problem;
use actix_web::{HttpResponse, web};
use chrono::NaiveDate;
use gudgeon_life::cautions::CAUTIONS;
use gudgeon_store::{Principal, Role};
use serde::Serialize;

#[derive(Serialize)]
pub(super) struct Page<T> {
    /// Every engine type: its short name, what people call it, and whether it is the one that is shown.
    types: Vec<(String, String, bool)>,
    /// Nothing until a type is chosen.
    told: Option<T>,
    cautions: [&'static str; CAUTIONS.len()],
}

/// `GET /parts/life?engine_type&as_of`
pub(super) async fn life(reader: PageReader, call: Call) -> Result<HttpResponse, Problem> {
    let today = call.today();
    let query = call.query(&["engine_type", "as_of"])?;
    let app = call.app.clone();
    web::block(move || life_page(&app, &reader.0, &query, today)).await?.map(html)
}

/// `GET /shops?engine_type`
pub(super) async fn shops(reader: PageReader, call: Call) -> Result<HttpResponse, Problem> {
    let query = call.query(&["engine_type"])?;
    let app = call.app.clone();
    web::block(move || shops_page(&app, &reader.0, &query)).await?.map(html)
}

fn life_page(
    app: &App,
    reader: &Principal,
    query: &Query,
    today: NaiveDate,
) -> Result<String, Problem> {
    let as_of = query.as_of(today)?;
    let view: Page<LifeOut> =
        page(app, reader, query, |engine_type| evidence::life(app, engine_type, None, as_of))?;
    rendered("life.html", frame("Life of parts", app, reader), &view)
}

fn shops_page(app: &App, reader: &Principal, query: &Query) -> Result<String, Problem> {
    let view: Page<ShopsOut> =
        page(app, reader, query, |engine_type| evidence::shops(app, engine_type))?;
    rendered("shops.html", frame("Workshops compared", app, reader), &view)
}

fn frame(title: &str, app: &App, reader: &Principal) -> Frame {
    Frame { title: title.to_owned(), reader: Some(reader.label.clone()), demo: app.demo }
}

/// The page of one type, or of none yet; of the only one where there is but one.
fn page<T>(
    app: &App,
    reader: &Principal,
    query: &Query,
    tell: impl FnOnce(&gudgeon_life::programme::EngineType) -> Result<T, Problem>,
) -> Result<Page<T>, Problem> {
    if reader.role == Role::Shop {
        return Err(forbidden("an inspector's or the operator's key"));
    }
    let mut types: Vec<_> = engine_types(app)?.into_values().collect();
    types.sort_by(|a, b| a.title.cmp(&b.title));
    let asked = query.get("engine_type").filter(|name| !name.is_empty());
    let chosen = match (asked, types.as_slice()) {
        (Some(_), _) => Some(evidence::engine_type(app, query)?),
        (None, [only]) => Some(only.clone()),
        (None, _) => None,
    };
    let is_chosen = |name: &str| chosen.as_ref().is_some_and(|it| it.name.as_str() == name);
    let listed =
        types.iter().map(|it| (it.name.to_string(), it.title.clone(), is_chosen(it.name.as_str())));
    Ok(Page {
        types: listed.collect(),
        told: chosen.map(|it| tell(&it)).transpose()?,
        cautions: CAUTIONS,
    })
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    fn page<T>(name: &str, told: T) -> Page<T> {
        let types = vec![("a-type".to_owned(), name.to_owned(), true)];
        Page { types, told: Some(told), cautions: CAUTIONS }
    }

    pub(in crate::pages) fn life(name: &str) -> Page<LifeOut> {
        page(name, evidence::life_sample(name))
    }

    pub(in crate::pages) fn shops(name: &str) -> Page<ShopsOut> {
        page(name, evidence::shops_sample(name))
    }
}
