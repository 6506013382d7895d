//! A due line: one item on one engine or component, with each leg, what governs, and how late.

use crate::calendar::days_between;
use crate::hours::Hours;
use crate::ids::{ComponentId, FactId, ItemId, PositionId};
use crate::programme::{Action, Class};
use crate::status::{Status, StatusDays};
use chrono::NaiveDate;

/// One item on one engine or component.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DueLine {
    /// The item, or what an open finding is about.
    pub item: ItemId,
    /// What people call it.
    pub title: String,
    /// Whether a rule or a finding asks for it.
    pub asked_by: AskedBy,
    /// Where on the engine; `None` for the engine as a whole.
    pub position: Option<PositionId>,
    /// The component it is about, when it is about one.
    pub component: Option<ComponentId>,
    /// How binding it is.
    pub class: Class,
    /// Where the rule comes from.
    pub source: String,
    /// Every leg of every limit, each counted apart.
    pub legs: Vec<Leg>,
    /// Hours on the line's own count at the last reading.
    pub hours_now: Option<Hours>,
    /// The day of that reading.
    pub hours_on: Option<NaiveDate>,
    /// What the aircraft's meter showed at that reading, while the engine is in an aircraft.
    pub meter_now: Option<Hours>,
    /// When it was last done.
    pub last: Option<LastDone>,
    /// How late the last work was done, past due: hours and days.
    pub last_overrun: Overrun,
    /// Whether that was beyond what the tolerance permits.
    pub last_overrun_beyond_tolerance: bool,
    /// The days from which each status holds.
    pub days: StatusDays,
    /// What a reader should know besides.
    pub notes: Vec<Note>,
}

/// What asks for a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum AskedBy {
    /// An item of the programme.
    Programme,
    /// A finding that is still open.
    Finding(FactId),
}

/// One leg of one limit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Leg {
    /// The name of its limit, when the item has several.
    pub limit: Option<String>,
    /// What is counted and where it is due.
    pub count: Count,
    /// The days from which each status holds, by this leg alone.
    pub days: StatusDays,
}

/// What a leg counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Count {
    /// Running hours on the line's own count.
    Hours {
        /// Where the count begins.
        from: Hours,
        /// Due at.
        due: Hours,
        /// The latest, tolerance or extension included.
        latest: Hours,
    },
    /// Calendar days; valid through `due`.
    Calendar {
        /// Where the count begins.
        from: NaiveDate,
        /// Due on.
        due: NaiveDate,
        /// The latest, tolerance or extension included.
        latest: NaiveDate,
    },
    /// It cannot be told.
    Missing(Axis, Missing),
}

/// Which side a leg counts on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Axis {
    /// Running hours.
    Hours,
    /// The calendar.
    Calendar,
}

/// Why a leg cannot be told.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Missing {
    /// No record that it was ever done.
    NeverDone,
    /// No record of when the engine or part was new.
    NoStart,
    /// No record of an overhaul, and the engine has no log.
    NoOverhaul,
    /// No record of when the part was fitted.
    NotFitted,
    /// No readable date code.
    NoCode,
    /// The hours at that time are not on record.
    NoHours,
    /// Records contradict one another and nobody has settled it.
    Conflict,
    /// No such part is on record.
    NoComponent,
}

impl Missing {
    /// All reasons.
    pub const ALL: [Self; 8] = [
        Self::NeverDone,
        Self::NoStart,
        Self::NoOverhaul,
        Self::NotFitted,
        Self::NoCode,
        Self::NoHours,
        Self::Conflict,
        Self::NoComponent,
    ];

    /// The word used in the API and in stored rows.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::NeverDone => "never-done",
            Self::NoStart => "no-start",
            Self::NoOverhaul => "no-overhaul",
            Self::NotFitted => "not-fitted",
            Self::NoCode => "no-code",
            Self::NoHours => "no-hours",
            Self::Conflict => "conflict",
            Self::NoComponent => "no-component",
        }
    }

    /// The words printed on paper and pages.
    #[must_use]
    pub const fn printed(self) -> &'static str {
        match self {
            Self::NeverDone => "no record that it was ever done",
            Self::NoStart => "no record of when it was new",
            Self::NoOverhaul => "no record of an overhaul, and no log from new",
            Self::NotFitted => "no record of when it was fitted",
            Self::NoCode => "no readable date code on record",
            Self::NoHours => "the hours at that time are not on record",
            Self::Conflict => "records contradict one another",
            Self::NoComponent => "no such part is on record",
        }
    }
}

/// When an item was last done.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LastDone {
    /// The day it was released.
    pub on: NaiveDate,
    /// Hours on the line's own count, where known.
    pub hours: Option<Hours>,
    /// What was done.
    pub action: Action,
    /// The record that says so.
    pub fact: FactId,
}

/// How far past due something was done, or stands.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Overrun {
    /// Running hours past due; zero when not past it.
    pub hours: Hours,
    /// Days past due; zero when not past it.
    pub days: i64,
}

