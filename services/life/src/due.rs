//! The due list of one engine: a pure function of its history and its programme.

use crate::clock::Moment;
use crate::count::{Counting, DoneOnce, Recorder, Step, count_days, count_hours};
use crate::finding::finding_lines;
use crate::history::{ComponentState, EngineState, History, Log, WorkRecord};
use crate::hours::Hours;
use crate::ids::{ComponentId, EngineId, PartKind, PositionId};
use crate::line::{AskedBy, Count, DueLine, LastDone, Leg, Note, Overrun};
use crate::programme::{CountsFrom, EngineType, Granted, Item, Limit, Subject};
use crate::rule::Rule;
use crate::start::start_of;
use crate::status::StatusDays;
use chrono::NaiveDate;

/// Every due line of an engine: the programme's in its order, then the open findings.
#[must_use]
pub fn due_list(history: &History, id: EngineId, engine_type: &EngineType) -> Vec<DueLine> {
    let Some(engine) = history.engine(id) else { return Vec::new() };
    let mut lines: Vec<DueLine> =
        subjects(history, id, engine_type).map(|subject| line(&subject, &mut ())).collect();
    lines.extend(finding_lines(engine, engine_type));
    lines
}

/// One item at one place, with what it is counted on.
pub(crate) struct LineSubject<'a> {
    pub(crate) history: &'a History,
    pub(crate) id: EngineId,
    pub(crate) engine: &'a EngineState,
    pub(crate) item: &'a Item,
    pub(crate) engine_type: &'a EngineType,
    pub(crate) position: Option<&'a PositionId>,
    pub(crate) part: Part<'a>,
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
    let renewal =
        engine.work.iter().rev().find(|work| {
            work.item == item.id && work.action.starts_afresh() && is_at(work, position)
        });
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

fn is_at(work: &WorkRecord, position: Option<&PositionId>) -> bool {
    position.is_none_or(|position| work.positions.contains(position))
}

/// Counts one line; the recorder sees every step.
pub(crate) fn line<'a>(subject: &LineSubject<'a>, recorder: &mut impl Recorder<'a>) -> DueLine {
    let item = subject.item;
    let rule = Rule::from(item);
    let now = subject.now();
    let mut tally = Tally::default();
    for limit in &item.limits {
        recorder.step(Step::Limit(limit));
        let (start, since) = start_of(subject, limit);
        let done = subject.done_since(limit, since);
        if let Some(every) = limit.hours {
            let counting = count_hours(&rule, every, start, &done, recorder);
            tally.take(limit, counting, &rule, now);
        }
        for every in limit.spans.iter().copied() {
            let counting = count_days(&rule, limit, every, start, &done, recorder);
            match subject.shelf_kept(counting.count).filter(|_| limit.shelf) {
                Some(kept) => recorder.step(kept),
                None => tally.take(limit, counting, &rule, now),
            }
        }
    }
    let last = subject.done_since_ever().last();
    DueLine {
        item: item.id.clone(),
        title: item.title.clone(),
        asked_by: AskedBy::Programme,
        position: subject.position.cloned(),
        component: subject.component(),
        class: item.class,
        source: item.source.clone(),
        notes: notes(subject, &rule, &tally),
        days: tally.days,
        legs: tally.legs,
        hours_now: now.map(|(hours, _)| hours),
        hours_on: now.map(|(_, on)| on),
        meter_now: subject.history.meter_of(subject.id).map(|(meter, _)| meter),
        last: last.map(|work| LastDone {
            on: work.moment.on,
            hours: subject.hours_at(work.moment),
            action: work.action,
            fact: work.moment.fact,
        }),
        last_overrun: tally.overrun,
        last_overrun_beyond_tolerance: tally.beyond,
    }
}

/// What the legs of a line come to together.
#[derive(Default)]
struct Tally {
    legs: Vec<Leg>,
    days: StatusDays,
    overrun: Overrun,
    beyond: bool,
    skipped: bool,
}

impl Tally {
    fn take(
        &mut self,
        limit: &Limit,
        counting: Counting,
        rule: &Rule,
        now: Option<(Hours, NaiveDate)>,
    ) {
        let days = rule.days_of(counting.count, now);
        self.days = StatusDays { beyond: rule.beyond(), ..self.days }.with(days);
        self.overrun = self.overrun.with(counting.overrun());
        self.beyond |= counting.last_beyond;
        self.skipped |= counting.skipped;
        self.legs.push(Leg { limit: limit.name.clone(), count: counting.count, days });
    }
}

