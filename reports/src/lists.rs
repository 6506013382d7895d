//! Lists that are cut to what a mail can hold, for mails made of lists.

use crate::view::{Entry, Labelled, Section};

/// The most details of one entry; the rest is counted.
const DETAILS_MAX: usize = 12;

/// What a list is about, before it is filled.
pub(crate) struct Heading {
    /// What it lists.
    pub(crate) title: &'static str,
    /// What is to be known about all of it.
    pub(crate) intro: String,
    /// What is said when there is nothing to list.
    pub(crate) none: &'static str,
    /// What stands in the first column and in the second.
    pub(crate) columns: (&'static str, &'static str),
}

/// A list with no more entries than fit, of `all` that there are.
pub(crate) fn section(
    heading: Heading,
    mut entries: Vec<Entry>,
    all: usize,
    shown_max: usize,
) -> Section {
    entries.truncate(shown_max);
    let left = all.saturating_sub(entries.len());
    let Heading { title, intro, none, columns } = heading;
    Section {
        title: title.to_owned(),
        intro: if all == 0 { none.to_owned() } else { intro },
        columns: (columns.0.to_owned(), columns.1.to_owned()),
        cut: (left > 0).then(|| format!("{left} more not shown.")),
        entries,
    }
}

/// No more details than fit; the rest counted under the label of the last.
pub(crate) fn capped(mut details: Vec<Labelled>) -> Vec<Labelled> {
    if details.len() > DETAILS_MAX {
        let left = details.split_off(DETAILS_MAX).len();
        details.push(Labelled::new("More", format!("{left} not shown.")));
    }
    details
}
