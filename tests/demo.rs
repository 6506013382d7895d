//! The demonstration from an empty folder, through the real program, against `config/demo/expected.tsv`.
//!
//! What is expected was worked out by `config/demo/tell.py`, which shares no code with the service. Told on
//! another day than the file is for, the story is moved on; `tell.py` then works that day out afresh.
//! Kinds of lines left out of it: none. A line more or less than it names is a fault.

#![cfg(test)]

use gudgeon_life::week::ReportWeek;
use gudgeon_tests::{Folder, agent, answer, id, program};
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::env;
use std::fs::{self, File};
use std::io::Write;
use std::net::TcpListener;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::thread;
use std::time::Duration;

/// The most engines on a page of a listing that the API gives.
const PAGE: usize = 20;

/// The program, run in a folder until it ends.
fn gudgeon(dir: &Path, arguments: &[&str]) -> Output {
    Command::new(program()).args(arguments).arg("--dir").arg(dir).output().unwrap()
}

/// The same, when it has to succeed: what it printed.
fn gudgeon_ok(dir: &Path, arguments: &[&str]) -> String {
    printed(&format!("gudgeon {arguments:?}"), &gudgeon(dir, arguments))
}

/// What a program printed that has to succeed.
fn printed(what: &str, output: &Output) -> String {
    let (out, err) = (&output.stdout, &output.stderr);
    let (out, err) = (String::from_utf8_lossy(out), String::from_utf8_lossy(err));
    assert!(output.status.success(), "{what}: {}\n{out}\n{err}", output.status);
    out.into_owned()
}

/// A Python script of ours, by its path in the tree.
fn script(path: &str) -> Command {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap();
    let mut command = Command::new("python3");
    command.arg("-B").arg(root.join(path));
    command
}

fn committed(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().join("config/demo").join(name)
}

/// Every file below a folder with its content.
fn content(dir: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let entries = fs::read_dir(dir).unwrap().map(|entry| entry.unwrap().path());
    entries.map(|path| (path.clone(), fs::read(path).unwrap())).collect()
}

/// Copies what is in a folder into another one, which may be there already.
fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap().map(|entry| entry.unwrap()) {
        let to = to.join(entry.file_name());
        if entry.file_type().unwrap().is_dir() {
            copy(&entry.path(), &to);
        } else {
            fs::copy(entry.path(), to).unwrap();
        }
    }
}

/// A folder in which the demonstration was made, and what it said about the week.
struct Demo {
    dir: Folder,
    week: ReportWeek,
    as_of: String,
    /// What `tell.py` expects on that day.
    expected: PathBuf,
    /// Holds `expected`.
    _told: Folder,
}

impl Demo {
    /// A copy of the demonstration that `DEMONSTRATION` names, with what it printed in a file beside it; else one
    /// made anew, which takes longer than all the rest.
    fn make() -> Self {
        let dir = Folder::new();
        let said = match env::var_os("DEMONSTRATION").map(PathBuf::from) {
            Some(made) => {
                copy(&made, dir.path());
                fs::read_to_string(made.with_extension("txt")).unwrap()
            }
            None => gudgeon_ok(dir.path(), &["demo", "--no-serve"]),
        };
        let line = said.lines().find(|line| line.starts_with("Week ")).unwrap();
        let words: Vec<&str> = line.split([' ', ',', ':']).collect();
        let (week, as_of) = (ReportWeek::parse(words[1]).unwrap(), words[5].to_owned());
        let told = Folder::new();
        let mut tell = script("config/demo/tell.py");
        tell.arg(told.path()).args(["--as-of", &as_of]);
        printed("tell.py", &tell.output().unwrap());
        let expected = told.path().join("expected.tsv");
        Self { dir, week, as_of, expected, _told: told }
    }

    fn mails(&self) -> BTreeMap<PathBuf, Vec<u8>> {
        content(&self.dir.path().join("mail"))
    }

