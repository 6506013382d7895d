//! Who the mails come from, and the headers that must stay the same from week to week.

use crate::dkim::Dkim;
use crate::message::Enclosed;
use gudgeon_life::ids::PartyId;
use gudgeon_life::words::clean;
use gudgeon_store::ReportRow;
use lettre::Address;
use lettre::message::Mailbox;
use std::fmt;
use std::sync::Arc;

/// The longest name in a header, in characters.
pub(crate) const NAME_CHARS: usize = 60;

/// Gives what goes with a report besides its words, or says what keeps it from being a mail.
type Enclose = dyn Fn(&ReportRow) -> Result<Enclosed, String> + Send + Sync;

/// Who the mails come from, and what each of them carries.
#[derive(Clone)]
pub struct Sender {
    from: Mailbox,
    reply_to: Mailbox,
    returns: Address,
    dkim: Option<Arc<Dkim>>,
    enclose: Option<Arc<Enclose>>,
}

impl fmt::Debug for Sender {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { from, reply_to, returns, dkim, .. } = self;
        f.debug_struct("Sender")
            .field("from", from)
            .field("reply_to", reply_to)
            .field("returns", returns)
            .field("dkim", dkim)
            .finish_non_exhaustive()
    }
}

/// A setting that is not a mail address.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SenderError {
    /// Which setting: `from`, `reply-to` or `bounces`.
    pub setting: &'static str,
    /// As written.
    pub found: String,
}

impl fmt::Display for SenderError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "the mail setting `{}` is `{}`; write one address, such as `Engine reports <reports@example.org>`",
            self.setting, self.found
        )
    }
}

impl std::error::Error for SenderError {}

impl Sender {
    /// From the two settings, each one address with or without a name. `reply_to` must reach a person.
    ///
    /// # Errors
    /// [`SenderError`] names the setting.
    pub fn new(from: &str, reply_to: &str) -> Result<Self, SenderError> {
        let mailbox = |setting, found: &str| {
            mailbox(found).ok_or_else(|| SenderError { setting, found: found.to_owned() })
        };
        let from = mailbox("from", from)?;
        let returns = from.email.clone();
        Ok(Self {
            from,
            reply_to: mailbox("reply-to", reply_to)?,
            returns,
            dkim: None,
            enclose: None,
        })
    }

    /// The same, with another address for mails that come back. Each leaves under it with a tag of its own, such
    /// as `bounces+0a1b2c3d4e5f60718293@example.org`.
    ///
    /// # Errors
    /// [`SenderError`] when it is no address.
    pub fn returning_to(self, bounces: &str) -> Result<Self, SenderError> {
        let returns = address(bounces)
            .ok_or_else(|| SenderError { setting: "bounces", found: bounces.to_owned() })?;
        Ok(Self { returns, ..self })
    }

    /// The same, with every mail signed.
    #[must_use]
    pub fn signing(self, dkim: Dkim) -> Self {
        Self { dkim: Some(Arc::new(dkim)), ..self }
    }

    /// The same, with what goes with each report: the same whenever it is asked for the same one.
    #[must_use]
    pub fn enclosing(
        self,
        enclose: impl Fn(&ReportRow) -> Result<Enclosed, String> + Send + Sync + 'static,
    ) -> Self {
        Self { enclose: Some(Arc::new(enclose)), ..self }
    }

    /// What goes with a report.
    pub(crate) fn enclosed(&self, report: &ReportRow) -> Result<Enclosed, String> {
        self.enclose.as_ref().map_or_else(|| Ok(Enclosed::default()), |enclose| enclose(report))
    }

    /// The address that mails come back to, without a tag.
    #[must_use]
    pub const fn returns(&self) -> &Address {
        &self.returns
    }

    /// The address that one mail comes back to.
    #[must_use]
    pub fn return_path(&self, report: &ReportRow) -> String {
        format!("{}+{}@{}", self.returns.user(), report.return_tag, self.returns.domain())
    }

    /// A mail made at this time, in seconds since 1970, with its signature if it gets one.
    pub(crate) fn signed(&self, message: Vec<u8>, at: u64) -> Result<Vec<u8>, String> {
        match &self.dkim {
            Some(dkim) => dkim.sign(&message, at),
            None => Ok(message),
        }
    }

    /// The address that the mails come from.
    #[must_use]
    pub const fn from(&self) -> &Mailbox {
        &self.from
    }

    /// The address that answers go to.
    #[must_use]
    pub const fn reply_to(&self) -> &Mailbox {
        &self.reply_to
    }

    /// The `Message-ID` of somebody's mail of a kind and week: the same however often it is made.
    #[must_use]
    pub fn message_id(&self, kind: &str, week: &str, recipient: PartyId) -> String {
        format!("<{kind}.{week}.{recipient}@{}>", self.domain())
    }

    /// The `List-Id` of the weekly mails of a kind (RFC 2919).
    #[must_use]
    pub fn list_id(&self, kind: &str) -> String {
        format!("Weekly engine items due <{kind}-weekly.{}>", self.domain())
    }

    fn domain(&self) -> &str {
        self.from.email.domain()
    }
}

/// An owner's address, if it is one that a mail can be sent to.
#[must_use]
pub fn address(text: &str) -> Option<Address> {
    text.trim().parse().ok()
}

/// `Name <address>` or an address alone. The name may hold anything that a header can quote, so parentheses
/// need no care in a settings file.
fn mailbox(text: &str) -> Option<Mailbox> {
    let Some((name, rest)) = text.trim().split_once('<') else {
        return address(text).map(|address| Mailbox::new(None, address));
    };
    let address = address(rest.strip_suffix('>')?)?;
    let name = clean(name.trim().trim_matches('"'), NAME_CHARS);
    Some(Mailbox::new((!name.is_empty()).then_some(name), address))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn takes_an_address_with_or_without_a_name() {
        for (text, name) in [
            ("reports@example.org", None),
            ("<reports@example.org>", None),
            ("Engine reports <reports@example.org>", Some("Engine reports")),
            ("Engine reports (invented) <reports@example.org>", Some("Engine reports (invented)")),
            ("\"Reports, weekly\" <reports@example.org>", Some("Reports, weekly")),
        ] {
            let read = mailbox(text).expect(text);
            assert_eq!(read.name.as_deref(), name, "{text}");
            assert_eq!(read.email.to_string(), "reports@example.org", "{text}");
        }
        for text in ["", "reports", "a <b", "a <b@c> d", "a@b.c, d@e.f", "a <a@b.c\r\nBcc: d@e.f>"]
        {
            assert!(mailbox(text).is_none(), "{text}");
        }
    }

    #[test]
    fn names_the_setting_that_is_wrong() {
        let wrong = Sender::new("reports@example.org", "nobody").expect_err("no address");
        assert_eq!(wrong.setting, "reply-to");
    }
}
