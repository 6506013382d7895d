//! Whether an item is for an engine or part: by serial number, lot, and how the engine is built and used.

use crate::history::ComponentState;
use crate::ids::PartKind;
use crate::programme::{Applies, SerialRange};
use crate::subject::{LineSubject, Part};

/// Whether an item applies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Applicability {
    Yes,
    No,
    /// The records do not say.
    Unknown,
}

impl Applicability {
    /// Both have to apply: one clear no is enough.
    fn and(self, other: Self) -> Self {
        match (self, other) {
            (Self::No, _) | (_, Self::No) => Self::No,
            (Self::Unknown, _) | (_, Self::Unknown) => Self::Unknown,
            (Self::Yes, Self::Yes) => Self::Yes,
        }
    }

    fn told(answer: Option<bool>) -> Self {
        match answer {
            Some(true) => Self::Yes,
            Some(false) => Self::No,
            None => Self::Unknown,
        }
    }
}

/// Whether the item of a line applies to what the line is about.
pub(crate) fn applicability(subject: &LineSubject<'_>) -> Applicability {
    let applies = &subject.item.applies;
    let described = applies.described.iter().map(|(attribute, words)| {
        let known = subject.history.described(subject.id, *attribute);
        Applicability::told(known.map(|known| !known.is_disjoint(words)))
    });
    described.fold(by_marks(subject, applies), Applicability::and)
}

fn by_marks(subject: &LineSubject<'_>, applies: &Applies) -> Applicability {
    if !asks_for_marks(applies) {
        return Applicability::Yes;
    }
    decider(subject, applies).map_or(Applicability::No, |(_, answer)| answer)
}

/// Whether serial numbers or lots are asked about.
pub(crate) fn asks_for_marks(applies: &Applies) -> bool {
    !applies.serials.is_empty() || !applies.lots.is_empty()
}

/// What is marked on an engine or part; nothing at all where no such part is on record.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Marks<'a> {
    pub(crate) on_record: bool,
    pub(crate) serial: Option<&'a str>,
    pub(crate) lot: Option<&'a str>,
}

impl<'a> Marks<'a> {
    fn of_part(part: &'a ComponentState) -> Self {
        Self { on_record: true, serial: part.serial.as_deref(), lot: part.lot.as_deref() }
    }

    fn answer(self, applies: &Applies) -> Applicability {
        let in_lots = self.lot.map(|lot| applies.lots.iter().any(|it| it == lot));
        let lots = if applies.lots.is_empty() { Some(true) } else { in_lots };
        in_ranges(self.serial, &applies.serials).and(Applicability::told(lots))
    }
}

/// The marks that decide, and what they say: one part that it applies to is enough, else one that cannot be
/// told leaves it open. `None` for a clear no.
pub(crate) fn decider<'a>(
    subject: &LineSubject<'a>,
    applies: &Applies,
) -> Option<(Marks<'a>, Applicability)> {
    let mut all: Vec<Marks<'_>> = match (&applies.part, subject.part) {
        (None, Part::Component(_, component)) => vec![Marks::of_part(component)],
        (None, Part::Engine) => {
            let serial = subject.engine.serial.as_deref();
            vec![Marks { on_record: true, serial, lot: None }]
        }
        (None, _) => Vec::new(),
        (Some(kind), _) => fitted(subject, kind).map(Marks::of_part).collect(),
    };
    if all.is_empty() {
        all.push(Marks::default());
    }
    let answers: Vec<_> = all.into_iter().map(|marks| (marks, marks.answer(applies))).collect();
    let first = |wanted| answers.iter().find(|(_, answer)| *answer == wanted).copied();
    first(Applicability::Yes).or_else(|| first(Applicability::Unknown))
}

fn fitted<'a>(
    subject: &LineSubject<'a>,
    kind: &PartKind,
) -> impl Iterator<Item = &'a ComponentState> {
    let history = subject.history;
    let parts = history.fitted_to(subject.id).into_iter();
    parts.filter_map(|id| history.component(id)).filter(|part| part.kind.as_ref() == Some(kind))
}

/// Whether a serial number is in one of the ranges; a number that cannot be read leaves it open.
fn in_ranges(serial: Option<&str>, ranges: &[SerialRange]) -> Applicability {
    if ranges.is_empty() {
        return Applicability::Yes;
    }
    let Some((prefix, number)) = serial.and_then(split) else { return Applicability::Unknown };
    Applicability::told(Some(ranges.iter().any(|range| range.holds(prefix, number))))
}

/// The letters in front of a serial number, and its number.
pub(crate) fn split(serial: &str) -> Option<(&str, u64)> {
    let digits = serial.bytes().rev().take_while(u8::is_ascii_digit).count();
    let (prefix, number) = serial.split_at_checked(serial.len() - digits)?;
    Some((prefix, number.parse().ok()?))
}
