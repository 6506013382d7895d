//! The application: what handlers share, and how routes are put together.

use crate::layer;
use crate::pages;
use crate::problem::{Kind, Problem};
use crate::programmes::Cache;
use crate::routes;
use actix_web::http::Method;
use actix_web::http::header::{self, HeaderValue};
use actix_web::{Route, guard, middleware, web};
use gudgeon_life::programme::EngineType;
use gudgeon_life::version::ActiveVersion;
use gudgeon_store::{EngineRow, Instant, Links, Programmes, Store};
use std::sync::Arc;

/// What handlers share. Registered as `web::Data<App>` by whoever starts the server.
#[derive(Clone)]
pub struct App {
    /// The database.
    pub store: Store,
    /// Engine types, read once.
    pub programmes: Arc<Cache>,
    /// The clock.
    pub clock: fn() -> Instant,
    /// Where the service is reached, without a slash at the end, such as `https://gudgeon.example.org`.
    pub base_url: String,
    /// Reads the links of mails; `None` where there is no key for them, and then none is good.
    pub links: Option<Links>,
    /// Whether this is the demonstration.
    pub demo: bool,
}

impl App {
    /// The version of its type that an engine is to be counted by, when one is active.
    pub(crate) fn active_type_of(
        &self,
        row: &EngineRow,
    ) -> Result<Option<Arc<EngineType>>, Problem> {
        let Some(name) = &row.engine_type else { return Ok(None) };
        let active = self.store.engine_type(name)?;
        Ok(active.and_then(|active| self.programmes.get(&active.digest, &active.toml)))
    }

    /// The version of its type that an engine's lines follow. For a while after a change that is not yet the
    /// active one.
    pub(crate) fn counted_type_of(
        &self,
        row: &EngineRow,
    ) -> Result<Option<Arc<EngineType>>, Problem> {
        let Some((name, digest)) = row.engine_type.as_ref().zip(row.type_digest) else {
            return Ok(None);
        };
        let version = self.store.engine_type_version(name, digest)?;
        Ok(version.and_then(|it| self.programmes.get(&it.digest, &it.toml)))
    }

    /// The version that an engine is to be counted by, as it is told to people.
    pub(crate) fn version_of(&self, row: &EngineRow) -> Result<Option<ActiveVersion>, Problem> {
        let Some(name) = &row.engine_type else { return Ok(None) };
        Ok(self.store.engine_type(name)?.and_then(|it| it.active()))
    }
}

/// One address of the API with its methods.
pub struct Endpoint {
    /// The address, with names in braces.
    pub path: &'static str,
    /// Its methods; `GET` answers `HEAD` too.
    pub methods: Vec<(Method, Route)>,
}

/// Adds everything: the API under `/v1`, health, problems, pages. Expects `web::Data<App>`.
pub fn configure(cfg: &mut web::ServiceConfig) {
    let mut all = web::scope("").wrap(middleware::from_fn(layer::around));
    for endpoint in routes::all() {
        all = all.service(resource(endpoint));
    }
    cfg.service(all.configure(pages::configure).default_service(web::to(nothing_here)));
}

/// An address whose other methods are refused with `Allow`.
pub(crate) fn resource(endpoint: Endpoint) -> actix_web::Resource {
    let mut allow: Vec<&str> = Vec::new();
    for (method, _) in &endpoint.methods {
        allow.push(method.as_str());
        if *method == Method::GET {
            allow.push("HEAD");
        }
    }
    let allow = HeaderValue::from_str(&allow.join(", ")).ok();
    let mut resource = web::resource(endpoint.path);
    for (method, route) in endpoint.methods {
        resource = resource.route(if method == Method::GET {
            route.guard(guard::Any(guard::Get()).or(guard::Head()))
        } else {
            route.method(method)
        });
    }
    resource.default_service(web::to(move || {
        let problem = Problem::new(Kind::METHOD_NOT_ALLOWED, "this address has other methods");
        let allow = allow.clone();
        async move {
            let problem = match allow {
                Some(allow) => problem.with_header(header::ALLOW, allow),
                None => problem,
            };
            Err::<actix_web::HttpResponse, Problem>(problem)
        }
    }))
}

async fn nothing_here() -> Result<actix_web::HttpResponse, Problem> {
    Err(Problem::new(Kind::NOT_FOUND, "nothing has this address"))
}
