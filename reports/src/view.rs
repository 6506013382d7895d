//! What the templates are given: every fact of a mail already in words, so that the subject, the text and
//! the HTML say the same. All foreign text in here has been through `gudgeon_life::words::clean`.

use gudgeon_life::preference::ReportKind;
use gudgeon_store::MailLinks;
use serde::Serialize;

/// What every mail begins and ends with.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Head {
    /// What the mail is: `Engine items due`.
    pub what: String,
    /// The week as ISO 8601 names it: `2026-W48`.
    pub week: String,
    /// Its days: `Mon 2026-11-23 to Sun 2026-11-29`.
    pub period: String,
    /// The day everything is worked out for: `Wed 2026-11-25`.
    pub as_of: String,
    /// Whom it is for.
    pub name: String,
    /// The worst facts in few words, for the subject: `2 overdue, 3 coming due`.
    pub headline: String,
    /// The verdict in one sentence: how many lines or engines stand how.
    pub verdict: String,
    /// What else is to be known before anything is read, the worst last.
    pub lead: Vec<String>,
    /// Whether any engine is of an invented type.
    pub invented: bool,
    /// What was left out for size, if anything.
    pub cut: Option<String>,
    /// Whether it says of any engine what was anchored of its records.
    pub witnessed: bool,
    /// The cautions, in order.
    pub cautions: Vec<String>,
    /// Where a click leads, where the service has addresses that others can reach.
    pub links: Option<Links>,
}

/// Where a click in a mail leads. Each address is the recipient's own.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Links {
    /// The page on which an owner types what the hour meter shows.
    pub reading: Option<String>,
    /// The page on which the recipient says when mails come and how dates are written.
    pub preferences: String,
    /// The page that ends these mails.
    pub stop: String,
    /// The calendar of what is due.
    pub calendar: Option<String>,
}

impl Links {
    /// The addresses that go into a mail of a kind: only owners have meters to read and a calendar.
    #[must_use]
    pub fn of(links: &MailLinks, kind: ReportKind) -> Self {
        let owners = |address: &str| (kind == ReportKind::Owner).then(|| address.to_owned());
        Self {
            reading: owners(&links.reading),
            preferences: links.preferences.clone(),
            stop: links.stop.clone(),
            calendar: owners(&links.calendar),
        }
    }
}

/// One owner's mail.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct OwnerReport {
    /// Its beginning and its end.
    pub head: Head,
    /// The worst engine's aircraft mark, or the engine's own name.
    pub first: String,
    /// How many more engines have something to say.
    pub others: usize,
    /// The engines, worst first.
    pub engines: Vec<EngineBlock>,
}

/// The short mail of an owner on whose engines nothing is due.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct QuietReport {
    /// Its beginning and its end.
    pub head: Head,
    /// The engines, each with the reading that its hours rest on.
    pub engines: Vec<String>,
}

/// One engine.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct EngineBlock {
    /// The aircraft's mark, or the engine's own name when it is in none.
    pub name: String,
    /// Its type and serial number.
    pub title: String,
    /// Hours, reading, log: each with its label.
    pub facts: Vec<Labelled>,
    /// That its last reading is old, and what to do about it.
    pub ask: Option<String>,
    /// Contradictions and other things said before any line.
    pub remarks: Vec<String>,
    /// The lines in trouble, worst first.
    pub lines: Vec<LineBlock>,
    /// How many lines in trouble were left out for size, if any.
    pub cut: Option<String>,
    /// What the forecasts of its lines could not rest on.
    pub forecast_basis: Option<String>,
    /// The visit that is proposed, what changed, what the last inspection found.
    pub blocks: Vec<Block>,
    /// The lines that are not in trouble, in one sentence.
    pub rest: Option<String>,
    /// Up to which day directives and bulletins were entered, and the version of the programme.
    pub entered: Option<String>,
    /// How many records are kept, and the hashes that show whether they are changed later.
    pub kept: Option<String>,
}

/// A few sentences under a title.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Block {
    /// What they are about.
    pub title: String,
    /// The sentences, one for each thing.
    pub points: Vec<String>,
}

/// A value with its label.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Labelled {
    /// What it is.
    pub label: String,
    /// The value in words.
    pub value: String,
}

impl Labelled {
    pub(crate) fn new(label: &str, value: impl Into<String>) -> Self {
        Self { label: label.to_owned(), value: value.into() }
    }
}

/// One due line.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct LineBlock {
    /// The status as a word for style sheets: `coming-due`.
    pub key: String,
    /// The status in words: `coming due`.
    pub status: String,
    /// What is due; says so when the type is invented.
    pub title: String,
    /// Where on the engine.
    pub place: Option<String>,
    /// When it is due, by what governs.
    pub due: String,
    /// Which leg governs, and what could still come first.
    pub governing: Option<String>,
    /// How late it is.
    pub late: Option<String>,
    /// When its hours will be used up, or why nobody can say.
    pub forecast: Option<String>,
    /// Every leg.
    pub legs: Vec<LegBlock>,
    /// Class, source, last done, notes: each with its label.
    pub details: Vec<Labelled>,
}

/// One leg of a line.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct LegBlock {
    /// What is counted; says so when it governs.
    pub name: String,
    /// How it stands.
    pub words: String,
}

/// A mail made of lists: that of a workshop, or of an inspector.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ListReport {
    /// Its beginning and its end.
    pub head: Head,
    /// The lists, in the order of reading.
    pub sections: Vec<Section>,
}

/// One list.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Section {
    /// What it lists.
    pub title: String,
    /// What is to be known about all of it, or that there is nothing to list.
    pub intro: String,
    /// What stands in the first column and in the second.
    pub columns: (String, String),
    /// Its entries, in the order of doing.
    pub entries: Vec<Entry>,
    /// How many were left out for size, if any.
    pub cut: Option<String>,
}

/// One entry of a list.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Entry {
    /// A word for style sheets; `overdue` is printed heavily.
    pub key: String,
    /// A status, a week or a quantity, printed as a label.
    pub label: String,
    /// What it is about.
    pub title: String,
    /// Where, or of what.
    pub place: Option<String>,
    /// What is to be known or done, each with its label.
    pub details: Vec<Labelled>,
}
