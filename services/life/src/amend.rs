//! Which version of each fact stands, once corrections are taken into account.

use crate::conflict::{Conflict, ConflictKind};
use crate::fact::{Amendment, Content, Entry, Fact, Inspection};
use crate::ids::FactId;
use chrono::NaiveDate;
use std::collections::BTreeMap;

/// A fact as it stands: the id first posted, the version that stands, and what it says.
pub(crate) struct Standing<'a> {
    /// The id first posted.
    pub(crate) root: FactId,
    /// The fact that holds the version that stands: the first, or an amendment of it.
    pub(crate) version: FactId,
    /// What it says now.
    pub(crate) entry: &'a Entry,
}

/// The facts that stand, in no order, and what is contradictory or still waiting among corrections.
///
/// Withdrawn facts are left out. Doubles of one id count once. Where two corrections take the place of the
/// same version, that version stands until one of the two is itself settled.
pub(crate) fn standing(facts: &[Fact]) -> (Vec<Standing<'_>>, Vec<Conflict>) {
    let mut originals: BTreeMap<FactId, &Entry> = BTreeMap::new();
    let mut by_root: BTreeMap<FactId, BTreeMap<FactId, (&Fact, &Amendment)>> = BTreeMap::new();
    for fact in facts {
        match &fact.entry.content {
            Content::Amendment(amendment) => {
                by_root.entry(amendment.root).or_default().insert(fact.id, (fact, amendment));
            }
            _ => {
                originals.insert(fact.id, &fact.entry);
            }
        }
    }
    let mut conflicts = Vec::new();
    let mut result = Vec::new();
    for (root, original) in originals {
        let amendments = by_root.remove(&root).unwrap_or_default();
        let (version, entry) = settle(root, original, &amendments, &mut conflicts);
        if let Some(entry) = entry {
            result.push(Standing { root, version, entry });
        }
    }
    let orphans = by_root.into_values().flat_map(BTreeMap::into_values);
    conflicts.extend(orphans.map(|(fact, it)| pending(fact, it)));
    (result, conflicts)
}

/// By the id first posted, the fact that holds the version that stands. Withdrawn facts are left out.
#[must_use]
pub fn standing_versions(facts: &[Fact]) -> BTreeMap<FactId, FactId> {
    standing(facts).0.into_iter().map(|it| (it.root, it.version)).collect()
}

/// An inspection as it stands.
#[derive(Clone, Copy, Debug)]
pub struct StandingInspection<'a> {
    /// The id that it was first posted under.
    pub root: FactId,
    /// The day it was released.
    pub on: NaiveDate,
    /// Its place among the records of that day.
    pub order_in_day: u16,
    /// What it says.
    pub inspection: &'a Inspection,
}

/// The inspections that stand, by day and then in the order of that day.
#[must_use]
pub fn standing_inspections<'a>(facts: &'a [Fact]) -> Vec<StandingInspection<'a>> {
    let inspection = |it: Standing<'a>| match &it.entry.content {
        Content::Inspection(inspection) => Some(StandingInspection {
            root: it.root,
            on: it.entry.on,
            order_in_day: it.entry.order_in_day,
            inspection,
        }),
        _ => None,
    };
    let mut found: Vec<_> = standing(facts).0.into_iter().filter_map(inspection).collect();
    found.sort_by_key(|it| (it.on, it.order_in_day, it.root));
    found
}

/// Follows the corrections of one fact as far as they lead: the last version, which says nothing when it
/// withdraws the fact.
fn settle<'a>(
    root: FactId,
    original: &'a Entry,
    amendments: &BTreeMap<FactId, (&'a Fact, &'a Amendment)>,
    conflicts: &mut Vec<Conflict>,
) -> (FactId, Option<&'a Entry>) {
    let mut version = root;
    let mut entry = Some(original);
    let mut used = 0;
    // Each step uses up at least one correction, so the walk ends.
    while used < amendments.len() {
        let mut next = amendments.iter().filter(|(_, (_, it))| it.supersedes == version);
        let Some((id, (fact, amendment))) = next.next() else { break };
        if next.next().is_some() {
            conflicts.push(Conflict {
                stream: amendment.stream,
                on: fact.entry.on,
                fact: root,
                kind: ConflictKind::RivalAmendments,
            });
            return (version, entry);
        }
        version = *id;
        entry = amendment.replacement.as_deref();
        used += 1;
    }
    let unreached = amendments
        .values()
        .filter(|(_, it)| it.supersedes != root && !amendments.contains_key(&it.supersedes));
    conflicts.extend(unreached.map(|(fact, it)| pending(fact, it)));
    (version, entry)
}

fn pending(fact: &Fact, amendment: &Amendment) -> Conflict {
    Conflict {
        stream: amendment.stream,
        on: fact.entry.on,
        fact: fact.id,
        kind: ConflictKind::AmendmentPending,
    }
}
