//! Delivering into a folder: one `.eml` file per queued report, as a mail program opens it.
//!
//! A file is written under a temporary name and renamed before its report is marked delivered. A crash in
//! between leaves the report queued; the next run writes the same bytes under the same name.

use crate::sender::{NAME_CHARS, Sender, address};
use gudgeon_life::ids::PartyId;
use gudgeon_life::words::{clean, short_id};
use gudgeon_store::{Instant, ReportRow, Store, StoreError};
use lettre::message::header::{ContentTransferEncoding, ContentType, HeaderName, HeaderValue};
use lettre::message::{Body, Mailbox, Message, MultiPart, MultiPartKind, SinglePart};
use std::fmt;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

/// Reports read at a time.
const CHUNK: i64 = 100;
/// The longest owner's name in a file name, in characters.
const SLUG_CHARS: usize = 24;

/// What one delivery run did.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct DeliverySummary {
    /// The files written, in the order of the queue.
    pub written: Vec<PathBuf>,
    /// Reports that cannot be delivered; they stay queued.
    pub failed: Vec<Failed>,
}

/// A report that could not be delivered.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Failed {
    /// Whose.
    pub recipient: PartyId,
    /// Of which week.
    pub week: String,
    /// What is wrong; not the address itself.
    pub why: String,
}

/// Why a delivery run could not go on. What was delivered before stays delivered.
#[derive(Debug)]
pub enum DeliveryError {
    /// The database.
    Store(StoreError),
    /// The folder.
    Folder {
        /// The file or folder concerned.
        path: PathBuf,
        /// What the system said.
        error: std::io::Error,
    },
}

impl fmt::Display for DeliveryError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Store(error) => error.fmt(f),
            Self::Folder { path, error } => {
                write!(f, "`{}` cannot be written: {error}", path.display())
            }
        }
    }
}

impl std::error::Error for DeliveryError {}

impl From<StoreError> for DeliveryError {
    fn from(error: StoreError) -> Self {
        Self::Store(error)
    }
}

/// Writes every queued report into a folder and marks it delivered. Safe to repeat.
///
/// # Errors
/// [`DeliveryError`] when the database or the folder fails.
pub fn deliver_to_folder(
    store: &Store,
    sender: &Sender,
    folder: &Path,
    at: Instant,
) -> Result<DeliverySummary, DeliveryError> {
    std::fs::create_dir_all(folder)
        .map_err(|error| DeliveryError::Folder { path: folder.to_owned(), error })?;
    let mut summary = DeliverySummary::default();
    let mut after = 0;
    loop {
        let reports = store.reports_to_deliver(after, CHUNK)?;
        let Some(last) = reports.last() else {
            return Ok(summary);
        };
        after = last.key;
        for report in &reports {
            let message = match message(report, sender) {
                Ok(message) => message,
                Err(why) => {
                    tracing::warn!(recipient = %report.recipient, week = report.week, why, "a report cannot be delivered");
                    let week = report.week.clone();
                    summary.failed.push(Failed { recipient: report.recipient, week, why });
                    continue;
                }
            };
            let path = folder.join(file_name(report));
            write_whole(&path, &message)
                .map_err(|error| DeliveryError::Folder { path: path.clone(), error })?;
            if store.report_delivered(report.key, at)? {
                summary.written.push(path);
            }
        }
    }
}

/// The bytes of a report's mail: the same whenever they are made.
///
/// # Errors
/// In words, what keeps it from being a mail.
pub fn message(report: &ReportRow, sender: &Sender) -> Result<Vec<u8>, String> {
    let to = address(&report.to_address).ok_or("the address on record is not a mail address")?;
    let name = clean(&report.to_name, NAME_CHARS);
    let micros = u64::try_from(report.composed_at.0).ok().ok_or("it is dated before 1970")?;
    let part = |kind: ContentType, content: &str| {
        Body::new_with_encoding(content.to_owned(), ContentTransferEncoding::QuotedPrintable)
            .map(|body| SinglePart::builder().header(kind).body(body))
            .ok()
            .ok_or("its content cannot be encoded")
    };
    let alternative = MultiPart::builder()
        .kind(MultiPartKind::Alternative)
        .boundary(format!("part-{}-{}", report.week, report.recipient))
        .singlepart(part(ContentType::TEXT_PLAIN, &report.text)?)
        .singlepart(part(ContentType::TEXT_HTML, &report.html)?);
    Message::builder()
        .from(sender.from().clone())
        .reply_to(sender.reply_to().clone())
        .to(Mailbox::new((!name.is_empty()).then_some(name), to))
        .date(SystemTime::UNIX_EPOCH + Duration::from_micros(micros))
        .message_id(Some(report.message_id.clone()))
        .subject(report.subject.clone())
        .raw_header(header("Auto-Submitted", "auto-generated".to_owned()))
        .raw_header(header("List-Id", sender.list_id()))
        .multipart(alternative)
        .map(|message| message.formatted())
        .map_err(|error| error.to_string())
}

fn header(name: &'static str, value: String) -> HeaderValue {
    HeaderValue::new(HeaderName::new_from_ascii_str(name), value)
}

/// Such as `2026-W48-invented-flying-club-0c07398f.eml`.
fn file_name(report: &ReportRow) -> String {
    let letters = report.to_name.chars().map(|c| if c.is_ascii_alphanumeric() { c } else { ' ' });
    let letters: String = letters.collect::<String>().to_lowercase();
    let words: Vec<&str> = letters.split_whitespace().collect();
    let slug: String = words.join("-").chars().take(SLUG_CHARS).collect();
    let parts = [report.week.as_str(), slug.trim_end_matches('-'), &short_id(report.recipient.0)];
    let parts: Vec<&str> = parts.into_iter().filter(|part| !part.is_empty()).collect();
    format!("{}.eml", parts.join("-"))
}

/// All of it or nothing under the final name.
fn write_whole(path: &Path, bytes: &[u8]) -> std::io::Result<()> {
    let partial = path.with_extension("eml.partial");
    let mut file = std::fs::File::create(&partial)?;
    file.write_all(bytes)?;
    file.sync_all()?;
    std::fs::rename(&partial, path)
}

#[cfg(test)]
#[path = "deliver_tests.rs"]
mod tests;
