//! Which leg comes first.
//!
//! The leg in the worse status governs. Past due on both sides, both do. While neither is due and hours
//! have no forecast date, the side with the smaller share of its interval left governs (our own rule, exact
//! in whole numbers); equal shares are a tie and name both.

use crate::calendar::days_between;
use crate::hours::Hours;
use crate::line::{Axis, Count, DueLine, Governs, Leg};
use crate::status::Status;
use chrono::NaiveDate;

/// What is left of an interval, as a fraction of whole numbers.
#[derive(Clone, Copy)]
struct Share {
    left: i64,
    of: i64,
}

impl Share {
    /// Smaller, equal or larger, by cross-multiplication.
    fn compare(self, other: Self) -> std::cmp::Ordering {
        let cross = |a: i64, b: i64| i128::from(a) * i128::from(b.max(1));
        cross(self.left, other.of).cmp(&cross(other.left, self.of))
    }
}

/// How pressing a status is beside another leg's of the same line: past an extension comes before inside it,
/// though a fleet's list names it later.
const fn pressing(status: Status) -> (i16, Status) {
    match status {
        Status::Overdue => (0, status),
        Status::Unknown => (1, status),
        Status::OnCondition => (2, status),
        _ => (3, status),
    }
}

/// How one side stands: the worst status of its legs, and the smallest share left among those.
struct Side {
    status: Status,
    share: Share,
}

impl DueLine {
    /// Which leg comes first on a day.
    #[must_use]
    pub fn governs(&self, as_of: NaiveDate) -> Governs {
        let side = |axis| side(&self.legs, axis, self.hours_now, as_of);
        match (side(Axis::Hours), side(Axis::Calendar)) {
            (None, None) => Governs::None,
            (Some(_), None) => Governs::Hours,
            (None, Some(_)) => Governs::Calendar,
            (Some(hours), Some(calendar)) => between(&hours, &calendar),
        }
    }

    /// The legs that govern on a day, in the order of the line.
    #[must_use]
    pub fn governing_legs(&self, as_of: NaiveDate) -> Vec<&Leg> {
        let governs = self.governs(as_of);
        let pick = |axis: Axis, due: Option<i64>| {
            self.legs.iter().filter(move |leg| due.is_some() && due_of(leg, axis) == due)
        };
        let hours = self.due_hours().map(Hours::seconds);
        let calendar = self.due_on().map(|day| days_between(NaiveDate::MIN, day));
        match governs {
            Governs::Hours => pick(Axis::Hours, hours).collect(),
            Governs::Calendar => pick(Axis::Calendar, calendar).collect(),
            Governs::Both => {
                pick(Axis::Hours, hours).chain(pick(Axis::Calendar, calendar)).collect()
            }
            Governs::None => Vec::new(),
        }
    }
}

fn due_of(leg: &Leg, axis: Axis) -> Option<i64> {
    match (axis, leg.count) {
        (Axis::Hours, Count::Hours { due, .. }) => Some(due.seconds()),
        (Axis::Calendar, Count::Calendar { due, .. }) => Some(days_between(NaiveDate::MIN, due)),
        _ => None,
    }
}

fn between(hours: &Side, calendar: &Side) -> Governs {
    let is_past = |status| status <= Status::InExtension || status == Status::OnCondition;
    let past_due = is_past(hours.status) && is_past(calendar.status);
    match pressing(hours.status).cmp(&pressing(calendar.status)) {
        std::cmp::Ordering::Less => Governs::Hours,
        std::cmp::Ordering::Greater => Governs::Calendar,
        std::cmp::Ordering::Equal if past_due => Governs::Both,
        std::cmp::Ordering::Equal => match hours.share.compare(calendar.share) {
            std::cmp::Ordering::Less => Governs::Hours,
            std::cmp::Ordering::Greater => Governs::Calendar,
            std::cmp::Ordering::Equal => Governs::Both,
        },
    }
}

fn side(legs: &[Leg], axis: Axis, now: Option<Hours>, as_of: NaiveDate) -> Option<Side> {
    let sides = legs.iter().filter_map(|leg| {
        let share = match (axis, leg.count) {
            (Axis::Hours, Count::Hours { from, due, .. }) => {
                Share { left: (due - now?).seconds(), of: (due - from).seconds() }
            }
            (Axis::Calendar, Count::Calendar { from, due, .. }) => {
                Share { left: days_between(as_of, due), of: days_between(from, due) }
            }
            // What cannot be told does not govern, until the records prove that it is overdue.
            (_, Count::Missing(of, _)) if of == axis && leg.days.on(as_of) == Status::Overdue => {
                Share { left: -1, of: 1 }
            }
            _ => return None,
        };
        Some(Side { status: leg.days.on(as_of), share })
    });
    sides.min_by(|a, b| pressing(a.status).cmp(&pressing(b.status)).then(a.share.compare(b.share)))
}
