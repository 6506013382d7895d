//! The one door to what a report says: what is on record for some recipients of a kind, loaded by a few queries
//! however many they are, and from that a mail, or the reason why there is none.

mod inspector;
mod owner;
mod shop;

use crate::load::{Loader, Outcomes};
use crate::render::{Edition, RenderError, Rendered, Renderer};
use crate::snapshot::{EngineSnapshot, InspectorSnapshot, OwnerSnapshot, ShopSnapshot};
use crate::view::Links;
use chrono::NaiveDate;
use gudgeon_life::preference::{Mode, Preference, ReportKind, Style};
use gudgeon_life::status::Status;
use gudgeon_life::week::ReportWeek;
use gudgeon_store::{Instant, PartyRow, Programmes, Store, StoreError};
use sha2::{Digest as _, Sha256};
use std::fmt::{self, Write as _};

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
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Asked {
    /// The week it is about.
    pub week: ReportWeek,
    /// The day that it is true for.
    pub as_of: NaiveDate,
    /// How its recipient wants it.
    pub preference: Preference,
    /// Where a click leads, where there are pages that the recipient can reach.
    pub links: Option<Links>,
}

impl Asked {
    fn edition(&self) -> Edition {
        Edition {
            week: self.week,
            as_of: self.as_of,
            style: self.preference.style,
            links: self.links.clone(),
        }
    }
}

/// What is on record for one recipient, as one view of the database gave it.
#[derive(Clone, Debug)]
pub enum Snapshot {
    /// For an owner.
    Owner(OwnerSnapshot),
    /// For a workshop.
    Shop(ShopSnapshot),
    /// For an inspector.
    Inspector(InspectorSnapshot),
}

/// What a report says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Contents {
    /// A mail.
    Composed(Rendered),
    /// Nothing, for this reason.
    NothingToSay(&'static str),
}

/// How many items a recipient has on record.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    /// All of them.
    pub items: usize,
    /// Those that are overdue.
    pub overdue: usize,
}

impl Composer<'_> {
    /// What is on record for these recipients of a kind, in their order: a few queries, however many they are.
    /// It is as of a day, and what came in during the week before `at` is news.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn load(
        &self,
        kind: ReportKind,
        recipients: &[PartyRow],
        as_of: NaiveDate,
        at: Instant,
    ) -> Result<Vec<Snapshot>, StoreError> {
        let loader = Loader::new(self.store, self.programmes, as_of, at)?;
        Ok(match kind {
            ReportKind::Owner => {
                loader.owners(recipients)?.into_iter().map(Snapshot::Owner).collect()
            }
            ReportKind::Shop => loader.shops(recipients)?.into_iter().map(Snapshot::Shop).collect(),
            ReportKind::Inspector => {
                let fleet = loader.fleet(Outcomes::read(self.store)?)?;
                let named =
                    |it: &PartyRow| InspectorSnapshot { name: it.name.clone(), ..fleet.clone() };
                recipients.iter().map(|it| Snapshot::Inspector(named(it))).collect()
            }
        })
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
            Snapshot::Shop(snapshot) => shop::contents(self.renderer, snapshot, asked),
            Snapshot::Inspector(snapshot) => inspector::contents(self.renderer, snapshot, asked),
        }
    }
}

impl Snapshot {
    /// The recipient's name.
    #[must_use]
    pub fn name(&self) -> &str {
        match self {
            Self::Owner(snapshot) => &snapshot.name,
            Self::Shop(snapshot) => &snapshot.name,
            Self::Inspector(snapshot) => &snapshot.name,
        }
    }

    /// How many items are on record as of a day, and how many of them are overdue.
    #[must_use]
    pub fn tally(&self, as_of: NaiveDate) -> Tally {
        let engines: &[EngineSnapshot] = match self {
            Self::Owner(snapshot) => &snapshot.engines,
            Self::Shop(snapshot) => &snapshot.engines,
            Self::Inspector(_) => &[],
        };
        let lines = || engines.iter().flat_map(|engine| &engine.lines);
        let overdue = lines().filter(|line| line.status(as_of) == Status::Overdue).count();
        Tally { items: lines().count(), overdue }
    }

    /// A digest of all that a mail is composed from, but the day: another one when any of it changed.
    #[must_use]
    pub fn digest(&self, style: Style) -> [u8; 32] {
        let mut digest = DebugDigest(Sha256::new());
        // The digest takes whatever is written.
        let _ = write!(digest, "{self:?} {style:?}");
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
