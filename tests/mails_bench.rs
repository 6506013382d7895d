//! Mails a second to a mail server on this machine, over one connection and over four, beside a bare socket that
//! writes the same bytes in the same run.
//!
//!     cargo bench -p gudgeon-tests --bench mails             # 500 owners
//!     cargo bench -p gudgeon-tests --bench mails -- 5000
//!
//! On a file of `SQLite`; with `GUDGEON_TEST_DATABASE=postgres` on a server of its own. The mail server here only
//! listens; a real one writes each mail to its disk and is the slower of the two. Without `TCP_NODELAY` a connection
//! would carry some 25 mails a second: each waits 40 ms for a delayed acknowledgement.

#![expect(clippy::print_stdout, reason = "a bench prints what it measured")]
#![expect(clippy::float_arithmetic, reason = "a rate is for people to read")]
#![expect(clippy::expect_used, reason = "a bench that cannot go on has failed")]

use chrono::NaiveDate;
use gudgeon_api::Cache;
use gudgeon_databases::Database;
use gudgeon_life::week::ReportWeek;
use gudgeon_life::zone::Zone;
use gudgeon_reports::contents::Composer;
use gudgeon_reports::deliver::Delivery;
use gudgeon_reports::dkim::Dkim;
use gudgeon_reports::hand_over::HandedOver;
use gudgeon_reports::plan::{WeekRun, plan_week};
use gudgeon_reports::render::Renderer;
use gudgeon_reports::retry::Rules;
use gudgeon_reports::sender::Sender;
use gudgeon_reports::smtp::{Patience, Relay, Security, Smtp};
use gudgeon_store::{Links, Store};
use gudgeon_tests::NOW;
use gudgeon_tests::generator::load;
use gudgeon_tests::peer::{Act, Peer, Taken};
use std::env;
use std::io::{self, BufRead as _, BufReader, Write as _};
use std::net::TcpStream;
use std::process::Command;
use std::thread;
use std::time::Instant;

/// Engines of one owner in a generated fleet.
const PER_OWNER: u32 = 3;
/// How often the mails of the week are sent where nothing is composed: so long that a rate can be told.
const ROUNDS: usize = 4;
/// Fewer a second than this over one connection is a fault, on however busy a machine: it is near what waiting for
/// acknowledgements would give.
const LEAST: f64 = 100.0;

fn main() {
    let asked = env::args().skip(1).find_map(|argument| argument.parse().ok());
    let place = Place::with_owners(asked.unwrap_or(500));
    println!("{:52} {:>11} {:>13}", "mails a second", "1 connection", "4 connections");
    let (one, mails) = place.whole("2026-W48", 1);
    let (four, _) = place.whole("2026-W49", 4);
    let bytes: usize = mails.iter().map(|mail| mail.message.len()).sum();
    let mails: Vec<Taken> = mails.iter().cycle().take(ROUNDS * mails.len()).cloned().collect();
    let bare = [1, 4].map(|connections| share(&mails, connections, bare));
    let alone = [1, 4].map(|connections| alone(&place.sender, &mails, connections));
    row("bare socket", bare, bare);
    row("delivery alone", alone, bare);
    row("read, composed, signed, kept and delivered", [one, four], bare);
    println!("{} mails of {} bytes each", mails.len() / ROUNDS, bytes * ROUNDS / mails.len());
    assert!(alone[0] > LEAST, "{:.0} mails a second", alone[0]);
}

fn row(what: &str, rates: [f64; 2], floor: [f64; 2]) {
    let [one, four] = [(rates[0], floor[0]), (rates[1], floor[1])]
        .map(|(rate, floor)| format!("{rate:.0} ({:.3})", rate / floor));
    println!("{what:45} {one:>18} {four:>14}");
}

/// A database with a fleet, and who its mails come from.
struct Place {
    store: Store,
    sender: Sender,
    _database: Database,
}

impl Place {
    fn with_owners(owners: u32) -> Self {
        let database = Database::fresh(|url| {
            Store::open(url, true).and_then(|store| store.migrate()).expect("a new database");
        });
        let store = Store::open(database.url(), false).expect("it opens again");
        load(&store, 1, PER_OWNER * owners);
        let key = Command::new("openssl").args(["genrsa", "2048"]).output().expect("openssl");
        let dkim = Dkim::new("example.org", "bench", &key.stdout).expect("a key");
        let sender = Sender::new("reports@example.org", "shop@example.org").expect("addresses");
        Self { store, sender: sender.signing(dkim), _database: database }
    }

