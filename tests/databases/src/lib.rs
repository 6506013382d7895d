//! Databases for tests, empty or already migrated, which are gone when the test is.
//!
//! The tests of a program run on `SQLite`, and once more on `PostgreSQL` when one of them says
//! [`repeat_on_postgres`]: that starts the same program again with [`VARIABLE`] set, and [`Database::fresh`]
//! then gives databases of a server that the program starts for itself.

#![expect(clippy::expect_used, reason = "a test that cannot go on has failed")]
#![expect(clippy::missing_panics_doc, reason = "a test that cannot go on has failed")]

mod server;

pub use server::Server;

use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;
use std::sync::atomic::{AtomicU32, Ordering};
use std::{env, fs};

/// The variable that says which databases a program of tests runs on: `postgres`, or not set for `SQLite`.
pub const VARIABLE: &str = "GUDGEON_TEST_DATABASE";

/// A kind of database.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// A file of its own.
    Sqlite,
    /// A database of its own, in a server that all tests of the program share.
    Postgres,
}

impl Kind {
    /// What the tests of this program run on.
    #[must_use]
    pub fn of_this_run() -> Self {
        match env::var(VARIABLE) {
            Ok(word) if word == "postgres" => Self::Postgres,
            Ok(word) => {
                panic!("{VARIABLE}={word}: set it to `postgres`, or leave it out for SQLite")
            }
            Err(_) => Self::Sqlite,
        }
    }
}

/// A database of one test, gone when this is.
#[derive(Debug)]
pub struct Database {
    kind: Kind,
    url: String,
    folder: Folder,
}

impl Database {
    /// A database of the kind that this program runs on, made ready by `migrate`, which is given its URL and
    /// has to be the same for all of a program.
    pub fn fresh(migrate: impl FnOnce(&str)) -> Self {
        match Kind::of_this_run() {
            Kind::Sqlite => Self::sqlite(migrate),
            Kind::Postgres => Self::postgres(migrate),
        }
    }

    /// A file of `SQLite`, made ready by `migrate`.
    pub fn sqlite(migrate: impl FnOnce(&str)) -> Self {
        let folder = Folder::new();
        let url = format!("sqlite:{}", folder.path().join("fleet.db").display());
        migrate(&url);
        Self { kind: Kind::Sqlite, url, folder }
    }

    /// A database of the program's own server: a copy of one that `migrate` was run on once.
    pub fn postgres(migrate: impl FnOnce(&str)) -> Self {
        const MIGRATED: &str = "migrated";
        static READY: OnceLock<()> = OnceLock::new();
        let server = Server::of_this_program();
        READY.get_or_init(|| migrate(&server.create(MIGRATED, None)));
        let url = server.create(&format!("test_{}", next_number()), Some(MIGRATED));
        Self { kind: Kind::Postgres, url, folder: Folder::new() }
    }

    /// The only database of a server, made ready by `migrate`.
    pub fn of_server(server: &Server, migrate: impl FnOnce(&str)) -> Self {
        let url = server.create("fleet", None);
        migrate(&url);
        Self { kind: Kind::Postgres, url, folder: Folder::new() }
    }

    /// Runs statements on it as somebody else than the program would.
    pub fn execute(&self, statements: &str) {
        let mut command = match self.kind {
            Kind::Sqlite => {
                let script =
                    "import sqlite3, sys; sqlite3.connect(sys.argv[1]).executescript(sys.argv[2])";
                let mut python = Command::new("python3");
                python.args(["-c", script]).arg(self.folder().join("fleet.db"));
                python
            }
            Kind::Postgres => {
                let mut psql = Command::new(server::programs().join("psql"));
                psql.args(["--quiet", "--set=ON_ERROR_STOP=1", &self.url, "--command"]);
                psql
            }
        };
        let output = command.arg(statements).output().expect("it is installed");
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    }

    /// Its kind.
    #[must_use]
    pub fn kind(&self) -> Kind {
        self.kind
    }

    /// Where it is.
    #[must_use]
    pub fn url(&self) -> &str {
        &self.url
    }

    /// A folder of the test's own, with the file in it if there is one.
    #[must_use]
    pub fn folder(&self) -> &Path {
        self.folder.path()
    }
}

/// Runs all tests of this program once more, on `PostgreSQL`, and fails with what they print if one of them
/// does. Does nothing in that second run.
pub fn repeat_on_postgres() {
    if env::var_os(VARIABLE).is_some() {
        return;
    }
    let this = env::current_exe().expect("a program knows where it is");
    let output = Command::new(this).env(VARIABLE, "postgres").output().expect("it runs again");
    let printed = String::from_utf8_lossy(&output.stdout);
    assert!(
        output.status.success(),
        "on PostgreSQL:\n{printed}\n{}",
        String::from_utf8_lossy(&output.stderr)
    );
}

/// A folder of one test under the system's temporary one, gone when this is.
#[derive(Debug)]
pub struct Folder(PathBuf);

impl Folder {
    /// A new, empty folder.
    #[must_use]
    pub fn new() -> Self {
        let name = format!("gudgeon-test-{}-{}", std::process::id(), next_number());
        let path = env::temp_dir().join(name);
        fs::create_dir_all(&path).expect("a temporary folder can be made");
        Self(path)
    }

    /// Where it is.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.0
    }
}

impl Default for Folder {
    fn default() -> Self {
        Self::new()
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        // A folder left behind in the system's temporary folder harms nobody.
        let _ = fs::remove_dir_all(&self.0);
    }
}

/// A number that no other database or folder of this program has.
fn next_number() -> u32 {
    static COUNT: AtomicU32 = AtomicU32::new(0);
    COUNT.fetch_add(1, Ordering::Relaxed)
}
