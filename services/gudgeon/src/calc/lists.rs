//! Lists of numbers, as the sums that estimate take them.

use gudgeon_api::read::{Fields, Node, Value};

/// The most entries of a list.
pub(super) const ENTRIES_MAX: usize = 2000;

/// Every entry as `read` gives it, or none when one of them is wrong: all are read, so that every fault is told.
pub(super) fn all<'a, T>(
    list: &Value<'a>,
    read: impl FnMut(&Value<'a>) -> Option<T>,
) -> Option<Vec<T>> {
    let read: Vec<Option<T>> = list.list(ENTRIES_MAX).iter().map(read).collect();
    read.into_iter().collect()
}

/// A list of numbers that has to be there.
pub(super) fn numbers(fields: &Fields<'_>, name: &'static str) -> Option<Vec<f64>> {
    all(&fields.required(name)?, Value::float)
}

/// A number that may be `null`.
pub(super) fn nullable(value: &Value<'_>) -> Option<f64> {
    match value.node() {
        Node::Null => None,
        _ => value.float(),
    }
}

/// A number that may be missing. Anything else than a number is a fault, which answers in its place.
pub(super) fn optional(fields: &Fields<'_>, name: &'static str) -> Option<f64> {
    fields.optional(name).and_then(|it| it.float())
}

/// A fault unless two lists go together.
pub(super) fn same_length(
    fields: &Fields<'_>,
    name: &str,
    found: usize,
    wanted: usize,
) -> Option<()> {
    if found == wanted {
        return Some(());
    }
    fields.fault(
        name,
        "unequal-lengths",
        format!("{wanted} entries are needed here, {found} are given"),
    );
    None
}
