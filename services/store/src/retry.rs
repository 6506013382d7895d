//! Trying a write again that another writer got in the way of.

use crate::error::StoreError;
use diesel::result::{DatabaseErrorKind, Error};
use std::thread;
use std::time::Duration;

/// How often a write is tried in all.
pub(crate) const TRIES_MAX: u32 = 6;
/// How long is waited before the second try; twice as long before each later one.
const PAUSE: Duration = Duration::from_millis(5);

/// Runs `attempt` until it succeeds, fails for good, or has been tried often enough.
pub(crate) fn retried<T>(
    tries_max: u32,
    mut attempt: impl FnMut() -> Result<T, StoreError>,
) -> Result<T, StoreError> {
    let mut pause = PAUSE;
    for _ in 1..tries_max {
        match attempt() {
            Err(error) if may_pass(&error) => {}
            done => return done,
        }
        thread::sleep(pause);
        pause *= 2;
    }
    attempt()
}

/// What a write fails with that another came before though it should not: it is tried again from its beginning.
pub(crate) fn overtaken(what: &str) -> StoreError {
    let said = Box::new(format!("{what} was written meanwhile"));
    Error::DatabaseError(DatabaseErrorKind::SerializationFailure, said).into()
}

/// Whether the same work may succeed when it is done again from its beginning.
pub(crate) fn may_pass(error: &StoreError) -> bool {
    let StoreError::Database(Error::DatabaseError(kind, _)) = error else { return false };
    matches!(
        kind,
        // Two wrote the same row first; whoever looks again finds it.
        DatabaseErrorKind::UniqueViolation
            // SQLSTATE 40001.
            | DatabaseErrorKind::SerializationFailure
            // SQLSTATE 40P01, a deadlock, is of no kind of its own. Nothing was kept, so that trying any other
            // of no kind again does no harm.
            | DatabaseErrorKind::Unknown
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn failed(kind: DatabaseErrorKind) -> StoreError {
        StoreError::Database(Error::DatabaseError(kind, Box::new("deadlock detected".to_owned())))
    }

    #[test]
    fn tries_until_it_succeeds_or_often_enough() {
        for (kind, succeeds_at, tries) in [
            (DatabaseErrorKind::Unknown, 3, 3),
            (DatabaseErrorKind::SerializationFailure, 9, 4),
            (DatabaseErrorKind::UniqueViolation, 4, 4),
            (DatabaseErrorKind::CheckViolation, 3, 1),
        ] {
            let mut tried = 0;
            let done = retried(4, || {
                tried += 1;
                if tried == succeeds_at { Ok(()) } else { Err(failed(kind)) }
            });
            assert_eq!((tried, done.is_ok()), (tries, succeeds_at <= 4 && tries > 1), "{kind:?}");
        }
    }
}
