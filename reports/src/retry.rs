//! When a report is tried again, and when it is given up: the rules that delivering keeps to.

use gudgeon_store::Instant;

/// A minute, in microseconds.
const MINUTE: i64 = 60 * 1_000_000;
/// An hour, in microseconds.
const HOUR: i64 = 60 * MINUTE;
/// How long the first wait is, in microseconds; each further one is twice as long.
const WAIT_FIRST: i64 = 5 * MINUTE;
/// How long a wait is at most, in microseconds.
const WAIT_MAX: i64 = 6 * HOUR;
/// How long after its hour a mail is tried, in microseconds.
const TRIED_FOR: i64 = 48 * HOUR;
/// How long a whole domain is left alone when it says that it is too much, in microseconds.
const SLOWED_FOR: i64 = 15 * MINUTE;

/// The rules.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Rules {
    /// How long after its hour a report may still leave for the first time, in microseconds.
    pub late_max: i64,
    /// How many mails a minute one domain is given; `None`: as many as there are.
    pub domain_a_minute: Option<u32>,
}

impl Rules {
    /// What holds unless somebody says otherwise: 36 hours late, and any number a minute.
    pub const DEFAULT: Self = Self { late_max: 36 * HOUR, domain_a_minute: None };

    /// Whether it is too late for a report to leave for the first time.
    #[must_use]
    pub const fn is_too_late(&self, send_at: Instant, now: Instant) -> bool {
        now.0 - send_at.0 > self.late_max
    }
}

/// When a mail is tried again that was put off for the `attempts`-th time; `None` when it is given up. The waits
/// double, and are up to a fifth shorter or longer, by the mail's key, so that mails put off together do not all
/// come back together.
#[must_use]
pub fn next_try(send_at: Instant, now: Instant, attempts: u32, key: i64) -> Option<Instant> {
    let doubled = 2_i64.saturating_pow(attempts.saturating_sub(1));
    let wait = WAIT_FIRST.saturating_mul(doubled).min(WAIT_MAX);
    // Knuth, The Art of Computer Programming, volume 3, section 6.4: multiplicative hashing.
    let spread = key.wrapping_add(i64::from(attempts)).wrapping_mul(-7_046_029_254_386_353_131);
    let per_mille = 800 + (spread >> 32).rem_euclid(401);
    let next = now.0 + wait / 1000 * per_mille;
    (next - send_at.0 <= TRIED_FOR).then_some(Instant(next))
}

/// Until when a domain is left alone that says so now.
#[must_use]
pub const fn slowed_until(now: Instant) -> Instant {
    Instant(now.0 + SLOWED_FOR)
}

#[cfg(test)]
mod tests {
    use super::*;

    // By the rules above: 5, 10, 20, 40, 80, 160, 320 and then 360 minutes, each within a fifth, until 48 hours are
    // over. The shortest and longest such series have 14 and 11 waits within 2,880 minutes: 635 minutes for the first
    // seven, and 360 each after that.
    #[test]
    fn waits_double_up_to_six_hours_and_end_after_two_days() {
        for key in 0..200 {
            let (start, mut now) = (Instant(0), Instant(0));
            let mut waits = Vec::new();
            while let Some(next) =
                next_try(start, now, u32::try_from(waits.len()).unwrap() + 1, key)
            {
                waits.push((next.0 - now.0) / MINUTE);
                now = next;
            }
            for (wait, expected) in waits.iter().zip([5, 10, 20, 40, 80, 160, 320, 360, 360, 360]) {
                assert!((expected * 80 / 100..=expected * 120 / 100).contains(wait), "{waits:?}");
            }
            assert!((11..=16).contains(&waits.len()), "{waits:?}");
            assert!(now.0 <= 48 * HOUR);
        }
    }

    #[test]
    fn mails_put_off_together_come_back_apart() {
        let nexts: std::collections::BTreeSet<i64> = (0..100)
            .filter_map(|key| next_try(Instant(0), Instant(0), 1, key))
            .map(|it| it.0)
            .collect();
        assert!(nexts.len() > 30, "{}", nexts.len());
    }

    #[test]
    fn thirty_six_hours_after_its_hour_it_is_too_late() {
        let hours = |hours: i64| Instant(hours * HOUR);
        assert!(!Rules::DEFAULT.is_too_late(hours(1), hours(37)));
        assert!(Rules::DEFAULT.is_too_late(hours(1), Instant(hours(37).0 + 1)));
    }
}
