//! Mails by SMTP to a server that fails in every way at every step: what is told of each mail is true, and none is
//! taken twice.

#![cfg(test)]

use chrono::{NaiveDate, Weekday};
use gudgeon_databases::Database;
use gudgeon_life::ids::{PartyId, Uid};
use gudgeon_reports::hand_over::{HandedOver, Reply};
use gudgeon_reports::sender::Sender;
use gudgeon_reports::smtp::{Patience, Relay, Security, Smtp};
use gudgeon_store::{ReportState, Store};
use gudgeon_tests::id;
use gudgeon_tests::owners::{deliver_much_later, site_with_owners};
use gudgeon_tests::peer::{Act, Peer, Step};
use gudgeon_tests::site::{Site, wait_until};
use gudgeon_tests::story::OWNER;
use std::collections::BTreeMap;
use std::process::Stdio;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// More than are claimed at a time.
const OWNERS: u32 = 30;
const FROM: &str = "bounces+1-0@example.org";
const TO: &str = "owner@example.org";
const MAIL: &[u8] = b"Subject: a test\r\n\r\n.\r\nwords\r\n";

fn relay(port: u16, security: Security) -> Relay {
    Relay { host: "127.0.0.1".to_owned(), port, security, login: None, authorities: None }
}

fn smtp_with(relay: Relay, patience: Patience) -> Smtp {
    let sender = Sender::new("reports@example.org", "shop@example.org").unwrap();
    Smtp::new(relay, sender, patience, Instant::now).unwrap()
}

fn smtp(peer: &Peer) -> Smtp {
    smtp_with(relay(peer.port(), Security::NoneOnLoopback), Patience::default())
}

/// A server that does this at this step and well at all others.
fn failing(step: Step, act: Act) -> Peer {
    Peer::start(move |at, _, _| if at == step { act } else { Act::Well })
}

/// How a mail to it ended, in one word with the code.
fn ended(handed_over: &HandedOver) -> String {
    let code = |reply: &Reply| reply.code.map_or("none".to_owned(), |code| code.to_string());
    match handed_over {
        HandedOver::Accepted(_) => "accepted".to_owned(),
        HandedOver::Deferred(reply) => format!("deferred {}", code(reply)),
        HandedOver::Refused(reply) => format!("refused {}", code(reply)),
        HandedOver::Unknown(_) => "unknown".to_owned(),
    }
}

#[test]
fn a_mail_arrives_as_it_was_sent_and_the_connection_is_kept() {
    let peer = Peer::start(|_, _, _| Act::Well);
    let smtp = smtp(&peer);
    for _ in 0..3 {
        match smtp.send(FROM, TO, MAIL) {
            HandedOver::Accepted(receipt) => assert_eq!(receipt, "250 2.0.0 queued as 4711"),
            other => panic!("{other:?}"),
        }
    }
    let taken = peer.taken();
    assert_eq!(taken.len(), 3);
    assert!(taken.iter().all(|it| it.from == FROM && it.to == TO));
    assert!(taken.iter().all(|it| it.message.as_bytes() == MAIL), "{taken:?}");
    assert_eq!((peer.connections(), peer.reached(Step::Ehlo)), (1, 1));
}

// RFC 5321, section 4.2.1: 4yz is for now, 5yz for good. What is said before a recipient is named is about us, and
// refuses no mail for good.
#[test]
fn each_answer_at_each_step_means_what_the_standard_says() {
    const ANSWERS: [&str; 5] = [
        "421 4.3.2 closing",
        "450 4.2.1 busy",
        "451 4.3.0 error",
        "550 5.1.1 nobody",
        "552 5.2.2 full",
    ];
    for (step, expected) in [
        (Step::Greeting, ["none"; 5]),
        (Step::Ehlo, ["none"; 5]),
        (Step::Mail, ["421", "450", "451", "none", "none"]),
        (Step::Rcpt, ["421", "450", "451", "refused 550", "refused 552"]),
        (Step::Data, ["421", "450", "451", "refused 550", "refused 552"]),
        (Step::Dot, ["421", "450", "451", "refused 550", "refused 552"]),
    ] {
        for (answer, expected) in ANSWERS.into_iter().zip(expected) {
            let peer = failing(step, Act::Say(answer));
            let handed_over = smtp(&peer).send(FROM, TO, MAIL);
            let expected = if expected.starts_with("refused") {
                expected.to_owned()
            } else {
                format!("deferred {expected}")
            };
            assert_eq!(ended(&handed_over), expected, "{answer} at {step:?}: {handed_over:?}");
            assert_eq!(peer.taken().len(), 0, "{answer} at {step:?}");
        }
    }
}

