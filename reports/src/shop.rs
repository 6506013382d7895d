//! Composing a workshop's mail: the work coming in week by week, the parts to order for it, the sheets to print, and
//! the posts that need a correction.

use crate::compose::{NAME_CHARS, counted_size, head, in_trouble};
use crate::engine::{SENTENCE_CHARS, sentence};
use crate::lists::{Heading, capped, section};
use crate::snapshot::{EngineSnapshot, PostInDoubt, ShopSnapshot};
use crate::view::{Entry, Head, Labelled, ListReport, Section};
use chrono::{Days, NaiveDate};
use gudgeon_life::ids::ItemId;
use gudgeon_life::line::DueLine;
use gudgeon_life::programme::{EngineType, Subject};
use gudgeon_life::renewals::{Reason, Renewal};
use gudgeon_life::sheet::Sheet;
use gudgeon_life::status::Status;
use gudgeon_life::week::ReportWeek;
use gudgeon_life::words::{clean, day, day_from, line_words, short_id, urgency};
use std::collections::BTreeMap;

/// How far ahead a workshop is told of work: eight weeks, enough to order parts. Common practice.
pub const AHEAD_DAYS: u64 = 56;

/// The mail for a week, or `None` when nothing is coming in and no post needs anything. At most `shown_max`
/// entries of each list are given.
#[must_use]
pub fn compose_shop(
    snapshot: &ShopSnapshot,
    week: ReportWeek,
    as_of: NaiveDate,
    shown_max: usize,
) -> Option<ListReport> {
    let jobs = jobs(&snapshot.engines, as_of);
    let parts = parts(snapshot);
    let sheets = sheets(&snapshot.engines, as_of);
    if jobs.is_empty() && parts.is_empty() && snapshot.posts.is_empty() {
        return None;
    }
    let now = jobs.iter().filter(|job| job.when == When::Now).count();
    let pieces: usize = parts.iter().map(|part| part.pieces).sum();
    let counts = [
        (now, format!("{} now", counted_size(now, "job"))),
        (jobs.len() - now, format!("{} in the weeks ahead", jobs.len() - now)),
        (pieces, format!("{} to order", counted_size(pieces, "part"))),
        (
            snapshot.posts.len(),
            format!("{} to correct", counted_size(snapshot.posts.len(), "post")),
        ),
    ];
    let told: Vec<String> =
        counts.into_iter().filter(|(count, _)| *count > 0).map(|(_, words)| words).collect();
    let headline = told.join(", ");
    let sections = vec![
        coming(&jobs, as_of, shown_max),
        ordering(&parts, shown_max),
        printing(&sheets, shown_max),
        correcting(&snapshot.posts, as_of, shown_max),
    ];
    let head = head("Work coming in", &snapshot.name, "the workshop", week, as_of);
    Some(ListReport {
        head: Head {
            verdict: format!("{headline}."),
            headline,
            lead: vec![format!(
                "{} in your hands on record.",
                sentence(&counted_size(snapshot.engines.len(), "engine")).trim_end_matches('.')
            )],
            invented: snapshot.engines.iter().any(EngineSnapshot::invented),
            ..head
        },
        sections: sections.into_iter().filter(|it| !it.entries.is_empty()).collect(),
    })
}

/// When work is to be seen to.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum When {
    /// It is due, or cannot be told, already.
    Now,
    /// In this week.
    In(ReportWeek),
}

/// The work on one engine in one week.
struct Job<'a> {
    when: When,
    engine: &'a EngineSnapshot,
    lines: Vec<&'a DueLine>,
}

/// What is to be done in which week, what is due already first.
fn jobs<'a>(engines: &'a [EngineSnapshot], as_of: NaiveDate) -> Vec<Job<'a>> {
    let mut jobs: BTreeMap<(When, usize), Job<'a>> = BTreeMap::new();
    for (at, engine) in engines.iter().enumerate() {
        for (line_at, line) in engine.lines.iter().enumerate() {
            let Some(when) = engine.work_when(line_at, line, as_of) else { continue };
            jobs.entry((when, at))
                .or_insert_with(|| Job { when, engine, lines: Vec::new() })
                .lines
                .push(line);
        }
    }
    let mut jobs: Vec<Job<'a>> = jobs.into_values().collect();
    for job in &mut jobs {
        job.lines.sort_by_key(|line| urgency(line, as_of));
    }
    jobs
}

impl EngineSnapshot {
    /// When a line is to be seen to; `None` when not within [`AHEAD_DAYS`].
    fn work_when(&self, at: usize, line: &DueLine, as_of: NaiveDate) -> Option<When> {
        let last = as_of.checked_add_days(Days::new(AHEAD_DAYS))?;
        match self.plan_by(at, line, as_of) {
            Some(by) if by <= as_of => Some(When::Now),
            Some(by) if by <= last => Some(When::In(ReportWeek::of(by))),
            _ if in_trouble(line, as_of) => Some(When::Now),
            _ => None,
        }
    }

