//! The bytes of a mail: headers, structure, nothing smuggled in.

use super::*;
use crate::fixtures::sample_report as report;

fn sender() -> Sender {
    Sender::new("Engine reports <reports@example.org>", "Workshop <shop@example.org>")
        .expect("addresses")
}

fn mail(report: &ReportRow) -> String {
    String::from_utf8(message(report, &sender(), &Enclosed::default()).expect("a mail"))
        .expect("ASCII")
}

fn header_names(mail: &str) -> Vec<&str> {
    let (head, _) = mail.split_once("\r\n\r\n").expect("a head and a body");
    head.split("\r\n")
        .filter(|line| !line.starts_with([' ', '\t']))
        .map(|line| line.split(':').next().unwrap_or_default())
        .collect()
}

#[test]
fn every_header_is_there_once() {
    let mail = mail(&report("Invented Flying Club"));
    let mut names = header_names(&mail);
    names.sort_unstable();
    assert_eq!(
        names,
        [
            "Auto-Submitted",
            "Content-Type",
            "Date",
            "From",
            "List-Id",
            "MIME-Version",
            "Message-ID",
            "Reply-To",
            "Subject",
            "To",
            "X-Auto-Response-Suppress"
        ]
    );
    for line in [
        "Date: Wed, 25 Nov 2026 09:00:00 +0000",
        "Message-ID: <owner.2026-W48.x@example.org>",
        "Auto-Submitted: auto-generated",
        "X-Auto-Response-Suppress: All",
        "Reply-To: Workshop <shop@example.org>",
        "List-Id: Weekly engine items due <owner-weekly.example.org>",
        "Content-Transfer-Encoding: quoted-printable",
    ] {
        assert!(mail.contains(line), "{line}\n{mail}");
    }
    let (plain, html) = (mail.find("text/plain"), mail.find("text/html"));
    assert!(plain < html, "the richest part comes last");
}

#[test]
fn the_same_report_gives_the_same_bytes() {
    let report = report("Invented Flying Club");
    assert_eq!(mail(&report), mail(&report));
}

#[test]
fn a_name_cannot_add_a_header() {
    let plain = header_names(&mail(&report("x"))).join(" ");
    for hostile in
        ["A\r\nBcc: everyone@example.org", "\"; <x@example.org>,", "\u{202e}\u{7}", "", "é<>@"]
    {
        let mail = mail(&report(hostile));
        assert_eq!(header_names(&mail).join(" "), plain, "{hostile}");
        assert!(!mail.contains("\r\nBcc:"));
    }
    let long = mail(&report(&"é".repeat(4000)));
    assert!(long.split("\r\n").all(|line| line.len() <= 998));
}

#[test]
fn a_bad_address_is_said_and_does_not_panic() {
    for bad in ["", "nobody", "a@b\r\nBcc: c@d", "a b@example.org"] {
        let report = ReportRow { to_address: bad.to_owned(), ..report("x") };
        assert!(message(&report, &sender(), &Enclosed::default()).is_err(), "{bad}");
    }
}

#[test]
fn a_link_stands_on_one_line_and_only_a_link_does() {
    let with = |unsubscribe: &str| {
        let enclosed = Enclosed { unsubscribe: Some(unsubscribe), calendar: None };
        message(&report("x"), &sender(), &enclosed).map(|it| String::from_utf8(it).expect("ASCII"))
    };
    let long = format!("https://example.org/stop/{}", "a".repeat(300));
    let mail = with(&long).expect("a mail");
    assert!(mail.contains(&format!("\r\nList-Unsubscribe: <{long}>\r\n")), "{mail}");
    assert!(mail.contains("\r\nList-Unsubscribe-Post: List-Unsubscribe=One-Click\r\n"), "{mail}");
    for wrong in ["", "stop", "https://a\r\nBcc: b@c", "https://a>, <mailto:b@c", "https://é"] {
        assert!(with(wrong).is_err(), "{wrong}");
    }
}

#[test]
fn a_calendar_comes_beside_the_words() {
    let calendar = "BEGIN:VCALENDAR\r\nSUMMARY:é\r\nEND:VCALENDAR\r\n";
    let enclosed = Enclosed { unsubscribe: None, calendar: Some(calendar.as_bytes()) };
    let mail = message(&report("x"), &sender(), &enclosed).expect("a mail");
    let mail = String::from_utf8(mail).expect("ASCII");
    assert!(mail.contains("Content-Type: multipart/mixed"), "{mail}");
    assert!(mail.contains("Content-Type: text/calendar; charset=utf-8; method=PUBLISH"), "{mail}");
    // base64 of the first line, by Python's base64.
    assert!(mail.contains("QkVHSU46VkNBTEVOREFS"), "{mail}");
}
