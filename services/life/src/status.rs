//! How a line stands on a day, from the days on which each status begins.
//!
//! What is stored stays true as days pass: nothing is rewritten at midnight. A status on any day follows
//! from these few days in one pure function that queries and pages share.

use chrono::NaiveDate;

/// How a due line stands. Declared worst first, so that the smaller is the worse.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Status {
    /// Past its latest day or hour.
    Overdue,
    /// Something needed to tell is missing.
    Unknown,
    /// Past due, inside a tolerance.
    InTolerance,
    /// Past the recommended life, inside a permitted extension.
    InExtension,
    /// Due soon enough to plan for.
    ComingDue,
    /// Past a permitted extension, kept by inspections.
    OnCondition,
    /// Not due on record.
    NotDue,
}

impl Status {
    /// All statuses, worst first.
    pub const ALL: [Self; 7] = [
        Self::Overdue,
        Self::Unknown,
        Self::InTolerance,
        Self::InExtension,
        Self::ComingDue,
        Self::OnCondition,
        Self::NotDue,
    ];

    /// The word used in the API and in stored rows.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Overdue => "overdue",
            Self::Unknown => "unknown",
            Self::InTolerance => "in-tolerance",
            Self::InExtension => "in-extension",
            Self::ComingDue => "coming-due",
            Self::OnCondition => "on-condition",
            Self::NotDue => "not-due",
        }
    }

    /// The words printed on paper and pages.
    #[must_use]
    pub const fn printed(self) -> &'static str {
        match self {
            Self::Overdue => "overdue",
            Self::Unknown => "unknown",
            Self::InTolerance => "in tolerance",
            Self::InExtension => "in extension",
            Self::ComingDue => "coming due",
            Self::OnCondition => "on condition",
            Self::NotDue => "not due on record",
        }
    }

    /// 0 for the worst, 6 for the best: for sorting in a query.
    #[must_use]
    pub const fn rank(self) -> i16 {
        match self {
            Self::Overdue => 0,
            Self::Unknown => 1,
            Self::InTolerance => 2,
            Self::InExtension => 3,
            Self::ComingDue => 4,
            Self::OnCondition => 5,
            Self::NotDue => 6,
        }
    }

    /// The status of this rank.
    #[must_use]
    pub fn from_rank(rank: i16) -> Option<Self> {
        Self::ALL.into_iter().find(|status| status.rank() == rank)
    }
}

/// What comes after due, before late.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Beyond {
    /// A tolerance (possibly none): in tolerance, then overdue.
    #[default]
    Tolerance,
    /// An extension: in extension, then on condition.
    Extension,
}

/// The days from which each status holds; `None` where records as they are never lead to it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct StatusDays {
    /// From this day something needed is missing.
    pub unknown_from: Option<NaiveDate>,
    /// From this day it counts as coming due.
    pub coming_from: Option<NaiveDate>,
    /// From this day it is past due.
    pub due_from: Option<NaiveDate>,
    /// From this day it is past its latest.
    pub late_from: Option<NaiveDate>,
    /// Whether past due means a tolerance or an extension.
    pub beyond: Beyond,
}

impl StatusDays {
    /// The status on a day.
    #[must_use]
    pub fn on(&self, day: NaiveDate) -> Status {
        let reached = |from: Option<NaiveDate>| from.is_some_and(|from| from <= day);
        let by_time = if reached(self.late_from) {
            match self.beyond {
                Beyond::Tolerance => Status::Overdue,
                Beyond::Extension => Status::OnCondition,
            }
        } else if reached(self.due_from) {
            match self.beyond {
                Beyond::Tolerance => Status::InTolerance,
                Beyond::Extension => Status::InExtension,
            }
        } else if reached(self.coming_from) {
            Status::ComingDue
        } else {
            Status::NotDue
        };
        if reached(self.unknown_from) { by_time.min(Status::Unknown) } else { by_time }
    }

    /// The days of two reasons taken together: each status begins when the first of them says so.
    #[must_use]
    pub fn with(self, other: Self) -> Self {
        let first = |a: Option<NaiveDate>, b: Option<NaiveDate>| match (a, b) {
            (Some(a), Some(b)) => Some(a.min(b)),
            (a, b) => a.or(b),
        };
        Self {
            unknown_from: first(self.unknown_from, other.unknown_from),
            coming_from: first(self.coming_from, other.coming_from),
            due_from: first(self.due_from, other.due_from),
            late_from: first(self.late_from, other.late_from),
            beyond: self.beyond,
        }
    }

    fn turning_days(&self) -> impl Iterator<Item = NaiveDate> + use<> {
        [self.unknown_from, self.coming_from, self.due_from, self.late_from].into_iter().flatten()
    }
}

/// The worst status over several lines as a step function: from this day, that status, until the next.
/// The first step begins at the first day of the calendar.
#[must_use]
pub fn worst_steps(lines: &[StatusDays]) -> Vec<(NaiveDate, Status)> {
    let turns = |(at, line): (usize, &StatusDays)| line.turning_days().map(move |day| (day, at));
    let mut turns: Vec<(NaiveDate, usize)> = lines.iter().enumerate().flat_map(turns).collect();
    turns.sort_unstable();
    let worst = |now: &[Status]| now.iter().copied().min().unwrap_or(Status::NotDue);
    let mut now: Vec<Status> = lines.iter().map(|line| line.on(NaiveDate::MIN)).collect();
    let mut before = worst(&now);
    let mut steps = vec![(NaiveDate::MIN, before)];
    for of_day in turns.chunk_by(|(a, _), (b, _)| a == b) {
        let Some((day, _)) = of_day.first().copied() else { continue };
        for (_, at) in of_day {
            if let (Some(now), Some(line)) = (now.get_mut(*at), lines.get(*at)) {
                *now = line.on(day);
            }
        }
        let after = worst(&now);
        if before != after {
            steps.push((day, after));
        }
        before = after;
    }
    steps
}
