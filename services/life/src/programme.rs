//! What an engine type must have done, and by which rule each item is counted.
//!
//! These are plain values. `gudgeon-catalogue` reads them from a file; `due` counts with them.

use crate::calendar::{CalendarMode, CalendarSpan};
use crate::date_code::CodeDay;
use crate::fact::{Attribute, EventKind};
use crate::hours::{Basis, Hours};
use crate::ids::{ItemId, PartKind, PositionId};
use crate::sheet::Bench;
use crate::wear::TrendRule;
use chrono::NaiveDate;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

/// A make of engine: where its parts sit and what it must have done.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct EngineType {
    /// The short name that engines are registered under.
    pub name: ItemId,
    /// What people call it.
    pub title: String,
    /// True for a type made up for the demonstration: it says so on every line and sheet.
    pub invented: bool,
    /// The hours that this programme counts in.
    pub basis: Basis,
    /// "Directives and bulletins as entered up to" this day.
    pub entered_up_to: NaiveDate,
    /// The places on the engine.
    pub positions: Vec<Position>,
    /// What must be done, in the order of the file.
    pub items: Vec<Item>,
    /// What a bench measures on it, and the sheets it fills in.
    pub bench: Bench,
}

impl EngineType {
    /// The item of this name.
    #[must_use]
    pub fn item(&self, id: &ItemId) -> Option<&Item> {
        self.items.iter().find(|item| item.id == *id)
    }
}

/// A place on the engine.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Position {
    /// Its short name, such as `pto`.
    pub id: PositionId,
    /// What people call it, such as "power take-off end cylinder".
    pub title: String,
}

/// One thing that must be done.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Item {
    /// Its short name, used in posts.
    pub id: ItemId,
    /// What people call it.
    pub title: String,
    /// What it is about: the engine, or a kind of component with its own hours and age.
    pub subject: Subject,
    /// The places it is done at, one due line each; none means the engine as a whole.
    pub positions: Vec<PositionId>,
    /// How binding it is.
    pub class: Class,
    /// Where the rule comes from, as printed on every line.
    pub source: String,
    /// The limits; each is counted apart and the earliest governs.
    pub limits: Vec<Limit>,
    /// Where the next interval starts.
    pub next: NextPolicy,
    /// Permission to run late.
    pub tolerance: Option<Tolerance>,
    /// What that permission needs.
    pub granted: Granted,
    /// Percent beyond the recommended life where the source permits it; no tolerance on top.
    pub extension_percent: Option<u32>,
    /// How long it runs on condition, past the extension, from one inspection to the next; `None` where it
    /// asks for none.
    pub on_condition: Option<Interval>,
    /// The measured limit that it comes due for too.
    pub trend: Option<TrendRule>,
    /// Larger items that close this one when they are done.
    pub satisfied_by: Vec<ItemId>,
    /// The actions that count as having done it; empty means any.
    pub done_by: Vec<Action>,
    /// The actions that end it for good: a directive's terminating action.
    pub until: Vec<Action>,
    /// How long before due it counts as coming due.
    pub notice: Notice,
    /// Happenings after which it is due at once.
    pub after: Vec<EventKind>,
    /// Which engines or parts it is for.
    pub applies: Applies,
}

/// Which engines or parts an item is for; what is empty asks for nothing.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Applies {
    /// Serial numbers of the engine, or of the parts of the given kind on it.
    pub serials: Vec<SerialRange>,
    /// The kind of part that `serials` and `lots` are about; `None` for what the item itself is about.
    pub part: Option<PartKind>,
    /// Lots of the part.
    pub lots: Vec<String>,
    /// One of these words has to hold, for each thing that is asked about.
    pub described: BTreeMap<Attribute, BTreeSet<String>>,
}

/// Serial numbers from one to another: the same letters in front, and a number.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SerialRange {
    /// The letters in front of the number; may be empty.
    pub prefix: String,
    /// The first number.
    pub first: u64,
    /// The last number.
    pub last: u64,
}

impl SerialRange {
    /// Whether a serial number is in it: the letters in front, and the number. Letters are read as people
    /// write them: large or small, with or without a hyphen or space.
    #[must_use]
    pub fn holds(&self, prefix: &str, number: u64) -> bool {
        let plain = |text: &str| -> String {
            text.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_uppercase).collect()
        };
        plain(&self.prefix) == plain(prefix) && (self.first..=self.last).contains(&number)
    }
}

/// As a programme writes it: `K100-K299`.
impl fmt::Display for SerialRange {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { prefix, first, last } = self;
        write!(f, "{prefix}{first}-{prefix}{last}")
    }
}

/// What an item is about.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Subject {
    /// The engine itself.
    Engine,
    /// Every component of this kind that is fitted.
    Component(PartKind),
}

/// One limit of an item. At least one interval is given; whichever ends first counts.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Limit {
    /// What this limit is called when an item has several, such as "in service" or "total".
    pub name: Option<String>,
    /// Where the count begins.
    pub counts_from: CountsFrom,
    /// Steps done once each, at so many hours from the start, rising; a late step never moves a later one.
    pub once: Vec<Hours>,
    /// The interval until it is done for the first time, where that differs from the repeat.
    pub first: Option<Interval>,
    /// The interval that repeats; empty when there are only steps.
    pub every: Interval,
    /// How the calendar time ends.
    pub calendar: CalendarMode,
    /// A shelf life: it ends when the part is first fitted, and past it the part is not to be fitted.
    pub shelf: bool,
    /// Which day of a date code's interval counts.
    pub code_day: CodeDay,
}

/// An interval by hours, by the calendar, or both: each is counted apart, and whichever ends first counts.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Interval {
    /// So many running hours.
    pub hours: Option<Hours>,
    /// So much calendar time: so many months, so many days, or each of the two.
    pub spans: Vec<CalendarSpan>,
}

