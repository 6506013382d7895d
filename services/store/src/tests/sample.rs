//! A small invented workshop: one engine type with one item, one engine, one aircraft, one belt.

use crate::schema::stream;
use crate::streams::{StreamRow, stream_of};
use crate::{
    Appended, Begun, Claim, Claimant, Ending, Fault, FaultAt, Instant, OutboxRow, Pace, Post,
    Programmes, Store, Texts, Verified,
};
use chrono::NaiveDate;
use diesel::prelude::*;
use gudgeon_databases::Database;
use gudgeon_life::calendar::{CalendarMode, CalendarSpan};
use gudgeon_life::date_code::CodeDay;
use gudgeon_life::fact::{
    AircraftRegistered, Amendment, ComponentFitted, ComponentRegistered, Content, Custody,
    EngineInstalled, EngineRegistered, Entry, Fact, Host, Inspection, InspectionReading, Ownership,
    PartyRegistered, PartyRole, ProgrammeActivated, Reading, Stream, WorkDone,
};
use gudgeon_life::hours::{Basis, Hours};
use gudgeon_life::ids::{
    AircraftId, ComponentId, EngineId, FactId, ItemId, PartKind, PartyId, PositionId, Uid,
};
use gudgeon_life::programme::{
    Action, Applies, Class, CountsFrom, EngineType, Granted, Interval, Item, Limit, NextPolicy,
    Notice, Position, Subject,
};
use gudgeon_life::sure::rate::Owner;
use gudgeon_life::sure::season::Hemisphere;
use std::sync::Arc;

/// An hour after [`NOW`].
pub(super) const LATER: Instant = Instant(NOW.0 + 3_600_000_000);
/// No pace at all.
pub(super) const AT_ONCE: Pace<'static> = Pace { domain: "example.invalid", a_minute: None };
pub(super) const NOW: Instant = Instant(1_795_000_000_000_000);
pub(super) const TYPE: &str = "finch-24";
pub(super) const DIGEST: [u8; 32] = [7; 32];

/// A migrated database of its own, which goes when this goes.
pub(super) struct Bench {
    pub(super) store: Store,
    pub(super) database: Database,
}

impl Bench {
    pub(super) fn new() -> Self {
        Self::of(Database::fresh(migrate))
    }

    pub(super) fn of(database: Database) -> Self {
        let store = Store::open(database.url(), false).expect("a migrated database opens");
        Self { store, database }
    }

    /// With the engine type of [`Programme`] active.
    pub(super) fn with_type() -> Self {
        Self::new().with_the_type()
    }

    /// The same, with the engine type of [`Programme`] active.
    pub(super) fn with_the_type(self) -> Self {
        self.activate("sample", DIGEST, &Programme);
        self
    }

    /// With a version of [`TYPE`] added and activated.
    pub(super) fn activate(&self, toml: &str, digest: [u8; 32], programmes: &dyn Programmes) {
        let added = self.store.add_engine_type(TYPE, toml, digest, NOW, programmes);
        assert!(added.expect("the version is stored"));
        let appended = self.store.append(&post(activated(250, "2026-01-01", digest)), programmes);
        assert!(matches!(appended, Ok(Appended::Created(_))), "{appended:?}");
    }

    pub(super) fn append(&self, fact: Fact) -> Appended {
        self.store.append(&post(fact), &Programme).expect("the fact is stored")
    }
}

/// Makes the tables of a database.
pub(crate) fn migrate(url: &str) {
    let store = Store::open(url, true).expect("a new database opens");
    store.migrate().expect("the migrations apply");
}

/// That a version of [`TYPE`] is the active one from a day.
pub(super) fn activated(n: u8, on: &str, digest: [u8; 32]) -> Fact {
    let activated = ProgrammeActivated { engine_type: item(TYPE), digest };
    fact(n, on, Content::ProgrammeActivated(activated))
}

/// An item every 100 h or 12 months, from done, noticed 10 h or 30 days before.
pub(super) struct Programme;

impl Programmes for Programme {
    fn known(&self, digest: &[u8; 32]) -> Option<Arc<EngineType>> {
        (*digest == DIGEST).then(|| Arc::new(engine_type()))
    }

    fn get(&self, _: &[u8; 32], toml: &str) -> Option<Arc<EngineType>> {
        (toml == "sample").then(|| Arc::new(engine_type()))
    }
}

