//! The links of mails over HTTP: what each opens, that nothing changes before somebody presses a button, and that
//! one which does not hold opens nothing. RFC 8058 says what a mail program sends; the clock says 2026-11-25.

use crate::access::{OWNER, shop_a_has_an_engine};
use crate::server::{Answer, Server, links, uid};
use chrono::NaiveDate;
use gudgeon_life::ids::PartyId;
use gudgeon_life::preference::{Dates, DecimalMark, HoursForm, Mode, Preference, ReportKind};
use gudgeon_store::{Link, Purpose, Recipient};

pub(crate) const FORM: (&str, &str) = ("content-type", "application/x-www-form-urlencoded");

fn day(text: &str) -> NaiveDate {
    text.parse().expect("a day")
}

/// The owner's link of a purpose, made on a day.
pub(crate) fn link(server: &Server, purpose: Purpose, made: &str) -> Link {
    let (kind, party) = (ReportKind::Owner, PartyId(uid(OWNER)));
    let row = server.store.preference(party, kind).expect("reads");
    Link::new(purpose, Recipient { kind, party, generation: row.links_generation }, day(made))
}

/// The path of the owner's link of a purpose, made on the day of the clock.
pub(crate) fn path(server: &Server, purpose: Purpose) -> String {
    at(purpose, &links().seal(&link(server, purpose, "2026-11-25")))
}

fn at(purpose: Purpose, sealed: &str) -> String {
    match purpose {
        Purpose::Stop => format!("/stop/{sealed}"),
        Purpose::Preferences => format!("/mails/{sealed}"),
        Purpose::Reading => format!("/reading/{sealed}"),
        Purpose::Calendar => format!("/calendar/{sealed}.ics"),
    }
}

fn preference(server: &Server) -> Preference {
    let row = server.store.preference(PartyId(uid(OWNER)), ReportKind::Owner).expect("reads");
    row.preference
}

fn mode(server: &Server) -> Mode {
    preference(server).mode
}

fn post(server: &Server, path: &str, body: &str) -> Answer {
    server.raw("POST", path, &[FORM], "", body.as_bytes())
}

fn started() -> Server {
    let server = Server::start();
    shop_a_has_an_engine(&server);
    server
}

#[test]
fn one_click_ends_the_mails_in_both_encodings_and_twice_is_fine() {
    let server = started();
    let path = path(&server, Purpose::Stop);
    let parts = "--b\r\nContent-Disposition: form-data; name=\"List-Unsubscribe\"\r\n\r\nOne-Click\r\n--b--\r\n";
    for (content_type, body) in [
        ("application/x-www-form-urlencoded", "List-Unsubscribe=One-Click"),
        ("multipart/form-data; boundary=b", parts),
    ] {
        assert_eq!(post(&server, &path, "do=resume&before=every-week").status, 200);
        assert_eq!(mode(&server), Mode::EveryWeek);
        for _ in 0..2 {
            let sent = [("content-type", content_type)];
            let answer = server.raw("POST", &path, &sent, "", body.as_bytes());
            assert_eq!(answer.status, 200, "{answer:?}");
            for header in ["set-cookie", "location"] {
                assert_eq!(answer.header(header), None, "{answer:?}");
            }
            assert_eq!(mode(&server), Mode::Off);
        }
    }
}

#[test]
fn looking_changes_nothing_and_other_methods_are_told_which_there_are() {
    let server = started();
    for purpose in [Purpose::Stop, Purpose::Preferences, Purpose::Reading] {
        let path = path(&server, purpose);
        for (method, status) in [("GET", 200), ("HEAD", 200), ("OPTIONS", 405), ("PUT", 405)] {
            let answer = server.get_as(method, &path, "");
            assert_eq!(answer.status, status, "{method} {path}");
            if status == 405 {
                assert_eq!(answer.header("allow"), Some("GET, HEAD, POST"));
            }
        }
        // A program that follows every form of a page without filling anything in changes nothing either.
        assert_eq!(
            post(&server, &path, "").status,
            if purpose == Purpose::Reading { 404 } else { 422 }
        );
    }
    assert_eq!(preference(&server), Preference::default());
    let row = server.store.preference(PartyId(uid(OWNER)), ReportKind::Owner).expect("reads");
    assert_eq!((row.changed_at, row.links_generation), (None, 0));
}

#[test]
fn the_answer_offers_to_undo_what_the_button_did() {
    let server = started();
    let path = path(&server, Purpose::Stop);
    let asked = server.get(&path, "");
    assert!(asked.text.contains("Nothing has changed yet"), "{}", asked.text);
    assert_eq!(post(&server, &path, "do=resume&before=every-week").status, 200);
    let stopped = post(&server, &path, "do=stop");
    assert_eq!(mode(&server), Mode::Off);
    assert!(stopped.text.contains("name=\"before\" value=\"every-week\""), "{}", stopped.text);
    assert_eq!(post(&server, &path, "do=resume&before=every-week").status, 200);
    assert_eq!(mode(&server), Mode::EveryWeek);
    assert_eq!(post(&server, &path, "do=overdue-only").status, 200);
    assert_eq!(mode(&server), Mode::OverdueOnly);
    // What nobody can have chosen before is what everybody has.
    assert_eq!(post(&server, &path, "do=resume&before=off").status, 200);
    assert_eq!(mode(&server), Mode::WhenDueOrChanged);
}

