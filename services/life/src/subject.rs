//! What a due line is counted on: the engine, a part with hours and age of its own, or what is known of one.

use crate::clock::Moment;
use crate::count::{DoneOnce, Step};
use crate::fact::{Host, OverhaulScope};
use crate::history::{
    ComponentState, ConcessionRecord, EngineState, EventRecord, Fit, History, Log, WorkRecord,
};
use crate::hours::Hours;
use crate::ids::{AircraftId, ComponentId, EngineId, ItemId, PartKind, PositionId};
use crate::line::{Count, LastDone};
use crate::programme::{Action, CountsFrom, EngineType, Granted, Item, Limit, Subject};
use crate::rule::Rule;
use chrono::NaiveDate;
use std::cell::OnceCell;
use std::iter;

/// One item at one place, with what it is counted on.
pub(crate) struct LineSubject<'a> {
    pub(crate) history: &'a History,
    pub(crate) id: EngineId,
    pub(crate) engine: &'a EngineState,
    pub(crate) item: &'a Item,
    pub(crate) engine_type: &'a EngineType,
    pub(crate) position: Option<&'a PositionId>,
    pub(crate) part: Part<'a>,
    /// Every time the item was done at this place, once somebody asked.
    done: OnceCell<Vec<&'a WorkRecord>>,
}

/// What a line is counted on.
#[derive(Clone, Copy)]
pub(crate) enum Part<'a> {
    /// The engine's own hours and age.
    Engine,
    /// A component's own hours and age.
    Component(ComponentId, &'a ComponentState),
    /// A part renewed on record but never registered: counted from that renewal.
    RenewedOnly(&'a WorkRecord),
    /// No such part is on record.
    Absent,
}

/// All lines that a programme asks of an engine, before any counting.
pub(crate) fn subjects<'a>(
    history: &'a History,
    id: EngineId,
    engine_type: &'a EngineType,
) -> impl Iterator<Item = LineSubject<'a>> {
    let engine = history.engine(id);
    engine_type.items.iter().flat_map(move |item| {
        let places: Vec<Option<&PositionId>> = if item.positions.is_empty() {
            vec![None]
        } else {
            item.positions.iter().map(Some).collect()
        };
        places.into_iter().flat_map(move |position| {
            let parts = engine.map_or_else(Vec::new, |engine| match &item.subject {
                Subject::Engine => vec![Part::Engine],
                Subject::Component(kind) => parts(history, id, engine, item, kind, position),
            });
            parts.into_iter().filter_map(move |part| {
                Some(LineSubject {
                    history,
                    id,
                    engine: engine?,
                    item,
                    engine_type,
                    position,
                    part,
                    done: OnceCell::new(),
                })
            })
        })
    })
}

/// The components of a kind at a place. A renewal recorded later than the part on record was fitted means
/// that another part is there now, of which only that renewal is known.
fn parts<'a>(
    history: &'a History,
    id: EngineId,
    engine: &'a EngineState,
    item: &Item,
    kind: &PartKind,
    position: Option<&PositionId>,
) -> Vec<Part<'a>> {
    let renewal = engine
        .own_work_on([&item.id])
        .rfind(|work| work.action == Action::Renewed && is_at(work, position));
    let fitted = history.fitted_to(id).into_iter().filter_map(|component| {
        let state = history.component(component)?;
        let fit = state.current()?;
        let here = position.is_none() || fit.position.as_ref() == position;
        let newer = renewal.is_none_or(|renewal| renewal.moment.on <= fit.from.on);
        (state.kind.as_ref() == Some(kind) && here && newer)
            .then_some(Part::Component(component, state))
    });
    let fitted: Vec<Part<'_>> = fitted.collect();
    match (fitted.is_empty(), renewal) {
        (false, _) => fitted,
        (true, Some(renewal)) => vec![Part::RenewedOnly(renewal)],
        (true, None) => vec![Part::Absent],
    }
}

/// The items by whose work one may be done: itself, and the larger ones.
fn answered_by(item: &Item) -> impl Iterator<Item = &ItemId> {
    iter::once(&item.id).chain(&item.satisfied_by)
}

