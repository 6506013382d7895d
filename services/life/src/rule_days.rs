//! The days on which each status begins by one leg, under its rule.

use crate::calendar::{day_after, days_before};
use crate::hours::Hours;
use crate::line::{Count, NoLater};
use crate::rule::Rule;
use crate::status::StatusDays;
use chrono::NaiveDate;

impl Rule {
    /// The days on which each status begins by one leg.
    #[must_use]
    pub fn days_of(&self, count: Count, now: Option<(Hours, NaiveDate)>) -> StatusDays {
        match count {
            Count::Hours { due, latest, .. } => self.days_by_hours(due, latest, now),
            Count::Calendar { due, latest, .. } => self.days_by_calendar(due, latest),
            Count::Missing(..) => self.unknown(),
        }
    }

    /// The days of a leg that cannot be told: unknown, and overdue once its bound is past.
    #[must_use]
    pub fn days_of_bound(
        &self,
        bound: Option<NoLater>,
        now: Option<(Hours, NaiveDate)>,
    ) -> StatusDays {
        let known = match bound {
            Some(NoLater::Hours { due, latest }) => self.days_by_hours(due, latest, now),
            Some(NoLater::Day { due, latest }) => self.days_by_calendar(due, latest),
            None => StatusDays::default(),
        };
        StatusDays { unknown_from: Some(NaiveDate::MIN), beyond: self.beyond(), ..known }
    }

    fn unknown(&self) -> StatusDays {
        StatusDays {
            unknown_from: Some(NaiveDate::MIN),
            beyond: self.beyond(),
            ..StatusDays::default()
        }
    }

    /// The days on which each status begins by an hours leg, from the last reading: hours already passed
    /// begin on that reading's day, and hours still to come begin on no known day.
    fn days_by_hours(
        &self,
        due: Hours,
        latest: Hours,
        now: Option<(Hours, NaiveDate)>,
    ) -> StatusDays {
        let Some((now, on)) = now else { return self.unknown() };
        let since = |reached: bool| reached.then_some(on);
        let late = if self.late_at_due() { due } else { latest };
        StatusDays {
            unknown_from: None,
            coming_from: since(due - now <= self.notice.hours),
            due_from: since(now > due),
            late_from: since(now > late),
            beyond: self.beyond(),
        }
    }

    /// The days on which each status begins by a calendar leg; it is valid through the due day.
    fn days_by_calendar(&self, due: NaiveDate, latest: NaiveDate) -> StatusDays {
        let late = if self.late_at_due() { due } else { latest };
        StatusDays {
            unknown_from: None,
            coming_from: Some(days_before(due, self.notice.days)),
            due_from: Some(day_after(due)),
            late_from: Some(day_after(late)),
            beyond: self.beyond(),
        }
    }
}
