//! Hand-made snapshots with everything that a mail can say: an owner's, a workshop's and an inspector's. All invented.

use crate::fixtures::{
    AS_OF, belt, calendar, club, days, engine, h, hoses, line, on, plugs, row, strike, uid,
    with_leg,
};
use crate::snapshot::{
    Before, EngineSnapshot, InspectorSnapshot, LastInspection, MailInTrouble, Muted, OwnerSnapshot,
    PostInDoubt, ShopSnapshot, SilentShop, Told,
};
use gudgeon_life::decimal::Decimal;
use gudgeon_life::fact::{Condition, Finding, Inspection, Measurement, Recheck, Taken};
use gudgeon_life::ids::{ComponentId, EngineId, FactId, ItemId, PartyId, PositionId, Quantity};
use gudgeon_life::line::{DueLine, LastDone};
use gudgeon_life::measure::{Bounds, QuantityRule, Unit};
use gudgeon_life::programme::{Action, Class, EngineType};
use gudgeon_life::renewals::{Reason, Renewal};
use gudgeon_life::sheet::{Asked, Bench, Point, Sheet, SheetKind};
use gudgeon_life::status::Status;
use gudgeon_life::sure::forecast::{Days, Forecast, Today};
use gudgeon_life::sure::rate::Basis;
use std::sync::Arc;

fn slug(text: &str) -> ItemId {
    ItemId::new(text).expect("a slug")
}

/// The day a week before, on which the mail before looked.
fn week_before() -> chrono::NaiveDate {
    on("2026-11-18")
}

/// A belt with its own record and lot, overdue; plugs by hours with a forecast; hoses just renewed.
pub(crate) fn told_lines() -> Vec<DueLine> {
    let belt = DueLine { component: Some(ComponentId(uid(60))), item: slug("fan-belt"), ..belt() };
    let plugs = DueLine { item: slug("spark-plugs"), days: days("2026-11-20", "", ""), ..plugs() };
    let last = LastDone {
        on: on("2026-11-20"),
        hours: Some(h("292.0")),
        action: Action::Renewed,
        fact: FactId(uid(9)),
    };
    let hoses = DueLine { item: slug("fuel-hoses"), last: Some(last), ..hoses() };
    vec![belt, plugs, hoses]
}

/// The early, the middle and the late day by which 8 h are run.
pub(crate) fn forecast() -> Forecast {
    Forecast::Days(Days {
        p10: Some(on("2026-12-04")),
        p50: Some(on("2026-12-20")),
        p90: Some(on("2027-01-15")),
        basis: Basis::OwnReadings,
        gaps: 12,
        last_reading: on("2026-11-16"),
        stale: false,
        today: Today::Ahead,
    })
}

/// The bore may be 67.62 mm at most; a sheet asks about the belt.
fn bench_type() -> EngineType {
    let max = Decimal::parse("67.62").expect("a decimal");
    let bore = QuantityRule {
        id: Quantity::new("bore").expect("a slug"),
        title: "Bore".to_owned(),
        unit: Unit::parse("mm").expect("a unit"),
        positions: Vec::new(),
        source: "invented overhaul manual, table 3".to_owned(),
        new: Bounds::default(),
        limit: Bounds { min: None, max: Some(max) },
        range: Bounds::default(),
        gauge: None,
        wear: None,
        group: None,
        apart_max: None,
        feeds: None,
        correction: None,
        derived: None,
    };
    let look = Point {
        asks: Asked::Look(slug("fan-belt")),
        title: "Fan belt".to_owned(),
        positions: Vec::new(),
        lines: 1,
    };
    let sheet = Sheet {
        id: slug("hundred-hours"),
        title: "Hundred-hour sheet".to_owned(),
        kind: SheetKind::HundredHour,
        points: vec![look],
    };
    let bench = Bench { strokes: None, quantities: vec![bore], sheets: vec![sheet] };
    EngineType { bench, ..crate::fixtures::engine_type() }
}

