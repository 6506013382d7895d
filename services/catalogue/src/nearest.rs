//! The known word nearest to a mistyped one, for messages that say what would be right.

/// The nearest of the known words, if it is near enough to be what was meant.
pub(crate) fn nearest<'k>(typed: &str, known: impl Iterator<Item = &'k str>) -> Option<&'k str> {
    let typed = typed.to_lowercase().replace('_', "-");
    let near_enough = 1 + typed.len() / 4;
    known
        // A word of quite another length cannot be near, however long the typed one is.
        .filter(|word| word.len().abs_diff(typed.len()) <= near_enough)
        .map(|word| (distance(&typed, word), word))
        .filter(|(far, _)| *far <= near_enough)
        .min()
        .map(|(_, word)| word)
}

/// How many single letters must be added, taken away or changed to make one word of the other.
fn distance(from: &str, to: &str) -> usize {
    let mut row: Vec<usize> = (0..=to.chars().count()).collect();
    for (at, x) in from.chars().enumerate() {
        let (mut diagonal, mut left) = (at, at + 1);
        for (y, cell) in to.chars().zip(row.iter_mut().skip(1)) {
            let changed = diagonal + usize::from(x != y);
            diagonal = *cell;
            left = changed.min(left + 1).min(*cell + 1);
            *cell = left;
        }
        if let Some(first) = row.first_mut() {
            *first = at + 1;
        }
    }
    row.last().copied().unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    // Counted by hand; `kitten` to `sitting` is the textbook example (three).
    #[test]
    fn counts_single_letter_changes() {
        for (from, to, far) in
            [("kitten", "sitting", 3), ("", "abc", 3), ("every", "every", 0), ("titel", "title", 2)]
        {
            assert_eq!(distance(from, to), far, "{from} {to}");
        }
    }

    #[test]
    fn finds_what_was_meant_and_nothing_far_off() {
        let known = ["counts-from", "every", "title", "tolerance"];
        for (typed, meant) in [
            ("count-from", Some("counts-from")),
            ("counts_from", Some("counts-from")),
            ("Titel", Some("title")),
            ("tolerence", Some("tolerance")),
            ("propeller", None),
            ("", None),
        ] {
            assert_eq!(nearest(typed, known.into_iter()), meant, "{typed}");
        }
    }
}
