//! A due line: one item on one engine or component, with each leg, what governs, and how late.

pub use crate::reasons::{Missing, Note};

use crate::calendar::{days_before, days_between};
use crate::fact::EventKind;
use crate::hours::Hours;
use crate::ids::{ComponentId, FactId, ItemId, PositionId};
use crate::programme::{Action, Class};
use crate::status::{Status, StatusDays};
use crate::wear::Wear;
use chrono::NaiveDate;

/// A line counts as coming due so many days before the day to plan it by, however short its own notice is.
pub const PLAN_DAYS: u32 = 30;

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
    /// The day to plan for by its hours: one time in ten they are used up by then. `None` where nobody can say, or
    /// that is not within ten years.
    pub plan_by: Option<NaiveDate>,
    /// When it was last done.
    pub last: Option<LastDone>,
    /// How late the last work was done, past due: hours and days.
    pub last_overrun: Overrun,
    /// Whether that was beyond what the tolerance permits.
    pub last_overrun_beyond_tolerance: bool,
    /// The days from which each status holds.
    pub days: StatusDays,
    /// What the trends of its measured limit say; empty where it has none.
    pub wear: Vec<Wear>,
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
    /// Something that happened, and was not looked after since.
    Event(Happened),
    /// A preservation that runs out.
    Preservation(FactId),
    /// An item that runs on condition past its extension: the inspection that lets it.
    OnCondition,
}

/// What happened, and when, on the line's own count.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Happened {
    /// What.
    pub kind: EventKind,
    /// The day.
    pub on: NaiveDate,
    /// Hours then, where known.
    pub hours: Option<Hours>,
    /// The record that says so.
    pub fact: FactId,
}

/// One leg of one limit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Leg {
    /// The name of its limit, when the item has several.
    pub limit: Option<String>,
    /// What is counted and where it is due.
    pub count: Count,
    /// When it is due at the latest, when it cannot be told exactly but the records prove that much.
    pub no_later: Option<NoLater>,
    /// The days from which each status holds, by this leg alone.
    pub days: StatusDays,
}

/// A bound on a due that cannot be told: never done since the records begin, so due no later than this.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoLater {
    /// By running hours on the line's own count.
    Hours {
        /// Due at the latest at.
        due: Hours,
        /// The latest, tolerance or extension included.
        latest: Hours,
    },
    /// By the calendar.
    Day {
        /// Due at the latest on.
        due: NaiveDate,
        /// The latest, tolerance or extension included.
        latest: NaiveDate,
    },
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
    /// Takes the day to plan for by its hours, and lets the line count as coming due from [`PLAN_DAYS`] before that,
    /// where it is earlier than its notice: an estimate may make somebody look earlier, never later.
    pub fn plan(&mut self, by: NaiveDate) {
        let from = days_before(by, PLAN_DAYS).max(self.hours_on.unwrap_or(NaiveDate::MIN));
        let known = self.days.coming_from;
        self.days.coming_from = Some(known.map_or(from, |known| known.min(from)));
        self.plan_by = Some(by);
    }

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
