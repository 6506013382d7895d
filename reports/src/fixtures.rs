//! Hand-made owners, engines and lines for the tests of this crate. All invented.

use crate::snapshot::{EngineSnapshot, OwnerSnapshot, Told};
use crate::witness::Witness;
use chrono::NaiveDate;
use gudgeon_life::calendar::{CalendarMode, CalendarSpan};
use gudgeon_life::date_code::CodeDay;
use gudgeon_life::fact::EventKind;
use gudgeon_life::hours::{Basis, Hours};
use gudgeon_life::ids::{AircraftId, EngineId, FactId, ItemId, PartyId, PositionId, Uid};
use gudgeon_life::line::{
    AskedBy, Axis, Count, DueLine, Happened, LastDone, Leg, Missing, Note, Overrun,
};
use gudgeon_life::programme::{
    Action, Applies, Class, CountsFrom, EngineType, Granted, Interval, Item, Limit, NextPolicy,
    Notice, Position, Subject,
};
use gudgeon_life::sheet::Bench;
use gudgeon_life::status::StatusDays;
use gudgeon_life::sure::engine::Flying;
use gudgeon_life::sure::rate::{CannotSay, Owner};
use gudgeon_life::sure::season::Hemisphere;
use gudgeon_life::version::ActiveVersion;
use gudgeon_store::{Anchor, AnchoredHead, EngineRow, Instant, ReportRow, ReportState};
use std::sync::Arc;

/// The day all tests look at: a Wednesday of 2026-W48.
pub(crate) const AS_OF: &str = "2026-11-25";

pub(crate) fn on(text: &str) -> NaiveDate {
    text.parse().expect("a day")
}

pub(crate) fn h(text: &str) -> Hours {
    Hours::parse(text).expect("hours")
}

pub(crate) fn uid(last: u8) -> Uid {
    let mut bytes = [0; 16];
    bytes[15] = last;
    Uid::from_bytes(bytes)
}

fn slug(text: &str) -> ItemId {
    ItemId::new(text).expect("a slug")
}

/// 2026-11-25 09:00:00 UTC in microseconds: 20782 days and 9 hours after the epoch.
const COMPOSED: i64 = (20_782 * 86_400 + 9 * 3_600) * 1_000_000;

/// A report as it is kept, to a recipient of this name.
pub(crate) fn sample_report(to_name: &str) -> ReportRow {
    ReportRow {
        key: 1,
        recipient: PartyId(uid(3)),
        kind: "owner".to_owned(),
        week: "2026-W48".to_owned(),
        as_of: on(AS_OF),
        message_id: "<owner.2026-W48.x@example.org>".to_owned(),
        to_name: to_name.to_owned(),
        to_address: "club@example.org".to_owned(),
        subject: "1 overdue: XX-001 (2026-W48)".to_owned(),
        text: "1 overdue\n".to_owned(),
        html: "<p>1 overdue</p>\n".to_owned(),
        digest: [0; 32],
        return_tag: "0a1b2c3d4e5f60718293".to_owned(),
        composed_at: Instant(COMPOSED),
        state: ReportState::Sending,
    }
}

/// A line with no leg and no status but "not due".
pub(crate) fn line(title: &str, class: Class) -> DueLine {
    DueLine {
        item: slug("item"),
        title: title.to_owned(),
        asked_by: AskedBy::Programme,
        position: None,
        component: None,
        class,
        source: "invented maintenance manual, part 5".to_owned(),
        legs: Vec::new(),
        hours_now: Some(h("292.0")),
        hours_on: Some(on("2026-11-16")),
        meter_now: Some(h("540.0")),
        plan_by: None,
        last: None,
        last_overrun: Overrun::default(),
        last_overrun_beyond_tolerance: false,
        days: StatusDays::default(),
        wear: Vec::new(),
        notes: Vec::new(),
    }
}

/// With a leg that began to be late, due or soon on these days.
pub(crate) fn with_leg(mut line: DueLine, count: Count, days: StatusDays) -> DueLine {
    line.legs.push(Leg { limit: None, count, no_later: None, days });
    line.days = line.days.with(days);
    line
}

pub(crate) fn hours(from: &str, due: &str, latest: &str) -> Count {
    Count::Hours { from: h(from), due: h(due), latest: h(latest) }
}

pub(crate) fn calendar(from: &str, due: &str, latest: &str) -> Count {
    Count::Calendar { from: on(from), due: on(due), latest: on(latest) }
}

/// Statuses from these days: coming due, due, late.
pub(crate) fn days(coming: &str, due: &str, late: &str) -> StatusDays {
    let day = |text: &str| (!text.is_empty()).then(|| on(text));
    StatusDays {
        coming_from: day(coming),
        due_from: day(due),
        late_from: day(late),
        ..StatusDays::default()
    }
}

/// Five years ran out on 2026-11-01, a Sunday: 24 days ago; no tolerance.
pub(crate) fn belt() -> DueLine {
    let mut belt = line("Renew the fan belt", Class::AirworthinessLimitation);
    belt.position = PositionId::new("fan");
    belt.last = Some(LastDone {
        on: on("2021-11-01"),
        hours: Some(h("12.4")),
        action: Action::Renewed,
        fact: FactId(uid(7)),
    });
    belt.notes = vec![Note::NoRelease];
    let belt = with_leg(belt, hours("12.4", "312.4", "312.4"), days("", "", ""));
    with_leg(
        belt,
        calendar("2021-11-01", "2026-11-01", "2026-11-01"),
        days("2026-10-02", "2026-11-02", "2026-11-02"),
    )
}