    /// Whether a part for a line is to be ordered by now.
    pub(crate) fn is_work_coming(&self, at: usize, as_of: NaiveDate) -> bool {
        self.lines.get(at).is_some_and(|line| self.work_when(at, line, as_of).is_some())
    }

    /// The items that are to be seen to.
    fn items_coming(&self, as_of: NaiveDate) -> Vec<&ItemId> {
        let lines = self.lines.iter().enumerate();
        let coming = lines.filter(|(at, _)| self.is_work_coming(*at, as_of));
        coming.map(|(_, line)| &line.item).collect()
    }
}

fn coming(jobs: &[Job<'_>], as_of: NaiveDate, shown_max: usize) -> Section {
    let entries = jobs.iter().take(shown_max).map(|job| {
        let worst = job.lines.iter().map(|line| line.status(as_of)).min();
        let lines = job.lines.iter().map(|line| {
            let words = line_words(line, as_of);
            let when = words.late.unwrap_or(words.due);
            Labelled::new(
                line.status(as_of).printed(),
                format!("{}: {when}.", job.engine.titled(line)),
            )
        });
        Entry {
            key: worst.map_or("", Status::word).to_owned(),
            label: match job.when {
                When::Now => "now".to_owned(),
                When::In(week) => format!("week of {}", day(week.monday())),
            },
            title: job.engine.name(),
            place: Some(job.engine.title()),
            details: capped(lines.collect()),
        }
    });
    let heading = Heading {
        title: "Work coming in, week by week",
        intro: "By the day to plan by: for work by hours that is the early day of the forecast, nine times in ten they last longer.".to_owned(),
        none: "None on record.",
        columns: ("Week and engine", "Work"),
    };
    section(heading, entries.collect(), jobs.len(), shown_max)
}

/// Parts of one kind for all engines of one type.
struct Parts<'a> {
    engine_type: Option<&'a EngineType>,
    title: String,
    kind: Option<String>,
    pieces: usize,
    engines: Vec<String>,
    why: Vec<String>,
}

/// What to order, in the order in which engines ask for it.
fn parts(snapshot: &ShopSnapshot) -> Vec<Parts<'_>> {
    let mut parts: Vec<(Option<&str>, &ItemId, Parts<'_>)> = Vec::new();
    for (engine, renewals) in snapshot.engines.iter().zip(&snapshot.renewals) {
        for renewal in renewals {
            let type_name = engine.row.engine_type.as_deref();
            let known = parts
                .iter_mut()
                .find(|(name, item, _)| *name == type_name && **item == renewal.item);
            if let Some((_, _, known)) = known {
                known.add(engine, renewal);
            } else {
                let mut new = Parts::of(engine, renewal);
                new.add(engine, renewal);
                parts.push((type_name, &renewal.item, new));
            }
        }
    }
    parts.into_iter().map(|(_, _, parts)| parts).collect()
}

impl<'a> Parts<'a> {
    fn of(engine: &'a EngineSnapshot, renewal: &Renewal) -> Self {
        let engine_type = engine.engine_type.as_deref();
        let subject = engine_type.and_then(|it| it.item(&renewal.item)).map(|it| &it.subject);
        let kind = match subject {
            Some(Subject::Component(kind)) => Some(kind.as_str().replace('-', " ")),
            _ => None,
        };
        Self {
            engine_type,
            title: engine.named(&renewal.item),
            kind,
            pieces: 0,
            engines: Vec::new(),
            why: Vec::new(),
        }
    }

    fn add(&mut self, engine: &EngineSnapshot, renewal: &Renewal) {
        self.pieces += renewal.spots.len();
        let spots: Vec<String> = renewal
            .spots
            .iter()
            .map(|(position, part)| {
                let at = position.as_ref().map(|it| engine.place_named(it));
                let label = part.and_then(|id| engine.told.parts.get(&id));
                let label = label.map(|label| clean(label, NAME_CHARS));
                match (at, label) {
                    (Some(at), Some(label)) => format!("{at} (now {label})"),
                    (Some(told), None) => told,
                    (None, Some(label)) => format!("now {label}"),
                    (None, None) => "engine".to_owned(),
                }
            })
            .collect();
        self.engines.push(format!("{}: {}", engine.name(), spots.join(", ")));
        for reason in &renewal.why {
            let why = match reason {
                Reason::Programme => "by the programme".to_owned(),
                Reason::FoundToRenew(on) => {
                    format!("found to be renewed at the inspection released {}", day(*on))
                }
                Reason::FoundScrap(on) => {
                    format!("found scrap at the inspection released {}", day(*on))
                }
            };
            if !self.why.contains(&why) {
                self.why.push(why);
            }
        }
    }
}

