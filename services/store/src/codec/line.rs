//! What a due line says beside its columns, as JSON, and back.
//!
//! Unlike a fact it is hashed nowhere and can be worked out anew, so it is written straight from values of its
//! own shape.

use super::words::{Day, Seconds, Word};
use super::worn::Worn;
use crate::bytes::Id;
use crate::error::StoreError;
use crate::lines::Measured;
use gudgeon_life::fact::EventKind;
use gudgeon_life::hours::Hours;
use gudgeon_life::ids::{ComponentId, FactId, ItemId, PositionId, Uid};
use gudgeon_life::line::{
    AskedBy, Axis, Count, DueLine, Happened, LastDone, Leg, Missing, NoLater, Note, Overrun,
};
use gudgeon_life::programme::{Action, Class};
use gudgeon_life::status::{Beyond, StatusDays};
use serde::{Deserialize, Serialize};
use std::borrow::Cow;

/// The columns that a line is read back with.
pub(crate) struct LineColumns<'a> {
    pub(crate) item: &'a str,
    pub(crate) position: Option<&'a str>,
    pub(crate) component: Option<ComponentId>,
    pub(crate) days: StatusDays,
    pub(crate) measured: Measured,
    pub(crate) behind: Option<Hours>,
}

/// All of a line that has no column of its own; its hours too, when they do not go with the engine's.
pub(crate) fn line_detail(line: &DueLine, with_hours: bool) -> Result<String, StoreError> {
    let detail = Detail {
        title: Cow::Borrowed(&line.title),
        source: Cow::Borrowed(&line.source),
        class: Word(line.class),
        asked_by: Asking::of(line.asked_by),
        hours_now: line.hours_now.filter(|_| with_hours).map(Seconds::from),
        hours_on: line.hours_on.filter(|_| with_hours).map(Day),
        metered: line.meter_now.is_some(),
        last: line.last.map(Last::of),
        overrun: (line.last_overrun.hours.into(), line.last_overrun.days),
        beyond_tolerance: line.last_overrun_beyond_tolerance,
        legs: line.legs.iter().map(Side::of).collect(),
        wear: line.wear.iter().map(Worn::of).collect(),
        notes: line.notes.iter().copied().map(Word).collect(),
    };
    serde_json::to_string(&detail).map_err(|error| StoreError::Corrupt(error.to_string()))
}

/// Reads a line back from its columns and the rest.
pub(crate) fn read_line_detail(
    columns: &LineColumns<'_>,
    detail: &str,
) -> Result<DueLine, StoreError> {
    let it: Detail<'_> = serde_json::from_str(detail)
        .map_err(|error| StoreError::Corrupt(format!("a due line: {error}")))?;
    let slug = |word: &str| StoreError::Corrupt(format!("a due line: `{word}` is no short name"));
    let (overrun_hours, overrun_days) = it.overrun;
    Ok(DueLine {
        item: ItemId::new(columns.item).ok_or_else(|| slug(columns.item))?,
        title: it.title.into_owned(),
        asked_by: it.asked_by.map_or(AskedBy::Programme, Asking::read),
        position: columns
            .position
            .map(|at| PositionId::new(at).ok_or_else(|| slug(at)))
            .transpose()?,
        component: columns.component,
        class: it.class.0,
        source: it.source.into_owned(),
        legs: it.legs.into_iter().map(Side::read).collect(),
        hours_now: match columns.measured.clock.zip(columns.behind) {
            Some((clock, behind)) => Some(clock - behind),
            None => it.hours_now.map(Hours::from),
        },
        hours_on: match columns.behind {
            Some(_) => columns.measured.hours_on,
            None => it.hours_on.map(|day| day.0),
        },
        meter_now: columns.measured.meter.filter(|_| it.metered),
        plan_by: None,
        last: it.last.map(Last::read),
        last_overrun: Overrun { hours: overrun_hours.into(), days: overrun_days },
        last_overrun_beyond_tolerance: it.beyond_tolerance,
        days: columns.days,
        wear: it.wear.into_iter().map(Worn::read).collect::<Result<_, _>>()?,
        notes: it.notes.into_iter().map(|note| note.0).collect(),
    })
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Detail<'a> {
    #[serde(borrow)]
    title: Cow<'a, str>,
    #[serde(borrow)]
    source: Cow<'a, str>,
    class: Word<Class>,
    /// The programme asks for most lines, and is not written.
    #[serde(skip_serializing_if = "Option::is_none")]
    asked_by: Option<Asking>,
    #[serde(skip_serializing_if = "Option::is_none")]
    hours_now: Option<Seconds>,
    #[serde(skip_serializing_if = "Option::is_none")]
    hours_on: Option<Day>,
    metered: bool,
    #[serde(skip_serializing_if = "Option::is_none")]
    last: Option<Last>,
    overrun: (Seconds, i64),
    beyond_tolerance: bool,
    #[serde(borrow)]
    legs: Vec<Side<'a>>,
    #[serde(borrow, default, skip_serializing_if = "Vec::is_empty")]
    wear: Vec<Worn<'a>>,
    notes: Vec<Word<Note>>,
}

#[derive(Serialize, Deserialize)]
enum Asking {
    Finding(Id),
    Event {
        kind: Word<EventKind>,
        on: Day,
        #[serde(skip_serializing_if = "Option::is_none")]
        hours: Option<Seconds>,
        fact: Id,
    },
    Preservation(Id),
    OnCondition,
}

