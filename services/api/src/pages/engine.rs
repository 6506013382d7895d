//! The page of one engine: how it stands, what is due and why, what is fitted, and every record behind it.

use super::charts::{self, Charted};
use super::lost_log::{self, Estimated};
use super::sets::{self, Marks, NoLog};
use super::timeline::{Timeline, timeline};
use super::{Frame, day_query, html, place, rendered, type_title};
use crate::access;
use crate::app::App;
use crate::auth::PageReader;
use crate::call::{Call, Query};
use crate::problem::Problem;
use crate::visits::{self, Asked, VisitsOut};
use actix_web::{HttpResponse, web};
use chrono::NaiveDate;
use gudgeon_life::cautions::CAUTIONS;
use gudgeon_life::clock::Moment;
use gudgeon_life::fact::Stream;
use gudgeon_life::history::{ComponentState, History};
use gudgeon_life::hours::Hours;
use gudgeon_life::ids::{ComponentId, EngineId, FactId};
use gudgeon_life::line::{AskedBy, DueLine};
use gudgeon_life::programme::EngineType;
use gudgeon_life::sure::engine::{Forecasts, in_words};
use gudgeon_life::words::{LOST_LOG, LegWords, day, day_from, line_words, short_id, urgency};
use gudgeon_life::working::working;
use gudgeon_store::{EngineRow, Principal};
use serde::Serialize;