    fn key(&self, name: &str) -> String {
        let keys = fs::read_to_string(self.dir.path().join("keys.txt")).unwrap();
        let mut pairs = keys.lines().filter_map(|line| line.split_once(' '));
        pairs.find(|(of, _)| *of == name).unwrap().1.to_owned()
    }

    /// The rows of `expected`, each by the names of its columns.
    fn rows(&self) -> Vec<BTreeMap<String, String>> {
        let text = fs::read_to_string(&self.expected).unwrap();
        let mut lines = text.lines().skip(1).map(|line| line.split('\t').map(str::to_owned));
        let names: Vec<String> = lines.next().unwrap().collect();
        lines.map(|fields| names.iter().cloned().zip(fields).collect()).collect()
    }
}

/// What the mails of a week say, checked as a mail program sees them, and by `expected` if given.
fn read_mails(dir: &Path, week: ReportWeek, expected: Option<&Path>) -> Vec<Value> {
    let mut command = script("tests/check_mails.py");
    command.arg(dir.join("mail")).arg(week.to_string()).args(expected);
    let said = printed("check_mails.py", &command.output().unwrap());
    said.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

/// `gudgeon serve` as a child of its own; it ends with this.
struct Serving {
    child: Child,
    base_url: String,
}

impl Serving {
    /// Serves a folder on a free port, which its settings are changed to.
    fn start(dir: &Path) -> Self {
        let free = TcpListener::bind(("127.0.0.1", 0)).unwrap();
        let address = free.local_addr().unwrap();
        let base_url = format!("http://{address}");
        let settings = dir.join("gudgeon.toml");
        let text = fs::read_to_string(&settings).unwrap();
        let lines = text.lines().map(|line| match line.split(' ').next() {
            Some("listen") => format!("listen = \"{address}\""),
            Some("base-url") => format!("base-url = \"{base_url}\""),
            _ => line.to_owned(),
        });
        fs::write(&settings, lines.collect::<Vec<_>>().join("\n")).unwrap();
        drop(free);
        let mut command = Command::new(program());
        let log = dir.join("serve.log");
        command.arg("serve").arg("--dir").arg(dir);
        command.stdout(Stdio::null()).stderr(File::create(&log).unwrap());
        let serving = Self { child: command.spawn().unwrap(), base_url };
        assert!(serving.is_ready(), "not ready: {}", fs::read_to_string(log).unwrap());
        serving
    }

    /// Whether it answers within ten seconds.
    fn is_ready(&self) -> bool {
        (0..200).any(|_| {
            thread::sleep(Duration::from_millis(50));
            let asked = agent().get(&format!("{}/readyz", self.base_url)).call();
            asked.is_ok_and(|response| response.status().is_success())
        })
    }

    fn get(&self, key: &str, path: &str) -> Value {
        let request = agent().get(&format!("{}{path}", self.base_url));
        let request = request.header("authorization", &format!("Bearer {key}"));
        let (status, body) = answer(request.call().unwrap());
        assert_eq!(status, 200, "GET {path}\n{body:#}");
        body
    }

    fn put(&self, key: &str, path: &str, body: &Value) -> u16 {
        let request = agent().put(&format!("{}{path}", self.base_url));
        let request = request.header("authorization", &format!("Bearer {key}"));
        let request = request.header("content-type", "application/json");
        let (status, answer) = answer(request.send(body.to_string().as_bytes()).unwrap());
        assert!(status < 300, "PUT {path}\n{status} {answer:#}");
        status
    }

    /// Every engine of the fleet's due list, page after page.
    fn fleet(&self, key: &str, as_of: &str) -> Vec<Value> {
        let mut next = format!("/v1/fleet/due?as_of={as_of}&limit={PAGE}");
        let mut engines = Vec::new();
        loop {
            let mut page = self.get(key, &next);
            engines.append(page["engines"].as_array_mut().unwrap());
            let Some(url) = page["next"].as_str() else { return engines };
            url.strip_prefix(&self.base_url).unwrap().clone_into(&mut next);
        }
    }
}

impl Drop for Serving {
    fn drop(&mut self) {
        // By its process id; a child that has ended already needs no ending.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// The owner whose next mail is looked at, and what becomes of one item in it: the 100-hour inspection of a
/// school's engine, overdue by its hours on whatever day the story is told, among others of the school.
const OWNER: &str = "office@hemmerschool.example";
const SERIAL: &str = "OT-0141";
const ITEM: &str = "hundred-hour-inspection";
const TITLE: &str = "100-hour inspection, engine part";

#[test]
fn from_an_empty_folder_to_the_mail_after_the_work() {
    let demo = Demo::make();
    let dir = demo.dir.path();
    let first = read_mails(dir, demo.week, Some(&demo.expected));
    assert!(names_overdue(&first, SERIAL, TITLE), "{first:#?}");
    assert!(first.iter().any(|mail| mail["to"] == OWNER));
    a_second_run_adds_nothing(&demo);

    let serving = Serving::start(dir);
    every_line_is_as_expected(&demo, &serving);
    do_the_work(&demo, &serving);

    let next = ReportWeek::of(demo.week.sunday().succ_opt().unwrap());
    gudgeon_ok(dir, &["week", &next.to_string(), "--now"]);
    gudgeon_ok(dir, &["deliver"]);
    let mails = read_mails(dir, next, None);
    let mail: Vec<Value> = mails.into_iter().filter(|mail| mail["to"] == OWNER).collect();
    assert_eq!(mail.len(), 1, "one mail for {OWNER} in {next}");
    assert!(!names_overdue(&mail, SERIAL, TITLE), "{mail:#?}");
    assert_eq!(read_mails(dir, demo.week, None), first, "the first week's mails stay as they were");
}

fn names_overdue(mails: &[Value], serial: &str, title: &str) -> bool {
    let named = json!([serial, title]);
    mails.iter().any(|mail| mail["overdue"].as_array().unwrap().contains(&named))
}

fn a_second_run_adds_nothing(demo: &Demo) {
    let before = demo.mails();
    gudgeon_ok(demo.dir.path(), &["week", &demo.week.to_string(), "--now"]);
    gudgeon_ok(demo.dir.path(), &["deliver"]);
    assert!(demo.mails() == before, "a second run changed the mails");
}

/// Status, due hours, due day and hours of every line of every engine; every working redone from its words.
fn every_line_is_as_expected(demo: &Demo, serving: &Serving) {
    let key = demo.key("inspector");
    let mut expected: BTreeMap<[String; 4], Vec<String>> = BTreeMap::new();
    for row in demo.rows() {
        let name = ["serial", "asked-by", "item", "position"].map(|column| row[column].clone());
        let says = ["status", "due-hours", "due-on", "hours-now", "plan-by"]
            .map(|column| row[column].clone());
        assert!(expected.insert(name, says.to_vec()).is_none(), "one row a line: {row:?}");
    }
    let mut faults = Vec::new();
    let mut workings = Vec::new();
    for engine in serving.fleet(&key, &demo.as_of) {
        let (id, serial) = (text(&engine["engine"]["id"]), text(&engine["engine"]["serial"]));
        let path = format!("/v1/engines/{id}/due?as_of={}", demo.as_of);
        for mut line in serving.get(&key, &path)["lines"].as_array_mut().unwrap().drain(..) {
            let name = name_of(&serial, &line);
            match expected.remove(&name) {
                Some(says) if agrees(&line, &says) => {}
                Some(says) => {
                    let found = json!([
                        line["status"],
                        line["due"],
                        line["hours_now"],
                        line["forecast"]["p10"]
                    ]);
                    faults.push(format!("{name:?}: expected {says:?}, found {found}"));
                }
                None => faults.push(format!("{name:?} is not expected")),
            }
            line["engine"] = json!(serial);
            workings.push(line.to_string());
        }
    }
    faults.extend(expected.keys().map(|name| format!("{name:?} is missing")));
    assert!(faults.is_empty(), "{} wrong:\n{}", faults.len(), faults.join("\n"));
    redo_workings(&workings);
}

fn name_of(serial: &str, line: &Value) -> [String; 4] {
    let asked_by = text(&line["asked_by"]["kind"]);
    let position = line["position"].as_str().unwrap_or("-");
    [serial, &asked_by, &text(&line["item"]), position].map(str::to_owned)
}

/// Whether a line says what is expected: `-` is not counted, `?` cannot be told by at least one leg.
fn agrees(line: &Value, says: &[String]) -> bool {
    let [status, due_hours, due_on, hours_now, plan_by] = says else { return false };
    let legs = line["legs"].as_array().unwrap();
    let due = |counts: &str, due: &Value, says: &str| {
        let mut of_side = legs.iter().filter(|leg| leg["counts"] == counts);
        match says {
            "-" => of_side.next().is_none() && due.is_null(),
            "?" => of_side.any(|leg| leg.get("missing").is_some()),
            _ => !of_side.any(|leg| leg.get("missing").is_some()) && due == says,
        }
    };
    line["status"] == status.as_str()
        && due("hours", &line["due"]["hours"], due_hours)
        && due("calendar", &line["due"]["on"], due_on)
        && (hours_now == "?" || line["hours_now"] == hours_now.as_str())
        && line["forecast"]["p10"].as_str().unwrap_or("-") == plan_by.as_str()
}

fn text(value: &Value) -> String {
    value.as_str().unwrap_or_default().to_owned()
}

fn redo_workings(lines: &[String]) {
    let mut command = script("tests/check_workings.py");
    let mut child = command.stdin(Stdio::piped()).stdout(Stdio::piped()).spawn().unwrap();
    let mut stdin = child.stdin.take().unwrap();
    let input = lines.join("\n");
    // Written beside the reading: neither side can fill a pipe that the other waits for.
    let writer = thread::spawn(move || stdin.write_all(input.as_bytes()));
    let said = printed("check_workings.py", &child.wait_with_output().unwrap());
    writer.join().unwrap().unwrap();
    assert!(said.contains(&format!("{} workings redone, 0 disagree", lines.len())), "{said}");
}

/// Posts the inspection that is overdue, with the key of the workshop that looks after the engine.
fn do_the_work(demo: &Demo, serving: &Serving) {
    let fleet = serving.fleet(&demo.key("inspector"), &demo.as_of);
    let engine = fleet.iter().find(|engine| engine["engine"]["serial"] == SERIAL).unwrap();
    let inspection = json!({
        "engine": engine["engine"]["id"],
        "opened_on": demo.as_of,
        "released_on": demo.as_of,
        "readings": [{"meter": engine["engine"]["hours"]["meter"]}],
        "work": [{"item": ITEM, "action": "inspected"}],
        "release": {"by": "Hemmer Engine Bench, inspector 1"},
    });
    let path = format!("/v1/inspections/{}", id(9, 1));
    assert_eq!(serving.put(&demo.key("hemmer"), &path, &inspection), 201);
}

#[test]
fn a_folder_that_is_not_its_own_is_refused_and_left_alone() {
    for (name, what) in [("letter.txt", "Dear owner"), ("gudgeon.toml", "listen = \"[::1]:80\"\n")]
    {
        let dir = Folder::new();
        fs::write(dir.path().join(name), what).unwrap();
        let before = content(dir.path());
        let output = gudgeon(dir.path(), &["demo", "--no-serve"]);
        let said = String::from_utf8_lossy(&output.stderr);
        assert!(!output.status.success(), "{name}");
        assert!(said.contains("was not made by a demonstration"), "{name}: {said}");
        assert!(content(dir.path()) == before, "{name}: the folder was changed");
    }
}

#[test]
fn the_story_is_what_its_scenario_tells() {
    let told = Folder::new();
    printed("tell.py", &script("config/demo/tell.py").arg(told.path()).output().unwrap());
    for name in ["posts.ndjson", "expected.tsv"] {
        let same = fs::read(told.path().join(name)).unwrap() == fs::read(committed(name)).unwrap();
        assert!(same, "{name} differs from what config/demo/tell.py writes: run it and commit");
    }
}
