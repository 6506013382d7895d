//! The page on which an owner types what the hour meter shows, or reports that something happened.
//!
//! One aircraft has one meter, whatever engines it has; an engine that is in none has no meter to read.

use super::reported;
use super::{Holder, Shown, answered, answered_form};
use crate::app::App;
use crate::call::{Call, day_of};
use crate::pages::{engine_types, type_title};
use crate::problem::Problem;
use actix_web::HttpResponse;
use chrono::NaiveDate;
use gudgeon_life::calendar::day_after;
use gudgeon_life::cautions::CAUTIONS;
use gudgeon_life::fact::EventKind;
use gudgeon_life::hours::Hours;
use gudgeon_life::ids::{AircraftId, EngineId};
use gudgeon_life::words::day_from;
use gudgeon_store::{EngineRow, Instant, Link, Purpose};
use serde::Serialize;
use std::collections::BTreeMap;

/// With more meters than this, each has a page of its own.
const METERS_MAX: usize = 12;

#[derive(Serialize)]
pub(super) struct Reading {
    /// The meters with their forms.
    meters: Vec<MeterOut>,
    /// The pages of single meters, where there are too many for one.
    links: Vec<MeterLink>,
    /// What can have happened: the word that is sent, and the words that are read.
    kinds: Vec<(&'static str, &'static str)>,
    /// The last day that can be told of.
    latest: String,
    cautions: [&'static str; CAUTIONS.len()],
}

#[derive(Serialize)]
struct MeterOut {
    name: String,
    /// What it showed last, and when; `None` when nothing is on record.
    last: Option<Last>,
    /// Whether there is a meter.
    readable: bool,
    engines: Vec<EngineOption>,
    reading: Draft,
    event: Draft,
}

#[derive(Serialize)]
struct Last {
    meter: String,
    when: String,
}

#[derive(Serialize)]
struct EngineOption {
    id: String,
    name: String,
}

#[derive(Serialize)]
struct MeterLink {
    name: String,
    href: String,
    last: Option<Last>,
}

/// A form as it was filled in, and what is to be said about that.
#[derive(Clone, Default, Serialize)]
pub(super) struct Draft {
    /// The identifier that the record will have: sent twice, it is kept once.
    pub(super) id: String,
    pub(super) engine: String,
    pub(super) meter: String,
    pub(super) on: String,
    pub(super) kind: String,
    pub(super) note: String,
    /// What is wrong, by the name of the field.
    pub(super) faults: BTreeMap<String, String>,
    /// What to look at again before it is saved.
    pub(super) doubt: Option<String>,
}

/// The engines that share one hour meter; never without an engine.
pub(super) struct Meter {
    /// The engines, in order of key.
    pub(super) engines: Vec<EngineRow>,
    /// What each of them is called.
    names: Vec<String>,
}

impl Meter {
    /// Whether there is a meter: in no aircraft there is none.
    pub(super) fn readable(&self) -> bool {
        self.engines.iter().any(|engine| engine.aircraft.is_some())
    }

    pub(super) fn has(&self, engine: EngineId) -> bool {
        self.engines.iter().any(|it| it.engine == engine)
    }

    /// The aircraft's mark, or what its one engine is called.
    pub(super) fn name(&self) -> String {
        let mark = self.engines.iter().find_map(|it| it.mark.clone());
        mark.or_else(|| self.names.first().cloned()).unwrap_or_default()
    }

    /// What one of its engines is called.
    pub(super) fn name_of(&self, engine: EngineId) -> String {
        let mut named = self.engines.iter().zip(&self.names);
        named.find(|(it, _)| it.engine == engine).map(|(_, name)| name.clone()).unwrap_or_default()
    }