/// Whether work was done at a place.
pub(crate) fn is_at(work: &WorkRecord, position: Option<&PositionId>) -> bool {
    position.is_none_or(|position| work.positions.contains(position))
}

impl<'a> LineSubject<'a> {
    /// Hours on the line's own count at the last reading, and the day of it.
    pub(crate) fn now(&self) -> Option<(Hours, NaiveDate)> {
        let point = self.engine.clock.now();
        match self.part {
            Part::Engine => point.map(|point| (point.hours, point.moment.on)),
            Part::Component(_, component) => {
                let clock = self.history.clock_of(component.current()?.host)?;
                let now = clock.now()?.moment;
                Some((self.hours_at(Moment::end_of(NaiveDate::MAX))?, now.on))
            }
            Part::RenewedOnly(_) => {
                let now = point?.moment;
                Some((self.hours_at(now)?, now.on))
            }
            Part::Absent => None,
        }
    }

    /// Hours on the line's own count at a moment.
    pub(crate) fn hours_at(&self, moment: Moment) -> Option<Hours> {
        let on_engine = |at| self.engine.clock.at(at).map(|point| point.hours);
        match self.part {
            Part::Engine => on_engine(moment),
            Part::Component(id, _) => self.history.component_hours(id, moment),
            Part::RenewedOnly(renewal) => Some(on_engine(moment)? - on_engine(renewal.moment)?),
            Part::Absent => None,
        }
    }

    /// Whether an action that ends the item for good was done at this place, to the part that is there now.
    pub(crate) fn is_ended(&self) -> bool {
        let item = self.item;
        let ends = |work: &WorkRecord| item.until.contains(&work.action) && work.completed;
        let ended = |work: &WorkRecord, position: Option<&PositionId>| {
            work.item == item.id && ends(work) && is_at(work, position)
        };
        !item.until.is_empty() && !self.work_here(ended).is_empty()
    }

