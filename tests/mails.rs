//! The weekly run and its delivery by several processes of the real program at once, and by one that is
//! killed: each report is queued once and delivered once, or told of as unknown.

#![cfg(test)]

use gudgeon_databases::Database;
use gudgeon_reports::deliver::Delivery;
use gudgeon_reports::sender::Sender;
use gudgeon_store::{Instant, ReportState, Store};
use gudgeon_tests::owners::site_with_owners;
use gudgeon_tests::site::{Site, wait_until};
use std::collections::BTreeSet;
use std::fs;
use std::path::PathBuf;
use std::process::{Command, Stdio};

/// More than are claimed at a time.
const OWNERS: u32 = 30;

/// Runs a command twice at once, and gives what both say.
fn twice_at_once(site: &Site, arguments: &[&str]) -> [String; 2] {
    let start = || site.command(arguments).stdout(Stdio::piped()).spawn().unwrap();
    [start(), start()].map(|child| {
        let output = child.wait_with_output().unwrap();
        assert!(output.status.success(), "{arguments:?}: {output:?}");
        String::from_utf8(output.stdout).unwrap()
    })
}

/// The number before these words.
fn number_before(said: &str, words: &str) -> u32 {
    let before = said.split(words).next().filter(|before| before.len() < said.len());
    let number = before.and_then(|before| before.split_whitespace().last()?.parse().ok());
    number.unwrap_or_else(|| panic!("no number before `{words}`: {said}"))
}

fn mails(site: &Site) -> BTreeSet<PathBuf> {
    let entries = fs::read_dir(site.dir().join("mail")).unwrap();
    entries.map(|entry| entry.unwrap().path()).collect()
}

#[test]
fn two_processes_at_once_queue_and_deliver_each_report_once() {
    let database = Database::fresh(|url| {
        Store::open(url, true).unwrap().migrate().unwrap();
    });
    let site = site_with_owners(&database, OWNERS);
    let said = twice_at_once(&site, &["week", "2026-W48", "--as-of", "2026-11-25"]);
    let queued: u32 = said.iter().map(|said| number_before(said, " reports queued")).sum();
    let already: u32 = said.iter().map(|said| number_before(said, " had theirs already")).sum();
    assert_eq!((queued, already), (OWNERS, OWNERS), "{said:?}");

    let said = twice_at_once(&site, &["deliver"]);
    let written: u32 = said.iter().map(|said| number_before(said, " mails written")).sum();
    assert_eq!(written, OWNERS, "{said:?}");
    assert_eq!(mails(&site).len(), usize::try_from(OWNERS).unwrap());
    let again = twice_at_once(&site, &["deliver"]);
    assert!(again.iter().all(|said| said.starts_with("0 mails written")), "{again:?}");
}

/// A pipe stands where the first mail is to be written, so that the process waits there for a reader, and is
/// killed.
#[test]
fn of_a_killed_delivery_one_mail_is_unknown_and_the_others_are_delivered() {
    let database = Database::fresh(|url| {
        Store::open(url, true).unwrap().migrate().unwrap();
    });
    let site = site_with_owners(&database, OWNERS);
    site.run_ok(&["week", "2026-W48", "--as-of", "2026-11-25"]);
    site.run_ok(&["deliver"]);
    let pipes: Vec<PathBuf> = mails(&site)
        .iter()
        .map(|path| {
            let next_week = path.to_str().unwrap().replace("2026-W48", "2026-W49");
            PathBuf::from(next_week).with_extension("eml.partial")
        })
        .collect();
    assert!(Command::new("mkfifo").args(&pipes).status().unwrap().success());

    site.run_ok(&["week", "2026-W49", "--as-of", "2026-12-02"]);
    let store = Store::open(database.url(), false).unwrap();
    let count = |state| u32::try_from(store.reports_in(state, 0, 1000).unwrap().len()).unwrap();
    let mut killed = site.command(&["deliver"]).spawn().unwrap();
    wait_until("a mail is being handed over", || count(ReportState::Transmitting) == 1);
    killed.kill().unwrap();
    killed.wait().unwrap();
    for pipe in &pipes {
        fs::remove_file(pipe).unwrap();
    }

    // What it had not claimed is delivered at once, the rest once its lease has ended.
    let (claimed, waiting) = (count(ReportState::Sending), count(ReportState::Queued));
    assert_eq!(claimed + waiting, OWNERS - 1);
    assert!(claimed > 0 && waiting > 0, "{claimed} {waiting}");
    assert_eq!(number_before(&site.run_ok(&["deliver"]), " mails written"), waiting);
    let sender = Sender::new("reports@example.org", "reports@example.org").unwrap();
    let much_later = || Instant(i64::MAX / 2);
    let delivery = Delivery { store: &store, sender: &sender, by: "a test", clock: &much_later };
    let summary = delivery.to_folder(&site.dir().join("mail")).unwrap();
    assert_eq!(u32::try_from(summary.accepted.len()).unwrap(), claimed);
    assert_eq!((summary.failed.len(), summary.unknown.len()), (0, 1), "{summary:?}");

    // It is told of by every run, and sent by none.
    let said = site.run_ok(&["deliver"]);
    assert_eq!(number_before(&said, " mails written"), 0);
    let whom = summary.unknown[0].recipient.to_string();
    assert!(said.contains(&whom) && said.contains("not sent again by itself"), "{said}");
    assert_eq!(mails(&site).len(), usize::try_from(2 * OWNERS - 1).unwrap());
}

#[test]
fn all_of_these_pass_on_postgres_too() {
    gudgeon_databases::repeat_on_postgres();
}
