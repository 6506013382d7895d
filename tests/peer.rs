//! A mail server that does what a test tells it at each step, good or bad, and remembers what it was given.

use std::io::{BufRead as _, BufReader, Write as _};
use std::net::{SocketAddr, TcpListener, TcpStream};
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::Duration;

/// Between two bytes of an answer that drips.
const DRIP: Duration = Duration::from_millis(20);

/// Where a conversation is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Step {
    /// The client has connected and waits for the greeting.
    Greeting,
    /// It has said EHLO.
    Ehlo,
    /// It has named who the mail is from.
    Mail,
    /// It has named whom it is for.
    Rcpt,
    /// It wants to send it.
    Data,
    /// It has sent all of it, with the final dot.
    Dot,
}

impl Step {
    /// All of them, in order.
    pub const ALL: [Self; 6] =
        [Self::Greeting, Self::Ehlo, Self::Mail, Self::Rcpt, Self::Data, Self::Dot];
}

/// What the server does there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Act {
    /// As a server should.
    Well,
    /// It answers this instead; a mail is not taken.
    Say(&'static str),
    /// It closes the connection without an answer; a mail is not taken.
    Close,
    /// It closes the connection without an answer, having taken the mail.
    TakeAndClose,
    /// It answers as it should, and closes the connection.
    WellAndClose,
    /// Its answer comes a byte at a time and does not end.
    Drip,
    /// It says nothing, and waits for the client to go.
    Hang,
}

/// A mail that was taken.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Taken {
    /// The address that it comes back to.
    pub from: String,
    /// Whom it is for: one.
    pub to: String,
    /// All of it.
    pub message: String,
}

/// What the server remembers.
#[derive(Debug, Default)]
struct Memory {
    connections: usize,
    reached: Vec<Step>,
    commands: Vec<String>,
    taken: Vec<Taken>,
}

/// What is done at a step of a mail to this address (empty before one is named), the how manieth it is on this
/// server.
type Script = dyn Fn(Step, &str, usize) -> Act + Send + Sync;

/// The server, which runs until the test ends.
pub struct Peer {
    address: SocketAddr,
    memory: Arc<Mutex<Memory>>,
}

impl Peer {
    /// A server on a free port of this machine.
    ///
    /// # Panics
    /// When there is no free port.
    #[must_use]
    pub fn start(script: impl Fn(Step, &str, usize) -> Act + Send + Sync + 'static) -> Self {
        let listener = TcpListener::bind(("127.0.0.1", 0)).unwrap();
        let address = listener.local_addr().unwrap();
        let memory = Arc::new(Mutex::new(Memory::default()));
        let (script, kept): (Arc<Script>, _) = (Arc::new(script), Arc::clone(&memory));
        thread::spawn(move || {
            for stream in listener.incoming().flatten() {
                let (script, memory) = (Arc::clone(&script), Arc::clone(&kept));
                thread::spawn(move || {
                    memory.lock().unwrap().connections += 1;
                    // A client that goes away in the middle is what many tests are about.
                    let _ = Conversation::new(stream, &*script, &memory).hold();
                });
            }
        });
        Self { address, memory }
    }

    /// Its port on 127.0.0.1.
    #[must_use]
    pub const fn port(&self) -> u16 {
        self.address.port()
    }

    /// The mails that it took.
    ///
    /// # Panics
    /// When a conversation has panicked.
    #[must_use]
    pub fn taken(&self) -> Vec<Taken> {
        self.memory.lock().unwrap().taken.clone()
    }

    /// The commands that it was given, without the mails.
    ///
    /// # Panics
    /// When a conversation has panicked.
    #[must_use]
    pub fn commands(&self) -> Vec<String> {
        self.memory.lock().unwrap().commands.clone()
    }

    /// How many connections there were.
    ///
    /// # Panics
    /// When a conversation has panicked.
    #[must_use]
    pub fn connections(&self) -> usize {
        self.memory.lock().unwrap().connections
    }

    /// How often a step was reached.
    ///
    /// # Panics
    /// When a conversation has panicked.
    #[must_use]
    pub fn reached(&self, step: Step) -> usize {
        self.memory.lock().unwrap().reached.iter().filter(|it| **it == step).count()
    }
}

struct Conversation<'a> {
    read: BufReader<TcpStream>,
    write: TcpStream,
    script: &'a Script,
    memory: &'a Mutex<Memory>,
    to: String,
}

