//! What an inspection found, measured and did, in the words of the bench.

use super::named;
use crate::app::App;
use crate::check;
use crate::pages::place;
use crate::pages::sets::hardware_words;
use crate::pages::timeline::recheck;
use crate::problem::Problem;
use gudgeon_life::fact::{Content, Finding, Inspection, Measurement, Taken};
use gudgeon_life::ids::PositionId;
use gudgeon_life::measure::{Judgement, judgements};
use gudgeon_life::programme::EngineType;
use gudgeon_life::sheet::Missing;
use gudgeon_life::version::hex;
use gudgeon_store::{PhotoState, Stored, photos_named};
use serde::Serialize;
use std::collections::HashMap;

/// How many digits of a photograph's SHA-256 are printed: enough to find it among those on file.
const DIGEST_DIGITS: usize = 12;

/// What the version that stands says.
#[derive(Serialize)]
pub(super) struct Found {
    note: Option<String>,
    findings: Vec<Seen>,
    measured: Vec<Measured>,
    judged: Vec<Judged>,
    work: Vec<Work>,
    /// Fastenings, marks and the parts that went together.
    hardware: Vec<String>,
    /// What is odd about the measurements.
    warnings: Vec<String>,
    /// What its sheet asks for and the report leaves open; `None` where it names no sheet.
    open: Option<Open>,
}

#[derive(Serialize)]
struct Seen {
    what: String,
    place: String,
    condition: String,
    again: Option<String>,
    note: Option<String>,
    photos: Vec<String>,
}

#[derive(Serialize)]
struct Measured {
    what: String,
    place: String,
    read: String,
    with: String,
}

#[derive(Serialize)]
struct Judged {
    what: String,
    place: String,
    figure: String,
    limit: String,
    verdict: &'static str,
    source: String,
}

#[derive(Serialize)]
struct Work {
    what: String,
    places: String,
    action: &'static str,
    note: Option<String>,
}

#[derive(Serialize)]
struct Open {
    sheet: String,
    points: Vec<String>,
}

/// What a report says in its engine type's terms, as far as a programme is active.
pub(super) fn of(app: &App, stored: &Stored, report: &check::Report<'_>) -> Result<Found, Problem> {
    let engine_type = report.engine_type(app)?;
    let warnings = report.odd(app, engine_type.as_deref())?;
    let digests: Vec<[u8; 32]> = photos_named(&report.entry.content).into_iter().collect();
    let teller = Teller {
        engine_type: engine_type.as_deref(),
        stored,
        photos: app.store.photo_states(&digests)?.into_iter().collect(),
    };
    let warnings = warnings.into_iter().map(|it| it.detail).collect();
    Ok(teller.found(report.inspection, warnings))
}

/// Where the inspection's own fields stand in the record's body: an amendment holds them one step down.
pub(super) fn prefix(stored: &Stored) -> &'static str {
    if matches!(stored.fact.entry.content, Content::Amendment(_)) { "/inspection" } else { "" }
}

/// What is needed to put a report in words.
struct Teller<'a> {
    engine_type: Option<&'a EngineType>,
    stored: &'a Stored,
    photos: HashMap<[u8; 32], PhotoState>,
}

