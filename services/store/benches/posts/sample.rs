//! A type of thirty items, engines of it with some years of records, and inspections to post about them. Each
//! item is done at every tenth inspection and due at every twentieth, so that nothing is overdue.

use crate::ITEMS_DONE;
use chrono::{Days, NaiveDate};
use gudgeon_life::calendar::{CalendarMode, CalendarSpan};
use gudgeon_life::date_code::CodeDay;
use gudgeon_life::fact::{
    AircraftRegistered, Content, EngineInstalled, EngineRegistered, Entry, Fact, Inspection,
    InspectionReading, ProgrammeActivated, WorkDone,
};
use gudgeon_life::hours::{Basis, Hours};
use gudgeon_life::ids::{AircraftId, EngineId, FactId, ItemId, PartyId, Uid};
use gudgeon_life::programme::{
    Action, Applies, Class, CountsFrom, EngineType, Granted, Interval, Item, Limit, NextPolicy,
    Notice, Subject,
};
use gudgeon_life::sheet::Bench;
use gudgeon_life::sure::rate::Owner;
use gudgeon_life::sure::season::Hemisphere;
use gudgeon_store::{Instant, Post, Programmes, Store, Texts};
use std::sync::Arc;

const ITEMS: i64 = 30;
/// Inspections of each engine before the bench begins.
const VISITS: u32 = 8;
const DIGEST: [u8; 32] = [1; 32];
const FIRST: NaiveDate = NaiveDate::from_ymd_opt(2022, 1, 1).expect("a day");

/// The only type, read once.
pub(crate) struct Types(Arc<EngineType>);

impl Programmes for Types {
    fn known(&self, _: &[u8; 32]) -> Option<Arc<EngineType>> {
        Some(Arc::clone(&self.0))
    }

    fn get(&self, digest: &[u8; 32], _: &str) -> Option<Arc<EngineType>> {
        self.known(digest)
    }
}

impl Types {
    pub(crate) fn new() -> Self {
        let limit = Limit {
            name: None,
            counts_from: CountsFrom::New,
            once: Vec::new(),
            first: None,
            every: Interval {
                hours: Some(Hours::from_whole(300)),
                spans: vec![CalendarSpan::months(60)],
            },
            calendar: CalendarMode::EndOfMonth,
            shelf: false,
            code_day: CodeDay::First,
        };
        let item = |number| Item {
            id: name(number),
            title: format!("Item {number}"),
            subject: Subject::Engine,
            positions: Vec::new(),
            class: Class::RequiredInspection,
            source: "the bench".to_owned(),
            limits: vec![limit.clone()],
            next: NextPolicy::FromDue,
            tolerance: None,
            granted: Granted::Automatic,
            extension_percent: None,
            on_condition: None,
            trend: None,
            satisfied_by: Vec::new(),
            done_by: vec![Action::Inspected],
            until: Vec::new(),
            notice: Notice::default(),
            after: Vec::new(),
            applies: Applies::default(),
        };
        Self(Arc::new(EngineType {
            name: name(0),
            title: "Bench twin".to_owned(),
            invented: true,
            basis: Basis::EngineRun,
            entered_up_to: FIRST,
            positions: Vec::new(),
            items: (0..ITEMS).map(item).collect(),
            bench: Bench::default(),
        }))
    }

    /// Records of so many engines, posted to a new store; gives the number of facts.
    pub(crate) fn fill(&self, store: &Store, engines: u32) -> i64 {
        let name = name(0);
        let added = store.add_engine_type(name.as_str(), "the bench", DIGEST, Instant(0), self);
        assert!(added.expect("stored"), "the store is new");
        let activated = ProgrammeActivated { engine_type: name, digest: DIGEST };
        let mut posts = vec![post(7, 0, 0, FIRST, Content::ProgrammeActivated(activated))];
        for engine in 0..engines {
            posts.extend(begun(engine));
            posts.extend((1..=VISITS).map(|visit| inspection(engine, visit)));
        }
        let answers = store.append_many(&posts, self).expect("the database is there");
        assert!(answers.iter().all(Result::is_ok), "all of them are kept");
        i64::try_from(posts.len()).expect("few")
    }
}

/// The inspection of an engine that its records lack next, in order from 1.
pub(crate) fn next_inspection(engine: u32, number: u32) -> Post {
    inspection(engine, VISITS + number)
}

/// What is registered has its record's id, as in the API.
fn begun(engine: u32) -> [Post; 3] {
    let (id, aircraft) = (EngineId(uid(1, engine, 0)), AircraftId(uid(2, engine, 0)));
    let registered = EngineRegistered {
        engine: id,
        engine_type: name(0),
        serial: format!("F{engine}"),
        basis: Basis::EngineRun,
        tsn: Some(Hours::ZERO),
        made_on: Some(FIRST),
        overhauled: None,
    };
    let carrier = AircraftRegistered {
        aircraft,
        mark: format!("X-{engine}"),
        basis: Basis::EngineRun,
        flown_by: Owner::Unknown,
        hemisphere: Hemisphere::Unknown,
    };
    let installed = EngineInstalled { engine: id, aircraft, meter: Hours::ZERO };
    [
        post(1, engine, 0, FIRST, Content::EngineRegistered(registered)),
        post(2, engine, 0, FIRST, Content::AircraftRegistered(carrier)),
        post(6, engine, 0, FIRST, Content::EngineInstalled(installed)),
    ]
}

fn inspection(engine: u32, visit: u32) -> Post {
    let on = FIRST + Days::new(60 * u64::from(visit));
    let meter = Hours::from_whole(i64::from(visit) * 15);
    let done =
        |item| WorkDone { item: name(item), positions: Vec::new(), action: Action::Inspected };
    let content = Inspection {
        engine: EngineId(uid(1, engine, 0)),
        shop: PartyId(uid(3, 0, 0)),
        work_order: Some(format!("{engine}-{visit}")),
        sheet: None,
        opened_on: on,
        released: true,
        readings: vec![InspectionReading { on, meter }],
        tsn: None,
        findings: Vec::new(),
        measurements: Vec::new(),
        work: (0..ITEMS_DONE)
            .map(|nth| done((i64::from(visit) * ITEMS_DONE + nth) % ITEMS))
            .collect(),
        marks: Vec::new(),
        overhaul: None,
        test_run: None,
        run_in: None,
        fastenings: Vec::new(),
        matched: Vec::new(),
    };
    post(9, engine, visit, on, Content::Inspection(content))
}

fn post(kind: u8, number: u32, sub: u32, on: NaiveDate, content: Content) -> Post {
    let entry = Entry { on, order_in_day: 0, content };
    let fact = Fact { id: FactId(uid(kind, number, sub)), entry };
    Post { fact, texts: Texts::default(), by: None, recorded_at: None, received_at: Instant(0) }
}

fn uid(kind: u8, number: u32, sub: u32) -> Uid {
    let mut bytes = [0; 16];
    let parts = [[1, 0x9a, 0x70, kind], [0x80, 0, 0, 0], sub.to_be_bytes(), number.to_be_bytes()];
    for (byte, value) in bytes.iter_mut().zip(parts.as_flattened()) {
        *byte = *value;
    }
    Uid::from_bytes(bytes)
}

fn name(number: i64) -> ItemId {
    ItemId::new(&format!("item-{number}")).expect("a short name")
}
