//! What belonged to somebody, and from when to when: what an export or an erasure about them reaches.
//!
//! An engine has its own owner, else that of the aircraft it is in; a part goes with what it is fitted to. The
//! day of a sale is the new owner's.

use crate::amend::{Standing, standing};
use crate::fact::{Content, Fact, Host, Stream};
use crate::history::History;
use crate::ids::{AircraftId, EngineId, FactId, PartyId};
use chrono::NaiveDate;
use std::collections::{BTreeMap, BTreeSet};

/// Something, and days on which it belonged to somebody.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Owned {
    /// The aircraft, engine or part.
    pub of: Stream,
    /// The first day.
    pub from: NaiveDate,
    /// The day on which it was somebody else's; `None` while it is theirs.
    pub until: Option<NaiveDate>,
}

impl Owned {
    /// Whether it was theirs on a day.
    #[must_use]
    pub fn on(&self, day: NaiveDate) -> bool {
        self.from <= day && self.until.is_none_or(|until| day < until)
    }

    /// The days that it shares with others, if there are any.
    fn within(
        &self,
        from: NaiveDate,
        until: Option<NaiveDate>,
    ) -> Option<(NaiveDate, Option<NaiveDate>)> {
        let from = self.from.max(from);
        let until = self.until.into_iter().chain(until).min();
        until.is_none_or(|until| from < until).then_some((from, until))
    }
}

/// What these facts say belonged to somebody, by thing and day. They have to hold all facts of the aircraft
/// and engines concerned and of the parts ever fitted to them.
#[must_use]
pub fn owned_by(facts: &[Fact], owner: PartyId) -> Vec<Owned> {
    let (standing, _) = standing(facts);
    let times = Times::of(&standing);
    let hosts: Vec<Owned> =
        times.hosts().into_iter().flat_map(|host| times.spans(host, owner)).collect();
    let mut theirs = hosts.clone();
    for (id, component) in History::fold(facts).components {
        for fit in &component.fits {
            let host = Stream::from(fit.host);
            let until = fit.until.map(|moment| moment.on);
            let shared = hosts.iter().filter(|it| it.of == host);
            theirs.extend(shared.filter_map(|it| {
                let (from, until) = it.within(fit.from.on, until)?;
                Some(Owned { of: Stream::component(id), from, until })
            }));
        }
    }
    theirs.sort_unstable();
    theirs
}

/// Where a change stands among others: by day, order in the day, removals before installations, fact.
type Place = (NaiveDate, u16, bool, FactId);

/// Who things belonged to and where engines were, change by change.
#[derive(Default)]
struct Times {
    owners: BTreeMap<Host, BTreeMap<Place, PartyId>>,
    aircraft: BTreeMap<EngineId, BTreeMap<Place, Option<AircraftId>>>,
}

impl Times {
    fn of(standing: &[Standing<'_>]) -> Self {
        let mut times = Self::default();
        for it in standing {
            let place = |later| (it.entry.on, it.entry.order_in_day, later, it.root);
            match &it.entry.content {
                Content::Ownership(said) => {
                    times.owners.entry(said.of).or_default().insert(place(false), said.owner);
                }
                Content::EngineInstalled(said) => {
                    let changes = times.aircraft.entry(said.engine).or_default();
                    changes.insert(place(true), Some(said.aircraft));
                }
                Content::EngineRemoved(said) => {
                    times.aircraft.entry(said.engine).or_default().insert(place(false), None);
                }
                _ => {}
            }
        }
        times
    }

    fn hosts(&self) -> BTreeSet<Host> {
        let flown = self.aircraft.keys().map(|engine| Host::Engine(*engine));
        self.owners.keys().copied().chain(flown).collect()
    }

    /// The owner of a thing at the end of a day.
    fn owner(&self, of: Host, day: NaiveDate) -> Option<PartyId> {
        let own = self.owners.get(&of).and_then(|changes| last(changes, day));
        match of {
            Host::Aircraft(_) => own,
            Host::Engine(engine) => own.or_else(|| {
                let aircraft = last(self.aircraft.get(&engine)?, day)??;
                last(self.owners.get(&Host::Aircraft(aircraft))?, day)
            }),
        }
    }

    /// The days on which the owner of a thing may have changed.
    fn days(&self, of: Host) -> BTreeSet<NaiveDate> {
        let mut days = days_of(self.owners.get(&of));
        if let Host::Engine(engine) = of {
            let flown = self.aircraft.get(&engine);
            days.extend(days_of(flown));
            for aircraft in flown.into_iter().flat_map(BTreeMap::values).flatten() {
                days.extend(days_of(self.owners.get(&Host::Aircraft(*aircraft))));
            }
        }
        days
    }

    /// The days on which a thing belonged to somebody.
    fn spans(&self, of: Host, owner: PartyId) -> Vec<Owned> {
        let mut spans: Vec<Owned> = Vec::new();
        for day in self.days(of) {
            let theirs = self.owner(of, day) == Some(owner);
            match spans.last_mut().filter(|span| span.until.is_none()) {
                Some(span) if !theirs => span.until = Some(day),
                None if theirs => spans.push(Owned { of: of.into(), from: day, until: None }),
                _ => {}
            }
        }
        spans
    }
}

fn last<T: Copy>(changes: &BTreeMap<Place, T>, day: NaiveDate) -> Option<T> {
    changes.iter().take_while(|((on, ..), _)| *on <= day).last().map(|(_, it)| *it)
}

fn days_of<T>(changes: Option<&BTreeMap<Place, T>>) -> BTreeSet<NaiveDate> {
    changes.into_iter().flat_map(BTreeMap::keys).map(|(on, ..)| *on).collect()
}
