//! Parts that ran together: which were put together last at each position, and what does not belong there.
//!
//! Head, cylinder, piston, pin and rings wear to one another. A part is known by its kind and mark, so a mark
//! that two positions share tells nothing of where its part ran.

use crate::fact::{Host, MatchedPart, MatchedSet};
use crate::history::{EngineState, History, MatchedRecord};
use crate::ids::{ComponentId, EngineId, FactId, PositionId};
use std::collections::BTreeMap;

/// A part that is not where it ran, or not among those that it ran with.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mismatch {
    /// The record that put it there.
    pub fact: FactId,
    /// The part, as a person calls it: `piston P2`.
    pub part: String,
    /// Where it is now.
    pub position: Option<PositionId>,
    /// What is wrong with that.
    pub kind: MismatchKind,
}

/// What is wrong with where a part is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum MismatchKind {
    /// It ran at another position of the engine.
    RanAt(PositionId),
    /// It was not in the set that ran here, and nobody says that it is new.
    Stranger,
    /// It belongs to a set of another engine.
    OfEngine(EngineId),
}

impl Mismatch {
    /// The word that programs can rely on.
    #[must_use]
    pub const fn word(&self) -> &'static str {
        match self.kind {
            MismatchKind::RanAt(_) => "matched-part-moved",
            MismatchKind::Stranger => "stranger-in-set",
            MismatchKind::OfEngine(_) => "part-of-another-set",
        }
    }

    /// A sentence about it.
    #[must_use]
    pub fn printed(&self) -> String {
        let here = self.position.as_ref().map_or("this engine", PositionId::as_str);
        match &self.kind {
            MismatchKind::RanAt(position) => {
                format!("{} is at {here} now, but ran at {position}", self.part)
            }
            MismatchKind::Stranger => format!(
                "{} was not in the set that ran at {here}, and is not said to be new",
                self.part
            ),
            MismatchKind::OfEngine(_) => {
                format!("{} is at {here} now, but ran in a set of another engine", self.part)
            }
        }
    }
}

/// The sets put together last, by position.
#[must_use]
pub fn sets(engine: &EngineState) -> BTreeMap<&PositionId, &MatchedRecord> {
    engine.matched.iter().map(|record| (&record.set.position, record)).collect()
}

/// What does not belong where it is, by position and then by the parts with records of their own.
#[must_use]
pub fn mismatches(history: &History, id: EngineId) -> Vec<Mismatch> {
    let Some(engine) = history.engine(id) else { return Vec::new() };
    let in_sets = sets(engine).into_values().flat_map(|record| misplaced(engine, record));
    let fitted = history.fitted_to(id).into_iter();
    in_sets.chain(fitted.filter_map(|part| fitted_elsewhere(history, id, part))).collect()
}

fn misplaced<'a>(
    engine: &'a EngineState,
    record: &'a MatchedRecord,
) -> impl Iterator<Item = Mismatch> + 'a {
    let before: BTreeMap<&PositionId, &MatchedSet> = engine
        .matched
        .iter()
        .filter(|it| it.moment < record.moment)
        .map(|it| (&it.set.position, &it.set))
        .collect();
    let set = &record.set;
    set.parts.iter().filter(|part| !part.is_new).filter_map(move |part| {
        Some(Mismatch {
            fact: record.moment.fact,
            part: format!("{} {}", part.part.as_str().replace('-', " "), part.mark),
            position: Some(set.position.clone()),
            kind: wrong(&before, part, &set.position)?,
        })
    })
}

/// What is wrong with a part at a position, by the sets that ran before.
fn wrong(
    before: &BTreeMap<&PositionId, &MatchedSet>,
    part: &MatchedPart,
    position: &PositionId,
) -> Option<MismatchKind> {
    let holds = |set: &MatchedSet| set.parts.iter().any(|other| is_same(other, part));
    let ran_at: Vec<&PositionId> =
        before.iter().filter(|(_, set)| holds(set)).map(|(position, _)| *position).collect();
    match ran_at.as_slice() {
        [] => before.contains_key(position).then_some(MismatchKind::Stranger),
        [one] if *one != position => Some(MismatchKind::RanAt((*one).clone())),
        _ => None,
    }
}

/// Whether two entries are one part: by their own records where both have one, else by kind and mark.
fn is_same(a: &MatchedPart, b: &MatchedPart) -> bool {
    match (a.component, b.component) {
        (Some(a), Some(b)) => a == b,
        _ => a.part == b.part && a.mark == b.mark,
    }
}

/// A part with a record of its own that is not where its last set ran.
fn fitted_elsewhere(history: &History, id: EngineId, component: ComponentId) -> Option<Mismatch> {
    let state = history.component(component)?;
    let fit = state.current()?;
    let of = |record: &MatchedRecord| {
        record.set.parts.iter().any(|part| part.component == Some(component))
    };
    let records = history.engines.iter().flat_map(|(id, engine)| {
        engine.matched.iter().filter(|it| of(it)).map(move |record| (*id, record))
    });
    // A set put together after it was fitted says itself where the part belongs.
    let (ran_in, record) =
        records.filter(|(_, it)| it.moment < fit.from).max_by_key(|(_, it)| it.moment)?;
    let kind = if ran_in != id {
        MismatchKind::OfEngine(ran_in)
    } else if fit.position.as_ref().is_some_and(|at| *at != record.set.position)
        && fit.host == Host::Engine(id)
    {
        MismatchKind::RanAt(record.set.position.clone())
    } else {
        return None;
    };
    let since = history.engine(id)?.matched.iter().any(|it| it.moment > fit.from && of(it));
    (!since).then(|| Mismatch {
        fact: fit.from.fact,
        part: state.label(),
        position: fit.position.clone(),
        kind,
    })
}