/// What a reader should know besides the figures.
fn notes(subject: &LineSubject<'_>, rule: &Rule, tally: &Tally) -> Vec<Note> {
    let counts_from_overhaul =
        subject.item.limits.iter().any(|limit| limit.counts_from == CountsFrom::Overhaul);
    let engine = subject.engine;
    let last = subject.done_since_ever().last();
    let missing_hours = tally.legs.iter().any(|leg| matches!(leg.count, Count::Hours { .. }));
    let unfinished = engine
        .overhauls
        .last()
        .is_some_and(|it| it.scope == crate::fact::OverhaulScope::Full && !it.tested);
    let shelf = subject
        .item
        .limits
        .iter()
        .zip(&tally.legs)
        .any(|(limit, leg)| limit.shelf && matches!(leg.count, Count::Calendar { .. }));
    let permission = match rule.granted {
        Granted::EnRoute => Some(Note::EnRouteOnly),
        Granted::BeforeDue => Some(Note::NoGrant),
        Granted::Automatic => None,
    };
    let when = |holds: bool, note: Note| holds.then_some(note);
    [
        when(
            counts_from_overhaul
                && engine.last_full_overhaul().is_none()
                && engine.log == Log::Logged,
            Note::CountedFromNew,
        ),
        when(tally.skipped, Note::SkippedIntervals),
        when(missing_hours && last.is_some_and(|work| !work.read_then), Note::EarlierReading),
        permission.filter(|_| rule.tolerance.is_some() && rule.class.permits_tolerance()),
        when(shelf && subject.first_fitted().is_some(), Note::FittedPastShelfLife),
        when(last.is_some_and(|work| !work.released), Note::NoRelease),
        when(counts_from_overhaul && unfinished, Note::NoTestRun),
    ]
    .into_iter()
    .flatten()
    .collect()
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

    /// Every time the item was done at this place, in order.
    pub(crate) fn done_since_ever(&self) -> impl DoubleEndedIterator<Item = &'a WorkRecord> {
        let (item, position, engine_type) = (self.item, self.position, self.engine_type);
        self.engine.work.iter().filter(move |work| {
            let own = work.item == item.id;
            let larger = item.satisfied_by.contains(&work.item);
            let asked = if own { Some(item) } else { engine_type.item(&work.item) };
            // A larger item done on the engine as a whole covers every place of the smaller one.
            let here = is_at(work, position) || (!own && work.positions.is_empty());
            // Whichever item was named, it counts only if what was done is what that item asks for.
            let did_it = asked.is_some_and(|asked| {
                asked.done_by.is_empty() || asked.done_by.contains(&work.action)
            });
            (own || larger) && here && did_it && work.completed
        })
    }

    /// The times it was done that count for a limit, after the moment its count begins.
    fn done_since(&self, limit: &Limit, since: Option<Moment>) -> Vec<DoneOnce> {
        // The life of a part ends with the part: nothing done to it starts that count again.
        let life = !matches!(self.part, Part::Engine)
            && !matches!(limit.counts_from, CountsFrom::Done | CountsFrom::Effective(_));
        let after = self.part_since().into_iter().chain(since).max();
        self.done_since_ever()
            .filter(|work| !life && after.is_none_or(|after| work.moment > after))
            .map(|work| self.once(work))
            .collect()
    }

    /// When the part came to this place.
    fn part_since(&self) -> Option<Moment> {
        match self.part {
            Part::Engine | Part::Absent => None,
            Part::Component(_, component) => component.current().map(|fit| fit.from),
            Part::RenewedOnly(renewal) => Some(renewal.moment),
        }
    }

    fn once(&self, work: &WorkRecord) -> DoneOnce {
        DoneOnce {
            on: Some(work.moment.on),
            hours: self.hours_at(work.moment),
            action: work.action,
            afresh: work.action.starts_afresh(),
            fact: Some(work.moment.fact),
        }
    }

    fn component(&self) -> Option<ComponentId> {
        match self.part {
            Part::Component(id, _) => Some(id),
            _ => None,
        }
    }

    fn first_fitted(&self) -> Option<NaiveDate> {
        match self.part {
            Part::Component(_, component) => component.first_fitted(),
            Part::RenewedOnly(renewal) => Some(renewal.moment.on),
            _ => None,
        }
    }

    /// A shelf life is over and done with once the part was fitted before it ran out.
    fn shelf_kept(&self, count: Count) -> Option<Step<'a>> {
        match (count, self.first_fitted()) {
            (Count::Calendar { due, .. }, Some(fitted)) if fitted <= due => {
                Some(Step::ShelfKept { fitted, due })
            }
            _ => None,
        }
    }
}
