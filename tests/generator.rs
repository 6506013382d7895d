//! Fleets of any size for tests and benches: invented, plausible, and the same for the same seed.
//!
//! [`Fleet`] gives the posts of one engine after the other and holds no more than one engine's at a time, so
//! that a country's fleet is made in the memory of a club's. An engine's posts come in the order in which
//! things happened, and depend on the seed and the engine's number alone.
//!
//! Each engine comes with what is around it: an aircraft (one in ten has two engines), an owner (of up to
//! three engines), a workshop (of up to two hundred), the parts that its type counts apart, readings every
//! few months, and on every second of those days an inspection with findings and work.

mod dice;

use chrono::{Days, NaiveDate};
use dice::{Dice, uid};
use gudgeon_life::date_code::Scheme;
use gudgeon_life::fact::{
    Affected, AircraftRegistered, Code, ComponentFitted, ComponentRegistered, Condition, Content,
    Custody, EngineInstalled, EngineRegistered, Entry, Event, EventKind, Fact, Finding, Host,
    Inspection, InspectionReading, Measurement, Ownership, PartyRegistered, PartyRole,
    ProgrammeActivated, Reading, Recheck, Taken, WorkDone,
};
use gudgeon_life::hours::Hours;
use gudgeon_life::ids::{
    AircraftId, ComponentId, EngineId, FactId, PartKind, PartyId, PositionId, Quantity, Uid,
};
use gudgeon_life::programme::{EngineType, Item, Subject};
use gudgeon_life::sure::rate::Owner;
use gudgeon_life::sure::season::Hemisphere;
use gudgeon_store::{Appended, Instant, Post, Programmes, Store, Texts};
use std::collections::{BTreeSet, VecDeque};
use std::sync::Arc;

/// The files of the demonstration's engine types.
const TYPES: [&str; 3] = [
    include_str!("../config/engine-types/oarlock-twin.toml"),
    include_str!("../config/engine-types/thwart-twin.toml"),
    include_str!("../config/engine-types/transom-flat.toml"),
];
/// Posts handed to the store at once.
const POSTS_AT_ONCE: usize = 2_000;
/// Engines of one workshop.
const PER_SHOP: u32 = 200;
/// Engines of one owner.
const PER_OWNER: u32 = 3;
/// Of so many engines, the last shares the aircraft of the one before.
const PER_TWIN: u32 = 10;
/// Parts with a record of their own on one engine, at most.
const PARTS_MAX: usize = 3;
/// The first day of the first records, and the last of the last ones.
const FIRST: NaiveDate = NaiveDate::from_ymd_opt(2023, 1, 1).expect("a day");
const LAST: NaiveDate = NaiveDate::from_ymd_opt(2026, 11, 1).expect("a day");

/// The posts of a fleet, one engine after the other.
pub struct Fleet {
    seed: u64,
    engines: u32,
    types: Vec<Arc<EngineType>>,
    /// The next engine.
    number: u32,
    posts: VecDeque<Post>,
}

impl Fleet {
    /// A fleet of so many engines of these types.
    #[must_use]
    pub fn new(seed: u64, engines: u32, types: Vec<Arc<EngineType>>) -> Self {
        Self { seed, engines, types, number: 0, posts: VecDeque::new() }
    }
}

impl Iterator for Fleet {
    type Item = Post;

    fn next(&mut self) -> Option<Post> {
        while self.posts.is_empty() && self.number < self.engines {
            let number = self.number;
            let kind =
                Dice::new(self.seed, KIND, first_in_aircraft(number)).below(self.types.len());
            if let Some(engine_type) = self.types.get(kind) {
                let mut told = Told::new(self.seed, number, engine_type);
                told.everything();
                self.posts = told.posts;
            }
            self.number += 1;
        }
        self.posts.pop_front()
    }
}

/// The engine types of the demonstration, by the digests that they are stored under.
pub struct Types(Vec<([u8; 32], Arc<EngineType>)>);

