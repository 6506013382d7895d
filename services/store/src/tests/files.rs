//! Opening, migrating, and what must never make a file.

use super::sample::{Bench, new_folder, url};
use crate::{Store, StoreError};

#[test]
fn a_missing_file_is_refused_and_not_made() {
    let folder = new_folder();
    let refused = Store::open(&url(&folder), false).err();
    assert!(matches!(refused, Some(StoreError::Missing(_))), "{refused:?}");
    assert_eq!(std::fs::read_dir(&folder).expect("the folder is there").count(), 0);
    std::fs::remove_dir_all(&folder).expect("the folder goes");
}

#[test]
fn a_mistyped_url_is_refused_and_makes_nothing() {
    for bad in
        ["postgres:typo", "postgres://localhost/fleet", "host=127.0.0.1 dbname=none", "fleet.db"]
    {
        assert!(matches!(Store::open(bad, true), Err(StoreError::Url(_))), "{bad}");
        assert!(!std::path::Path::new(bad).exists(), "{bad}");
    }
}

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

// What https://www.sqlite.org/pragma.html gives for WAL, synchronous FULL (2) and foreign keys on (1).
#[test]
fn connections_are_safe_by_default() {
    use diesel::prelude::*;
    use diesel::sql_types::{Integer, Text};
    #[derive(QueryableByName)]
    struct Settings {
        #[diesel(sql_type = Text)]
        journal_mode: String,
        #[diesel(sql_type = Integer)]
        synchronous: i32,
        #[diesel(sql_type = Integer)]
        foreign_keys: i32,
    }
    let bench = Bench::new();
    let settings = bench.store.write(|conn| {
        Ok(diesel::sql_query(
            "SELECT journal_mode, synchronous, foreign_keys \
             FROM pragma_journal_mode, pragma_synchronous, pragma_foreign_keys",
        )
        .get_result::<Settings>(conn)?)
    });
    let it = settings.expect("the settings can be asked for");
    assert_eq!((it.journal_mode.as_str(), it.synchronous, it.foreign_keys), ("wal", 2, 1));
}

#[test]
fn a_file_of_another_kind_is_refused() {
    let folder = new_folder();
    std::fs::write(folder.join("fleet.db"), "a letter, and no database at all").expect("written");
    let refused = Store::open(&url(&folder), false).err();
    assert!(matches!(refused, Some(StoreError::Open { .. })), "{refused:?}");
    std::fs::remove_dir_all(&folder).expect("the folder goes");
}

#[test]
fn a_panic_while_writing_keeps_nothing_and_locks_nobody_out() {
    use diesel::prelude::*;
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
