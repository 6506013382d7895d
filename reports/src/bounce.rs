//! What comes back to the return addresses of our mails: whether it says that a mail failed, which, and for how
//! long.
//!
//! Only a delivery status notification (RFC 3464) tells that. What is written by people, or by a program on their
//! behalf while they are away (RFC 3834), says nothing about an address. Which mail it is about is known from the
//! address that it came to and from nothing in it, as anybody can write anything into a mail.

use lettre::Address;
use mail_parser::{Message, MessageParser, MessagePart, MimeHeaders as _};

/// The headers that name the address a mail was delivered to, as mail servers write them.
const DELIVERED_TO: [&str; 4] = ["Delivered-To", "X-Original-To", "Envelope-To", "To"];
/// Fields of a notification that are read, at most: a hostile one can be long.
const FIELDS_MAX: usize = 10_000;

/// What a mail that came in says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Incoming {
    /// That a mail of ours was not delivered.
    Failed {
        /// The tag of that mail's return address.
        tag: String,
        /// Whether it never will be (a status of class 5) or was not so far (class 4).
        permanent: bool,
        /// The enhanced status code of RFC 3463, such as `5.1.1`.
        status: String,
    },
    /// Nothing about whether one was delivered, and why not.
    Nothing(&'static str),
}

/// Reads a mail that came to one of our return addresses.
#[must_use]
pub fn read(mail: &[u8], returns: &Address) -> Incoming {
    let Some(mail) = MessageParser::default().parse(mail) else {
        return Incoming::Nothing("it is no mail");
    };
    let Some(tag) = tag(&mail, returns) else {
        return Incoming::Nothing("it did not come to an address that a mail of ours left under");
    };
    let kind = mail.root_part().content_type();
    let is_report = kind.is_some_and(|kind| {
        kind.ctype().eq_ignore_ascii_case("multipart")
            && kind.subtype().is_some_and(|it| it.eq_ignore_ascii_case("report"))
            && kind
                .attribute("report-type")
                .is_some_and(|it| it.eq_ignore_ascii_case("delivery-status"))
    });
    if !is_report {
        return Incoming::Nothing("it is no delivery status notification");
    }
    match mail.parts.iter().find(|part| is_status(part)).and_then(|part| worst(part.contents())) {
        Some((permanent, status)) => Incoming::Failed { tag, permanent, status },
        None => Incoming::Nothing("it says of nobody that delivery failed"),
    }
}

/// The tag of the first address of ours that it came to.
fn tag(mail: &Message<'_>, returns: &Address) -> Option<String> {
    let of_ours = |address: &str| {
        let (local, domain) = address.rsplit_once('@')?;
        let (name, tag) = local.split_once('+')?;
        let same = name.eq_ignore_ascii_case(returns.user())
            && domain.eq_ignore_ascii_case(returns.domain());
        same.then(|| tag.to_ascii_lowercase())
    };
    DELIVERED_TO.into_iter().find_map(|name| {
        mail.headers_raw()
            .filter(|(it, _)| it.eq_ignore_ascii_case(name))
            .flat_map(|(_, value)| value.split([' ', '\t', '\r', '\n', ',', '<', '>', '"']))
            .find_map(of_ours)
    })
}

fn is_status(part: &MessagePart<'_>) -> bool {
    part.content_type().is_some_and(|kind| {
        kind.ctype().eq_ignore_ascii_case("message")
            && kind.subtype().is_some_and(|it| {
                it.eq_ignore_ascii_case("delivery-status")
                    || it.eq_ignore_ascii_case("global-delivery-status")
            })
    })
}

/// The worst that a notification says of a recipient: whether for good, and the status. Each of our mails has one
/// recipient; there can be more where that was a list.
fn worst(fields: &[u8]) -> Option<(bool, String)> {
    let text = String::from_utf8_lossy(fields);
    let (mut found, mut action, mut status) = (None, String::new(), String::new());
    // An empty line ends what is said of one recipient; one more ends the last.
    for line in text.lines().take(FIELDS_MAX).chain([""]) {
        if line.trim().is_empty() {
            let is_worst = matches!(found, Some((true, _)));
            if let Some(failed) = failure(&action, &status).filter(|_| !is_worst) {
                found = Some(failed);
            }
            action.clear();
            status.clear();
        } else if let Some((name, value)) = line.split_once(':') {
            let value = uncommented(value);
            match name.trim().to_ascii_lowercase().as_str() {
                "action" => action = value.to_ascii_lowercase(),
                "status" => value.clone_into(&mut status),
                _ => {}
            }
        }
    }
    found
}

/// What one recipient's fields say (RFC 3464, sections 2.3.3 and 2.3.4), if they say that delivery failed or is
/// late.
fn failure(action: &str, status: &str) -> Option<(bool, String)> {
    let digits =
        |it: &str| !it.is_empty() && it.len() <= 3 && it.bytes().all(|it| it.is_ascii_digit());
    let parts: Vec<&str> = status.split('.').collect();
    if parts.len() != 3 || !parts.iter().all(|it| digits(it)) {
        return None;
    }
    let permanent = match (action, parts.first().copied()) {
        ("failed", Some("5")) => true,
        // Given up after days of trying, or still trying: the address may be well.
        ("failed" | "delayed", Some("4")) => false,
        _ => return None,
    };
    Some((permanent, status.to_owned()))
}

/// A field's value without what stands in parentheses (RFC 3464, section 2.1.1: comments).
fn uncommented(value: &str) -> &str {
    value.split('(').next().unwrap_or_default().trim()
}

#[cfg(test)]
#[path = "bounce_tests.rs"]
mod tests;