/// What a reader should know besides the figures.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Note {
    /// Never overhauled on record: counted from new.
    CountedFromNew,
    /// The work was so late that whole intervals were skipped.
    SkippedIntervals,
    /// The hours at the last work were not read then; the last reading before it is used.
    EarlierReading,
    /// The hour allowance is only to reach a place where the work can be done.
    EnRouteOnly,
    /// A tolerance needs a recorded permission dated before due, and there is none.
    NoGrant,
    /// The part is past its shelf life and was never fitted: do not fit it.
    PastShelfLife,
    /// The part was fitted after its shelf life had ended.
    FittedPastShelfLife,
    /// Reported done without a recorded release.
    NoRelease,
    /// A full overhaul is not complete until a test run is posted.
    NoTestRun,
}

impl Note {
    /// All notes.
    pub const ALL: [Self; 9] = [
        Self::CountedFromNew,
        Self::SkippedIntervals,
        Self::EarlierReading,
        Self::EnRouteOnly,
        Self::NoGrant,
        Self::PastShelfLife,
        Self::FittedPastShelfLife,
        Self::NoRelease,
        Self::NoTestRun,
    ];

    /// The word used in the API and in stored rows.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::CountedFromNew => "counted-from-new",
            Self::SkippedIntervals => "skipped-intervals",
            Self::EarlierReading => "earlier-reading",
            Self::EnRouteOnly => "en-route-only",
            Self::NoGrant => "no-grant",
            Self::PastShelfLife => "past-shelf-life",
            Self::FittedPastShelfLife => "fitted-past-shelf-life",
            Self::NoRelease => "no-release",
            Self::NoTestRun => "no-test-run",
        }
    }

    /// The words printed on paper and pages.
    #[must_use]
    pub const fn printed(self) -> &'static str {
        match self {
            Self::CountedFromNew => "never overhauled on record: counted from new",
            Self::SkippedIntervals => {
                "last done so late that at least one whole interval was missed"
            }
            Self::EarlierReading => {
                "no reading with the last work: the reading before it is used, which is the cautious side"
            }
            Self::EnRouteOnly => {
                "the hours past due are allowed only to reach a place where the work can be done"
            }
            Self::NoGrant => {
                "a tolerance needs a permission recorded before due; none is on record"
            }
            Self::PastShelfLife => "past its shelf life: do not fit it",
            Self::FittedPastShelfLife => "it was fitted after its shelf life had ended",
            Self::NoRelease => "reported done, no release recorded",
            Self::NoTestRun => "overhaul not complete: no test run posted",
        }
    }
}

impl Overrun {
    /// The larger on each side.
    #[must_use]
    pub fn with(self, other: Self) -> Self {
        Self { hours: self.hours.max(other.hours), days: self.days.max(other.days) }
    }
}

/// Which leg comes first on a day.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Governs {
    /// An hours leg.
    Hours,
    /// A calendar leg.
    Calendar,
    /// Both, neither before the other.
    Both,
    /// None can be told.
    None,
}

impl Governs {
    /// The word used in the API.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Hours => "hours",
            Self::Calendar => "calendar",
            Self::Both => "both",
            Self::None => "none",
        }
    }
}

impl DueLine {
    /// How the line stands on a day.
    #[must_use]
    pub fn status(&self, as_of: NaiveDate) -> Status {
        self.days.on(as_of)
    }

    /// The earliest due hours over all legs.
    #[must_use]
    pub fn due_hours(&self) -> Option<Hours> {
        self.hours_legs().map(|(_, due, _)| due).min()
    }

    /// The earliest latest hours over all legs.
    #[must_use]
    pub fn latest_hours(&self) -> Option<Hours> {
        self.hours_legs().map(|(_, _, latest)| latest).min()
    }

    /// The earliest due day over all legs.
    #[must_use]
    pub fn due_on(&self) -> Option<NaiveDate> {
        self.calendar_legs().map(|(_, due, _)| due).min()
    }

    /// The earliest latest day over all legs.
    #[must_use]
    pub fn latest_on(&self) -> Option<NaiveDate> {
        self.calendar_legs().map(|(_, _, latest)| latest).min()
    }

    /// Hours left until due at the last reading; negative when past it.
    #[must_use]
    pub fn hours_left(&self) -> Option<Hours> {
        Some(self.due_hours()? - self.hours_now?)
    }

    /// What the aircraft's hour meter will show when it is due.
    #[must_use]
    pub fn meter_due(&self) -> Option<Hours> {
        Some(self.meter_now? + self.hours_left()?)
    }

    /// How far past due the line stands on a day, on each side.
    #[must_use]
    pub fn overdue_by(&self, as_of: NaiveDate) -> Overrun {
        let hours = self.hours_left().map_or(Hours::ZERO, |left| (-left).max(Hours::ZERO));
        let days = self.due_on().map_or(0, |due| days_between(due, as_of).max(0));
        Overrun { hours, days }
    }

    fn hours_legs(&self) -> impl Iterator<Item = (Hours, Hours, Hours)> {
        self.legs.iter().filter_map(|leg| match leg.count {
            Count::Hours { from, due, latest } => Some((from, due, latest)),
            _ => None,
        })
    }

    fn calendar_legs(&self) -> impl Iterator<Item = (NaiveDate, NaiveDate, NaiveDate)> {
        self.legs.iter().filter_map(|leg| match leg.count {
            Count::Calendar { from, due, latest } => Some((from, due, latest)),
            _ => None,
        })
    }
}
