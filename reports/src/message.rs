//! The bytes of a report's mail: its headers and its parts.

use crate::sender::{NAME_CHARS, Sender, address};
use gudgeon_life::words::clean;
use gudgeon_store::ReportRow;
use lettre::message::header::{ContentTransferEncoding, ContentType, HeaderName, HeaderValue};
use lettre::message::{Body, Mailbox, Message, MultiPart, MultiPartKind, SinglePart};
use std::time::{Duration, SystemTime};

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

#[cfg(test)]
#[path = "message_tests.rs"]
mod tests;
