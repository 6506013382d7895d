//! What a set of facts amounts to: engines, aircraft and components as they stand, and what contradicts.
//!
//! A fold over facts in the order of [`Moment`], never of arrival: any permutation or doubling of the same
//! facts gives the same history.

mod own;
mod records;

pub use records::{
    AcceptedRecord, ActivationRecord, ConcessionRecord, EventRecord, FindingRecord, MarkRecord,
    MatchedRecord, MeasuredRecord, OverhaulRecord, PreservationRecord, WorkLog, WorkRecord,
};

use crate::clock::{Clock, Moment, Stretch};
use crate::conflict::Conflict;
use crate::date_code::DayInterval;
use crate::fact::{Attribute, Code, Fact, Host, Papers, RemovalCause, Stream};
use crate::fold::Folding;
use crate::hours::{Basis, Hours};
use crate::ids::{AircraftId, ComponentId, EngineId, ItemId, PartKind, PartyId, PositionId};
use crate::sure::rate::Owner;
use crate::sure::season::Hemisphere;
use chrono::NaiveDate;
use std::collections::{BTreeMap, BTreeSet};

/// What a set of facts amounts to.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct History {
    /// Every engine named by the facts.
    pub engines: BTreeMap<EngineId, EngineState>,
    /// Every aircraft named by the facts.
    pub aircraft: BTreeMap<AircraftId, AircraftState>,
    /// Every component named by the facts.
    pub components: BTreeMap<ComponentId, ComponentState>,
    /// The version of each engine type that is to be counted by.
    pub activations: BTreeMap<ItemId, ActivationRecord>,
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
    /// When its maker started its record at zero; what was before concerns only parts that were on it.
    pub restarted: Option<Moment>,
    /// Overhauls, in order.
    pub overhauls: Vec<OverhaulRecord>,
    /// Work done, in order.
    pub work: WorkLog,
    /// Findings, in order.
    pub findings: Vec<FindingRecord>,
    /// What was measured on it, in order.
    pub measured: Vec<MeasuredRecord>,
    /// Marks made on its parts, in order.
    pub marks: Vec<MarkRecord>,
    /// Which parts were put together where, in order.
    pub matched: Vec<MatchedRecord>,
    /// What happened to it, in order.
    pub events: Vec<EventRecord>,
    /// How it is stored, while it is.
    pub preservation: Option<PreservationRecord>,
    /// Permissions, in order.
    pub concessions: Vec<ConcessionRecord>,
    /// The estimate of its hours that was accepted last.
    pub accepted: Option<AcceptedRecord>,
    /// How it is built and used, as far as that was told of the engine itself.
    pub described: Description,
}

/// The words that hold for each thing that is described.
pub type Description = BTreeMap<Attribute, BTreeSet<String>>;

/// Whether the hours of an engine are known from new.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Log {
    /// Hours since new are on record.
    Logged,
    /// They are not: hours count from the day it was registered.
    #[default]
    Unknown,
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
    /// Who flies it, as far as its registration says.
    pub flown_by: Owner,
    /// Where it flies, as far as its registration says.
    pub hemisphere: Hemisphere,
    /// Hours run since the first reading on record, meter changes bridged.
    pub clock: Clock,
    /// How the engines in it are built and used, as far as that was told of the aircraft.
    pub described: Description,
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
    /// What its maker calls it.
    pub maker_part: Option<String>,
    /// Its date code as marked.
    pub code: Option<Code>,
    /// The day its rubber was cured, where papers say so.
    pub cured_on: Option<NaiveDate>,
    /// The days in which it was made: when it was cured, else as its code says if that can be read.
    pub made: Option<DayInterval>,
    /// When it was registered, and the hours on it then.
    pub registered: Option<(Moment, Option<Hours>)>,
    /// The day it was first fitted, if before these records.
    pub first_fitted_on: Option<NaiveDate>,
    /// Where it has been, in order.
    pub fits: Vec<Fit>,
    /// What happened to it apart from the engine it was on, in order.
    pub events: Vec<EventRecord>,
    /// When it was overhauled as an assembly of its own, in order.
    pub overhauls: Vec<Moment>,
    /// Its last overhaul before these records.
    pub papers: Option<Papers>,
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
    /// Why it came off, where that was said.
    pub cause: Option<RemovalCause>,
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
        let (since, base) = component.registered?;
        // What it had run before it was registered is known in sum, not when.
        if at < since {
            return None;
        }
        let stays = self.component_stays(id, at).map(|(_, (from, to))| Some(to? - from?));
        let run: Option<Hours> = stays.sum();
        Some(base? + run?)
    }

    /// The stays of a component up to a moment, each with the host's count at its start and end; a stay that
    /// saw the engine's record restarted comes in two.
    pub(crate) fn component_stays(
        &self,
        id: ComponentId,
        at: Moment,
    ) -> impl Iterator<Item = (&Fit, Stretch)> {
        let component = self.component(id);
        let since = component.and_then(|it| it.registered).map(|(moment, _)| moment);
        let fits = component.map_or(&[][..], |it| &it.fits);
        fits.iter().filter(move |fit| fit.from <= at).flat_map(move |fit| {
            // Hours on a part when it was registered already hold what it ran before.
            let from = since.map_or(fit.from, |since| since.max(fit.from));
            let to = fit.until.map_or(at, |until| until.min(at)).max(from);
            let clock = self.clock_of(fit.host);
            let stretches = clock.map_or_else(|| vec![(None, None)], |it| it.stretches(from, to));
            stretches.into_iter().map(move |stretch| (fit, stretch))
        })
    }

    pub(crate) fn clock_of(&self, host: Host) -> Option<&Clock> {
        match host {
            Host::Engine(id) => self.engine(id).map(|engine| &engine.clock),
            Host::Aircraft(id) => self.aircraft(id).map(|aircraft| &aircraft.clock),
        }
    }

    /// What is known of how an engine is built and used: told of the engine itself, else of its aircraft.
    #[must_use]
    pub fn described(&self, id: EngineId, attribute: Attribute) -> Option<&BTreeSet<String>> {
        let engine = self.engine(id)?;
        engine
            .described
            .get(&attribute)
            .or_else(|| self.aircraft(engine.aircraft?)?.described.get(&attribute))
    }

    /// Hours since the last overhaul of a component, from its own overhauls or its papers.
    #[must_use]
    pub fn component_tso(&self, id: ComponentId) -> Option<Hours> {
        let component = self.component(id)?;
        let now = self.component_hours(id, Moment::end_of(NaiveDate::MAX))?;
        if let Some(last) = component.overhauls.last() {
            return Some(now - self.component_hours(id, *last)?);
        }
        let (_, registered) = component.registered?;
        Some(now - registered? + component.papers?.hours_since)
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

impl Fit {
    /// Whether the stay had not ended before a moment.
    pub(crate) fn holds(&self, moment: Moment) -> bool {
        self.until.is_none_or(|until| moment <= until)
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
    pub(crate) const RESTARTED: u8 = 10;
    pub(crate) const PRESERVED: u8 = 11;
    // A permission of the day on which hours pass due came before that only if it says so.
    pub(crate) const CONCESSION: u8 = 12;
    pub(crate) const ACCEPTED: u8 = 13;
}
