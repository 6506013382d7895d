//! Everything on record as one stream of records: written as a backup, read as a restore, walked by `verify`.
//!
//! The file is text of one JSON object a line, each written in exactly one way:
//!
//! 1. `export`: the format's version and when it was made;
//! 2. `engine-type`: every version of every engine type;
//! 3. `stream`, in order of (kind, identifier): its head and which of its heads were anchored, and then its
//!    facts from the first to the last, each `fact` with all that its hash covers and with its private text
//!    unless that was erased;
//! 4. `anchor`, in order: what each weekly run left;
//! 5. `key`: the digests of keys, not the keys;
//! 6. `preference`, in order of (party, kind): how each wants its reports;
//! 7. `calendar-entry`, in order of (party, event): what the calendar of each owner told;
//! 8. `week-run`, in order of week: what its reports came to;
//! 9. `wear-prior`, in order of (type, version): how its engines wear, as it was worked out on a day. From today's
//!    facts it would come out otherwise, and due lines follow it;
//! 10. `report`: the reports, each with its mail once that was composed, but for words that were taken or are
//!     damaged, and with every attempt to hand it over;
//! 11. `bounce`: which of them came back, under the digests of their addresses;
//! 12. `photo`, in order of digest: every photograph that was not erased, in base64, and who sent it;
//! 13. `end`: how many there are of each, and the SHA-256 of all lines before it.
//!
//! What else a database holds follows from the facts and is worked out anew. The same records give the same
//! lines from whichever database.

mod lines;
mod record;
mod restore;
mod source;
mod verify;

pub use record::Counts;
pub use verify::{Fault, FaultAt, Verified};

use crate::conn::Store;
use crate::error::StoreError;
use crate::values::Instant;
use lines::{Reader, Writer};
use std::io::{BufRead, Write};
use verify::Verifier;

/// What went into a backup.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Written {
    /// How many records of each kind.
    pub counts: Counts,
    /// What was found whole, or the first fault, for which a restore will refuse it.
    pub found: Result<Verified, Fault>,
}

/// Called from time to time with the number of facts that are done.
type Progress<'a> = &'a mut dyn FnMut(u64);

impl Store {
    /// Writes everything on record, as it is at one moment, while others read and write. It is checked on the
    /// way, as [`Store::verify`] does; a fault stops nothing, because the rest may be all that is left.
    ///
    /// # Errors
    /// [`StoreError::File`] when it cannot be written; others when the database fails.
    pub fn backup(
        &self,
        to: &mut dyn Write,
        made_at: Instant,
        progress: Progress<'_>,
    ) -> Result<Written, StoreError> {
        self.read(|conn| {
            let mut writer = Writer::new(to, made_at)?;
            let mut verifier = Verifier::default();
            let mut first = None;
            source::everything(conn, progress, &mut |record| {
                if first.is_none() {
                    first = verifier.take(&record, None).err();
                }
                writer.put(&record)
            })?;
            let found = first.map_or_else(|| verifier.finish(), Err);
            Ok(Written { counts: writer.end()?, found })
        })
    }

    /// Works out anew every hash of every chain and anchor from what is stored, and compares. Gives the first
    /// fault in the inner result.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn verify(&self, progress: Progress<'_>) -> Result<Result<Verified, Fault>, StoreError> {
        told_apart(self.read(|conn| {
            let mut verifier = Verifier::default();
            let mut take = |record| Ok(verifier.take(&record, None)?);
            source::chains(conn, progress, &mut take)?;
            source::photos(conn, &mut take)?;
            Ok(verifier.finish()?)
        }))
    }
}

/// Does the same from a backup alone, with no database.
///
/// # Errors
/// [`StoreError::File`] when it cannot be read.
pub fn verify_export(
    from: &mut dyn BufRead,
    progress: Progress<'_>,
) -> Result<Result<Verified, Fault>, StoreError> {
    let mut walk = || {
        let mut reader = Reader::new(from);
        let mut verifier = Verifier::default();
        while let Some(record) = reader.next()? {
            verifier.take(&record, Some(reader.line()))?;
            progress(reader.facts());
        }
        Ok(verifier.finish().map_err(|fault| fault.on_line(Some(reader.line())))?)
    };
    told_apart(walk())
}

/// A fault found is an answer, and no failure to answer.
fn told_apart(done: Result<Verified, StoreError>) -> Result<Result<Verified, Fault>, StoreError> {
    match done {
        Ok(verified) => Ok(Ok(verified)),
        Err(StoreError::Damaged(fault)) => Ok(Err(fault)),
        Err(error) => Err(error),
    }
}
