//! `gudgeon serve` and `gudgeon migrate`: the HTTP service over one database.

use crate::clock;
use crate::settings::Settings;
use actix_web::{App as ActixApp, HttpServer, web};
use gudgeon_api::{App, Cache, configure, keep_counted};
use gudgeon_store::{Links, Store};
use std::error::Error;
use std::io::{self, Write};
use std::net::TcpListener;
use std::sync::Arc;
use std::time::Duration;

/// How long requests under way may take to end once the service is told to stop.
const SHUTDOWN_SECONDS: u64 = 25;
/// How long a client may take to send its request's head.
const HEAD_TIMEOUT: Duration = Duration::from_secs(10);

/// Serves until told to stop.
pub(crate) fn run(settings: &Settings) -> Result<(), Box<dyn Error>> {
    let store = settings.open_store(false)?;
    let listener = TcpListener::bind(settings.file.listen)?;
    let base_url = settings.file.base_url.clone();
    let demo = settings.file.demo;
    let links = settings.links()?;
    writeln!(io::stdout(), "Serving {base_url}/ (stop with Ctrl-C).")?;
    actix_web::rt::System::new()
        .block_on(async { start(listener, store, base_url, links, demo)?.await })?;
    Ok(())
}

/// Starts the service on a listener; the caller waits for it, or stops it by its handle.
pub(crate) fn start(
    listener: TcpListener,
    store: Store,
    base_url: String,
    links: Option<Links>,
    demo: bool,
) -> io::Result<actix_web::dev::Server> {
    let programmes = Arc::new(Cache::default());
    actix_web::rt::spawn(keep_counted(store.clone(), Arc::clone(&programmes)));
    let app = web::Data::new(App { store, programmes, clock: clock::now, base_url, links, demo });
    let server =
        HttpServer::new(move || ActixApp::new().app_data(app.clone()).configure(configure))
            .client_request_timeout(HEAD_TIMEOUT)
            .shutdown_timeout(SHUTDOWN_SECONDS)
            .listen(listener)?;
    Ok(server.run())
}

/// Brings the database up to this version and says what was done.
pub(crate) fn migrate(settings: &Settings) -> Result<(), Box<dyn Error>> {
    let store = settings.open_store(true)?;
    let applied = store.migrate()?;
    let mut out = io::stdout();
    if applied.is_empty() {
        writeln!(out, "The database is up to date.")?;
    }
    for name in applied {
        writeln!(out, "Applied {name}.")?;
    }
    Ok(())
}
