//! The readings of a measured quantity on the part that is there now, each at the hours of the line's own count.
//!
//! What was measured before the part was changed is of another part. A reading of the very inspection that changed
//! it is of the part that was found, so it is left out too.

use crate::clock::Moment;
use crate::fact::OverhaulScope;
use crate::history::{Log, MeasuredRecord, WorkRecord};
use crate::hours::Hours;
use crate::ids::PositionId;
use crate::measure::{Interval, QuantityRule, Wear, readings_of};
use crate::programme::{Action, Item};
use crate::sheet::Bench;
use crate::subject::{LineSubject, Part, is_at};

/// After these a part is another one, or has other measures.
const CHANGES: [Action; 3] = [Action::Renewed, Action::Overhauled, Action::Machined];

/// The readings of a quantity at one place of a line, in order.
pub(crate) struct Series<'a> {
    pub(crate) rule: &'a QuantityRule,
    /// Where it was measured.
    pub(crate) place: Option<&'a PositionId>,
    /// The readings since the part was last changed.
    pub(crate) readings: Vec<ReadAt>,
    /// Where the running-in begins on the line's count; `None` where no record tells.
    pub(crate) begins: Option<Hours>,
    /// The same where the part was as new parts are then, so that it wears as those of other engines do: one that
    /// was machined has measures of its own.
    pub(crate) new_at: Option<Hours>,
    /// How many readings there were before the part was changed.
    pub(crate) earlier: usize,
    /// Whether any record says that the part was changed.
    pub(crate) changed: bool,
}

/// The reading that decides, of all that one inspection took of the quantity there.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct ReadAt {
    pub(crate) moment: Moment,
    /// On the line's own count; `None` when that was not known then.
    pub(crate) at: Option<Hours>,
    pub(crate) value: Interval,
}

impl<'a> LineSubject<'a> {
    /// The places at which a quantity is measured for this line: its own, or all of an item without one.
    pub(crate) fn places_of(&self, rule: &'a QuantityRule) -> Vec<Option<&'a PositionId>> {
        match self.position {
            _ if rule.positions.is_empty() => vec![None],
            Some(position) => vec![Some(position)],
            None => rule.positions.iter().map(Some).collect(),
        }
    }

    /// The readings of a quantity at one of those places.
    pub(crate) fn series(
        &self,
        rule: &'a QuantityRule,
        place: Option<&'a PositionId>,
    ) -> Series<'a> {
        let change = self.changed();
        let changed = change.map(|it| it.0);
        let bench = &self.engine_type.bench;
        let all = self.measured_here(place).into_iter().filter_map(|(record, place)| {
            let of_place = readings_of(rule, place, &record.measurements, bench);
            let value = deciding(rule, of_place)?;
            Some(ReadAt { moment: record.moment, at: self.hours_at(record.moment), value })
        });
        let all: Vec<ReadAt> = all.collect();
        let of_part = |it: &&ReadAt| changed.is_none_or(|changed| it.moment > changed);
        let readings: Vec<ReadAt> = all.iter().filter(of_part).copied().collect();
        let earlier = all.len() - readings.len();
        let begins = self.running_in_from(changed);
        Series {
            rule,
            place,
            readings,
            begins,
            new_at: begins.filter(|_| change.is_none_or(|it| it.1 != Action::Machined)),
            earlier,
            changed: changed.is_some(),
        }
    }

    /// What was measured while the part of this line was there, and at which place that was then.
    fn measured_here(
        &self,
        place: Option<&'a PositionId>,
    ) -> Vec<(&'a MeasuredRecord, Option<&'a PositionId>)> {
        let Part::Component(_, component) = self.part else {
            let since = self.renewed_at();
            let own = self.engine.own_measured();
            let own = own.filter(|it| since.is_none_or(|since| it.moment > since));
            return own.map(|it| (it, place)).collect();
        };
        let mut all: Vec<(&MeasuredRecord, Option<&PositionId>)> = Vec::new();
        for fit in &component.fits {
            let then = if self.position.is_some() { fit.position.as_ref() } else { place };
            let measured = self.engines_under(fit).flat_map(|(id, engine)| {
                engine.measured.iter().filter(move |it| self.touched(id, it.aircraft, fit))
            });
            let during = measured.filter(|it| fit.from < it.moment && fit.holds(it.moment));
            all.extend(during.map(|it| (it, then)));
        }
        all.sort_by_key(|(it, _)| it.moment);
        all
    }

    /// When the part of this line was last changed for another one, or got other measures, and by what.
    fn changed(&self) -> Option<(Moment, Action)> {
        let changes = |work: &WorkRecord, position: Option<&PositionId>| {
            work.completed && CHANGES.contains(&work.action) && answers(self.item, work, position)
        };
        let work = self.work_here(changes).last().map(|work| (work.moment, work.action));
        let overhaul = match self.part {
            Part::Engine => {
                let full = |scope| scope == OverhaulScope::Full;
                self.engine.overhauls.iter().rfind(|it| full(it.scope)).map(|it| it.moment)
            }
            Part::Component(_, component) => component.overhauls.last().copied(),
            Part::RenewedOnly(renewal) => Some(renewal.moment),
            Part::Absent => None,
        };
        let overhaul = overhaul.map(|moment| (moment, Action::Overhauled));
        work.into_iter().chain(overhaul).max_by_key(|it| it.0)
    }

    fn running_in_from(&self, changed: Option<Moment>) -> Option<Hours> {
        match (changed, self.part) {
            (Some(changed), _) => self.hours_at(changed),
            (None, Part::Engine) => (self.engine.log == Log::Logged).then_some(Hours::ZERO),
            (None, Part::Component(..) | Part::RenewedOnly(_)) => Some(Hours::ZERO),
            (None, Part::Absent) => None,
        }
    }
}

/// Everything that wears and is measured on an engine: for each quantity the lines of the item that follows its
/// limit, else of the one that it bears on, and the places. What bears on no item is left out: no record tells when
/// its part was changed.
pub(crate) fn worn_places<'s, 'a>(
    all: &'s [LineSubject<'a>],
    bench: &'a Bench,
) -> Vec<(&'s LineSubject<'a>, &'a QuantityRule, Option<&'a PositionId>)> {
    let follows = |subject: &LineSubject<'a>, rule: &QuantityRule| {
        subject.item.trend.as_ref().is_some_and(|it| it.quantity == rule.id)
    };
    let mut places = Vec::new();
    for rule in bench.quantities.iter().filter(|rule| rule.wear.is_some()) {
        let followed = all.iter().any(|subject| follows(subject, rule));
        let own = all.iter().filter(|subject| {
            let feeds = rule.feeds.as_ref() == Some(&subject.item.id);
            if followed { follows(subject, rule) } else { feeds }
        });
        for subject in own {
            places.extend(subject.places_of(rule).into_iter().map(|place| (subject, rule, place)));
        }
    }
    places
}

/// Whether work is on what an item is about, by itself or as part of something larger.
fn answers(item: &Item, work: &WorkRecord, position: Option<&PositionId>) -> bool {
    let larger = item.satisfied_by.contains(&work.item);
    (larger && work.positions.is_empty())
        || ((larger || work.item == item.id) && is_at(work, position))
}

/// Of several readings the furthest worn decides.
fn deciding(rule: &QuantityRule, readings: Vec<Interval>) -> Option<Interval> {
    match rule.wear {
        Some(Wear::Falls) => readings.into_iter().min_by_key(|it| it.value),
        Some(Wear::Rises) | None => readings.into_iter().max_by_key(|it| it.value),
    }
}
