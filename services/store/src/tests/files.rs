//! A file of `SQLite`: opening it, what must never make one, and a full disk.

use super::sample::{Bench, Programme, migrate, owner, post};
use crate::{Post, Store, StoreError, Texts};
use gudgeon_databases::{Database, Folder};

fn url(folder: &Folder) -> String {
    format!("sqlite:{}", folder.path().join("fleet.db").display())
}

fn bench() -> Bench {
    Bench::of(Database::sqlite(migrate))
}

#[test]
fn a_missing_file_is_refused_and_not_made() {
    let folder = Folder::new();
    let refused = Store::open(&url(&folder), false).err();
    assert!(matches!(refused, Some(StoreError::Missing(_))), "{refused:?}");
    assert_eq!(std::fs::read_dir(folder.path()).expect("the folder is there").count(), 0);
}

#[test]
fn a_mistyped_url_is_refused_and_makes_nothing() {
    for bad in [
        "postgres:typo",
        "postgres://localhost",
        "host=127.0.0.1 dbname=none",
        "fleet.db",
        "sqlite3:x",
    ] {
        assert!(matches!(Store::open(bad, true), Err(StoreError::Url(_))), "{bad}");
        assert!(!std::path::Path::new(bad).exists(), "{bad}");
    }
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
    let bench = bench();
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
    let folder = Folder::new();
    std::fs::write(folder.path().join("fleet.db"), "a letter, and no database at all")
        .expect("written");
    let refused = Store::open(&url(&folder), false).err();
    assert!(matches!(refused, Some(StoreError::Open { .. })), "{refused:?}");
}

// https://www.sqlite.org/pragma.html#pragma_max_page_count stands in for the end of the disk.
#[test]
fn a_full_disk_is_told_as_such_and_passes() {
    use diesel::prelude::*;
    let bench = bench();
    let pages_max = |pages: u32| {
        let sql = format!("PRAGMA max_page_count = {pages}");
        bench.store.write(|conn| Ok(diesel::sql_query(&sql).execute(conn)?)).expect("set");
    };
    let long = Texts {
        private: [("/name".to_owned(), "A. Invented ".repeat(10_000))].into(),
        ..Texts::default()
    };
    let append =
        || bench.store.append(&Post { texts: long.clone(), ..post(owner(1, 70)) }, &Programme);
    pages_max(1);
    let refused = append().err();
    assert!(matches!(refused, Some(StoreError::Unavailable(_))), "{refused:?}");
    pages_max(1_000_000);
    append().expect("there is room again");
}

// What https://www.sqlite.org/rescode.html calls SQLITE_READONLY and SQLITE_BUSY.
#[test]
fn a_read_only_or_locked_file_takes_nothing_for_now() {
    use diesel::connection::SimpleConnection;
    use diesel::prelude::*;
    let bench = bench();
    let append = || bench.store.append(&post(owner(1, 70)), &Programme);
    let set = |pragma: &str| {
        let done = bench.store.write(|conn| Ok(diesel::sql_query(pragma).execute(conn)?));
        done.expect("set");
    };
    set("PRAGMA query_only = ON");
    let read_only = append().err();
    assert!(matches!(read_only, Some(StoreError::Unavailable(_))), "{read_only:?}");
    set("PRAGMA query_only = OFF");
    set("PRAGMA busy_timeout = 0");
    let path = bench.database.folder().join("fleet.db");
    let mut other = SqliteConnection::establish(&path.to_string_lossy()).expect("it opens twice");
    other.batch_execute("BEGIN IMMEDIATE").expect("the other writes");
    let locked = append().err();
    assert!(matches!(locked, Some(StoreError::Unavailable(_))), "{locked:?}");
    other.batch_execute("COMMIT").expect("the other is done");
    append().expect("stored");
}
