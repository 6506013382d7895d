//! One conversation with a mail server: greeting, TLS, who we are, and then one mail after the other.

use super::tls;
use super::wire::{Wire, words};
use super::{Login, Patience, Relay, Security};
use crate::hand_over::{HandedOver, Reply};
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use std::net::{IpAddr, SocketAddr, TcpStream, ToSocketAddrs as _};
use std::time::{Duration, Instant};

/// How long a farewell may take: nobody waits for it.
const FAREWELL: Duration = Duration::from_millis(200);

/// Why a step did not succeed.
#[derive(Debug)]
pub(super) enum Trouble {
    /// The server said no.
    Answered(Reply),
    /// There was no answer.
    Lost(String),
}

impl Trouble {
    /// Whether the connection is at its end, so that another may do.
    pub(super) fn is_closing(&self) -> bool {
        match self {
            Self::Answered(reply) => reply.code == Some(421),
            Self::Lost(_) => true,
        }
    }

    fn words(self) -> String {
        match self {
            Self::Answered(reply) => reply.to_string(),
            Self::Lost(why) => why,
        }
    }
}

/// How far the conversation is.
#[derive(Clone, Copy, PartialEq, Eq)]
enum State {
    /// A mail can be begun.
    Ready,
    /// A mail was begun and not taken: the server has to forget it first.
    Begun,
    /// Nothing more can be said.
    Over,
}

/// The conversation.
pub(super) struct Session {
    wire: Wire,
    /// The server's extensions, as EHLO told them.
    offers: Vec<String>,
    hello: String,
    patience: Patience,
    state: State,
}

impl Session {
    /// Opens one, as far as a mail can be begun.
    ///
    /// The error says in words what is wrong: none of it is about a mail.
    pub(super) fn open(
        relay: &Relay,
        tls: &tls::Client,
        patience: Patience,
        clock: fn() -> Instant,
    ) -> Result<Self, String> {
        let at = |why: String| format!("mail server `{}:{}`: {why}", relay.host, relay.port);
        let socket = connect(relay, patience.step).map_err(at)?;
        let hello = socket
            .local_addr()
            .map_or_else(|error| Err(at(words(&error))), |local| Ok(literal(local)))?;
        let mut wire = Wire::new(socket, clock).map_err(|error| at(words(&error)))?;
        if relay.security == Security::Tls {
            wire.seal(tls, &relay.host, patience.step).map_err(at)?;
        }
        let offers = Vec::new();
        let mut session = Self { wire, offers, hello, patience, state: State::Ready };
        session.greet().map_err(|trouble| at(trouble.words()))?;
        if relay.security == Security::StartTls {
            session.start_tls(relay, tls).map_err(at)?;
        }
        if let Some(login) = &relay.login {
            session.log_in(login).map_err(at)?;
        }
        Ok(session)
    }

    fn greet(&mut self) -> Result<(), Trouble> {
        let (greeting, _) = self.wire.answer(self.patience.step).map_err(Trouble::Lost)?;
        taken(greeting, 2)?;
        self.hello()
    }

    fn hello(&mut self) -> Result<(), Trouble> {
        let command = format!("EHLO {}", self.hello);
        let (reply, lines) = self.ask(&command)?;
        taken(reply, 2)?;
        self.offers = lines.into_iter().skip(1).map(|line| line.to_ascii_uppercase()).collect();
        Ok(())
    }

    fn start_tls(&mut self, relay: &Relay, tls: &tls::Client) -> Result<(), String> {
        if self.offered("STARTTLS").is_none() {
            return Err("it offers no STARTTLS, and nothing is sent to it in the clear; set `security = \"tls\"` if its port is one of TLS from the first byte".to_owned());
        }
        self.command("STARTTLS", 2).map_err(Trouble::words)?;
        self.wire.seal(tls, &relay.host, self.patience.step)?;
        // What it offered before could have been written by anybody.
        self.hello().map_err(Trouble::words)
    }

