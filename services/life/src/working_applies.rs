//! The part of a working that says whether an item applies: what is asked for, and what is on record.

use crate::applies::{Marks, asks_for_marks, decider, split};
use crate::programme::{Applies, Subject};
use crate::subject::LineSubject;

/// One sentence for each thing that is asked, in the order in which it is asked.
pub(crate) fn applies_words(subject: &LineSubject<'_>) -> Vec<String> {
    let applies = &subject.item.applies;
    let mut words = Vec::new();
    let decider = Some(applies).filter(|it| asks_for_marks(it)).and_then(|it| decider(subject, it));
    if let Some((marks, _)) = decider {
        let what = what(subject, applies);
        words.extend(serial_words(applies, what, marks));
        words.extend(lot_words(applies, what, marks));
    }
    for (attribute, asked) in &applies.described {
        let answer = subject.history.described(subject.id, *attribute).map_or_else(
            || "not known, none on record".to_owned(),
            |known| format!("on record {}", quoted(known, " and ")),
        );
        words.push(format!("Applies to {} {}: {answer}.", attribute.word(), quoted(asked, " or ")));
    }
    words
}

/// What serial numbers and lots are asked of.
fn what<'a>(subject: &'a LineSubject<'_>, applies: &'a Applies) -> &'a str {
    match (&applies.part, &subject.item.subject) {
        (Some(kind), _) | (None, Subject::Component(kind)) => kind.as_str(),
        (None, Subject::Engine) => "engine",
    }
}

fn serial_words(applies: &Applies, what: &str, marks: Marks<'_>) -> Option<String> {
    let ranges: Vec<String> = applies.serials.iter().map(ToString::to_string).collect();
    let answer = match marks.serial {
        _ if !marks.on_record => format!("not known, no {what} on record"),
        None => format!("not known, no serial number of the {what} on record"),
        Some(serial) => match split(serial) {
            None => format!("not known, {what} `{serial}` does not end in a number"),
            Some((prefix, number)) => {
                let range = applies.serials.iter().find(|range| range.holds(prefix, number))?;
                format!("{what} `{serial}` is in {range}")
            }
        },
    };
    (!ranges.is_empty())
        .then(|| format!("Applies to serial numbers {}: {answer}.", ranges.join(" or ")))
}

fn lot_words(applies: &Applies, what: &str, marks: Marks<'_>) -> Option<String> {
    let answer = match marks.lot {
        _ if !marks.on_record => format!("not known, no {what} on record"),
        None => format!("not known, no lot of the {what} on record"),
        Some(lot) => format!("{what} of lot `{lot}`"),
    };
    (!applies.lots.is_empty())
        .then(|| format!("Applies to lots {}: {answer}.", quoted(&applies.lots, " or ")))
}

fn quoted<'a>(words: impl IntoIterator<Item = &'a String>, between: &str) -> String {
    let quoted: Vec<String> = words.into_iter().map(|word| format!("`{word}`")).collect();
    quoted.join(between)
}