#[test]
fn a_reply_keeps_its_codes_and_words() {
    let peer = failing(Step::Rcpt, Act::Say("550-5.1.1 There is nobody\r\n550 5.1.1 of that name"));
    let HandedOver::Refused(reply) = smtp(&peer).send(FROM, TO, MAIL) else { panic!("refused") };
    assert_eq!((reply.code, reply.enhanced.as_deref()), (Some(550), Some("5.1.1")));
    assert_eq!(reply.words, "There is nobody of that name");
}

// RFC 1047: once the final dot has left, only an answer tells.
#[test]
fn only_a_connection_lost_after_the_final_dot_leaves_it_open() {
    for step in Step::ALL {
        let peer = failing(step, Act::Close);
        let expected = if step == Step::Dot { "unknown" } else { "deferred none" };
        assert_eq!(ended(&smtp(&peer).send(FROM, TO, MAIL)), expected, "{step:?}");
    }
    let peer = failing(Step::Dot, Act::TakeAndClose);
    assert_eq!(ended(&smtp(&peer).send(FROM, TO, MAIL)), "unknown");
    assert_eq!(peer.taken().len(), 1, "it was taken, which nobody could tell");
    // No answer is one that answers nothing.
    for words in ["354 go on", "hello", "2500 fine", "\u{fffd}"] {
        let peer = failing(Step::Dot, Act::Say(words));
        assert_eq!(ended(&smtp(&peer).send(FROM, TO, MAIL)), "unknown", "{words}");
    }
}

#[test]
fn no_slow_answer_holds_a_mail_longer_than_its_step() {
    let patience = Patience {
        step: Duration::from_millis(200),
        content: Duration::from_millis(200),
        answer: Duration::from_millis(400),
    };
    for act in [Act::Drip, Act::Hang] {
        for step in Step::ALL {
            let peer = failing(step, act);
            let smtp = smtp_with(relay(peer.port(), Security::NoneOnLoopback), patience);
            let began = Instant::now();
            let expected = if step == Step::Dot { "unknown" } else { "deferred none" };
            assert_eq!(ended(&smtp.send(FROM, TO, MAIL)), expected, "{act:?} at {step:?}");
            assert!(began.elapsed() < Duration::from_secs(3), "{act:?} at {step:?}");
        }
    }
}

#[test]
fn a_connection_outlives_a_refused_mail_and_is_opened_anew_when_it_was_closed() {
    let peer = Peer::start(|step, to, _| match step {
        Step::Rcpt if to.starts_with("nobody") => Act::Say("550 5.1.1 nobody"),
        Step::Dot if to.starts_with("last") => Act::WellAndClose,
        _ => Act::Well,
    });
    let smtp = smtp(&peer);
    let send = |to: &str| ended(&smtp.send(FROM, to, MAIL));
    assert_eq!(send("nobody@example.org"), "refused 550");
    assert_eq!(send("a@example.org"), "accepted");
    assert_eq!(peer.connections(), 1);
    assert_eq!(send("last@example.org"), "accepted");
    assert_eq!(send("b@example.org"), "accepted");
    assert_eq!(peer.connections(), 2);
    let to: Vec<String> = peer.taken().into_iter().map(|it| it.to).collect();
    assert_eq!(to, ["a@example.org", "last@example.org", "b@example.org"]);
}

