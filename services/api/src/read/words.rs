//! The nearest known names to one that is not known: what the sender probably meant.

/// How many names a message suggests at most.
const SUGGESTIONS_MAX: usize = 3;

/// The known names that `word` is probably a slip for, nearest first; at most three, often none.
pub fn nearest<'a>(word: &str, known: impl IntoIterator<Item = &'a str>) -> Vec<&'a str> {
    // Names of ours are at most 60 characters; comparing longer words would only cost time.
    if word.len() > 80 {
        return Vec::new();
    }
    let word = word.to_lowercase().replace('_', "-");
    let near = |name: &&str| {
        let plain = name.replace('_', "-");
        let slips = slips(&word, &plain);
        let few = slips <= 2.max(plain.chars().count() / 4) && slips < plain.chars().count();
        let contained = word.len() >= 3 && (plain.contains(&word) || word.contains(&plain));
        (few || contained).then_some(slips)
    };
    let mut found: Vec<(usize, &str)> =
        known.into_iter().filter_map(|name| near(&name).map(|slips| (slips, name))).collect();
    found.sort_unstable();
    found.into_iter().map(|(_, name)| name).take(SUGGESTIONS_MAX).collect()
}

/// A question to append to a message, or nothing.
pub(super) fn did_you_mean(names: &[&str]) -> String {
    if names.is_empty() {
        return String::new();
    }
    let names: Vec<String> = names.iter().map(|name| format!("`{name}`")).collect();
    format!("; did you mean {}?", names.join(" or "))
}

/// How many single characters must be put in, left out or exchanged (the Levenshtein distance).
fn slips(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (at, from) in a.chars().enumerate() {
        let mut next = vec![at + 1];
        for ((to, left_out), exchanged) in b.iter().zip(row.iter().skip(1)).zip(&row) {
            let put_in = next.last().copied().unwrap_or_default();
            let exchanged = exchanged + usize::from(from != *to);
            next.push(exchanged.min(left_out + 1).min(put_in + 1));
        }
        row = next;
    }
    row.last().copied().unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    // The textbook example of the distance: kitten, sitting, 3.
    #[test]
    fn counts_slips() {
        assert_eq!(slips("kitten", "sitting"), 3);
        assert_eq!(slips("", "abc"), 3);
        assert_eq!(slips("abc", "abc"), 0);
    }

    #[test]
    fn suggests_the_likely_names_only() {
        let known = ["meter", "on", "order_in_day", "fan-belt", "belt-tension"];
        assert_eq!(nearest("meterr", known), ["meter"]);
        assert_eq!(nearest("orderInDay", known), ["order_in_day"]);
        assert_eq!(nearest("belt", known), ["fan-belt", "belt-tension"]);
        assert_eq!(nearest("colour", known), Vec::<&str>::new());
    }
}