/// A belt to be looked at again, plugs fit, and a bore of 67.65 mm.
fn inspection() -> Inspection {
    let finding = |item: &str, condition, recheck| Finding {
        item: slug(item),
        position: PositionId::new("fan"),
        condition,
        recheck,
        photos: Vec::new(),
    };
    let again = Recheck { hours: Some(h("10.0")), on: Some(on("2026-12-31")) };
    Inspection {
        engine: EngineId(uid(1)),
        shop: PartyId(uid(80)),
        work_order: Some("WO-17".to_owned()),
        sheet: None,
        opened_on: on("2026-11-19"),
        released: true,
        readings: Vec::new(),
        tsn: None,
        findings: vec![
            finding("fan-belt", Condition::Monitor, Some(again)),
            finding("spark-plugs", Condition::Serviceable, None),
        ],
        measurements: vec![Measurement {
            quantity: Quantity::new("bore").expect("a slug"),
            position: None,
            taken: Taken::One("67.65".to_owned()),
            unit: "mm".to_owned(),
            gauge: None,
            uncertainty: Some("0.01".to_owned()),
            temperature: None,
            wrench: None,
        }],
        work: Vec::new(),
        marks: Vec::new(),
        overhaul: None,
        test_run: None,
        run_in: None,
        fastenings: Vec::new(),
        matched: Vec::new(),
    }
}

/// One engine with everything told of it.
pub(crate) fn told_engine(mark: &str) -> EngineSnapshot {
    let lines = told_lines();
    let mut before = lines.clone();
    for line in &mut before {
        if line.item == slug("fuel-hoses") {
            let late = calendar("2021-11-01", "2026-11-01", "2026-11-01");
            let days = days("2026-10-02", "2026-11-02", "2026-11-02");
            *line = with_leg(line_without_work(line), late, days);
        }
    }
    let told = Told {
        forecasts: vec![None, Some(forecast()), None],
        parts: [(ComponentId(uid(60)), "fan belt lot L-22".to_owned())].into(),
        shops: [(FactId(uid(9)), "Invented Workshop".to_owned())].into(),
        before: Some(Before { on: week_before(), lines: before }),
        last: Some(LastInspection {
            record: FactId(uid(9)),
            on: on("2026-11-20"),
            shop: Some("Invented Workshop".to_owned()),
            inspection: inspection(),
        }),
    };
    EngineSnapshot { told, engine_type: Some(Arc::new(bench_type())), ..engine(mark, lines) }
}

fn line_without_work(of: &DueLine) -> DueLine {
    DueLine { item: of.item.clone(), ..line("Renew the fuel hoses", Class::Recommended) }
}

/// A club that has something of everything to read.
pub(crate) fn told_club() -> OwnerSnapshot {
    let mut club = club();
    let mut unread = engine("XX-007", vec![strike()]);
    unread.row.hours_on = Some(on("2026-09-01"));
    club.engines.extend([told_engine("XX-006"), unread]);
    club
}

/// A workshop that holds two engines and has one post to correct.
pub(crate) fn workshop() -> ShopSnapshot {
    let renewal = Renewal {
        item: slug("fan-belt"),
        spots: vec![(PositionId::new("fan"), Some(ComponentId(uid(60))))],
        why: vec![Reason::Programme, Reason::FoundScrap(on("2026-11-20"))],
    };
    ShopSnapshot {
        name: "Invented Workshop".to_owned(),
        engines: vec![told_engine("XX-006"), told_engine("XX-008")],
        renewals: vec![vec![renewal.clone()], vec![renewal]],
        posts: vec![PostInDoubt {
            record: FactId(uid(9)),
            on: on("2026-11-20"),
            work_order: Some("WO-17".to_owned()),
            engine: "XX-006".to_owned(),
            faults: vec!["No release is recorded with it.".to_owned()],
        }],
    }
}

/// A fleet of 42 engines with something in every list.
pub(crate) fn fleet() -> InspectorSnapshot {
    let mut unread = row("XX-007", "0007");
    unread.hours_on = Some(on("2026-07-01"));
    let mut never = row("XX-010", "0010");
    never.hours_on = None;
    InspectorSnapshot {
        name: "Invented Inspector".to_owned(),
        counts: vec![
            (Status::Overdue, 3),
            (Status::Unknown, 2),
            (Status::ComingDue, 7),
            (Status::NotDue, 30),
        ],
        worst: vec![told_engine("XX-006"), club().engines.remove(0)],
        unread_count: 2,
        unread: vec![never, unread],
        shops: 5,
        silent: vec![
            SilentShop { name: "Quiet Bench".to_owned(), last_on: None },
            SilentShop { name: "Slow Bench".to_owned(), last_on: Some(on("2026-10-01")) },
        ],
        mails: vec![MailInTrouble {
            recipient: PartyId(uid(3)),
            name: "Invented Flying Club".to_owned(),
            week: "2026-W47".to_owned(),
            failed: true,
            why: "the address does not exist".to_owned(),
        }],
        muted: vec![Muted { name: "Invented Owner".to_owned(), since: Some(on(AS_OF)) }],
    }
}
