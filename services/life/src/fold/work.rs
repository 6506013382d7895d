//! The part of the fold that takes inspections, happenings and descriptions.

use super::Folding;
use crate::clock::Moment;
use crate::fact::{Affected, Described, Event, EventKind, Host, Inspection, OverhaulScope};
use crate::history::{
    EventRecord, FindingRecord, Log, MarkRecord, MatchedRecord, MeasuredRecord, OverhaulRecord,
    WorkRecord, rank,
};
use crate::ids::EngineId;
use crate::programme::Action;

impl Folding {
    /// An event reads the meter like anything else; coming back into use ends the storage.
    pub(super) fn event(&mut self, it: &Event, moment: Moment) {
        let host = match it.of {
            Affected::Engine(id) => Some(Host::Engine(id)),
            Affected::Component(id) => {
                self.history.component(id).and_then(|it| it.current()).map(|fit| fit.host)
            }
        };
        if let Some(host) = host {
            self.observe_host(host, it.meter, moment);
        }
        let mut record = EventRecord { moment, kind: it.kind, aircraft: None };
        match it.of {
            Affected::Engine(id) => {
                let engine = self.engine(id);
                record.aircraft = engine.aircraft;
                engine.events.push(record);
                if it.kind == EventKind::ReturnToUse {
                    engine.preservation = None;
                }
            }
            Affected::Component(id) => {
                self.history.components.entry(id).or_default().events.push(record);
            }
        }
    }

    /// A new record without operating history (14 CFR 91.421): what was before no longer counts for the
    /// engine. Parts that were on it keep their own hours and what happened to them.
    pub(super) fn restarted(&mut self, id: EngineId, moment: Moment) {
        let engine = self.engine(id);
        engine.log = Log::Logged;
        engine.made_on = Some(moment.on);
        engine.restarted = Some(moment);
        engine.clock.restart(moment);
        engine.overhauls.clear();
        engine.matched.clear();
        engine.marks.clear();
        engine.concessions.clear();
        engine.preservation = None;
        engine.accepted = None;
        if let Some(aircraft) = engine.aircraft
            && let Some((meter, _)) = self.history.aircraft(aircraft).and_then(|it| it.meter)
        {
            self.engine(id).clock.open(aircraft, meter, moment);
        }
    }

    pub(super) fn described(&mut self, it: &Described) {
        let described = match it.of {
            Host::Engine(id) => &mut self.engine(id).described,
            Host::Aircraft(id) => &mut self.history.aircraft.entry(id).or_default().described,
        };
        described.extend(it.values.clone());
    }

    pub(super) fn inspection(&mut self, it: &Inspection, moment: Moment) {
        if let Some(tsn) = it.tsn {
            self.stated(it.engine, tsn, moment, self.read_by(it, moment));
        }
        let engine = self.engine(it.engine);
        engine.last_shop = Some(it.shop);
        let awaits_test_run = it.overhaul == Some(OverhaulScope::Full) && it.test_run.is_none();
        let read_then = it.tsn.is_some() || !it.readings.is_empty() || engine.aircraft.is_none();
        let aircraft = engine.aircraft;
        engine.findings.extend(it.findings.iter().map(|finding| FindingRecord {
            moment,
            aircraft,
            item: finding.item.clone(),
            position: finding.position.clone(),
            condition: finding.condition,
            recheck: finding.recheck,
        }));
        if !it.measurements.is_empty() {
            let measurements = it.measurements.clone();
            engine.measured.push(MeasuredRecord { moment, aircraft, measurements });
        }
        for work in &it.work {
            engine.work.push(WorkRecord {
                moment,
                aircraft,
                item: work.item.clone(),
                positions: work.positions.clone(),
                action: work.action,
                read_then,
                released: it.released,
                completed: work.action != Action::Overhauled || !awaits_test_run,
            });
        }
        engine.overhauls.extend(it.overhaul.map(|scope| OverhaulRecord {
            moment,
            scope,
            hours: engine.clock.at(moment).map(|point| point.hours),
            tested: it.test_run.is_some(),
        }));
        engine.marks.extend(it.marks.iter().map(|mark| MarkRecord {
            moment,
            item: mark.item.clone(),
            position: mark.position.clone(),
            text: mark.text.clone(),
        }));
        let matched = it.matched.iter().cloned();
        engine.matched.extend(matched.map(|set| MatchedRecord { moment, set }));
        // In an aircraft the meter counts the bench run too; only off it does the bench add hours.
        let runs = it.test_run.into_iter().chain(it.run_in);
        if let Some(run) = runs.reduce(|a, b| a + b)
            && aircraft.is_none()
        {
            engine.clock.run_on_bench(run, Moment { rank: rank::BENCH_RUN, ..moment });
        }
    }

    /// Whether this inspection itself read the meter on the day it was released.
    fn read_by(&self, it: &Inspection, moment: Moment) -> bool {
        let installed = self.history.engine(it.engine).is_some_and(|it| it.aircraft.is_some());
        installed && it.readings.iter().any(|reading| reading.on == moment.on)
    }
}
