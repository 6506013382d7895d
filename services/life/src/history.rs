//! What a set of facts amounts to: engines, aircraft and components as they stand, and what contradicts.
//!
//! A fold over facts in the order of [`Moment`], never of arrival: any permutation or doubling of the same
//! facts gives the same history.

use crate::clock::{Clock, Moment};
use crate::conflict::Conflict;
use crate::date_code::DayInterval;
use crate::fact::{Code, Condition, Fact, Host, OverhaulScope, Stream};
use crate::fold::Folding;
use crate::hours::{Basis, Hours};
use crate::ids::{AircraftId, ComponentId, EngineId, ItemId, PartKind, PartyId, PositionId};
use crate::programme::Action;
use chrono::NaiveDate;
use std::collections::BTreeMap;

/// What a set of facts amounts to.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct History {
    /// Every engine named by the facts.
    pub engines: BTreeMap<EngineId, EngineState>,
    /// Every aircraft named by the facts.
    pub aircraft: BTreeMap<AircraftId, AircraftState>,
    /// Every component named by the facts.
    pub components: BTreeMap<ComponentId, ComponentState>,
    /// What contradicts, in order of day.
    pub conflicts: Vec<Conflict>,
}

/// An engine as the records show it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct EngineState {
    /// The short name of its type, once registered.
    pub engine_type: Option<ItemId>,
    /// Its serial number.
    pub serial: Option<String>,
    /// The hours it is counted in.
    pub basis: Option<Basis>,
    /// The day it was made, where known.
    pub made_on: Option<NaiveDate>,
    /// Whether its hours are logged from new.
    pub log: Log,
    /// The aircraft it is in.
    pub aircraft: Option<AircraftId>,
    /// Its own owner, if that was recorded apart from the aircraft's.
    pub owner: Option<PartyId>,
    /// The workshop that last worked on it.
    pub last_shop: Option<PartyId>,
    /// Its running hours: since new when logged, else since it was registered.
    pub clock: Clock,
    /// Overhauls, in order.
    pub overhauls: Vec<OverhaulRecord>,
    /// Work done, in order.
    pub work: Vec<WorkRecord>,
    /// Findings, in order.
    pub findings: Vec<FindingRecord>,
}

/// Whether the hours of an engine are known from new.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Log {
    /// Hours since new are on record.
    Logged,
    /// They are not: hours count from the day it was registered.
    #[default]
    Unknown,
}

/// An overhaul.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OverhaulRecord {
    /// When it was released.
    pub moment: Moment,
    /// How much of the engine.
    pub scope: OverhaulScope,
    /// The engine's count then, before the test run.
    pub hours: Option<Hours>,
    /// Whether a test run completed it.
    pub tested: bool,
}

impl OverhaulRecord {
    /// Only a full overhaul, completed by a test run, restarts the hours since overhaul.
    #[must_use]
    pub fn restarts(&self) -> bool {
        self.scope == OverhaulScope::Full && self.tested
    }
}

/// One thing done.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WorkRecord {
    /// When it was released.
    pub moment: Moment,
    /// The item it answers.
    pub item: ItemId,
    /// Where.
    pub positions: Vec<PositionId>,
    /// What was done.
    pub action: Action,
    /// Whether the hours were read that time (or could not have changed since they were).
    pub read_then: bool,
    /// Whether a release was recorded.
    pub released: bool,
    /// False for an overhaul in full that no test run has completed.
    pub completed: bool,
}

/// One thing found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FindingRecord {
    /// When the inspection was released.
    pub moment: Moment,
    /// What was looked at.
    pub item: ItemId,
    /// Where.
    pub position: Option<PositionId>,
    /// In what state.
    pub condition: Condition,
}

/// An aircraft as the records show it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct AircraftState {
    /// Its registration mark.
    pub mark: Option<String>,
    /// What its hour meter counts.
    pub basis: Option<Basis>,
    /// Its owner.
    pub owner: Option<PartyId>,
    /// What the meter showed last, and when.
    pub meter: Option<(Hours, NaiveDate)>,
    /// Hours run since the first reading on record, meter changes bridged.
    pub clock: Clock,
}