impl Teller<'_> {
    fn found(&self, it: &Inspection, warnings: Vec<String>) -> Found {
        let judged = self.engine_type.map_or_else(Vec::new, |engine_type| {
            judgements(it, &engine_type.bench).iter().map(|it| self.judged(it)).collect()
        });
        Found {
            note: self.text("/note"),
            findings: self.findings(it),
            measured: numbered(&it.measurements).map(|(at, it)| self.measured(at, it)).collect(),
            judged,
            work: self.work(it),
            hardware: self.hardware(it),
            warnings,
            open: self.open(it),
        }
    }

    /// What was written beside a field, where it is still kept.
    fn text(&self, pointer: &str) -> Option<String> {
        let pointer = format!("{}{pointer}", prefix(self.stored));
        self.stored.texts.private.get(&pointer).cloned()
    }

    fn place(&self, position: Option<&PositionId>) -> String {
        position.map_or_else(|| "engine".to_owned(), |it| place(self.engine_type, it.as_str()))
    }

    /// In the order of the engine's places, the engine as a whole first.
    fn findings(&self, it: &Inspection) -> Vec<Seen> {
        let order = |finding: &Finding| {
            let at = finding.position.as_ref()?;
            let known = &self.engine_type?.positions;
            Some(known.iter().position(|it| it.id == *at).unwrap_or(known.len()))
        };
        let mut findings: Vec<(usize, &Finding)> = numbered(&it.findings).collect();
        findings.sort_by_key(|(_, finding)| order(finding));
        findings
            .into_iter()
            .map(|(at, finding)| Seen {
                what: named(&finding.item, self.engine_type),
                place: self.place(finding.position.as_ref()),
                condition: finding.condition.word().replace('-', " "),
                again: recheck(finding),
                note: self.text(&format!("/findings/{at}/note")),
                photos: finding.photos.iter().map(|it| self.photo(it)).collect(),
            })
            .collect()
    }

    /// A page's session may not load photographs, so their digests stand for them.
    fn photo(&self, digest: &[u8; 32]) -> String {
        let digits: String = hex(*digest).chars().take(DIGEST_DIGITS).collect();
        let state = match self.photos.get(digest) {
            Some(PhotoState::Here) => "here",
            Some(PhotoState::Erased) => "erased",
            Some(PhotoState::Missing) | None => "missing, not sent yet",
        };
        format!("photograph {digits}\u{2026}: {state}")
    }

    fn measured(&self, at: usize, it: &Measurement) -> Measured {
        let rule = self.engine_type.and_then(|known| known.bench.quantity(&it.quantity));
        let assumed = || {
            let gauge = rule?.gauge.as_ref()?;
            Some(format!("{}, as the engine type names it", gauge.name))
        };
        let gauge = it.gauge.clone().or_else(assumed);
        let uncertainty = it.uncertainty.as_ref().map(|value| format!("± {value} {}", it.unit));
        let warmth = it.temperature.as_ref().map(|(value, unit)| format!("at {value} {unit}"));
        let wrench = it
            .wrench
            .as_ref()
            .map(|it| format!("wrench {}, straight extension {}", it.length, it.extension));
        let with: Vec<String> =
            [gauge, uncertainty, warmth, wrench].into_iter().flatten().collect();
        Measured {
            what: rule
                .map_or_else(|| it.quantity.as_str().replace('-', " "), |it| it.title.clone()),
            place: self.place(it.position.as_ref()),
            read: format!("{} {}", self.readings(at, &it.taken), it.unit),
            with: with.join(", "),
        }
    }

    /// All readings as they were written, with their last zeros; the two directions of a grid apart.
    fn readings(&self, at: usize, taken: &Taken) -> String {
        let written = |place: &str, value: &String| {
            let pointer = format!("{}/measurements/{at}/{place}", prefix(self.stored));
            self.stored.texts.as_posted.get(&pointer).unwrap_or(value).clone()
        };
        let list = |name: &str, values: &[String]| {
            let values = numbered(values).map(|(at, it)| written(&format!("{name}/{at}"), it));
            values.collect::<Vec<_>>().join(", ")
        };
        match taken {
            Taken::One(value) => written("value", value),
            Taken::Several(values) => list("readings", values),
            Taken::Grid { a, b } => format!("a {}; b {}", list("grid/a", a), list("grid/b", b)),
        }
    }

    fn judged(&self, it: &Judgement<'_>) -> Judged {
        let unit = it.rule.unit;
        let figure = it.reading.map(|reading| {
            if reading.low == reading.high {
                return format!("{} {unit}", reading.value);
            }
            format!("{} {unit} ({} to {})", reading.value, reading.low, reading.high)
        });
        Judged {
            what: it.rule.title.clone(),
            place: self.place(it.position),
            figure: figure.unwrap_or_else(|| "none".to_owned()),
            limit: it.rule.limit.to_string(),
            verdict: it.outcome.printed(),
            source: it.rule.source.clone(),
        }
    }

    fn work(&self, it: &Inspection) -> Vec<Work> {
        let work = numbered(&it.work).map(|(at, work)| {
            let places: Vec<String> =
                work.positions.iter().map(|it| self.place(Some(it))).collect();
            Work {
                what: named(&work.item, self.engine_type),
                places: if places.is_empty() { self.place(None) } else { places.join(", ") },
                action: work.action.word(),
                note: self.text(&format!("/work/{at}/note")),
            }
        });
        work.collect()
    }

    fn hardware(&self, it: &Inspection) -> Vec<String> {
        let photos = it.marks.iter().flat_map(|mark| {
            mark.photos.iter().map(move |it| format!("mark {}: {}", mark.text, self.photo(it)))
        });
        hardware_words(it, self.engine_type).into_iter().chain(photos).collect()
    }

    fn open(&self, it: &Inspection) -> Option<Open> {
        let sheet = self.engine_type?.bench.sheet(it.sheet.as_ref()?)?;
        let point = |it: &Missing<'_>| match it.position {
            Some(at) => format!("{}. {}: {}", it.number, it.point.title, self.place(Some(at))),
            None => format!("{}. {}", it.number, it.point.title),
        };
        let points = sheet.missing(it).iter().map(point).collect();
        Some(Open { sheet: sheet.title.clone(), points })
    }
}

fn numbered<T>(list: &[T]) -> impl Iterator<Item = (usize, &T)> {
    list.iter().enumerate()
}

#[cfg(test)]
pub(in crate::pages) mod tests {
    use super::*;

    pub(in crate::pages) fn sample(name: &str) -> Found {
        let text = || name.to_owned();
        let seen = Seen {
            what: text(),
            place: text(),
            condition: text(),
            again: Some(text()),
            note: Some(text()),
            photos: vec![text()],
        };
        let judged = Judged {
            what: text(),
            place: text(),
            figure: text(),
            limit: text(),
            verdict: "within limit",
            source: text(),
        };
        let work = Work { what: text(), places: text(), action: "renewed", note: Some(text()) };
        Found {
            note: Some(text()),
            findings: vec![seen],
            measured: vec![Measured { what: text(), place: text(), read: text(), with: text() }],
            judged: vec![judged],
            work: vec![work],
            hardware: vec![text()],
            warnings: vec![text()],
            open: Some(Open { sheet: text(), points: vec![text()] }),
        }
    }
}
