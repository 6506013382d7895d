//! Every address of the API, in one list.

mod aircraft;
mod components;
mod engine_types;
mod engines;
mod fleet;
mod happenings;
mod inspections;
mod parties;
mod readings;
mod service;

use crate::app::Endpoint;
use actix_web::http::Method;
use actix_web::web;

/// Every address of the API with its methods and handlers.
#[must_use]
pub fn all() -> Vec<Endpoint> {
    let get = Method::GET;
    let put = Method::PUT;
    let post = Method::POST;
    macro_rules! endpoints {
        ($($path:literal => $($method:ident $handler:path),+;)*) => {
            vec![$(Endpoint {
                path: $path,
                methods: vec![$(($method.clone(), web::to($handler))),+],
            }),*]
        };
    }
    endpoints! {
        "/livez" => get service::livez;
        "/readyz" => get service::readyz;
        "/version" => get service::version;
        "/problems/{slug}" => get service::problem;
        "/v1/shops/{id}" => put parties::put_shop, get parties::get_shop;
        "/v1/shops/{id}/keys" => post parties::post_key;
        "/v1/owners/{id}" => put parties::put_owner, get parties::get_owner;
        "/v1/aircraft/{id}" => put aircraft::put, get aircraft::get;
        "/v1/aircraft/{id}/ownerships/{fact}" => put aircraft::put_ownership;
        "/v1/aircraft/{id}/meter-changes/{fact}" => put aircraft::put_meter_change;
        "/v1/aircraft/{id}/descriptions/{fact}" => put happenings::put_description_of_aircraft;
        "/v1/aircraft/{id}/readings/{fact}" => put readings::put_of_aircraft;
        "/v1/aircraft/{id}/readings/{root}/amendments" => post readings::post_amendment_of_aircraft;
        "/v1/aircraft/{id}/readings/{root}/amendments/{fact}" => put readings::put_amendment_of_aircraft;
        "/v1/engines" => get fleet::engines;
        "/v1/engines/{id}" => put engines::put, get engines::get;
        "/v1/engines/{id}/ownerships/{fact}" => put engines::put_ownership;
        "/v1/engines/{id}/custody/{fact}" => put engines::put_custody;
        "/v1/engines/{id}/installations/{fact}" => put engines::put_installation;
        "/v1/engines/{id}/removals/{fact}" => put engines::put_removal;
        "/v1/engines/{id}/readings/{fact}" => put readings::put_of_engine;
        "/v1/engines/{id}/readings/{root}/amendments" => post readings::post_amendment_of_engine;
        "/v1/engines/{id}/readings/{root}/amendments/{fact}" => put readings::put_amendment_of_engine;
        "/v1/engines/{id}/events/{fact}" => put happenings::put_event_of_engine;
        "/v1/engines/{id}/preservations/{fact}" => put happenings::put_preservation;
        "/v1/engines/{id}/concessions/{fact}" => put happenings::put_concession;
        "/v1/engines/{id}/maker-restarts/{fact}" => put happenings::put_maker_restart;
        "/v1/engines/{id}/descriptions/{fact}" => put happenings::put_description_of_engine;
        "/v1/engines/{id}/due" => get engines::get_due;
        "/v1/engines/{id}/history" => get engines::get_history;
        "/v1/engines/{id}/components" => get engines::get_components;
        "/v1/components/{id}" => put components::put, get components::get;
        "/v1/components/{id}/fittings/{fact}" => put components::put_fitting;
        "/v1/components/{id}/removals/{fact}" => put components::put_removal;
        "/v1/components/{id}/events/{fact}" => put happenings::put_event_of_component;
        "/v1/components/{id}/overhauls/{fact}" => put happenings::put_overhaul_of_component;
        "/v1/inspections/{id}" => put inspections::put, get inspections::get;
        "/v1/inspections/{id}/amendments" => post inspections::post_amendment;
        "/v1/inspections/{id}/amendments/{fact}" => put inspections::put_amendment;
        "/v1/fleet/due" => get fleet::due;
        "/v1/engine-types" => get engine_types::list;
        "/v1/engine-types/{name}" => put engine_types::put, get engine_types::get;
    }
}
