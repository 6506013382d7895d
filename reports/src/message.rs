//! The bytes of a report's mail: its headers, its parts, its signature.

use crate::sender::{NAME_CHARS, Sender, address};
use gudgeon_life::words::clean;
use gudgeon_store::ReportRow;
use lettre::message::header::{
    ContentDisposition, ContentTransferEncoding, ContentType, HeaderName, HeaderValue,
};
use lettre::message::{Body, Mailbox, Message, MultiPart, MultiPartKind, SinglePart};
use std::time::{Duration, SystemTime};

/// What a calendar is called that comes with a mail.
const CALENDAR_NAME: &str = "engine-items-due.ics";
/// The longest link in a header: it has to stay on its line of 998 octets.
const LINK_CHARS: usize = 900;

/// What goes with a report besides its words.
#[derive(Clone, Copy, Debug, Default)]
pub struct Enclosed<'a> {
    /// Where one POST ends these mails (RFC 8058).
    pub unsubscribe: Option<&'a str>,
    /// A calendar (RFC 5545) to be attached.
    pub calendar: Option<&'a [u8]>,
}

/// The bytes of a report's mail: the same whenever they are made.
///
/// # Errors
/// In words, what keeps it from being a mail.
pub fn message(
    report: &ReportRow,
    sender: &Sender,
    enclosed: &Enclosed<'_>,
) -> Result<Vec<u8>, String> {
    let to = address(&report.to_address).ok_or("the address on record is not a mail address")?;
    let name = clean(&report.to_name, NAME_CHARS);
    let micros = u64::try_from(report.composed_at.0).ok().ok_or("it is dated before 1970")?;
    let made = Duration::from_micros(micros);
    let mut builder = Message::builder()
        .from(sender.from().clone())
        .reply_to(sender.reply_to().clone())
        .to(Mailbox::new((!name.is_empty()).then_some(name), to))
        .date(SystemTime::UNIX_EPOCH + made)
        .message_id(Some(report.message_id.clone()))
        .subject(report.subject.clone())
        .raw_header(header("Auto-Submitted", "auto-generated".to_owned()))
        .raw_header(header("X-Auto-Response-Suppress", "All".to_owned()))
        .raw_header(header("List-Id", sender.list_id(&report.kind)));
    if let Some(link) = enclosed.unsubscribe {
        builder = builder
            .raw_header(one_line("List-Unsubscribe", format!("<{}>", checked(link)?)))
            .raw_header(header("List-Unsubscribe-Post", "List-Unsubscribe=One-Click".to_owned()));
    }
    let message = builder.multipart(parts(report, enclosed)?).map_err(|error| error.to_string())?;
    sender.signed(message.formatted(), made.as_secs())
}

/// Text and page to choose from, and the calendar beside them.
fn parts(report: &ReportRow, enclosed: &Enclosed<'_>) -> Result<MultiPart, String> {
    let whose = format!("{}-{}", report.week, report.recipient);
    let alternative = MultiPart::builder()
        .kind(MultiPartKind::Alternative)
        .boundary(format!("part-{whose}"))
        .singlepart(part(ContentType::TEXT_PLAIN, &report.text)?)
        .singlepart(part(ContentType::TEXT_HTML, &report.html)?);
    let Some(calendar) = enclosed.calendar else { return Ok(alternative) };
    let kind = ContentType::parse("text/calendar; charset=utf-8; method=PUBLISH")
        .map_err(|error| error.to_string())?;
    let content = Body::new_with_encoding(calendar.to_vec(), ContentTransferEncoding::Base64)
        .ok()
        .ok_or("its calendar cannot be encoded")?;
    let calendar = SinglePart::builder()
        .header(kind)
        .header(ContentDisposition::attachment(CALENDAR_NAME))
        .body(content);
    Ok(MultiPart::builder()
        .kind(MultiPartKind::Mixed)
        .boundary(format!("whole-{whose}"))
        .multipart(alternative)
        .singlepart(calendar))
}

fn part(kind: ContentType, content: &str) -> Result<SinglePart, String> {
    let encoding = ContentTransferEncoding::QuotedPrintable;
    let body = Body::new_with_encoding(content.to_owned(), encoding)
        .ok()
        .ok_or("its content cannot be encoded")?;
    Ok(SinglePart::builder().header(kind).body(body))
}

/// A link that can stand between angle brackets in a header, and nothing else.
fn checked(link: &str) -> Result<&str, String> {
    let plain = |it: u8| it.is_ascii_graphic() && it != b'<' && it != b'>';
    let is_link = link.starts_with("https://") || link.starts_with("http://");
    if is_link && link.len() <= LINK_CHARS && link.bytes().all(plain) {
        Ok(link)
    } else {
        Err("the link that ends its mails is no link".to_owned())
    }
}

fn header(name: &'static str, value: String) -> HeaderValue {
    HeaderValue::new(HeaderName::new_from_ascii_str(name), value)
}

/// A header that is not folded, however long it is: some who verify signatures stumble over one that is.
fn one_line(name: &'static str, value: String) -> HeaderValue {
    HeaderValue::dangerous_new_pre_encoded(
        HeaderName::new_from_ascii_str(name),
        value.clone(),
        value,
    )
}

#[cfg(test)]
#[path = "message_tests.rs"]
mod tests;
