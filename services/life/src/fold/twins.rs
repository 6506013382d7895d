//! Two things with one serial number: kept, told of both, and their hours unknown until it is corrected.

use super::Folding;
use crate::clock::Moment;
use crate::conflict::{Conflict, ConflictKind};
use crate::fact::{EngineRegistered, Host, Stream};
use crate::history::{ComponentState, EngineState, Fit};
use crate::ids::{ComponentId, EngineId, ItemId};
use crate::serial::is_same_serial;

impl Folding {
    /// Two engines of one type with one serial number: neither count holds all hours, or one is not its own.
    pub(super) fn compare_engine(&mut self, it: &EngineRegistered, moment: Moment) {
        let is_twin = |(id, engine): &(&EngineId, &EngineState)| {
            **id != it.engine
                && engine.engine_type.as_ref() == Some(&it.engine_type)
                && is_same_serial(engine.serial.as_deref(), Some(&it.serial))
        };
        let twins = self.history.engines.iter().filter(is_twin).map(|(id, _)| *id);
        let mut twins: Vec<EngineId> = twins.collect();
        if !twins.is_empty() {
            twins.push(it.engine);
        }
        for id in twins {
            self.engine(id).clock.lose(moment);
            self.conflict(Stream::engine(id), moment, ConflictKind::SerialTwice);
        }
    }

    /// Two parts of one kind with one serial number, on engines of one type: makers count apart, so on engines
    /// of other types the same number says nothing.
    pub(super) fn compare_component(&mut self, fitted: ComponentId, moment: Moment) {
        let Some(part) = self.history.component(fitted) else { return };
        let homes = self.homes(part);
        let is_twin = |(id, other): &(&ComponentId, &ComponentState)| {
            **id != fitted
                && other.kind == part.kind
                && is_same_serial(other.serial.as_deref(), part.serial.as_deref())
                && self.homes(other).iter().any(|home| homes.contains(home))
        };
        let twins = self.history.components.iter().filter(is_twin).map(|(id, _)| *id);
        let mut twins: Vec<ComponentId> = twins.collect();
        if !twins.is_empty() {
            twins.push(fitted);
        }
        let told = |conflicts: &[Conflict], stream| {
            conflicts.iter().any(|it| it.stream == stream && it.kind == ConflictKind::SerialTwice)
        };
        for id in twins {
            self.history.components.entry(id).or_default().lost = true;
            if !told(&self.history.conflicts, Stream::component(id)) {
                self.conflict(Stream::component(id), moment, ConflictKind::SerialTwice);
            }
        }
    }

    /// The types of engine that a part has been on; `None` among them stands for an aircraft.
    fn homes(&self, part: &ComponentState) -> Vec<Option<ItemId>> {
        let of = |fit: &Fit| match fit.host {
            Host::Aircraft(_) => Some(None),
            Host::Engine(id) => self.history.engine(id)?.engine_type.clone().map(Some),
        };
        part.fits.iter().filter_map(of).collect()
    }
}
