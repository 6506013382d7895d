//! The report of one inspection, as a page and as the sheet that a workshop hands to the owner.

mod found;
mod next;

use super::timeline::{overhaul, release};
use super::{Frame, html, rendered};
use crate::access;
use crate::app::App;
use crate::auth::PageReader;
use crate::call::{Call, day_of};
use crate::check;
use crate::problem::Problem;
use crate::versions::Versions;
use actix_web::{HttpResponse, web};
use chrono::NaiveDate;
use found::Found;
use gudgeon_life::cautions::CAUTIONS;
use gudgeon_life::fact::{Amendment, Content, Inspection, Stream};
use gudgeon_life::hours::Hours;
use gudgeon_life::ids::{EngineId, FactId, ItemId, PartyId};
use gudgeon_life::programme::EngineType;
use gudgeon_life::words::day;
use gudgeon_store::{EngineRow, Principal, Stored};
use next::Next;
use serde::Serialize;

#[derive(Serialize)]
pub(super) struct Report {
    title: String,
    facts: Vec<(&'static str, String)>,
    /// That it was corrected or withdrawn, when and why.
    amended: Vec<String>,
    withdrawn: bool,
    /// The address of the engine's page, for whoever may open it.
    engine: Option<String>,
    /// What the version that stands says; `None` when the inspection is withdrawn.
    found: Option<Found>,
    /// What comes next for the engine, for whoever may see it.
    next: Option<Next>,
    cautions: [&'static str; CAUTIONS.len()],
}

/// `GET /inspections/{id}`
pub(super) async fn show(reader: PageReader, call: Call) -> Result<HttpResponse, Problem> {
    let today = call.today();
    let id = FactId(call.uid("id")?);
    let app = call.app.clone();
    web::block(move || page(&app, &reader.0, id, today)).await?.map(html)
}

fn page(app: &App, reader: &Principal, id: FactId, today: NaiveDate) -> Result<String, Problem> {
    let versions = Versions::read(&app.store, reader, today, id)?;
    let engine = EngineId(versions.first.stream.id);
    // A workshop reads its own report for good, but of the engine only what it may see today.
    let seen = access::sees(&app.store, reader, today, Stream::engine(engine))?;
    let row = if seen { app.store.engine(engine)? } else { None };
    let current = versions.current();
    let report = current.and_then(|it| check::report(&it.fact));
    let view = Report {
        title: title(&versions, report.as_ref()),
        facts: facts(app, row.as_ref(), current, report.as_ref())?,
        amended: versions.amendments.iter().map(amended).collect(),
        withdrawn: current.is_none(),
        engine: row.as_ref().map(|_| format!("/engines/{engine}")),
        found: current
            .zip(report.as_ref())
            .map(|(stored, report)| found::of(app, stored, report))
            .transpose()?,
        next: row.as_ref().map(|row| next::of(app, row, id, today)).transpose()?,
        cautions: CAUTIONS,
    };
    let frame =
        Frame { title: view.title.clone(), reader: Some(reader.label.clone()), demo: app.demo };
    rendered("inspection.html", frame, &view)
}

fn title(versions: &Versions, report: Option<&check::Report<'_>>) -> String {
    let released = report.map_or(versions.first.fact.entry.on, |it| it.entry.on);
    format!("Inspection released {}", day(released))
}

/// When a version was put in place of another, and why where that is still kept.
fn amended(stored: &Stored) -> String {
    let withdraws = matches!(
        &stored.fact.entry.content,
        Content::Amendment(Amendment { replacement: None, .. })
    );
    let done = if withdraws { "Withdrawn" } else { "Corrected" };
    let reason = stored.texts.private.get("/reason").map(|reason| format!(": {reason}"));
    format!("{done} {}{}", day_of(stored.received_at), reason.unwrap_or_default())
}

/// The head of the report: which engine, who, when.
fn facts(
    app: &App,
    row: Option<&EngineRow>,
    stored: Option<&Stored>,
    report: Option<&check::Report<'_>>,
) -> Result<Vec<(&'static str, String)>, Problem> {
    let absent = || "not on record".to_owned();
    let mut facts = Vec::new();
    if let Some(row) = row {
        let engine_type = app.active_type_of(row)?;
        facts.push(("Engine type", super::type_title(row, engine_type.as_deref())));
        facts.push(("Serial number", row.serial.clone().unwrap_or_else(absent)));
        let aircraft = row.mark.clone().unwrap_or_else(|| "in none on record".to_owned());
        facts.push(("Aircraft today", aircraft));
    }
    let Some((stored, report)) = stored.zip(report) else { return Ok(facts) };
    let it = report.inspection;
    facts.push(("Workshop", shop(app, it.shop)?));
    facts.push(("Work order", it.work_order.clone().unwrap_or_else(absent)));
    facts.push(("Opened", it.opened_on.to_string()));
    facts.push(("Released", report.entry.on.to_string()));
    facts.push(("Release", released(it, stored, found::prefix(stored))));
    facts.extend(
        it.readings.iter().map(|reading| {
            ("Hour meter", format!("{} on {}", reading.meter.tenths_up(), reading.on))
        }),
    );
    let hours = |value: Hours| format!("{} h", value.tenths_up());
    facts.extend(it.tsn.map(|tsn| ("Hours since new (TSN)", hours(tsn))));
    facts.extend(it.overhaul.map(|scope| ("Overhaul", overhaul(scope).to_owned())));
    facts.extend(it.test_run.map(|run| ("Test run", hours(run))));
    facts.extend(it.run_in.map(|run| ("Run in", hours(run))));
    Ok(facts)
}

fn shop(app: &App, id: PartyId) -> Result<String, Problem> {
    let name = app.store.party(id)?.filter(|it| it.erased_on.is_none()).map(|it| it.name);
    Ok(name.unwrap_or_else(|| "name not on record".to_owned()))
}

/// What is recorded of the release: whether there is one, by whom and under which licence.
fn released(it: &Inspection, stored: &Stored, prefix: &str) -> String {
    let told = ["by", "licence", "reference"].into_iter().filter_map(|field| {
        let text = stored.texts.private.get(&format!("{prefix}/release/{field}"))?;
        Some(if field == "by" { format!("by {text}") } else { format!("{field} {text}") })
    });
    std::iter::once(release(it.released).to_owned()).chain(told).collect::<Vec<_>>().join(", ")
}

/// What an item is called: by the programme, else by its short name in plain words.
fn named(item: &ItemId, engine_type: Option<&EngineType>) -> String {
    let known = engine_type.and_then(|it| it.item(item));
    known.map_or_else(|| item.as_str().replace('-', " "), |it| it.title.clone())
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    /// A report all of whose texts are this one, with everything in it that a report can have.
    pub(in crate::pages) fn sample(name: &str) -> Report {
        Report {
            title: name.to_owned(),
            facts: vec![("Workshop", name.to_owned())],
            amended: vec![name.to_owned()],
            withdrawn: false,
            engine: Some("/engines/x".to_owned()),
            found: Some(found::tests::sample(name)),
            next: Some(next::tests::sample(name)),
            cautions: CAUTIONS,
        }
    }
}
