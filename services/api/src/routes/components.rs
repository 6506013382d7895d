//! Parts with their own hours or age.

use super::fleet;
use crate::access;
use crate::answers::components::ComponentOut;
use crate::answers::engines::EngineOut;
use crate::answers::lines::{LineOut, LinesOut};
use crate::answers::{json, records};
use crate::app::App;
use crate::auth::Reader;
use crate::call::Call;
use crate::problem::Problem;
use crate::search::{self, Found};
use actix_web::{HttpResponse, web};
use chrono::NaiveDate;
use gudgeon_life::cautions::CAUTIONS;
use gudgeon_life::fact::{Content, Stream};
use gudgeon_life::history::History;
use gudgeon_life::ids::{ComponentId, FactId};
use gudgeon_life::shelf::shelf_ends;
use gudgeon_store::Programmes;
use serde_json::{Value, json};

pub(super) async fn get(reader: Reader, call: Call) -> Result<HttpResponse, Problem> {
    let id = ComponentId(call.uid("id")?);
    let (app, today) = (call.app.clone(), call.today());
    let body = web::block(move || {
        let (store, stream) = (&app.store, Stream::component(id));
        let known = store.stream_known(stream)?;
        if !known || !access::sees(store, &reader.0, today, stream)? {
            return Err(Problem::not_found("component"));
        }
        let history = store.history_of(stream)?;
        let registered = store
            .fact(FactId(id.0))?
            .filter(|stored| matches!(stored.fact.entry.content, Content::ComponentRegistered(_)));
        Ok(json!({
            "record": registered.as_ref().map(records::record),
            "shelf": shelf(&app, &history, id, today)?,
            "component": ComponentOut::new(&history, id, today).as_ref().map(json),
        }))
    })
    .await??;
    Ok(HttpResponse::Ok().json(body))
}

/// `GET /v1/components`: the parts of a kind, lot or age, the engines that hold them, and when each comes due.
pub(super) async fn find(reader: Reader, call: Call) -> Result<HttpResponse, Problem> {
    let today = call.today();
    let query = call.query(&search::PARAMETERS)?;
    let as_of = query.as_of(today)?;
    let asked = search::asked(&query, &reader.0, today)?;
    let app = call.app.clone();
    let (found, asked) =
        web::block(move || Ok::<_, Problem>((search::page(&app, &asked, as_of)?, asked))).await??;
    let next = found.next.map(|after| {
        let parameters = search::parameters(&asked, Some(as_of));
        let base = &call.app.base_url;
        format!("{base}/v1/components?{parameters}limit={}&after={after}", asked.limit)
    });
    let body = json!({
        "as_of": as_of.to_string(),
        "components": found.found.iter().map(|it| part(it, as_of)).collect::<Vec<_>>(),
        "next": next,
        "cautions": CAUTIONS,
    });
    Ok(fleet::page(body, next.as_deref()))
}

fn part(it: &Found, as_of: NaiveDate) -> Value {
    let told = it.engine.as_ref().map(|row| LinesOut::of(row, as_of));
    let lines: Vec<LineOut> =
        told.iter().flat_map(|told| it.lines.iter().map(|line| told.line(line, None))).collect();
    json!({
        "id": it.part.component.to_string(),
        "kind": it.part.kind,
        "lot": it.part.lot,
        "serial": it.part.serial,
        "maker_part": it.part.maker_part,
        "made_first": it.part.made.map(|(first, _)| first.to_string()),
        "made_last": it.part.made.map(|(_, last)| last.to_string()),
        "position": it.part.position,
        "engine": it.engine.as_ref().map(|row| json(&EngineOut::from(row))),
        "lines": json(&lines),
    })
}

/// Until when a part that was never fitted may be, by every active programme that sets it a shelf life.
fn shelf(
    app: &App,
    history: &History,
    id: ComponentId,
    today: NaiveDate,
) -> Result<Vec<Value>, Problem> {
    let Some(part) = history.component(id) else { return Ok(Vec::new()) };
    let mut ends = Vec::new();
    for row in app.store.engine_types()? {
        let Some(engine_type) = app.programmes.get(&row.digest, &row.toml) else { continue };
        for item in &engine_type.items {
            let Some(last) = shelf_ends(part, item) else { continue };
            let is_past = last < today;
            let words = if is_past {
                format!("past its shelf life since {last}: do not fit it")
            } else {
                format!("may be fitted until {last}")
            };
            ends.push(json!({
                "engine_type": row.name,
                "item": item.id.as_str(),
                "fit_until": last.to_string(),
                "past": is_past,
                "words": words,
                "source": item.source,
            }));
        }
    }
    Ok(ends)
}
