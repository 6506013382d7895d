//! What every kind of database has to do alike: migrations, order, what a panic leaves.

use super::sample::{Bench, NOW, Programme, fact, item, migrate};
use crate::{Store, StoreError};
use diesel::prelude::*;
use diesel::sql_types::{Bool, Text};
use gudgeon_databases::{Database, Kind};
use gudgeon_life::fact::{Content, ProgrammeActivated};

#[test]
fn migrations_go_up_down_and_up_again() {
    let bench = Bench::new();
    assert_eq!(bench.store.migrate().expect("nothing is left to do"), Vec::<String>::new());
    bench.store.unmigrate().expect("they go down");
    assert!(bench.store.engine_types().is_err(), "the tables are gone");
    let names = bench.store.migrate().expect("they go up again");
    assert_eq!(names, ["0001_facts_and_due_lines"]);
    assert_eq!(bench.store.engine_types().expect("the tables are back"), Vec::new());
}

#[test]
fn of_several_that_migrate_at_once_one_does() {
    let bench = Bench::new();
    bench.store.unmigrate().expect("they go down");
    let applied: Vec<usize> = std::thread::scope(|scope| {
        let threads: Vec<_> = (0..4)
            .map(|_| {
                scope.spawn(|| {
                    let store = Store::open(bench.database.url(), false).expect("it opens");
                    store.migrate().expect("they go up").len()
                })
            })
            .collect();
        threads.into_iter().map(|thread| thread.join().expect("no panic")).collect()
    });
    assert_eq!(applied.iter().filter(|names| **names > 0).count(), 1, "{applied:?}");
}

#[test]
fn a_database_of_a_later_version_is_refused() {
    let bench = Bench::new();
    let later = "INSERT INTO __diesel_schema_migrations (version) VALUES ('9999')";
    bench.store.write(|conn| Ok(diesel::sql_query(later).execute(conn)?)).expect("added");
    let newer = |refused: Option<StoreError>| {
        assert!(matches!(&refused, Some(StoreError::Newer(name)) if name == "9999"), "{refused:?}");
    };
    newer(Store::open(bench.database.url(), false).err());
    newer(bench.store.migrate().err());
}

/// A column: its table, its name, whether it may be empty.
#[derive(Debug, PartialEq, Eq, QueryableByName)]
struct Column {
    #[diesel(sql_type = Text)]
    tabled: String,
    #[diesel(sql_type = Text)]
    named: String,
    #[diesel(sql_type = Bool)]
    optional: bool,
}

fn columns(database: Database) -> Vec<Column> {
    // https://www.sqlite.org/pragma.html#pragma_table_info and
    // https://www.postgresql.org/docs/15/infoschema-columns.html.
    let sql = match database.kind() {
        Kind::Sqlite => {
            "SELECT m.name AS tabled, c.name AS named, c.\"notnull\" = 0 AS optional \
             FROM sqlite_master AS m, pragma_table_info(m.name) AS c WHERE m.type = 'table' \
             ORDER BY m.name, c.cid"
        }
        Kind::Postgres => {
            "SELECT table_name::text AS tabled, column_name::text AS named, is_nullable = 'YES' AS optional \
             FROM information_schema.columns WHERE table_schema = 'public' \
             ORDER BY table_name COLLATE \"C\", ordinal_position"
        }
    };
    let bench = Bench::of(database);
    let all: Vec<Column> =
        bench.store.read(|conn| Ok(diesel::sql_query(sql).load(conn)?)).expect("readable");
    // Besides ours: what the migrations keep, and what `SQLite` keeps for its planner.
    let ours = |it: &Column| {
        it.tabled != "__diesel_schema_migrations" && !it.tabled.starts_with("sqlite_")
    };
    all.into_iter().filter(ours).collect()
}

#[test]
fn both_trees_of_migrations_make_the_same_tables() {
    let sqlite = columns(Database::sqlite(migrate));
    assert!(sqlite.len() > 80, "{sqlite:?}");
    assert_eq!(columns(Database::postgres(migrate)), sqlite);
}

