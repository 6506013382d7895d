//! Generated fleets: the same for the same seed, plausible, and loaded whole.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

use chrono::NaiveDate;
use gudgeon_databases::Database;
use gudgeon_life::fact::PartyRole;
use gudgeon_life::ids::PartyId;
use gudgeon_life::preference::ReportKind;
use gudgeon_life::status::Status;
use gudgeon_life::week::ReportWeek;
use gudgeon_reports::contents::{Composer, Contents, Snapshot};
use gudgeon_reports::render::Renderer;
use gudgeon_store::{DueTally, FleetQuery, Post, PreferenceRow, Store};
use gudgeon_tests::NOW;
use gudgeon_tests::generator::{Fleet, Types, load};

fn store(database: &Database) -> Store {
    Store::open(database.url(), false).unwrap()
}

fn database() -> Database {
    Database::fresh(|url| {
        Store::open(url, true).unwrap().migrate().unwrap();
    })
}

#[test]
fn one_seed_gives_one_fleet_and_a_larger_fleet_begins_with_the_smaller() {
    let database = database();
    let types = Types::put(&store(&database));
    let fleet = |seed, engines| -> Vec<Post> { Fleet::new(seed, engines, types.all()).collect() };
    let small = fleet(1, 20);
    assert_eq!(small, fleet(1, 20));
    assert_ne!(small, fleet(2, 20));
    assert_eq!(small, fleet(1, 40)[..small.len()]);
}

#[test]
fn a_fleet_is_loaded_whole_and_without_contradictions() {
    let database = database();
    let store = store(&database);
    let facts = load(&store, 7, 60);
    let kept = store.verify(&mut |_| {}).unwrap().unwrap().facts;
    // Of the facts beside those of the fleet, each activated one of three engine types.
    assert_eq!(usize::try_from(kept).unwrap(), facts + 3);
    let as_of = NaiveDate::from_ymd_opt(2026, 11, 25).unwrap();
    let query = FleetQuery { as_of, sight: None, status: None, after: None, limit: 100 };
    let rows = store.fleet(&query).unwrap();
    assert_eq!(rows.len(), 60);
    for (_, row) in rows {
        assert_eq!(row.conflicts, Vec::<String>::new(), "{row:?}");
    }
    for as_of in ["2024-03-01", "2026-11-25"] {
        judged_as_told(&store, as_of.parse().unwrap());
    }
}

/// What a week is judged by before its mails are composed is what they say then.
fn judged_as_told(store: &Store, as_of: NaiveDate) {
    let (programmes, renderer) = (Types::put(store), Renderer::new().unwrap());
    let composer = Composer { store, programmes: &programmes, renderer: &renderer, links: None };
    for (kind, role) in [(ReportKind::Owner, PartyRole::Owner), (ReportKind::Shop, PartyRole::Shop)]
    {
        let parties = store.parties(role, None, 1_000).unwrap();
        let ids: Vec<PartyId> = parties.iter().map(|it| it.party).collect();
        let mut told = DueTally::default();
        for (id, snapshot) in ids.iter().zip(composer.load(kind, &parties, as_of, NOW).unwrap()) {
            let week = (ReportWeek::of(as_of), as_of);
            let asked = composer.asked((kind, *id), week, &PreferenceRow::default());
            let engines = match &snapshot {
                Snapshot::Owner(it) => &it.engines,
                Snapshot::Shop(it) => &it.engines,
                Snapshot::Inspector(_) => panic!("asked for none"),
            };
            let lines = engines.iter().flat_map(|engine| &engine.lines);
            let by_lines = by_lines(&lines.map(|line| line.status(as_of)).collect::<Vec<_>>());
            if let Contents::Composed(mail) = composer.contents(&snapshot, &asked).unwrap()
                && kind == ReportKind::Owner
            {
                let items = by_lines.items;
                assert_eq!(
                    DueTally { items, ..by_subject(&mail.subject) },
                    by_lines,
                    "{}",
                    mail.subject
                );
            }
            told += by_lines;
        }
        assert_eq!(store.due_tally(kind, &ids, as_of).unwrap(), told, "{kind:?}, {as_of}");
        assert!(told.mails > 0 && told.overdue > 0 && told.overdue < told.items, "{told:?}");
    }
}

fn size(count: usize) -> i64 {
    i64::try_from(count).unwrap()
}

/// An owner's subject names what is overdue first: "2 overdue, 1 unknown: X-00001 (2026-W48)".
fn by_subject(subject: &str) -> DueTally {
    let overdue = subject.split_once(" overdue").and_then(|(count, _)| count.parse().ok());
    let is_due = !subject.to_lowercase().starts_with("nothing due");
    DueTally { mails: i64::from(is_due), items: 0, overdue: overdue.unwrap_or(0) }
}

fn by_lines(statuses: &[Status]) -> DueTally {
    let is_due = statuses.iter().any(|status| *status < Status::OnCondition);
    let overdue = statuses.iter().filter(|status| **status == Status::Overdue).count();
    DueTally { mails: i64::from(is_due), items: size(statuses.len()), overdue: size(overdue) }
}

#[test]
fn all_of_these_pass_on_postgres_too() {
    gudgeon_tests::repeat_on_postgres();
}
