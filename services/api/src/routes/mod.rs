//! Every address of the API, in one list.

mod aircraft;
mod components;
mod engine_types;
mod engines;
mod erasures;
mod evidence;
mod export;
mod files;
mod fleet;
pub(crate) mod hours_estimate;
mod inspections;
mod parties;
mod readings;
mod said;
mod service;
pub(crate) mod sheets;
mod visits;

pub(crate) use files::picture;

use crate::app::Endpoint;
use actix_web::http::Method;
use actix_web::web;

/// Endpoints, one line each: the address, then its methods with their handlers.
macro_rules! endpoints {
    ($($path:literal => $($method:ident $handler:path),+;)*) => {
        vec![$(Endpoint {
            path: $path,
            methods: vec![$((Method::$method, web::to($handler))),+],
        }),*]
    };
}

/// Every address of the API with its methods and handlers.
#[must_use]
pub fn all() -> Vec<Endpoint> {
    let parts = [of_the_service(), of_parties(), of_aircraft(), of_engines(), of_parts_and_work()];
    parts.into_iter().flatten().collect()
}

/// Health, version and the meaning of problems.
fn of_the_service() -> Vec<Endpoint> {
    endpoints! {
        "/livez" => GET service::livez;
        "/readyz" => GET service::readyz;
        "/version" => GET service::version;
        "/problems/{slug}" => GET service::problem;
    }
}

/// Workshops and owners.
fn of_parties() -> Vec<Endpoint> {
    endpoints! {
        "/v1/shops/{id}" => PUT said::put_shop, GET parties::get_shop;
        "/v1/shops/{id}/amendments/{fact}" => PUT said::amend_shop;
        "/v1/shops/{id}/erasures/{fact}" => PUT erasures::put_of_shop;
        "/v1/shops/{id}/keys" => POST parties::post_key_of_shop;
        "/v1/owners/{id}" => PUT said::put_owner, GET parties::get_owner;
        "/v1/owners/{id}/amendments/{fact}" => PUT said::amend_owner;
        "/v1/owners/{id}/erasures/{fact}" => PUT erasures::put_of_owner;
        "/v1/owners/{id}/keys" => POST parties::post_key_of_owner;
        "/v1/owners/{id}/export" => GET export::get;
    }
}

/// Aircraft and what is told of them.
fn of_aircraft() -> Vec<Endpoint> {
    endpoints! {
        "/v1/aircraft/{id}" => PUT said::put_aircraft, GET aircraft::get;
        "/v1/aircraft/{id}/amendments/{fact}" => PUT said::amend_aircraft;
        "/v1/aircraft/{id}/ownerships/{fact}" => PUT said::put_aircraft_ownership;
        "/v1/aircraft/{id}/ownerships/{root}/amendments/{fact}" => PUT said::amend_aircraft_ownership;
        "/v1/aircraft/{id}/meter-changes/{fact}" => PUT said::put_meter_change;
        "/v1/aircraft/{id}/meter-changes/{root}/amendments/{fact}" => PUT said::amend_meter_change;
        "/v1/aircraft/{id}/descriptions/{fact}" => PUT said::put_aircraft_description;
        "/v1/aircraft/{id}/descriptions/{root}/amendments/{fact}" => PUT said::amend_aircraft_description;
        "/v1/aircraft/{id}/readings/{fact}" => PUT readings::put_of_aircraft;
        "/v1/aircraft/{id}/readings/{root}/amendments" => POST readings::post_amendment_of_aircraft;
        "/v1/aircraft/{id}/readings/{root}/amendments/{fact}" => PUT readings::put_amendment_of_aircraft;
    }
}

