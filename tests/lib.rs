//! Shared by the tests: a real service on a fresh database of either kind, spoken to over real HTTP.

#![expect(
    clippy::unwrap_used,
    clippy::missing_panics_doc,
    reason = "a test that cannot go on has failed"
)]
#![expect(clippy::must_use_candidate, reason = "posting matters even when nobody reads the answer")]

pub mod generator;
pub mod load;
pub mod owners;
pub mod peer;
pub mod site;
pub mod story;

pub use gudgeon_databases::{Folder, repeat_on_postgres};

use actix_web::{App as ActixApp, HttpServer, web};
use gudgeon_api::auth::mint_key;
use gudgeon_api::{App, Cache, configure};
use gudgeon_databases::Database;
use gudgeon_life::ids::Uid;
use gudgeon_store::{Instant, Links, NewKey, Role, Store};
use serde_json::{Value, json};
use std::env;
use std::net::TcpListener;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::{Arc, mpsc};
use std::thread;

/// The clock of all services started here: 2026-11-25 12:00 UTC.
pub const NOW: Instant = Instant(1_795_608_000_000_000);

/// A service of its own for one test: its folder, database and keys go when it does.
pub struct Service {
    /// Where it listens.
    pub base_url: String,
    /// Its database.
    pub store: Store,
    /// A key that manages everything.
    pub operator: String,
    database: Database,
    server: actix_web::dev::ServerHandle,
}

impl Service {
    /// Starts a service on a free port, with an empty database.
    #[must_use]
    pub fn start() -> Self {
        let database = Database::fresh(|url| {
            Store::open(url, true).unwrap().migrate().unwrap();
        });
        let store = Store::open(database.url(), false).unwrap();
        let listener = TcpListener::bind(("127.0.0.1", 0)).unwrap();
        let base_url = format!("http://{}", listener.local_addr().unwrap());
        let app = App {
            store: store.clone(),
            programmes: Arc::new(Cache::default()),
            clock: || NOW,
            links: Some(Links::new(&[5; 32], &base_url).unwrap()),
            base_url: base_url.clone(),
            demo: true,
        };
        let server = serve(listener, app);
        let operator = add_key(&store, Role::Operator);
        Self { base_url, store, operator, database, server }
    }

    /// The folder of this service.
    #[must_use]
    pub fn dir(&self) -> &Path {
        self.database.folder()
    }

    /// Where its database is.
    #[must_use]
    pub fn database_url(&self) -> &str {
        self.database.url()
    }

    /// A key that reads everything.
    #[must_use]
    pub fn inspector_key(&self) -> String {
        add_key(&self.store, Role::Inspector)
    }

    /// Sends a body with the operator's key; gives the status and the answer.
    pub fn put(&self, path: &str, body: &Value) -> (u16, Value) {
        self.send_as(&self.operator, path, body.to_string().as_bytes())
    }

    /// Sends a body and insists that it is taken: 201 the first time, 200 again.
    pub fn put_ok(&self, path: &str, body: &Value) -> Value {
        let (status, answer) = self.put(path, body);
        assert!(matches!(status, 200 | 201), "PUT {path} {body}\n{status} {answer:#}");
        answer
    }

    /// Sends a version of an engine type as the operator and makes it the active one.
    pub fn put_type(&self, name: &str, toml: &str) {
        let url = format!("{}/v1/engine-types/{name}", self.base_url);
        let request = agent().put(&url).header("content-type", "application/toml");
        let mut response =
            request.header("authorization", &bearer(&self.operator)).send(toml).unwrap();
        let status = response.status().as_u16();
        let answer = response.body_mut().read_to_string().unwrap();
        assert!(matches!(status, 200 | 201), "{status} {answer}\n{toml}");
        let version: Value = serde_json::from_str(&answer).unwrap();
        let path = format!("/v1/engine-types/{name}/activations/{}", id(0xac, next()));
        self.put_ok(&path, &json!({ "on": "2000-01-01", "digest": version.get("digest") }));
    }