#[test]
fn a_server_that_closes_for_now_between_two_mails_is_asked_on_a_new_connection() {
    let peer = Peer::start(|step, _, nth| match (step, nth) {
        (Step::Mail, 2) => Act::Say("421 4.4.2 too many mails on one connection"),
        _ => Act::Well,
    });
    let smtp = smtp(&peer);
    let both = [(); 2].map(|()| ended(&smtp.send(FROM, TO, MAIL)));
    assert_eq!(both, ["accepted", "accepted"]);
    assert_eq!((peer.connections(), peer.taken().len()), (2, 2));
}

#[test]
fn nothing_is_sent_to_a_server_that_offers_no_starttls() {
    let peer = Peer::start(|_, _, _| Act::Well);
    let smtp = smtp_with(relay(peer.port(), Security::StartTls), Patience::default());
    let HandedOver::Deferred(reply) = smtp.send(FROM, TO, MAIL) else { panic!("not sent") };
    assert!(reply.words.contains("it offers no STARTTLS"), "{reply}");
    let commands = peer.commands();
    assert!(commands.iter().all(|it| it.starts_with("EHLO") || it == "QUIT"), "{commands:?}");
}

#[test]
fn nothing_is_sent_in_the_clear_beyond_this_machine() {
    // RFC 5737: an address that nobody has.
    let relay = Relay { host: "192.0.2.1".to_owned(), ..relay(25, Security::NoneOnLoopback) };
    let smtp = smtp_with(relay, Patience::default());
    let HandedOver::Deferred(reply) = smtp.send(FROM, TO, MAIL) else { panic!("not sent") };
    assert!(reply.words.contains("is not on this machine"), "{reply}");
}

#[test]
fn nothing_can_be_smuggled_in_by_what_looks_like_the_end_of_a_mail() {
    let peer = Peer::start(|_, _, _| Act::Well);
    let smuggling =
        b"Subject: x\r\n\r\na\r\n.\r\nMAIL FROM:<x@example.org>\r\nRCPT TO:<y@example.org>\r\n";
    assert_eq!(ended(&smtp(&peer).send(FROM, TO, smuggling)), "accepted");
    let taken = peer.taken();
    assert_eq!(taken.len(), 1);
    assert_eq!(taken[0].message.as_bytes(), smuggling);
}

/// Mails of a week for each of these owners, to be handed to this server by the real program.
fn week_for(site: &Site, peer: &Peer, week: u32) {
    site.use_mail_server(peer.port(), 2, "");
    let monday = NaiveDate::from_isoywd_opt(2026, week, Weekday::Mon).unwrap();
    site.run_ok(&["week", &format!("2026-W{week}"), "--as-of", &monday.to_string(), "--now"]);
}

/// Whoever was sent no mail of this week is still told of; whoever was, was sent one.
fn each_once_or_listed(store: &Store, peer: &Peer, week: u32, told: &str) {
    let mut copies: BTreeMap<String, usize> = BTreeMap::new();
    for taken in peer.taken() {
        *copies.entry(taken.to).or_default() += 1;
    }
    assert!(copies.values().all(|count| *count == 1), "{told}: {copies:?}");
    let mut reports = 0;
    for owner in 1..=OWNERS {
        let recipient = PartyId(Uid::parse(&id(OWNER, owner)).unwrap());
        let rows = store.reports_of(recipient, 0, 100).unwrap();
        for row in rows.iter().filter(|row| row.week == format!("2026-W{week}")) {
            let taken = copies.contains_key(&row.to_address);
            // One that was taken may be listed as unknown; one that is delivered was taken.
            assert!(taken || row.state != ReportState::Accepted, "{told}: {}", row.to_address);
            reports += 1;
        }
    }
    assert_eq!(reports, OWNERS, "{told}");
}

fn sites(database: &Database) -> (Site, Store) {
    let site = site_with_owners(database, OWNERS);
    (site, Store::open(database.url(), false).unwrap())
}

fn fresh() -> Database {
    Database::fresh(|url| {
        Store::open(url, true).unwrap().migrate().unwrap();
    })
}

