//! What a due line says beside its columns, as JSON, and back.

use super::canonical::canonical;
use super::fields::{
    Fields, as_day, as_hours, as_text, as_uid, as_whole, as_word, day, hours, list, object, opt,
    text, uid, whole,
};
use crate::error::StoreError;
use crate::recompute::Measured;
use gudgeon_life::fact::EventKind;
use gudgeon_life::hours::Hours;
use gudgeon_life::ids::{ComponentId, FactId, ItemId, PositionId};
use gudgeon_life::line::{
    AskedBy, Axis, Count, DueLine, Happened, LastDone, Leg, Missing, NoLater, Note, Overrun,
};
use gudgeon_life::programme::{Action, Class};
use gudgeon_life::status::{Beyond, StatusDays};
use serde_json::Value;

const AXES: [Axis; 2] = [Axis::Hours, Axis::Calendar];
const BEYONDS: [Beyond; 2] = [Beyond::Tolerance, Beyond::Extension];

/// The columns that a line is read back with.
pub(crate) struct LineColumns<'a> {
    pub(crate) item: &'a str,
    pub(crate) position: Option<&'a str>,
    pub(crate) component: Option<ComponentId>,
    pub(crate) days: StatusDays,
    pub(crate) measured: Measured,
    pub(crate) behind: Option<Hours>,
}

const fn axis_word(axis: Axis) -> &'static str {
    match axis {
        Axis::Hours => "hours",
        Axis::Calendar => "calendar",
    }
}

const fn beyond_word(beyond: Beyond) -> &'static str {
    match beyond {
        Beyond::Tolerance => "tolerance",
        Beyond::Extension => "extension",
    }
}

/// All of a line that has no column of its own; its hours too, when they do not go with the engine's.
pub(crate) fn line_detail(line: &DueLine, with_hours: bool) -> String {
    canonical(&object([
        ("asked_by", asked_by(line.asked_by)),
        ("class", text(line.class.word())),
        ("hours_now", opt(line.hours_now.filter(|_| with_hours), hours)),
        ("hours_on", opt(line.hours_on.filter(|_| with_hours), day)),
        ("last", opt(line.last, last_done)),
        ("last_overrun", overrun(line.last_overrun)),
        (
            "last_overrun_permitted",
            text(if line.last_overrun_beyond_tolerance { "no" } else { "yes" }),
        ),
        ("legs", list(&line.legs, leg)),
        ("metered", text(if line.meter_now.is_some() { "yes" } else { "no" })),
        ("notes", list(&line.notes, |note| text(note.word()))),
        ("source", text(&line.source)),
        ("title", text(&line.title)),
    ]))
}

/// The programme asks for most lines, and is not written.
fn asked_by(asked_by: AskedBy) -> Value {
    match asked_by {
        AskedBy::Programme => Value::Null,
        AskedBy::OnCondition => object([("kind", text("on-condition"))]),
        AskedBy::Finding(fact) => object([("fact", uid(fact.0)), ("kind", text("finding"))]),
        AskedBy::Preservation(fact) => {
            object([("fact", uid(fact.0)), ("kind", text("preservation"))])
        }
        AskedBy::Event(it) => object([
            ("event", text(it.kind.word())),
            ("fact", uid(it.fact.0)),
            ("hours", opt(it.hours, hours)),
            ("kind", text("event")),
            ("on", day(it.on)),
        ]),
    }
}

fn last_done(last: LastDone) -> Value {
    object([
        ("action", text(last.action.word())),
        ("fact", uid(last.fact.0)),
        ("hours", opt(last.hours, hours)),
        ("on", day(last.on)),
    ])
}

fn overrun(by: Overrun) -> Value {
    object([("days", whole(by.days)), ("hours", hours(by.hours))])
}

fn leg(leg: &Leg) -> Value {
    let limit = opt(leg.limit.as_ref(), text);
    let days = status_days(leg.days);
    match leg.count {
        Count::Hours { from, due, latest } => object([
            ("axis", text(axis_word(Axis::Hours))),
            ("days", days),
            ("due", hours(due)),
            ("from", hours(from)),
            ("latest", hours(latest)),
            ("limit", limit),
        ]),
        Count::Calendar { from, due, latest } => object([
            ("axis", text(axis_word(Axis::Calendar))),
            ("days", days),
            ("due", day(due)),
            ("from", day(from)),
            ("latest", day(latest)),
            ("limit", limit),
        ]),
        Count::Missing(axis, why) => object([
            ("axis", text(axis_word(axis))),
            ("days", days),
            ("limit", limit),
            ("missing", text(why.word())),
            ("no_later", opt(leg.no_later, no_later)),
        ]),
    }
}

/// A bound is by hours or by a day: the form of its values tells which.
fn no_later(bound: NoLater) -> Value {
    match bound {
        NoLater::Hours { due, latest } => object([("due", hours(due)), ("latest", hours(latest))]),
        NoLater::Day { due, latest } => object([("due", day(due)), ("latest", day(latest))]),
    }
}

fn status_days(days: StatusDays) -> Value {
    object([
        ("beyond", text(beyond_word(days.beyond))),
        ("coming", opt(days.coming_from, day)),
        ("due", opt(days.due_from, day)),
        ("late", opt(days.late_from, day)),
        ("unknown", opt(days.unknown_from, day)),
    ])
}

