//! The one door to what a report says: what is on record for some recipients of a kind, loaded by a few queries
//! however many they are, and from that a mail, or the reason why there is none.

mod inspector;
mod owner;
mod shop;

use crate::load::{Loader, Outcomes};
use crate::render::{Edition, RenderError, Rendered, Renderer};
use crate::snapshot::{InspectorSnapshot, OwnerSnapshot, ShopSnapshot};
use crate::view::Links;
use chrono::NaiveDate;
use gudgeon_life::ids::PartyId;
use gudgeon_life::preference::{Mode, Preference, ReportKind, Style};
use gudgeon_life::week::ReportWeek;
use gudgeon_store::{
    Instant, Links as LinkMaker, PartyRow, PreferenceRow, Programmes, Recipient, Store, StoreError,
};
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
    /// What makes the addresses that clicks lead to, where there are pages that recipients can reach.
    pub links: Option<&'a LinkMaker>,
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
                let fleet = loader.fleet(Outcomes::read(self.store, as_of)?)?;
                let named =
                    |it: &PartyRow| InspectorSnapshot { name: it.name.clone(), ..fleet.clone() };
                recipients.iter().map(|it| Snapshot::Inspector(named(it))).collect()
            }
        })
    }

    /// What is asked for somebody's report of a week, as of a day.
    #[must_use]
    pub fn asked(
        &self,
        (kind, party): (ReportKind, PartyId),
        (week, as_of): (ReportWeek, NaiveDate),
        row: &PreferenceRow,
    ) -> Asked {
        let to = Recipient { kind, party, generation: row.links_generation };
        let links = self.links.map(|links| Links::of(&links.for_mail(to, as_of), kind));
        Asked { week, as_of, preference: row.preference, links }
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
