//! What is wrong or odd about a fact in the light of what is already here.

mod bench;
mod hardware;
mod idle;

pub(crate) use bench::{Report, report};
pub(crate) use hardware::mismatched;
pub(crate) use idle::idle;

use crate::answers::Warning;
use crate::app::App;
use crate::problem::{Kind, Problem};
use crate::read::{Fault, nearest};
use crate::requests::UNDATED;
use chrono::NaiveDate;
use gudgeon_life::calendar::{CalendarMode, CalendarSpan, add};
use gudgeon_life::fact::{
    Concession, Condition, Content, Entry, Fact, Inspection, OverhaulScope, ProgrammeActivated,
    Stream, StreamKind,
};
use gudgeon_life::ids::{EngineId, ItemId, PartyId, PositionId};
use gudgeon_life::line::Note;
use gudgeon_life::programme::{Action, EngineType, Item, Subject};
use gudgeon_store::{Principal, Role, Store};
use std::sync::Arc;

/// An amendment belongs to the record of the fact that it amends, and to the workshop that posted it.
pub(crate) fn amends(store: &Store, principal: &Principal, fact: &Fact) -> Result<(), Problem> {
    let Content::Amendment(amendment) = &fact.entry.content else { return Ok(()) };
    let Some(root) = store.fact(amendment.root)? else { return Ok(()) };
    if root.stream != amendment.stream || matches!(root.fact.entry.content, Content::Amendment(_)) {
        return Err(Problem::not_found("such record of that engine or aircraft"));
    }
    let before = &root.fact.entry.content;
    let kinds_differ = |entry: &Entry| match (&entry.content, before) {
        (Content::PartyRegistered(after), Content::PartyRegistered(before)) => {
            after.role != before.role
        }
        (after, before) => std::mem::discriminant(after) != std::mem::discriminant(before),
    };
    if amendment.replacement.as_deref().is_some_and(kinds_differ) {
        return Err(Problem::not_found("record of that kind"));
    }
    if principal.role == Role::Shop && root.by != principal.party {
        let detail = "only the workshop that posted a record, or the operator, may amend it";
        return Err(Problem::new(Kind::FORBIDDEN, detail));
    }
    Ok(())
}

/// Nothing personal is told again of somebody who was erased, except what is here already.
pub(crate) fn not_erased(store: &Store, fact: &Fact) -> Result<(), Problem> {
    let stream = fact.entry.content.stream();
    if stream.kind != StreamKind::Party || store.fact(fact.id)?.is_some() {
        return Ok(());
    }
    match store.party(PartyId(stream.id))?.and_then(|party| party.erased_on) {
        Some(on) => Err(Problem::new(
            Kind::ERASED,
            format!("name and address were erased on {on}; register them anew, under a new id"),
        )),
        None => Ok(()),
    }
}

/// Work and permissions have to name items and positions of the programme, as far as the engine's programme is
/// known.
pub(crate) fn against_programme(
    app: &App,
    entry: &Entry,
    prefix: &str,
) -> Result<Vec<Fault>, Problem> {
    match &entry.content {
        Content::Amendment(amendment) => match amendment.replacement.as_deref() {
            Some(replacement) => {
                let place = match replacement.content {
                    Content::Inspection(_) => "inspection",
                    _ => "record",
                };
                against_programme(app, replacement, &format!("{prefix}/{place}"))
            }
            None => Ok(Vec::new()),
        },
        Content::Inspection(inspection) => {
            let programme = programme(app, inspection.engine)?;
            Ok(programme.map_or(Vec::new(), |it| {
                let mut faults = work_faults(inspection, &it, prefix);
                faults.extend(bench::faults(inspection, &it, prefix));
                faults
            }))
        }
        Content::ProgrammeActivated(it) => version_faults(app, it, prefix),
        Content::Concession(concession) => {
            let programme = programme(app, concession.engine)?;
            Ok(programme.map_or(Vec::new(), |it| concession_faults(concession, &it, prefix)))
        }
        _ => Ok(Vec::new()),
    }
}

/// Only a version whose file is here can be counted by.
fn version_faults(app: &App, it: &ProgrammeActivated, prefix: &str) -> Result<Vec<Fault>, Problem> {
    if app.store.engine_type_version(it.engine_type.as_str(), it.digest)?.is_some() {
        return Ok(Vec::new());
    }
    Ok(vec![Fault {
        pointer: format!("{prefix}/digest"),
        code: "unknown-version",
        detail: format!(
            "no version of `{0}` with this digest is here; send its file first, to /v1/engine-types/{0}",
            it.engine_type
        ),
    }])
}

/// The programme of an engine, as far as it is known.
fn programme(app: &App, id: EngineId) -> Result<Option<Arc<EngineType>>, Problem> {
    let row = app.store.engine(id)?;
    Ok(row.map(|row| app.active_type_of(&row)).transpose()?.flatten())
}

