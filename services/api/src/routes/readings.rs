//! Hour-meter readings, told of an engine or of its aircraft, and their corrections.

use crate::auth::Writer;
use crate::call::Call;
use crate::problem::Problem;
use crate::requests::{amendments, engines};
use crate::write::post;
use actix_web::HttpResponse;
use gudgeon_life::fact::Host;
use gudgeon_life::ids::{AircraftId, EngineId, FactId};

pub(super) async fn put_of_engine(writer: Writer, call: Call) -> Result<HttpResponse, Problem> {
    let of = engine(&call)?;
    put(writer, call, of).await
}

pub(super) async fn put_of_aircraft(writer: Writer, call: Call) -> Result<HttpResponse, Problem> {
    let of = aircraft(&call)?;
    put(writer, call, of).await
}

pub(super) async fn put_amendment_of_engine(
    writer: Writer,
    call: Call,
) -> Result<HttpResponse, Problem> {
    let (of, id) = (engine(&call)?, FactId(call.uid("fact")?));
    amend(writer, call, of, Some(id)).await
}

pub(super) async fn put_amendment_of_aircraft(
    writer: Writer,
    call: Call,
) -> Result<HttpResponse, Problem> {
    let (of, id) = (aircraft(&call)?, FactId(call.uid("fact")?));
    amend(writer, call, of, Some(id)).await
}

pub(super) async fn post_amendment_of_engine(
    writer: Writer,
    call: Call,
) -> Result<HttpResponse, Problem> {
    let of = engine(&call)?;
    amend(writer, call, of, None).await
}

pub(super) async fn post_amendment_of_aircraft(
    writer: Writer,
    call: Call,
) -> Result<HttpResponse, Problem> {
    let of = aircraft(&call)?;
    amend(writer, call, of, None).await
}

async fn put(writer: Writer, call: Call, of: Host) -> Result<HttpResponse, Problem> {
    let fact = FactId(call.uid("fact")?);
    post(call, writer.0, Some(fact), move |fields, context| engines::reading(of, fields, context))
        .await
}

async fn amend(
    writer: Writer,
    call: Call,
    of: Host,
    id: Option<FactId>,
) -> Result<HttpResponse, Problem> {
    let root = FactId(call.uid("root")?);
    post(call, writer.0, id, move |fields, context| {
        amendments::of_reading(of, root, fields, context)
    })
    .await
}

fn engine(call: &Call) -> Result<Host, Problem> {
    call.uid("id").map(|id| Host::Engine(EngineId(id)))
}

fn aircraft(call: &Call) -> Result<Host, Problem> {
    call.uid("id").map(|id| Host::Aircraft(AircraftId(id)))
}
