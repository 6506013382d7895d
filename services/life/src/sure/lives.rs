//! The lives of parts as records tell them: what each had run when it was first seen, last known good, and found bad.
//!
//! A part **failed** at the hours at which it came off as failed. It was **found bad** when it came off for its
//! condition, or an inspection wants it repaired, renewed or scrapped: it went bad between then and when it was last
//! known good, which is when it was last fitted, inspected or found serviceable before. Any other part was good as
//! far as anybody knows when it came off, was overhauled, or was last read.
//!
//! A part that comes off without a cause counts as good too, which may be too hopeful; so these are counted apart.

use super::decimal_hours;
use super::part_life::Part;
use crate::clock::Moment;
use crate::fact::{Condition, Host, RemovalCause};
use crate::history::{ComponentState, Fit, History};
use crate::hours::Hours;
use crate::ids::{ComponentId, EngineId, PartKind};
use crate::part_finding::{at, during, here, hosts, is_about, on_host};
use crate::programme::{Action, EngineType};
use chrono::NaiveDate;
use std::collections::BTreeMap;

/// The lives of the parts of one kind.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Lives {
    /// One for each part.
    pub parts: Vec<Part>,
    /// How many of them failed in use.
    pub failed: usize,
    /// How many of them an inspection found bad.
    pub found_bad: usize,
    /// How many of them had run when they were first seen.
    pub entered_late: usize,
    /// How many of them came off and nobody said why.
    pub no_cause: usize,
    /// Parts besides, whose hours are not known.
    pub no_hours: usize,
}

impl Lives {
    /// Adds the lives of other parts of the kind.
    pub fn extend(&mut self, other: Self) {
        self.parts.extend(other.parts);
        self.failed += other.failed;
        self.found_bad += other.found_bad;
        self.entered_late += other.entered_late;
        self.no_cause += other.no_cause;
        self.no_hours += other.no_hours;
    }

    /// Parts that were good as far as anybody knows.
    #[must_use]
    pub fn good(&self) -> usize {
        self.parts.len() - self.failed - self.found_bad
    }

    fn add(&mut self, told: Option<Told>) {
        let part = told.and_then(|told| Some((told.part()?, told)));
        let Some((part, told)) = part else {
            self.no_hours += 1;
            return;
        };
        self.parts.push(part);
        self.failed += usize::from(told.end == End::Failed);
        self.found_bad += usize::from(told.end == End::FoundBad);
        self.no_cause += usize::from(told.end == End::NoCause);
        self.entered_late += usize::from(told.entry > Hours::ZERO);
    }
}

/// The lives, by kind, of the parts that are on an engine or its aircraft, or were there last. A part that is on the
/// aircraft is told of one of its engines, so that nothing is told twice.
#[must_use]
pub fn lives(
    history: &History,
    engine: EngineId,
    engine_type: &EngineType,
    as_of: NaiveDate,
) -> BTreeMap<PartKind, Lives> {
    let mut lives: BTreeMap<PartKind, Lives> = BTreeMap::new();
    for (id, state) in &history.components {
        let last = state.fits.last().filter(|fit| belongs(history, fit.host, engine));
        let (Some(_), Some(kind)) = (last, &state.kind) else { continue };
        let life = Story { history, id: *id, state, kind, engine_type }.told(as_of);
        lives.entry(kind.clone()).or_default().add(life);
    }
    lives
}

fn belongs(history: &History, host: Host, engine: EngineId) -> bool {
    match host {
        Host::Engine(id) => id == engine,
        Host::Aircraft(_) => {
            let mut in_it = history
                .engines
                .iter()
                .filter(|(_, it)| it.aircraft.map(Host::Aircraft) == Some(host));
            in_it.next().is_some_and(|(first, _)| *first == engine)
        }
    }
}

/// How what is known of a part ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum End {
    Failed,
    FoundBad,
    NoCause,
    Good,
}

/// What is known of a part, in its own hours.
struct Told {
    entry: Hours,
    /// Last known good.
    good: Hours,
    /// When it failed, was found bad, or was last seen.
    last: Hours,
    end: End,
}

