//! Parts as clients see them: marks, age, hours, and where they have been.

use chrono::NaiveDate;
use gudgeon_life::clock::Moment;
use gudgeon_life::fact::{Host, RemovalCause};
use gudgeon_life::history::{EventRecord, Fit, History};
use gudgeon_life::hours::Hours;
use gudgeon_life::ids::ComponentId;
use serde::Serialize;

/// A part as its records show it.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct ComponentOut {
    id: String,
    label: String,
    kind: Option<String>,
    serial: Option<String>,
    lot: Option<String>,
    maker_part: Option<String>,
    cured_on: Option<String>,
    code: Option<CodeOut>,
    /// Rounded up; `null` when they are not known.
    hours: Option<String>,
    /// Hours since its last overhaul, rounded up; `null` when none is on record, or they are not known.
    tso: Option<String>,
    /// Its overhauls as an assembly of its own, in order.
    overhauls: Vec<OverhaulOut>,
    /// What was told of the part itself, apart from the engine it was on, in order.
    events: Vec<EventOut>,
    first_fitted_on: Option<String>,
    fits: Vec<FitOut>,
    in_conflict: bool,
}

#[derive(Clone, Debug, Serialize)]
struct CodeOut {
    scheme: &'static str,
    text: String,
    made_first: Option<String>,
    made_last: Option<String>,
}

/// An overhaul: by a record here, or by the papers that came with the part.
#[derive(Clone, Debug, Serialize)]
struct OverhaulOut {
    on: String,
    record: Option<String>,
}

#[derive(Clone, Debug, Serialize)]
struct EventOut {
    kind: &'static str,
    on: String,
    record: String,
}

#[derive(Clone, Debug, Serialize)]
struct FitOut {
    #[serde(skip_serializing_if = "Option::is_none")]
    engine: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    aircraft: Option<String>,
    position: Option<String>,
    from: String,
    until: Option<String>,
    /// Why it came off.
    #[serde(skip_serializing_if = "Option::is_none")]
    removed_for: Option<&'static str>,
}

impl ComponentOut {
    /// A part on a day; `None` when no fact names it.
    pub(crate) fn new(history: &History, id: ComponentId, as_of: NaiveDate) -> Option<Self> {
        let state = history.component(id)?;
        let hours = history.component_hours(id, Moment::end_of(as_of));
        let made = state.made;
        let by_papers = state.papers.map(|it| OverhaulOut { on: it.on.to_string(), record: None });
        let here = state.overhauls.iter().map(|moment| OverhaulOut {
            on: moment.on.to_string(),
            record: Some(moment.fact.to_string()),
        });
        Some(Self {
            id: id.to_string(),
            label: state.label(),
            kind: state.kind.as_ref().map(ToString::to_string),
            serial: state.serial.clone(),
            lot: state.lot.clone(),
            maker_part: state.maker_part.clone(),
            cured_on: state.cured_on.map(|day| day.to_string()),
            code: state.code.as_ref().map(|code| CodeOut {
                scheme: code.scheme.word(),
                text: code.text.clone(),
                made_first: made.map(|made| made.first.to_string()),
                made_last: made.map(|made| made.last.to_string()),
            }),
            hours: hours.map(Hours::tenths_up),
            tso: history.component_tso(id).map(Hours::tenths_up),
            overhauls: by_papers.into_iter().chain(here).collect(),
            events: state.events.iter().map(event).collect(),
            first_fitted_on: state.first_fitted().map(|day| day.to_string()),
            fits: state.fits.iter().map(fit).collect(),
            in_conflict: state.lost,
        })
    }
}

fn event(event: &EventRecord) -> EventOut {
    EventOut {
        kind: event.kind.word(),
        on: event.moment.on.to_string(),
        record: event.moment.fact.to_string(),
    }
}

fn fit(fit: &Fit) -> FitOut {
    let (engine, aircraft) = match fit.host {
        Host::Engine(id) => (Some(id.to_string()), None),
        Host::Aircraft(id) => (None, Some(id.to_string())),
    };
    FitOut {
        engine,
        aircraft,
        position: fit.position.as_ref().map(ToString::to_string),
        from: fit.from.on.to_string(),
        until: fit.until.map(|until| until.on.to_string()),
        removed_for: fit.cause.map(RemovalCause::word),
    }
}
