//! A `PostgreSQL` server of a program of tests, on a socket and a loopback port of its own.
//!
//! A shell keeps it, and ends it when this program has ended, however that came about: statics are never
//! dropped, and a killed program drops nothing at all.

use crate::Folder;
use std::fs;
use std::io::{BufRead as _, BufReader, Write as _};
use std::net::TcpListener;
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};
use std::sync::{Mutex, OnceLock, PoisonError};

const KEEPER: &str = include_str!("keeper.sh");

/// Settings: nothing of a test has to outlive the machine.
const FAST: &[&str] = &[
    "fsync=off",
    "full_page_writes=off",
    "wal_level=minimal",
    "max_wal_senders=0",
    "autovacuum=off",
    "max_connections=200",
];

/// Settings and doors: only TLS is spoken on addresses.
const TLS: &[&str] = &["ssl=on", "ssl_cert_file=../server.crt", "ssl_key_file=../server.key"];
const TLS_ONLY: &str = "local all all trust\nhostssl all all 127.0.0.1/32 trust\n";

/// A running server, ended when this is dropped or the program ends.
#[derive(Debug)]
pub struct Server {
    folder: Folder,
    port: u16,
    keeper: Child,
    /// Where the keeper is told what to do, and says when it is done.
    talk: Mutex<(ChildStdin, BufReader<ChildStdout>)>,
}

impl Server {
    /// Starts a server.
    #[must_use]
    pub fn start() -> Self {
        Self::start_in(Folder::new(), FAST)
    }

    /// Starts a server that keeps what it commits even when the machine fails, as servers do by themselves.
    #[must_use]
    pub fn start_durable() -> Self {
        Self::start_in(Folder::new(), &["max_connections=200"])
    }

    /// Starts a server that speaks only TLS on its address; an authority made for it has signed for it.
    #[must_use]
    pub fn start_with_tls() -> Self {
        let folder = Folder::new();
        make_certificates(folder.path());
        fs::write(folder.path().join("hba.conf"), TLS_ONLY).expect("a file can be written");
        Self::start_in(folder, &[FAST, TLS].concat())
    }

    /// The server that all tests of this program share.
    pub fn of_this_program() -> &'static Self {
        static SERVER: OnceLock<Server> = OnceLock::new();
        SERVER.get_or_init(Self::start)
    }

    fn start_in(folder: Folder, settings: &[&str]) -> Self {
        let free = TcpListener::bind(("127.0.0.1", 0)).expect("a port is free");
        let port = free.local_addr().expect("it has an address").port();
        drop(free);
        let mut keeper = Command::new("sh")
            .args(["-c", KEEPER, "keeper"])
            .arg(programs())
            .arg(folder.path())
            .arg(port.to_string())
            .args(settings.iter().flat_map(|setting| ["-c", setting]))
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("a shell starts");
        let stdin = keeper.stdin.take().expect("its input is ours");
        let stdout = keeper.stdout.take().expect("its output is ours");
        let server =
            Self { folder, port, keeper, talk: Mutex::new((stdin, BufReader::new(stdout))) };
        server.start_again();
        server
    }

    /// Stops the server; its databases stay.
    pub fn stop(&self) {
        self.tell("stop");
    }

    /// Starts it again after [`Server::stop`].
    pub fn start_again(&self) {
        self.tell("start");
    }

    fn tell(&self, word: &str) {
        let mut talk = self.talk.lock().unwrap_or_else(PoisonError::into_inner);
        let (stdin, stdout) = &mut *talk;
        let mut done = String::new();
        let answered = writeln!(stdin, "{word}").and_then(|()| stdout.read_line(&mut done));
        assert!(answered.is_ok() && done.trim() == word, "PostgreSQL: no `{word}`\n{}", self.log());
    }

    /// What the server and its making said.
    fn log(&self) -> String {
        let read = |name| fs::read_to_string(self.folder.path().join(name)).unwrap_or_default();
        format!("{}\n{}", read("initdb.log"), read("server.log"))
    }

    /// Makes a database, a copy of `template` if one is named, and gives its URL.
    #[must_use]
    pub fn create(&self, name: &str, template: Option<&str>) -> String {
        let mut command = Command::new(programs().join("createdb"));
        command.arg("-h").arg(self.folder.path()).args(["-p", &self.port.to_string()]);
        command.args(["-U", "gudgeon"]).args(template.map(|name| format!("--template={name}")));
        let output = command.arg(name).output().expect("PostgreSQL is installed");
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        let (folder, port) = (self.folder.path().display(), self.port);
        format!("postgres:///{name}?host={folder}&port={port}&user=gudgeon")
    }

    /// The URL of a database by the server's loopback address.
    #[must_use]
    pub fn address_url(&self, name: &str) -> String {
        format!("postgres://gudgeon@127.0.0.1:{}/{name}", self.port)
    }

    /// The folder of the server.
    #[must_use]
    pub fn folder(&self) -> &Path {
        self.folder.path()
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        let talk = self.talk.get_mut().unwrap_or_else(PoisonError::into_inner);
        // A keeper that is gone already has nothing left to end.
        let _ = writeln!(talk.0, "end");
        let _ = self.keeper.wait();
    }
}

/// Where the programs of the newest `PostgreSQL` here are.
pub(crate) fn programs() -> &'static Path {
    static FOUND: OnceLock<PathBuf> = OnceLock::new();
    FOUND.get_or_init(|| {
        // Debian keeps each version apart, and its client library alone already brings `pg_config`.
        let versions = fs::read_dir("/usr/lib/postgresql").into_iter().flatten().flatten();
        let newest = versions.filter_map(|it| it.file_name().to_str()?.parse::<u32>().ok()).max();
        if let Some(version) = newest {
            return PathBuf::from(format!("/usr/lib/postgresql/{version}/bin"));
        }
        let output = Command::new("pg_config").arg("--bindir").output();
        let printed = output.expect("PostgreSQL is installed").stdout;
        PathBuf::from(String::from_utf8_lossy(&printed).trim())
    })
}

/// An authority that is known to nobody (`ca.crt`), and a server's certificate of it for 127.0.0.1.
fn make_certificates(folder: &Path) {
    let openssl = |arguments: &str| {
        let output = Command::new("openssl")
            .args(arguments.split(' '))
            .current_dir(folder)
            .output()
            .expect("openssl is installed");
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    };
    let key = "-newkey ec -pkeyopt ec_paramgen_curve:prime256v1 -nodes -days 2";
    openssl(&format!("req -x509 {key} -keyout ca.key -out ca.crt -subj /CN=invented-authority"));
    openssl(&format!(
        "req -x509 {key} -keyout server.key -out server.crt -subj /CN=invented-server -CA ca.crt -CAkey ca.key -addext subjectAltName=IP:127.0.0.1"
    ));
}