impl Told {
    fn part(&self) -> Option<Part> {
        let [entry, good, last] = [self.entry, self.good, self.last].map(decimal_hours);
        let part = match self.end {
            End::FoundBad if good < last => Part::found_bad(good, last),
            // What was found bad has not run since it was last known good.
            End::Failed | End::FoundBad => Part::failed(last),
            End::NoCause | End::Good => Part::running(last),
        };
        part.ok()?.entered(entry).ok()
    }
}

/// One part among the records that tell of it.
struct Story<'a> {
    history: &'a History,
    id: ComponentId,
    state: &'a ComponentState,
    kind: &'a PartKind,
    engine_type: &'a EngineType,
}

impl Story<'_> {
    /// What is known of it by the end of a day; `None` where its hours are not.
    fn told(&self, as_of: NaiveDate) -> Option<Told> {
        let (_, entry) = self.state.registered?;
        let (moment, end) = self.end(as_of);
        let good = self.good_looks(moment).filter_map(|at| self.hours(at)).max();
        let (entry, last) = (entry?, self.hours(moment)?);
        Some(Told { entry, good: good.unwrap_or(entry).max(entry), last, end })
    }

    fn hours(&self, at: Moment) -> Option<Hours> {
        self.history.component_hours(self.id, at)
    }

    /// The first thing that ends its life, or else when it was seen last.
    fn end(&self, as_of: NaiveDate) -> (Moment, End) {
        let removed = self.state.fits.iter().filter_map(|fit| match (fit.until?, fit.cause?) {
            (until, RemovalCause::Failure) => Some((until, End::Failed)),
            (until, RemovalCause::Condition) => Some((until, End::FoundBad)),
            _ => None,
        });
        let bad = self
            .findings(|it| matches!(it, Condition::Repair | Condition::Renew | Condition::Scrap));
        let overhauled = self.state.overhauls.iter().map(|at| (*at, End::Good));
        let ends = removed.chain(bad.map(|at| (at, End::FoundBad))).chain(overhauled);
        let last = self.state.fits.last();
        let seen = match last.and_then(|fit| fit.until) {
            None => (Moment::end_of(as_of), End::Good),
            Some(until) if last.is_some_and(|fit| fit.cause.is_none()) => (until, End::NoCause),
            Some(until) => (until, End::Good),
        };
        ends.chain([seen]).min_by_key(|(moment, _)| *moment).unwrap_or(seen)
    }

    /// When it was known to be good before a moment.
    fn good_looks(&self, before: Moment) -> impl Iterator<Item = Moment> {
        let fitted = self.state.fits.iter().map(|fit| fit.from);
        let found = self.findings(|it| matches!(it, Condition::Serviceable | Condition::Monitor));
        let inspected = self.state.fits.iter().flat_map(|fit| self.inspections(fit));
        fitted.chain(found).chain(inspected).filter(move |moment| *moment < before)
    }

    fn inspections(&self, fit: &Fit) -> impl Iterator<Item = Moment> {
        let work = hosts(self.history, fit).into_iter().flat_map(|it| it.work.iter());
        work.filter(|work| {
            work.action == Action::Inspected
                && during(fit, work.moment)
                && on_host(fit, work.aircraft)
                && at(work, fit.position.as_ref())
                && is_about(&work.item, self.kind, self.engine_type)
        })
        .map(|work| work.moment)
    }

    fn findings(&self, wanted: impl Fn(Condition) -> bool + Copy) -> impl Iterator<Item = Moment> {
        self.state.fits.iter().flat_map(move |fit| {
            let found = hosts(self.history, fit).into_iter().flat_map(|it| &it.findings);
            found
                .filter(move |it| {
                    wanted(it.condition)
                        && during(fit, it.moment)
                        && on_host(fit, it.aircraft)
                        && here(fit, it.position.as_ref())
                        && is_about(&it.item, self.kind, self.engine_type)
                })
                .map(|it| it.moment)
        })
    }
}
