//! When reports leave, in every zone of the IANA database from 2024 to 2034, against another implementation.

#![expect(clippy::expect_used, reason = "a test that cannot go on has failed")]

use chrono::{Datelike as _, NaiveTime, Timelike as _, Weekday};
use gudgeon_life::preference::Preference;
use gudgeon_life::week::ReportWeek;
use gudgeon_life::zone::Zone;
use std::collections::{BTreeMap, BTreeSet};

/// Worked out by `make.py` beside it: zoneinfo of Python over the same database, 2025b.
const LEAVES: &str = include_str!("../../../tests/vectors/zones/leaves.tsv");
/// The times of `make.py`.
const TIMES: [(Weekday, u32, u32); 4] =
    [(Weekday::Mon, 7, 0), (Weekday::Sun, 2, 30), (Weekday::Sun, 0, 15), (Weekday::Sun, 23, 59)];

/// From 2024-W01 to 2034-W52.
fn weeks() -> Vec<ReportWeek> {
    let week = |year, number| ReportWeek::new(year, number).expect("a week");
    let all = std::iter::successors(Some(week(2024, 1)), |week| Some(week.next()));
    all.take_while(|it| *it <= week(2034, 52)).collect()
}

fn preference((weekday, hour, minute): (Weekday, u32, u32)) -> Preference {
    let at = NaiveTime::from_hms_opt(hour, minute, 0).expect("a time");
    Preference { weekday, at, ..Preference::default() }
}

/// FNV-1a with 64 bits (draft-eastlake-fnv-21, section 2).
fn fnv(text: &str) -> u64 {
    text.bytes().fold(0xcbf2_9ce4_8422_2325, |value, byte| {
        (value ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
    })
}

#[test]
fn every_report_leaves_at_the_instant_that_another_implementation_gives() {
    let expected: BTreeMap<&str, &str> =
        LEAVES.lines().map(|line| line.split_once('\t').expect("two columns")).collect();
    let found: BTreeMap<String, String> = Zone::all()
        .map(|zone| {
            let instants: Vec<String> = weeks()
                .into_iter()
                .flat_map(|week| TIMES.map(|time| preference(time).leaves_at(week, zone)))
                .map(|at| at.timestamp().to_string() + "\n")
                .collect();
            (zone.name().to_owned(), format!("{:016x}", fnv(&instants.concat())))
        })
        .collect();
    let differ: Vec<&String> = found
        .iter()
        .filter(|(zone, hash)| expected.get(zone.as_str()).is_some_and(|it| it != hash))
        .map(|(zone, _)| zone)
        .collect();
    assert!(differ.is_empty(), "{differ:?}");
    let both = found.keys().filter(|zone| expected.contains_key(zone.as_str())).count();
    assert!(both > 590, "{both} zones are known to both");
}

// Exactly one instant a week, each later than the one before and in its own week by the local clock, at the day and time
// asked for unless clocks skip that.
#[test]
fn there_is_one_report_each_week_at_the_local_hour_asked_for() {
    let weeks = weeks();
    assert!(weeks.iter().any(|week| week.to_string() == "2026-W53"));
    let mut skipped = 0;
    for zone in Zone::all() {
        for (weekday, hour, minute) in TIMES {
            let preference = preference((weekday, hour, minute));
            let instants: Vec<_> =
                weeks.iter().map(|week| preference.leaves_at(*week, zone)).collect();
            assert!(instants.is_sorted_by(|before, after| before < after), "{zone}");
            let mut own = BTreeSet::new();
            for (week, at) in weeks.iter().zip(&instants) {
                let local = zone.local(*at);
                own.insert(ReportWeek::of(local.date()));
                assert_eq!(ReportWeek::of(local.date()), *week, "{zone} {at}");
                if (local.weekday(), local.hour(), local.minute()) != (weekday, hour, minute) {
                    skipped += 1;
                    assert!(local.time() > preference.at, "{zone} {at}: clocks go on later");
                }
            }
            assert_eq!(own.len(), weeks.len(), "{zone}");
        }
    }
    assert!(skipped > 0, "some Sunday at 02:30 is skipped somewhere");
}