    /// Sends raw bytes as JSON with a key.
    pub fn send_as(&self, key: &str, path: &str, body: &[u8]) -> (u16, Value) {
        let url = format!("{}{path}", self.base_url);
        let request = agent().put(&url).header("content-type", "application/json");
        let response = request.header("authorization", &bearer(key)).send(body).unwrap();
        answer(response)
    }

    /// Reads an address with the operator's key, and insists that it is there.
    pub fn get(&self, path: &str) -> Value {
        let url = format!("{}{path}", self.base_url);
        let request = agent().get(&url).header("authorization", &bearer(&self.operator));
        let (status, answer) = answer(request.call().unwrap());
        assert_eq!(status, 200, "GET {path}\n{answer:#}");
        answer
    }
}

impl Drop for Service {
    fn drop(&mut self) {
        // The folder goes with the test; the server only has to stop using it.
        drop(self.server.stop(false));
    }
}

fn serve(listener: TcpListener, app: App) -> actix_web::dev::ServerHandle {
    let (sender, receiver) = mpsc::channel();
    thread::spawn(move || {
        actix_web::rt::System::new().block_on(async {
            let app = web::Data::new(app);
            let server =
                HttpServer::new(move || ActixApp::new().app_data(app.clone()).configure(configure))
                    .workers(1)
                    .disable_signals()
                    .listen(listener)
                    .unwrap()
                    .run();
            sender.send(server.handle()).unwrap();
            server.await.unwrap();
        });
    });
    receiver.recv().unwrap()
}

/// Makes a key of this role and gives its text.
#[must_use]
pub fn add_key(store: &Store, role: Role) -> String {
    let (text, hash) = mint_key();
    let key =
        NewKey { hash, role, party: None, label: "a test", created_at: NOW, expires_at: None };
    store.add_key(&key).unwrap();
    text
}

fn bearer(key: &str) -> String {
    format!("Bearer {key}")
}

/// An HTTP client that gives answers of any status as they are.
#[must_use]
pub fn agent() -> ureq::Agent {
    ureq::Agent::config_builder().http_status_as_error(false).build().into()
}

/// The status and the JSON of an answer; `Null` when it holds none.
pub fn answer(mut response: ureq::http::Response<ureq::Body>) -> (u16, Value) {
    let status = response.status().as_u16();
    let text = response.body_mut().read_to_string().unwrap();
    (status, serde_json::from_str(&text).unwrap_or(Value::Null))
}

/// A number that no other call in this process gives.
fn next() -> u32 {
    static COUNT: AtomicU32 = AtomicU32::new(0);
    COUNT.fetch_add(1, Ordering::Relaxed)
}

/// The identifier with this number: any test can name things by counting.
#[must_use]
pub fn id(kind: u8, number: u32) -> String {
    let mut bytes = [0; 16];
    bytes[0] = kind;
    bytes[6] = 0x70;
    bytes[8] = 0x80;
    bytes[12..].copy_from_slice(&number.to_be_bytes());
    Uid::from_bytes(bytes).to_string()
}

/// The program under test: the one that `GUDGEON_BIN` names, or `target/<profile>/gudgeon` beside the tests.
#[must_use]
pub fn program() -> PathBuf {
    if let Some(named) = env::var_os("GUDGEON_BIN") {
        return PathBuf::from(named);
    }
    // A test is `target/<profile>/deps/<name>-<hash>`.
    let this = env::current_exe().unwrap();
    let program =
        this.ancestors().nth(2).unwrap().join(format!("gudgeon{}", env::consts::EXE_SUFFIX));
    assert!(program.is_file(), "no {}: run `cargo build` first", program.display());
    program
}

/// What `gudgeon check` prints about an engine type, in a file that it calls `type.toml`.
#[must_use]
pub fn check(engine_type: &str) -> String {
    let folder = Folder::new();
    let path = folder.path().join("type.toml");
    std::fs::write(&path, engine_type).unwrap();
    let output = Command::new(program()).arg("check").arg(&path).output().unwrap();
    let printed = String::from_utf8(output.stdout).unwrap();
    printed.replace(&path.display().to_string(), "type.toml")
}
