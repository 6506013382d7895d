//! Rendering a mail: three templates for each kind, tried out when the renderer is made.

use crate::compose::compose;
use crate::inspector::compose_inspector;
use crate::quiet::quiet;
use crate::sample;
use crate::shop::compose_shop;
use crate::snapshot::{InspectorSnapshot, OwnerSnapshot, ShopSnapshot};
use crate::style::restyled;
use crate::templates::templates;
use crate::view::{Head, Links, ListReport, OwnerReport, QuietReport};
use chrono::NaiveDate;
use gudgeon_life::preference::{ReportKind, Style};
use gudgeon_life::week::ReportWeek;
use gudgeon_life::words::clean;
use serde::Serialize;
use std::fmt;
use std::path::{Path, PathBuf};
use tera::{Context, Kwargs, State, Tera, Value};

/// Some mail services cut an HTML part beyond about 102 KB; this leaves room.
pub const HTML_BYTES_MAX: usize = 80_000;
/// How many lines, or entries of a list, to try to give in full, most first, until the HTML fits.
const SHOWN_STEPS: [usize; 14] = [40, 34, 29, 26, 24, 22, 20, 17, 14, 11, 8, 5, 3, 1];
/// The width of the text part, in characters.
const TEXT_COLUMNS: usize = 72;
/// The longest a subject may be, in characters.
const SUBJECT_CHARS: usize = 120;

/// The templates of the short mail that nothing is due.
const QUIET: &str = "quiet";

/// A mail as it will be stored.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Rendered {
    /// The subject: one line.
    pub subject: String,
    /// The text part, 72 columns but for addresses of pages.
    pub text: String,
    /// The HTML part.
    pub html: String,
}

/// Which edition of a report it is, and for whom.
#[derive(Clone, Debug)]
pub struct Edition {
    /// The week.
    pub week: ReportWeek,
    /// The day everything is worked out for.
    pub as_of: NaiveDate,
    /// How the reader wants figures written.
    pub style: Style,
    /// Where a click leads.
    pub links: Option<Links>,
}

/// A template that does not work.
#[derive(Debug)]
pub enum RenderError {
    /// It is no template, or names what a mail has not got.
    Template(tera::Error),
    /// Its styles cannot be inlined.
    Styles {
        /// Its file name.
        name: String,
        /// What is wrong.
        why: String,
    },
    /// A file of the operator's folder has the name of no template.
    NoTemplate {
        /// The file.
        path: PathBuf,
        /// The names that there are.
        known: String,
    },
    /// A file or the folder of the operator cannot be read.
    Unreadable {
        /// Which.
        path: PathBuf,
        /// What the system said.
        error: std::io::Error,
    },
}

impl fmt::Display for RenderError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Template(error) => write!(f, "a mail template cannot be rendered: {error}"),
            Self::Styles { name, why } => {
                write!(f, "the styles of the mail template `{name}` cannot be inlined: {why}")
            }
            Self::NoTemplate { path, known } => {
                write!(f, "`{}` is no mail template; the templates are {known}", path.display())
            }
            Self::Unreadable { path, error } => {
                write!(f, "`{}` cannot be read: {error}", path.display())
            }
        }
    }
}

impl std::error::Error for RenderError {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        match self {
            Self::Template(error) => Some(error),
            Self::Unreadable { error, .. } => Some(error),
            Self::Styles { .. } | Self::NoTemplate { .. } => None,
        }
    }
}

impl From<tera::Error> for RenderError {
    fn from(error: tera::Error) -> Self {
        Self::Template(error)
    }
}

impl RenderError {
    pub(crate) fn styles(name: &str, error: &css_inline::InlineError) -> Self {
        Self::Styles { name: name.to_owned(), why: error.to_string() }
    }
}

/// The templates, ready to use.
#[derive(Debug)]
pub struct Renderer {
    tera: Tera,
}

impl Renderer {
    /// Reads the templates that are compiled in, and renders a sample with each.
    ///
    /// # Errors
    /// [`RenderError`] names the template and what is wrong with it.
    pub fn new() -> Result<Self, RenderError> {
        Self::with_folder(None)
    }

