//! A small workshop that writes facts down for the tests, and programme items with plain defaults.

use chrono::NaiveDate;
use gudgeon_life::calendar::{CalendarMode, CalendarSpan};
use gudgeon_life::date_code::{CodeDay, Scheme};
use gudgeon_life::fact::{
    Amendment, Code, ComponentFitted, ComponentRegistered, ComponentRemoved, Condition, Content,
    EngineInstalled, EngineRegistered, EngineRemoved, Entry, Fact, Finding, Host, Inspection,
    InspectionReading, MeterChanged, Reading, Stream, WorkDone,
};
use gudgeon_life::hours::{Basis, Hours};
use gudgeon_life::ids::{
    AircraftId, ComponentId, EngineId, FactId, ItemId, PartKind, PartyId, Uid,
};
use gudgeon_life::programme::{
    Action, Applies, Class, CountsFrom, EngineType, Granted, Interval, Item, Limit, NextPolicy,
    Notice, Subject,
};
use gudgeon_life::sheet::Bench;

pub(crate) fn h(text: &str) -> Hours {
    Hours::parse(text).unwrap()
}

pub(crate) fn d(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

/// Writes facts down in the order of the calls, with ids that count up.
#[derive(Clone)]
pub(crate) struct Shop {
    facts: Vec<Fact>,
}

impl Shop {
    pub(crate) fn new() -> Self {
        Self { facts: Vec::new() }
    }

    pub(crate) fn facts(&self) -> Vec<Fact> {
        self.facts.clone()
    }

    fn uid(kind: u8, number: usize) -> Uid {
        let mut bytes = [0; 16];
        bytes[0] = kind;
        bytes[15] = u8::try_from(number % 256).unwrap();
        bytes[14] = u8::try_from(number / 256).unwrap();
        Uid::from_bytes(bytes)
    }

    pub(crate) fn engine_id(number: usize) -> EngineId {
        EngineId(Self::uid(1, number))
    }

    pub(crate) fn aircraft_id(number: usize) -> AircraftId {
        AircraftId(Self::uid(2, number))
    }

    pub(crate) fn component_id(number: usize) -> ComponentId {
        ComponentId(Self::uid(3, number))
    }

    pub(crate) fn record(&mut self, on: &str, content: Content) -> FactId {
        let id = FactId(Self::uid(9, self.facts.len() + 1));
        self.facts.push(Fact { id, entry: Entry { on: d(on), order_in_day: 0, content } });
        id
    }

    pub(crate) fn engine(
        &mut self,
        number: usize,
        on: &str,
        tsn: Option<&str>,
        made_on: Option<&str>,
    ) {
        self.record(
            on,
            Content::EngineRegistered(EngineRegistered {
                engine: Self::engine_id(number),
                engine_type: ItemId::new("test-twin").unwrap(),
                serial: format!("T{number}"),
                basis: Basis::EngineRun,
                tsn: tsn.map(h),
                made_on: made_on.map(d),
                overhauled: None,
            }),
        );
    }

    pub(crate) fn install(&mut self, engine: usize, aircraft: usize, on: &str, meter: &str) {
        self.record(
            on,
            Content::EngineInstalled(EngineInstalled {
                engine: Self::engine_id(engine),
                aircraft: Self::aircraft_id(aircraft),
                meter: h(meter),
            }),
        );
    }

    pub(crate) fn remove(&mut self, engine: usize, on: &str, meter: &str) {
        let engine = Self::engine_id(engine);
        self.record(on, Content::EngineRemoved(EngineRemoved { engine, meter: h(meter) }));
    }

    pub(crate) fn meter_change(
        &mut self,
        aircraft: usize,
        on: &str,
        old_end: &str,
        new_start: &str,
    ) {
        self.record(
            on,
            Content::MeterChanged(MeterChanged {
                aircraft: Self::aircraft_id(aircraft),
                old_end: h(old_end),
                new_start: h(new_start),
            }),
        );
    }

    pub(crate) fn reading(&mut self, aircraft: usize, on: &str, meter: &str) -> FactId {
        let of = Host::Aircraft(Self::aircraft_id(aircraft));
        self.record(on, Content::Reading(Reading { of, meter: h(meter) }))
    }

    pub(crate) fn correct_reading(&mut self, root: FactId, aircraft: usize, on: &str, meter: &str) {
        let aircraft = Self::aircraft_id(aircraft);
        let content = Content::Reading(Reading { of: Host::Aircraft(aircraft), meter: h(meter) });
        let replacement = Some(Box::new(Entry { on: d(on), order_in_day: 0, content }));
        self.record(
            on,
            Content::Amendment(Amendment {
                stream: Stream::aircraft(aircraft),
                root,
                supersedes: root,
                replacement,
            }),
        );
    }

    pub(crate) fn component(
        &mut self,
        number: usize,
        kind: &str,
        on: &str,
        hours: Option<&str>,
        quarter: Option<&str>,
    ) {
        self.record(
            on,
            Content::ComponentRegistered(ComponentRegistered {
                component: Self::component_id(number),
                kind: PartKind::new(kind).unwrap(),
                serial: None,
                lot: None,
                maker_part: None,
                code: quarter.map(Self::quarter),
                hours: hours.map(h),
                cured_on: None,
                first_fitted_on: None,
                overhauled: None,
            }),
        );
    }

    pub(crate) fn serial(&mut self, engine: usize, serial: &str) {
        for fact in &mut self.facts {
            if let Content::EngineRegistered(it) = &mut fact.entry.content
                && it.engine == Self::engine_id(engine)
            {
                serial.clone_into(&mut it.serial);
            }
        }
    }

    fn quarter(text: &str) -> Code {
        Code { scheme: Scheme::Quarter, text: text.to_owned() }
    }

    pub(crate) fn recode(&mut self, number: usize, quarter: Option<&str>) {
        for fact in &mut self.facts {
            if let Content::ComponentRegistered(it) = &mut fact.entry.content
                && it.component == Self::component_id(number)
            {
                it.code = quarter.map(Self::quarter);
            }
        }
    }

    fn fit_to(&mut self, component: usize, host: Host, on: &str, meter: Option<&str>) {
        self.record(
            on,
            Content::ComponentFitted(ComponentFitted {
                component: Self::component_id(component),
                host,
                position: None,
                meter: meter.map(h),
            }),
        );
    }

    pub(crate) fn fit(&mut self, component: usize, engine: usize, on: &str) {
        self.fit_to(component, Host::Engine(Self::engine_id(engine)), on, None);
    }

    pub(crate) fn fit_to_aircraft(
        &mut self,
        component: usize,
        aircraft: usize,
        on: &str,
        meter: &str,
    ) {
        self.fit_to(component, Host::Aircraft(Self::aircraft_id(aircraft)), on, Some(meter));
    }

    pub(crate) fn take_off(&mut self, component: usize, on: &str) {
        let component = Self::component_id(component);
        self.record(
            on,
            Content::ComponentRemoved(ComponentRemoved { component, meter: None, cause: None }),
        );
    }

    pub(crate) fn inspection(&mut self, engine: usize, on: &str) -> &mut Inspection {
        self.record(
            on,
            Content::Inspection(Inspection {
                engine: Self::engine_id(engine),
                shop: PartyId(Self::uid(4, 1)),
                work_order: None,
                sheet: None,
                opened_on: d(on),
                released: true,
                readings: Vec::new(),
                tsn: None,
                findings: Vec::new(),
                measurements: Vec::new(),
                work: Vec::new(),
                marks: Vec::new(),
                overhaul: None,
                test_run: None,
                run_in: None,
                fastenings: Vec::new(),
                matched: Vec::new(),
            }),
        );
        self.last()
    }

    pub(crate) fn last(&mut self) -> &mut Inspection {
        match self.facts.last_mut().map(|fact| &mut fact.entry.content) {
            Some(Content::Inspection(inspection)) => inspection,
            _ => panic!("the last fact is no inspection"),
        }
    }

    pub(crate) fn done(item: &str, action: Action) -> WorkDone {
        WorkDone { item: ItemId::new(item).unwrap(), positions: Vec::new(), action }
    }

    pub(crate) fn finding(item: &str, condition: Condition) -> Finding {
        Finding {
            item: ItemId::new(item).unwrap(),
            position: None,
            condition,
            recheck: None,
            photos: Vec::new(),
        }
    }

    pub(crate) fn work(
        &mut self,
        engine: usize,
        on: &str,
        meter: &str,
        item: &str,
        action: Action,
    ) {
        let inspection = self.inspection(engine, on);
        inspection.readings.push(InspectionReading { on: d(on), meter: h(meter) });
        inspection.work.push(Self::done(item, action));
    }

    pub(crate) fn engine_type(items: Vec<Item>) -> EngineType {
        EngineType {
            name: ItemId::new("test-twin").unwrap(),
            title: "Test twin".to_owned(),
            invented: true,
            basis: Basis::EngineRun,
            entered_up_to: d("2026-11-01"),
            positions: Vec::new(),
            items,
            bench: Bench::default(),
        }
    }
}

pub(crate) fn limit(hours: Option<&str>, months: Option<u32>, counts_from: CountsFrom) -> Limit {
    Limit {
        name: None,
        counts_from,
        once: Vec::new(),
        first: None,
        every: interval(hours, months),
        calendar: CalendarMode::Day,
        shelf: false,
        code_day: CodeDay::First,
    }
}

pub(crate) fn interval(hours: Option<&str>, months: Option<u32>) -> Interval {
    let spans = months.map(CalendarSpan::months).into_iter().collect();
    Interval { hours: hours.map(h), spans }
}

pub(crate) fn item(id: &str, hours: Option<&str>, months: Option<u32>) -> Item {
    Item {
        id: ItemId::new(id).unwrap(),
        title: id.to_owned(),
        subject: Subject::Engine,
        positions: Vec::new(),
        class: Class::RequiredInspection,
        source: "worked by hand".to_owned(),
        limits: vec![limit(hours, months, CountsFrom::New)],
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
    }
}

/// Shelf 4 years, in service 5 years or 300 h, total 8 years; only another belt ends it.
pub(crate) fn belt_item() -> Item {
    let named = |name: &str, limit: Limit| Limit { name: Some(name.to_owned()), ..limit };
    let shelf = Limit { shelf: true, ..limit(None, Some(48), CountsFrom::Made) };
    Item {
        subject: Subject::Component(PartKind::new("fan-belt").unwrap()),
        done_by: vec![Action::Renewed],
        limits: vec![
            named("shelf", shelf),
            named("in service", limit(Some("300"), Some(60), CountsFrom::FirstFitted)),
            named("total", limit(None, Some(96), CountsFrom::Made)),
        ],
        ..item("fan-belt", None, None)
    }
}