fn work_faults(inspection: &Inspection, engine_type: &EngineType, prefix: &str) -> Vec<Fault> {
    let mut faults = Vec::new();
    for (at, work) in inspection.work.iter().enumerate() {
        let place = format!("{prefix}/work/{at}");
        if let Some(item) = engine_type.item(&work.item) {
            faults.extend(position_faults(&work.positions, item, engine_type, &place));
            continue;
        }
        faults.push(unknown_item(&work.item, engine_type, &place));
    }
    faults
}

fn unknown_item(item: &ItemId, engine_type: &EngineType, place: &str) -> Fault {
    let known = engine_type.items.iter().map(|item| item.id.as_str());
    let near = near_to_it(item.as_str(), known);
    Fault {
        pointer: format!("{place}/item"),
        code: "unknown-item",
        detail: format!("`{item}` is not an item of the engine's programme{near}"),
    }
}

/// A permission is for one item, and at one place if the item is done at places: a wider one would cover what
/// nobody looked at.
fn concession_faults(it: &Concession, engine_type: &EngineType, place: &str) -> Vec<Fault> {
    let Some(item) = engine_type.item(&it.item) else {
        return vec![unknown_item(&it.item, engine_type, place)];
    };
    let pointer = format!("{place}/position");
    let allowed = || listed(item.positions.iter().map(PositionId::as_str));
    match &it.position {
        None if !item.positions.is_empty() => vec![Fault {
            pointer,
            code: "missing",
            detail: format!("`{}` is done at positions; name one: {}", item.id, allowed()),
        }],
        Some(named) if !item.positions.contains(named) => vec![Fault {
            pointer,
            code: "unknown-position",
            detail: if item.positions.is_empty() {
                format!("`{}` is counted for the engine as a whole; leave `position` out", item.id)
            } else {
                format!(
                    "`{named}` is not a position of `{}`; its positions: {}",
                    item.id,
                    allowed()
                )
            },
        }],
        _ => Vec::new(),
    }
}

fn position_faults(
    named: &[PositionId],
    item: &Item,
    engine_type: &EngineType,
    place: &str,
) -> Vec<Fault> {
    // A part may sit at any position of the engine; an item of the engine has its own.
    let allowed: Vec<&PositionId> = match item.subject {
        Subject::Engine => item.positions.iter().collect(),
        Subject::Component(_) => engine_type.positions.iter().map(|it| &it.id).collect(),
    };
    let list = listed(allowed.iter().map(|position| position.as_str()));
    if named.is_empty() && !item.positions.is_empty() {
        return vec![Fault {
            pointer: format!("{place}/positions"),
            code: "missing",
            detail: format!(
                "`{}` is done at positions; name those that were done: {list}",
                item.id
            ),
        }];
    }
    let wrong = named.iter().enumerate().filter(|(_, position)| !allowed.contains(position));
    let faults = wrong.map(|(at, position)| Fault {
        pointer: format!("{place}/positions/{at}"),
        code: "unknown-position",
        detail: if allowed.is_empty() {
            format!("`{}` is an item of the engine as a whole; leave `positions` out", item.id)
        } else {
            format!("`{position}` is not a position of `{}`; its positions: {list}", item.id)
        },
    });
    faults.collect()
}

/// Things that a fact names and that nobody has registered yet. Posts may arrive in any order.
pub(crate) fn unknown_things(store: &Store, fact: &Fact) -> Result<Vec<Warning>, Problem> {
    let content = &fact.entry.content;
    let registers = matches!(
        content,
        Content::PartyRegistered(_)
            | Content::AircraftRegistered(_)
            | Content::EngineRegistered(_)
            | Content::ComponentRegistered(_)
    );
    let mut warnings = Vec::new();
    let own = Some(content.stream()).filter(|it| !registers && it.kind != StreamKind::Fleet);
    let party = match content {
        Content::Ownership(it) => Some(Stream::party(it.owner)),
        Content::Custody(it) => Some(Stream::party(it.shop)),
        _ => None,
    };
    for stream in own.into_iter().chain(party).chain(content.links()) {
        if !registered(store, stream)? {
            let (code, thing) = match stream.kind {
                StreamKind::Party => ("unknown-party", "party"),
                StreamKind::Aircraft => ("unknown-aircraft", "aircraft"),
                StreamKind::Engine => ("unknown-engine", "engine"),
                StreamKind::Component => ("unknown-component", "component"),
                // The fleet is always there, and no fact names it as another's.
                StreamKind::Fleet => continue,
            };
            let detail = format!(
                "no {thing} {} is registered yet; this is kept and counts once it is",
                stream.id
            );
            warnings.push(Warning { code, detail, pointer: None });
        }
    }
    if let Content::EngineRegistered(engine) = content {
        let name = engine.engine_type.as_str();
        if store.engine_type(name)?.is_none() {
            let types = store.engine_types()?;
            let near = near_to_it(name, types.iter().map(|row| row.name.as_str()));
            let detail = format!(
                "no engine type `{name}` is here yet, so nothing can be worked out as due{near}"
            );
            let pointer = Some("/engine_type".to_owned());
            warnings.push(Warning { code: "unknown-engine-type", detail, pointer });
        }
    }
    Ok(warnings)
}