/// Reads a line back from its columns and the rest.
pub(crate) fn read_line_detail(
    columns: &LineColumns<'_>,
    detail: &str,
) -> Result<DueLine, StoreError> {
    let detail = super::parse(detail)?;
    let it = Fields::of(&detail, "a due line")?;
    let metered = it.get("metered", as_text)? == "yes";
    let slug = |word: &str| StoreError::Corrupt(format!("a due line: `{word}` is no short name"));
    Ok(DueLine {
        item: ItemId::new(columns.item).ok_or_else(|| slug(columns.item))?,
        title: it.get("title", as_text)?,
        asked_by: it.part("asked_by").map_or(Ok(AskedBy::Programme), read_asked_by)?,
        position: columns
            .position
            .map(|at| PositionId::new(at).ok_or_else(|| slug(at)))
            .transpose()?,
        component: columns.component,
        class: it.get("class", as_word(Class::ALL, Class::word))?,
        source: it.get("source", as_text)?,
        legs: it.list("legs", read_leg)?,
        hours_now: match columns.measured.clock.zip(columns.behind) {
            Some((clock, behind)) => Some(clock - behind),
            None => it.opt("hours_now", as_hours)?,
        },
        hours_on: match columns.behind {
            Some(_) => columns.measured.hours_on,
            None => it.opt("hours_on", as_day)?,
        },
        meter_now: columns.measured.meter.filter(|_| metered),
        last: it.part("last").map(read_last).transpose()?,
        last_overrun: read_overrun(it.any("last_overrun")?)?,
        last_overrun_beyond_tolerance: it.get("last_overrun_permitted", as_text)? == "no",
        days: columns.days,
        notes: it.list_of("notes", as_word(Note::ALL, Note::word))?,
    })
}

fn read_asked_by(value: &Value) -> Result<AskedBy, StoreError> {
    let it = Fields::of(value, "what asks for a line")?;
    let fact = || it.get("fact", as_uid).map(FactId);
    match it.get("kind", as_text)?.as_str() {
        "finding" => fact().map(AskedBy::Finding),
        "preservation" => fact().map(AskedBy::Preservation),
        "on-condition" => Ok(AskedBy::OnCondition),
        "event" => Ok(AskedBy::Event(Happened {
            kind: it.get("event", as_word(EventKind::ALL, EventKind::word))?,
            on: it.get("on", as_day)?,
            hours: it.opt("hours", as_hours)?,
            fact: fact()?,
        })),
        _ => Err(it.unreadable("kind")),
    }
}

fn read_last(value: &Value) -> Result<LastDone, StoreError> {
    let it = Fields::of(value, "when a line was last done")?;
    Ok(LastDone {
        on: it.get("on", as_day)?,
        hours: it.opt("hours", as_hours)?,
        action: it.get("action", as_word(Action::ALL, Action::word))?,
        fact: it.get("fact", as_uid).map(FactId)?,
    })
}

fn read_overrun(value: &Value) -> Result<Overrun, StoreError> {
    let it = Fields::of(value, "an overrun")?;
    Ok(Overrun { hours: it.get("hours", as_hours)?, days: it.get("days", as_whole)? })
}

fn read_leg(value: &Value) -> Result<Leg, StoreError> {
    let it = Fields::of(value, "a leg")?;
    let axis = it.get("axis", as_word(AXES, axis_word))?;
    let missing = it.opt("missing", as_word(Missing::ALL, Missing::word))?;
    let count = match (missing, axis) {
        (Some(why), axis) => Count::Missing(axis, why),
        (None, Axis::Hours) => Count::Hours {
            from: it.get("from", as_hours)?,
            due: it.get("due", as_hours)?,
            latest: it.get("latest", as_hours)?,
        },
        (None, Axis::Calendar) => Count::Calendar {
            from: it.get("from", as_day)?,
            due: it.get("due", as_day)?,
            latest: it.get("latest", as_day)?,
        },
    };
    let no_later = it.part("no_later").map(read_no_later).transpose()?;
    let days = read_status_days(it.any("days")?)?;
    Ok(Leg { limit: it.opt("limit", as_text)?, count, no_later, days })
}

fn read_no_later(value: &Value) -> Result<NoLater, StoreError> {
    let it = Fields::of(value, "the latest that a leg can be due")?;
    if it.any("due")?.is_object() {
        return Ok(NoLater::Hours {
            due: it.get("due", as_hours)?,
            latest: it.get("latest", as_hours)?,
        });
    }
    Ok(NoLater::Day { due: it.get("due", as_day)?, latest: it.get("latest", as_day)? })
}

fn read_status_days(value: &Value) -> Result<StatusDays, StoreError> {
    let it = Fields::of(value, "the days of a leg")?;
    Ok(StatusDays {
        unknown_from: it.opt("unknown", as_day)?,
        coming_from: it.opt("coming", as_day)?,
        due_from: it.opt("due", as_day)?,
        late_from: it.opt("late", as_day)?,
        beyond: it.get("beyond", as_word(BEYONDS, beyond_word))?,
    })
}
