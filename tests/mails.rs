//! The weekly run and its delivery by several processes of the real program at once, and by one that is
//! killed: each report is queued once and delivered once, or told of as unknown.

#![cfg(test)]

use gudgeon_databases::Database;
use gudgeon_life::week::ReportWeek;
use gudgeon_reports::hand_over::Folder;
use gudgeon_store::{ReportState, Store};
use gudgeon_tests::owners::{deliver_much_later, site_with_owners};
use gudgeon_tests::site::{Site, wait_until};
use std::collections::BTreeSet;
use std::fs;
use std::path::PathBuf;
use std::process::{Command, Stdio};

/// More than are claimed at a time.
const OWNERS: u32 = 30;
/// One report for each of them, and one for a workshop, which comes last and has nothing to say.
const PLANNED: u32 = OWNERS + 1;

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
    let said = twice_at_once(&site, &["week", "2026-W48", "--as-of", "2026-11-25", "--now"]);
    let queued: u32 = said.iter().map(|said| number_before(said, " reports planned")).sum();
    let already: u32 = said.iter().map(|said| number_before(said, " had theirs already")).sum();
    assert_eq!((queued, already), (PLANNED, PLANNED), "{said:?}");

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
    site.run_ok(&["week", "2026-W48", "--as-of", "2026-11-25", "--now"]);
    site.run_ok(&["deliver"]);
    let pipes: Vec<PathBuf> = mails(&site)
        .iter()
        .map(|path| {
            let next_week = path.to_str().unwrap().replace("2026-W48", "2026-W49");
            PathBuf::from(next_week).with_extension("eml.partial")
        })
        .collect();
    assert!(Command::new("mkfifo").args(&pipes).status().unwrap().success());

    site.run_ok(&["week", "2026-W49", "--as-of", "2026-12-02", "--now"]);
    let store = Store::open(database.url(), false).unwrap();
    let week = ReportWeek::parse("2026-W49").unwrap();
    let count = |state| {
        let counts = store.report_counts(week).unwrap();
        u32::try_from(counts.get(&state).copied().unwrap_or(0)).unwrap()
    };
    let mut killed = site.command(&["deliver"]).spawn().unwrap();
    wait_until("a mail is being handed over", || count(ReportState::Transmitting) == 1);
    killed.kill().unwrap();
    killed.wait().unwrap();
    for pipe in &pipes {
        fs::remove_file(pipe).unwrap();
    }

    // What it had not claimed is delivered at once, the rest once its lease has ended.
    let (claimed, waiting) = (count(ReportState::Sending), count(ReportState::Planned));
    assert_eq!(claimed + waiting, PLANNED - 1);
    assert!(claimed > 0 && waiting > 0, "{claimed} {waiting}");
    assert_eq!(number_before(&site.run_ok(&["deliver"]), " mails written"), waiting - 1);
    let folder = Folder::open(&site.dir().join("mail")).unwrap();
    let summary = deliver_much_later(&store, &folder);
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

// Nothing is planned by it, and what it writes cannot be taken for a mail that was sent.
#[test]
fn a_preview_says_what_the_mail_will_say_and_changes_nothing() {
    let database = Database::fresh(|url| {
        Store::open(url, true).unwrap().migrate().unwrap();
    });
    let site = site_with_owners(&database, 1);
    let owner = gudgeon_tests::id(gudgeon_tests::story::OWNER, 1);
    let folder = site.dir().join("seen");
    let of_day = ["--week", "2026-W48", "--as-of", "2026-11-25", "--folder"];
    let arguments = [&["preview", &owner], &of_day[..], &[folder.to_str().unwrap()]].concat();
    site.run_ok(&arguments);
    let seen = |name: &str| fs::read_to_string(folder.join(name)).unwrap();
    assert!(seen("subject.txt").starts_with("PREVIEW: "));
    assert!(seen("mail.html").contains("PREVIEW, not sent"));
    let store = Store::open(database.url(), false).unwrap();
    assert_eq!(store.reports_waiting().unwrap(), 0);
    site.run_ok(&["week", "2026-W48", "--as-of", "2026-11-25", "--now"]);
    site.run_ok(&["deliver"]);
    let party = gudgeon_life::ids::PartyId(gudgeon_life::ids::Uid::parse(&owner).unwrap());
    let sent = store.reports_of(party, 0, 1).unwrap().remove(0);
    assert_eq!(seen("subject.txt"), format!("PREVIEW: {}\n", sent.subject));
    assert!(seen("text.txt").starts_with("PREVIEW, not sent\n\n"));
}