pub(super) fn engine_type() -> EngineType {
    let position = |id: &str| Position { id: position(id), title: id.to_owned() };
    EngineType {
        name: item(TYPE),
        title: "Finch 24".to_owned(),
        invented: true,
        basis: Basis::EngineRun,
        entered_up_to: day("2026-01-01"),
        positions: vec![position("mag"), position("pto")],
        bench: gudgeon_life::sheet::Bench::default(),
        items: vec![Item {
            id: item("inspection-100"),
            title: "100-hour inspection".to_owned(),
            subject: Subject::Engine,
            positions: Vec::new(),
            class: Class::RequiredInspection,
            source: "invented for this test".to_owned(),
            limits: vec![Limit {
                name: None,
                counts_from: CountsFrom::New,
                once: Vec::new(),
                first: None,
                every: Interval {
                    hours: Some(Hours::from_whole(100)),
                    spans: vec![CalendarSpan::months(12)],
                },
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
        }],
    }
}

pub(super) fn post(fact: Fact) -> Post {
    Post { fact, texts: Texts::default(), by: None, recorded_at: None, received_at: NOW }
}

pub(super) fn uid(n: u8) -> Uid {
    Uid::from_bytes([n; 16])
}

pub(super) fn engine(n: u8) -> EngineId {
    EngineId(uid(n))
}

pub(super) fn aircraft(n: u8) -> AircraftId {
    AircraftId(uid(n))
}

pub(super) fn component(n: u8) -> ComponentId {
    ComponentId(uid(n))
}

pub(super) fn party(n: u8) -> PartyId {
    PartyId(uid(n))
}

pub(super) fn item(text: &str) -> ItemId {
    ItemId::new(text).expect("a short name")
}

pub(super) fn position(text: &str) -> PositionId {
    PositionId::new(text).expect("a short name")
}

pub(super) fn day(text: &str) -> NaiveDate {
    text.parse().expect("a day")
}

pub(super) fn hours(text: &str) -> Hours {
    Hours::parse(text).expect("hours")
}

pub(super) fn fact(id: u8, on: &str, content: Content) -> Fact {
    Fact { id: FactId(uid(id)), entry: Entry { on: day(on), order_in_day: 0, content } }
}

pub(super) fn registered(id: u8, on: &str, n: u8, tsn: &str) -> Fact {
    engine_registered(id, on, n, &format!("F-{n}"), tsn)
}

/// An engine at 0.0 h that carries this serial number.
pub(super) fn numbered_engine(id: u8, on: &str, n: u8, serial: &str) -> Fact {
    engine_registered(id, on, n, serial, "0")
}

fn engine_registered(id: u8, on: &str, n: u8, serial: &str, tsn: &str) -> Fact {
    let content = EngineRegistered {
        engine: engine(n),
        engine_type: item(TYPE),
        serial: serial.to_owned(),
        basis: Basis::EngineRun,
        tsn: Some(hours(tsn)),
        made_on: Some(day("2020-05-01")),
        overhauled: None,
    };
    fact(id, on, Content::EngineRegistered(content))
}

pub(super) fn aircraft_registered(id: u8, on: &str, n: u8) -> Fact {
    let content = AircraftRegistered {
        aircraft: aircraft(n),
        mark: "X-ABCD".to_owned(),
        basis: Basis::EngineRun,
        flown_by: Owner::Unknown,
        hemisphere: Hemisphere::Unknown,
    };
    fact(id, on, Content::AircraftRegistered(content))
}

pub(super) fn installed(id: u8, on: &str, n: u8, into: u8, meter: &str) -> Fact {
    let content =
        EngineInstalled { engine: engine(n), aircraft: aircraft(into), meter: hours(meter) };
    fact(id, on, Content::EngineInstalled(content))
}

pub(super) fn read(id: u8, on: &str, of: Host, meter: &str) -> Fact {
    fact(id, on, Content::Reading(Reading { of, meter: hours(meter) }))
}

pub(super) fn owned(id: u8, on: &str, of: Host, owner: u8) -> Fact {
    fact(id, on, Content::Ownership(Ownership { of, owner: party(owner) }))
}

pub(super) fn shop(id: u8, n: u8) -> Fact {
    let content = PartyRegistered { party: party(n), role: PartyRole::Shop };
    fact(id, "2025-01-01", Content::PartyRegistered(content))
}

pub(super) fn owner(id: u8, n: u8) -> Fact {
    let content = PartyRegistered { party: party(n), role: PartyRole::Owner };
    fact(id, "2026-01-01", Content::PartyRegistered(content))
}

/// That a workshop may see an engine, from a day until a last one.
pub(super) fn given(id: u8, on: &str, n: u8, shop: u8, until: Option<&str>) -> Fact {
    let custody = Custody { engine: engine(n), shop: party(shop), until: until.map(day) };
    fact(id, on, Content::Custody(custody))
}

pub(super) fn belt(id: u8, on: &str, n: u8) -> Fact {
    belt_registered(id, on, n, None)
}

/// A belt that carries this serial number.
pub(super) fn numbered_belt(id: u8, on: &str, n: u8, serial: &str) -> Fact {
    belt_registered(id, on, n, Some(serial.to_owned()))
}

fn belt_registered(id: u8, on: &str, n: u8, serial: Option<String>) -> Fact {
    let content = ComponentRegistered {
        component: component(n),
        kind: PartKind::new("fan-belt").expect("a short name"),
        serial,
        lot: Some("L7".to_owned()),
        maker_part: None,
        code: None,
        hours: Some(Hours::ZERO),
        cured_on: None,
        first_fitted_on: None,
        overhauled: None,
    };
    fact(id, on, Content::ComponentRegistered(content))
}

pub(super) fn fitted(id: u8, on: &str, n: u8, host: Host) -> Fact {
    let content = ComponentFitted { component: component(n), host, position: None, meter: None };
    fact(id, on, Content::ComponentFitted(content))
}

/// That a fact says something else, or nothing any more.
pub(super) fn amended(id: u8, root: u8, stream: Stream, replacement: Option<Fact>) -> Fact {
    let root = FactId(uid(root));
    let replacement = replacement.map(|fact| Box::new(fact.entry));
    let amendment = Amendment { stream, root, supersedes: root, replacement };
    fact(id, "2026-04-01", Content::Amendment(amendment))
}

/// The 100-hour inspection done, with the meter read on the day.
pub(super) fn inspected(id: u8, on: &str, n: u8, meter: &str) -> Fact {
    let content = Inspection {
        engine: engine(n),
        shop: party(90),
        work_order: Some("WO 1".to_owned()),
        sheet: None,
        opened_on: day(on),
        released: true,
        readings: vec![InspectionReading { on: day(on), meter: hours(meter) }],
        tsn: None,
        findings: Vec::new(),
        measurements: Vec::new(),
        work: vec![WorkDone {
            item: item("inspection-100"),
            positions: Vec::new(),
            action: Action::Inspected,
        }],
        marks: Vec::new(),
        overhaul: None,
        test_run: None,
        run_in: None,
        fastenings: Vec::new(),
        matched: Vec::new(),
    };
    fact(id, on, Content::Inspection(content))
}

/// Engine 1 in aircraft 50 since 1 January at 1000.0 h, the meter showing 500.0; inspected on 1 February at
/// meter 532.5, so at 1032.5 h; read on 1 March at 540.0, so 1040.0 h. Owner 70 by the aircraft.
pub(super) fn story() -> Vec<Fact> {
    vec![
        registered(1, "2026-01-01", 1, "1000"),
        aircraft_registered(2, "2026-01-01", 50),
        installed(3, "2026-01-01", 1, 50, "500"),
        owned(4, "2026-01-01", Host::Aircraft(aircraft(50)), 70),
        inspected(5, "2026-02-01", 1, "532.5"),
        read(6, "2026-03-01", Host::Aircraft(aircraft(50)), "540"),
    ]
}

/// Mails that the test has in hand.
pub(super) fn claimed(store: &Store, limit: i64) -> Vec<(Claim, OutboxRow)> {
    let claimant = Claimant { by: "the test", at: NOW, lease_until: LATER };
    store.claim_reports(limit, &claimant).expect("an answer")
}

/// Hands the first mail over that is due.
pub(super) fn deliver_first(store: &Store) {
    let (claim, _) = claimed(store, 1).remove(0);
    let begun = store.begin_transmitting(claim, AT_ONCE, NOW, LATER).expect("an answer");
    assert_eq!(begun, Begun::Yes);
    assert!(store.end_delivery(claim, Ending::Accepted("a receipt"), NOW).expect("an answer"));
}

/// All streams that hold facts, with their keys, by key.
pub(super) fn streams(store: &Store) -> Vec<(i64, Stream)> {
    let rows = store.read(|conn| {
        let held = stream::table.filter(stream::head_seq.gt(0)).order(stream::id);
        Ok(held.select(StreamRow::as_select()).load::<StreamRow>(conn)?)
    });
    let of = |row: &StreamRow| (row.id, stream_of(row.kind, row.uid).expect("a known kind"));
    rows.expect("readable").iter().map(of).collect()
}

/// What `verify` finds.
pub(super) fn verify(store: &Store) -> Result<Verified, Fault> {
    store.verify(&mut |_| {}).expect("readable")
}

/// The place of the fact that `verify` finds fault with, in its stream.
pub(super) fn fault_seq(store: &Store) -> Option<i64> {
    match verify(store).expect_err("somebody tampered").at {
        FaultAt::Fact { seq, .. } => Some(seq),
        FaultAt::Anchor(_) | FaultAt::Photo(_) | FaultAt::File => None,
    }
}
