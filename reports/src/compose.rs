//! Composing an owner's mail: a pure function from what is on record to words.
//!
//! Nothing worse than "not due", no contradiction and no change means no mail.

use crate::snapshot::{EngineSnapshot, OwnerSnapshot};
use crate::view::{EngineBlock, Head, OwnerReport};
use chrono::NaiveDate;
use gudgeon_life::cautions::CAUTIONS;
use gudgeon_life::line::DueLine;
use gudgeon_life::status::Status;
use gudgeon_life::week::ReportWeek;
use gudgeon_life::words::{clean, counted, day, line_words, urgency};
use std::collections::HashSet;

/// The longest any name or title may print, in characters.
pub(crate) const NAME_CHARS: usize = 80;
/// The longest the subject's mark may print, in characters.
const MARK_CHARS: usize = 24;
/// The most statuses named in a subject.
const HEADLINE_PARTS: usize = 3;

/// A line's place in the snapshot: engine, line.
type At = (usize, usize);

/// The mail for a week, or `None` when there is nothing to say. At most `shown_max` lines are given in
/// full, the worst of all engines; the rest is counted.
#[must_use]
pub fn compose(
    snapshot: &OwnerSnapshot,
    week: ReportWeek,
    as_of: NaiveDate,
    shown_max: usize,
) -> Option<OwnerReport> {
    let mut order: Vec<usize> = (0..snapshot.engines.len()).collect();
    order.sort_by_key(|at| {
        snapshot.engines.get(*at).map(|engine| (engine.worst(as_of), engine.name()))
    });
    let engines: Vec<&EngineSnapshot> =
        order.iter().filter_map(|at| snapshot.engines.get(*at)).collect();
    let troubled =
        engines.iter().filter(|engine| engine.worst(as_of) < Status::OnCondition).count();
    let changed = engines.iter().any(|engine| engine.has_changed(as_of));
    let first = engines.first().filter(|_| troubled > 0 || changed)?;
    let trouble = trouble_of(&engines, as_of);
    let shown: HashSet<At> = trouble.iter().take(shown_max).map(|(at, _)| *at).collect();
    let counts = counts(trouble.iter().map(|(_, line)| line.status(as_of)));
    let blocks: Vec<EngineBlock> = engines
        .iter()
        .enumerate()
        .take(shown_max)
        .map(|(at, engine)| {
            let shown_here: HashSet<usize> =
                shown.iter().filter(|(of, _)| *of == at).map(|(_, line)| *line).collect();
            engine.block(&shown_here, as_of)
        })
        .collect();
    let head = head("Engine items due", &snapshot.name, "the owner", week, as_of);
    Some(OwnerReport {
        head: Head {
            headline: headline(&counts, troubled),
            verdict: verdict(&counts),
            lead: vec![attention(&engines, troubled), worst(&engines, &trouble, as_of)],
            cut: engines_cut(&engines, blocks.len(), as_of),
            witnessed: blocks.iter().any(|block| block.kept.is_some()),
            invented: engines.iter().any(|engine| engine.invented()),
            ..head
        },
        first: clean(&first.name(), MARK_CHARS),
        others: troubled.saturating_sub(1),
        engines: blocks,
    })
}

/// The beginning and the end of a mail, without what it says.
pub(crate) fn head(
    what: &str,
    name: &str,
    nameless: &str,
    week: ReportWeek,
    as_of: NaiveDate,
) -> Head {
    let name = clean(name, NAME_CHARS);
    Head {
        what: what.to_owned(),
        week: week.to_string(),
        period: format!("{} to {}", day(week.monday()), day(week.sunday())),
        as_of: day(as_of),
        name: if name.is_empty() { nameless.to_owned() } else { name },
        headline: String::new(),
        verdict: String::new(),
        lead: Vec::new(),
        invented: false,
        cut: None,
        witnessed: false,
        cautions: CAUTIONS.iter().map(|caution| (*caution).to_owned()).collect(),
        links: None,
    }
}