impl Interval {
    /// Whether it counts nothing at all.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.hours.is_none() && self.spans.is_empty()
    }
}

/// Where the count of a limit begins.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CountsFrom {
    /// New: zero hours, the day it was made.
    New,
    /// The last full overhaul; never overhauled but logged counts from new.
    Overhaul,
    /// The first time the component was fitted to anything.
    FirstFitted,
    /// The last time it was fitted.
    Fitted,
    /// The day or date code it was made.
    Made,
    /// The day a directive took effect.
    Effective(NaiveDate),
    /// The last time the item was done, and nothing else.
    Done,
}

/// How binding an item is, most binding first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Class {
    /// A limit in the type design: never tolerance or extension.
    AirworthinessLimitation,
    /// An airworthiness directive or mandatory bulletin: never tolerance or extension.
    Directive,
    /// An inspection that the rules require.
    RequiredInspection,
    /// The maker's or the trade's advice.
    Recommended,
}

impl Class {
    /// All classes, in the order in which messages list them.
    pub const ALL: [Self; 4] = [
        Self::AirworthinessLimitation,
        Self::Directive,
        Self::RequiredInspection,
        Self::Recommended,
    ];

    /// The word used in files and in the API.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::AirworthinessLimitation => "airworthiness-limitation",
            Self::Directive => "directive",
            Self::RequiredInspection => "required-inspection",
            Self::Recommended => "recommended",
        }
    }

    /// The words printed on paper and pages.
    #[must_use]
    pub const fn printed(self) -> &'static str {
        match self {
            Self::AirworthinessLimitation => "airworthiness limitation",
            Self::Directive => "directive",
            Self::RequiredInspection => "required inspection",
            Self::Recommended => "recommended",
        }
    }

    /// Whether a tolerance or an extension may apply at all (Transport Canada Std 625 App D note).
    #[must_use]
    pub const fn permits_tolerance(self) -> bool {
        matches!(self, Self::RequiredInspection | Self::Recommended)
    }
}

/// Where the next interval starts after work. A renewal or an overhaul always counts from done.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum NextPolicy {
    /// Late work counts from when it was due, early work from when it was done (14 CFR 91.409(b)).
    FromDue,
    /// From when it was done (ML.A.302(d)(1)).
    FromDone,
    /// Inside the tolerance either side of due: from due, even if early; outside it: from done
    /// (US Army TM 1-1500-328-23 para 2-10).
    Window,
}

impl NextPolicy {
    /// All policies, in the order in which messages list them.
    pub const ALL: [Self; 3] = [Self::FromDue, Self::FromDone, Self::Window];

    /// The word used in files and in the API.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::FromDue => "from-due",
            Self::FromDone => "from-done",
            Self::Window => "window",
        }
    }
}

/// Permission to run late; several parts given: the strictest counts. Never a new due date.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tolerance {
    /// So many hours.
    pub hours: Option<Hours>,
    /// So many months, counted from the anchor like the due day itself.
    pub months: Option<u32>,
    /// So many days after due.
    pub days: Option<u32>,
    /// Percent of the interval; a month counts 30 days and fractions are dropped.
    pub percent: Option<u32>,
    /// No more hours than this, whatever the percentage gives.
    pub hours_max: Option<Hours>,
    /// No more days than this, whatever the percentage gives.
    pub days_max: Option<u32>,
}

/// What a tolerance needs before it may be used.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Granted {
    /// Nothing: the line is in tolerance by itself.
    Automatic,
    /// A recorded permission dated before due; without it the line is overdue.
    BeforeDue,
    /// Only to reach a place where the work can be done: overdue on the report, with a note
    /// (14 CFR 91.409(b)).
    EnRoute,
}

impl Granted {
    /// All kinds, in the order in which messages list them.
    pub const ALL: [Self; 3] = [Self::Automatic, Self::BeforeDue, Self::EnRoute];

    /// The word used in files and in the API.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Automatic => "automatic",
            Self::BeforeDue => "before-due",
            Self::EnRoute => "en-route",
        }
    }
}

/// How long before due a line counts as coming due.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Notice {
    /// So many hours before.
    pub hours: Hours,
    /// So many days before.
    pub days: u32,
}

impl Default for Notice {
    /// Ten hours or thirty days.
    fn default() -> Self {
        Self { hours: Hours::from_whole(10), days: 30 }
    }
}

/// What was done to a part.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Action {
    /// Looked at, measured or tested.
    Inspected,
    /// Cleaned, decarbonised.
    Cleaned,
    /// Adjusted, re-torqued.
    Adjusted,
    /// Machined, honed, ground.
    Machined,
    /// The same part put back.
    Refitted,
    /// Another part fitted in its place.
    Renewed,
    /// Taken apart, repaired as necessary, put together and tested.
    Overhauled,
}

impl Action {
    /// All actions, in the order in which messages list them.
    pub const ALL: [Self; 7] = [
        Self::Inspected,
        Self::Cleaned,
        Self::Adjusted,
        Self::Machined,
        Self::Refitted,
        Self::Renewed,
        Self::Overhauled,
    ];

    /// The word used in files and in the API.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Inspected => "inspected",
            Self::Cleaned => "cleaned",
            Self::Adjusted => "adjusted",
            Self::Machined => "machined",
            Self::Refitted => "refitted",
            Self::Renewed => "renewed",
            Self::Overhauled => "overhauled",
        }
    }

    /// Whether the next interval counts from done whatever the policy says.
    #[must_use]
    pub const fn starts_afresh(self) -> bool {
        matches!(self, Self::Renewed | Self::Overhauled)
    }
}
