//! The commands that guard the records, run as an operator runs them: verify, backup, restore, and the hold on mails.

#![cfg(test)]

use gudgeon_tests::story::{ENGINE, OWNER, engine_type};
use gudgeon_tests::{Folder, Service, id, program};
use serde_json::json;
use std::fs;
use std::path::Path;
use std::process::Command;

/// One item by the calendar, so that the owner of an old engine has something to read.
const HOSES: &str = r#"
[[items]]
id = "fuel-hoses"
title = "Renew the fuel hoses"
class = "recommended"
source = "common practice"
counts-from = "new"
every = { months = 60 }
done-by = ["renewed"]
"#;

/// The program: its exit code, and what it printed on either side.
fn gudgeon(dir: &Path, arguments: &[&str]) -> (i32, String) {
    let output = Command::new(program()).args(arguments).arg("--dir").arg(dir).output().unwrap();
    let printed = [output.stdout, output.stderr].concat();
    (output.status.code().unwrap(), String::from_utf8_lossy(&printed).into_owned())
}

/// The same, when it has to succeed.
fn gudgeon_ok(dir: &Path, arguments: &[&str]) -> String {
    let (code, printed) = gudgeon(dir, arguments);
    assert_eq!(code, 0, "gudgeon {arguments:?}: {printed}");
    printed
}

/// A folder whose settings name a database.
fn folder(database: &str) -> Folder {
    let folder = Folder::new();
    fs::write(folder.path().join("gudgeon.toml"), format!("database = \"{database}\"\n")).unwrap();
    folder
}

/// Digits that a mail and `verify` print alike: those behind `before`, up to the end of the word.
fn word_behind(text: &str, before: &str) -> String {
    let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
    let (_, rest) = words.split_once(before).unwrap_or_else(|| panic!("no `{before}`: {words}"));
    rest.chars().take_while(|c| c.is_ascii_hexdigit() || *c == '-').collect()
}

#[test]
fn all_of_these_pass_on_postgres_too() {
    gudgeon_tests::repeat_on_postgres();
}

// By hand: made 2019, every 60 months, so overdue since 2024. Three facts are about the engine and its owner, one
// activates the type; the fleet, the engine and the owner are a stream each.
#[test]
fn records_are_backed_up_moved_and_checked() {
    let service = Service::start();
    service.put_type("story-twin", &engine_type(HOSES));
    let owner = id(OWNER, 1);
    service.put_ok(
        &format!("/v1/owners/{owner}"),
        &json!({"name": "Invented Owner", "email": "owner@example.org"}),
    );
    let engine = format!("/v1/engines/{}", id(ENGINE, 1));
    service.put_ok(
        &engine,
        &json!({
            "on": "2019-01-01", "engine_type": "story-twin", "serial": "S-1", "basis": "engine-run",
            "tsn": "0", "made_on": "2019-01-01",
        }),
    );
    service.put_ok(
        &format!("{engine}/ownerships/{}", id(9, 1)),
        &json!({"on": "2019-01-01", "owner": owner}),
    );

    let old = folder(service.database_url());
    let said = gudgeon_ok(old.path(), &["verify"]);
    assert!(said.contains("4 facts in 3 streams: every link holds."), "{said}");
    assert!(said.contains("no anchor yet") && said.contains("cannot show"), "{said}");
    let said = gudgeon_ok(old.path(), &["week", "2026-W48", "--as-of", "2026-11-25", "--now"]);
    assert!(said.contains("1 reports planned"), "{said}");

    let file = old.path().join("records.ndjson");
    let name = file.to_str().unwrap();
    gudgeon_ok(old.path(), &["backup", name]);
    let bytes = fs::read(&file).unwrap();
    let (code, said) = gudgeon(old.path(), &["backup", name]);
    assert!(code == 1 && said.contains("is there already"), "{code} {said}");
    assert_eq!(fs::read(&file).unwrap(), bytes);
    assert_eq!(fs::read_dir(old.path()).unwrap().count(), 2, "nothing half-written is left");

    let new = folder("sqlite:moved.sqlite");
    damage_is_found(&file, new.path());
    let said = gudgeon_ok(new.path(), &["restore", name]);
    assert!(said.contains("4 facts") && said.contains("Mails are on hold, with 1 in"), "{said}");
    let (code, said) = gudgeon(new.path(), &["restore", name]);
    assert!(code == 1 && said.contains("not empty"), "{code} {said}");
    mails_wait_until_released(new.path(), &gudgeon_ok(new.path(), &["verify"]));
}

/// A backup with one bit flipped is refused with exit code 3, by whoever reads it.
fn damage_is_found(file: &Path, new: &Path) {
    let mut bytes = fs::read(file).unwrap();
    let name = b"Invented Owner";
    let at = bytes.windows(name.len()).position(|window| window == name).unwrap();
    bytes[at] ^= 1;
    let bad = new.join("bad.ndjson");
    fs::write(&bad, bytes).unwrap();
    let nowhere = Folder::new();
    let (code, said) = gudgeon(nowhere.path(), &["verify", "--export", bad.to_str().unwrap()]);
    assert!(
        code == 3 && said.contains(": party ") && said.contains("private text"),
        "{code} {said}"
    );
    let (code, said) = gudgeon(new, &["restore", bad.to_str().unwrap()]);
    assert!(code == 3 && said.contains("Nothing was restored"), "{code} {said}");
    let said = gudgeon_ok(nowhere.path(), &["verify", "--export", file.to_str().unwrap()]);
    assert!(said.contains("4 facts in 3 streams: every link holds."), "{said}");
}

/// The mail leaves when it is told to, and says the same of the anchor as `verify` does.
fn mails_wait_until_released(dir: &Path, verified: &str) {
    for _ in 0..2 {
        let said = gudgeon_ok(dir, &["deliver"]);
        assert!(said.contains("1 mails are on hold") && said.contains("--release"), "{said}");
    }
    let said = gudgeon_ok(dir, &["deliver", "--release"]);
    assert!(said.contains("1 mails written"), "{said}");
    let mail = fs::read_dir(dir.join("mail")).unwrap().next().unwrap().unwrap().path();
    let mail = fs::read_to_string(mail).unwrap().replace("=\r\n", "");
    let anchor = word_behind(verified, "anchor 1 of 2026-W48, is ");
    assert_eq!(anchor.len(), 19, "{verified}");
    assert_eq!(word_behind(&mail, "anchor 1 ("), anchor);
}
