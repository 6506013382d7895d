//! Marks, matched sets and what is said of an engine without a log, as the engine page shows them.

use super::place;
use chrono::NaiveDate;
use gudgeon_life::fact::{Fastening, Inspection, Length, MatchedPart};
use gudgeon_life::history::{EngineState, History, Log, MarkRecord};
use gudgeon_life::ids::{EngineId, ItemId, PositionId};
use gudgeon_life::line::DueLine;
use gudgeon_life::matched::{Mismatch, mismatches, sets};
use gudgeon_life::no_log::{age_words, inspect_now};
use gudgeon_life::programme::EngineType;
use gudgeon_life::words::counted;
use serde::Serialize;
use std::collections::BTreeMap;

/// What marks say of an engine.
#[derive(Serialize, Default)]
pub(super) struct Marks {
    /// The parts that were put together last at each position.
    sets: Vec<Marked>,
    /// The last mark on every other thing.
    others: Vec<Marked>,
    /// Parts that are not where they ran, or with what they did not run with.
    mismatches: Vec<String>,
}

#[derive(Serialize)]
struct Marked {
    what: String,
    marks: String,
    on: String,
}

/// What is said of an engine that has no log.
#[derive(Serialize)]
pub(super) struct NoLog {
    age: Option<String>,
    inspect_now: Vec<String>,
}

pub(super) fn marks(history: &History, id: EngineId, engine_type: Option<&EngineType>) -> Marks {
    let Some(engine) = history.engine(id) else { return Marks::default() };
    let sets = sets(engine).into_iter().map(|(position, record)| Marked {
        what: place(engine_type, position.as_str()),
        marks: record.set.parts.iter().map(part).collect::<Vec<_>>().join(", "),
        on: record.moment.on.to_string(),
    });
    let others = last_marks(engine).into_values().map(|it| Marked {
        what: match &it.position {
            Some(at) => format!("{}, {}", it.item, place(engine_type, at.as_str())),
            None => it.item.to_string(),
        },
        marks: it.text.clone(),
        on: it.moment.on.to_string(),
    });
    let mismatches = mismatches(history, id).iter().map(Mismatch::printed).collect();
    Marks { sets: sets.collect(), others: others.collect(), mismatches }
}

fn part(it: &MatchedPart) -> String {
    let new = if it.is_new { " (new)" } else { "" };
    format!("{} {}{new}", it.part.as_str().replace('-', " "), it.mark)
}

/// The mark made last on each thing at each place.
fn last_marks(engine: &EngineState) -> BTreeMap<(&ItemId, Option<&PositionId>), &MarkRecord> {
    engine.marks.iter().map(|it| ((&it.item, it.position.as_ref()), it)).collect()
}

/// What is said of an engine without a log; `None` for one that has it.
pub(super) fn no_log(
    history: &History,
    id: EngineId,
    engine_type: Option<&EngineType>,
    lines: &[DueLine],
    as_of: NaiveDate,
) -> Option<NoLog> {
    let unlogged = history.engine(id)?.log == Log::Unknown;
    let title = |line: &DueLine| match &line.position {
        Some(at) => format!("{}, {}", line.title, place(engine_type, at.as_str())),
        None => line.title.clone(),
    };
    unlogged.then(|| NoLog {
        age: age_words(history, id),
        inspect_now: inspect_now(lines, as_of).into_iter().map(title).collect(),
    })
}

/// Marks, sets, fastenings and photographs of an inspection, as the record's line in the timeline says them.
pub(super) fn bench_words(it: &Inspection) -> Vec<String> {
    let photos: usize = it.findings.iter().map(|finding| finding.photos.len()).sum();
    let photos = photos + it.marks.iter().map(|mark| mark.photos.len()).sum::<usize>();
    let named = i64::try_from(photos).unwrap_or(i64::MAX);
    let photos = (photos > 0).then(|| counted(named, "photograph"));
    hardware_words(it, None).into_iter().chain(photos).collect()
}

/// Marks, sets and fastenings of an inspection, each in one line; places by name where the type is given.
pub(super) fn hardware_words(it: &Inspection, engine_type: Option<&EngineType>) -> Vec<String> {
    let at = |position: &Option<PositionId>| {
        let named = position.as_ref().map(|it| place(engine_type, it.as_str()));
        named.map_or_else(String::new, |named| format!(" ({named})"))
    };
    let marks = it
        .marks
        .iter()
        .map(|mark| format!("marked: {}{} {}", mark.item, at(&mark.position), mark.text));
    let sets = it.matched.iter().map(|set| {
        let parts: Vec<String> = set.parts.iter().map(part).collect();
        format!("together at {}: {}", place(engine_type, set.position.as_str()), parts.join(", "))
    });
    let fastenings =
        it.fastenings.iter().map(|it| format!("{}{} {}", it.item, at(&it.position), fastening(it)));
    marks.chain(sets).chain(fastenings).collect()
}

fn fastening(it: &Fastening) -> String {
    let length = |it: Length| format!("{} {}", it.value, it.unit.word());
    let told = [
        it.washer.map(|it| format!("dished washer {}", it.printed())),
        it.bolt.map(|it| format!("bolt {}, room {}", length(it.length), length(it.room))),
        it.torque.as_ref().map(|it| format!("{} {}", it.value, it.unit)),
        it.compound.as_ref().map(|it| format!("thread compound {it}")),
        it.locking.map(|it| format!("locked by {}", it.word().replace('-', " "))),
    ];
    let told: Vec<String> = told.into_iter().flatten().collect();
    format!("{}: {}", it.seen.word(), told.join(", "))
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    pub(in crate::pages) fn sample(name: &str) -> (Marks, NoLog) {
        let text = || name.to_owned();
        let marked = || vec![Marked { what: text(), marks: text(), on: "2026-11-25".to_owned() }];
        let marks = Marks { sets: marked(), others: marked(), mismatches: vec![text()] };
        (marks, NoLog { age: Some(text()), inspect_now: vec![text()] })
    }
}
