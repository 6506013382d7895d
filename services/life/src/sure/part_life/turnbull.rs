//! How many parts survive when inspections found them bad: Turnbull's curve.
//!
//! A part good at L and bad at R failed somewhere in (L, R]. The likelihood can tell chances apart only between the
//! innermost intervals, those that begin at some L and end at the next R (Turnbull 1976); each gets the chance that
//! makes all findings most likely, found by his self-consistent steps. They converge slowly where an interval gets no
//! chance at all: after [`STEPS_MAX`] steps the survival is right to some 1e-5.

use super::Part;
use crate::sure::real;

/// The most steps.
pub const STEPS_MAX: usize = 200_000;
/// A step that moves no chance by more than this is the last.
const STILL: f64 = 1e-10;
/// A chance below this is none.
const CHANCE_MIN: f64 = 1e-7;

/// One innermost interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Innermost {
    /// Good at this hour.
    pub from_h: f64,
    /// Bad at this hour; `None`: later than anything was seen.
    pub to_h: Option<f64>,
    /// The chance of failing in it.
    pub mass: f64,
    /// The share that survives it.
    pub survival_after: f64,
}

/// A survival curve from inspections.
#[derive(Clone, Debug, PartialEq)]
pub struct Turnbull {
    /// Its intervals, by time.
    pub innermost: Vec<Innermost>,
    /// The log-likelihood at the end.
    pub log_likelihood: f64,
}

/// An end of an interval, in the order that tells what contains what: a failure at a known time begins just before
/// it, an interval (L, R] just after L.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Mark(f64, Side);

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Side {
    JustBefore,
    End,
    JustAfter,
}

impl Mark {
    fn before(&self, other: &Self) -> std::cmp::Ordering {
        self.0.total_cmp(&other.0).then(self.1.cmp(&other.1))
    }
}

/// The curve; `None` without parts, or when a part entered late: then its interval says nothing of the time before.
#[must_use]
pub fn curve(parts: &[Part]) -> Option<Turnbull> {
    if parts.is_empty() || parts.iter().any(|part| part.entry > 0.0) {
        return None;
    }
    let seen: Vec<(Mark, Mark)> = parts.iter().map(marks).collect();
    let innermost = innermost(&seen);
    let spans: Vec<(usize, usize)> = seen
        .iter()
        .map(|(from, to)| {
            let first = innermost.partition_point(|it| it.0.before(from).is_lt());
            (first, innermost.partition_point(|it| it.1.before(to).is_le()))
        })
        .collect();
    let (masses, log_likelihood) = chances(&spans, innermost.len());
    let mut survival: f64 = 1.0;
    let kept = innermost.iter().zip(masses).filter(|(_, mass)| *mass > CHANCE_MIN);
    let intervals = kept.map(|((from, to), mass)| {
        survival -= mass;
        let to_h = to.0.is_finite().then_some(to.0);
        Innermost { from_h: from.0, to_h, mass, survival_after: survival.clamp(0.0, 1.0) }
    });
    let innermost = intervals.collect();
    log_likelihood.is_finite().then_some(Turnbull { innermost, log_likelihood })
}

fn marks(part: &Part) -> (Mark, Mark) {
    let side = if part.is_exact() { Side::JustBefore } else { Side::JustAfter };
    (Mark(part.good, side), Mark(part.bad.unwrap_or(f64::INFINITY), Side::End))
}

/// Every pair of a beginning and the end that comes next.
fn innermost(seen: &[(Mark, Mark)]) -> Vec<(Mark, Mark)> {
    let mut marks: Vec<Mark> = seen.iter().flat_map(|(from, to)| [*from, *to]).collect();
    marks.sort_by(Mark::before);
    let pairs = marks.iter().zip(marks.iter().skip(1));
    let ends = |(from, to): &(&Mark, &Mark)| from.1 != Side::End && to.1 == Side::End;
    pairs.filter(ends).map(|(from, to)| (*from, *to)).collect()
}

/// The most likely chances of `size` intervals, when each part failed in one of those from its first to before its
/// last. Sums over a run of intervals are differences of running sums, so that a step costs parts plus intervals.
fn chances(spans: &[(usize, usize)], size: usize) -> (Vec<f64>, f64) {
    let parts = real(spans.len());
    let mut masses = vec![1.0 / real(size); size];
    let mut log_likelihood = 0.0;
    for _ in 0..STEPS_MAX {
        let mut before = Vec::with_capacity(size + 1);
        before.push(0.0);
        before.extend(running_sum(&masses));
        let mut rises = vec![0.0; size + 1];
        log_likelihood = 0.0;
        for (first, last) in spans {
            let among =
                before.get(*last).zip(before.get(*first)).map_or(0.0, |(to, from)| to - from);
            log_likelihood += among.ln();
            for (at, rise) in [(first, 1.0 / among), (last, -1.0 / among)] {
                if let Some(sum) = rises.get_mut(*at) {
                    *sum += rise;
                }
            }
        }
        let mut moved: f64 = 0.0;
        for (mass, weight) in masses.iter_mut().zip(running_sum(&rises)) {
            let next = *mass * weight / parts;
            moved = moved.max((next - *mass).abs());
            *mass = next;
        }
        if moved < STILL {
            break;
        }
    }
    (masses, log_likelihood)
}

fn running_sum(values: &[f64]) -> impl Iterator<Item = f64> {
    values.iter().scan(0.0, |sum, value| {
        *sum += value;
        Some(*sum)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(good: f64, bad: f64) -> Part {
        Part::found_bad(good, bad).expect("possible")
    }

    // (0, 100] twice and (100, 200] twice tell half and half; by hand.
    #[test]
    fn intervals_side_by_side_share_the_chance() {
        let parts =
            [found(0.0, 100.0), found(0.0, 100.0), found(100.0, 200.0), found(100.0, 200.0)];
        let curve = curve(&parts).expect("parts from new");
        let steps: Vec<_> = curve.innermost.iter().map(|it| (it.from_h, it.to_h)).collect();
        assert_eq!(steps, [(0.0, Some(100.0)), (100.0, Some(200.0))]);
        assert!(curve.innermost.iter().all(|it| (it.mass - 0.5).abs() < 1e-9));
        assert!((curve.log_likelihood - 4.0 * 0.5_f64.ln()).abs() < 1e-9);
    }

    // A failure at a known hour lies inside an interval that ends there, and not in one that begins there.
    #[test]
    fn a_known_failure_is_the_end_of_its_interval() {
        let exact = Part::failed(100.0).expect("possible");
        let inside = curve(&[exact, found(50.0, 100.0)]).expect("parts from new");
        assert_eq!(inside.innermost.len(), 1);
        let beside = curve(&[exact, found(100.0, 150.0)]).expect("parts from new");
        assert_eq!(beside.innermost.len(), 2);
    }

    #[test]
    fn late_entries_and_no_parts_have_no_curve() {
        assert_eq!(curve(&[]), None);
        let late = found(200.0, 300.0).entered(100.0).expect("possible");
        assert_eq!(curve(&[late]), None);
    }
}
