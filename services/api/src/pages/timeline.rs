//! The records behind an engine in words, the newest first: its own, its aircraft's and its parts'.

use crate::problem::Problem;
use chrono::NaiveDate;
use gudgeon_life::fact::{
    Amendment, Content, Described, EngineRegistered, Fact, Finding, Host, Inspection,
    OverhaulScope, Papers, Stream, StreamKind,
};
use gudgeon_life::history::{ComponentState, History};
use gudgeon_life::hours::Hours;
use gudgeon_life::ids::{FactId, PartyId, PositionId};
use gudgeon_life::sure::engine::flown_words;
use gudgeon_life::version::{hex, witness};
use gudgeon_life::words::{counted, short_id};
use gudgeon_store::{EngineRow, Store, Stored};
use serde::Serialize;
use std::collections::HashMap;

/// The records of an engine page.
#[derive(Serialize)]
pub(super) struct Timeline {
    entries: Vec<Entry>,
    /// The last link of the engine's own chain, in hexadecimal.
    head: Option<String>,
    /// How many records that chain holds.
    length: i64,
    /// Which of them the last mails are witnesses of.
    anchored: Option<String>,
}

#[derive(Serialize)]
struct Entry {
    id: String,
    on: String,
    /// Whose record it is: the engine's, the aircraft's, a part's.
    of: String,
    kind: &'static str,
    details: Vec<String>,
    /// What was written beside it, each with its place in the post.
    texts: Vec<String>,
    hours: Option<String>,
    by: Option<String>,
    /// The inspection whose report tells more, where it is one or corrects one.
    report: Option<String>,
}

impl Timeline {
    /// Whether a record is among them.
    pub(super) fn holds(&self, id: &str) -> bool {
        self.entries.iter().any(|entry| entry.id == id)
    }

    /// Whether a record among them has a report.
    pub(super) fn reports(&self, id: &str) -> bool {
        self.entries.iter().any(|entry| entry.report.as_deref() == Some(id))
    }
}

/// The records of the engine, of the aircraft it is in and of the parts fitted now.
pub(super) fn timeline(
    store: &Store,
    row: &EngineRow,
    history: &History,
) -> Result<Timeline, Problem> {
    let own = store.facts_of(Stream::engine(row.engine))?;
    let head = own.last().map(|stored| hex(stored.hash));
    let length = own.last().map_or(0, |stored| stored.seq);
    let anchored = store.anchored_heads(StreamKind::Engine, &[row.engine.0])?;
    let anchored = anchored.get(&row.engine.0).map(|head| {
        format!(
            "Anchor {} was made over the first {} ({})",
            head.anchor,
            head.seq,
            witness(head.hash)
        )
    });
    let mut records: Vec<(String, Stored)> =
        own.into_iter().map(|stored| ("engine".to_owned(), stored)).collect();
    if let Some(aircraft) = row.aircraft {
        let of = row.mark.as_ref().map_or_else(|| "aircraft".to_owned(), Clone::clone);
        let facts = store.facts_of(Stream::aircraft(aircraft))?;
        records.extend(facts.into_iter().map(|stored| (of.clone(), stored)));
    }
    for id in history.fitted_to(row.engine) {
        let of = history.component(id).map_or_else(|| "part".to_owned(), ComponentState::label);
        let facts = store.facts_of(Stream::component(id))?;
        records.extend(facts.into_iter().map(|stored| (of.clone(), stored)));
    }
    records.sort_by_key(|(_, stored)| {
        let entry = &stored.fact.entry;
        std::cmp::Reverse((entry.on, entry.order_in_day, stored.received_at, stored.seq))
    });
    let mut names = Names { store, known: HashMap::new() };
    let entries = records.into_iter().map(|(of, stored)| entry(of, &stored, &mut names));
    Ok(Timeline { entries: entries.collect::<Result<_, _>>()?, head, length, anchored })
}

/// Names of people and workshops, each asked for once.
struct Names<'a> {
    store: &'a Store,
    known: HashMap<PartyId, String>,
}

impl Names<'_> {
    fn of(&mut self, id: PartyId) -> Result<String, Problem> {
        if let Some(name) = self.known.get(&id) {
            return Ok(name.clone());
        }
        let party = self.store.party(id)?;
        let name = match party {
            None => format!("party ending {}", short_id(id.0)),
            Some(it) if it.erased_on.is_some() => format!("erased, ending {}", short_id(id.0)),
            Some(it) => it.name,
        };
        self.known.insert(id, name.clone());
        Ok(name)
    }
}

fn entry(of: String, stored: &Stored, names: &mut Names<'_>) -> Result<Entry, Problem> {
    let content = &stored.fact.entry.content;
    let by = match (content, stored.by) {
        (Content::Inspection(it), _) => Some(it.shop),
        (_, by) => by,
    };
    let mut details = details(content);
    match content {
        Content::Ownership(it) => details.push(names.of(it.owner)?),
        Content::Custody(it) => details.push(names.of(it.shop)?),
        _ => {}
    }
    Ok(Entry {
        id: stored.fact.id.to_string(),
        on: stored.fact.entry.on.to_string(),
        of,
        kind: kind(content),
        details,
        texts: stored.texts.private.iter().map(|(at, text)| beside(at, text)).collect(),
        hours: hours(content),
        by: by.map(|by| names.of(by)).transpose()?,
        report: report(&stored.fact).map(|id| id.to_string()),
    })
}

