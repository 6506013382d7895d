//! What changed between two due lists of one engine: what the records showed on an earlier day, and what they show
//! now.
//!
//! A line is the same when it is about the same item, place and part, and the same thing asks for it. Nothing is
//! compared but how it stands, when it was last done and when it is due: new words or a new version of the source
//! are no change that anybody has to act on.

use crate::ids::{ComponentId, FactId, ItemId, PositionId};
use crate::line::{AskedBy, DueLine};
use crate::status::Status;
use chrono::NaiveDate;
use std::collections::BTreeMap;

/// One change.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Change<'a> {
    /// The line as it is now; as it was, where it is no longer there.
    pub line: &'a DueLine,
    /// What changed about it.
    pub what: What,
}

/// What changed about a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum What {
    /// It was done, or a record that it had been done came in; so it stood before.
    Done(Status),
    /// It stands worse now; so it stood before.
    Worse(Status),
    /// It stands better now, though no work on it is on record; so it stood before.
    Better(Status),
    /// It is due on another day or at another hour, and stands as it stood.
    Moved,
    /// It was not there.
    Appeared,
    /// It is no longer there; so it stood before.
    Went(Status),
}

/// What makes a line the same line: item, place, part, and what asks for it.
type Identity<'a> = (&'a ItemId, Option<&'a PositionId>, Option<ComponentId>, u8, Option<FactId>);

fn identity(line: &DueLine) -> Identity<'_> {
    let (kind, fact) = match line.asked_by {
        AskedBy::Programme => (0, None),
        AskedBy::Finding(fact) => (1, Some(fact)),
        AskedBy::Event(happened) => (2, Some(happened.fact)),
        AskedBy::Preservation(fact) => (3, Some(fact)),
        AskedBy::OnCondition => (4, None),
    };
    (&line.item, line.position.as_ref(), line.component, kind, fact)
}

/// What changed from `before`, as it stood `then`, to `now`, as it stands on `as_of`: first what is there now, in its
/// order, then what is no longer there. What is not due on record and was not before is no news: it is left out
/// unless it was done.
#[must_use]
pub fn changes<'a>(
    before: &'a [DueLine],
    then: NaiveDate,
    now: &'a [DueLine],
    as_of: NaiveDate,
) -> Vec<Change<'a>> {
    let mut old: BTreeMap<Identity<'_>, &DueLine> =
        before.iter().map(|line| (identity(line), line)).collect();
    let mut changes: Vec<Change<'_>> = Vec::new();
    for line in now {
        let what = match old.remove(&identity(line)) {
            Some(was) => what(was, was.status(then), line, line.status(as_of)),
            None => (line.status(as_of) != Status::NotDue).then_some(What::Appeared),
        };
        changes.extend(what.map(|what| Change { line, what }));
    }
    let gone = before.iter().filter(|line| old.contains_key(&identity(line)));
    let gone = gone.filter(|line| line.status(then) != Status::NotDue);
    changes.extend(gone.map(|line| Change { line, what: What::Went(line.status(then)) }));
    changes
}

fn what(before: &DueLine, was: Status, line: &DueLine, is: Status) -> Option<What> {
    let done = |line: &DueLine| line.last.map(|last| last.fact);
    let due = |line: &DueLine| (line.due_on(), line.due_hours());
    if line.last.is_some() && done(before) != done(line) {
        return Some(What::Done(was));
    }
    match is.cmp(&was) {
        std::cmp::Ordering::Less => Some(What::Worse(was)),
        std::cmp::Ordering::Greater => Some(What::Better(was)),
        std::cmp::Ordering::Equal if is != Status::NotDue && due(before) != due(line) => {
            Some(What::Moved)
        }
        std::cmp::Ordering::Equal => None,
    }
}

#[cfg(test)]
#[path = "changed_tests.rs"]
mod tests;