    /// The work of some kind that concerns this line, in order; `concerns` is told the place of the line at the time. For
    /// a part that is whatever was recorded of the engine it was on, while it was on it: its history follows the part.
    pub(crate) fn work_here(
        &self,
        concerns: impl Fn(&WorkRecord, Option<&PositionId>) -> bool,
    ) -> Vec<&'a WorkRecord> {
        let Part::Component(_, component) = self.part else {
            let since = self.renewed_at();
            let work = self.engine.own_work_on(answered_by(self.item));
            let work = work.filter(|work| since.is_none_or(|it| work.moment >= it));
            return work.filter(|work| concerns(work, self.position)).collect();
        };
        let mut all: Vec<&WorkRecord> = Vec::new();
        for fit in &component.fits {
            let position = self.position.and(fit.position.as_ref());
            let work = self.engines_under(fit).flat_map(|(id, engine)| {
                let work = engine.work.on(answered_by(self.item));
                work.filter(move |work| self.touched(id, work.aircraft, fit))
            });
            let during = work.filter(|work| fit.from < work.moment && fit.holds(work.moment));
            all.extend(during.filter(|work| concerns(work, position)));
        }
        all.sort_by_key(|work| work.moment);
        all
    }

    /// The engines whose records may concern a part during a stay: on an aircraft, any that was in it.
    pub(crate) fn engines_under(
        &self,
        fit: &Fit,
    ) -> impl Iterator<Item = (EngineId, &'a EngineState)> {
        let host = fit.host;
        let engines = self.history.engines.iter().map(|(id, engine)| (*id, engine));
        engines.filter(move |(id, _)| match host {
            Host::Engine(on) => on == *id,
            Host::Aircraft(_) => true,
        })
    }

    /// Whether work on an engine was work on a part too: on a part on an aircraft, if the engine was in it
    /// then. Where two engines are in one aircraft now, each answers for what it drives itself.
    pub(crate) fn touched(&self, id: EngineId, aircraft: Option<AircraftId>, fit: &Fit) -> bool {
        match fit.host {
            Host::Engine(_) => true,
            Host::Aircraft(host) => {
                let beside = self.history.engine(id).and_then(|it| it.aircraft) == Some(host);
                aircraft == Some(host) && (id == self.id || !beside)
            }
        }
    }

    /// What happened to what this line is about, in order; on a part, also what happened to the engine it
    /// was on, while it was on it. What struck one engine of an aircraft struck all parts on the aircraft.
    pub(crate) fn events(&self) -> Vec<EventRecord> {
        let Part::Component(_, component) = self.part else {
            let since = self.renewed_at();
            let own = self.engine.own_events();
            return own.filter(|it| since.is_none_or(|since| it.moment > since)).copied().collect();
        };
        let mut all = component.events.clone();
        for fit in &component.fits {
            let events = self.engines_under(fit).flat_map(|(_, engine)| &engine.events);
            let touched = |event: &&EventRecord| match fit.host {
                Host::Engine(_) => true,
                Host::Aircraft(host) => event.aircraft == Some(host),
            };
            let during = |event: &&EventRecord| fit.from <= event.moment && fit.holds(event.moment);
            all.extend(events.filter(touched).filter(during));
        }
        all.sort_by_key(|event| event.moment);
        all
    }

    /// When the item was last answered: by work, or by an overhaul of the part where that counts as it.
    pub(crate) fn last_answer(&self) -> Option<(Moment, Action)> {
        let done = self.done_since_ever().last().map(|work| (work.moment, work.action));
        let counts = |action| self.item.done_by.is_empty() || self.item.done_by.contains(&action);
        let overhaul = match self.part {
            Part::Component(_, component) => component.overhauls.last(),
            _ => None,
        };
        let overhaul = overhaul.filter(|_| counts(Action::Overhauled));
        done.into_iter().chain(overhaul.map(|it| (*it, Action::Overhauled))).max_by_key(|it| it.0)
    }

    /// The permission recorded for a leg before it was due, where its tolerance needs one. Each is for one
    /// occasion: work since then used it up.
    fn permission_for(&self, rule: &Rule, count: Count) -> Option<&'a ConcessionRecord> {
        let before_due = |it: &&ConcessionRecord| match count {
            Count::Calendar { due, .. } => it.moment.on <= due,
            Count::Hours { due, .. } => self.hours_at(it.moment).is_some_and(|then| then <= due),
            Count::Missing(..) => false,
        };
        let done = self.done_since_ever().last().map(|work| work.moment.on);
        let needed = rule.needs_permission();
        let given = self.engine.concessions.iter().rev().filter(|_| needed);
        given
            .filter(|it| it.item == self.item.id && it.position.as_ref() == self.position)
            .filter(|it| done.is_none_or(|done| done < it.moment.on))
            .find(before_due)
    }

    /// The rule as it holds for a leg, with its permission used if there is one.
    pub(crate) fn permitted(&self, count: Count) -> (Rule, Option<&'a ConcessionRecord>) {
        let rule = Rule::from(self.item);
        let given = self.permission_for(&rule, count);
        let granted = given.map_or(rule.granted, |_| Granted::Automatic);
        (Rule { granted, ..rule }, given)
    }

    /// Whether no overhaul is on record, and the records reach back to when it was new.
    pub(crate) fn never_overhauled(&self) -> bool {
        match self.part {
            Part::Engine => {
                self.engine.last_full_overhaul().is_none() && self.engine.log == Log::Logged
            }
            Part::Component(_, part) => {
                let logged = part.registered.is_some_and(|(_, hours)| hours.is_some());
                part.overhauls.is_empty() && part.papers.is_none() && logged
            }
            Part::RenewedOnly(_) | Part::Absent => false,
        }
    }

    /// Whether the engine's last overhaul in full was not completed by a test run.
    pub(crate) fn overhauled_without_test_run(&self) -> bool {
        let last = self.engine.overhauls.last().filter(|_| matches!(self.part, Part::Engine));
        last.is_some_and(|it| it.scope == OverhaulScope::Full && !it.tested)
    }

    /// Every time the item was done at this place, in order.
    pub(crate) fn done_since_ever(&self) -> &[&'a WorkRecord] {
        self.done.get_or_init(|| self.work_here(|work, position| self.is_doing(work, position)))
    }

    /// Whether a piece of work was doing the item at a place, itself or as part of a larger one.
    fn is_doing(&self, work: &WorkRecord, position: Option<&PositionId>) -> bool {
        let item = self.item;
        let own = work.item == item.id;
        if !own && !item.satisfied_by.contains(&work.item) {
            return false;
        }
        let asked = if own { Some(item) } else { self.engine_type.item(&work.item) };
        // A larger item done on the engine as a whole covers every place of the smaller one.
        let here = is_at(work, position) || (!own && work.positions.is_empty());
        // Whichever item was named, it counts only if what was done is what that item asks for.
        let did_it = asked
            .is_some_and(|asked| asked.done_by.is_empty() || asked.done_by.contains(&work.action));
        here && did_it && work.completed
    }

    /// Every time it was inspected at this place, in order, where that is not having it done: the life goes on.
    pub(crate) fn inspections(&self) -> Vec<&'a WorkRecord> {
        let done_by = &self.item.done_by;
        if done_by.is_empty() || done_by.contains(&Action::Inspected) {
            return Vec::new();
        }
        self.work_here(|work, position| {
            let own = work.item == self.item.id && work.completed;
            own && work.action == Action::Inspected && is_at(work, position)
        })
    }

    /// The times it was done that count for a limit, after the moment its count begins.
    pub(crate) fn done_since(&self, limit: &Limit, since: Option<Moment>) -> Vec<DoneOnce> {
        let after = self.renewed_at().into_iter().chain(since).max();
        self.done_since_ever()
            .iter()
            .filter(|work| after.is_none_or(|after| work.moment > after))
            .filter(|work| self.restarts(limit, work.action))
            .map(|work| self.once(work))
            .collect()
    }

    /// Whether an action starts a limit again. The life of a part ends with the part: it starts again only
    /// by what the item itself names, and never by another part.
    fn restarts(&self, limit: &Limit, action: Action) -> bool {
        let life = !matches!(limit.counts_from, CountsFrom::Done | CountsFrom::Effective(_));
        let named = action != Action::Renewed && self.item.done_by.contains(&action);
        matches!(self.part, Part::Engine) || !life || named
    }

    /// When a part known only by its renewal came here: nothing before concerns it.
    pub(crate) fn renewed_at(&self) -> Option<Moment> {
        match self.part {
            Part::RenewedOnly(renewal) => Some(renewal.moment),
            _ => None,
        }
    }

    pub(crate) fn once(&self, work: &WorkRecord) -> DoneOnce {
        DoneOnce {
            on: Some(work.moment.on),
            hours: self.hours_at(work.moment),
            action: work.action,
            afresh: work.action.starts_afresh(),
            fact: Some(work.moment.fact),
        }
    }

    /// A piece of work as the last time that the item was done.
    pub(crate) fn last_done(&self, work: &WorkRecord) -> LastDone {
        LastDone {
            on: work.moment.on,
            hours: self.hours_at(work.moment),
            action: work.action,
            fact: work.moment.fact,
        }
    }

    pub(crate) fn component(&self) -> Option<ComponentId> {
        match self.part {
            Part::Component(id, _) => Some(id),
            _ => None,
        }
    }

    pub(crate) fn first_fitted(&self) -> Option<NaiveDate> {
        match self.part {
            Part::Component(_, component) => component.first_fitted(),
            Part::RenewedOnly(renewal) => Some(renewal.moment.on),
            _ => None,
        }
    }

    /// A shelf life is over and done with once the part was fitted before it ran out.
    pub(crate) fn shelf_kept(&self, count: Count) -> Option<Step<'a>> {
        match (count, self.first_fitted()) {
            (Count::Calendar { due, .. }, Some(fitted)) if fitted <= due => {
                Some(Step::ShelfKept { fitted, due })
            }
            _ => None,
        }
    }
}
