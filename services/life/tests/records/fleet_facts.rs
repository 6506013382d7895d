//! Random records of an engine: facts of every kind, mostly possible, sometimes contradicting one another.

use crate::bench_shop::Shop;
use crate::fleet::{Dice, KINDS, PLACES, USES};
use chrono::{Days, NaiveDate};
use gudgeon_life::date_code::Scheme;
use gudgeon_life::fact::{
    Affected, Attribute, Code, ComponentFitted, ComponentOverhauled, ComponentRegistered,
    Concession, Condition, Content, Described, EngineInstalled, EngineRegistered, EngineRemoved,
    Event, EventKind, Finding, Host, InspectionReading, MakerRestart, MeterChanged, OverhaulScope,
    Papers, Preserved, Reading, Recheck, WorkDone,
};
use gudgeon_life::hours::{Basis, Hours};
use gudgeon_life::ids::{ItemId, PartKind, PositionId};
use gudgeon_life::programme::{Action, Item};

/// Where things stand while the records are written.
struct Bench<'a> {
    dice: &'a mut Dice,
    items: &'a [Item],
    shop: Shop,
    on: NaiveDate,
    meters: [Hours; 2],
    /// The aircraft that each engine is in.
    aircraft: [Option<usize>; 2],
    parts: usize,
}

/// Records of engine 1, and of another engine and the aircraft and parts they shared; and their last day.
pub(crate) fn records(dice: &mut Dice, items: &[Item]) -> (Shop, NaiveDate) {
    let on = dice.day("2015-01-01", 1500);
    let meters = [dice.hours(500), dice.hours(500)];
    let mut bench =
        Bench { dice, items, shop: Shop::new(), on, meters, aircraft: [None, None], parts: 0 };
    bench.register_engine(1);
    bench.register_engine(2);
    for kind in KINDS {
        bench.new_part(kind);
    }
    bench.move_engine();
    for _ in 0..bench.dice.count(3, 40) {
        bench.on = bench.on + Days::new(bench.dice.below(120));
        bench.happening();
    }
    (bench.shop, bench.on)
}