fn report(fact: &Fact) -> Option<FactId> {
    match &fact.entry.content {
        Content::Inspection(_) => Some(fact.id),
        Content::Amendment(it) => {
            let content = &it.replacement.as_ref()?.content;
            matches!(content, Content::Inspection(_)).then_some(it.root)
        }
        _ => None,
    }
}

const fn kind(content: &Content) -> &'static str {
    match content {
        Content::PartyRegistered(_) => "person or workshop registered",
        Content::AircraftRegistered(_) => "aircraft registered",
        Content::EngineRegistered(_) => "engine registered",
        Content::ComponentRegistered(_) => "part registered",
        Content::Ownership(_) => "belongs to",
        Content::Custody(_) => "in the care of",
        Content::Erased(_) => "name and address erased",
        Content::EngineRemoved(_) => "engine removed",
        Content::EngineInstalled(_) => "engine installed",
        Content::ComponentRemoved(_) => "part removed",
        Content::ComponentFitted(_) => "part fitted",
        Content::MeterChanged(_) => "hour meter changed",
        Content::Reading(_) => "hour meter read",
        Content::Inspection(_) => "inspection or work",
        Content::Event(it) => it.kind.printed(),
        Content::Preserved(_) => "preserved for storage",
        Content::Concession(_) => "permission to run past due",
        Content::HoursAccepted(_) => "estimate of hours accepted",
        Content::ComponentOverhauled(_) => "part overhauled",
        Content::MakerRestart(_) => "record started at zero by the maker",
        Content::Described(_) => "how it is built and used",
        Content::ProgrammeActivated(_) => "programme changed",
        Content::Amendment(Amendment { replacement: Some(_), .. }) => "correction",
        Content::Amendment(Amendment { replacement: None, .. }) => "withdrawal",
    }
}

fn hours(content: &Content) -> Option<String> {
    let meter = |value: Hours| format!("meter {}", value.tenths_up());
    match content {
        Content::EngineRegistered(EngineRegistered { tsn, .. }) => {
            tsn.map(|tsn| format!("TSN {}", tsn.tenths_up()))
        }
        Content::ComponentRegistered(it) => it.hours.map(|it| format!("{} on it", it.tenths_up())),
        Content::EngineRemoved(it) => Some(meter(it.meter)),
        Content::EngineInstalled(it) => Some(meter(it.meter)),
        Content::ComponentRemoved(it) => it.meter.map(meter),
        Content::ComponentFitted(it) => it.meter.map(meter),
        Content::MeterChanged(it) => {
            Some(format!("meter {} to {}", it.old_end.tenths_up(), it.new_start.tenths_up()))
        }
        Content::Reading(it) => Some(meter(it.meter)),
        Content::Event(it) => it.meter.map(meter),
        Content::Inspection(it) => it
            .readings
            .last()
            .map(|reading| meter(reading.meter))
            .or_else(|| it.tsn.map(|tsn| format!("TSN {}", tsn.tenths_up()))),
        Content::Amendment(it) => it.replacement.as_ref().and_then(|entry| hours(&entry.content)),
        _ => None,
    }
}

fn details(content: &Content) -> Vec<String> {
    match content {
        Content::AircraftRegistered(it) => {
            let meter = format!("{}, meter counts {} hours", it.mark, it.basis.word());
            std::iter::once(meter).chain(flown_words(it.flown_by, it.hemisphere)).collect()
        }
        Content::EngineRegistered(it) => {
            let log = if it.tsn.is_some() { "with log" } else { "without log" };
            let named = format!("{} serial {}, {log}", it.engine_type, it.serial);
            std::iter::once(named).chain(it.overhauled.map(papers)).collect()
        }
        Content::ComponentFitted(it) => {
            let host = match it.host {
                Host::Engine(_) => "engine",
                Host::Aircraft(_) => "aircraft",
            };
            vec![match &it.position {
                Some(position) => format!("on the {host}, {position}"),
                None => format!("on the {host}"),
            }]
        }
        Content::ComponentRemoved(it) => {
            it.cause.map(|cause| format!("because of {}", cause.word())).into_iter().collect()
        }
        Content::ComponentRegistered(it) => {
            let code = it.code.as_ref().map(|code| format!("date code {}", code.text));
            let lot = it.lot.as_ref().map(|lot| format!("lot {lot}"));
            let cured = it.cured_on.map(|day| format!("cured {day}"));
            let told = code.into_iter().chain(cured).chain(lot).chain(it.maker_part.clone());
            told.chain(it.overhauled.map(papers)).collect()
        }
        Content::Inspection(it) => inspection(it),
        Content::Custody(it) => it.until.map(|day| format!("until {day}")).into_iter().collect(),
        Content::Preserved(it) => it.until.map(good_until).into_iter().collect(),
        Content::Concession(it) => {
            let item = at_place(it.item.as_str(), it.position.as_ref());
            std::iter::once(item).chain(it.until.map(good_until)).collect()
        }
        Content::HoursAccepted(it) => {
            vec![format!("{} h by estimate, to be looked at again by {}", it.hours, it.until)]
        }
        Content::ComponentOverhauled(it) => vec![release(it.released).to_owned()],
        Content::Described(it) => described(it),
        Content::Amendment(it) => {
            let mut words = vec![format!("of the record ending {}", short_id(it.supersedes.0))];
            if let Some(entry) = &it.replacement {
                words.push(format!("now: {} of {}", kind(&entry.content), entry.on));
                words.extend(details(&entry.content));
            }
            words
        }
        _ => Vec::new(),
    }
}