impl Types {
    /// Reads them and makes them the active ones of a store.
    #[must_use]
    pub fn put(store: &Store) -> Self {
        let read = |(number, toml): (u8, &str)| {
            let engine_type = gudgeon_catalogue::parse("engine type", toml).unwrap();
            ([number; 32], Arc::new(engine_type))
        };
        let types = Self((1..).zip(TYPES).map(read).collect());
        for ((digest, engine_type), toml) in types.0.iter().zip(TYPES) {
            let name = &engine_type.name;
            store.add_engine_type(name.as_str(), toml, *digest, crate::NOW, &types).unwrap();
            let activated = ProgrammeActivated { engine_type: name.clone(), digest: *digest };
            let entry = Entry {
                on: FIRST,
                order_in_day: 0,
                content: Content::ProgrammeActivated(activated),
            };
            let id = FactId(Uid::from_bytes(digest.first_chunk().copied().unwrap()));
            store.append(&post(Fact { id, entry }, 0), &types).unwrap();
        }
        types
    }

    /// All of them.
    #[must_use]
    pub fn all(&self) -> Vec<Arc<EngineType>> {
        self.0.iter().map(|(_, engine_type)| Arc::clone(engine_type)).collect()
    }
}

impl Programmes for Types {
    fn known(&self, digest: &[u8; 32]) -> Option<Arc<EngineType>> {
        self.0.iter().find(|(known, _)| known == digest).map(|(_, known)| Arc::clone(known))
    }

    fn get(&self, digest: &[u8; 32], _: &str) -> Option<Arc<EngineType>> {
        self.known(digest)
    }
}

/// Loads a fleet of so many engines into a store; gives how many facts it has.
pub fn load(store: &Store, seed: u64, engines: u32) -> usize {
    let types = Types::put(store);
    let mut fleet = Fleet::new(seed, engines, types.all());
    let mut facts = 0;
    loop {
        let posts: Vec<Post> = fleet.by_ref().take(POSTS_AT_ONCE).collect();
        if posts.is_empty() {
            return facts;
        }
        facts += posts.len();
        for answer in store.append_many(&posts, &types).unwrap() {
            assert!(matches!(answer, Ok(Appended::Created(_))), "{answer:?}");
        }
    }
}

fn post(fact: Fact, second: i64) -> Post {
    let received_at = Instant(crate::NOW.0 + second * 1_000_000);
    Post { fact, texts: Texts::default(), by: None, recorded_at: None, received_at }
}

/// What is told of one engine.
struct Told<'a> {
    seed: u64,
    number: u32,
    engine_type: &'a EngineType,
    dice: Dice,
    facts: u16,
    posts: VecDeque<Post>,
}

/// The kinds of thing that an identifier can be of.
const KIND: u8 = 0;
const ENGINE: u8 = 1;
const AIRCRAFT: u8 = 2;
const COMPONENT: u8 = 3;
const OWNER: u8 = 4;
const SHOP: u8 = 5;
const FACT: u8 = 9;

impl<'a> Told<'a> {
    fn new(seed: u64, number: u32, engine_type: &'a EngineType) -> Self {
        let dice = Dice::new(seed, ENGINE, number);
        Self { seed, number, engine_type, dice, facts: 0, posts: VecDeque::new() }
    }

    fn everything(&mut self) {
        let begun = FIRST + Days::new(self.dice.days(0, 600));
        self.people(begun);
        self.machine(begun);
        for part in 0..self.parts().len() {
            self.part(part, begun);
        }
        let mut on = begun + Days::new(self.dice.days(60, 150));
        let mut visits = 0;
        while on <= LAST {
            visits += 1;
            if visits % 2 == 0 {
                self.inspection(on);
            } else {
                let of = Host::Aircraft(self.aircraft());
                self.tell(on, Content::Reading(Reading { of, meter: self.meter(on) }));
            }
            if self.dice.one_in(25) {
                self.event(on);
            }
            on = on + Days::new(self.dice.days(60, 150));
        }
    }

