//! What calendars tell from one time to the next. RFC 5545, section 3.8.7.4: the sequence of an event rises with
//! every change of its day; section 3.8.1.11: one that is off is told as cancelled.

use super::sample::{Bench, LATER, NOW, party};
use crate::{CalendarEvent, WantedEvent};
use gudgeon_life::ids::Uid;

pub(crate) fn wanted(number: u8, day: &str) -> WantedEvent {
    WantedEvent {
        uid: Uid::from_bytes([number; 16]),
        day: day.parse().expect("a day"),
        estimated: false,
        summary: format!("item {number}"),
    }
}

fn about(number: u8, day: &str) -> WantedEvent {
    WantedEvent { estimated: true, ..wanted(number, day) }
}

/// Day, sequence and whether it is off, of every event told.
fn told(events: &[CalendarEvent]) -> Vec<(String, i64, bool)> {
    events.iter().map(|it| (it.day.to_string(), it.sequence, it.cancelled)).collect()
}

fn expected(events: &[(&str, i64, bool)]) -> Vec<(String, i64, bool)> {
    events.iter().map(|(day, sequence, off)| ((*day).to_owned(), *sequence, *off)).collect()
}

#[test]
fn the_sequence_rises_with_the_day_and_nothing_else() {
    let bench = Bench::new();
    let tell = |wanted: &[WantedEvent]| {
        told(&bench.store.calendar(party(1), wanted, LATER).expect("told"))
    };
    let first = [wanted(1, "2026-12-07"), wanted(2, "2027-01-01")];
    let both = expected(&[("2026-12-07", 0, false), ("2027-01-01", 0, false)]);
    assert_eq!(tell(&first), both);
    assert_eq!(tell(&first), both);
    // Another owner's calendar is another.
    let other = bench.store.calendar(party(2), &[], LATER).expect("told");
    assert_eq!(told(&other), expected(&[]));
    let moved = [wanted(1, "2026-12-08"), wanted(2, "2027-01-01")];
    assert_eq!(tell(&moved), expected(&[("2026-12-08", 1, false), ("2027-01-01", 0, false)]));
    // Done, it is off; the next time it falls due it is the same event again.
    let off = expected(&[("2026-12-08", 2, true), ("2027-01-01", 0, false)]);
    assert_eq!(tell(&moved[1..]), off);
    assert_eq!(tell(&moved[1..]), off);
    let again = [wanted(1, "2027-12-08"), wanted(2, "2027-01-01")];
    assert_eq!(tell(&again), expected(&[("2027-12-08", 3, false), ("2027-01-01", 0, false)]));
}

#[test]
fn an_estimate_that_hardly_moves_stays_where_it_is() {
    let bench = Bench::new();
    let tell = |wanted: WantedEvent| {
        told(&bench.store.calendar(party(1), &[wanted], LATER).expect("told"))
    };
    assert_eq!(tell(about(1, "2026-12-07")), expected(&[("2026-12-07", 0, false)]));
    assert_eq!(tell(about(1, "2026-12-13")), expected(&[("2026-12-07", 0, false)]));
    assert_eq!(tell(about(1, "2026-12-14")), expected(&[("2026-12-14", 1, false)]));
    // A day that is known counts to the day.
    assert_eq!(tell(wanted(1, "2026-12-13")), expected(&[("2026-12-13", 2, false)]));
}

#[test]
fn a_change_is_dated_when_it_was_made() {
    let bench = Bench::new();
    let tell = |day: &str, at| {
        let events = bench.store.calendar(party(1), &[wanted(1, day)], at).expect("told");
        events[0].changed_at
    };
    assert_eq!(tell("2026-12-07", NOW), NOW);
    assert_eq!(tell("2026-12-07", LATER), NOW);
    assert_eq!(tell("2026-12-08", LATER), LATER);
}
