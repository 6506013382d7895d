//! Records as lines of a file: written with counts and a sum, read back with every line checked.

use super::record::{Counts, End, Header, Record, VERSION};
use super::verify::{Fault, FaultAt};
use crate::bytes::Digest;
use crate::error::StoreError;
use crate::values::Instant;
use sha2::{Digest as _, Sha256};
use std::io::{BufRead, Read as _, Write};

/// The longest line that is read, in bytes; a mail is far shorter.
const LINE_BYTES_MAX: u64 = 16 * 1024 * 1024;

/// Writes records.
pub(super) struct Writer<'a> {
    to: &'a mut dyn Write,
    hasher: Sha256,
    counts: Counts,
}

impl<'a> Writer<'a> {
    /// Writes the first line.
    pub(super) fn new(to: &'a mut dyn Write, made_at: Instant) -> Result<Self, StoreError> {
        let mut writer = Self { to, hasher: Sha256::new(), counts: Counts::default() };
        writer.put(&Record::Export(Header { v: VERSION, made_at: made_at.0 }))?;
        Ok(writer)
    }

    /// Writes one line.
    pub(super) fn put(&mut self, record: &Record) -> Result<(), StoreError> {
        let mut line = line(record)?;
        line.push(b'\n');
        self.hasher.update(&line);
        self.counts.count(record);
        self.to.write_all(&line)?;
        Ok(())
    }

    /// Writes the last line, and gives its counts.
    pub(super) fn end(mut self) -> Result<Counts, StoreError> {
        let counts = self.counts;
        let sha256 = Digest(self.hasher.clone().finalize().into());
        self.put(&Record::End(End { counts, sha256 }))?;
        self.to.flush()?;
        Ok(counts)
    }
}

/// The one way in which a record is written.
fn line(record: &Record) -> Result<Vec<u8>, StoreError> {
    serde_json::to_vec(record).map_err(|error| StoreError::Corrupt(error.to_string()))
}

/// Reads records. What is wrong with a line is a fault that names it.
pub(super) struct Reader<'a> {
    from: &'a mut dyn BufRead,
    hasher: Sha256,
    counts: Counts,
    line: u64,
    section: u8,
    ended: bool,
}

impl<'a> Reader<'a> {
    pub(super) fn new(from: &'a mut dyn BufRead) -> Self {
        let (hasher, counts) = (Sha256::new(), Counts::default());
        Self { from, hasher, counts, line: 0, section: 0, ended: false }
    }

    /// The number of the line read last.
    pub(super) const fn line(&self) -> u64 {
        self.line
    }

    /// How many facts were read.
    pub(super) const fn facts(&self) -> u64 {
        self.counts.facts
    }

    /// The next record; `None` behind the last line.
    pub(super) fn next(&mut self) -> Result<Option<Record>, StoreError> {
        let mut bytes = Vec::new();
        self.from.take(LINE_BYTES_MAX).read_until(b'\n', &mut bytes)?;
        if bytes.is_empty() && self.ended {
            return Ok(None);
        }
        self.line += 1;
        if self.ended {
            return Err(self.fault("nothing follows the line `end`"));
        }
        if bytes.is_empty() {
            return Err(self.fault("missing: the file was cut off, its last line is `end`"));
        }
        let record = self.record(&bytes)?;
        self.place(&record)?;
        self.hasher.update(&bytes);
        self.counts.count(&record);
        Ok(Some(record))
    }

    /// A line as a record, if it is written as we write it to the last byte.
    fn record(&self, bytes: &[u8]) -> Result<Record, StoreError> {
        let Some(text) = bytes.strip_suffix(b"\n") else {
            return Err(self.fault("it was cut off, or is longer than any line of ours"));
        };
        let record: Record = serde_json::from_slice(text)
            .map_err(|error| self.fault(&format!("it cannot be read: {error}")))?;
        if line(&record)? != text {
            return Err(self.fault("it is not written as an export is"));
        }
        Ok(record)
    }

    /// Checks that a record stands where it may.
    fn place(&mut self, record: &Record) -> Result<(), StoreError> {
        let section = record.section();
        if (self.line == 1) != (section == 0) {
            return Err(self.fault("an export begins with the line `export`, and has one of it"));
        }
        if section < self.section {
            return Err(self.fault("it is out of order: engine types, streams with their facts, anchors, keys, mails and photographs follow one another"));
        }
        self.section = section;
        match record {
            Record::Export(header) if header.v != VERSION => Err(self.fault(&format!(
                "it is of version {}, and this program reads version {VERSION}",
                header.v
            ))),
            Record::End(end) => self.end(end),
            _ => Ok(()),
        }
    }

    fn end(&mut self, end: &End) -> Result<(), StoreError> {
        self.ended = true;
        if end.counts != self.counts {
            return Err(self.fault("the lines before it are not as many as it says"));
        }
        if end.sha256.0 != <[u8; 32]>::from(self.hasher.clone().finalize()) {
            return Err(self.fault("the lines before it are not what its sum was made from"));
        }
        Ok(())
    }

    fn fault(&self, what: &str) -> StoreError {
        let fault = Fault { line: None, at: FaultAt::File, what: what.to_owned() };
        StoreError::Damaged(fault.on_line(Some(self.line)))
    }
}
