//! What happens to engines and parts besides running and work.

use crate::auth::{Inspector, Operator, Writer};
use crate::call::Call;
use crate::problem::Problem;
use crate::requests::happenings;
use crate::write::post;
use actix_web::HttpResponse;
use gudgeon_life::fact::{Affected, Host};
use gudgeon_life::ids::{AircraftId, ComponentId, EngineId, FactId};
use gudgeon_store::Principal;

pub(super) async fn put_event_of_engine(
    writer: Writer,
    call: Call,
) -> Result<HttpResponse, Problem> {
    let of = Affected::Engine(EngineId(call.uid("id")?));
    put_event(writer.0, call, of).await
}

pub(super) async fn put_event_of_component(
    writer: Writer,
    call: Call,
) -> Result<HttpResponse, Problem> {
    let of = Affected::Component(ComponentId(call.uid("id")?));
    put_event(writer.0, call, of).await
}

async fn put_event(
    principal: Principal,
    call: Call,
    of: Affected,
) -> Result<HttpResponse, Problem> {
    let fact = FactId(call.uid("fact")?);
    post(call, principal, Some(fact), move |fields, context| happenings::event(of, fields, context))
        .await
}

pub(super) async fn put_preservation(writer: Writer, call: Call) -> Result<HttpResponse, Problem> {
    let (id, fact) = (EngineId(call.uid("id")?), FactId(call.uid("fact")?));
    post(call, writer.0, Some(fact), move |fields, context| {
        happenings::preserved(id, fields, context)
    })
    .await
}

pub(super) async fn put_concession(
    inspector: Inspector,
    call: Call,
) -> Result<HttpResponse, Problem> {
    let (id, fact) = (EngineId(call.uid("id")?), FactId(call.uid("fact")?));
    post(call, inspector.0, Some(fact), move |fields, context| {
        happenings::concession(id, fields, context)
    })
    .await
}

pub(super) async fn put_maker_restart(
    operator: Operator,
    call: Call,
) -> Result<HttpResponse, Problem> {
    let (id, fact) = (EngineId(call.uid("id")?), FactId(call.uid("fact")?));
    post(call, operator.0, Some(fact), move |fields, context| {
        happenings::restarted(id, fields, context)
    })
    .await
}

pub(super) async fn put_overhaul_of_component(
    writer: Writer,
    call: Call,
) -> Result<HttpResponse, Problem> {
    let (id, fact) = (ComponentId(call.uid("id")?), FactId(call.uid("fact")?));
    post(call, writer.0, Some(fact), move |fields, context| {
        happenings::overhauled(id, fields, context)
    })
    .await
}

pub(super) async fn put_description_of_engine(
    writer: Writer,
    call: Call,
) -> Result<HttpResponse, Problem> {
    let of = Host::Engine(EngineId(call.uid("id")?));
    put_description(writer.0, call, of).await
}

pub(super) async fn put_description_of_aircraft(
    writer: Writer,
    call: Call,
) -> Result<HttpResponse, Problem> {
    let of = Host::Aircraft(AircraftId(call.uid("id")?));
    put_description(writer.0, call, of).await
}

async fn put_description(
    principal: Principal,
    call: Call,
    of: Host,
) -> Result<HttpResponse, Problem> {
    let fact = FactId(call.uid("fact")?);
    post(call, principal, Some(fact), move |fields, context| {
        happenings::described(of, fields, context)
    })
    .await
}
