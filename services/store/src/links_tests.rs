//! Links against links that Python's `hmac` made, and against everything that is almost one.

use super::*;

/// The bytes 0 to 31.
fn links() -> Links {
    let key: Vec<u8> = (0..32).collect();
    Links::new(&key, "https://gudgeon.example.org").expect("long enough")
}

fn uid(last: &str) -> Uid {
    Uid::parse(&format!("0193a000-0000-7000-8000-00000000000{last}")).expect("a UUID")
}

fn day(text: &str) -> NaiveDate {
    text.parse().expect("a day")
}

fn owner(generation: i64) -> Recipient {
    Recipient { kind: ReportKind::Owner, party: PartyId(uid("1")), generation }
}

fn link() -> Link {
    Link {
        purpose: Purpose::Reading,
        kind: ReportKind::Owner,
        party: PartyId(uid("1")),
        engine: None,
        until: day("2027-01-24"),
        generation: 7,
    }
}

// Python 3: base64.urlsafe_b64encode(body + hmac.new(bytes(range(32)), b"gudgeon link 1" + body, "sha256").digest()[:16])
// without its padding, where body is 03 for a reading, 01 for an owner, date(2027, 1, 24).toordinal() in four bytes
// and 7 in eight, big end first, the party and then the engine.
#[test]
fn seals_as_a_second_program_does() {
    let all = "AwEAC0qlAAAAAAAAAAcBk6AAAABwAIAAAAAAAAABtQs7J_EsAyUMio098o9eZw";
    let one = "AwEAC0qlAAAAAAAAAAcBk6AAAABwAIAAAAAAAAABAZOgAAAAcACAAAAAAAAAAmybdQfiCvspNQkecEm3vJs";
    let of_one = Link { engine: Some(EngineId(uid("2"))), ..link() };
    assert_eq!(links().seal(&link()), all);
    assert_eq!(links().seal(&of_one), one);
    assert_eq!(links().open(Purpose::Reading, all, day("2026-11-26")), Some(link()));
    assert_eq!(links().open(Purpose::Reading, one, day("2026-11-26")), Some(of_one));
}

#[test]
fn is_good_to_its_last_day_and_for_its_purpose_alone() {
    let sealed = links().seal(&link());
    assert!(links().open(Purpose::Reading, &sealed, day("2027-01-24")).is_some());
    assert_eq!(links().open(Purpose::Reading, &sealed, day("2027-01-25")), None);
    for purpose in [Purpose::Stop, Purpose::Preferences, Purpose::Calendar] {
        assert_eq!(links().open(purpose, &sealed, day("2026-11-26")), None, "{purpose:?}");
    }
}

// The link of a mail that was kept for three years has to end the mails (RFC 8058 gives it no end).
#[test]
fn ends_mails_after_three_years_and_reports_readings_for_sixty_days() {
    let made = day("2026-11-26");
    let until = |purpose| Link::new(purpose, owner(0), made).until;
    assert!(until(Purpose::Stop).year() >= 2030);
    assert_eq!(until(Purpose::Reading), day("2027-01-25"));
}

#[test]
fn no_changed_cut_or_lengthened_link_is_read() {
    let sealed = links().seal(&link());
    let read = |text: &str| links().open(Purpose::Reading, text, day("2026-11-26"));
    for at in 0..sealed.len() {
        let mut changed = sealed.clone().into_bytes();
        changed[at] = if changed[at] == b'A' { b'B' } else { b'A' };
        let changed = String::from_utf8(changed).expect("ASCII");
        assert_eq!(read(&changed), None, "letter {at}");
        assert_eq!(read(&sealed[..at]), None, "cut at {at}");
    }
    for text in [format!("{sealed}A"), format!("{sealed}AAAA"), format!("{sealed}="), String::new()]
    {
        assert_eq!(read(&text), None, "{text}");
    }
    let other = Links::new(&[7; 32], "https://gudgeon.example.org").expect("long enough");
    assert_eq!(other.open(Purpose::Reading, &sealed, day("2026-11-26")), None);
}

#[test]
fn a_short_key_is_refused_and_no_key_is_printed() {
    let short = Links::new(&[1; 31], "").expect_err("too short");
    assert!(short.to_string().contains("31 bytes"), "{short}");
    let printed = format!("{:?}", Links::new(&[113; 32], "http://localhost").expect("long enough"));
    assert!(!printed.contains("113") && !printed.contains("71"), "{printed}");
}

#[test]
fn a_mail_gets_four_links_each_for_its_own_purpose() {
    let made = day("2026-11-26");
    let mail = links().for_mail(owner(3), made);
    let sealed = |url: &str, path: &str, end: &str| {
        let start = format!("https://gudgeon.example.org/{path}/");
        url.strip_prefix(&start).and_then(|it| it.strip_suffix(end)).expect(url).to_owned()
    };
    for (purpose, url, path, end) in [
        (Purpose::Stop, &mail.stop, "stop", ""),
        (Purpose::Preferences, &mail.preferences, "mails", ""),
        (Purpose::Reading, &mail.reading, "reading", ""),
        (Purpose::Calendar, &mail.calendar, "calendar", ".ics"),
    ] {
        let link = links().open(purpose, &sealed(url, path, end), made).expect("its purpose");
        assert_eq!((link.party, link.generation), (PartyId(uid("1")), 3));
    }
    // RFC 5322, section 2.1.1: a line has 998 characters at most; folded, some signers break it.
    assert!(format!("List-Unsubscribe: <{}>", mail.stop).len() < 200);
}
