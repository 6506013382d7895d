//! Rendering a mail: three templates, compiled in and tried out when the renderer is made.

use crate::compose::{OwnerSnapshot, compose};
use crate::quiet::quiet;
use crate::sample::{quiet_sample, sample};
use crate::view::OwnerReport;
use chrono::NaiveDate;
use gudgeon_life::week::ReportWeek;
use gudgeon_life::words::clean;
use serde::Serialize;
use std::fmt;
use tera::{Context, Kwargs, State, Tera, Value};

/// Some mail services cut an HTML part beyond about 102 KB; this leaves room.
pub const HTML_BYTES_MAX: usize = 80_000;
/// How many lines to try to give in full, most first, until the HTML fits.
const SHOWN_STEPS: [usize; 6] = [40, 30, 20, 10, 5, 1];
/// The width of the text part, in characters.
const TEXT_COLUMNS: usize = 72;
/// The longest a subject may be, in characters.
const SUBJECT_CHARS: usize = 120;

const TEMPLATES: [(&str, &str); 6] = [
    ("owner.subject.txt", include_str!("../templates/owner.subject.txt")),
    ("owner.text.txt", include_str!("../templates/owner.text.txt")),
    ("owner.html", include_str!("../templates/owner.html")),
    ("quiet.subject.txt", include_str!("../templates/quiet.subject.txt")),
    ("quiet.text.txt", include_str!("../templates/quiet.text.txt")),
    ("quiet.html", include_str!("../templates/quiet.html")),
];

/// A mail as it will be stored.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Rendered {
    /// The subject: one line.
    pub subject: String,
    /// The text part, 72 columns.
    pub text: String,
    /// The HTML part.
    pub html: String,
}

/// A template that does not work.
#[derive(Debug)]
pub struct RenderError(tera::Error);

impl fmt::Display for RenderError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "a mail template cannot be rendered: {}", self.0)
    }
}

impl std::error::Error for RenderError {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        Some(&self.0)
    }
}

impl From<tera::Error> for RenderError {
    fn from(error: tera::Error) -> Self {
        Self(error)
    }
}

/// The templates, ready to use.
#[derive(Debug)]
pub struct Renderer {
    tera: Tera,
}

impl Renderer {
    /// Reads the templates and renders a sample with each, so that a broken one stops the start and not
    /// the week.
    ///
    /// # Errors
    /// [`RenderError`] names the template and what is wrong with it.
    pub fn new() -> Result<Self, RenderError> {
        let mut tera = Tera::new();
        tera.register_filter("wrap", wrap_filter);
        tera.add_raw_templates(TEMPLATES)?;
        let renderer = Self { tera };
        renderer.render(&sample())?;
        renderer.parts("quiet", &quiet_sample())?;
        Ok(renderer)
    }

    /// The mail of an owner, or `None` when there is nothing to say. As many of the worst lines are given
    /// in full as [`HTML_BYTES_MAX`] allows.
    ///
    /// # Errors
    /// [`RenderError`] when a template fails.
    pub fn owner(
        &self,
        snapshot: &OwnerSnapshot,
        week: ReportWeek,
        as_of: NaiveDate,
    ) -> Result<Option<Rendered>, RenderError> {
        let mut last = None;
        for shown_max in SHOWN_STEPS {
            let Some(report) = compose(snapshot, week, as_of, shown_max) else {
                return Ok(None);
            };
            let rendered = self.render(&report)?;
            let fits = rendered.html.len() < HTML_BYTES_MAX;
            last = Some(rendered);
            if fits {
                break;
            }
        }
        Ok(last)
    }

    /// The short mail of an owner on whose engines nothing is due.
    ///
    /// # Errors
    /// [`RenderError`] when a template fails.
    pub fn nothing_due(
        &self,
        snapshot: &OwnerSnapshot,
        week: ReportWeek,
        as_of: NaiveDate,
    ) -> Result<Rendered, RenderError> {
        self.parts("quiet", &quiet(snapshot, week, as_of))
    }

    /// A composed report through the three templates.
    ///
    /// # Errors
    /// [`RenderError`] when a template fails.
    pub fn render(&self, report: &OwnerReport) -> Result<Rendered, RenderError> {
        self.parts("owner", report)
    }

    fn parts(&self, name: &str, report: &impl Serialize) -> Result<Rendered, RenderError> {
        let context = Context::from_serialize(report)?;
        let subject = self.tera.render(&format!("{name}.subject.txt"), &context)?;
        Ok(Rendered {
            subject: clean(&subject, SUBJECT_CHARS),
            text: self.tera.render(&format!("{name}.text.txt"), &context)?,
            html: self.tera.render(&format!("{name}.html"), &context)?,
        })
    }
}

/// `{{ words | wrap(indent=4) }}`: filled to the width of the text part; lines after the first begin with
/// so many spaces.
#[expect(
    clippy::needless_pass_by_value,
    reason = "filters are called with their arguments by value"
)]
fn wrap_filter(words: &str, arguments: Kwargs, _: &State) -> tera::TeraResult<Value> {
    let indent: usize = arguments.get("indent")?.unwrap_or(0);
    Ok(Value::from(wrap(words, indent)))
}

/// Fills lines up to [`TEXT_COLUMNS`], all taken to begin `indent` columns in. A word longer than a line is
/// broken.
fn wrap(words: &str, indent: usize) -> String {
    let width = TEXT_COLUMNS.saturating_sub(indent).max(1);
    let mut lines: Vec<String> = Vec::new();
    let mut line = String::new();
    for word in words.split_whitespace() {
        let letters: Vec<char> = word.chars().collect();
        for piece in letters.chunks(width) {
            if !line.is_empty() && line.chars().count() + 1 + piece.len() > width {
                lines.push(std::mem::take(&mut line));
            }
            if !line.is_empty() {
                line.push(' ');
            }
            line.extend(piece);
        }
    }
    lines.push(line);
    lines.join(&format!("\n{}", " ".repeat(indent)))
}

#[cfg(test)]
#[path = "render_tests.rs"]
mod tests;
