//! What people tell of things, one line a kind of record: its PUT, and the PUT of its corrections.

use crate::auth::{Grantor, Inspector, Operator, Writer};
use crate::call::Call;
use crate::problem::Problem;
use crate::requests::{amendments, components, engines, happenings, parties};
use crate::write::post;
use actix_web::HttpResponse;
use gudgeon_life::fact::{Affected, Host, Stream};
use gudgeon_life::ids::{AircraftId, ComponentId, EngineId, FactId, PartyId, Uid};

/// Two handlers for a record that registers a thing, and so has the thing's own id.
macro_rules! registrations {
    ($($put:ident, $amend:ident: $who:ident, $id:ident, $reader:path;)*) => {$(
        pub(super) async fn $put(who: $who, call: Call) -> Result<HttpResponse, Problem> {
            let id = $id(call.uid("id")?);
            post(call, who.0, Some(FactId(id.0)), move |fields, context| {
                $reader(id, fields, context)
            })
            .await
        }

        pub(super) async fn $amend(who: $who, call: Call) -> Result<HttpResponse, Problem> {
            let id = $id(call.uid("id")?);
            let fact = FactId(call.uid("fact")?);
            post(call, who.0, Some(fact), move |fields, context| {
                amendments::of_record(FactId(id.0), id.into(), fields, context, |fields| {
                    $reader(id, fields, context)
                })
            })
            .await
        }
    )*};
}

/// Two handlers for a record about a thing, under an id of its own.
macro_rules! records {
    ($($put:ident, $amend:ident: $who:ident, $of:expr, $reader:path;)*) => {$(
        pub(super) async fn $put(who: $who, call: Call) -> Result<HttpResponse, Problem> {
            let of = $of(call.uid("id")?);
            let fact = FactId(call.uid("fact")?);
            post(call, who.0, Some(fact), move |fields, context| $reader(of, fields, context)).await
        }

        pub(super) async fn $amend(who: $who, call: Call) -> Result<HttpResponse, Problem> {
            let of = $of(call.uid("id")?);
            let (root, fact) = (FactId(call.uid("root")?), FactId(call.uid("fact")?));
            post(call, who.0, Some(fact), move |fields, context| {
                amendments::of_record(root, Stream::from(of), fields, context, |fields| {
                    $reader(of, fields, context)
                })
            })
            .await
        }
    )*};
}

registrations! {
    put_shop, amend_shop: Operator, PartyId, parties::shop;
    put_owner, amend_owner: Writer, PartyId, parties::owner;
    put_aircraft, amend_aircraft: Writer, AircraftId, engines::aircraft;
    put_engine, amend_engine: Writer, EngineId, engines::engine;
    put_component, amend_component: Writer, ComponentId, components::component;
}

const AIRCRAFT: fn(Uid) -> Host = |id| Host::Aircraft(AircraftId(id));
const ENGINE: fn(Uid) -> Host = |id| Host::Engine(EngineId(id));
const ENGINE_HIT: fn(Uid) -> Affected = |id| Affected::Engine(EngineId(id));
const PART_HIT: fn(Uid) -> Affected = |id| Affected::Component(ComponentId(id));

records! {
    put_aircraft_ownership, amend_aircraft_ownership: Writer, AIRCRAFT, parties::ownership;
    put_aircraft_description, amend_aircraft_description: Writer, AIRCRAFT, happenings::described;
    put_meter_change, amend_meter_change: Writer, AircraftId, engines::meter_changed;
    put_engine_ownership, amend_engine_ownership: Writer, ENGINE, parties::ownership;
    put_engine_description, amend_engine_description: Writer, ENGINE, happenings::described;
    put_engine_event, amend_engine_event: Writer, ENGINE_HIT, happenings::event;
    put_installation, amend_installation: Writer, EngineId, engines::installed;
    put_engine_removal, amend_engine_removal: Writer, EngineId, engines::removed;
    put_preservation, amend_preservation: Writer, EngineId, happenings::preserved;
    put_custody, amend_custody: Grantor, EngineId, parties::custody;
    put_concession, amend_concession: Inspector, EngineId, happenings::concession;
    put_hours_accepted, amend_hours_accepted: Inspector, EngineId, happenings::hours_accepted;
    put_maker_restart, amend_maker_restart: Operator, EngineId, happenings::restarted;
    put_fitting, amend_fitting: Writer, ComponentId, components::fitted;
    put_component_removal, amend_component_removal: Writer, ComponentId, components::removed;
    put_component_event, amend_component_event: Writer, PART_HIT, happenings::event;
    put_overhaul, amend_overhaul: Writer, ComponentId, happenings::overhauled;
}