/// What is the same in every answer to a link that does not hold.
fn refused(server: &Server, path: &str) -> (u16, String) {
    let get = server.get(path, "");
    assert!(get.text.contains("How to get a new one"), "{path}: {}", get.text);
    let post = post(server, path, "do=stop");
    assert_eq!((post.status, &post.text), (get.status, &get.text), "{path}");
    (get.status, get.text)
}

#[test]
fn every_link_that_does_not_hold_is_answered_alike() {
    let server = started();
    let all = [Purpose::Stop, Purpose::Preferences, Purpose::Reading];
    let mut answers = Vec::new();
    for purpose in all {
        let good = links().seal(&link(&server, purpose, "2026-11-25"));
        // Cut, changed, of another purpose, expired, of a party that is not here.
        answers.push(refused(&server, &at(purpose, "x")));
        answers.push(refused(&server, &at(purpose, &good[..good.len() - 1])));
        for other in all.into_iter().filter(|other| *other != purpose) {
            answers.push(refused(&server, &at(other, &good)));
        }
        let old = Link { until: day("2026-11-24"), ..link(&server, purpose, "2026-11-25") };
        answers.push(refused(&server, &at(purpose, &links().seal(&old))));
        let party = PartyId(uid("0193a000-0000-7000-8000-0000000000ff"));
        let nobody = Link { party, ..link(&server, purpose, "2026-11-25") };
        answers.push(refused(&server, &at(purpose, &links().seal(&nobody))));
        // What was made useless, once it was.
        let before = links().seal(&link(&server, purpose, "2026-11-25"));
        let revoked = post(&server, &path(&server, Purpose::Preferences), "do=revoke");
        assert_eq!(revoked.status, 200, "{revoked:?}");
        answers.push(refused(&server, &at(purpose, &before)));
        assert_eq!(server.get(&path(&server, purpose), "").status, 200);
    }
    assert!(answers.iter().all(|it| it == &answers[0]), "{answers:?}");
    assert_eq!(answers[0].0, 404);
    assert_eq!(preference(&server), Preference::default());
}

#[test]
fn a_link_in_a_mail_kept_for_three_years_still_ends_the_mails() {
    let server = started();
    let old = link(&server, Purpose::Stop, "2023-11-25");
    assert_eq!(post(&server, &at(Purpose::Stop, &links().seal(&old)), "do=stop").status, 200);
    let old = link(&server, Purpose::Reading, "2026-09-25");
    assert_eq!(server.get(&at(Purpose::Reading, &links().seal(&old)), "").status, 404);
}

#[test]
fn the_links_of_an_erased_owner_open_nothing() {
    let server = started();
    let paths = [Purpose::Stop, Purpose::Preferences, Purpose::Reading].map(|it| path(&server, it));
    let erasure = format!("/v1/owners/{OWNER}/erasures/0193a000-0000-7000-8000-000000000401");
    let body = r#"{"on": "2026-11-25"}"#;
    assert_eq!(server.send("PUT", &erasure, &server.operator, body).status, 201);
    for path in paths {
        refused(&server, &path);
    }
}

const CHOSEN: &str = "do=save&weekday=friday&at=18%3A30&zone=Europe%2FPrague&mode=overdue-only&dates=day-month-year&decimal_mark=comma&hours=hours-minutes";

#[test]
fn a_choice_is_kept_and_shown_again() {
    let server = started();
    let path = path(&server, Purpose::Preferences);
    let answer = post(&server, &path, CHOSEN);
    assert_eq!(answer.status, 200, "{answer:?}");
    let kept = preference(&server);
    assert_eq!(kept.weekday, chrono::Weekday::Fri);
    assert_eq!(kept.at.to_string(), "18:30:00");
    assert_eq!(kept.zone.map(gudgeon_life::zone::Zone::name), Some("Europe/Prague"));
    assert_eq!(kept.mode, Mode::OverdueOnly);
    assert_eq!(
        (kept.style.dates, kept.style.decimal_mark, kept.style.hours),
        (Dates::DayMonthYear, DecimalMark::Comma, HoursForm::HoursMinutes)
    );
    let page = server.get(&path, "").text;
    for shown in [
        "<option value=\"friday\" selected>",
        "value=\"18:30\"",
        "value=\"Europe/Prague\"",
        "<option value=\"overdue-only\" selected>",
        "<option value=\"comma\" selected>",
        "<option value=\"hours-minutes\" selected>",
    ] {
        assert!(page.contains(shown), "{shown}: {page}");
    }
}

#[test]
fn what_is_wrong_is_named_and_what_was_typed_stays() {
    let server = started();
    let path = path(&server, Purpose::Preferences);
    let wrong = CHOSEN.replace("Europe%2FPrague", "Middle+Earth").replace("18%3A30", "half+past");
    let answer = post(&server, &path, &wrong.replace("friday", "freitag"));
    assert_eq!(answer.status, 422);
    for shown in [
        "`Middle Earth` is not a time zone",
        "value=\"Middle Earth\"",
        "value=\"half past\"",
        "write the hour such as 07:00",
        "id=\"weekday-fault\"",
        // What was right stays as it was chosen.
        "<option value=\"comma\" selected>",
    ] {
        assert!(answer.text.contains(shown), "{shown}: {}", answer.text);
    }
    assert_eq!(preference(&server), Preference::default());
}

#[test]
fn the_pages_tell_no_other_place_their_address() {
    let server = started();
    let answer = server.get(&path(&server, Purpose::Preferences), "");
    assert_eq!(answer.header("referrer-policy"), Some("no-referrer"));
    assert_eq!(answer.header("cache-control"), Some("no-store"));
    assert!(!answer.text.contains("href=\"http"), "{}", answer.text);
}