#[derive(Serialize)]
pub(super) struct Engine {
    name: String,
    title: String,
    as_of: String,
    as_of_iso: String,
    /// The address of this page without its day.
    path: String,
    /// The fleet page of the same day.
    fleet: String,
    facts: Vec<(&'static str, String)>,
    /// What an engine without a log needs before anybody may state its total.
    lost_log: Option<&'static str>,
    conflicts: Vec<String>,
    /// Whether a programme is active for its type.
    counted: bool,
    lines: Vec<Line>,
    charts: Vec<Charted>,
    /// What the charts rest on.
    charts_basis: &'static str,
    visits: VisitsOut,
    /// What the forecasts of the lines could not rest on.
    forecast_basis: Option<&'static str>,
    entered: Option<String>,
    /// By which version of the programme it is counted, and that it changed.
    programme: Vec<String>,
    components: Vec<Component>,
    marks: Marks,
    no_log: Option<NoLog>,
    estimated: Option<Estimated>,
    timeline: Timeline,
    cautions: [&'static str; CAUTIONS.len()],
}

#[derive(Serialize)]
struct Line {
    key: &'static str,
    status: &'static str,
    title: String,
    place: Option<String>,
    component: Option<String>,
    due: String,
    governing: Option<String>,
    late: Option<String>,
    legs: Vec<Leg>,
    /// When its hours will be used up, or why nobody can say.
    forecast: Option<String>,
    class: &'static str,
    source: String,
    last: Option<String>,
    /// The record of the last work, as the timeline on the same page names it.
    record: Option<String>,
    /// That record, where it is an inspection with a report.
    report: Option<String>,
    /// The finding, happening or preservation that asks for it, and its record in the timeline.
    asked: Option<String>,
    asked_record: Option<String>,
    notes: Vec<&'static str>,
    working: Vec<String>,
}

#[derive(Serialize)]
struct Leg {
    name: String,
    governs: bool,
    words: String,
}

#[derive(Serialize)]
struct Component {
    label: String,
    position: String,
    fitted: String,
    hours: String,
    made: String,
    id: String,
}

/// `GET /engines/{id}?as_of`
pub(super) async fn show(reader: PageReader, call: Call) -> Result<HttpResponse, Problem> {
    let today = call.today();
    let query = call.query(&["as_of"])?;
    let id = EngineId(call.uid("id")?);
    let app = call.app.clone();
    web::block(move || page(&app, &reader.0, id, &query, today)).await?.map(html)
}

fn page(
    app: &App,
    reader: &Principal,
    id: EngineId,
    query: &Query,
    today: NaiveDate,
) -> Result<String, Problem> {
    let as_of = query.as_of(today)?;
    let row = access::engine(&app.store, reader, today, id)?;
    let engine_type = app.counted_type_of(&row)?;
    let engine_type = engine_type.as_deref();
    let evidence = app.store.evidence_of(&row)?;
    let history = app.store.history_of(Stream::engine(id))?;
    let timeline = timeline(&app.store, &row, &history)?;
    let mut due: Vec<DueLine> =
        app.store.due_lines(&[row.key])?.into_iter().map(|(_, line)| line).collect();
    due.sort_by_key(|line| urgency(line, as_of));
    let forecasts = Forecasts::from(row.flying);
    let lines: Vec<Line> = due
        .iter()
        .map(|line| {
            let forecast = forecasts.line(line, as_of).as_ref().map(in_words);
            let worked = engine_type.map(|it| working(&history, id, it, &evidence, line, as_of));
            let line = line_of(&history, engine_type, line, as_of, &timeline);
            Line { forecast, working: worked.unwrap_or_default(), ..line }
        })
        .collect();
    let name = row.mark.clone().unwrap_or_else(|| "Not installed".to_owned());
    let view = Engine {
        title: type_title(&row, engine_type),
        as_of: day(as_of),
        as_of_iso: as_of.to_string(),
        path: format!("/engines/{id}"),
        fleet: format!("/{}", day_query(query.get("as_of"), as_of)),
        facts: facts(app, &row, as_of)?,
        lost_log: (!row.logged).then_some(LOST_LOG),
        conflicts: row.conflicts.clone(),
        counted: engine_type.is_some(),
        forecast_basis: row
            .flying
            .not_on_record()
            .filter(|_| lines.iter().any(|it| it.forecast.is_some())),
        lines,
        charts: charts::charts(&history, id, engine_type, &evidence),
        charts_basis: charts::BASIS,
        visits: visits::told(
            &due,
            engine_type,
            &row.flying,
            Asked { as_of, hours_per_month: None, not_before: None },
        ),
        entered: engine_type.map(|it| day(it.entered_up_to)),
        programme: version_words(app, &row, as_of)?,
        components: components(&history, id, engine_type, as_of),
        marks: sets::marks(&history, id, engine_type),
        estimated: lost_log::estimated(app, &history, id, engine_type, as_of)?,
        no_log: sets::no_log(&history, id, engine_type, &due, as_of),
        timeline,
        cautions: CAUTIONS,
        name,
    };
    let frame = Frame {
        title: format!("{}, {}", view.name, view.title),
        reader: Some(reader.label.clone()),
        demo: app.demo,
    };
    rendered("engine.html", frame, &view)
}

fn version_words(app: &App, row: &EngineRow, as_of: NaiveDate) -> Result<Vec<String>, Problem> {
    let version = row.type_digest.zip(app.version_of(row)?);
    Ok(version.map_or_else(Vec::new, |(counted_by, active)| active.words(counted_by, as_of)))
}

fn facts(
    app: &App,
    row: &EngineRow,
    as_of: NaiveDate,
) -> Result<Vec<(&'static str, String)>, Problem> {
    let absent = || "not on record".to_owned();
    let hours = |value: Option<Hours>| {
        value.map_or_else(absent, |value| format!("{} h", value.tenths_up()))
    };
    let owner = match row.owner {
        Some(owner) => app.store.party(owner)?.map(|party| party.name),
        None => None,
    };
    let log =
        if row.logged { "logged" } else { "no log: hours before these records are not known" };
    let meter = row.meter.map_or_else(absent, Hours::tenths_up);
    Ok(vec![
        ("Serial number", row.serial.clone().unwrap_or_else(absent)),
        ("Aircraft", row.mark.clone().unwrap_or_else(|| "in none on record".to_owned())),
        ("Owner", owner.unwrap_or_else(absent)),
        ("Hours since new (TSN)", hours(row.tsn)),
        ("Hours since overhaul (TSO)", hours(row.tso)),
        ("Full overhauls", format!("{} on record", row.overhauls)),
        ("Hour meter", meter),
        ("Last reading", row.hours_on.map_or_else(absent, |on| day_from(on, as_of))),
        ("Log", log.to_owned()),
    ])
}

/// A line without its forecast and its working.
fn line_of(
    history: &History,
    engine_type: Option<&EngineType>,
    line: &DueLine,
    as_of: NaiveDate,
    timeline: &Timeline,
) -> Line {
    let status = line.status(as_of);
    let words = line_words(line, as_of);
    let invented = if engine_type.is_some_and(|it| it.invented) { " (invented)" } else { "" };
    let shown = |fact: FactId| Some(fact.to_string()).filter(|it| timeline.holds(it));
    let asked_record = match line.asked_by {
        AskedBy::Programme | AskedBy::OnCondition => None,
        AskedBy::Finding(fact) | AskedBy::Preservation(fact) => Some(fact),
        AskedBy::Event(happened) => Some(happened.fact),
    };
    Line {
        key: status.word(),
        status: status.printed(),
        title: format!("{}{invented}", line.title),
        place: line.position.as_ref().map(|it| place(engine_type, it.as_str())),
        component: line.component.map(|it| label(history, it)),
        due: words.due,
        governing: words.governing,
        late: words.late,
        legs: words
            .legs
            .into_iter()
            .map(|LegWords { name, governs, words }| Leg { name, governs, words })
            .collect(),
        forecast: None,
        class: line.class.printed(),
        source: line.source.clone(),
        last: words.last,
        record: line.last.and_then(|last| shown(last.fact)),
        report: line.last.map(|last| last.fact.to_string()).filter(|it| timeline.reports(it)),
        asked: words.finding,
        asked_record: asked_record.and_then(shown),
        notes: line.notes.iter().map(|note| note.printed()).collect(),
        working: Vec::new(),
    }
}

fn label(history: &History, id: ComponentId) -> String {
    let named = history.component(id).map(ComponentState::label);
    named.unwrap_or_else(|| format!("part ending {}", short_id(id.0)))
}

fn components(
    history: &History,
    id: EngineId,
    engine_type: Option<&EngineType>,
    as_of: NaiveDate,
) -> Vec<Component> {
    history
        .fitted_to(id)
        .into_iter()
        .filter_map(|id| Some((id, history.component(id)?)))
        .map(|(id, component)| {
            let fit = component.current();
            let position = fit.and_then(|fit| fit.position.as_ref());
            let hours = history.component_hours(id, Moment::end_of(as_of));
            let hours =
                hours.map_or_else(|| "not known".to_owned(), |it| format!("{} h", it.tenths_up()));
            let since = history.component_tso(id);
            let since = since.map(|it| format!(", {} h since overhaul", it.tenths_up()));
            Component {
                label: component.label(),
                position: position.map_or_else(String::new, |it| place(engine_type, it.as_str())),
                fitted: fit.map_or_else(String::new, |fit| fit.from.on.to_string()),
                hours: format!("{hours}{}", since.unwrap_or_default()),
                made: component.made.map_or_else(
                    || "no readable date code".to_owned(),
                    |made| format!("{} to {}", made.first, made.last),
                ),
                id: id.to_string(),
            }
        })
        .collect()
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    pub(in crate::pages) fn sample(name: &str) -> Engine {
        let text = || name.to_owned();
        Engine {
            name: text(),
            title: text(),
            as_of: text(),
            as_of_iso: "2026-11-25".to_owned(),
            path: "/engines/x".to_owned(),
            fleet: "/".to_owned(),
            facts: vec![("Owner", text())],
            lost_log: Some(LOST_LOG),
            conflicts: vec![text()],
            counted: true,
            lines: vec![Line {
                key: "overdue",
                status: "overdue",
                title: text(),
                place: Some(text()),
                component: Some(text()),
                due: text(),
                governing: Some(text()),
                late: Some(text()),
                legs: vec![Leg { name: text(), governs: true, words: text() }],
                forecast: Some(text()),
                class: "recommended",
                source: text(),
                last: Some(text()),
                record: Some("x".to_owned()),
                report: Some("x".to_owned()),
                asked: Some(text()),
                asked_record: Some("x".to_owned()),
                notes: vec!["a note"],
                working: vec![text()],
            }],
            charts: vec![super::super::charts::tests::sample(name)],
            charts_basis: charts::BASIS,
            visits: crate::visits::tests::sample(name),
            forecast_basis: Some("a sentence"),
            entered: Some(text()),
            programme: vec![text()],
            components: vec![Component {
                label: text(),
                position: text(),
                fitted: text(),
                hours: text(),
                made: text(),
                id: "x".to_owned(),
            }],
            marks: super::super::sets::tests::sample(name).0,
            no_log: Some(super::super::sets::tests::sample(name).1),
            estimated: Some(super::super::lost_log::tests::sample(name)),
            timeline: super::super::timeline::tests::sample(name),
            cautions: CAUTIONS,
        }
    }
}
