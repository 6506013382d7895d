//! Composing an inspector's mail: how the fleet stands, the worst first, and who or what has gone quiet.

use crate::compose::{NAME_CHARS, counted_size, counts, counts_words, head, in_trouble};
use crate::engine::{SENTENCE_CHARS, name_of, sentence};
use crate::lists::{Heading, section};
use crate::snapshot::{EngineSnapshot, InspectorSnapshot};
use crate::view::{Entry, Head, Labelled, ListReport, Section};
use chrono::NaiveDate;
use gudgeon_life::calendar::days_between;
use gudgeon_life::line::DueLine;
use gudgeon_life::status::Status;
use gudgeon_life::week::ReportWeek;
use gudgeon_life::words::{clean, counted, day_from, line_words, short_id, urgency};

/// From this age of its last reading on, an engine in an aircraft is listed: a quarter. Common practice.
pub const READING_OLD_DAYS: u64 = 91;
/// From so many days without a post on, a workshop is listed: four weeks. Common practice.
pub const SILENT_DAYS: u64 = 28;
/// The most lines told of one engine; the rest is counted.
const LINES_MAX: usize = 3;

/// The mail for a week. At most `shown_max` entries of each list are given.
#[must_use]
pub fn compose_inspector(
    snapshot: &InspectorSnapshot,
    week: ReportWeek,
    as_of: NaiveDate,
    shown_max: usize,
) -> ListReport {
    let all: i64 = snapshot.counts.iter().map(|(_, count)| count).sum();
    let troubled: Vec<(Status, usize)> = snapshot
        .counts
        .iter()
        .filter(|(status, _)| *status < Status::OnCondition)
        .map(|(status, count)| (*status, usize::try_from(*count).unwrap_or(usize::MAX)))
        .collect();
    let engines = counted(all, "engine");
    let headline = match troubled.as_slice() {
        [] => format!("nothing due on record, {engines}"),
        troubled => format!("{} of {engines}", counts_words(troubled)),
    };
    let every: Vec<(Status, usize)> = snapshot
        .counts
        .iter()
        .map(|(status, count)| (*status, usize::try_from(*count).unwrap_or(usize::MAX)))
        .collect();
    let troubled: usize = troubled.iter().map(|(_, count)| count).sum();
    let head = head("State of the fleet", &snapshot.name, "the inspector", week, as_of);
    ListReport {
        head: Head {
            verdict: format!("{}.", sentence(&headline).trim_end_matches('.')),
            headline,
            lead: vec![
                format!("By its worst line, each engine counts once: {}.", counts_words(&every)),
                quiet(snapshot),
            ],
            invented: snapshot.worst.iter().any(EngineSnapshot::invented),
            ..head
        },
        sections: vec![
            worst(&snapshot.worst, troubled, as_of, shown_max),
            unread(snapshot, as_of, shown_max),
            silent(snapshot, as_of, shown_max),
            mails(snapshot, shown_max),
            muted(snapshot, as_of, shown_max),
        ],
    }
}

/// What has gone quiet, in one sentence.
fn quiet(snapshot: &InspectorSnapshot) -> String {
    let silent = snapshot.silent.len();
    format!(
        "{} without a recent reading; {silent} of {} silent; {} that did not arrive, or perhaps not; {} without mails by choice.",
        sentence(&counted(snapshot.unread_count, "engine")).trim_end_matches('.'),
        counted_size(snapshot.shops, "workshop"),
        counted_size(snapshot.mails.len(), "mail"),
        snapshot.muted.len()
    )
}

fn worst(
    engines: &[EngineSnapshot],
    troubled: usize,
    as_of: NaiveDate,
    shown_max: usize,
) -> Section {
    let troubled_here = engines.iter().filter(|it| it.worst(as_of) < Status::OnCondition);
    let entries = troubled_here.take(shown_max).map(|engine| {
        let status = engine.worst(as_of);
        Entry {
            key: status.word().to_owned(),
            label: status.printed().to_owned(),
            title: engine.name(),
            place: Some(engine.title()),
            details: engine.in_short(as_of),
        }
    });
    let heading = Heading {
        title: "Engines to look at, worst first",
        intro: "Each with its worst lines. The pages of the service show all of them, with their workings.".to_owned(),
        none: "None: nothing on record is due or unknown.",
        columns: ("Engine", "Worst lines"),
    };
    section(heading, entries.collect(), troubled, shown_max)
}