/// A component as the records show it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ComponentState {
    /// What kind of part.
    pub kind: Option<PartKind>,
    /// Its serial number.
    pub serial: Option<String>,
    /// Its lot.
    pub lot: Option<String>,
    /// Its date code as marked.
    pub code: Option<Code>,
    /// The days in which it was made, if the code can be read.
    pub made: Option<DayInterval>,
    /// When it was registered, and the hours on it then.
    pub registered: Option<(Moment, Option<Hours>)>,
    /// The day it was first fitted, if before these records.
    pub first_fitted_on: Option<NaiveDate>,
    /// Where it has been, in order.
    pub fits: Vec<Fit>,
    /// Whether records contradict one another.
    pub lost: bool,
}

/// One stay of a component on an engine or aircraft.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fit {
    /// On what.
    pub host: Host,
    /// Where.
    pub position: Option<PositionId>,
    /// When it was fitted.
    pub from: Moment,
    /// When it came off; `None` while it is still on.
    pub until: Option<Moment>,
}

impl History {
    /// What these facts amount to, whatever their order and however often they are repeated.
    #[must_use]
    pub fn fold(facts: &[Fact]) -> Self {
        Folding::run(facts)
    }

    /// An engine, if any fact names it.
    #[must_use]
    pub fn engine(&self, id: EngineId) -> Option<&EngineState> {
        self.engines.get(&id)
    }

    /// An aircraft, if any fact names it.
    #[must_use]
    pub fn aircraft(&self, id: AircraftId) -> Option<&AircraftState> {
        self.aircraft.get(&id)
    }

    /// A component, if any fact names it.
    #[must_use]
    pub fn component(&self, id: ComponentId) -> Option<&ComponentState> {
        self.components.get(&id)
    }

    /// The owner of an engine: its own, else that of the aircraft it is in.
    #[must_use]
    pub fn owner_of(&self, id: EngineId) -> Option<PartyId> {
        let engine = self.engine(id)?;
        engine.owner.or_else(|| self.aircraft(engine.aircraft?)?.owner)
    }

    /// What the hour meter shows for an engine in an aircraft.
    #[must_use]
    pub fn meter_of(&self, id: EngineId) -> Option<(Hours, NaiveDate)> {
        self.aircraft(self.engine(id)?.aircraft?)?.meter
    }

    /// The components now fitted to an engine, or to the aircraft it is in.
    #[must_use]
    pub fn fitted_to(&self, id: EngineId) -> Vec<ComponentId> {
        let aircraft = self.engine(id).and_then(|engine| engine.aircraft);
        let on_it = |host: Host| {
            host == Host::Engine(id) || aircraft.is_some_and(|a| host == Host::Aircraft(a))
        };
        let fitted = self
            .components
            .iter()
            .filter(|(_, component)| component.current().is_some_and(|fit| on_it(fit.host)));
        fitted.map(|(id, _)| *id).collect()
    }

    /// The running hours on a component at a moment, summed over its stays up to then; `None` when any part
    /// of the sum is not known.
    #[must_use]
    pub fn component_hours(&self, id: ComponentId, at: Moment) -> Option<Hours> {
        let component = self.component(id).filter(|component| !component.lost)?;
        let (_, base) = component.registered?;
        let stays = self.component_stays(id, at).map(|(_, from, to)| Some(to? - from?));
        let run: Option<Hours> = stays.sum();
        Some(base? + run?)
    }

    /// The stays of a component up to a moment, each with the host's count at its start and end.
    pub(crate) fn component_stays(
        &self,
        id: ComponentId,
        at: Moment,
    ) -> impl Iterator<Item = (&Fit, Option<Hours>, Option<Hours>)> {
        let component = self.component(id);
        let since = component.and_then(|it| it.registered).map(|(moment, _)| moment);
        let fits = component.map_or(&[][..], |it| &it.fits);
        fits.iter().filter(move |fit| fit.from <= at).map(move |fit| {
            let clock = self.clock_of(fit.host);
            let known = |moment| clock.and_then(|clock| clock.at(moment)).map(|point| point.hours);
            // Hours on a part when it was registered already hold what it ran before.
            let from = since.map_or(fit.from, |since| since.max(fit.from));
            let to = fit.until.map_or(at, |until| until.min(at));
            (fit, known(from), known(to.max(from)))
        })
    }

