//! Handing mails over to a mail server by SMTP (RFC 5321), each to one recipient, over connections that are kept.
//!
//! Nothing is sent before the server has proved who it is by its certificate, unless it is on this machine and
//! the settings say that it needs none. Every step has a time limit, and all of them together end well within the
//! lease of a mail. What came of a mail follows from how far it got: until the final dot it was certainly not
//! accepted; once the dot may have left, only an answer tells.
//!
//! The conversation is our own. A library's would have to take sockets with `TCP_NODELAY`, or each mail waits for
//! a delayed acknowledgement; limit a whole step, not each byte of a slow one; and tell a line that broke before
//! the final dot from one that broke after it.

mod reply;
mod session;
mod tls;
mod wire;

use crate::hand_over::{Carrier, HandedOver, Reply};
use crate::sender::Sender;
use gudgeon_store::ReportRow;
use session::{Session, Trouble};
use std::fmt;
use std::path::PathBuf;
use std::sync::Mutex;
use std::time::{Duration, Instant};

pub use tls::TlsError;

/// How a connection is kept private.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Security {
    /// It begins in the clear and goes over to TLS before anything else is said (RFC 3207).
    StartTls,
    /// It is TLS from the first byte (RFC 8314).
    Tls,
    /// Not at all. Any address but a loopback one is refused.
    NoneOnLoopback,
}

/// Who is let in with which password.
#[derive(Clone)]
pub struct Login {
    /// The name.
    pub user: String,
    /// The password.
    pub password: String,
}

// The password goes nowhere but to the server.
impl fmt::Debug for Login {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Login").field("user", &self.user).finish_non_exhaustive()
    }
}

/// The mail server that takes our mails.
#[derive(Clone, Debug)]
pub struct Relay {
    /// Its name, which its certificate must be for.
    pub host: String,
    /// Its port.
    pub port: u16,
    /// How the connection is kept private.
    pub security: Security,
    /// How we are let in, where that is asked for.
    pub login: Option<Login>,
    /// A file with the certificates, in PEM, that its own must come from; those that the system trusts if left
    /// out.
    pub authorities: Option<PathBuf>,
}

/// How long is waited, at most.
#[derive(Clone, Copy, Debug)]
pub struct Patience {
    /// For one step before the mail itself: connecting, each command with its answer.
    pub step: Duration,
    /// For the mail itself to leave.
    pub content: Duration,
    /// For the answer to it.
    pub answer: Duration,
}

/// Steps of one mail on a new connection, at most: connecting, greeting, two times EHLO, STARTTLS, the handshake,
/// three lines of AUTH, MAIL, RCPT, DATA.
const STEPS_MAX: u32 = 12;

impl Default for Patience {
    /// RFC 5321 (section 4.5.3.2) asks for several minutes a step of those who deliver to strangers; this is for
    /// one's own server, and all of it ends within the lease of a mail.
    fn default() -> Self {
        Self {
            step: Duration::from_secs(8),
            content: Duration::from_secs(40),
            answer: Duration::from_secs(100),
        }
    }
}

impl Patience {
    /// The longest that one mail can take.
    #[must_use]
    pub fn in_all(&self) -> Duration {
        self.step * STEPS_MAX + self.content + self.answer
    }
}

/// A carrier to one mail server.
pub struct Smtp {
    relay: Relay,
    tls: tls::Client,
    sender: Sender,
    patience: Patience,
    clock: fn() -> Instant,
    idle: Mutex<Vec<Session>>,
}

impl Smtp {
    /// For one server and one sender. Nothing is opened yet. The clock only measures how long steps take.
    ///
    /// # Errors
    /// [`TlsError`] when the certificates to trust cannot be read.
    pub fn new(
        relay: Relay,
        sender: Sender,
        patience: Patience,
        clock: fn() -> Instant,
    ) -> Result<Self, TlsError> {
        let tls = tls::Client::new(relay.authorities.as_deref())?;
        Ok(Self { relay, tls, sender, patience, clock, idle: Mutex::default() })
    }

    /// Hands one mail over, to one recipient. `from` is where it comes back to.
    pub fn send(&self, from: &str, to: &str, message: &[u8]) -> HandedOver {
        if let Some(session) = self.take_idle() {
            // The server may have closed it since, or close it now: nothing has left yet, and a new one will do.
            if let Some(ended) = self.over(session, from, to, message, true) {
                return ended;
            }
        }
        match Session::open(&self.relay, &self.tls, self.patience, self.clock) {
            Ok(session) => self.over(session, from, to, message, false).unwrap_or_else(|| {
                HandedOver::Deferred(Reply::without_code("the server closed a new connection"))
            }),
            Err(why) => HandedOver::Deferred(Reply::without_code(why)),
        }
    }

    /// Hands one mail over on a connection, and keeps that for the next one if it still can be used. `None` when
    /// `reused` and it was closed before the mail was begun.
    fn over(
        &self,
        mut session: Session,
        from: &str,
        to: &str,
        message: &[u8],
        reused: bool,
    ) -> Option<HandedOver> {
        let ended = match session.begin(from, to) {
            Err(trouble) if reused && trouble.is_closing() => return None,
            Err(trouble) => trouble.of_sender(),
            Ok(()) => session.send(to, message),
        };
        if session.is_ready_again() {
            self.put_idle(session);
        }
        Some(ended)
    }

    fn take_idle(&self) -> Option<Session> {
        self.idle.lock().unwrap_or_else(std::sync::PoisonError::into_inner).pop()
    }

    fn put_idle(&self, session: Session) {
        self.idle.lock().unwrap_or_else(std::sync::PoisonError::into_inner).push(session);
    }
}

impl fmt::Debug for Smtp {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Smtp").field("relay", &self.relay).finish_non_exhaustive()
    }
}

impl Carrier for Smtp {
    /// The receipt is what the server answered.
    fn hand_over(&self, report: &ReportRow, message: &[u8]) -> HandedOver {
        self.send(&self.sender.return_path(report), report.to_address.trim(), message)
    }
}

impl Trouble {
    /// What comes of a mail whose sender was not taken. Even a refusal for good is not about the mail or its
    /// recipient: it concerns every mail, until somebody sees to the settings.
    fn of_sender(self) -> HandedOver {
        match self {
            Self::Answered(reply) if reply.code.is_some_and(|code| code < 500) => {
                HandedOver::Deferred(reply)
            }
            Self::Answered(reply) => HandedOver::Deferred(Reply::without_code(format!(
                "the server does not take mails from us: {reply}"
            ))),
            Self::Lost(why) => HandedOver::Deferred(Reply::without_code(why)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::deliver::LEASE_MICROS;

    #[test]
    fn a_mail_ends_within_its_lease() {
        let lease = Duration::from_micros(u64::try_from(LEASE_MICROS).expect("positive"));
        assert!(Patience::default().in_all() * 5 / 4 < lease);
    }

    #[test]
    fn a_password_is_not_shown() {
        let login = Login { user: "reports".to_owned(), password: "secret".to_owned() };
        assert!(!format!("{login:?}").contains("secret"));
    }
}
