//! Nothing personal in the log: the real program writes names and addresses to the database and to mails, and
//! to no line that it logs or prints meanwhile.

#![cfg(test)]

use chrono::NaiveDate;
use gudgeon_life::ids::{PartyId, Uid};
use gudgeon_life::preference::ReportKind;
use gudgeon_store::{Links, Recipient};
use gudgeon_tests::{Folder, agent, answer, program};
use serde_json::{Value, json};
use std::fs::{self, File};
use std::net::TcpListener;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::thread;
use std::time::Duration;

/// Words that stand in no source, setting or id.
const PERSONAL: [&str; 6] =
    ["Ermintrude", "Quillfeather", "quillfeather.example", "coughs", "Grimbleby", "LIC-4711"];
const OWNER: &str = "/v1/owners/0193a000-0000-7000-8000-000000000001";
const ENGINE: &str = "0193a000-0000-7000-8000-0000000000e1";

/// Runs a command of the program, which has to succeed, and gives what it printed and what it logged.
fn gudgeon(dir: &Path, arguments: &[&str]) -> (String, String) {
    let output = Command::new(program()).args(arguments).arg("--dir").arg(dir).output().unwrap();
    assert!(output.status.success(), "{arguments:?}: {output:?}");
    let text = |bytes| String::from_utf8(bytes).unwrap();
    (text(output.stdout), text(output.stderr))
}

/// `gudgeon serve` with its log in a file, ended with this.
struct Serving(Child);

impl Serving {
    fn start(dir: &Path, base_url: &str) -> Self {
        let log = File::create(dir.join("serve.log")).unwrap();
        let mut command = Command::new(program());
        command.args(["serve", "--dir"]).arg(dir).stdout(Stdio::null()).stderr(log);
        let serving = Self(command.spawn().unwrap());
        assert!((0..200).any(|_| {
            thread::sleep(Duration::from_millis(50));
            let asked = agent().get(&format!("{base_url}/readyz")).call();
            asked.is_ok_and(|response| response.status().is_success())
        }));
        serving
    }
}

