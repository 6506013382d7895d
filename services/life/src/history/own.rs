//! What is an engine's own: what came since its record began or was restarted.

use super::{EngineState, EventRecord, FindingRecord, MeasuredRecord, WorkRecord};
use crate::clock::Moment;
use crate::ids::ItemId;

impl EngineState {
    /// Work of its own, in order.
    pub(crate) fn own_work(&self) -> impl Iterator<Item = &WorkRecord> {
        self.work.iter().filter(|it| self.is_own(it.moment))
    }

    /// Work of its own that names any of several items, in order.
    pub(crate) fn own_work_on<'a>(
        &self,
        items: impl IntoIterator<Item = &'a ItemId>,
    ) -> impl DoubleEndedIterator<Item = &WorkRecord> {
        self.work.on(items).filter(|it| self.is_own(it.moment))
    }

    /// What was found on it of its own, in order.
    pub(crate) fn own_findings(&self) -> impl Iterator<Item = &FindingRecord> {
        self.findings.iter().filter(|it| self.is_own(it.moment))
    }

    /// What was measured on it of its own, in order.
    pub(crate) fn own_measured(&self) -> impl Iterator<Item = &MeasuredRecord> {
        self.measured.iter().filter(|it| self.is_own(it.moment))
    }

    /// What happened to it of its own, in order.
    pub(crate) fn own_events(&self) -> impl Iterator<Item = &EventRecord> {
        self.events.iter().filter(|it| self.is_own(it.moment))
    }

    fn is_own(&self, moment: Moment) -> bool {
        self.restarted.is_none_or(|restart| moment > restart)
    }
}
