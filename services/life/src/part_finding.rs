//! What was found on a part goes where the part goes: a crankshaft found to be scrap is scrap in every engine.

use crate::clock::Moment;
use crate::fact::{Condition, Host};
use crate::finding::{answers, finding_line, open_lines};
use crate::history::{ComponentState, EngineState, FindingRecord, Fit, History, WorkRecord};
use crate::ids::{AircraftId, ComponentId, EngineId, ItemId, PartKind, PositionId};
use crate::line::DueLine;
use crate::programme::{Action, EngineType, Subject};

/// The lines of findings that came with a part from another engine, or back with it. What was found while it
/// was on this engine, and stands there, has its line already.
pub(crate) fn part_finding_lines(
    history: &History,
    id: EngineId,
    engine_type: &EngineType,
) -> Vec<DueLine> {
    let Some(engine) = history.engine(id) else { return Vec::new() };
    let parts = history.fitted_to(id).into_iter().filter_map(|part| {
        Some((part, history.component(part)?)).filter(|(_, it)| !replaced(engine, it, engine_type))
    });
    let own = open_lines(engine);
    parts
        .filter_map(|(part, state)| {
            let finding = worst(history, state, engine_type)?;
            let position = state.current().and_then(|fit| fit.position.as_ref());
            let told = own.iter().any(|it| it.moment == finding.moment && it.item == finding.item);
            (!told).then(|| line_of(part, finding, position, engine, engine_type))
        })
        .collect()
}

fn line_of(
    part: ComponentId,
    finding: &FindingRecord,
    position: Option<&PositionId>,
    engine: &EngineState,
    engine_type: &EngineType,
) -> DueLine {
    let mut line = finding_line(finding, engine, engine_type);
    line.component = Some(part);
    line.position = position.cloned();
    line.source = format!("found on this part at the inspection released {}", finding.moment.on);
    line
}

/// The worst of what was found on a part during its stays and that nothing has answered since; of several as
/// bad as one another the last.
fn worst<'a>(
    history: &'a History,
    state: &'a ComponentState,
    engine_type: &EngineType,
) -> Option<&'a FindingRecord> {
    let kind = state.kind.as_ref()?;
    let mut standing: Vec<&FindingRecord> = Vec::new();
    for fit in &state.fits {
        let hosts = hosts(history, fit);
        let found = hosts.iter().flat_map(|it| &it.findings).filter(|it| {
            during(fit, it.moment)
                && on_host(fit, it.aircraft)
                && here(fit, it.position.as_ref())
                && is_about(&it.item, kind, engine_type)
                && it.condition.stays_with_part()
        });
        standing.extend(found);
    }
    standing.retain(|finding| !answered(history, state, kind, engine_type, finding));
    standing.into_iter().max_by_key(|it| (it.condition == Condition::Scrap, it.moment))
}

/// Whether work on the part since, wherever it was, answers a finding; nothing makes scrap a part again.
fn answered(
    history: &History,
    state: &ComponentState,
    kind: &PartKind,
    engine_type: &EngineType,
    finding: &FindingRecord,
) -> bool {
    if finding.condition != Condition::Repair {
        return false;
    }
    let by_overhaul = state.overhauls.iter().any(|it| *it >= finding.moment);
    let by_work = |fit: &Fit| {
        hosts(history, fit).iter().flat_map(|it| it.work.iter()).any(|work| {
            during(fit, work.moment)
                && on_host(fit, work.aircraft)
                && work.moment >= finding.moment
                && at(work, fit.position.as_ref())
                && is_about(&work.item, kind, engine_type)
                && answers(work.action, finding.condition)
        })
    };
    by_overhaul || state.fits.iter().any(by_work)
}

/// Whether a renewal since the part was fitted says that another one is there now.
fn replaced(engine: &EngineState, state: &ComponentState, engine_type: &EngineType) -> bool {
    let (Some(fit), Some(kind)) = (state.current(), state.kind.as_ref()) else { return false };
    engine.work.iter().any(|work| {
        work.action == Action::Renewed
            && work.moment.on > fit.from.on
            && at(work, fit.position.as_ref())
            && is_about(&work.item, kind, engine_type)
    })
}

/// Whether an item is about a kind of part: it has its name, or the programme counts it on that kind.
pub(crate) fn is_about(item: &ItemId, kind: &PartKind, engine_type: &EngineType) -> bool {
    let counted =
        engine_type.item(item).is_some_and(|it| it.subject == Subject::Component(kind.clone()));
    counted || item.as_str() == kind.as_str()
}

/// The engines whose records may be about a part during a stay.
pub(crate) fn hosts<'a>(history: &'a History, fit: &Fit) -> Vec<&'a EngineState> {
    match fit.host {
        Host::Engine(id) => history.engine(id).into_iter().collect(),
        Host::Aircraft(_) => history.engines.values().collect(),
    }
}

/// On an aircraft, only what was found while an engine was in it.
pub(crate) fn on_host(fit: &Fit, aircraft: Option<AircraftId>) -> bool {
    match fit.host {
        Host::Engine(_) => true,
        Host::Aircraft(id) => aircraft == Some(id),
    }
}

pub(crate) fn during(fit: &Fit, moment: Moment) -> bool {
    fit.from < moment && fit.holds(moment)
}

pub(crate) fn here(fit: &Fit, position: Option<&PositionId>) -> bool {
    position.zip(fit.position.as_ref()).is_none_or(|(found, fitted)| found == fitted)
}

pub(crate) fn at(work: &WorkRecord, position: Option<&PositionId>) -> bool {
    work.positions.is_empty() || position.is_none_or(|it| work.positions.contains(it))
}