/// Due at 300 h, 8 h to run; the meter will show 548.
pub(crate) fn plugs() -> DueLine {
    with_leg(
        line("Renew the spark plugs", Class::Recommended),
        hours("250.0", "300.0", "310.0"),
        days("2026-11-16", "", ""),
    )
}

/// A propeller strike at 290.4 h, not looked after yet.
pub(crate) fn strike() -> DueLine {
    let mut check = line("Check crankshaft and gearbox", Class::RequiredInspection);
    check.asked_by = AskedBy::Event(Happened {
        kind: EventKind::PropellerStrike,
        on: on("2026-11-10"),
        hours: Some(h("290.4")),
        fact: FactId(uid(8)),
    });
    check.days = days("", "2026-11-10", "2026-11-10");
    check
}

/// Never done on record.
pub(crate) fn torque() -> DueLine {
    let unknown = StatusDays { unknown_from: Some(NaiveDate::MIN), ..StatusDays::default() };
    with_leg(
        line("Re-torque the cylinder heads", Class::RequiredInspection),
        Count::Missing(Axis::Hours, Missing::NeverDone),
        unknown,
    )
}

/// Fourteen months to go.
pub(crate) fn hoses() -> DueLine {
    with_leg(
        line("Renew the fuel hoses", Class::Recommended),
        calendar("2023-01-31", "2028-01-31", "2028-01-31"),
        days("2028-01-01", "2028-02-01", "2028-02-01"),
    )
}

pub(crate) fn engine_type() -> EngineType {
    EngineType {
        name: slug("invented-twin"),
        title: "Invented Twin 40".to_owned(),
        invented: true,
        basis: Basis::EngineRun,
        entered_up_to: on("2026-10-31"),
        positions: vec![Position {
            id: PositionId::new("fan").expect("a slug"),
            title: "cooling fan".to_owned(),
        }],
        items: Vec::new(),
        bench: Bench::default(),
    }
}

pub(crate) fn row(mark: &str, serial: &str) -> EngineRow {
    EngineRow {
        key: 1,
        engine: EngineId(uid(1)),
        engine_type: Some("invented-twin".to_owned()),
        type_digest: Some([1; 32]),
        serial: Some(serial.to_owned()),
        aircraft: Some(AircraftId(uid(2))),
        mark: Some(mark.to_owned()),
        owner: Some(PartyId(uid(3))),
        tsn: Some(h("292.0")),
        tso: None,
        overhauls: 0,
        hours_on: Some(on("2026-11-16")),
        meter: Some(h("540.0")),
        logged: true,
        wear_version: None,
        flying: Flying {
            rate: Err(CannotSay::NoReading),
            flown_by: Owner::Unknown,
            hemisphere: Hemisphere::Unknown,
            counted_on: None,
        },
        conflicts: Vec::new(),
        custodian: None,
        custodian_until: None,
    }
}

pub(crate) fn engine(mark: &str, lines: Vec<DueLine>) -> EngineSnapshot {
    let version = ActiveVersion { digest: [1; 32], since: on("2026-01-05"), replaces: None };
    EngineSnapshot {
        row: row(mark, "0042"),
        engine_type: Some(Arc::new(engine_type())),
        version: Some(version),
        lines,
        witness: Some(witness()),
        told: Told::default(),
    }
}

/// Seven records of the engine, two of its aircraft, anchored by the third and fourth anchor.
fn witness() -> Witness {
    let head = |seq, byte, anchor| AnchoredHead { seq, hash: [byte; 32], anchor };
    let week = "2026-W48".to_owned();
    let made_at = Instant(1_795_597_200_000_000);
    let anchor = Anchor { seq: 4, week, made_at, heads: 9, hash: [0xc3; 32] };
    Witness { anchor, engine: head(7, 0xa1, 4), aircraft: Some(head(2, 0xb2, 3)) }
}

/// The same with one item: every five years, counted from new.
pub(crate) fn five_years() -> EngineType {
    let item = Item {
        id: slug("fuel-hoses"),
        title: "Renew the fuel hoses".to_owned(),
        subject: Subject::Engine,
        positions: Vec::new(),
        class: Class::Recommended,
        source: "invented maintenance manual, part 5".to_owned(),
        limits: vec![Limit {
            name: None,
            counts_from: CountsFrom::New,
            once: Vec::new(),
            first: None,
            every: Interval { hours: None, spans: vec![CalendarSpan::months(60)] },
            calendar: CalendarMode::Day,
            shelf: false,
            code_day: CodeDay::First,
        }],
        next: NextPolicy::FromDone,
        tolerance: None,
        granted: Granted::Automatic,
        extension_percent: None,
        on_condition: None,
        trend: None,
        satisfied_by: Vec::new(),
        done_by: Vec::new(),
        until: Vec::new(),
        notice: Notice::default(),
        after: Vec::new(),
        applies: Applies::default(),
    };
    EngineType { items: vec![item], ..engine_type() }
}

/// A club with a belt overdue on one engine and no record of a re-torque on another.
pub(crate) fn club() -> OwnerSnapshot {
    let mut second = engine("XX-002", vec![torque(), plugs(), hoses()]);
    second.row.logged = false;
    second.row.tsn = None;
    second.row.conflicts =
        vec!["On 2026-10-03 the hour meter shows 512.0 h after 540.0 h, and no meter change is on record.".to_owned()];
    OwnerSnapshot {
        name: "Invented Flying Club".to_owned(),
        engines: vec![second, engine("XX-001", vec![hoses(), plugs(), belt()])],
    }
}
