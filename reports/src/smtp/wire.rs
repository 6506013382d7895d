//! A line to a mail server: bytes out and lines of answers in, in the clear or over TLS, each within a time limit
//! that no slow drip of bytes can stretch.

use super::reply;
use super::tls;
use crate::hand_over::Reply;
use rustls::{ClientConnection, StreamOwned};
use std::io::{self, Read, Write};
use std::net::TcpStream;
use std::time::{Duration, Instant};

/// The longest answer, in bytes. RFC 5321 (section 4.5.3.1.5) asks for 512 a line.
const ANSWER_BYTES: usize = 16 * 1024;
/// How much is read at a time.
const READ_BYTES: usize = 4096;
/// How much is written between two looks at the clock.
const WRITE_BYTES: usize = 16 * 1024;

enum Stream {
    Plain(TcpStream),
    Sealed(Box<StreamOwned<ClientConnection, TcpStream>>),
}

/// The line.
pub(super) struct Wire {
    stream: Stream,
    /// Read, and not yet understood.
    read: Vec<u8>,
    clock: fn() -> Instant,
}

impl Wire {
    /// A line over a connected socket. What is written leaves at once.
    pub(super) fn new(socket: TcpStream, clock: fn() -> Instant) -> io::Result<Self> {
        socket.set_nodelay(true)?;
        Ok(Self { stream: Stream::Plain(socket), read: Vec::new(), clock })
    }

    /// Goes over to TLS. Whatever else came in the clear is not believed: there must be nothing.
    pub(super) fn seal(
        &mut self,
        tls: &tls::Client,
        host: &str,
        limit: Duration,
    ) -> Result<(), String> {
        let Stream::Plain(socket) = &self.stream else { return Ok(()) };
        let mut socket = socket.try_clone().map_err(|error| words(&error))?;
        if !self.read.is_empty() {
            return Err("the server went on in the clear after STARTTLS".to_owned());
        }
        let until = (self.clock)() + limit;
        let mut connection = tls.begin(host)?;
        while connection.is_handshaking() {
            limit_socket(&socket, left(self.clock, until)).map_err(|error| words(&error))?;
            uninterrupted(|| connection.complete_io(&mut socket)).map_err(|error| words(&error))?;
        }
        self.stream = Stream::Sealed(Box::new(StreamOwned::new(connection, socket)));
        Ok(())
    }

    /// Writes all of it.
    pub(super) fn write(&mut self, bytes: &[u8], limit: Duration) -> Result<(), String> {
        let until = (self.clock)() + limit;
        for chunk in bytes.chunks(WRITE_BYTES) {
            self.limit(until).map_err(|error| words(&error))?;
            match &mut self.stream {
                Stream::Plain(socket) => socket.write_all(chunk),
                Stream::Sealed(stream) => {
                    stream.write_all(chunk).and_then(|()| uninterrupted(|| stream.flush()))
                }
            }
            .map_err(|error| words(&error))?;
        }
        Ok(())
    }

    /// Reads one answer, of one line or more; `lines` are its texts.
    pub(super) fn answer(&mut self, limit: Duration) -> Result<(Reply, Vec<String>), String> {
        let until = (self.clock)() + limit;
        let mut lines = Vec::new();
        let mut first = None;
        loop {
            let line = self.line(until)?;
            let Some((code, more, text)) = reply::line(&line) else {
                return Err("what answers is no mail server".to_owned());
            };
            if *first.get_or_insert(code) != code {
                return Err("the server answered two things at once".to_owned());
            }
            lines.push(text.to_owned());
            if !more {
                return Ok((reply::reply(code, &lines), lines));
            }
            if lines.iter().map(String::len).sum::<usize>() > ANSWER_BYTES {
                return Err("the server's answer does not end".to_owned());
            }
        }
    }

    /// One line without its end.
    fn line(&mut self, until: Instant) -> Result<String, String> {
        loop {
            if let Some(end) = self.read.iter().position(|byte| *byte == b'\n') {
                let line: Vec<u8> = self.read.drain(..=end).collect();
                return Ok(String::from_utf8_lossy(&line).trim_end().to_owned());
            }
            if self.read.len() > ANSWER_BYTES {
                return Err("the server's answer does not end".to_owned());
            }
            self.limit(until).map_err(|error| words(&error))?;
            let mut bytes = [0; READ_BYTES];
            let count = uninterrupted(|| match &mut self.stream {
                Stream::Plain(socket) => socket.read(&mut bytes),
                Stream::Sealed(stream) => stream.read(&mut bytes),
            })
            .map_err(|error| words(&error))?;
            match bytes.get(..count) {
                None | Some([]) => return Err("the server closed the connection".to_owned()),
                Some(got) => self.read.extend_from_slice(got),
            }
        }
    }

    fn limit(&self, until: Instant) -> io::Result<()> {
        let socket = match &self.stream {
            Stream::Plain(socket) => socket,
            Stream::Sealed(stream) => stream.get_ref(),
        };
        limit_socket(socket, left(self.clock, until))
    }
}

/// Goes on after a signal. A socket with a time limit does not do so by itself (signal(7) of Linux), and that the
/// process is asked to stop says nothing about a mail.
fn uninterrupted<T>(mut step: impl FnMut() -> io::Result<T>) -> io::Result<T> {
    loop {
        match step() {
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            done => return done,
        }
    }
}

/// The time that is left.
fn left(clock: fn() -> Instant, until: Instant) -> Duration {
    until.saturating_duration_since(clock())
}

fn limit_socket(socket: &TcpStream, left: Duration) -> io::Result<()> {
    if left.is_zero() {
        return Err(io::ErrorKind::TimedOut.into());
    }
    socket.set_read_timeout(Some(left))?;
    socket.set_write_timeout(Some(left))
}

/// What a person reads of it.
pub(super) fn words(error: &io::Error) -> String {
    match error.kind() {
        // Which of the two a socket says when its limit has passed depends on the system.
        io::ErrorKind::WouldBlock | io::ErrorKind::TimedOut => {
            "the server did not answer in time".to_owned()
        }
        io::ErrorKind::UnexpectedEof => "the server closed the connection".to_owned(),
        _ => error.to_string(),
    }
}