    /// AUTH PLAIN (RFC 4616), or LOGIN where that is all there is.
    fn log_in(&mut self, login: &Login) -> Result<(), String> {
        let Some(mechanisms) = self.offered("AUTH") else {
            return Err(
                "it asks nobody for a password on this connection; leave out `user`".to_owned()
            );
        };
        let (plain, other) = (mechanisms.contains(&"PLAIN"), mechanisms.contains(&"LOGIN"));
        let refused =
            |trouble: Trouble| format!("it does not let `{}` in: {}", login.user, trouble.words());
        if plain {
            let secret = STANDARD.encode(format!("\0{}\0{}", login.user, login.password));
            self.command(&format!("AUTH PLAIN {secret}"), 2).map_err(refused)?;
        } else if other {
            self.command("AUTH LOGIN", 3).map_err(refused)?;
            self.command(&STANDARD.encode(&login.user), 3).map_err(refused)?;
            self.command(&STANDARD.encode(&login.password), 2).map_err(refused)?;
        } else {
            return Err("it takes passwords neither by PLAIN nor by LOGIN".to_owned());
        }
        Ok(())
    }

    /// The words that follow an extension's name, if it is offered.
    fn offered(&self, name: &str) -> Option<Vec<&str>> {
        self.offers.iter().find_map(|line| {
            let mut words = line.split_whitespace();
            (words.next() == Some(name)).then(|| words.collect())
        })
    }

    /// Begins a mail: says where it comes back to.
    pub(super) fn begin(&mut self, from: &str, to: &str) -> Result<(), Trouble> {
        let beyond_ascii = !(from.is_ascii() && to.is_ascii());
        let utf8 =
            if beyond_ascii && self.offered("SMTPUTF8").is_some() { " SMTPUTF8" } else { "" };
        self.state = State::Begun;
        self.command(&format!("MAIL FROM:<{from}>{utf8}"), 2)
    }

    /// Hands over the mail that was begun.
    pub(super) fn send(&mut self, to: &str, message: &[u8]) -> HandedOver {
        if !to.is_ascii() && self.offered("SMTPUTF8").is_none() {
            let words = "the server takes no address with letters beyond ASCII".to_owned();
            let enhanced = Some("5.6.7".to_owned());
            return HandedOver::Refused(Reply { code: None, enhanced, words });
        }
        let asked =
            self.command(&format!("RCPT TO:<{to}>"), 2).and_then(|()| self.command("DATA", 3));
        if let Err(trouble) = asked {
            return not_accepted(trouble);
        }
        if let Err(why) = self.wire.write(&stuffed(message), self.patience.content) {
            self.state = State::Over;
            return HandedOver::Deferred(Reply::without_code(why));
        }
        // From here on the dot may have left.
        let answer = self.wire.write(b".\r\n", self.patience.step);
        let answer = answer.and_then(|()| self.wire.answer(self.patience.answer));
        let reply = match answer {
            Ok((reply, _)) => reply,
            Err(why) => {
                self.state = State::Over;
                return HandedOver::Unknown(why);
            }
        };
        self.state = State::Ready;
        match reply.code {
            Some(200..300) => HandedOver::Accepted(reply.to_string()),
            Some(400..600) => {
                self.close_on_421(&reply);
                not_accepted(Trouble::Answered(reply))
            }
            _ => {
                self.state = State::Over;
                HandedOver::Unknown(format!("the server answered {reply}"))
            }
        }
    }

    /// Whether another mail can be begun, once the server has forgotten one that it did not take.
    pub(super) fn is_ready_again(&mut self) -> bool {
        if self.state == State::Begun && self.command("RSET", 2).is_ok() {
            self.state = State::Ready;
        }
        self.state == State::Ready
    }

    /// Says something, and wants an answer of this class: 2 for done, 3 for go on.
    fn command(&mut self, command: &str, class: u16) -> Result<(), Trouble> {
        let (reply, _) = self.ask(command)?;
        self.close_on_421(&reply);
        taken(reply, class)
    }

