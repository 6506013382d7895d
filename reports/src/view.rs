//! What the templates are given: every fact of a mail already in words, so that the subject, the text and
//! the HTML say the same. All foreign text in here has been through `gudgeon_life::words::clean`.

use serde::Serialize;

/// One owner's mail.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct OwnerReport {
    /// The week as ISO 8601 names it: `2026-W48`.
    pub week: String,
    /// Its days: `Mon 2026-11-23 to Sun 2026-11-29`.
    pub period: String,
    /// The day everything is worked out for: `Wed 2026-11-25`.
    pub as_of: String,
    /// Whom it is for.
    pub owner: String,
    /// The worst facts in few words, for the subject: `2 overdue, 3 coming due`.
    pub headline: String,
    /// The worst engine's aircraft mark, or the engine's own name.
    pub first: String,
    /// How many more engines have something to say.
    pub others: usize,
    /// The verdict over all engines in one sentence: how many lines stand how.
    pub verdict: String,
    /// How many engines need attention, and how many have contradicting records.
    pub attention: String,
    /// The worst line in one sentence.
    pub worst: String,
    /// The engines, worst first.
    pub engines: Vec<EngineBlock>,
    /// What was left out for size, if anything.
    pub cut: Option<String>,
    /// Whether it says of any engine what was anchored of its records.
    pub witnessed: bool,
    /// Whether any engine is of an invented type.
    pub invented: bool,
    /// The cautions, in order.
    pub cautions: Vec<String>,
}

/// The short mail of an owner on whose engines nothing is due.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct QuietReport {
    /// The week as ISO 8601 names it: `2026-W48`.
    pub week: String,
    /// The day everything is worked out for: `Wed 2026-11-25`.
    pub as_of: String,
    /// Whom it is for.
    pub owner: String,
    /// The engines, each with the reading that its hours rest on.
    pub engines: Vec<String>,
    /// How many engines are not named for size, if any.
    pub cut: Option<String>,
    /// Whether any engine is of an invented type.
    pub invented: bool,
    /// The cautions, in order.
    pub cautions: Vec<String>,
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
    /// Contradictions and other things said before any line.
    pub remarks: Vec<String>,
    /// The lines in trouble, worst first.
    pub lines: Vec<LineBlock>,
    /// How many lines in trouble were left out for size, if any.
    pub cut: Option<String>,
    /// The lines that are not in trouble, in one sentence.
    pub rest: Option<String>,
    /// Up to which day directives and bulletins were entered, and the version of the programme.
    pub entered: Option<String>,
    /// How many records are kept, and the hashes that show whether they are changed later.
    pub kept: Option<String>,
}

/// A value with its label.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Labelled {
    /// What it is.
    pub label: String,
    /// The value in words.
    pub value: String,
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