/// The lines in trouble of all engines: worst status first, then the most binding, then the earliest due.
fn trouble_of<'a>(engines: &[&'a EngineSnapshot], as_of: NaiveDate) -> Vec<(At, &'a DueLine)> {
    let mut trouble: Vec<(At, &DueLine)> = engines
        .iter()
        .enumerate()
        .flat_map(|(engine, of)| {
            of.lines.iter().enumerate().map(move |(line, it)| ((engine, line), it))
        })
        .filter(|(_, line)| in_trouble(line, as_of))
        .collect();
    trouble.sort_by_key(|(at, line)| (urgency(line, as_of), *at));
    trouble
}

pub(crate) fn in_trouble(line: &DueLine, as_of: NaiveDate) -> bool {
    line.status(as_of) < Status::OnCondition
}

/// How many lines stand at each status, worst first, without the empty ones.
pub(crate) fn counts(statuses: impl Iterator<Item = Status>) -> Vec<(Status, usize)> {
    let statuses: Vec<Status> = statuses.collect();
    Status::ALL
        .into_iter()
        .map(|status| (status, statuses.iter().filter(|it| **it == status).count()))
        .filter(|(_, count)| *count > 0)
        .collect()
}

pub(crate) fn counts_words(counts: &[(Status, usize)]) -> String {
    let parts: Vec<String> =
        counts.iter().map(|(status, count)| format!("{count} {}", status.printed())).collect();
    parts.join(", ")
}

fn headline(counts: &[(Status, usize)], troubled: usize) -> String {
    match counts.get(..HEADLINE_PARTS.min(counts.len())) {
        Some(parts) if !parts.is_empty() => counts_words(parts),
        _ if troubled == 0 => "nothing due, something changed".to_owned(),
        _ => "records to put right".to_owned(),
    }
}

fn verdict(counts: &[(Status, usize)]) -> String {
    match counts {
        [] => "Nothing due on record.".to_owned(),
        counts => format!("{}.", counts_words(counts)),
    }
}

fn attention(engines: &[&EngineSnapshot], troubled: usize) -> String {
    let all = counted_size(engines.len(), "engine");
    let conflicting = engines.iter().filter(|engine| !engine.row.conflicts.is_empty()).count();
    if troubled == 0 {
        return format!("Nothing needs attention on {all}; what changed stands below.");
    }
    let needed = format!("Attention needed on {troubled} of {all}.");
    if conflicting == 0 {
        return needed;
    }
    format!("{needed} Records contradict one another on {}.", counted_size(conflicting, "engine"))
}

fn worst(engines: &[&EngineSnapshot], trouble: &[(At, &DueLine)], as_of: NaiveDate) -> String {
    let first = trouble.first().and_then(|((at, _), line)| Some((engines.get(*at)?, line)));
    let Some((engine, line)) = first else {
        let blind = engines.iter().any(|engine| engine.worst(as_of) < Status::OnCondition);
        if !blind {
            return "No item is due on record.".to_owned();
        }
        return "No item is due on record, but the records need putting right.".to_owned();
    };
    let place = engine.place(line).map(|place| format!(", {place}")).unwrap_or_default();
    let words = line_words(line, as_of);
    format!(
        "Worst: {}, {}{place}: {}.",
        clean(&engine.name(), MARK_CHARS),
        engine.line_title(line),
        words.late.unwrap_or(words.due)
    )
}

fn engines_cut(engines: &[&EngineSnapshot], shown: usize, as_of: NaiveDate) -> Option<String> {
    let cut = engines.get(shown..).filter(|cut| !cut.is_empty())?;
    let lines = cut.iter().flat_map(|engine| &engine.lines).map(|line| line.status(as_of));
    let words = counts_words(&counts(lines));
    let words = if words.is_empty() { "no due lines".to_owned() } else { words };
    Some(format!("{} not shown: {words}.", counted_size(cut.len(), "more engine")))
}

pub(crate) fn counted_size(count: usize, noun: &str) -> String {
    counted(i64::try_from(count).unwrap_or(i64::MAX), noun)
}

#[cfg(test)]
#[path = "compose_tests.rs"]
mod tests;
