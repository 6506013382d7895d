//! How long a generated fleet takes to load: facts appended in batches, every engine worked out, durable. With `week`
//! behind, what the weekly run of that fleet takes besides, and how much memory.
//!
//!     cargo bench -p gudgeon-tests --bench fleets            # 1 000 engines
//!     cargo bench -p gudgeon-tests --bench fleets -- 100000
//!     cargo bench -p gudgeon-tests --bench fleets -- 6000 week
//!
//! On a file of `SQLite`; with `GUDGEON_TEST_DATABASE=postgres` on a server of its own. Memory is read from `/proc`.

#![expect(clippy::print_stdout, reason = "a bench prints what it measured")]
#![expect(clippy::float_arithmetic, reason = "rates are for people to read")]
#![expect(clippy::expect_used, reason = "a bench that cannot go on has failed")]

use chrono::NaiveDate;
use gudgeon_databases::Database;
use gudgeon_life::fact::PartyRole;
use gudgeon_life::preference::ReportKind;
use gudgeon_life::week::ReportWeek;
use gudgeon_life::zone::Zone;
use gudgeon_reports::contents::Composer;
use gudgeon_reports::deliver::Delivery;
use gudgeon_reports::hand_over::{Carrier, HandedOver};
use gudgeon_reports::plan::{WeekRun, plan_week};
use gudgeon_reports::render::Renderer;
use gudgeon_reports::retry::Rules;
use gudgeon_reports::sender::Sender;
use gudgeon_store::{PreferenceRow, ReportRow, Store};
use gudgeon_tests::NOW;
use gudgeon_tests::generator::{Types, load};
use std::env;
use std::fs;
use std::time::Instant;

/// Recipients composed for at a time, as a delivery does.
const CHUNK: i64 = 20;

fn main() {
    let asked = env::args().skip(1).find_map(|argument| argument.parse().ok());
    let engines: u32 = asked.unwrap_or(1_000);
    let database = Database::fresh(|url| {
        Store::open(url, true).and_then(|store| store.migrate()).expect("a new database");
    });
    let store = Store::open(database.url(), false).expect("it opens again");
    let start = Instant::now();
    let facts = load(&store, 1, engines);
    let seconds = start.elapsed().as_secs_f64();
    let rate = f64::from(u32::try_from(facts).unwrap_or(u32::MAX)) / seconds;
    println!("{engines} engines, {facts} facts: {seconds:.1} s, {rate:.0} facts a second");
    if env::args().any(|argument| argument == "week") {
        week(&store);
    }
}

/// The parts of a weekly run, one after the other.
fn week(store: &Store) {
    let programmes = Types::put(store);
    let renderer = Renderer::new().expect("templates");
    let composer = Composer { store, programmes: &programmes, renderer: &renderer, links: None };
    let week = ReportWeek::parse("2026-W48").expect("a week");
    let as_of = NaiveDate::from_ymd_opt(2026, 11, 25).expect("a day");
    measured("planned", || {
        let zone = Zone::UTC;
        let run = WeekRun { store, week, as_of: Some(as_of), zone, now: NOW, at_once: true };
        plan_week(&run).expect("planned").planned
    });
    measured("planned again", || {
        let zone = Zone::UTC;
        let run = WeekRun { store, week, as_of: Some(as_of), zone, now: NOW, at_once: true };
        plan_week(&run).expect("planned").already
    });
    measured("composed for owners", || owners_mails(&composer, week, as_of));
    let sender = Sender::new("reports@example.org", "shop@example.org").expect("addresses");
    measured("composed, kept and handed to nobody", || {
        let (rules, clock, stops) = (Rules::DEFAULT, &|| NOW, &|| false);
        let by = "a bench";
        let delivery = Delivery { composer, sender: &sender, rules, by, clock, stops };
        delivery.run(&Nobody).expect("delivered").accepted.len()
    });
}

/// Composes the mails of all owners, and keeps none; gives how many owners.
fn owners_mails(composer: &Composer<'_>, week: ReportWeek, as_of: NaiveDate) -> usize {
    let (mut after, mut count) = (None, 0);
    loop {
        let some = composer.store.parties(PartyRole::Owner, after, CHUNK).expect("readable");
        let Some(last) = some.last() else { return count };
        after = Some(last.key);
        let snapshots = composer.load(ReportKind::Owner, &some, as_of, NOW).expect("readable");
        for (party, snapshot) in some.iter().zip(&snapshots) {
            let whose = (ReportKind::Owner, party.party);
            let asked = composer.asked(whose, (week, as_of), &PreferenceRow::default());
            composer.contents(snapshot, &asked).expect("rendered");
            count += 1;
        }
    }
}

/// Takes every mail, and keeps none.
struct Nobody;

impl Carrier for Nobody {
    fn hand_over(&self, _: &ReportRow, _: &[u8]) -> HandedOver {
        HandedOver::Accepted(String::new())
    }
}

/// Runs a part of a weekly run, and prints how long it took and the most memory that was in use meanwhile.
fn measured(what: &str, run: impl FnOnce() -> usize) {
    // Forgets what was in use before: https://docs.kernel.org/filesystems/proc.html
    fs::write("/proc/self/clear_refs", "5").expect("it is ours");
    let start = Instant::now();
    let count = run();
    let seconds = start.elapsed().as_secs_f64();
    let a_thousand = 1_000.0 * seconds / f64::from(u32::try_from(count).unwrap_or(u32::MAX).max(1));
    let status = fs::read_to_string("/proc/self/status").expect("readable");
    let most = status.lines().find_map(|line| line.strip_prefix("VmHWM:")).unwrap_or_default();
    println!(
        "{what}: {count} in {seconds:.1} s, {a_thousand:.2} s for 1,000; at most {}",
        most.trim()
    );
}