impl Asking {
    fn of(asked_by: AskedBy) -> Option<Self> {
        match asked_by {
            AskedBy::Programme => None,
            AskedBy::Finding(fact) => Some(Self::Finding(fact.0.into())),
            AskedBy::Event(it) => Some(Self::Event {
                kind: Word(it.kind),
                on: Day(it.on),
                hours: it.hours.map(Seconds::from),
                fact: it.fact.0.into(),
            }),
            AskedBy::Preservation(fact) => Some(Self::Preservation(fact.0.into())),
            AskedBy::OnCondition => Some(Self::OnCondition),
        }
    }

    fn read(self) -> AskedBy {
        match self {
            Self::Finding(fact) => AskedBy::Finding(fact_id(fact)),
            Self::Event { kind, on, hours, fact } => AskedBy::Event(Happened {
                kind: kind.0,
                on: on.0,
                hours: hours.map(Hours::from),
                fact: fact_id(fact),
            }),
            Self::Preservation(fact) => AskedBy::Preservation(fact_id(fact)),
            Self::OnCondition => AskedBy::OnCondition,
        }
    }
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Last {
    on: Day,
    #[serde(skip_serializing_if = "Option::is_none")]
    hours: Option<Seconds>,
    action: Word<Action>,
    fact: Id,
}

impl Last {
    fn of(last: LastDone) -> Self {
        Self {
            on: Day(last.on),
            hours: last.hours.map(Seconds::from),
            action: Word(last.action),
            fact: last.fact.0.into(),
        }
    }

    fn read(self) -> LastDone {
        LastDone {
            on: self.on.0,
            hours: self.hours.map(Hours::from),
            action: self.action.0,
            fact: fact_id(self.fact),
        }
    }
}

/// A leg.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Side<'a> {
    #[serde(borrow, skip_serializing_if = "Option::is_none")]
    limit: Option<Cow<'a, str>>,
    count: Counted,
    #[serde(skip_serializing_if = "Option::is_none")]
    no_later: Option<Bound>,
    days: Days,
}

#[derive(Serialize, Deserialize)]
enum Counted {
    Hours { from: Seconds, due: Seconds, latest: Seconds },
    Calendar { from: Day, due: Day, latest: Day },
    Missing(Word<Axis>, Word<Missing>),
}

#[derive(Serialize, Deserialize)]
enum Bound {
    Hours { due: Seconds, latest: Seconds },
    Day { due: Day, latest: Day },
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Days {
    #[serde(skip_serializing_if = "Option::is_none")]
    unknown: Option<Day>,
    #[serde(skip_serializing_if = "Option::is_none")]
    coming: Option<Day>,
    #[serde(skip_serializing_if = "Option::is_none")]
    due: Option<Day>,
    #[serde(skip_serializing_if = "Option::is_none")]
    late: Option<Day>,
    beyond: Word<Beyond>,
}

impl<'a> Side<'a> {
    fn of(leg: &'a Leg) -> Self {
        Self {
            limit: leg.limit.as_deref().map(Cow::Borrowed),
            count: match leg.count {
                Count::Hours { from, due, latest } => {
                    Counted::Hours { from: from.into(), due: due.into(), latest: latest.into() }
                }
                Count::Calendar { from, due, latest } => {
                    Counted::Calendar { from: Day(from), due: Day(due), latest: Day(latest) }
                }
                Count::Missing(axis, why) => Counted::Missing(Word(axis), Word(why)),
            },
            no_later: leg.no_later.map(|bound| match bound {
                NoLater::Hours { due, latest } => {
                    Bound::Hours { due: due.into(), latest: latest.into() }
                }
                NoLater::Day { due, latest } => Bound::Day { due: Day(due), latest: Day(latest) },
            }),
            days: Days {
                unknown: leg.days.unknown_from.map(Day),
                coming: leg.days.coming_from.map(Day),
                due: leg.days.due_from.map(Day),
                late: leg.days.late_from.map(Day),
                beyond: Word(leg.days.beyond),
            },
        }
    }

    fn read(self) -> Leg {
        Leg {
            limit: self.limit.map(Cow::into_owned),
            count: match self.count {
                Counted::Hours { from, due, latest } => {
                    Count::Hours { from: from.into(), due: due.into(), latest: latest.into() }
                }
                Counted::Calendar { from, due, latest } => {
                    Count::Calendar { from: from.0, due: due.0, latest: latest.0 }
                }
                Counted::Missing(axis, why) => Count::Missing(axis.0, why.0),
            },
            no_later: self.no_later.map(|bound| match bound {
                Bound::Hours { due, latest } => {
                    NoLater::Hours { due: due.into(), latest: latest.into() }
                }
                Bound::Day { due, latest } => NoLater::Day { due: due.0, latest: latest.0 },
            }),
            days: StatusDays {
                unknown_from: self.days.unknown.map(|day| day.0),
                coming_from: self.days.coming.map(|day| day.0),
                due_from: self.days.due.map(|day| day.0),
                late_from: self.days.late.map(|day| day.0),
                beyond: self.days.beyond.0,
            },
        }
    }
}

fn fact_id(id: Id) -> FactId {
    FactId(Uid::from(id))
}