    /// The last reading of it.
    pub(super) fn last(&self) -> Option<(Hours, NaiveDate)> {
        let read = self.engines.iter().filter_map(|it| it.meter.zip(it.hours_on));
        read.max_by_key(|(meter, on)| (*on, *meter))
    }
}

/// `GET /reading/{link}`
pub(super) async fn show(call: Call) -> Result<HttpResponse, Problem> {
    answered(call, Purpose::Reading, |app, holder, now| {
        let asked = Asked::of(app, holder, now)?;
        page(app, holder, asked, &Draft::default(), &Draft::default())
    })
    .await
}

/// `POST /reading/{link}`: keeps what was filled in, or asks for it again.
pub(super) async fn send(call: Call) -> Result<HttpResponse, Problem> {
    answered_form(call, Purpose::Reading, reported::keep).await
}

/// When somebody asks.
#[derive(Clone, Copy)]
pub(super) struct Asked {
    pub(super) now: Instant,
    /// The day where they are.
    pub(super) today: NaiveDate,
}

impl Asked {
    /// Now, and the day where the holder of a link is: in the zone chosen for the mails, else UTC.
    pub(super) fn of(app: &App, holder: &Holder, now: Instant) -> Result<Self, Problem> {
        let chosen = app.store.preference(holder.party.party, holder.link.kind)?.preference;
        Ok(Self { now, today: chosen.zone.map_or_else(|| day_of(now), |zone| zone.day(now.0)) })
    }
}

/// The meters that a link is about, by name.
pub(super) fn meters(app: &App, link: &Link) -> Result<Vec<Meter>, Problem> {
    let types = engine_types(app)?;
    let mut by_meter: BTreeMap<(Option<AircraftId>, Option<i64>), Meter> = BTreeMap::new();
    for row in app.store.engines_of_owners(&[link.party])? {
        let engine_type = row.engine_type.as_ref().and_then(|name| types.get(name));
        let serial = row.serial.as_deref().unwrap_or("not on record");
        let title = type_title(&row, engine_type.map(AsRef::as_ref));
        let place = (row.aircraft, row.aircraft.is_none().then_some(row.key));
        let empty = || Meter { engines: Vec::new(), names: Vec::new() };
        let meter = by_meter.entry(place).or_insert_with(empty);
        meter.names.push(format!("engine {serial}, {title}"));
        meter.engines.push(row);
    }
    let mut meters: Vec<Meter> = by_meter.into_values().collect();
    if let Some(engine) = link.engine {
        meters.retain(|meter| meter.has(engine));
    }
    meters.sort_by_key(Meter::name);
    Ok(meters)
}

/// The page with forms as they were filled in; those of other meters are empty.
pub(super) fn page(
    app: &App,
    holder: &Holder,
    asked: Asked,
    reading: &Draft,
    event: &Draft,
) -> Result<Shown, Problem> {
    let today = asked.today;
    let meters = meters(app, &holder.link)?;
    let last = |meter: &Meter| {
        meter.last().map(|(meter, on)| Last { meter: meter.to_string(), when: day_from(on, today) })
    };
    let mut view = Reading {
        meters: Vec::new(),
        links: Vec::new(),
        kinds: kinds().map(|kind| (kind.word(), kind.printed())).collect(),
        latest: day_after(today).to_string(),
        cautions: CAUTIONS,
    };
    let many = meters.len() > METERS_MAX;
    for meter in &meters {
        let filled = [reading, event].into_iter().any(|draft| draft.is_of(meter));
        if many && !filled {
            view.links.extend(meter_link(app, holder, meter, last(meter)));
        } else {
            view.meters.push(MeterOut {
                name: meter.name(),
                last: last(meter),
                readable: meter.readable(),
                engines: meter.engines.iter().map(|it| option(meter, it.engine)).collect(),
                reading: reading.of(meter, asked)?,
                event: event.of(meter, asked)?,
            });
        }
    }
    Shown::page(app, "reading.html", "Hour meter", &view)
}

/// What can have happened that an owner reports; that an engine came back into use is a workshop's to say.
fn kinds() -> impl Iterator<Item = EventKind> {
    EventKind::ALL.into_iter().filter(|kind| *kind != EventKind::ReturnToUse)
}

fn option(meter: &Meter, engine: EngineId) -> EngineOption {
    EngineOption { id: engine.to_string(), name: meter.name_of(engine) }
}

/// A link to the page of one meter, good for as long as the one that led here.
fn meter_link(app: &App, holder: &Holder, meter: &Meter, last: Option<Last>) -> Option<MeterLink> {
    let engine = meter.engines.first()?.engine;
    let link = Link { engine: Some(engine), ..holder.link };
    let href = format!("/reading/{}", app.links.as_ref()?.seal(&link));
    Some(MeterLink { name: meter.name(), href, last })
}

impl Draft {
    fn is_of(&self, meter: &Meter) -> bool {
        meter.engines.iter().any(|it| it.engine.to_string() == self.engine)
    }

    /// This form where it is that of a meter; else an empty one, for today.
    fn of(&self, meter: &Meter, asked: Asked) -> Result<Self, Problem> {
        if self.is_of(meter) {
            return Ok(self.clone());
        }
        let engine = meter.engines.first().map(|it| it.engine.to_string());
        let (id, on) = (new_id(asked.now)?, asked.today.to_string());
        Ok(Self { id, engine: engine.unwrap_or_default(), on, ..Self::default() })
    }
}

/// An identifier that nobody else makes (RFC 9562, section 5.7).
pub(super) fn new_id(now: Instant) -> Result<String, Problem> {
    let mut random = [0; 10];
    getrandom::fill(&mut random).map_err(Problem::internal)?;
    let millis = u64::try_from(now.0 / 1000).unwrap_or_default();
    let id = uuid::Builder::from_unix_timestamp_millis(millis, &random).into_uuid();
    Ok(id.to_string())
}

#[cfg(test)]
pub(super) fn sample(text: &str) -> Reading {
    let last = || Some(Last { meter: text.to_owned(), when: text.to_owned() });
    let draft = Draft {
        id: "x".to_owned(),
        engine: "x".to_owned(),
        meter: text.to_owned(),
        on: text.to_owned(),
        kind: "overheat".to_owned(),
        note: text.to_owned(),
        faults: ["meter", "on", "kind", "note"].map(|it| (it.to_owned(), text.to_owned())).into(),
        doubt: Some(text.to_owned()),
    };
    let engine = || EngineOption { id: "x".to_owned(), name: text.to_owned() };
    Reading {
        meters: vec![MeterOut {
            name: text.to_owned(),
            last: last(),
            readable: true,
            engines: vec![engine(), engine()],
            reading: draft.clone(),
            event: draft,
        }],
        links: vec![MeterLink { name: text.to_owned(), href: "/x".to_owned(), last: last() }],
        kinds: kinds().map(|kind| (kind.word(), kind.printed())).collect(),
        latest: "2026-11-26".to_owned(),
        cautions: CAUTIONS,
    }
}