impl Bench<'_> {
    fn record(&mut self, content: Content) {
        self.shop.record(&self.on.to_string(), content);
    }

    fn engine(&mut self) -> usize {
        self.dice.pick(&[1, 1, 1, 2])
    }

    fn item(&mut self) -> &Item {
        self.dice.pick(&self.items.iter().collect::<Vec<_>>())
    }

    /// An item, and one of its places if it has any.
    fn item_and_place(&mut self) -> (ItemId, Option<PositionId>) {
        let item = self.item();
        let (id, places) = (item.id.clone(), item.positions.clone());
        (id, (!places.is_empty()).then(|| self.dice.pick(&places)))
    }

    fn place(&mut self) -> Option<PositionId> {
        self.dice.maybe(2, |dice| PositionId::new(dice.pick(&PLACES)).unwrap())
    }

    fn register_engine(&mut self, number: usize) {
        let dice = &mut *self.dice;
        let tsn = if dice.one_in(5) { None } else { Some(dice.hours(600)) };
        let papers = dice.maybe(4, |dice| Papers {
            on: dice.day("2013-01-01", 600),
            hours_since: dice.hours(200),
        });
        let serial = format!("{}{}", dice.pick(&["", "T", "K"]), dice.below(1500));
        let serial = if dice.one_in(10) { "plate-missing".to_owned() } else { serial };
        let content = EngineRegistered {
            engine: Shop::engine_id(number),
            engine_type: ItemId::new("test-twin").unwrap(),
            serial,
            basis: Basis::EngineRun,
            tsn,
            made_on: dice.maybe(2, |dice| dice.day("2010-01-01", 1000)),
            overhauled: papers,
        };
        self.record(Content::EngineRegistered(content));
    }

    fn new_part(&mut self, kind: &str) {
        self.parts += 1;
        let dice = &mut *self.dice;
        let content = ComponentRegistered {
            component: Shop::component_id(self.parts),
            kind: PartKind::new(kind).unwrap(),
            serial: dice.maybe(2, |dice| format!("{}", dice.below(1500))),
            lot: dice.maybe(2, |dice| dice.pick(&["A17", "C3"]).to_owned()),
            maker_part: None,
            code: dice.maybe(2, |dice| Code {
                scheme: Scheme::Quarter,
                text: format!("{}Q{}", dice.count(1, 4), dice.count(10, 14)),
            }),
            hours: dice.pick(&[
                Some(Hours::ZERO),
                Some(Hours::ZERO),
                Some(Hours::from_whole(120)),
                None,
            ]),
            cured_on: None,
            first_fitted_on: dice.maybe(6, |dice| dice.day("2014-01-01", 300)),
            overhauled: dice.maybe(5, |dice| Papers {
                on: dice.day("2013-01-01", 600),
                hours_since: dice.hours(100),
            }),
        };
        self.record(Content::ComponentRegistered(content));
        self.fit(self.parts);
    }

    fn fit(&mut self, part: usize) {
        let engine = self.engine();
        let aircraft = self.aircraft[engine - 1].filter(|_| self.dice.one_in(4));
        let host = aircraft.map_or(Host::Engine(Shop::engine_id(engine)), |aircraft| {
            Host::Aircraft(Shop::aircraft_id(aircraft))
        });
        let position = self.place();
        let component = Shop::component_id(part);
        self.record(Content::ComponentFitted(ComponentFitted {
            component,
            host,
            position,
            meter: None,
        }));
    }

    fn happening(&mut self) {
        match self.dice.below(24) {
            0..=2 => self.fly(),
            3..=10 => self.inspect(),
            11 => self.move_engine(),
            12 => self.move_part(),
            13 => {
                let kind = self.dice.pick(&KINDS);
                self.new_part(kind);
            }
            14..=15 => self.event(),
            16..=18 => self.concede(),
            19 => self.store(),
            20 => self.describe(),
            21 => self.overhaul_part(),
            22 => self.change_meter(),
            _ if self.dice.one_in(4) => self.restart(),
            _ => self.fly(),
        }
    }

    /// What the meter of an engine's aircraft shows after some flying; once in a while less than before.
    fn run(&mut self, engine: usize) -> Option<Hours> {
        let aircraft = self.aircraft[engine - 1]?;
        let meter = &mut self.meters[aircraft - 1];
        *meter += self.dice.hours(60);
        Some(if self.dice.one_in(150) { *meter - Hours::from_whole(61) } else { *meter })
    }

    fn fly(&mut self) {
        let engine = self.engine();
        if let Some(meter) = self.run(engine)
            && let Some(aircraft) = self.aircraft[engine - 1]
        {
            let of = Host::Aircraft(Shop::aircraft_id(aircraft));
            self.record(Content::Reading(Reading { of, meter }));
        }
    }

    fn inspect(&mut self) {
        let engine = self.engine();
        let meter = if self.dice.one_in(5) { None } else { self.run(engine) };
        let work: Vec<WorkDone> = (0..self.dice.below(7)).map(|_| self.work()).collect();
        let findings: Vec<Finding> = (0..self.dice.below(2)).map(|_| self.finding()).collect();
        let on = self.on;
        let scope = self.dice.maybe(8, |dice| dice.pick(&OverhaulScope::ALL));
        let test_run = self.dice.maybe(2, |dice| dice.hours(2)).filter(|_| scope.is_some());
        let released = !self.dice.one_in(6);
        let inspection = self.shop.inspection(engine, &on.to_string());
        inspection.readings.extend(meter.map(|meter| InspectionReading { on, meter }));
        inspection.work = work;
        inspection.findings = findings;
        inspection.overhaul = scope;
        inspection.test_run = test_run;
        inspection.released = released;
    }

    /// An item done, mostly as it asks for and at all its places; what may run on condition, often inspected.
    fn work(&mut self) -> WorkDone {
        let item = self.item();
        let (id, places, asked) = (item.id.clone(), item.positions.clone(), item.done_by.clone());
        let runs_on = item.extension_percent.is_some() && item.on_condition.is_some();
        let asked = match asked {
            _ if runs_on && self.dice.one_in(2) => vec![Action::Inspected],
            asked if asked.is_empty() || self.dice.one_in(4) => Action::ALL.to_vec(),
            asked => asked,
        };
        let some = self.dice.one_in(4);
        let positions = places.into_iter().filter(|_| !some || self.dice.one_in(2)).collect();
        WorkDone { item: id, positions, action: self.dice.pick(&asked) }
    }

    fn finding(&mut self) -> Finding {
        let condition = self.dice.pick(&Condition::ALL);
        let on = self.on + Days::new(self.dice.below(400));
        let recheck = Recheck {
            hours: self.dice.maybe(2, |dice| dice.hours(50)),
            on: self.dice.maybe(2, |_| on),
        };
        let asked = recheck.hours.is_some() || recheck.on.is_some();
        let recheck = Some(recheck).filter(|_| asked && condition == Condition::Monitor);
        let (item, position) = self.item_and_place();
        Finding { item, position, condition, recheck, photos: Vec::new() }
    }

    fn move_engine(&mut self) {
        let engine = self.engine();
        let id = Shop::engine_id(engine);
        if let Some(meter) = self.run(engine) {
            self.record(Content::EngineRemoved(EngineRemoved { engine: id, meter }));
            self.aircraft[engine - 1] = None;
            return;
        }
        let aircraft = self.dice.pick(&[1, 2]);
        self.aircraft[engine - 1] = Some(aircraft);
        let content = EngineInstalled {
            engine: id,
            aircraft: Shop::aircraft_id(aircraft),
            meter: self.meters[aircraft - 1],
        };
        self.record(Content::EngineInstalled(content));
    }

    fn part(&mut self) -> usize {
        usize::try_from(self.dice.count(1, u32::try_from(self.parts).unwrap())).unwrap()
    }

    fn move_part(&mut self) {
        let part = self.part();
        self.shop.take_off(part, &self.on.to_string());
        if !self.dice.one_in(3) {
            self.on = self.on + Days::new(1);
            self.fit(part);
        }
    }

    fn event(&mut self) {
        let engine = self.engine();
        let part = self.part();
        let (of, meter) = if self.dice.one_in(4) {
            (Affected::Component(Shop::component_id(part)), None)
        } else {
            (Affected::Engine(Shop::engine_id(engine)), self.run(engine))
        };
        let kind = self.dice.pick(&EventKind::ALL);
        self.record(Content::Event(Event { of, kind, meter }));
    }

    fn concede(&mut self) {
        self.on = self.on + Days::new(1);
        let (item, position) = self.item_and_place();
        let content = Concession {
            engine: Shop::engine_id(1),
            item,
            position,
            until: Some(self.on + Days::new(self.dice.below(700))).filter(|_| self.dice.one_in(2)),
        };
        self.record(Content::Concession(content));
    }

    fn store(&mut self) {
        let until =
            Some(self.on + Days::new(self.dice.below(400))).filter(|_| !self.dice.one_in(4));
        let engine = Shop::engine_id(self.engine());
        self.record(Content::Preserved(Preserved { engine, until }));
    }

    fn describe(&mut self) {
        let of = if self.dice.one_in(2) {
            Host::Engine(Shop::engine_id(1))
        } else {
            Host::Aircraft(Shop::aircraft_id(self.dice.pick(&[1, 2])))
        };
        let words = [self.dice.pick(&USES).to_owned()].into();
        let values = [(Attribute::Use, words)].into();
        self.record(Content::Described(Described { of, values }));
    }

    fn overhaul_part(&mut self) {
        let component = Shop::component_id(self.part());
        let content = ComponentOverhauled { component, released: true };
        self.record(Content::ComponentOverhauled(content));
    }

    fn change_meter(&mut self) {
        let aircraft = self.dice.pick(&[1, 2]);
        let new_start = self.dice.hours(100);
        let old_end = self.meters[aircraft - 1];
        self.meters[aircraft - 1] = new_start;
        let aircraft = Shop::aircraft_id(aircraft);
        self.record(Content::MeterChanged(MeterChanged { aircraft, old_end, new_start }));
    }

    fn restart(&mut self) {
        let engine = Shop::engine_id(self.engine());
        self.record(Content::MakerRestart(MakerRestart { engine }));
    }
}
