//! The hours of an engine that came with no log, estimated from its measurements and its type's logged engines.

use crate::access;
use crate::answers::json;
use crate::answers::lost_log::LostLogOut;
use crate::app::App;
use crate::auth::Reader;
use crate::call::{Call, bad_parameter};
use crate::problem::{Kind, Problem};
use actix_web::{HttpResponse, web};
use chrono::NaiveDate;
use gudgeon_life::fact::Stream;
use gudgeon_life::history::History;
use gudgeon_life::ids::{EngineId, Quantity};
use gudgeon_life::programme::EngineType;
use gudgeon_life::sure::lost_log::{LostLog, lost_log};
use serde_json::{Value, json};
use std::collections::BTreeSet;

/// `GET /v1/engines/{id}/hours-estimate?renewed=bore,piston-clearance`: what the shop says was renewed before these
/// records is left out.
pub(super) async fn get(reader: Reader, call: Call) -> Result<HttpResponse, Problem> {
    let id = EngineId(call.uid("id")?);
    let today = call.today();
    let query = call.query(&["renewed"])?;
    let renewed = query.get("renewed").map(str::to_owned);
    let app = call.app.clone();
    let body = web::block(move || {
        let row = access::engine(&app.store, &reader.0, today, id)?;
        let Some(engine_type) = app.counted_type_of(&row)? else {
            return Err(Problem::new(
                Kind::NOT_FOUND,
                "no programme is active for the type of this engine, so nothing is known of what is measured on it",
            ));
        };
        let renewed = quantities(renewed.as_deref(), &engine_type)?;
        let history = app.store.history_of(Stream::engine(id))?;
        answer(&app, id, &history, &engine_type, &renewed, today)
    })
    .await??;
    Ok(HttpResponse::Ok().json(body))
}

fn answer(
    app: &App,
    id: EngineId,
    history: &History,
    engine_type: &EngineType,
    renewed: &BTreeSet<Quantity>,
    today: NaiveDate,
) -> Result<Value, Problem> {
    let found = of_engine(app, id, history, engine_type, renewed)?;
    let accepted = history.engine(id).and_then(|it| it.accepted.as_ref());
    Ok(json!({
        "engine": id.to_string(),
        "estimate": json(&LostLogOut::new(&found, accepted, engine_type, today)),
    }))
}

/// The estimate for one engine, with one query for all logged engines of its type.
pub(crate) fn of_engine(
    app: &App,
    id: EngineId,
    history: &History,
    engine_type: &EngineType,
    renewed: &BTreeSet<Quantity>,
) -> Result<LostLog, Problem> {
    let fleet = app.store.measured_fleet(engine_type.name.as_str())?;
    Ok(lost_log(history, id, engine_type, &fleet, renewed))
}

/// The quantities of a list with commas.
fn quantities(text: Option<&str>, engine_type: &EngineType) -> Result<BTreeSet<Quantity>, Problem> {
    let named = text.unwrap_or_default().split(',').map(str::trim).filter(|it| !it.is_empty());
    let known = |name: &str| {
        let quantity = Quantity::new(name).filter(|it| engine_type.bench.quantity(it).is_some());
        quantity.ok_or_else(|| {
            bad_parameter(&format!(
                "`renewed` names `{name}`, which is not measured on this type; expected ids of its quantities with commas between"
            ))
        })
    };
    named.map(known).collect()
}
