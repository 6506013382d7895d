//! iCalendar text (RFC 5545): escaped, folded, with nothing in it that depends on when it is written.

use crate::event::Event;
use chrono::{DateTime, Days, NaiveDate};
use gudgeon_store::{CalendarEvent, Instant};

/// What a calendar is sent as (RFC 5545, section 8.1). As an attachment it asks nobody to answer.
pub const CONTENT_TYPE: &str = "text/calendar; method=PUBLISH; charset=utf-8";
/// Octets in a line before it is folded (RFC 5545, section 3.1).
const LINE_OCTETS: usize = 75;
/// How often programs are asked to look again.
const REFRESH: &str = "PT12H";

/// The calendar of these events. What is off has no description of its own any more.
pub(crate) fn text<'a>(
    events: impl Iterator<Item = (&'a CalendarEvent, Option<&'a Event>)>,
) -> String {
    let mut lines = Lines(String::new());
    for (name, value) in [
        ("BEGIN", "VCALENDAR"),
        ("VERSION", "2.0"),
        ("PRODID", "-//Gudgeon//What is due//EN"),
        ("CALSCALE", "GREGORIAN"),
        ("METHOD", "PUBLISH"),
        ("NAME", "Engines and what is due"),
        ("X-WR-CALNAME", "Engines and what is due"),
        ("REFRESH-INTERVAL;VALUE=DURATION", REFRESH),
        ("X-PUBLISHED-TTL", REFRESH),
    ] {
        lines.push(name, value);
    }
    for (told, event) in events {
        lines.event(told, event);
    }
    lines.push("END", "VCALENDAR");
    lines.0
}

/// Content lines, each ended and folded.
struct Lines(String);

impl Lines {
    fn event(&mut self, told: &CalendarEvent, event: Option<&Event>) {
        let changed = instant(told.changed_at);
        let told_on = event.filter(|_| !told.cancelled);
        let (status, category, description) = told_on.map_or_else(
            || {
                let off = "Taken off: done, withdrawn, or not due within twelve months.";
                ("CANCELLED", "off", off.to_owned())
            },
            |event| {
                let certain = if event.wanted.estimated { "TENTATIVE" } else { "CONFIRMED" };
                (certain, event.status, event.description.join("\n"))
            },
        );
        self.push("BEGIN", "VEVENT");
        self.push("UID", &told.uid.to_string());
        self.push("DTSTAMP", &changed);
        self.push("LAST-MODIFIED", &changed);
        self.push("SEQUENCE", &told.sequence.to_string());
        self.push("DTSTART;VALUE=DATE", &date(told.day));
        self.push(
            "DTEND;VALUE=DATE",
            &date(told.day.checked_add_days(Days::new(1)).unwrap_or(told.day)),
        );
        self.push("SUMMARY", &escaped(&told.summary));
        self.push("DESCRIPTION", &escaped(&description));
        self.push("CATEGORIES", &escaped(category));
        self.push("STATUS", status);
        // It takes nobody's time: it is a day to know of.
        self.push("TRANSP", "TRANSPARENT");
        self.push("END", "VEVENT");
    }

    /// Adds a line, folded so that no part of it is longer than it may be and no character is cut.
    fn push(&mut self, name: &str, value: &str) {
        let mut octets = 0;
        for c in format!("{name}:{value}").chars() {
            if octets + c.len_utf8() > LINE_OCTETS {
                self.0.push_str("\r\n ");
                octets = 1;
            }
            self.0.push(c);
            octets += c.len_utf8();
        }
        self.0.push_str("\r\n");
    }
}

/// Text as a value (RFC 5545, section 3.3.11); other control characters than the end of a line have no place in it.
fn escaped(text: &str) -> String {
    let mut out = String::new();
    for c in text.chars() {
        match c {
            '\\' | ';' | ',' => out.extend(['\\', c]),
            '\n' => out.push_str("\\n"),
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

fn date(day: NaiveDate) -> String {
    day.format("%Y%m%d").to_string()
}

/// An instant in UTC, to the second.
fn instant(at: Instant) -> String {
    let time = DateTime::from_timestamp_micros(at.0).unwrap_or_default();
    time.format("%Y%m%dT%H%M%SZ").to_string()
}

#[cfg(test)]
mod tests {
    use super::*;
    use gudgeon_life::ids::Uid;
    use proptest::prelude::*;

    fn told(summary: &str, cancelled: bool) -> CalendarEvent {
        CalendarEvent {
            uid: Uid::from_bytes([1; 16]),
            sequence: 3,
            day: NaiveDate::from_ymd_opt(2026, 12, 31).expect("a day"),
            summary: summary.to_owned(),
            cancelled,
            changed_at: Instant(1_795_608_000_000_000),
        }
    }

    /// The lines as they were before they were folded (RFC 5545, section 3.1).
    fn unfolded(text: &str) -> Vec<String> {
        text.replace("\r\n ", "").split_terminator("\r\n").map(str::to_owned).collect()
    }

    // Written by hand from RFC 5545; 1795608000 s is 2026-11-25 12:00 UTC.
    #[test]
    fn an_event_that_is_off_is_one_whole_day_and_says_so() {
        let off = told("DEMO-1: belts; coils, leads due", true);
        let lines = unfolded(&text([(&off, None)].into_iter()));
        let expected = [
            "BEGIN:VEVENT",
            "UID:01010101-0101-0101-0101-010101010101",
            "DTSTAMP:20261125T120000Z",
            "LAST-MODIFIED:20261125T120000Z",
            "SEQUENCE:3",
            "DTSTART;VALUE=DATE:20261231",
            "DTEND;VALUE=DATE:20270101",
            "SUMMARY:DEMO-1: belts\\; coils\\, leads due",
            "DESCRIPTION:Taken off: done\\, withdrawn\\, or not due within twelve months.",
            "CATEGORIES:off",
            "STATUS:CANCELLED",
            "TRANSP:TRANSPARENT",
            "END:VEVENT",
        ];
        assert_eq!(lines.get(9..22).expect("an event"), expected);
        assert_eq!(lines.first().map(String::as_str), Some("BEGIN:VCALENDAR"));
        assert_eq!(lines.last().map(String::as_str), Some("END:VCALENDAR"));
    }

    proptest! {
        #[test]
        fn no_text_breaks_out_of_its_line(summary in "\\PC*|[\\x00-\\x1f;,:\\\\\"ü老 ]{0,200}") {
            let event = told(&summary, false);
            let text = text([(&event, None)].into_iter());
            for line in text.split_terminator("\r\n") {
                prop_assert!(line.len() <= 75, "{line}");
                prop_assert!(!line.contains(['\r', '\n']), "{line}");
            }
            prop_assert_eq!(unfolded(&text).len(), 9 + 13 + 1);
        }
    }
}