    fn ask(&mut self, command: &str) -> Result<(Reply, Vec<String>), Trouble> {
        let limit = self.patience.step;
        let written = self.wire.write(format!("{command}\r\n").as_bytes(), limit);
        written.and_then(|()| self.wire.answer(limit)).map_err(|why| {
            self.state = State::Over;
            Trouble::Lost(why)
        })
    }

    /// The server closes the connection after a 421 (RFC 5321, section 3.8).
    fn close_on_421(&mut self, reply: &Reply) {
        if reply.code == Some(421) {
            self.state = State::Over;
        }
    }
}

impl Drop for Session {
    fn drop(&mut self) {
        if self.state != State::Over {
            // Where it does not arrive, the server finds out by itself.
            let _ = self.wire.write(b"QUIT\r\n", FAREWELL);
        }
    }
}

/// What comes of a mail of which the server certainly did not take the whole.
fn not_accepted(trouble: Trouble) -> HandedOver {
    match trouble {
        Trouble::Answered(reply) if reply.code.is_some_and(|code| code >= 500) => {
            HandedOver::Refused(reply)
        }
        Trouble::Answered(reply) => HandedOver::Deferred(reply),
        Trouble::Lost(why) => HandedOver::Deferred(Reply::without_code(why)),
    }
}

/// Whether an answer is of a class. One that is neither that nor a no is none at all.
fn taken(reply: Reply, class: u16) -> Result<(), Trouble> {
    match reply.code {
        Some(code) if code / 100 == class => Ok(()),
        Some(400..600) => Err(Trouble::Answered(reply)),
        _ => Err(Trouble::Lost(format!("the server answered {reply}, which answers nothing"))),
    }
}

/// Connects to the first of the server's addresses that answers.
fn connect(relay: &Relay, limit: Duration) -> Result<TcpStream, String> {
    let addresses: Vec<SocketAddr> = (relay.host.as_str(), relay.port)
        .to_socket_addrs()
        .map_err(|error| format!("its address is not found: {error}"))?
        .collect();
    let beyond = addresses.iter().find(|it| !it.ip().is_loopback());
    if let (Security::NoneOnLoopback, Some(beyond)) = (relay.security, beyond) {
        return Err(format!(
            "`{}` is not on this machine, and nothing is sent to it in the clear; set `security` to \"starttls\" or \"tls\"",
            beyond.ip()
        ));
    }
    let each = limit / u32::try_from(addresses.len().max(1)).unwrap_or(u32::MAX);
    let mut why = "it has no address".to_owned();
    for address in addresses {
        match TcpStream::connect_timeout(&address, each) {
            Ok(socket) => return Ok(socket),
            Err(error) => why = format!("no connection: {}", words(&error)),
        }
    }
    Err(why)
}

/// Our own address as EHLO says it (RFC 5321, section 4.1.3).
fn literal(local: SocketAddr) -> String {
    match local.ip() {
        IpAddr::V4(ip) => format!("[{ip}]"),
        IpAddr::V6(ip) => format!("[IPv6:{ip}]"),
    }
}

/// A mail as it is written: a dot before each line that begins with one, and an end to the last line (RFC 5321,
/// section 4.5.2).
fn stuffed(message: &[u8]) -> Vec<u8> {
    let mut out = Vec::with_capacity(message.len() + 64);
    for line in message.split_inclusive(|byte| *byte == b'\n') {
        if line.first() == Some(&b'.') {
            out.push(b'.');
        }
        out.extend_from_slice(line);
    }
    if !out.ends_with(b"\r\n") {
        out.extend_from_slice(b"\r\n");
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    // RFC 5321, section 4.5.2.
    #[test]
    fn a_line_that_is_a_dot_does_not_end_the_mail() {
        assert_eq!(stuffed(b".\r\na\r\n..b\r\n"), b"..\r\na\r\n...b\r\n");
        assert_eq!(stuffed(b"a\r\nb"), b"a\r\nb\r\n");
        assert_eq!(stuffed(b""), b"\r\n");
    }
}
