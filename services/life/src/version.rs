//! Versions of a programme in words: by which one an engine is counted, and that it changed.

use crate::words::day;
use chrono::{Days, NaiveDate};
use std::fmt::Write;

/// How long a change of the programme is told, in days: one weekly mail.
const NEWS_DAYS: u64 = 7;
/// How many hexadecimal digits of a digest tell versions apart on paper.
const DIGITS_SHOWN: usize = 12;
/// How many groups of four hexadecimal digits stand for a hash in print.
const WITNESS_GROUPS: usize = 4;

/// The version of an engine type that is to be counted by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ActiveVersion {
    /// SHA-256 of its file.
    pub digest: [u8; 32],
    /// The day from which it counts.
    pub since: NaiveDate,
    /// The version before it, if there was one.
    pub replaces: Option<[u8; 32]>,
}

impl ActiveVersion {
    /// By which version an engine is counted, in one sentence; in a second one, for a week, that it changed.
    #[must_use]
    pub fn words(&self, counted_by: [u8; 32], as_of: NaiveDate) -> Vec<String> {
        let (version, since) = (short_digest(self.digest), day(self.since));
        if counted_by != self.digest {
            return vec![format!(
                "Counted by programme version {}. Version {version}, active since {since}, is being worked in.",
                short_digest(counted_by)
            )];
        }
        let mut words = vec![format!("Programme version {version}, active since {since}.")];
        let old = self.since.checked_add_days(Days::new(NEWS_DAYS)).is_none_or(|end| as_of >= end);
        if self.replaces.is_some() && !old {
            words.push(format!(
                "The programme of this type of engine changed on {since}: what is due may differ from what was told before."
            ));
        }
        words
    }
}

/// The first digits of a digest, enough to tell versions apart on paper.
#[must_use]
pub fn short_digest(digest: [u8; 32]) -> String {
    hex(digest).chars().take(DIGITS_SHOWN).collect()
}

/// The first 64 bits of a hash in groups that the eye can compare: enough that nobody makes another record with
/// the same.
#[must_use]
pub fn witness(hash: [u8; 32]) -> String {
    let digits = hex(hash);
    let groups = (0..WITNESS_GROUPS).filter_map(|at| digits.get(4 * at..4 * at + 4));
    groups.collect::<Vec<_>>().join("-")
}

/// A digest in hexadecimal, in lower case.
#[must_use]
pub fn hex(digest: [u8; 32]) -> String {
    digest.iter().fold(String::new(), |mut text, byte| {
        // Writing to a string does not fail.
        let _ = write!(text, "{byte:02x}");
        text
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn on(day: &str) -> NaiveDate {
        day.parse().unwrap()
    }

    // By the calendar: 2026-11-19 is a Thursday, and the seventh day after it is the 26th.
    #[test]
    fn a_change_is_news_for_one_week() {
        let active =
            ActiveVersion { digest: [0xab; 32], since: on("2026-11-19"), replaces: Some([1; 32]) };
        let words = active.words([0xab; 32], on("2026-11-25"));
        assert_eq!(words[0], "Programme version abababababab, active since Thu 2026-11-19.");
        assert!(words[1].contains("changed on Thu 2026-11-19"), "{words:?}");
        assert_eq!(active.words([0xab; 32], on("2026-11-26")).len(), 1);
        let first = ActiveVersion { replaces: None, ..active };
        assert_eq!(first.words([0xab; 32], on("2026-11-20")).len(), 1, "the first is no change");
    }

    // By hand: the bytes 00, 01, 02 and so on, two digits each.
    #[test]
    fn a_witness_is_the_first_sixteen_digits() {
        let hash = std::array::from_fn(|at| u8::try_from(at).unwrap());
        assert_eq!(witness(hash), "0001-0203-0405-0607");
    }

    #[test]
    fn an_engine_still_counted_by_the_version_before_says_so() {
        let active =
            ActiveVersion { digest: [0xab; 32], since: on("2026-11-19"), replaces: Some([1; 32]) };
        let words = active.words([1; 32], on("2026-11-19"));
        assert_eq!(
            words,
            [
                "Counted by programme version 010101010101. Version abababababab, active since Thu 2026-11-19, is being worked in."
            ]
        );
    }
}
