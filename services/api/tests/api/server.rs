//! A server on a free port with a fresh database, and a client that sees the bytes as they are.

use actix_web::{App as Actix, HttpServer, web};
use gudgeon_api::auth::mint_key;
use gudgeon_api::{App, Cache, configure};
use gudgeon_databases::Database;
use gudgeon_life::fact::{Stream, StreamKind};
use gudgeon_life::ids::{PartyId, Uid};
use gudgeon_store::{Instant, Links, NewKey, Role, Store};
use serde_json::Value;
use std::io::{Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::sync::Arc;
use std::sync::mpsc;
use std::time::Duration;

/// 2026-11-25 12:00 UTC, a Wednesday.
const NOON: Instant = Instant(1_795_608_000_000_000);

/// The invented engine type of the demonstration.
pub(crate) const ENGINE_TYPE: &str =
    include_str!("../../../../config/engine-types/oarlock-twin.toml");

/// Two workshops of the tests.
pub(crate) const SHOP_A: &str = "0193a000-0000-7000-8000-00000000000a";
pub(crate) const SHOP_B: &str = "0193a000-0000-7000-8000-00000000000b";

/// A running server with one key per role.
pub(crate) struct Server {
    pub(crate) store: Store,
    pub(crate) operator: String,
    pub(crate) inspector: String,
    pub(crate) shop_a: String,
    pub(crate) shop_b: String,
    address: SocketAddr,
    handle: actix_web::dev::ServerHandle,
    _database: Database,
}

/// An answer as it came.
#[derive(Debug)]
pub(crate) struct Answer {
    pub(crate) status: u16,
    pub(crate) headers: Vec<(String, String)>,
    pub(crate) text: String,
}

impl Answer {
    pub(crate) fn header(&self, name: &str) -> Option<&str> {
        self.headers.iter().find(|(known, _)| known == name).map(|(_, value)| value.as_str())
    }

    pub(crate) fn json(&self) -> Value {
        serde_json::from_str(&self.text).unwrap_or_else(|_| panic!("no JSON: {self:?}"))
    }

    /// Pointer and code of every error of a problem document, after checking its form.
    pub(crate) fn errors(&self) -> Vec<(String, String)> {
        assert_eq!(self.header("content-type"), Some("application/problem+json"), "{self:?}");
        let body = self.json();
        assert_eq!(body["status"], self.status);
        assert!(body["type"].as_str().is_some_and(|it| it.starts_with("/problems/")), "{body}");
        assert_eq!(body["instance"].as_str(), self.header("x-request-id"));
        let errors = body["errors"].as_array().cloned().unwrap_or_default();
        let text = |value: &Value| value.as_str().unwrap_or_default().to_owned();
        errors.iter().map(|it| (text(&it["pointer"]), text(&it["code"]))).collect()
    }
}

impl Server {
    pub(crate) fn start() -> Self {
        Self::start_on(Database::fresh(migrate))
    }

    /// Starts on a database that is migrated already.
    pub(crate) fn start_on(database: Database) -> Self {
        let store = Store::open(database.url(), false).expect("opens");
        let app = App {
            store: store.clone(),
            programmes: Arc::new(Cache::default()),
            clock: || NOON,
            base_url: "http://localhost".to_owned(),
            links: Some(links()),
            demo: true,
        };
        let (tell, told) = mpsc::channel();
        std::thread::spawn(move || {
            actix_web::rt::System::new().block_on(async move {
                let data = web::Data::new(app);
                let server = HttpServer::new(move || {
                    Actix::new().app_data(data.clone()).configure(configure)
                })
                .workers(1)
                .disable_signals()
                .bind("127.0.0.1:0")
                .expect("binds");
                let address = server.addrs()[0];
                let running = server.run();
                tell.send((address, running.handle())).expect("the test waits");
                running.await.expect("runs");
            });
        });
        let (address, handle) = told.recv().expect("the server starts");
        let key = |role, party| key(&store, role, party);
        Self {
            operator: key(Role::Operator, None),
            inspector: key(Role::Inspector, None),
            shop_a: key(Role::Shop, Some(SHOP_A)),
            shop_b: key(Role::Shop, Some(SHOP_B)),
            store,
            address,
            handle,
            _database: database,
        }
    }

    /// Sends a request with a JSON body, or none, and a key, or none.
    pub(crate) fn send(&self, method: &str, path: &str, key: &str, body: &str) -> Answer {
        self.raw(method, path, &[("content-type", "application/json")], key, body.as_bytes())
    }

    pub(crate) fn get(&self, path: &str, key: &str) -> Answer {
        self.get_as("GET", path, key)
    }

    /// A request without a body, by any method.
    pub(crate) fn get_as(&self, method: &str, path: &str, key: &str) -> Answer {
        self.raw(method, path, &[], key, b"")
    }

    /// A page as the inspector sees it after signing in.
    pub(crate) fn page(&self, path: &str) -> String {
        self.page_as(path, &self.inspector).text
    }

    /// A page as whoever holds a key gets it after signing in.
    pub(crate) fn page_as(&self, path: &str, key: &str) -> Answer {
        let form = ("content-type", "application/x-www-form-urlencoded");
        let key = format!("key={key}");
        let door = self.raw("POST", "/sign-in", &[form], "", key.as_bytes());
        let set = door.header("set-cookie").and_then(|it| it.split(';').next());
        self.raw("GET", path, &[("cookie", set.expect("a cookie"))], "", b"")
    }

    pub(crate) fn raw(
        &self,
        method: &str,
        path: &str,
        headers: &[(&str, &str)],
        key: &str,
        body: &[u8],
    ) -> Answer {
        let mut head = format!(
            "{method} {path} HTTP/1.1\r\nhost: localhost\r\nconnection: close\r\ncontent-length: {}\r\n",
            body.len()
        );
        let bearer = format!("Bearer {key}");
        let key = (!key.is_empty()).then_some(("authorization", bearer.as_str()));
        for (name, value) in key.iter().chain(headers) {
            head = format!("{head}{name}: {value}\r\n");
        }
        head.push_str("\r\n");
        let mut stream = TcpStream::connect(self.address).expect("connects");
        stream.set_read_timeout(Some(Duration::from_secs(30))).expect("sets a timeout");
        let mut reading = stream.try_clone().expect("clones");
        // The answer may come before the whole body is sent, and then the rest cannot be sent.
        let reader = std::thread::spawn(move || {
            let mut bytes = Vec::new();
            let mut chunk = [0; 8192];
            while let Ok(count @ 1..) = reading.read(&mut chunk) {
                bytes.extend_from_slice(&chunk[..count]);
            }
            bytes
        });
        let _ = stream.write_all(head.as_bytes()).and_then(|()| stream.write_all(body));
        parse(&reader.join().expect("reads"))
    }

    /// Sends a version of an engine type as the operator and makes it the active one.
    pub(crate) fn activate(&self, name: &str, file: &str) {
        let path = format!("/v1/engine-types/{name}");
        let toml = [("content-type", "application/toml")];
        let added = self.raw("PUT", &path, &toml, &self.operator, file.as_bytes());
        assert_eq!(added.status, 201, "{added:?}");
        let body = serde_json::json!({ "on": "2020-01-01", "digest": added.json()["digest"] });
        let path = format!("{path}/activations/0193a000-0000-7000-8000-0000000000d1");
        let activated = self.send("PUT", &path, &self.operator, &body.to_string());
        assert_eq!(activated.status, 201, "{activated:?}");
    }

    /// How many facts are stored in the streams of these ids, of whatever kind.
    pub(crate) fn facts(&self, ids: &[&str]) -> usize {
        let kinds =
            [StreamKind::Party, StreamKind::Aircraft, StreamKind::Engine, StreamKind::Component];
        let streams = ids.iter().flat_map(|id| kinds.map(|kind| Stream { kind, id: uid(id) }));
        streams.map(|stream| self.store.facts_of(stream).expect("reads").len()).sum()
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        // The database goes even if the server's thread has not ended yet.
        drop(self.handle.stop(false));
    }
}

/// What seals and reads the links of the tests.
pub(crate) fn links() -> Links {
    Links::new(&[9; 32], "http://localhost").expect("long enough")
}

/// Makes the tables of a database.
pub(crate) fn migrate(url: &str) {
    let store = Store::open(url, true).expect("opens");
    store.migrate().expect("migrates");
}

pub(crate) fn uid(text: &str) -> Uid {
    Uid::parse(text).expect("the test's ids are UUIDs")
}

pub(crate) fn key(store: &Store, role: Role, party: Option<&str>) -> String {
    let (text, hash) = mint_key();
    let party = party.map(|party| PartyId(uid(party)));
    let key = NewKey { hash, role, party, label: "test", created_at: NOON, expires_at: None };
    store.add_key(&key).expect("adds");
    text
}

fn parse(bytes: &[u8]) -> Answer {
    let text = String::from_utf8(bytes.to_vec()).expect("answers are UTF-8");
    let (head, body) = text.split_once("\r\n\r\n").unwrap_or_else(|| panic!("no head: {text}"));
    let mut lines = head.lines();
    let status = lines.next().and_then(|line| line.split(' ').nth(1)).expect("a status");
    let headers = lines.filter_map(|line| line.split_once(": "));
    Answer {
        status: status.parse().expect("a number"),
        headers: headers
            .map(|(name, value)| (name.to_ascii_lowercase(), value.to_owned()))
            .collect(),
        text: body.to_owned(),
    }
}