    /// Each workshop and owner once, with their first engine.
    fn people(&mut self, begun: NaiveDate) {
        let (shop, owner) = (self.shop(), self.owner());
        if self.number.is_multiple_of(PER_SHOP) {
            let name = format!("Workshop {}", self.number / PER_SHOP + 1);
            self.party(FIRST, shop, PartyRole::Shop, name);
        }
        if self.number.is_multiple_of(PER_OWNER) {
            let name = format!("Owner {}", self.number / PER_OWNER + 1);
            self.party(begun, owner, PartyRole::Owner, name);
        }
    }

    fn party(&mut self, on: NaiveDate, party: PartyId, role: PartyRole, name: String) {
        self.tell(on, Content::PartyRegistered(PartyRegistered { party, role }));
        let email = format!("{}@fleet.example", name.to_lowercase().replace(' ', "-"));
        if let Some(post) = self.posts.back_mut() {
            let private = [("/name".to_owned(), name), ("/email".to_owned(), email)];
            post.texts.private = private.into();
        }
    }

    /// Aircraft and engine, as they stood when their records began.
    fn machine(&mut self, begun: NaiveDate) {
        let (engine, aircraft) = (self.engine(), self.aircraft());
        let basis = self.engine_type.basis;
        if first_in_aircraft(self.number) == self.number {
            let mark = format!("X-{:05}", self.number);
            let registered = AircraftRegistered {
                aircraft,
                mark,
                basis,
                flown_by: Owner::Unknown,
                hemisphere: Hemisphere::Unknown,
            };
            self.tell(begun, Content::AircraftRegistered(registered));
            let ownership = Ownership { of: Host::Aircraft(aircraft), owner: self.owner() };
            self.tell(begun, Content::Ownership(ownership));
        }
        let logged = !self.dice.one_in(8);
        let registered = EngineRegistered {
            engine,
            engine_type: self.engine_type.name.clone(),
            serial: format!("F{:06}", self.number),
            basis,
            tsn: logged.then(|| tenths(self.dice.between(0, 2_500))),
            made_on: Some(begun - Days::new(self.dice.days(100, 2_000))),
            overhauled: None,
        };
        self.tell(begun, Content::EngineRegistered(registered));
        self.tell(begun, Content::Custody(Custody { engine, shop: self.shop(), until: None }));
        let meter = self.meter(begun);
        self.tell(begun, Content::EngineInstalled(EngineInstalled { engine, aircraft, meter }));
    }

    /// A part, new when the records begin.
    fn part(&mut self, part: usize, begun: NaiveDate) {
        let Some((kind, position)) = self.parts().into_iter().nth(part) else { return };
        let sub = u16::try_from(part).unwrap_or_default();
        let component = ComponentId(uid(self.seed, COMPONENT, self.number, sub));
        let made = begun - Days::new(120);
        let code = Code { scheme: Scheme::IsoWeek, text: made.format("%G-W%V").to_string() };
        let registered = ComponentRegistered {
            component,
            serial: Some(format!("{kind}-{}", self.number)),
            lot: Some(format!("L{}", self.dice.between(1, 60))),
            maker_part: None,
            kind,
            code: Some(code),
            hours: Some(Hours::ZERO),
            cured_on: None,
            first_fitted_on: None,
            overhauled: None,
        };
        self.tell(begun, Content::ComponentRegistered(registered));
        let host = Host::Engine(self.engine());
        let fitted = ComponentFitted { component, host, position, meter: None };
        self.tell(begun, Content::ComponentFitted(fitted));
    }

    /// What the type counts apart from the engine, each at the first of its places.
    fn parts(&self) -> Vec<(PartKind, Option<PositionId>)> {
        let mut seen = BTreeSet::new();
        let parts = self.engine_type.items.iter().filter_map(|item| match &item.subject {
            Subject::Component(kind) => Some((kind.clone(), item.positions.first().cloned())),
            Subject::Engine => None,
        });
        parts.filter(|(kind, _)| seen.insert(kind.clone())).take(PARTS_MAX).collect()
    }