    pub(crate) fn clock_of(&self, host: Host) -> Option<&Clock> {
        match host {
            Host::Engine(id) => self.engine(id).map(|engine| &engine.clock),
            Host::Aircraft(id) => self.aircraft(id).map(|aircraft| &aircraft.clock),
        }
    }

    /// What contradicts about an engine, its aircraft and the parts on it.
    #[must_use]
    pub fn conflicts_of(&self, id: EngineId) -> Vec<&Conflict> {
        let mut streams = vec![Stream::engine(id)];
        let aircraft = self.engine(id).and_then(|engine| engine.aircraft);
        streams.extend(aircraft.map(Stream::aircraft));
        streams.extend(self.fitted_to(id).into_iter().map(Stream::component));
        self.conflicts.iter().filter(|it| streams.contains(&it.stream)).collect()
    }
}

impl EngineState {
    /// Hours since new at the last reading; `None` without a log or when records contradict.
    #[must_use]
    pub fn tsn(&self) -> Option<Hours> {
        (self.log == Log::Logged).then(|| self.clock.now())?.map(|point| point.hours)
    }

    /// Hours since the last full overhaul at the last reading; `None` if there was none on record.
    #[must_use]
    pub fn tso(&self) -> Option<Hours> {
        Some(self.clock.now()?.hours - self.last_full_overhaul()?.hours?)
    }

    /// How many full overhauls are on record.
    #[must_use]
    pub fn full_overhauls(&self) -> usize {
        self.overhauls.iter().filter(|it| it.restarts()).count()
    }

    /// The last overhaul that restarted the hours since overhaul.
    #[must_use]
    pub fn last_full_overhaul(&self) -> Option<&OverhaulRecord> {
        self.overhauls.iter().rfind(|it| it.restarts())
    }

    /// The day of the last known count.
    #[must_use]
    pub fn hours_on(&self) -> Option<NaiveDate> {
        self.clock.now().map(|point| point.moment.on)
    }
}

impl ComponentState {
    /// Where it is now.
    #[must_use]
    pub fn current(&self) -> Option<&Fit> {
        self.fits.last().filter(|fit| fit.until.is_none())
    }

    /// The day it was first fitted to anything.
    #[must_use]
    pub fn first_fitted(&self) -> Option<NaiveDate> {
        self.first_fitted_on.or_else(|| self.fits.first().map(|fit| fit.from.on))
    }

    /// What to call it: kind, then serial, lot or code.
    #[must_use]
    pub fn label(&self) -> String {
        let kind = self.kind.as_ref().map_or("part", PartKind::as_str).replace('-', " ");
        let mark = self
            .serial
            .clone()
            .or_else(|| self.lot.as_ref().map(|lot| format!("lot {lot}")))
            .or_else(|| self.code.as_ref().map(|code| code.text.clone()));
        mark.map_or_else(|| kind.clone(), |mark| format!("{kind} {mark}"))
    }
}

/// Facts of one day are taken in this order, unless they say otherwise.
pub(crate) mod rank {
    pub(crate) const REGISTERED: u8 = 0;
    pub(crate) const PARTIES: u8 = 1;
    pub(crate) const READING: u8 = 2;
    pub(crate) const INSPECTION: u8 = 3;
    pub(crate) const BENCH_RUN: u8 = 4;
    pub(crate) const ENGINE_REMOVED: u8 = 5;
    pub(crate) const COMPONENT_REMOVED: u8 = 6;
    pub(crate) const METER_CHANGED: u8 = 7;
    pub(crate) const ENGINE_INSTALLED: u8 = 8;
    pub(crate) const COMPONENT_FITTED: u8 = 9;
}
