//! The real program at work: a folder with its settings, and children that serve, to be ended as a test
//! likes.

use crate::{Folder, agent, answer, program};
use serde_json::Value;
use std::fs::{self, File};
use std::net::{SocketAddr, TcpListener};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Output, Stdio};
use std::thread;
use std::time::{Duration, Instant};

/// How long anything is waited for before the test has failed.
pub const PATIENCE: Duration = Duration::from_mins(1);
/// How long is waited between two looks.
const PAUSE: Duration = Duration::from_millis(5);

/// Looks until `done` says yes.
///
/// # Panics
/// When it does not in time.
pub fn wait_until(what: &str, mut done: impl FnMut() -> bool) {
    let began = Instant::now();
    while !done() {
        assert!(began.elapsed() < PATIENCE, "waited in vain: {what}");
        thread::sleep(PAUSE);
    }
}

/// A folder with the settings of one replica.
pub struct Site {
    folder: Folder,
    address: SocketAddr,
}

impl Site {
    /// A replica on a free port, with its records in a database that has its tables already, or will.
    #[must_use]
    pub fn new(database_url: &str) -> Self {
        let free = TcpListener::bind(("127.0.0.1", 0)).unwrap();
        let address = free.local_addr().unwrap();
        let site = Self { folder: Folder::new(), address };
        site.use_database(database_url);
        site
    }

    /// Writes the settings anew, for another database.
    pub fn use_database(&self, url: &str) {
        let address = self.address;
        let text = format!(
            "database = \"{url}\"\ndatabase-connections = 4\nlisten = \"{address}\"\nbase-url = \"http://{address}\"\ndemo = true\n"
        );
        fs::write(self.dir().join("gudgeon.toml"), text).unwrap();
    }

    /// Adds a mail server on this machine to the settings, in place of one before, and these lines of `[mail]`.
    pub fn use_mail_server(&self, port: u16, connections: u32, mail: &str) {
        let path = self.dir().join("gudgeon.toml");
        let text = fs::read_to_string(&path).unwrap();
        let text = text.split("[mail]").next().unwrap();
        let smtp = format!(
            "host = \"127.0.0.1\"\nport = {port}\nsecurity = \"none-on-loopback\"\nconnections = {connections}\n"
        );
        fs::write(path, format!("{text}[mail]\n{mail}\n[mail.smtp]\n{smtp}")).unwrap();
    }

    /// The folder.
    #[must_use]
    pub fn dir(&self) -> &Path {
        self.folder.path()
    }

    /// Where it listens once it serves.
    #[must_use]
    pub fn address(&self) -> SocketAddr {
        self.address
    }

    /// A command of the program in this folder.
    #[must_use]
    pub fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(program());
        command.args(arguments).arg("--dir").arg(self.dir());
        command
    }

    /// Runs a command to its end.
    pub fn run(&self, arguments: &[&str]) -> Output {
        self.command(arguments).output().unwrap()
    }

    /// What a command says, which has to succeed.
    pub fn run_ok(&self, arguments: &[&str]) -> String {
        let output = self.run(arguments);
        assert!(output.status.success(), "{arguments:?}: {output:?}");
        String::from_utf8(output.stdout).unwrap()
    }

    /// A new key that manages everything.
    pub fn operator_key(&self) -> String {
        self.run_ok(&["key", "operator", "--label", "a test"]).trim().to_owned()
    }

    /// Starts serving, and waits until it does.
    #[must_use]
    pub fn serve(&self) -> Serving {
        self.serve_by(&mut self.command(&["serve"]))
    }

    /// Starts another command that goes on.
    #[must_use]
    pub fn start(&self, arguments: &[&str]) -> Serving {
        self.start_by(&mut self.command(arguments))
    }

    fn start_by(&self, command: &mut Command) -> Serving {
        let log = File::options().create(true).append(true).open(self.log()).unwrap();
        Serving(command.stdout(Stdio::null()).stderr(log).spawn().unwrap())
    }

    fn log(&self) -> PathBuf {
        self.dir().join("serve.log")
    }

    /// What those that go on have said on standard error.
    #[must_use]
    pub fn said(&self) -> String {
        fs::read_to_string(self.log()).unwrap_or_default()
    }

    /// The same by a command of one's own.
    #[must_use]
    pub fn serve_by(&self, command: &mut Command) -> Serving {
        let mut serving = self.start_by(command);
        let url = format!("http://{}/readyz", self.address);
        wait_until("it serves", || {
            let ended = serving.0.try_wait().unwrap();
            assert!(ended.is_none(), "{ended:?}: {}", self.said());
            agent().get(&url).call().is_ok_and(|response| response.status().is_success())
        });
        serving
    }

    /// A client of this replica.
    #[must_use]
    pub fn client(&self, key: &str) -> Client {
        Client::new(&format!("http://{}", self.address), key)
    }
}