/// Tables that a backup carries, with the columns it does; keys of this database and `fleet_id` stay behind.
const CARRIED: [(&str, &str); 16] = [
    ("anchor", "seq week made_at heads root previous hash"),
    ("anchored_head", "seq hash anchor_seq"),
    ("api_key", "hash role party label created_at expires_at revoked_at"),
    ("attempt", "number at ended_at outcome code enhanced words"),
    ("bounce", "recipient kind week permanent status address noted_at"),
    ("calendar_entry", "party uid sequence day summary cancelled changed_at"),
    ("engine_type", "name digest toml added_at active_from replaces"),
    (
        "fact",
        "seq uid kind v day order_in_day data content_digest private_digest prev_hash hash posted_by recorded_at received_at",
    ),
    ("fact_private", "salt body"),
    ("photo", "digest bytes received_at"),
    ("photo_sender", "digest sender sent_at size"),
    (
        "preference",
        "party kind weekday minute_of_day zone mode dates decimal_mark hours changed_at links_generation",
    ),
    (
        "report",
        "recipient kind week zone send_at fixed_as_of state reason next_try_at attempts as_of message_id to_name to_address subject body_text body_html digest composed_from composed_at return_tag ended_at",
    ),
    ("stream", "kind uid head_seq head_hash"),
    ("wear_prior", "engine_type version worked_out_on fleets"),
    ("week_run", "week planned_at mails items overdue"),
];
/// Columns of those that are of this database alone: who has a mail in hand.
const IN_HAND: [&str; 4] = ["generation", "claimed_by", "lease_until", "has_turn"];
/// Tables that are worked out from those, and three that are of this database alone.
const LEFT: [&str; 13] = [
    "custody",
    "domain_pace",
    "due_line",
    "engine_span",
    "engine_status",
    "fleet",
    "link",
    "mail_hold",
    "owner_claim",
    "part",
    "party",
    "photo_use",
    "serial_claim",
];

// Whoever adds a table or a column decides here whether a backup carries it. Of `engine_type`, `active_from` and
// `replaces` follow from the activations on record.
#[test]
fn every_column_is_carried_by_a_backup_or_worked_out() {
    let here = ["fleet_id", "fact_id", "stream_id", "report_id", "id"];
    let mut found: Vec<(String, String)> = Vec::new();
    for Column { tabled, named, .. } in columns(Database::sqlite(migrate)) {
        let of_here = here.contains(&named.as_str()) || IN_HAND.contains(&named.as_str());
        if LEFT.contains(&tabled.as_str()) || of_here {
            continue;
        }
        match found.last_mut() {
            Some((table, names)) if *table == tabled => *names = format!("{names} {named}"),
            _ => found.push((tabled, named)),
        }
    }
    let carried = CARRIED.map(|(table, names)| (table.to_owned(), names.to_owned()));
    assert_eq!(found, carried);
}

// By the bytes, worked by hand: `-` before digits, digits before letters. By language it would be last of the three.
#[test]
fn text_is_sorted_by_its_bytes() {
    let bench = Bench::new();
    let sorted = ["a-z", "a1", "ab", "zander"];
    for (n, name) in (1..).zip(["ab", "zander", "a1", "a-z"]) {
        let added = bench.store.add_engine_type(name, "sample", [1; 32], NOW, &Programme);
        assert!(added.expect("stored"), "{name} is a name of its own");
        let activated = ProgrammeActivated { engine_type: item(name), digest: [1; 32] };
        bench.append(fact(n, "2026-01-01", Content::ProgrammeActivated(activated)));
    }
    let types = bench.store.engine_types().expect("readable");
    assert_eq!(types.iter().map(|it| it.name.as_str()).collect::<Vec<_>>(), sorted);
}

#[test]
fn a_panic_while_writing_keeps_nothing_and_locks_nobody_out() {
    let bench = Bench::new();
    let panicked = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| {
        bench.store.write::<()>(|conn| {
            diesel::sql_query("UPDATE fleet SET name = 'half'").execute(conn)?;
            panic!("on purpose")
        })
    }));
    assert!(panicked.is_err());
    let whole = "UPDATE fleet SET name = 'whole' WHERE name = 'fleet'";
    let rows = bench.store.write(|conn| Ok(diesel::sql_query(whole).execute(conn)?));
    assert_eq!(rows.expect("the next writer writes"), 1);
}
