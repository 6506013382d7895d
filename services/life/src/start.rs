//! Where the count of a limit begins: each anchor in the words of the trade, or why it is lost.

use crate::clock::Moment;
use crate::date_code::DayInterval;
use crate::history::{AcceptedRecord, ComponentState, Log};
use crate::hours::Hours;
use crate::line::Missing;
use crate::programme::{CountsFrom, Limit, NextPolicy};
use crate::subject::{LineSubject, Part};
use chrono::NaiveDate;

/// Where a count begins: each side known, or the reason why not.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Start {
    /// What it begins with.
    pub(crate) from: CountsFrom,
    /// Hours on the line's own count.
    pub(crate) hours: Result<Hours, Missing>,
    /// The day.
    pub(crate) day: Result<NaiveDate, Missing>,
    /// Where the records begin, when they do not reach back to where the count does: what was never done
    /// since cannot be due later than one interval after that.
    pub(crate) no_later: Option<(Option<Hours>, NaiveDate)>,
    /// The estimate of its hours that a life is counted by where no log tells them.
    pub(crate) estimated: Option<Estimated>,
}

/// An accepted estimate of hours, on the line's own count.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Estimated {
    pub(crate) accepted: AcceptedRecord,
    /// The line's own count when it was accepted.
    pub(crate) at: Hours,
}

impl Estimated {
    /// Where the engine was new, by the estimate; below zero, for the count began with the registration.
    pub(crate) fn new_at(&self) -> Hours {
        self.at - self.accepted.hours
    }
}

/// Where a limit's count begins on a line, and the moment after which work counts.
pub(crate) fn start_of(subject: &LineSubject<'_>, limit: &Limit) -> (Start, Option<Moment>) {
    let (start, since) = exact_start(subject, limit);
    // A shelf life proves nothing about a part that was taken off the shelf, nobody knows how old. And work
    // done early inside a window, before the records begin, may have counted from a due after they did.
    let proves = !(limit.shelf && subject.first_fitted().is_some())
        && subject.item.next != NextPolicy::Window;
    let no_later = no_later(subject, &start).filter(|_| proves);
    (Start { no_later, estimated: estimated(subject, &start), ..start }, since)
}

/// The accepted estimate, for the life of an engine that came with no log: one that only a renewal or an overhaul
/// begins again. Whether an inspection was done before these records no estimate tells.
fn estimated(subject: &LineSubject<'_>, start: &Start) -> Option<Estimated> {
    let unknown = matches!(start.hours, Err(Missing::NoStart | Missing::NoOverhaul));
    let engine = subject.engine;
    let unlogged = matches!(subject.part, Part::Engine) && engine.log == Log::Unknown;
    let done_by = &subject.item.done_by;
    let is_life = !done_by.is_empty() && done_by.iter().all(|action| action.starts_afresh());
    let accepted = engine.accepted.filter(|_| unknown && unlogged && is_life)?;
    let estimated = Estimated { accepted, at: subject.hours_at(accepted.moment)? };
    // Hours that these records count themselves are no estimate.
    (estimated.new_at() < Hours::ZERO).then_some(estimated)
}

/// Where the records of a line begin, when they do not tell where its count does.
fn no_later(subject: &LineSubject<'_>, start: &Start) -> Option<(Option<Hours>, NaiveDate)> {
    let why = start.hours.err().or(start.day.err())?;
    if matches!(why, Missing::Conflict | Missing::NoComponent) {
        return None;
    }
    match subject.part {
        Part::Engine => {
            let first = subject.engine.clock.points().first()?;
            Some((Some(first.hours), first.moment.on))
        }
        Part::Component(_, component) => {
            let (registered, hours) = component.registered?;
            // Before its registration it was fitted already; but what was done to it then is not on record.
            let fitted = component.first_fitted().filter(|_| {
                matches!(start.from, CountsFrom::New | CountsFrom::Made | CountsFrom::FirstFitted)
            });
            Some((hours, fitted.map_or(registered.on, |fitted| fitted.min(registered.on))))
        }
        Part::RenewedOnly(renewal) => Some((Some(Hours::ZERO), renewal.moment.on)),
        Part::Absent => None,
    }
}

