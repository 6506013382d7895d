//! What a history keeps of each piece of work, finding, overhaul and happening.

use crate::clock::Moment;
use crate::fact::{Condition, EventKind, MatchedSet, Measurement, OverhaulScope, Recheck};
use crate::hours::Hours;
use crate::ids::{AircraftId, ItemId, PositionId};
use crate::programme::Action;
use chrono::NaiveDate;
use std::ops::Deref;

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
    /// The aircraft the engine was in, whose parts it may have been done to.
    pub aircraft: Option<AircraftId>,
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

/// Work done on an engine, in order.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct WorkLog {
    records: Vec<WorkRecord>,
    /// Where each record is, by the item that it names and then in order.
    by_item: Vec<usize>,
}

impl WorkLog {
    /// Adds what was done after all the rest.
    pub(crate) fn push(&mut self, record: WorkRecord) {
        let place = self.by_item.partition_point(|at| self.item(*at) <= Some(&record.item));
        self.by_item.insert(place, self.records.len());
        self.records.push(record);
    }

    /// What names any of several items, in order: engines live long, and each line of theirs asks for its own.
    pub(crate) fn on<'a>(
        &self,
        items: impl IntoIterator<Item = &'a ItemId>,
    ) -> impl DoubleEndedIterator<Item = &WorkRecord> {
        let of_items = items.into_iter().flat_map(|item| {
            let first = self.by_item.partition_point(|at| self.item(*at) < Some(item));
            let from_there = self.by_item.iter().skip(first);
            from_there.take_while(move |at| self.item(**at) == Some(item))
        });
        let mut places: Vec<usize> = of_items.copied().collect();
        places.sort_unstable();
        places.dedup();
        places.into_iter().filter_map(|at| self.records.get(at))
    }

    fn item(&self, at: usize) -> Option<&ItemId> {
        self.records.get(at).map(|it| &it.item)
    }
}

impl Deref for WorkLog {
    type Target = [WorkRecord];

    fn deref(&self) -> &Self::Target {
        &self.records
    }
}

/// What one inspection measured.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MeasuredRecord {
    /// When the inspection was released.
    pub moment: Moment,
    /// The aircraft the engine was in, on whose parts it may have been measured.
    pub aircraft: Option<AircraftId>,
    /// As it was posted.
    pub measurements: Vec<Measurement>,
}

/// One thing found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FindingRecord {
    /// When the inspection was released.
    pub moment: Moment,
    /// The aircraft the engine was in, on whose parts it may have been found.
    pub aircraft: Option<AircraftId>,
    /// What was looked at.
    pub item: ItemId,
    /// Where.
    pub position: Option<PositionId>,
    /// In what state.
    pub condition: Condition,
    /// When to look again at the latest.
    pub recheck: Option<Recheck>,
}

/// A mark made on a part.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MarkRecord {
    /// When the inspection was released.
    pub moment: Moment,
    /// On what.
    pub item: ItemId,
    /// Where.
    pub position: Option<PositionId>,
    /// The mark.
    pub text: String,
}

/// Parts put together at one position.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MatchedRecord {
    /// When the inspection was released.
    pub moment: Moment,
    /// Where they run, and which they are.
    pub set: MatchedSet,
}

/// Something that happened.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct EventRecord {
    /// When.
    pub moment: Moment,
    /// What.
    pub kind: EventKind,
    /// The aircraft the engine was in, whose parts it touched too.
    pub aircraft: Option<AircraftId>,
}

/// A preservation.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PreservationRecord {
    /// When it was done.
    pub moment: Moment,
    /// How long it is good for.
    pub until: Option<NaiveDate>,
}

/// The version of an engine type that is to be counted by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ActivationRecord {
    /// When it was activated.
    pub moment: Moment,
    /// SHA-256 of its file.
    pub digest: [u8; 32],
    /// The version that was counted by before.
    pub replaces: Option<[u8; 32]>,
}

/// An accepted estimate of hours that no log tells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct AcceptedRecord {
    /// When it was accepted.
    pub moment: Moment,
    /// The hours run by then, as estimated.
    pub hours: Hours,
    /// The day by which it is to be looked at again.
    pub until: NaiveDate,
}

impl AcceptedRecord {
    /// Whether it was to be looked at again before this day. It goes on making lines more urgent until it is: an end
    /// takes no urgency away.
    #[must_use]
    pub fn has_ended(&self, as_of: NaiveDate) -> bool {
        self.until < as_of
    }

    /// What was accepted, in one sentence without its full stop.
    #[must_use]
    pub fn in_words(&self, as_of: NaiveDate) -> String {
        let Self { moment, hours, until } = self;
        let ends = if self.has_ended(as_of) {
            format!("it was to be looked at again by {until}, and still counts until it is")
        } else {
            format!("to be looked at again by {until}")
        };
        format!("estimate accepted: {} h run by {} ({ends})", hours.tenths_up(), moment.on)
    }
}

/// A permission.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ConcessionRecord {
    /// When it was given.
    pub moment: Moment,
    /// For which item.
    pub item: ItemId,
    /// Where.
    pub position: Option<PositionId>,
    /// How long it is good for.
    pub until: Option<NaiveDate>,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ids::{FactId, Uid};
    use proptest::prelude::*;

    fn item(number: u8) -> ItemId {
        ItemId::new(&format!("item-{number}")).expect("a short name")
    }

    proptest! {
        // Against a look through all of it.
        #[test]
        fn work_is_found_by_its_items(
            done in proptest::collection::vec(0_u8..12, 0..40),
            wanted in proptest::collection::vec(0_u8..14, 0..4),
        ) {
            let mut log = WorkLog::default();
            for (number, day) in done.into_iter().zip(1..) {
                let on = NaiveDate::from_epoch_days(day).expect("a day");
                log.push(WorkRecord {
                    moment: Moment { fact: FactId(Uid::from_bytes([number; 16])), ..Moment::end_of(on) },
                    aircraft: None,
                    item: item(number),
                    positions: Vec::new(),
                    action: Action::Inspected,
                    read_then: true,
                    released: true,
                    completed: true,
                });
            }
            let wanted: Vec<ItemId> = wanted.into_iter().map(item).collect();
            let looked_for: Vec<_> = log.iter().filter(|it| wanted.contains(&it.item)).collect();
            prop_assert_eq!(log.on(&wanted).collect::<Vec<_>>(), looked_for);
        }
    }
}
