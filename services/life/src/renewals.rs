//! The parts that work coming up asks for: one entry for each thing to renew, with every place that asks for it.

use crate::fact::Condition;
use crate::history::History;
use crate::ids::{ComponentId, FactId, ItemId, PositionId};
use crate::line::{AskedBy, DueLine};
use crate::programme::{Action, EngineType};
use chrono::NaiveDate;

/// A place to fit a part at: where, and which part of its own record is there.
pub type Spot = (Option<PositionId>, Option<ComponentId>);

/// One thing to renew.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Renewal {
    /// The item, or what an open finding is about.
    pub item: ItemId,
    /// Where: as many parts as there are entries.
    pub spots: Vec<Spot>,
    /// What asks for it, each once.
    pub why: Vec<Reason>,
}

/// What asks for another part.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reason {
    /// The programme, which takes nothing but another part for it.
    Programme,
    /// An inspection found it to be renewed, and was released on this day.
    FoundToRenew(NaiveDate),
    /// An inspection found it to be scrap, and was released on this day.
    FoundScrap(NaiveDate),
}

/// Everything to renew, in the order of the lines. `wanted` tells of a line of the programme whether its time has
/// come; an open finding asks at once.
#[must_use]
pub fn renewals(
    lines: &[DueLine],
    history: &History,
    engine_type: Option<&EngineType>,
    wanted: impl Fn(&DueLine) -> bool,
) -> Vec<Renewal> {
    let mut renewals: Vec<Renewal> = Vec::new();
    for line in lines {
        let reason = match line.asked_by {
            AskedBy::Finding(fact) => found_unfit(line, fact, history),
            AskedBy::Programme if wanted(line) => by_programme(line, engine_type),
            _ => None,
        };
        let Some(reason) = reason else { continue };
        let spot = (line.position.clone(), line.component);
        match renewals.iter_mut().find(|it| it.item == line.item) {
            Some(known) => known.add(spot, reason),
            None => renewals.push(Renewal {
                item: line.item.clone(),
                spots: vec![spot],
                why: vec![reason],
            }),
        }
    }
    renewals
}

impl Renewal {
    /// A finding at a place and the life of the part that sits there ask for one part, not for two.
    fn add(&mut self, (position, component): Spot, reason: Reason) {
        let same = |it: &Spot| {
            it.0 == position && (it.1 == component || it.1.is_none() || component.is_none())
        };
        match self.spots.iter_mut().find(|it| same(it)) {
            Some(spot) => spot.1 = spot.1.or(component),
            None => self.spots.push((position, component)),
        }
        if !self.why.contains(&reason) {
            self.why.push(reason);
        }
    }
}

/// A line whose item is answered by another part alone.
fn by_programme(line: &DueLine, engine_type: Option<&EngineType>) -> Option<Reason> {
    let item = engine_type?.item(&line.item)?;
    (item.done_by == [Action::Renewed]).then_some(Reason::Programme)
}

/// The condition is not in the line, but in the finding behind it; that of a part may be on another engine,
/// and at another place there.
fn found_unfit(line: &DueLine, fact: FactId, history: &History) -> Option<Reason> {
    let findings = history.engines.values().flat_map(|it| &it.findings);
    let finding = findings
        .filter(|it| it.moment.fact == fact && it.item == line.item)
        .filter(|it| line.component.is_some() || it.position == line.position)
        .max_by_key(|it| it.condition == Condition::Scrap)?;
    match finding.condition {
        Condition::Renew => Some(Reason::FoundToRenew(finding.moment.on)),
        Condition::Scrap => Some(Reason::FoundScrap(finding.moment.on)),
        _ => None,
    }
}