#[test]
fn of_a_process_killed_at_any_step_no_mail_is_sent_twice_and_none_is_lost() {
    let database = fresh();
    let (site, store) = sites(&database);
    let mut unknown = 0;
    for (week, step) in (40..).zip(Step::ALL) {
        // The third mail that gets so far is where the process is killed.
        let held = if step == Step::Greeting || step == Step::Ehlo { 1 } else { 3 };
        let peer = Peer::start(
            move |at, _, nth| {
                if at == step && nth == held { Act::Hang } else { Act::Well }
            },
        );
        week_for(&site, &peer, week);
        let mut killed = site.command(&["deliver"]).spawn().unwrap();
        wait_until("it gets so far", || peer.reached(step) >= held);
        killed.kill().unwrap();
        killed.wait().unwrap();
        // What it had in hand is taken over once its lease has ended.
        let summary = deliver_much_later(&store, &smtp(&peer));
        let told = format!("{step:?}");
        each_once_or_listed(&store, &peer, week, &told);
        // Two connections at once: at most two mails were being handed over.
        let unsure = OWNERS - u32::try_from(peer.taken().len()).unwrap();
        assert!(unsure <= 2, "{told}: {unsure} were not sent");
        // They are told of by every run.
        assert!(summary.unknown.len() > unknown, "{told}");
        unknown = summary.unknown.len();
    }
}

#[test]
fn two_processes_at_a_server_that_fails_now_and_then_send_each_mail_once() {
    let database = fresh();
    let (site, store) = sites(&database);
    let peer = Peer::start(|step, _, nth| match (step, nth % 7) {
        (Step::Dot, 3) => Act::TakeAndClose,
        (Step::Dot, 5) | (Step::Rcpt, 6) => Act::Close,
        (Step::Mail, 4) => Act::Say("421 4.3.2 closing"),
        (Step::Dot, 6) => Act::WellAndClose,
        (Step::Data, 2) => Act::Say("451 4.3.0 error"),
        _ => Act::Well,
    });
    week_for(&site, &peer, 48);
    for _ in 0..4 {
        let start = || site.command(&["deliver"]).stdout(Stdio::null()).spawn().unwrap();
        for mut child in [start(), start()] {
            child.wait().unwrap();
        }
    }
    each_once_or_listed(&store, &peer, 48, "two processes");
    assert!(peer.taken().len() > 5, "{}", peer.taken().len());
}

// RFC 5321, section 4.2.3: 421 is about the service and not about a mail. Nobody has set a pace.
#[test]
fn mails_to_a_domain_that_says_too_much_wait_and_all_others_leave() {
    let database = fresh();
    let site = site_with_owners(&database, 7);
    let told = AtomicBool::new(false);
    let peer = Peer::start(move |step, to, _| match step {
        Step::Rcpt if to.ends_with("@example.net") && !told.swap(true, Ordering::Relaxed) => {
            Act::Say("421 4.7.0 too many mails from you")
        }
        _ => Act::Well,
    });
    let to_slow_one = || {
        let commands = peer.commands();
        commands.iter().filter(|it| it.starts_with("RCPT") && it.contains("@example.net")).count()
    };
    week_for(&site, &peer, 48);
    let said = site.run_ok(&["deliver"]);
    for told in
        ["5 mails written", "1 mails were not accepted for now", "1 mails wait for their turn"]
    {
        assert!(said.contains(told), "{told}: {said}");
    }
    assert!(site.run_ok(&["deliver"]).starts_with("0 mails written"));
    assert_eq!((peer.taken().len(), to_slow_one()), (5, 1), "it is left alone by every process");
    let store = Store::open(database.url(), false).unwrap();
    assert_eq!(deliver_much_later(&store, &smtp(&peer)).accepted.len(), 2);
    assert_eq!((peer.taken().len(), to_slow_one()), (7, 3));
}

#[test]
fn all_of_these_pass_on_postgres_too() {
    gudgeon_databases::repeat_on_postgres();
}
