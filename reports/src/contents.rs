//! The one door to what a report says: what is on record for some recipients of a kind, loaded by a few queries
//! however many they are, and from that a mail, or the reason why there is none.

mod owner;

use crate::compose::OwnerSnapshot;
use crate::render::{RenderError, Rendered, Renderer};
use chrono::NaiveDate;
use gudgeon_life::preference::{Mode, Preference, ReportKind, Style};
use gudgeon_life::status::Status;
use gudgeon_life::week::ReportWeek;
use gudgeon_store::{PartyRow, Programmes, Store, StoreError};
use sha2::{Digest as _, Sha256};
use std::fmt::{self, Write as _};
use std::ops::AddAssign;

/// Mails are switched off.
pub const OFF: &str = "mails are switched off";

/// What composing needs.
#[derive(Clone, Copy)]
pub struct Composer<'a> {
    /// What is on record.
    pub store: &'a Store,
    /// The engine types by digest.
    pub programmes: &'a dyn Programmes,
    /// The templates.
    pub renderer: &'a Renderer,
}

/// Which report, and how it is wanted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Asked {
    /// The week it is about.
    pub week: ReportWeek,
    /// The day that it is true for.
    pub as_of: NaiveDate,
    /// How its recipient wants it.
    pub preference: Preference,
}

/// What is on record for one recipient, as one view of the database gave it.
#[derive(Clone, Debug)]
pub enum Snapshot {
    /// For an owner.
    Owner(OwnerSnapshot),
}

/// What a report says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Contents {
    /// A mail.
    Composed(Rendered),
    /// Nothing, for this reason.
    NothingToSay(&'static str),
}

/// Why a mail could not be composed.
#[derive(Debug)]
pub enum ComposeError {
    /// The database.
    Store(StoreError),
    /// A template.
    Render(RenderError),
}

impl fmt::Display for ComposeError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Store(error) => error.fmt(f),
            Self::Render(error) => error.fmt(f),
        }
    }
}

impl std::error::Error for ComposeError {}

impl From<StoreError> for ComposeError {
    fn from(error: StoreError) -> Self {
        Self::Store(error)
    }
}

impl From<RenderError> for ComposeError {
    fn from(error: RenderError) -> Self {
        Self::Render(error)
    }
}

/// What is on record for recipients, in numbers.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    /// Those who have something due.
    pub mails: usize,
    /// All items.
    pub items: usize,
    /// Those that are overdue.
    pub overdue: usize,
}

impl AddAssign for Tally {
    fn add_assign(&mut self, other: Self) {
        self.mails += other.mails;
        self.items += other.items;
        self.overdue += other.overdue;
    }
}

impl Composer<'_> {
    /// The kinds of report that there are.
    pub const KINDS: [ReportKind; 1] = [ReportKind::Owner];

    /// What is on record for these recipients of a kind, in their order: a few queries, however many they are.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn load(
        &self,
        kind: ReportKind,
        recipients: &[PartyRow],
    ) -> Result<Vec<Snapshot>, StoreError> {
        match kind {
            ReportKind::Owner => {
                let snapshots = owner::load(self, recipients)?;
                Ok(snapshots.into_iter().map(Snapshot::Owner).collect())
            }
            ReportKind::Shop | ReportKind::Inspector => Ok(Vec::new()),
        }
    }

    /// What the report says: a pure function of snapshot, week, day and preference.
    ///
    /// # Errors
    /// [`RenderError`] when a template fails.
    pub fn contents(&self, snapshot: &Snapshot, asked: &Asked) -> Result<Contents, RenderError> {
        if asked.preference.mode == Mode::Off {
            return Ok(Contents::NothingToSay(OFF));
        }
        match snapshot {
            Snapshot::Owner(snapshot) => owner::contents(self.renderer, snapshot, asked),
        }
    }
}

impl Snapshot {
    /// The recipient's name.
    #[must_use]
    pub fn name(&self) -> &str {
        match self {
            Self::Owner(snapshot) => &snapshot.name,
        }
    }

    /// What is on record as of a day, in numbers.
    #[must_use]
    pub fn tally(&self, as_of: NaiveDate) -> Tally {
        match self {
            Self::Owner(snapshot) => {
                let lines = || snapshot.engines.iter().flat_map(|engine| &engine.lines);
                let overdue = lines().filter(|line| line.status(as_of) == Status::Overdue).count();
                let worst = snapshot.engines.iter().map(|engine| engine.worst(as_of)).min();
                let is_due = worst.is_some_and(|worst| worst < Status::OnCondition);
                Tally { mails: usize::from(is_due), items: lines().count(), overdue }
            }
        }
    }

    /// A digest of all that a mail is composed from, but the day: another one when any of it changed.
    #[must_use]
    pub fn digest(&self, style: Style, address: &str) -> [u8; 32] {
        let mut digest = DebugDigest(Sha256::new());
        // The digest takes whatever is written.
        let _ = write!(digest, "{self:?} {style:?} {address}");
        digest.0.finalize().into()
    }
}

/// Digests what is written to it.
struct DebugDigest(Sha256);

impl fmt::Write for DebugDigest {
    fn write_str(&mut self, text: &str) -> fmt::Result {
        self.0.update(text);
        Ok(())
    }
}