fn ordering(parts: &[Parts<'_>], shown_max: usize) -> Section {
    let entries = parts.iter().take(shown_max).map(|it| Entry {
        key: "order".to_owned(),
        label: counted_size(it.pieces, "piece"),
        title: it.title.clone(),
        place: it.engine_type.map(type_title),
        details: capped(
            it.kind
                .iter()
                .map(|kind| Labelled::new("Kind", sentence(kind)))
                .chain(it.engines.iter().map(|engine| Labelled::new("For", sentence(engine))))
                .chain([Labelled::new("Why", sentence(&it.why.join("; ")))])
                .collect(),
        ),
    });
    let heading = Heading {
        title: "Parts to order",
        intro: "For the work above: one piece for each place. Order by the maker's own part numbers; none are given here.".to_owned(),
        none: "None on record.",
        columns: ("How many, and what", "For which engines, and why"),
    };
    section(heading, entries.collect(), parts.len(), shown_max)
}

fn type_title(engine_type: &EngineType) -> String {
    let invented = if engine_type.invented { " (invented type)" } else { "" };
    format!("{}{invented}", clean(&engine_type.title, NAME_CHARS))
}

/// A sheet with the engines that it is wanted for.
type Wanted<'a> = (&'a EngineType, &'a Sheet, Vec<String>);

/// The sheets that ask about anything that is coming.
fn sheets(engines: &[EngineSnapshot], as_of: NaiveDate) -> Vec<Wanted<'_>> {
    let mut wanted: Vec<Wanted<'_>> = Vec::new();
    for engine in engines {
        let Some(engine_type) = engine.engine_type.as_deref() else { continue };
        let items = engine.items_coming(as_of);
        let asks = |sheet: &&Sheet| {
            sheet.points.iter().filter_map(|it| it.asks.item()).any(|it| items.contains(&it))
        };
        for sheet in engine_type.bench.sheets.iter().filter(asks) {
            let same = |it: &&mut Wanted<'_>| it.0.name == engine_type.name && it.1.id == sheet.id;
            match wanted.iter_mut().find(same) {
                Some((_, _, names)) => names.push(engine.name()),
                None => wanted.push((engine_type, sheet, vec![engine.name()])),
            }
        }
    }
    wanted
}

fn printing(sheets: &[Wanted<'_>], shown_max: usize) -> Section {
    let entries = sheets.iter().take(shown_max).map(|(engine_type, sheet, names)| Entry {
        key: "print".to_owned(),
        label: counted_size(names.len(), "sheet"),
        title: clean(&sheet.title, NAME_CHARS),
        place: Some(type_title(engine_type)),
        details: vec![
            Labelled::new("For", clean(&names.join(", "), SENTENCE_CHARS)),
            Labelled::new(
                "Page to print",
                format!("/engine-types/{}/sheets/{}", engine_type.name, sheet.id),
            ),
        ],
    });
    let heading = Heading {
        title: "Sheets to print",
        intro: "Sheets that ask about the work above, one copy for each engine.".to_owned(),
        none: "None on record.",
        columns: ("How many, and which", "For which engines"),
    };
    section(heading, entries.collect(), sheets.len(), shown_max)
}

fn correcting(posts: &[PostInDoubt], as_of: NaiveDate, shown_max: usize) -> Section {
    let entries = posts.iter().take(shown_max).map(|post| {
        let order = post.work_order.as_ref();
        let order = order.map(|it| Labelled::new("Work order", clean(it, NAME_CHARS)));
        let record = Labelled::new("Record", format!("ending {}", short_id(post.record.0)));
        let faults = post.faults.iter().map(|it| clean(it, SENTENCE_CHARS));
        let faults = faults.map(|it| Labelled::new("To see to", sentence(&it)));
        Entry {
            key: "correct".to_owned(),
            label: "to correct".to_owned(),
            title: clean(&post.engine, NAME_CHARS),
            place: Some(format!("inspection released {}", day_from(post.on, as_of))),
            details: capped(order.into_iter().chain([record]).chain(faults).collect()),
        }
    });
    let heading = Heading {
        title: "Posts that need a correction",
        intro: "Correct a post by an amendment of it; nothing is lost that way. If it is right as it stands, reply and say so.".to_owned(),
        none: "None on record.",
        columns: ("Which post", "What to see to"),
    };
    section(heading, entries.collect(), posts.len(), shown_max)
}

#[cfg(test)]
#[path = "shop_tests.rs"]
mod tests;
