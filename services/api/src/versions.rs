//! An inspection with every amendment of it, for whoever may see it: what the API and the page both read.

use crate::access;
use crate::problem::Problem;
use chrono::NaiveDate;
use gudgeon_life::amend::standing_versions;
use gudgeon_life::fact::{Content, Fact};
use gudgeon_life::ids::FactId;
use gudgeon_store::{Principal, Store, Stored};

/// An inspection as first posted, and what was posted in its place.
pub(crate) struct Versions {
    /// The first.
    pub(crate) first: Stored,
    /// Every amendment of it, in order of arrival.
    pub(crate) amendments: Vec<Stored>,
}

impl Versions {
    /// The inspection of an id.
    ///
    /// # Errors
    /// Not found when there is none, or when it is not this reader's to see.
    pub(crate) fn read(
        store: &Store,
        reader: &Principal,
        today: NaiveDate,
        id: FactId,
    ) -> Result<Self, Problem> {
        let stored = store
            .fact(id)?
            .filter(|stored| matches!(stored.fact.entry.content, Content::Inspection(_)));
        let first = stored.ok_or_else(|| Problem::not_found("inspection"))?;
        if !access::sees_record(store, reader, today, &first)? {
            return Err(Problem::not_found("inspection"));
        }
        let mut amendments = store.facts_of(first.stream)?;
        amendments
            .retain(|it| matches!(&it.fact.entry.content, Content::Amendment(it) if it.root == id));
        Ok(Self { first, amendments })
    }

    /// All of them, the first one first.
    pub(crate) fn all(&self) -> impl Iterator<Item = &Stored> {
        std::iter::once(&self.first).chain(&self.amendments)
    }

    /// Those that an amendment takes the place of.
    pub(crate) fn superseded(&self) -> Vec<FactId> {
        let superseded = |it: &Stored| match &it.fact.entry.content {
            Content::Amendment(it) => Some(it.supersedes),
            _ => None,
        };
        self.amendments.iter().filter_map(superseded).collect()
    }

    /// The version that due lines follow; `None` when the inspection is withdrawn. Of two amendments of the same
    /// version neither counts.
    pub(crate) fn current(&self) -> Option<&Stored> {
        let facts: Vec<Fact> = self.all().map(|it| it.fact.clone()).collect();
        let current = *standing_versions(&facts).get(&self.first.fact.id)?;
        self.all().find(|it| it.fact.id == current)
    }
}