/// Whether a thing was registered: a fact about it may have come before.
fn registered(store: &Store, stream: Stream) -> Result<bool, Problem> {
    // The registration of a thing is the fact that has the thing's own id.
    Ok(store.fact(gudgeon_life::ids::FactId(stream.id))?.is_some())
}

/// A part that was fitted after its shelf life had ended: said at once, while it can still be taken off.
pub(crate) fn fitted_past_shelf(
    store: &Store,
    fact: &Fact,
    engines: &[EngineId],
) -> Result<Vec<Warning>, Problem> {
    let Content::ComponentFitted(fitted) = &fact.entry.content else { return Ok(Vec::new()) };
    let mut warnings = Vec::new();
    for id in engines {
        let Some(row) = store.engine(*id)? else { continue };
        let lines = store.due_lines(&[row.key])?.into_iter().map(|(_, line)| line);
        let past = lines.filter(|line| {
            line.component == Some(fitted.component)
                && line.notes.contains(&Note::FittedPastShelfLife)
        });
        warnings.extend(past.map(|line| {
            let detail = format!("{}: {}", line.title, Note::FittedPastShelfLife.printed());
            Warning { code: Note::FittedPastShelfLife.word(), detail, pointer: None }
        }));
    }
    Ok(warnings)
}

/// What is odd about an entry by itself.
pub(crate) fn odd(entry: &Entry, today: NaiveDate) -> Vec<Warning> {
    match &entry.content {
        Content::Amendment(amendment) => {
            amendment.replacement.as_deref().map_or(Vec::new(), |entry| odd(entry, today))
        }
        content => {
            let mut warnings = Vec::new();
            let year_on = add(entry.on, CalendarSpan::months(12), CalendarMode::Day);
            let dated_late = year_on < today && entry.on != UNDATED && !is_registration(content);
            if dated_late {
                let detail =
                    format!("it is dated {}, more than a year ago; check the year", entry.on);
                warnings.push(Warning { code: "old-date", detail, pointer: None });
            }
            match content {
                Content::Inspection(inspection) => warnings.extend(odd_inspection(inspection)),
                Content::ComponentOverhauled(it) if !it.released => warnings.push(no_release()),
                _ => {}
            }
            warnings
        }
    }
}

fn no_release() -> Warning {
    let detail = "work without a release: it is shown as reported done, no release recorded";
    Warning { code: "no-release", detail: detail.to_owned(), pointer: None }
}

/// Registrations, ownerships and descriptions tell how things stood when records began: often long ago.
const fn is_registration(content: &Content) -> bool {
    matches!(
        content,
        Content::AircraftRegistered(_)
            | Content::EngineRegistered(_)
            | Content::ComponentRegistered(_)
            | Content::Ownership(_)
            | Content::Custody(_)
            | Content::Described(_)
    )
}

fn odd_inspection(inspection: &Inspection) -> Vec<Warning> {
    let mut warnings = Vec::new();
    for (at, finding) in inspection.findings.iter().enumerate() {
        let refitted = inspection.work.iter().any(|work| {
            work.item == finding.item
                && work.action == Action::Refitted
                && (work.positions.is_empty()
                    || finding.position.as_ref().is_none_or(|it| work.positions.contains(it)))
        });
        if finding.condition == Condition::Scrap && refitted {
            warnings.push(Warning {
                code: "scrap-refitted",
                detail: format!(
                    "`{}` was found to be scrap, and the same part was put back; check both",
                    finding.item
                ),
                pointer: Some(format!("/findings/{at}")),
            });
        }
    }
    if !inspection.work.is_empty() && !inspection.released {
        warnings.push(no_release());
    }
    if inspection.overhaul == Some(OverhaulScope::Full) && inspection.test_run.is_none() {
        warnings.push(Warning {
            code: "no-test-run",
            detail: "a full overhaul is complete only with a test run; hours since overhaul do not restart"
                .to_owned(),
            pointer: Some("/overhaul".to_owned()),
        });
    }
    warnings
}

/// The known names near to one that is not known, for the end of a sentence.
fn near_to_it<'a>(name: &str, known: impl IntoIterator<Item = &'a str>) -> String {
    let near = listed(nearest(name, known));
    if near.is_empty() { near } else { format!("; near to it: {near}") }
}

fn listed<'a>(names: impl IntoIterator<Item = &'a str>) -> String {
    names.into_iter().map(|name| format!("`{name}`")).collect::<Vec<_>>().join(", ")
}