fn papers(papers: Papers) -> String {
    let since = papers.hours_since.tenths_up();
    format!("by its papers overhauled {}, {since} h run since", papers.on)
}

fn good_until(until: NaiveDate) -> String {
    format!("good until {until}")
}

pub(super) const fn release(released: bool) -> &'static str {
    if released { "release recorded" } else { "reported done, no release recorded" }
}

fn at_place(item: &str, position: Option<&PositionId>) -> String {
    position.map_or_else(|| item.to_owned(), |position| format!("{item} ({position})"))
}

fn described(it: &Described) -> Vec<String> {
    let told = it.values.iter().map(|(attribute, words)| {
        let words: Vec<&str> = words.iter().map(String::as_str).collect();
        format!("{}: {}", attribute.word(), words.join(", "))
    });
    told.collect()
}

fn finding(it: &Finding) -> String {
    let found = at_place(it.item.as_str(), it.position.as_ref());
    let found = format!("found: {found} {}", it.condition.word());
    recheck(it).map_or_else(|| found.clone(), |again| format!("{found}, {again}"))
}

/// When to look again; `None` where that was not said.
pub(super) fn recheck(it: &Finding) -> Option<String> {
    let recheck = it.recheck?;
    let hours = recheck.hours.map(|hours| format!("after {} h", hours.tenths_down()));
    let day = recheck.on.map(|on| format!("by {on}"));
    let ends: Vec<String> = hours.into_iter().chain(day).collect();
    (!ends.is_empty()).then(|| format!("look again {}", ends.join(" or ")))
}

/// How much an overhaul covered, in words.
pub(super) const fn overhaul(scope: OverhaulScope) -> &'static str {
    match scope {
        OverhaulScope::TopEnd => "top-end overhaul",
        OverhaulScope::Crankshaft => "crankshaft overhaul",
        OverhaulScope::Full => "full overhaul",
    }
}

fn inspection(it: &Inspection) -> Vec<String> {
    let mut words = Vec::new();
    words.extend(it.work_order.as_ref().map(|order| format!("work order {order}")));
    words.push(format!("opened {}", it.opened_on));
    words.extend(it.overhaul.map(|scope| overhaul(scope).to_owned()));
    words.extend(it.test_run.map(|run| format!("test run {} h", run.tenths_up())));
    words.extend(it.run_in.map(|run| format!("run in {} h", run.tenths_up())));
    words.extend(it.work.iter().map(|work| {
        let positions: Vec<&str> = work.positions.iter().map(PositionId::as_str).collect();
        let at = if positions.is_empty() {
            String::new()
        } else {
            format!(" ({})", positions.join(", "))
        };
        format!("{} {}{at}", work.item, work.action.word())
    }));
    words.extend(it.findings.iter().map(finding));
    if !it.measurements.is_empty() {
        words
            .push(counted(i64::try_from(it.measurements.len()).unwrap_or(i64::MAX), "measurement"));
    }
    words.extend(super::sets::bench_words(it));
    words.push(release(it.released).to_owned());
    words
}

/// `/release/by` and a name as `release by: name`; `/findings/0/note` as `findings 1 note: text`.
fn beside(pointer: &str, text: &str) -> String {
    let places: Vec<String> = pointer
        .split('/')
        .filter(|place| !place.is_empty())
        .map(|place| {
            place.parse::<u64>().map_or_else(|_| place.to_owned(), |at| (at + 1).to_string())
        })
        .collect();
    format!("{}: {text}", places.join(" "))
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    pub(in crate::pages) fn sample(name: &str) -> Timeline {
        let text = || name.to_owned();
        let entry = Entry {
            id: "x".to_owned(),
            on: "2026-11-25".to_owned(),
            of: text(),
            kind: "inspection or work",
            details: vec![text(), text()],
            texts: vec![text()],
            hours: Some(text()),
            by: Some(text()),
            report: Some("x".to_owned()),
        };
        let head = Some("00".to_owned());
        Timeline { entries: vec![entry], head, length: 1, anchored: Some(text()) }
    }

    #[test]
    fn texts_beside_a_record_say_where_they_stood() {
        assert_eq!(beside("/release/by", "A. Person"), "release by: A. Person");
        assert_eq!(beside("/findings/0/note", "scored"), "findings 1 note: scored");
    }
}