    /// Mails of a week a second from the records to the mail server, and these mails.
    fn whole(&self, week: &str, connections: usize) -> (f64, Vec<Taken>) {
        let programmes = Cache::default();
        let renderer = Renderer::new().expect("templates");
        let links = Links::new(&[3; 32], "https://gudgeon.example.org").expect("long enough");
        let composer = Composer {
            store: &self.store,
            programmes: &programmes,
            renderer: &renderer,
            links: Some(&links),
        };
        let run = WeekRun {
            store: &self.store,
            week: ReportWeek::parse(week).expect("a week"),
            as_of: NaiveDate::from_ymd_opt(2026, 11, 25),
            zone: Zone::UTC,
            now: NOW,
            at_once: true,
        };
        plan_week(&run).expect("planned");
        let peer = Peer::start(|_, _, _| Act::Well);
        let smtp = smtp(&self.sender, &peer);
        let began = Instant::now();
        thread::scope(|scope| {
            for _ in 0..connections {
                scope.spawn(|| {
                    let (sender, rules, by) = (&self.sender, Rules::DEFAULT, "a bench");
                    let (clock, stops) = (&|| NOW, &|| false);
                    let delivery = Delivery { composer, sender, rules, by, clock, stops };
                    delivery.run(&smtp).expect("delivered")
                });
            }
        });
        let taken = peer.taken();
        (a_second(taken.len(), began), taken)
    }
}

fn a_second(mails: usize, began: Instant) -> f64 {
    f64::from(u32::try_from(mails).unwrap_or(u32::MAX)) / began.elapsed().as_secs_f64()
}

fn smtp(sender: &Sender, peer: &Peer) -> Smtp {
    let relay = Relay {
        host: "127.0.0.1".to_owned(),
        port: peer.port(),
        security: Security::NoneOnLoopback,
        login: None,
        authorities: None,
    };
    Smtp::new(relay, sender.clone(), Patience::default(), Instant::now).expect("no certificates")
}

/// Mails a second when this many threads share them, each of which hands its own to the same server.
fn share(mails: &[Taken], threads: usize, hand_over: impl Fn(&Peer, &[Taken]) + Sync) -> f64 {
    let peer = Peer::start(|_, _, _| Act::Well);
    let began = Instant::now();
    thread::scope(|scope| {
        for mine in mails.chunks(mails.len().div_ceil(threads)) {
            let (peer, hand_over) = (&peer, &hand_over);
            scope.spawn(move || hand_over(peer, mine));
        }
    });
    let rate = a_second(mails.len(), began);
    assert_eq!(peer.taken().len(), mails.len(), "each was taken");
    rate
}

fn alone(sender: &Sender, mails: &[Taken], connections: usize) -> f64 {
    share(mails, connections, |peer, mails| {
        let smtp = smtp(sender, peer);
        for mail in mails {
            let ended = smtp.send(&mail.from, &mail.to, mail.message.as_bytes());
            assert!(matches!(ended, HandedOver::Accepted(_)), "{ended:?}");
        }
    })
}

/// The floor: the same conversation by somebody who looks at no answer.
fn bare(peer: &Peer, mails: &[Taken]) {
    talk(peer.port(), mails).expect("the server listens");
}

fn talk(port: u16, mails: &[Taken]) -> io::Result<()> {
    let mut socket = TcpStream::connect(("127.0.0.1", port))?;
    socket.set_nodelay(true)?;
    let mut answers = BufReader::new(socket.try_clone()?);
    let mut answer = String::new();
    let mut say = |words: &[u8], lines: usize| -> io::Result<()> {
        socket.write_all(words)?;
        (0..lines).try_for_each(|_| answers.read_line(&mut answer).map(|_| answer.clear()))
    };
    say(b"", 1)?;
    say(b"EHLO bench\r\n", 3)?;
    for Taken { from, to, message } in mails {
        say(format!("MAIL FROM:<{from}>\r\n").as_bytes(), 1)?;
        say(format!("RCPT TO:<{to}>\r\n").as_bytes(), 1)?;
        say(b"DATA\r\n", 1)?;
        say(format!("{message}.\r\n").as_bytes(), 1)?;
    }
    Ok(())
}
