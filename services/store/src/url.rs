//! Reads a database URL. Nothing is ever guessed: a mistyped URL must not make an empty file of that name.

use crate::error::StoreError;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

/// Where a database is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Place {
    /// A file of `SQLite`.
    Sqlite(PathBuf),
}

/// Reads `sqlite:PATH`.
///
/// # Errors
/// [`StoreError::Url`] for anything else, with a sentence that says what would be right.
pub(crate) fn parse(url: &str) -> Result<Place, StoreError> {
    let refuse = |why: &str| {
        Err(StoreError::Url(format!(
            "`{url}` is no database URL: {why}; write `sqlite:` and the path of a file, such as sqlite:fleet.db"
        )))
    };
    let Some((scheme, path)) = url.split_once(':') else {
        return refuse("it names no kind of database");
    };
    match scheme {
        "sqlite" if path.is_empty() => refuse("the path is missing"),
        "sqlite" if path.starts_with("//") => refuse("one colon comes before the path, without `//`"),
        "sqlite" if path == ":memory:" => refuse("facts are kept in a file, never in memory alone"),
        "sqlite" if path.contains('\0') => refuse("the path holds a zero byte"),
        "sqlite" => Ok(Place::Sqlite(PathBuf::from(path))),
        "postgres" | "postgresql" => Err(StoreError::Url(
            "this build keeps its facts in an SQLite file and cannot open PostgreSQL; write `sqlite:` and the path of a file, such as sqlite:fleet.db"
                .to_owned(),
        )),
        _ => refuse("only `sqlite` is known"),
    }
}

/// The path as an `SQLite` URI that makes a file only when it may.
pub(crate) fn sqlite_uri(path: &Path, create: bool) -> Option<String> {
    let mut uri = "file:".to_owned();
    for byte in path.to_str()?.bytes() {
        if byte.is_ascii_alphanumeric() || b"/.-_~".contains(&byte) {
            uri.push(char::from(byte));
        } else {
            write!(uri, "%{byte:02X}").ok()?;
        }
    }
    uri.push_str(if create { "?mode=rwc" } else { "?mode=rw" });
    Some(uri)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_sqlite_and_nothing_else() {
        assert_eq!(parse("sqlite:a b.db").ok(), Some(Place::Sqlite(PathBuf::from("a b.db"))));
        assert_eq!(parse("sqlite:/x/y.db").ok(), Some(Place::Sqlite(PathBuf::from("/x/y.db"))));
        for bad in [
            "",
            "fleet.db",
            "sqlite:",
            "sqlite://x.db",
            "sqlite::memory:",
            "sqllite:x.db",
            "mysql:x",
        ] {
            let message = parse(bad).err().map(|error| error.to_string()).unwrap_or_default();
            assert!(message.contains("sqlite:fleet.db"), "{bad}: {message}");
        }
        let message = parse("postgres://host/db").err().map(|error| error.to_string());
        assert!(message.is_some_and(|text| text.contains("PostgreSQL")));
    }

    // RFC 3986 section 2.1: a percent sign and two hexadecimal digits.
    #[test]
    fn a_path_cannot_smuggle_options_into_the_uri() {
        let uri = sqlite_uri(Path::new("a?mode=rwc#%.db"), false);
        assert_eq!(uri.as_deref(), Some("file:a%3Fmode%3Drwc%23%25.db?mode=rw"));
    }
}