    /// Reads the templates, those of an operator's folder in place of those compiled in, and renders a sample with
    /// each, so that a broken one stops the start and not the week.
    ///
    /// # Errors
    /// [`RenderError`] names the template and what is wrong with it.
    pub fn with_folder(folder: Option<&Path>) -> Result<Self, RenderError> {
        let mut tera = Tera::new();
        tera.register_filter("wrap", wrap_filter);
        tera.add_raw_templates(templates(folder)?)?;
        let renderer = Self { tera };
        renderer.render(ReportKind::Owner.word(), &sample::owner(), Style::default())?;
        renderer.render(QUIET, &sample::quiet(), Style::default())?;
        for kind in [ReportKind::Shop, ReportKind::Inspector] {
            renderer.render(kind.word(), &sample::lists(), Style::default())?;
        }
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
        edition: &Edition,
    ) -> Result<Option<Rendered>, RenderError> {
        self.fitting(ReportKind::Owner, edition, |shown_max| {
            let report = compose(snapshot, edition.week, edition.as_of, shown_max)?;
            let head = linked(report.head, edition);
            Some(OwnerReport { head, ..report })
        })
    }

    /// The short mail of an owner on whose engines nothing is due.
    ///
    /// # Errors
    /// [`RenderError`] when a template fails.
    pub fn nothing_due(
        &self,
        snapshot: &OwnerSnapshot,
        edition: &Edition,
    ) -> Result<Rendered, RenderError> {
        let report = quiet(snapshot, edition.week, edition.as_of);
        let report = QuietReport { head: linked(report.head, edition), ..report };
        self.render(QUIET, &report, edition.style)
    }

    /// The mail of a workshop, or `None` when there is nothing to say; as full as [`Renderer::owner`].
    ///
    /// # Errors
    /// [`RenderError`] when a template fails.
    pub fn shop(
        &self,
        snapshot: &ShopSnapshot,
        edition: &Edition,
    ) -> Result<Option<Rendered>, RenderError> {
        self.fitting(ReportKind::Shop, edition, |shown_max| {
            let report = compose_shop(snapshot, edition.week, edition.as_of, shown_max)?;
            let head = linked(report.head, edition);
            Some(ListReport { head, ..report })
        })
    }

    /// The mail of an inspector, which always has something to say; as full as [`Renderer::owner`].
    ///
    /// # Errors
    /// [`RenderError`] when a template fails.
    pub fn inspector(
        &self,
        snapshot: &InspectorSnapshot,
        edition: &Edition,
    ) -> Result<Option<Rendered>, RenderError> {
        self.fitting(ReportKind::Inspector, edition, |shown_max| {
            let report = compose_inspector(snapshot, edition.week, edition.as_of, shown_max);
            let head = linked(report.head, edition);
            Some(ListReport { head, ..report })
        })
    }

    /// The fullest mail that fits.
    fn fitting<Report: Serialize>(
        &self,
        kind: ReportKind,
        edition: &Edition,
        compose: impl Fn(usize) -> Option<Report>,
    ) -> Result<Option<Rendered>, RenderError> {
        let mut last = None;
        for shown_max in SHOWN_STEPS {
            let Some(report) = compose(shown_max) else {
                return Ok(None);
            };
            let rendered = self.render(kind.word(), &report, edition.style)?;
            // Every line of a mail ends in two bytes.
            let bytes = rendered.html.len() + rendered.html.matches('\n').count();
            let fits = bytes < HTML_BYTES_MAX;
            last = Some(rendered);
            if fits {
                break;
            }
        }
        Ok(last)
    }

    /// A composed report through the three templates of its kind.
    fn render(
        &self,
        kind: &str,
        report: &impl Serialize,
        style: Style,
    ) -> Result<Rendered, RenderError> {
        let context = if style == Style::default() {
            Context::from_serialize(report)?
        } else {
            let view = serde_json::to_value(report).map_err(tera::Error::message)?;
            Context::from_serialize(&restyled(view, style))?
        };
        let subject = self.tera.render(&format!("{kind}.subject.txt"), &context)?;
        Ok(Rendered {
            subject: clean(&subject, SUBJECT_CHARS),
            text: tidy(&self.tera.render(&format!("{kind}.text.txt"), &context)?),
            html: self.tera.render(&format!("{kind}.html"), &context)?,
        })
    }
}

fn linked(head: Head, edition: &Edition) -> Head {
    Head { links: edition.links.clone(), ..head }
}

/// Without spaces at the ends of lines, and with no more than one empty line in a row.
fn tidy(text: &str) -> String {
    let mut tidy = String::with_capacity(text.len());
    let mut empty = true;
    for line in text.lines().map(str::trim_end) {
        if !(line.is_empty() && empty) {
            tidy.push_str(line);
            tidy.push('\n');
        }
        empty = line.is_empty();
    }
    tidy.truncate(tidy.trim_end().len());
    tidy.push('\n');
    tidy
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

#[cfg(test)]
#[path = "kinds_tests.rs"]
mod kinds_tests;