/// `gudgeon serve`, or another command that goes on, which ends with this.
pub struct Serving(Child);

impl Serving {
    /// Its process.
    #[must_use]
    pub fn process(&self) -> u32 {
        self.0.id()
    }

    /// Ends it at once, as `kill -9` does.
    pub fn kill(mut self) {
        self.0.kill().unwrap();
        self.0.wait().unwrap();
    }

    /// Asks it to stop, as `kill` does.
    pub fn ask_to_stop(&self) {
        // Every shell can do it; not every machine has a program for it.
        let process = self.process().to_string();
        let sent = Command::new("sh").args(["-c", "kill \"$0\"", &process]).status().unwrap();
        assert!(sent.success());
    }

    /// Waits for its end.
    #[must_use]
    pub fn ended(mut self) -> ExitStatus {
        let mut ended = None;
        wait_until("it ends", || {
            ended = self.0.try_wait().unwrap();
            ended.is_some()
        });
        ended.unwrap()
    }
}

impl Drop for Serving {
    fn drop(&mut self) {
        // A child that has ended already needs no ending.
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// Somebody who posts and reads with one key.
pub struct Client {
    base_url: String,
    bearer: String,
    agent: ureq::Agent,
}

/// What came back.
#[derive(Clone, Debug)]
pub struct Reply {
    /// The HTTP status.
    pub status: u16,
    /// The seconds of `Retry-After`.
    pub retry_after: Option<u32>,
    /// The JSON.
    pub body: Value,
}

impl Client {
    /// A client of the service at an address.
    #[must_use]
    pub fn new(base_url: &str, key: &str) -> Self {
        let bearer = format!("Bearer {key}");
        Self { base_url: base_url.to_owned(), bearer, agent: agent() }
    }

    /// Sends a body; `None` when the line broke before an answer.
    pub fn put(&self, path: &str, body: &Value) -> Option<Reply> {
        self.put_as("application/json", path, &body.to_string())
    }

    /// Sends a body of a media type; `None` when the line broke before an answer.
    pub fn put_as(&self, media_type: &str, path: &str, body: &str) -> Option<Reply> {
        let request = self.agent.put(format!("{}{path}", self.base_url));
        let request = request.header("content-type", media_type);
        reply(request.header("authorization", &self.bearer).send(body))
    }

    /// Reads an address; `None` when the line broke before an answer.
    pub fn get(&self, path: &str) -> Option<Reply> {
        let request = self.agent.get(format!("{}{path}", self.base_url));
        reply(request.header("authorization", &self.bearer).call())
    }
}

fn reply(answered: Result<ureq::http::Response<ureq::Body>, ureq::Error>) -> Option<Reply> {
    let response = answered.ok()?;
    let retry_after = response.headers().get("retry-after");
    let retry_after = retry_after.and_then(|seconds| seconds.to_str().ok()?.parse().ok());
    let (status, body) = answer(response);
    Some(Reply { status, retry_after, body })
}