    fn inspection(&mut self, on: NaiveDate) {
        let items: Vec<&Item> = self.engine_type.items.iter().collect();
        let chosen: Vec<&Item> = items.into_iter().filter(|_| self.dice.one_in(4)).collect();
        let work = chosen.iter().filter_map(|item| {
            let action = *item.done_by.first()?;
            Some(WorkDone { item: item.id.clone(), positions: item.positions.clone(), action })
        });
        let work = work.collect();
        let mut findings = Vec::new();
        for item in chosen.iter().take(4) {
            let monitor = self.dice.one_in(6);
            let recheck = Recheck { hours: Some(Hours::from_whole(25)), on: None };
            findings.push(Finding {
                item: item.id.clone(),
                position: item.positions.first().cloned(),
                condition: if monitor { Condition::Monitor } else { Condition::Serviceable },
                recheck: monitor.then_some(recheck),
                photos: Vec::new(),
            });
        }
        let measured = Quantity::new("compression").map(|quantity| Measurement {
            quantity,
            position: self.engine_type.positions.first().map(|it| it.id.clone()),
            taken: Taken::One(self.dice.between(95, 125).to_string()),
            unit: "psi".to_owned(),
            gauge: None,
            uncertainty: None,
            temperature: None,
            wrench: None,
        });
        let content = Inspection {
            engine: self.engine(),
            shop: self.shop(),
            work_order: Some(format!("{}-{}", self.number, self.facts)),
            sheet: None,
            opened_on: on,
            released: true,
            readings: vec![InspectionReading { on, meter: self.meter(on) }],
            tsn: None,
            findings,
            measurements: measured.into_iter().collect(),
            work,
            marks: Vec::new(),
            overhaul: None,
            test_run: None,
            run_in: None,
            fastenings: Vec::new(),
            matched: Vec::new(),
        };
        self.tell(on, Content::Inspection(content));
    }

    fn event(&mut self, on: NaiveDate) {
        let kind = if self.dice.one_in(2) { EventKind::Overheat } else { EventKind::FuelError };
        let of = Affected::Engine(self.engine());
        self.tell(on, Content::Event(Event { of, kind, meter: None }));
    }

    fn tell(&mut self, on: NaiveDate, content: Content) {
        self.facts += 1;
        let id = FactId(uid(self.seed, FACT, self.number, self.facts));
        let fact = Fact { id, entry: Entry { on, order_in_day: self.facts, content } };
        // Received in the order in which all of them are posted: one a second, one engine every two minutes.
        let second = i64::from(self.number) * 120 + i64::from(self.facts);
        self.posts.push_back(post(fact, second));
    }

    fn engine(&self) -> EngineId {
        EngineId(uid(self.seed, ENGINE, self.number, 0))
    }

    fn aircraft(&self) -> AircraftId {
        AircraftId(uid(self.seed, AIRCRAFT, first_in_aircraft(self.number), 0))
    }

    fn owner(&self) -> PartyId {
        PartyId(uid(self.seed, OWNER, self.number / PER_OWNER, 0))
    }

    fn shop(&self) -> PartyId {
        PartyId(uid(self.seed, SHOP, self.number / PER_SHOP, 0))
    }

    /// What the aircraft's meter shows on a day: it runs as many tenths each day, for both of its engines.
    fn meter(&self, on: NaiveDate) -> Hours {
        let mut dice = Dice::new(self.seed, AIRCRAFT, first_in_aircraft(self.number));
        let (at_first, a_day) = (dice.between(0, 9_000), dice.between(1, 8));
        tenths(at_first + a_day * (on - FIRST).num_days())
    }
}

/// The first of the engines that share an engine's aircraft: both are of one type.
fn first_in_aircraft(number: u32) -> u32 {
    number - u32::from(number % PER_TWIN == PER_TWIN - 1)
}

/// Hours from tenths of them.
fn tenths(tenths: i64) -> Hours {
    Hours::from_seconds(tenths * 360)
}
