//! Where the count of a limit begins: each anchor in the words of the trade, or why it is lost.

use crate::clock::Moment;
use crate::count::Start;
use crate::date_code::DayInterval;
use crate::due::{LineSubject, Part};
use crate::history::{ComponentState, Log};
use crate::hours::Hours;
use crate::line::Missing;
use crate::programme::{CountsFrom, Limit};
use chrono::NaiveDate;

/// Where a limit's count begins on a line, and the moment after which work counts.
pub(crate) fn start_of(subject: &LineSubject<'_>, limit: &Limit) -> (Start, Option<Moment>) {
    let from = limit.counts_from;
    let begin = |hours, day, since| (Start { from, hours, day }, since);
    match (subject.part, from) {
        (Part::Absent, _) => begin(Err(Missing::NoComponent), Err(Missing::NoComponent), None),
        (_, CountsFrom::Done) => begin(Err(Missing::NeverDone), Err(Missing::NeverDone), None),
        (_, CountsFrom::Effective(day)) => {
            let moment = Moment::end_of(day);
            let hours = subject.hours_at(moment).ok_or(Missing::NoHours);
            begin(hours, Ok(day), Some(moment))
        }
        (Part::Engine, CountsFrom::Overhaul) => from_overhaul(subject, limit),
        (Part::Engine, _) => begin(new_hours(subject), new_day(subject), None),
        (Part::Component(_, component), _) => {
            let (hours, day) = of_component(subject, component, limit);
            begin(hours, day, None)
        }
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
            (Start { from, hours, day: Ok(overhaul.moment.on) }, Some(overhaul.moment))
        }
        None if subject.engine.log == Log::Logged => {
            let from = CountsFrom::New;
            (Start { from, hours: new_hours(subject), day: new_day(subject) }, None)
        }
        None => {
            let lost = Missing::NoOverhaul;
            (Start { from, hours: Err(lost), day: Err(lost) }, None)
        }
    }
}

type Sides = (Result<Hours, Missing>, Result<NaiveDate, Missing>);

fn of_component(subject: &LineSubject<'_>, component: &ComponentState, limit: &Limit) -> Sides {
    if component.lost {
        return (Err(Missing::Conflict), Err(Missing::Conflict));
    }
    // The hours on a part are known from the hours it was registered with; without them no count holds.
    let known = component.registered.and_then(|(_, hours)| hours);
    let whole_life = known.map(|_| Hours::ZERO).ok_or(Missing::NoHours);
    let hours_at = |moment: Option<Moment>| {
        moment.and_then(|moment| subject.hours_at(moment)).ok_or(Missing::NoHours)
    };
    let code_day = |it: DayInterval| it.day(limit.code_day);
    match limit.counts_from {
        CountsFrom::FirstFitted => {
            let hours = match component.first_fitted_on {
                Some(_) => whole_life,
                None => hours_at(component.fits.first().map(|fit| fit.from)),
            };
            (hours, component.first_fitted().ok_or(Missing::NotFitted))
        }
        CountsFrom::Fitted => {
            let fit = component.current().map(|fit| fit.from);
            (hours_at(fit), fit.map(|it| it.on).ok_or(Missing::NotFitted))
        }
        CountsFrom::Overhaul => (Err(Missing::NoOverhaul), Err(Missing::NoOverhaul)),
        _ => (whole_life, component.made.map(code_day).ok_or(Missing::NoCode)),
    }
}