/// Engines and what is told of them.
fn of_engines() -> Vec<Endpoint> {
    endpoints! {
        "/v1/engines" => GET fleet::engines;
        "/v1/engines/{id}" => PUT said::put_engine, GET engines::get;
        "/v1/engines/{id}/amendments/{fact}" => PUT said::amend_engine;
        "/v1/engines/{id}/ownerships/{fact}" => PUT said::put_engine_ownership;
        "/v1/engines/{id}/ownerships/{root}/amendments/{fact}" => PUT said::amend_engine_ownership;
        "/v1/engines/{id}/custody/{fact}" => PUT said::put_custody;
        "/v1/engines/{id}/custody/{root}/amendments/{fact}" => PUT said::amend_custody;
        "/v1/engines/{id}/installations/{fact}" => PUT said::put_installation;
        "/v1/engines/{id}/installations/{root}/amendments/{fact}" => PUT said::amend_installation;
        "/v1/engines/{id}/removals/{fact}" => PUT said::put_engine_removal;
        "/v1/engines/{id}/removals/{root}/amendments/{fact}" => PUT said::amend_engine_removal;
        "/v1/engines/{id}/readings/{fact}" => PUT readings::put_of_engine;
        "/v1/engines/{id}/readings/{root}/amendments" => POST readings::post_amendment_of_engine;
        "/v1/engines/{id}/readings/{root}/amendments/{fact}" => PUT readings::put_amendment_of_engine;
        "/v1/engines/{id}/events/{fact}" => PUT said::put_engine_event;
        "/v1/engines/{id}/events/{root}/amendments/{fact}" => PUT said::amend_engine_event;
        "/v1/engines/{id}/preservations/{fact}" => PUT said::put_preservation;
        "/v1/engines/{id}/preservations/{root}/amendments/{fact}" => PUT said::amend_preservation;
        "/v1/engines/{id}/concessions/{fact}" => PUT said::put_concession;
        "/v1/engines/{id}/concessions/{root}/amendments/{fact}" => PUT said::amend_concession;
        "/v1/engines/{id}/hours-estimate" => GET hours_estimate::get;
        "/v1/engines/{id}/hours-estimate/{fact}" => PUT said::put_hours_accepted;
        "/v1/engines/{id}/hours-estimate/{root}/amendments/{fact}" => PUT said::amend_hours_accepted;
        "/v1/engines/{id}/maker-restarts/{fact}" => PUT said::put_maker_restart;
        "/v1/engines/{id}/maker-restarts/{root}/amendments/{fact}" => PUT said::amend_maker_restart;
        "/v1/engines/{id}/descriptions/{fact}" => PUT said::put_engine_description;
        "/v1/engines/{id}/descriptions/{root}/amendments/{fact}" => PUT said::amend_engine_description;
        "/v1/engines/{id}/due" => GET engines::get_due;
        "/v1/engines/{id}/history" => GET engines::get_history;
        "/v1/engines/{id}/visits" => GET visits::get;
        "/v1/engines/{id}/components" => GET engines::get_components;
    }
}

/// Parts, inspections, the fleet and the engine types.
fn of_parts_and_work() -> Vec<Endpoint> {
    endpoints! {
        "/v1/components" => GET components::find;
        "/v1/components/{id}" => PUT said::put_component, GET components::get;
        "/v1/components/{id}/amendments/{fact}" => PUT said::amend_component;
        "/v1/components/{id}/fittings/{fact}" => PUT said::put_fitting;
        "/v1/components/{id}/fittings/{root}/amendments/{fact}" => PUT said::amend_fitting;
        "/v1/components/{id}/removals/{fact}" => PUT said::put_component_removal;
        "/v1/components/{id}/removals/{root}/amendments/{fact}" => PUT said::amend_component_removal;
        "/v1/components/{id}/events/{fact}" => PUT said::put_component_event;
        "/v1/components/{id}/events/{root}/amendments/{fact}" => PUT said::amend_component_event;
        "/v1/components/{id}/overhauls/{fact}" => PUT said::put_overhaul;
        "/v1/components/{id}/overhauls/{root}/amendments/{fact}" => PUT said::amend_overhaul;
        "/v1/inspections/{id}" => PUT inspections::put, GET inspections::get;
        "/v1/inspections/{id}/amendments" => POST inspections::post_amendment;
        "/v1/inspections/{id}/amendments/{fact}" => PUT inspections::put_amendment;
        "/v1/files/{sha256}" => PUT files::put, GET files::get;
        "/v1/fleet/due" => GET fleet::due;
        "/v1/fleet/life" => GET evidence::life;
        "/v1/fleet/shops" => GET evidence::shops;
        "/v1/engine-types" => GET engine_types::list;
        "/v1/engine-types/{name}" => PUT engine_types::put, GET engine_types::get;
        "/v1/engine-types/{name}/activations/{fact}" => PUT engine_types::put_activation;
        "/v1/engine-types/{name}/versions/{digest}" => GET engine_types::get_version;
        "/v1/engine-types/{name}/sheets" => GET sheets::list;
        "/v1/engine-types/{name}/sheets/{sheet}" => GET sheets::get;
    }
}
