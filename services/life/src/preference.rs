//! How somebody wants a weekly report: when it leaves, how often there is one, and how it writes figures.

use crate::week::ReportWeek;
use crate::zone::Zone;
use chrono::{DateTime, NaiveTime, Utc, Weekday};

/// Which weekly report, by whom it is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum ReportKind {
    /// What is due on somebody's engines.
    Owner,
    /// The work that comes in to a workshop.
    Shop,
    /// How the whole fleet stands.
    Inspector,
}

/// How often there is a report.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Mode {
    /// Every week, whatever there is to say.
    EveryWeek,
    /// When something is due or changed; a short one every fourth week says that nothing is.
    #[default]
    WhenDueOrChanged,
    /// When something is overdue.
    OverdueOnly,
    /// Never.
    Off,
}

/// How days are written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Dates {
    /// `2026-11-24`, as ISO 8601 does.
    #[default]
    Iso,
    /// `24 Nov 2026`.
    DayMonthYear,
    /// `Nov 24, 2026`.
    MonthDayYear,
}

/// What stands before the tenths.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum DecimalMark {
    /// `1043.2`.
    #[default]
    Point,
    /// `1043,2`.
    Comma,
}

/// How running hours are written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum HoursForm {
    /// In tenths: `1043.2`.
    #[default]
    Decimal,
    /// In hours and minutes: `1043:12`.
    HoursMinutes,
}

/// How figures are written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct Style {
    /// Days.
    pub dates: Dates,
    /// Decimals.
    pub decimal_mark: DecimalMark,
    /// Running hours.
    pub hours: HoursForm,
}

/// How somebody wants one kind of report. The default is what whoever never chose gets.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Preference {
    /// The day of the week on which it leaves.
    pub weekday: Weekday,
    /// When on that day, to the minute.
    pub at: NaiveTime,
    /// Where day and time are those of; `None`: where the service is.
    pub zone: Option<Zone>,
    /// How often.
    pub mode: Mode,
    /// How figures are written.
    pub style: Style,
}

impl Default for Preference {
    /// Monday 07:00 where the service is, when something is due or changed.
    fn default() -> Self {
        Self {
            weekday: Weekday::Mon,
            at: NaiveTime::from_hms_opt(7, 0, 0).unwrap_or_default(),
            zone: None,
            mode: Mode::default(),
            style: Style::default(),
        }
    }
}

impl Preference {
    /// The one instant at which the report of a week leaves, in the zone asked for, or else in this one.
    #[must_use]
    pub fn leaves_at(&self, week: ReportWeek, service_zone: Zone) -> DateTime<Utc> {
        let zone = self.zone.unwrap_or(service_zone);
        zone.instant(week.day(self.weekday).and_time(self.at))
    }
}

impl ReportKind {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Owner, Self::Shop, Self::Inspector];

    /// The word used in records and addresses.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Owner => "owner",
            Self::Shop => "shop",
            Self::Inspector => "inspector",
        }
    }
}

impl Mode {
    /// All of them.
    pub const ALL: [Self; 4] =
        [Self::EveryWeek, Self::WhenDueOrChanged, Self::OverdueOnly, Self::Off];

    /// The word used in records and forms.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::EveryWeek => "every-week",
            Self::WhenDueOrChanged => "when-due-or-changed",
            Self::OverdueOnly => "overdue-only",
            Self::Off => "off",
        }
    }
}

impl Dates {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Iso, Self::DayMonthYear, Self::MonthDayYear];

    /// The word used in records and forms.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Iso => "iso",
            Self::DayMonthYear => "day-month-year",
            Self::MonthDayYear => "month-day-year",
        }
    }
}

impl DecimalMark {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Point, Self::Comma];

    /// The word used in records and forms.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Point => "point",
            Self::Comma => "comma",
        }
    }
}

impl HoursForm {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Decimal, Self::HoursMinutes];

    /// The word used in records and forms.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Decimal => "decimal",
            Self::HoursMinutes => "hours-minutes",
        }
    }
}
