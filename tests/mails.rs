//! The weekly run and its delivery by several processes of the real program at once, by one that is killed and by
//! one that watches: each report is queued once and delivered once, or told of as unknown; and what the operator is
//! told.

#![cfg(test)]

use gudgeon_databases::Database;
use gudgeon_life::week::ReportWeek;
use gudgeon_reports::hand_over::Folder;
use gudgeon_store::{ReportState, Store};
use gudgeon_tests::owners::{deliver_much_later, site_with_owners};
use gudgeon_tests::peer::{Act, Peer, Step};
use gudgeon_tests::site::{Site, wait_until};
use std::collections::BTreeSet;
use std::fs;
use std::path::PathBuf;
use std::process::{Command, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// More than are claimed at a time.
const OWNERS: u32 = 30;
/// One report for each of them, and one for a workshop, which comes last and has nothing to say.
const PLANNED: u32 = OWNERS + 1;

fn fresh() -> Database {
    Database::fresh(|url| {
        Store::open(url, true).unwrap().migrate().unwrap();
    })
}

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
    let database = fresh();
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
    let database = fresh();
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

/// A server that closes every connection at once while it is away, and does not answer the second mail while it is
/// held.
fn moody(away: &Arc<AtomicBool>, held: &Arc<AtomicBool>) -> Peer {
    let (away, held) = (Arc::clone(away), Arc::clone(held));
    Peer::start(move |step, _, nth| match step {
        Step::Greeting if away.load(Ordering::Relaxed) => Act::Close,
        Step::Dot if nth == 2 => {
            wait_until("it may answer", || !held.load(Ordering::Relaxed));
            Act::Well
        }
        _ => Act::Well,
    })
}

#[test]
fn whoever_watches_hands_over_what_is_planned_and_ends_cleanly_in_the_middle_of_a_mail() {
    let database = fresh();
    let site = site_with_owners(&database, 4);
    // What real days bring is out of the way.
    site.run_ok(&["week", "--now"]);
    site.run_ok(&["deliver"]);
    let (away, held) = (Arc::new(AtomicBool::new(true)), Arc::new(AtomicBool::new(true)));
    let peer = moody(&away, &held);
    site.use_mail_server(peer.port(), 1, "watch-seconds = 1");
    let watching = site.start(&["deliver", "--watch"]);
    site.run_ok(&["week", "2024-W10", "--as-of", "2024-03-04", "--now"]);

    wait_until("it knocks", || peer.connections() > 0);
    let began = Instant::now();
    wait_until("it knocks twice more", || peer.connections() > 2);
    assert!(began.elapsed() > Duration::from_millis(1_900), "once a second, not oftener");

    away.store(false, Ordering::Relaxed);
    wait_until("the second mail is on its way", || peer.reached(Step::Dot) == 2);
    watching.ask_to_stop();
    wait_until("it has heard", || site.said().contains("it ends after the mail under way"));
    held.store(false, Ordering::Relaxed);
    assert!(watching.ended().success(), "{}", site.said());
    let store = Store::open(database.url(), false).unwrap();
    let counts = store.report_counts(ReportWeek::parse("2024-W10").unwrap()).unwrap();
    assert_eq!((peer.taken().len(), counts[&ReportState::Accepted]), (2, 2));
    let in_hand = [ReportState::Sending, ReportState::Transmitting, ReportState::Unknown];
    assert!(in_hand.iter().all(|state| !counts.contains_key(state)), "{counts:?}");

    // The next one sends the others, and none again.
    let watching = site.start(&["deliver", "--watch"]);
    wait_until("all have left", || peer.taken().len() == 4);
    watching.ask_to_stop();
    assert!(watching.ended().success(), "{}", site.said());
    let whom: BTreeSet<String> = peer.taken().into_iter().map(|it| it.to).collect();
    assert_eq!(whom.len(), 4);
}

#[test]
fn the_operator_is_told_once_what_a_run_came_to() {
    let database = fresh();
    let site = site_with_owners(&database, 4);
    let peer = Peer::start(|step, to, _| match step {
        Step::Rcpt if to.starts_with("o1@") => Act::Say("550 5.1.1 nobody"),
        Step::Dot if to.starts_with("o2@") => Act::TakeAndClose,
        _ => Act::Well,
    });
    site.use_mail_server(peer.port(), 1, "operator = \"operator@example.org\"");
    site.run_ok(&["week", "2026-W48", "--as-of", "2026-11-25", "--now"]);
    let said = site.run_ok(&["deliver"]);
    site.run_ok(&["deliver"]);
    let to_operator = peer.taken().into_iter().filter(|it| it.to == "operator@example.org");
    let [mail] = &to_operator.collect::<Vec<_>>()[..] else { panic!("one mail: {said}") };
    assert!(mail.message.contains("\r\nSubject: Engine reports: what was delivered\r\n"));
    // Without the soft line ends of RFC 2045, section 6.7.
    let message = mail.message.replace("=\r\n", "");
    for told in [
        "2 mails written to",
        "1 reports cannot be delivered.",
        "1 mails broke off, and may have arrived.",
        "it was refused with 550 5.1.1",
    ] {
        assert!(said.contains(told) && message.contains(told), "{told}: {message}");
    }
}

#[test]
fn all_of_these_pass_on_postgres_too() {
    gudgeon_databases::repeat_on_postgres();
}

// Nothing is planned by it, and what it writes cannot be taken for a mail that was sent.
#[test]
fn a_preview_says_what_the_mail_will_say_and_changes_nothing() {
    let database = fresh();
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
