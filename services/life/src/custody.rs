//! Which workshop may see and post about an engine, day by day.
//!
//! The workshop that registers an engine holds it, until the engine is first granted to anybody. From then on
//! grants alone decide. Each is good from its day to its end; the next one to the same workshop takes its
//! place. Grants to different workshops stand side by side. Arrival decides nothing: an engine that nobody
//! has registered yet is held by every workshop that posted about it.

use crate::amend::standing;
use crate::fact::{Content, Fact};
use crate::ids::{FactId, PartyId};
use chrono::NaiveDate;
use std::collections::BTreeMap;

/// Days on which a workshop may see and post about an engine.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stint {
    /// Which workshop.
    pub shop: PartyId,
    /// The first day.
    pub from: NaiveDate,
    /// The last day; the end of the calendar while no end is set.
    pub until: NaiveDate,
    /// The order given within the first day.
    pub order_in_day: u16,
    /// The fact that gave it: the grant as first posted, or the post by which the workshop began.
    pub fact: FactId,
}

impl Stint {
    fn place(&self) -> (NaiveDate, u16, FactId) {
        (self.from, self.order_in_day, self.fact)
    }
}

/// The stints that the facts of an engine's stream amount to, in order of their days. Each fact comes with
/// the workshop that posted it, when it was one.
#[must_use]
pub fn stints(posted: &[(Fact, Option<PartyId>)]) -> Vec<Stint> {
    let facts: Vec<Fact> = posted.iter().map(|(fact, _)| fact.clone()).collect();
    let mut all: Vec<Stint> = standing(&facts)
        .0
        .into_iter()
        .filter_map(|standing| match &standing.entry.content {
            Content::Custody(it) => Some(Stint {
                shop: it.shop,
                from: standing.entry.on,
                until: it.until.unwrap_or(NaiveDate::MAX),
                order_in_day: standing.entry.order_in_day,
                fact: standing.root,
            }),
            _ => None,
        })
        .collect();
    all.sort_by_key(Stint::place);
    let first_grant = all.first().map(|it| it.from);
    let last = first_grant.map_or(Some(NaiveDate::MAX), |it| it.pred_opt());
    let began = last.map_or_else(Vec::new, |last| began(posted, last));
    all.splice(0..0, began);
    replaced_by_the_next(all)
}

/// The stints of those who hold an engine without a grant: whoever registered it, or all who told of it
/// while nobody has.
fn began(posted: &[(Fact, Option<PartyId>)], last: NaiveDate) -> Vec<Stint> {
    let place = |fact: &Fact| (fact.entry.on, fact.entry.order_in_day, fact.id);
    let registers = |fact: &Fact| matches!(fact.entry.content, Content::EngineRegistered(_));
    let registrations = posted.iter().filter(|(fact, _)| registers(fact));
    let first = registrations.min_by_key(|(fact, _)| place(fact));
    let mut holders: BTreeMap<PartyId, &Fact> = BTreeMap::new();
    for (fact, by) in posted.iter().filter(|it| first.is_none_or(|first| first == *it)) {
        let Some(by) = by else { continue };
        let known = holders.entry(*by).or_insert(fact);
        if place(fact) < place(known) {
            *known = fact;
        }
    }
    let stint = |(shop, fact): (PartyId, &Fact)| Stint {
        shop,
        from: NaiveDate::MIN,
        until: last,
        order_in_day: 0,
        fact: fact.id,
    };
    holders.into_iter().map(stint).collect()
}

/// Ends each stint before the next one of the same workshop begins, and leaves out those without a day left.
fn replaced_by_the_next(stints: Vec<Stint>) -> Vec<Stint> {
    let mut next: BTreeMap<PartyId, NaiveDate> = BTreeMap::new();
    let mut kept: Vec<Stint> = stints
        .into_iter()
        .rev()
        .filter_map(|stint| {
            let end = next.insert(stint.shop, stint.from);
            let end = end.map_or(Some(NaiveDate::MAX), |next| next.pred_opt())?;
            let until = stint.until.min(end);
            (stint.from <= until).then_some(Stint { until, ..stint })
        })
        .collect();
    kept.reverse();
    kept
}
