//! Mails a second over one connection to a mail server on this machine.
//!
//! Without `TCP_NODELAY` it would be some 25: each mail waits 40 ms for a delayed acknowledgement. The server here
//! only listens; a real one writes each mail to its disk and is the slower of the two.
//!
//! `cargo bench -p gudgeon-tests --bench mails`

#![expect(clippy::print_stdout, reason = "the figures are what it is for")]

use gudgeon_reports::hand_over::HandedOver;
use gudgeon_reports::sender::Sender;
use gudgeon_reports::smtp::{Patience, Relay, Security, Smtp};
use gudgeon_tests::peer::{Act, Peer};
use std::time::Instant;

/// Of about the size of a report.
const MAIL_BYTES: usize = 30_000;
const MAILS: u32 = 3_000;
/// Fewer than this is a fault: it would be what waiting for acknowledgements gives, or near it.
const LEAST: f64 = 500.0;

fn main() {
    let peer = Peer::start(|_, _, _| Act::Well);
    let relay = Relay {
        host: "127.0.0.1".to_owned(),
        port: peer.port(),
        security: Security::NoneOnLoopback,
        login: None,
        authorities: None,
    };
    let sender = Sender::new("reports@example.org", "shop@example.org").expect("addresses");
    let smtp = Smtp::new(relay, sender, Patience::default(), Instant::now).expect("certificates");
    let line = "words of a report that are as long as a line of one is\r\n";
    let mail = format!("Subject: x\r\n\r\n{}", line.repeat(MAIL_BYTES / line.len()));
    let began = Instant::now();
    for _ in 0..MAILS {
        let ended = smtp.send("bounces@example.org", "owner@example.org", mail.as_bytes());
        assert!(matches!(ended, HandedOver::Accepted(_)), "{ended:?}");
    }
    let a_second = f64::from(MAILS) / began.elapsed().as_secs_f64();
    println!("{MAILS} mails of {} bytes over one connection: {a_second:.0} a second", mail.len());
    assert!(a_second > LEAST, "{a_second:.0} mails a second");
}
