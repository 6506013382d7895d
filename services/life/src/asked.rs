//! Lines that no interval asks for: something that happened, and a preservation that runs out.

use crate::history::EngineState;
use crate::ids::ItemId;
use crate::line::{AskedBy, Count, DueLine, Happened, Leg, Overrun};
use crate::programme::Class;
use crate::rule::Rule;
use crate::status::StatusDays;
use crate::subject::LineSubject;

/// The line of an item that is due at once because of what happened, until work after it answers the item.
/// Work before it answers nothing, however late it is posted. Of several happenings the first is named: from
/// then on it was due.
pub(crate) fn event_line(subject: &LineSubject<'_>) -> Option<DueLine> {
    let item = subject.item;
    if item.after.is_empty() {
        return None;
    }
    let answered = subject.last_answer().map(|(moment, _)| moment);
    let event = subject
        .events()
        .into_iter()
        .filter(|event| item.after.contains(&event.kind))
        .find(|event| answered.is_none_or(|answered| answered < event.moment))?;
    let now = subject.now();
    let on = Some(event.moment.on);
    Some(DueLine {
        item: item.id.clone(),
        title: format!("{}, after {}", item.title, event.kind.printed()),
        asked_by: AskedBy::Event(Happened {
            kind: event.kind,
            on: event.moment.on,
            hours: subject.hours_at(event.moment),
            fact: event.moment.fact,
        }),
        position: subject.position.cloned(),
        component: subject.component(),
        class: item.class,
        source: item.source.clone(),
        legs: Vec::new(),
        hours_now: now.map(|(hours, _)| hours),
        hours_on: now.map(|(_, on)| on),
        meter_now: subject.history.meter_of(subject.id).map(|(meter, _)| meter),
        plan_by: None,
        last: None,
        last_overrun: Overrun::default(),
        last_overrun_beyond_tolerance: false,
        days: StatusDays { due_from: on, late_from: on, ..StatusDays::default() },
        wear: Vec::new(),
        notes: Vec::new(),
    })
}

/// The line of a preservation that is good until a day.
pub(crate) fn preservation_line(engine: &EngineState) -> Option<DueLine> {
    let preservation = engine.preservation?;
    let until = preservation.until?;
    let count = Count::Calendar { from: preservation.moment.on, due: until, latest: until };
    let days = Rule::plain().days_of(count, None);
    let now = engine.clock.now();
    Some(DueLine {
        item: ItemId::new("preservation")?,
        title: "Preservation for storage, to be renewed".to_owned(),
        asked_by: AskedBy::Preservation(preservation.moment.fact),
        position: None,
        component: None,
        class: Class::Recommended,
        source: format!("preserved on {}", preservation.moment.on),
        legs: vec![Leg { limit: None, count, no_later: None, days }],
        hours_now: now.map(|point| point.hours),
        hours_on: now.map(|point| point.moment.on),
        meter_now: None,
        plan_by: None,
        last: None,
        last_overrun: Overrun::default(),
        last_overrun_beyond_tolerance: false,
        days,
        wear: Vec::new(),
        notes: Vec::new(),
    })
}
