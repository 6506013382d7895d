//! The fold itself: takes facts one after another and keeps the history up to date.

mod twins;
mod work;

use crate::amend::{Standing, standing};
use crate::clock::Moment;
use crate::conflict::{Conflict, ConflictKind};
use crate::date_code::{DayInterval, decode};
use crate::fact::{
    ComponentFitted, ComponentRegistered, ComponentRemoved, Content, EngineInstalled,
    EngineRegistered, Entry, Fact, Host, MeterChanged, OverhaulScope, ProgrammeActivated, Stream,
};
use crate::history::{
    AcceptedRecord, ActivationRecord, ConcessionRecord, EngineState, Fit, History, Log,
    OverhaulRecord, PreservationRecord, rank,
};
use crate::hours::Hours;
use crate::ids::{AircraftId, EngineId};
use std::collections::BTreeMap;

/// One thing that happens at a moment: a fact, or one reading out of an inspection.
enum Happening<'a> {
    Fact(&'a Content),
    Reading(Host, Hours),
}

/// The fold under way.
#[derive(Default)]
pub(crate) struct Folding {
    history: History,
    /// Readings told of an engine that was not installed yet at that point of the day.
    unplaced: BTreeMap<EngineId, Vec<(Moment, Hours)>>,
}

impl Folding {
    pub(crate) fn run(facts: &[Fact]) -> History {
        let (standing, conflicts) = standing(facts);
        let mut events: Vec<(Moment, Happening<'_>)> =
            standing.iter().flat_map(|standing| events_of(standing)).collect();
        events.sort_by_key(|(moment, _)| *moment);
        let mut folding = Self::default();
        folding.history.conflicts = conflicts;
        for (moment, event) in events {
            folding.give_up_unplaced(moment);
            match event {
                Happening::Reading(of, meter) => folding.reading(of, meter, moment),
                Happening::Fact(content) => folding.take(content, moment),
            }
        }
        folding.give_up_unplaced(Moment::end_of(chrono::NaiveDate::MAX));
        folding.history.conflicts.sort_by_key(|it| (it.on, it.fact));
        folding.history
    }

    fn take(&mut self, content: &Content, moment: Moment) {
        match content {
            Content::AircraftRegistered(it) => {
                let aircraft = self.history.aircraft.entry(it.aircraft).or_default();
                aircraft.mark = Some(it.mark.clone());
                aircraft.basis = Some(it.basis);
                aircraft.flown_by = it.flown_by;
                aircraft.hemisphere = it.hemisphere;
            }
            Content::EngineRegistered(it) => self.engine_registered(it, moment),
            Content::ComponentRegistered(it) => self.component_registered(it, moment),
            Content::Ownership(it) => match it.of {
                Host::Aircraft(id) => {
                    self.history.aircraft.entry(id).or_default().owner = Some(it.owner);
                }
                Host::Engine(id) => self.engine(id).owner = Some(it.owner),
            },
            Content::EngineInstalled(it) => self.installed(it, moment),
            Content::EngineRemoved(it) => self.removed(it.engine, it.meter, moment),
            Content::ComponentFitted(it) => self.fitted(it, moment),
            Content::ComponentRemoved(it) => self.taken_off(it, moment),
            Content::MeterChanged(it) => self.meter_changed(it, moment),
            Content::Reading(it) => self.reading(it.of, it.meter, moment),
            Content::Inspection(it) => self.inspection(it, moment),
            Content::Event(it) => self.event(it, moment),
            Content::Preserved(it) => {
                let record = PreservationRecord { moment, until: it.until };
                self.engine(it.engine).preservation = Some(record);
            }
            Content::Concession(it) => self.engine(it.engine).concessions.push(ConcessionRecord {
                moment,
                item: it.item.clone(),
                position: it.position.clone(),
                until: it.until,
            }),
            Content::HoursAccepted(it) => {
                let record = AcceptedRecord { moment, hours: it.hours, until: it.until };
                self.engine(it.engine).accepted = Some(record);
            }
            Content::ComponentOverhauled(it) => {
                let component = self.history.components.entry(it.component).or_default();
                component.overhauls.push(moment);
            }
            Content::MakerRestart(it) => self.restarted(it.engine, moment),
            Content::Described(it) => self.described(it),
            Content::ProgrammeActivated(it) => self.activated(it, moment),
            // Parties and custody have no hours; corrections were settled before the fold began.
            Content::PartyRegistered(_)
            | Content::Custody(_)
            | Content::Erased(_)
            | Content::Amendment(_) => {}
        }
    }

    /// Activating again what is active changes nothing: it was so from the first time.
    fn activated(&mut self, it: &ProgrammeActivated, moment: Moment) {
        let before = self.history.activations.get(&it.engine_type).map(|before| before.digest);
        if before != Some(it.digest) {
            let record = ActivationRecord { moment, digest: it.digest, replaces: before };
            self.history.activations.insert(it.engine_type.clone(), record);
        }
    }

    fn engine(&mut self, id: EngineId) -> &mut EngineState {
        self.history.engines.entry(id).or_default()
    }

    fn conflict(&mut self, stream: Stream, moment: Moment, kind: ConflictKind) {
        self.history.conflicts.push(Conflict { stream, on: moment.on, fact: moment.fact, kind });
    }

    fn engine_registered(&mut self, it: &EngineRegistered, moment: Moment) {
        let engine = self.engine(it.engine);
        engine.engine_type = Some(it.engine_type.clone());
        engine.serial = Some(it.serial.clone());
        engine.basis = Some(it.basis);
        engine.made_on = it.made_on;
        match it.tsn {
            Some(tsn) => self.stated(it.engine, tsn, moment, false),
            None if engine.clock.points().is_empty() => {
                engine.log = Log::Unknown;
                engine.clock.state(Hours::ZERO, moment);
            }
            None => {}
        }
        self.compare_engine(it, moment);
        // Without a log the count begins at zero with the registration: papers then reach back below it.
        let engine = self.engine(it.engine);
        let known = engine.clock.at(moment).map(|point| point.hours);
        engine.overhauls.extend(it.overhauled.map(|papers| OverhaulRecord {
            moment: Moment { on: papers.on, ..moment },
            scope: OverhaulScope::Full,
            hours: known.map(|known| known - papers.hours_since),
            tested: true,
        }));
        engine.overhauls.sort_by_key(|overhaul| overhaul.moment);
    }

    /// Hours since new as a record states them: they start the count or move it on; they never lower it.
    fn stated(&mut self, id: EngineId, tsn: Hours, moment: Moment, meter_read: bool) {
        let engine = self.engine(id);
        let installed = engine.aircraft.is_some();
        let kind = match engine.clock.points().last().map(|point| point.hours) {
            None => {
                engine.log = Log::Logged;
                engine.clock.state(tsn, moment);
                return;
            }
            Some(_) if engine.log == Log::Unknown => {
                self.conflict(Stream::engine(id), moment, ConflictKind::StatedWithoutLog);
                return;
            }
            Some(known) if tsn < known => ConflictKind::HoursFell { known, stated: tsn },
            Some(known) if tsn > known && meter_read => {
                ConflictKind::HoursDisagree { known, stated: tsn }
            }
            // In an aircraft the meter counts; a total without a reading only has to be possible.
            Some(_) if installed => return,
            Some(_) => {
                engine.clock.state(tsn, moment);
                return;
            }
        };
        engine.clock.lose(moment);
        self.conflict(Stream::engine(id), moment, kind);
    }

    fn component_registered(&mut self, it: &ComponentRegistered, moment: Moment) {
        let component = self.history.components.entry(it.component).or_default();
        component.kind = Some(it.kind.clone());
        component.serial.clone_from(&it.serial);
        component.lot.clone_from(&it.lot);
        component.maker_part.clone_from(&it.maker_part);
        component.code.clone_from(&it.code);
        component.cured_on = it.cured_on;
        let by_code =
            || it.code.as_ref().and_then(|it| decode(it.scheme, &it.text, moment.on).ok());
        component.made =
            it.cured_on.map(|day| DayInterval { first: day, last: day }).or_else(by_code);
        component.registered = Some((moment, it.hours));
        component.first_fitted_on = it.first_fitted_on;
        component.papers = it.overhauled;
    }

    fn installed(&mut self, it: &EngineInstalled, moment: Moment) {
        self.observe(it.aircraft, it.meter, moment);
        let aircraft_basis = self.history.aircraft.entry(it.aircraft).or_default().basis;
        let engine = self.engine(it.engine);
        let stream = Stream::engine(it.engine);
        let basis = engine.basis;
        let twice = engine.aircraft.is_some();
        engine.aircraft = Some(it.aircraft);
        engine.clock.open(it.aircraft, it.meter, moment);
        if twice {
            engine.clock.lose(moment);
            self.conflict(stream, moment, ConflictKind::InstalledTwice);
        }
        if let (Some(of_engine), Some(of_aircraft)) = (basis, aircraft_basis)
            && of_engine != of_aircraft
        {
            self.engine(it.engine).clock.lose(moment);
            let kind = ConflictKind::BasisDiffers { engine: of_engine, aircraft: of_aircraft };
            self.conflict(stream, moment, kind);
        }
        // A reading of the same day may have been told of the engine before it was installed.
        for (_, meter) in self.unplaced.remove(&it.engine).unwrap_or_default() {
            self.observe(it.aircraft, meter, moment);
        }
    }

    fn removed(&mut self, id: EngineId, meter: Hours, moment: Moment) {
        let Some(aircraft) = self.engine(id).aircraft else {
            self.conflict(Stream::engine(id), moment, ConflictKind::RemovedWhileOff);
            return;
        };
        self.observe(aircraft, meter, moment);
        self.engine(id).aircraft = None;
    }

    /// A meter value of an aircraft: moves on the aircraft and every engine in it.
    fn observe(&mut self, id: AircraftId, meter: Hours, moment: Moment) {
        let aircraft = self.history.aircraft.entry(id).or_default();
        let fell = aircraft.meter.map(|(last, _)| last).filter(|last| meter < *last);
        if let Some(from) = fell {
            aircraft.clock.lose(moment);
            for engine in self.history.engines.values_mut().filter(|it| it.aircraft == Some(id)) {
                engine.clock.lose(moment);
            }
            let kind = ConflictKind::MeterFell { from, to: meter };
            self.conflict(Stream::aircraft(id), moment, kind);
            return;
        }
        if aircraft.meter.is_none() {
            aircraft.clock.state(Hours::ZERO, moment);
            aircraft.clock.open(id, meter, moment);
        } else {
            aircraft.clock.advance(meter, moment);
        }
        aircraft.meter = Some((meter, moment.on));
        for engine in self.history.engines.values_mut().filter(|it| it.aircraft == Some(id)) {
            engine.clock.advance(meter, moment);
        }
    }

    fn meter_changed(&mut self, it: &MeterChanged, moment: Moment) {
        self.observe(it.aircraft, it.old_end, moment);
        let aircraft = self.history.aircraft.entry(it.aircraft).or_default();
        aircraft.meter = Some((it.new_start, moment.on));
        aircraft.clock.open(it.aircraft, it.new_start, moment);
        let inside = Some(it.aircraft);
        for engine in self.history.engines.values_mut().filter(|engine| engine.aircraft == inside) {
            engine.clock.open(it.aircraft, it.new_start, moment);
        }
    }

    fn reading(&mut self, of: Host, meter: Hours, moment: Moment) {
        match of {
            Host::Aircraft(id) => self.observe(id, meter, moment),
            Host::Engine(id) => match self.engine(id).aircraft {
                Some(aircraft) => self.observe(aircraft, meter, moment),
                None => self.unplaced.entry(id).or_default().push((moment, meter)),
            },
        }
    }

    /// Gives up on readings of earlier days that no installation of their day could place.
    fn give_up_unplaced(&mut self, now: Moment) {
        let unplaced = std::mem::take(&mut self.unplaced);
        for (id, readings) in unplaced {
            for (moment, meter) in readings {
                if moment.on < now.on {
                    self.conflict(Stream::engine(id), moment, ConflictKind::ReadingUnplaced);
                } else {
                    self.unplaced.entry(id).or_default().push((moment, meter));
                }
            }
        }
    }

    fn fitted(&mut self, it: &ComponentFitted, moment: Moment) {
        self.observe_host(it.host, it.meter, moment);
        let kind = self.history.components.entry(it.component).or_default().kind.clone();
        // A place holds one part of a kind: fitting the next one there takes the last one off.
        for (id, other) in &mut self.history.components {
            if let Some(fit) = other.fits.last_mut()
                && *id != it.component
                && fit.until.is_none()
                && kind.is_some()
                && (fit.host, &fit.position, &other.kind) == (it.host, &it.position, &kind)
            {
                fit.until = Some(moment);
            }
        }
        let component = self.history.components.entry(it.component).or_default();
        let twice = component.current().is_some();
        component.lost |= twice;
        component.fits.push(Fit {
            host: it.host,
            position: it.position.clone(),
            from: moment,
            until: None,
            cause: None,
        });
        if twice {
            self.conflict(Stream::component(it.component), moment, ConflictKind::FittedTwice);
        }
        self.compare_component(it.component, moment);
    }

    fn taken_off(&mut self, it: &ComponentRemoved, moment: Moment) {
        let id = it.component;
        let host = self.history.component(id).and_then(|it| it.current()).map(|fit| fit.host);
        let Some(host) = host else {
            self.conflict(Stream::component(id), moment, ConflictKind::RemovedWhileOff);
            return;
        };
        self.observe_host(host, it.meter, moment);
        let fits = self.history.components.get_mut(&id).map(|it| &mut it.fits);
        if let Some(fit) = fits.and_then(|fits| fits.last_mut()) {
            fit.until = Some(moment);
            fit.cause = it.cause;
        }
    }

    fn observe_host(&mut self, host: Host, meter: Option<Hours>, moment: Moment) {
        let aircraft = match host {
            Host::Aircraft(id) => Some(id),
            Host::Engine(id) => self.history.engine(id).and_then(|engine| engine.aircraft),
        };
        if let (Some(aircraft), Some(meter)) = (aircraft, meter) {
            self.observe(aircraft, meter, moment);
        }
    }
}

/// What a standing fact makes happen, each at its moment.
fn events_of<'a>(standing: &Standing<'a>) -> Vec<(Moment, Happening<'a>)> {
    let Entry { on, order_in_day, content } = standing.entry;
    let at = |on, rank| Moment { on, order_in_day: *order_in_day, rank, fact: standing.root };
    let mut events = vec![(at(*on, rank_of(content)), Happening::Fact(content))];
    if let Content::Inspection(it) = content {
        events.extend(it.readings.iter().map(|reading| {
            let event = Happening::Reading(Host::Engine(it.engine), reading.meter);
            (at(reading.on, rank::READING), event)
        }));
    }
    events
}

fn rank_of(content: &Content) -> u8 {
    match content {
        Content::AircraftRegistered(_)
        | Content::EngineRegistered(_)
        | Content::ComponentRegistered(_) => rank::REGISTERED,
        Content::PartyRegistered(_)
        | Content::Ownership(_)
        | Content::Custody(_)
        | Content::Erased(_)
        | Content::Described(_)
        | Content::ProgrammeActivated(_)
        | Content::Amendment(_) => rank::PARTIES,
        Content::Reading(_) | Content::Event(_) => rank::READING,
        Content::Inspection(_) | Content::ComponentOverhauled(_) => rank::INSPECTION,
        Content::Concession(_) => rank::CONCESSION,
        Content::HoursAccepted(_) => rank::ACCEPTED,
        Content::Preserved(_) => rank::PRESERVED,
        Content::MakerRestart(_) => rank::RESTARTED,
        Content::EngineRemoved(_) => rank::ENGINE_REMOVED,
        Content::ComponentRemoved(_) => rank::COMPONENT_REMOVED,
        Content::MeterChanged(_) => rank::METER_CHANGED,
        Content::EngineInstalled(_) => rank::ENGINE_INSTALLED,
        Content::ComponentFitted(_) => rank::COMPONENT_FITTED,
    }
}