impl EngineSnapshot {
    /// Its worst lines in a few words.
    fn in_short(&self, as_of: NaiveDate) -> Vec<Labelled> {
        let mut lines: Vec<&DueLine> =
            self.lines.iter().filter(|line| in_trouble(line, as_of)).collect();
        lines.sort_by_key(|line| urgency(line, as_of));
        let told = lines.iter().take(LINES_MAX).map(|line| {
            let words = line_words(line, as_of);
            let when = words.late.unwrap_or(words.due);
            Labelled::new(line.status(as_of).printed(), format!("{}: {when}.", self.titled(line)))
        });
        let more = counts(lines.iter().skip(LINES_MAX).map(|line| line.status(as_of)));
        let more = (!more.is_empty()).then(|| Labelled::new("More", counts_words(&more) + "."));
        let conflicts = self.row.conflicts.first();
        let conflicts = conflicts
            .map(|it| Labelled::new("Records contradict", sentence(&clean(it, SENTENCE_CHARS))));
        let blind = self.engine_type.is_none().then(|| {
            Labelled::new("No programme", "nothing can be counted for this type of engine.")
        });
        told.chain(more).chain(conflicts).chain(blind).collect()
    }
}

fn unread(snapshot: &InspectorSnapshot, as_of: NaiveDate, shown_max: usize) -> Section {
    let entries = snapshot.unread.iter().take(shown_max).map(|row| Entry {
        key: "unread".to_owned(),
        label: row
            .hours_on
            .map_or_else(|| "no reading".to_owned(), |on| counted(days_between(on, as_of), "day")),
        title: name_of(row),
        place: row.serial.as_ref().map(|it| format!("serial {}", clean(it, NAME_CHARS))),
        details: vec![Labelled::new(
            "Last reading",
            row.hours_on
                .map_or_else(|| "none on record.".to_owned(), |on| day_from(on, as_of) + "."),
        )],
    });
    let heading = Heading {
        title: "Engines without readings",
        intro: format!(
            "In an aircraft, and no reading for {READING_OLD_DAYS} days: what is due by hours is not known there."
        ),
        none: "None: every engine in an aircraft has a recent reading.",
        columns: ("How long, and which", "What is known"),
    };
    let all = usize::try_from(snapshot.unread_count).unwrap_or(usize::MAX);
    section(heading, entries.collect(), all, shown_max)
}

fn silent(snapshot: &InspectorSnapshot, as_of: NaiveDate, shown_max: usize) -> Section {
    let entries = snapshot.silent.iter().take(shown_max).map(|shop| Entry {
        key: "silent".to_owned(),
        label: shop.last_on.map_or_else(
            || "never posted".to_owned(),
            |on| counted(days_between(on, as_of) / 7, "week"),
        ),
        title: named(&shop.name, "a workshop whose name is erased"),
        place: None,
        details: vec![Labelled::new(
            "Last post",
            shop.last_on
                .map_or_else(|| "none on record.".to_owned(), |on| day_from(on, as_of) + "."),
        )],
    });
    let heading = Heading {
        title: "Workshops that are silent",
        intro: format!(
            "No post for {SILENT_DAYS} days. A silent workshop may have no work, or work that nobody posts."
        ),
        none: "None: every workshop posted lately.",
        columns: ("How long, and which", "What is known"),
    };
    section(heading, entries.collect(), snapshot.silent.len(), shown_max)
}

fn mails(snapshot: &InspectorSnapshot, shown_max: usize) -> Section {
    let entries = snapshot.mails.iter().take(shown_max).map(|mail| Entry {
        key: "mail".to_owned(),
        label: if mail.failed { "failed" } else { "perhaps not arrived" }.to_owned(),
        title: named(&mail.name, &format!("recipient ending {}", short_id(mail.recipient.0))),
        place: Some(format!("week {}", clean(&mail.week, NAME_CHARS))),
        details: vec![Labelled::new("Why", sentence(&clean(&mail.why, SENTENCE_CHARS)))],
    });
    let heading = Heading {
        title: "Mails that did not arrive",
        intro: "These people may not know what is due. A mail that perhaps did not arrive is never sent again by itself.".to_owned(),
        none: "None: every mail was accepted.",
        columns: ("Who", "What is known"),
    };
    section(heading, entries.collect(), snapshot.mails.len(), shown_max)
}

fn muted(snapshot: &InspectorSnapshot, as_of: NaiveDate, shown_max: usize) -> Section {
    let entries = snapshot.muted.iter().take(shown_max).map(|it| Entry {
        key: "muted".to_owned(),
        label: "no mails".to_owned(),
        title: named(&it.name, "somebody whose name is erased"),
        place: None,
        details: vec![Labelled::new(
            "Since",
            it.since.map_or_else(|| "not on record.".to_owned(), |on| day_from(on, as_of) + "."),
        )],
    });
    let heading = Heading {
        title: "People who want no mails",
        intro: "Nobody writes to them: they have to be told in another way.".to_owned(),
        none: "None on record.",
        columns: ("Who", "Since when"),
    };
    section(heading, entries.collect(), snapshot.muted.len(), shown_max)
}

fn named(name: &str, nameless: &str) -> String {
    let name = clean(name, NAME_CHARS);
    if name.is_empty() { nameless.to_owned() } else { name }
}

#[cfg(test)]
#[path = "inspector_tests.rs"]
mod tests;