fn exact_start(subject: &LineSubject<'_>, limit: &Limit) -> (Start, Option<Moment>) {
    let from = limit.counts_from;
    let begin =
        |hours, day, since| (Start { from, hours, day, no_later: None, estimated: None }, since);
    match (subject.part, from) {
        (Part::Absent, _) => begin(Err(Missing::NoComponent), Err(Missing::NoComponent), None),
        (_, CountsFrom::Done) => begin(Err(Missing::NeverDone), Err(Missing::NeverDone), None),
        // A directive cannot ask for anything before there was an engine or part to look at.
        (Part::Engine, CountsFrom::Effective(day)) if subject.engine.made_on > Some(day) => {
            begin(new_hours(subject), new_day(subject), None)
        }
        (Part::Component(_, part), CountsFrom::Effective(day))
            if part.made.is_some_and(|made| made.first > day) =>
        {
            of_component(subject, part, &Limit { counts_from: CountsFrom::Made, ..limit.clone() })
        }
        (_, CountsFrom::Effective(day)) => {
            let moment = Moment::end_of(day);
            let hours = subject.hours_at(moment).ok_or(Missing::NoHours);
            begin(hours, Ok(day), Some(moment))
        }
        (Part::Engine, CountsFrom::Overhaul) => from_overhaul(subject, limit),
        (Part::Engine, _) => begin(new_hours(subject), new_day(subject), None),
        (Part::Component(_, component), _) => of_component(subject, component, limit),
        (Part::RenewedOnly(renewal), CountsFrom::FirstFitted | CountsFrom::Fitted) => {
            let hours = subject.hours_at(renewal.moment).ok_or(Missing::NoHours);
            begin(hours, Ok(renewal.moment.on), None)
        }
        (Part::RenewedOnly(_), CountsFrom::Overhaul) => {
            begin(Err(Missing::NoOverhaul), Err(Missing::NoOverhaul), None)
        }
        (Part::RenewedOnly(_), CountsFrom::New | CountsFrom::Made) => {
            begin(Err(Missing::NoStart), Err(Missing::NoCode), None)
        }
    }
}

fn new_hours(subject: &LineSubject<'_>) -> Result<Hours, Missing> {
    match subject.engine.log {
        _ if subject.engine.clock.lost_from().is_some() => Err(Missing::Conflict),
        Log::Logged => Ok(Hours::ZERO),
        Log::Unknown => Err(Missing::NoStart),
    }
}

fn new_day(subject: &LineSubject<'_>) -> Result<NaiveDate, Missing> {
    subject.engine.made_on.ok_or(Missing::NoStart)
}

/// The last full overhaul; never overhauled but logged counts from new.
fn from_overhaul(subject: &LineSubject<'_>, limit: &Limit) -> (Start, Option<Moment>) {
    let from = limit.counts_from;
    match subject.engine.last_full_overhaul() {
        Some(overhaul) => {
            let hours = overhaul.hours.ok_or(Missing::NoHours);
            let day = Ok(overhaul.moment.on);
            (Start { from, hours, day, no_later: None, estimated: None }, Some(overhaul.moment))
        }
        None if subject.engine.log == Log::Logged => {
            let from = CountsFrom::New;
            let (hours, day) = (new_hours(subject), new_day(subject));
            (Start { from, hours, day, no_later: None, estimated: None }, None)
        }
        None => {
            let lost = Missing::NoOverhaul;
            (
                Start { from, hours: Err(lost), day: Err(lost), no_later: None, estimated: None },
                None,
            )
        }
    }
}

fn of_component(
    subject: &LineSubject<'_>,
    component: &ComponentState,
    limit: &Limit,
) -> (Start, Option<Moment>) {
    let begin = |from, hours, day, since| {
        (Start { from, hours, day, no_later: None, estimated: None }, since)
    };
    let from = limit.counts_from;
    if component.lost {
        return begin(from, Err(Missing::Conflict), Err(Missing::Conflict), None);
    }
    // The hours on a part are known from the hours it was registered with; without them no count holds.
    let known = component.registered.and_then(|(_, hours)| hours);
    let whole_life = known.map(|_| Hours::ZERO).ok_or(Missing::NoHours);
    let made = component.made.map(|it: DayInterval| it.day(limit.code_day)).ok_or(Missing::NoCode);
    let hours_at = |moment: Option<Moment>| {
        moment.and_then(|moment| subject.hours_at(moment)).ok_or(Missing::NoHours)
    };
    match from {
        CountsFrom::FirstFitted => {
            let hours = match component.first_fitted_on {
                Some(_) => whole_life,
                None => hours_at(component.fits.first().map(|fit| fit.from)),
            };
            begin(from, hours, component.first_fitted().ok_or(Missing::NotFitted), None)
        }
        CountsFrom::Fitted => {
            let fit = component.current().map(|fit| fit.from);
            begin(from, hours_at(fit), fit.map(|it| it.on).ok_or(Missing::NotFitted), fit)
        }
        CountsFrom::Overhaul => match (component.overhauls.last(), component.papers) {
            (Some(last), _) => begin(from, hours_at(Some(*last)), Ok(last.on), Some(*last)),
            (None, Some(papers)) => {
                let hours = known.map(|known| known - papers.hours_since).ok_or(Missing::NoHours);
                begin(from, hours, Ok(papers.on), None)
            }
            (None, None) if known.is_none() => {
                begin(from, Err(Missing::NoOverhaul), Err(Missing::NoOverhaul), None)
            }
            (None, None) => begin(CountsFrom::New, whole_life, made, None),
        },
        _ => begin(from, whole_life, made, None),
    }
}