impl Drop for Serving {
    fn drop(&mut self) {
        // By its process id; a child that has ended already needs no ending.
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// Posts with names, addresses, notes and licences: right, wrong, again, with other content, unreadable.
fn tell(base_url: &str, key: &str) -> Vec<u16> {
    let put = |path: &str, body: &str| {
        let request = agent().put(&format!("{base_url}{path}")).header("authorization", key);
        let request = request.header("content-type", "application/json");
        answer(request.send(body.as_bytes()).unwrap()).0
    };
    let owner = json!({ "name": "Ermintrude Quillfeather", "email": "e@quillfeather.example" });
    let other = json!({ "name": "Ermintrude Grimbleby" });
    let wrong = json!({ "name": "Ermintrude", "email": "Quillfeather", "Grimbleby": 1 });
    let engine = json!({
        "on": "2020-01-01", "engine_type": "none", "serial": "7", "basis": "engine-run", "tsn": 0,
    });
    let inspection = json!({
        "engine": ENGINE, "shop": "0193a000-0000-7000-8000-00000000000a", "opened_on": "2020-03-01",
        "released_on": "2020-03-02", "note": "the owner coughs",
        "release": { "by": "A. Grimbleby", "licence": "LIC-4711" },
    });
    let ownership = json!({ "on": "2020-01-01", "owner": &OWNER[11..] });
    let erasure = json!({ "on": "2020-01-01", "reason": "Ermintrude asked" });
    let posts: [(&str, String); 9] = [
        (OWNER, owner.to_string()),
        (OWNER, owner.to_string()),
        (OWNER, other.to_string()),
        ("/v1/owners/0193a000-0000-7000-8000-000000000002", wrong.to_string()),
        (OWNER, "{\"name\": \"Ermintrude Quillfeather\", ".to_owned()),
        (&format!("/v1/engines/{ENGINE}"), engine.to_string()),
        ("/v1/inspections/0193a000-0000-7000-8000-000000000103", inspection.to_string()),
        (
            &format!("/v1/engines/{ENGINE}/ownerships/0193a000-0000-7000-8000-000000000104"),
            ownership.to_string(),
        ),
        (
            "/v1/owners/Ermintrude/erasures/0193a000-0000-7000-8000-000000000105",
            erasure.to_string(),
        ),
    ];
    posts.iter().map(|(path, body)| put(path, body)).collect()
}

/// Goes to the pages behind the owner's links as a browser does, and reports something; gives the links.
fn follow(dir: &Path, base_url: &str) -> Vec<String> {
    let key = fs::read(dir.join("links.secret")).unwrap();
    let party = PartyId(Uid::parse(&OWNER[11..]).unwrap());
    let to = Recipient { kind: ReportKind::Owner, party, generation: 0 };
    let links = Links::new(&key, base_url).unwrap().for_mail(to, NaiveDate::MAX);
    for url in [&links.stop, &links.preferences, &links.reading, &links.calendar] {
        assert_eq!(agent().get(url).call().unwrap().status(), 200, "{url}");
    }
    let form = [
        ("what", "event"),
        ("engine", ENGINE),
        ("kind", "overheat"),
        ("on", "2020-06-01"),
        ("note", "it coughs"),
    ];
    assert_eq!(agent().post(&links.reading).send_form(form).unwrap().status(), 200);
    let urls = [links.stop, links.preferences, links.reading, links.calendar];
    urls.map(|url| url.rsplit('/').next().unwrap().replace(".ics", "")).into()
}

fn left(text: &str) -> Vec<&'static str> {
    PERSONAL.into_iter().filter(|word| text.contains(word)).collect()
}

#[test]
fn no_name_address_or_note_is_logged() {
    let folder = Folder::new();
    let dir = folder.path();
    let free = TcpListener::bind(("127.0.0.1", 0)).unwrap();
    let address = free.local_addr().unwrap();
    drop(free);
    let base_url = format!("http://{address}");
    let settings = format!(
        "listen = \"{address}\"\nbase-url = \"{base_url}\"\n[links]\nsecret-file = \"links.secret\"\n"
    );
    fs::write(dir.join("links.secret"), [42; 32]).unwrap();
    fs::write(dir.join("gudgeon.toml"), settings).unwrap();
    gudgeon(dir, &["migrate"]);
    let key = gudgeon(dir, &["key", "operator", "--label", "test"]).0;
    let key = format!("Bearer {}", key.trim());

    let serving = Serving::start(dir, &base_url);
    assert_eq!(tell(&base_url, &key), [201, 200, 409, 422, 400, 201, 201, 201, 400]);
    let followed = follow(dir, &base_url);
    let (week, week_log) = gudgeon(dir, &["week", "2026-W48", "--now"]);
    let (mails, mails_log) = gudgeon(dir, &["deliver"]);
    let (export, export_log) = gudgeon(dir, &["owner-export", &OWNER[11..]]);
    drop(serving);

    let log = fs::read_to_string(dir.join("serve.log")).unwrap();
    assert!(log.matches("answered").count() >= 9, "{log}");
    for (text, what) in [
        (&log, "serve"),
        (&week, "week"),
        (&week_log, "week's log"),
        (&mails, "deliver"),
        (&mails_log, "deliver's log"),
        (&export_log, "owner-export's log"),
    ] {
        assert_eq!(left(text), Vec::<&str>::new(), "{what}: {text}");
        // A link is as good as a key.
        assert!(!followed.iter().any(|link| text.contains(link)), "{what}: {text}");
    }
    // What is asked for is told: the words were there to be logged.
    assert_eq!(left(&export), PERSONAL);
    let export: Value = serde_json::from_str(&export).unwrap();
    assert_eq!(export.get("mails").and_then(Value::as_array).map(Vec::len), Some(1));
}
