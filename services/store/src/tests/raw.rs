//! Everything that a database keeps, as bytes, and whether given ones stand among them.

use super::sample::Bench;
use diesel::prelude::*;
use diesel::sql_types::Text;
use gudgeon_databases::Kind;

#[derive(QueryableByName)]
pub(super) struct Line {
    #[diesel(sql_type = Text)]
    pub(super) line: String,
}

/// Of a file, the file and what lies beside it; of a server, every row of every table as text, whose binary columns
/// are hexadecimal.
pub(super) fn raw(bench: &Bench) -> Vec<u8> {
    match bench.database.kind() {
        Kind::Sqlite => {
            let files = std::fs::read_dir(bench.database.folder()).expect("a folder");
            files.flat_map(|it| std::fs::read(it.expect("a file").path()).expect("bytes")).collect()
        }
        Kind::Postgres => {
            let lines = |sql: &str| -> Vec<String> {
                let load = |conn: &mut _| Ok(diesel::sql_query(sql).load::<Line>(conn)?);
                let lines = bench.store.read(load).expect("readable");
                lines.into_iter().map(|it| it.line).collect()
            };
            let tables =
                lines("SELECT tablename::text AS line FROM pg_tables WHERE schemaname = 'public'");
            assert!(tables.len() > 12, "{tables:?}");
            let rows = tables
                .iter()
                .flat_map(|table| lines(&format!("SELECT t::text AS line FROM \"{table}\" AS t")));
            rows.collect::<Vec<String>>().join("\n").into_bytes()
        }
    }
}

pub(super) fn hex(bytes: &[u8]) -> String {
    bytes.iter().fold(String::new(), |digits, byte| format!("{digits}{byte:02x}"))
}

/// Whether these bytes stand there, as they are or in hexadecimal.
pub(super) fn holds(raw: &[u8], bytes: &[u8]) -> bool {
    let stands = |needle: &[u8]| raw.windows(needle.len()).any(|it| it == needle);
    stands(bytes) || stands(hex(bytes).as_bytes())
}

/// Those of the words that stand in the database.
pub(super) fn left<'a>(bench: &Bench, words: &[&'a str]) -> Vec<&'a str> {
    let raw = raw(bench);
    words.iter().filter(|word| holds(&raw, word.as_bytes())).copied().collect()
}