/// The end of a conversation.
struct Over;

impl From<std::io::Error> for Over {
    fn from(_: std::io::Error) -> Self {
        Self
    }
}

impl<'a> Conversation<'a> {
    fn new(stream: TcpStream, script: &'a Script, memory: &'a Mutex<Memory>) -> Self {
        stream.set_nodelay(true).unwrap();
        let write = stream.try_clone().unwrap();
        Self { read: BufReader::new(stream), write, script, memory, to: String::new() }
    }

    fn hold(&mut self) -> Result<(), Over> {
        let mut from = String::new();
        self.step(Step::Greeting, "220 peer.example.org ready")?;
        loop {
            let line = self.line()?;
            self.memory.lock().unwrap().commands.push(line.clone());
            let verb = line.split([' ', ':']).next().unwrap_or_default().to_ascii_uppercase();
            match verb.as_str() {
                "EHLO" => {
                    self.step(Step::Ehlo, "250-peer.example.org\r\n250-8BITMIME\r\n250 SIZE")?;
                }
                "MAIL" => {
                    self.to.clear();
                    from = between(&line);
                    self.step(Step::Mail, "250 2.1.0 fine")?;
                }
                "RCPT" => {
                    self.to = between(&line);
                    self.step(Step::Rcpt, "250 2.1.5 fine")?;
                }
                "DATA" => {
                    if self.step(Step::Data, "354 go on")? {
                        let message = self.message()?;
                        let taken = Taken { from: from.clone(), to: self.to.clone(), message };
                        self.take(taken)?;
                    }
                }
                "RSET" => self.say("250 2.0.0 forgotten")?,
                "QUIT" => return self.say("221 2.0.0 bye"),
                _ => self.say("502 5.5.1 what")?,
            }
        }
    }

    /// Does what the script says; true when it went well.
    fn step(&mut self, step: Step, well: &str) -> Result<bool, Over> {
        match self.act(step) {
            Act::Well => self.say(well).map(|()| true),
            Act::Say(words) => self.say(words).map(|()| false),
            Act::WellAndClose => self.say(well).and(Err(Over)),
            Act::Close | Act::TakeAndClose => Err(Over),
            Act::Drip => self.drip(),
            Act::Hang => self.line().and(Err(Over)),
        }
    }

    fn act(&mut self, step: Step) -> Act {
        let nth = {
            let mut memory = self.memory.lock().unwrap();
            memory.reached.push(step);
            memory.reached.iter().filter(|it| **it == step).count()
        };
        (self.script)(step, &self.to, nth)
    }

    fn take(&mut self, taken: Taken) -> Result<(), Over> {
        let act = self.act(Step::Dot);
        if matches!(act, Act::Well | Act::TakeAndClose | Act::WellAndClose) {
            self.memory.lock().unwrap().taken.push(taken);
        }
        match act {
            Act::Well => self.say("250 2.0.0 queued as 4711"),
            Act::WellAndClose => self.say("250 2.0.0 queued as 4711").and(Err(Over)),
            Act::Say(words) => self.say(words),
            Act::Close | Act::TakeAndClose => Err(Over),
            Act::Drip => self.drip().map(|_| ()),
            Act::Hang => self.line().and(Err(Over)),
        }
    }

    fn drip(&mut self) -> Result<bool, Over> {
        for byte in b"250 slowly does it, very slowly".iter().cycle() {
            self.write.write_all(&[*byte])?;
            thread::sleep(DRIP);
        }
        Ok(false)
    }

    fn say(&mut self, words: &str) -> Result<(), Over> {
        Ok(self.write.write_all(format!("{words}\r\n").as_bytes())?)
    }

    fn line(&mut self) -> Result<String, Over> {
        let mut line = String::new();
        if self.read.read_line(&mut line)? == 0 {
            return Err(Over);
        }
        Ok(line.trim_end().to_owned())
    }

    /// A mail up to its final dot, without the dots that were put in.
    fn message(&mut self) -> Result<String, Over> {
        let mut message = String::new();
        loop {
            let line = self.line()?;
            if line == "." {
                return Ok(message);
            }
            message.push_str(line.strip_prefix('.').unwrap_or(&line));
            message.push_str("\r\n");
        }
    }
}

fn between(line: &str) -> String {
    let rest = line.split_once('<').map_or("", |(_, rest)| rest);
    rest.split_once('>').map_or("", |(address, _)| address).to_owned()
}
