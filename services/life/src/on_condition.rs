//! Running on condition: the inspection that lets an item go on when its life and the extension of it are
//! over, again and again, until it is renewed or overhauled.
//!
//! It is a line of its own beside that of the life, which goes on saying how far past its life the item is.
//! The first inspection is due when the extension ends: the shop looks before the item runs a minute on
//! condition, and until somebody has, it is overdue from then. Any inspection counts that was done when the
//! recommended life had run out, by hours or by the calendar; from then on the repeats count, from when the
//! last one was done, even while the extension lasts. One done before says nothing about the time beyond.

use crate::calendar::CalendarMode;
use crate::count::{Counting, DoneOnce, Pace, Recorder, Step, days_from, hours_from};
use crate::history::WorkRecord;
use crate::hours::Hours;
use crate::line::{AskedBy, Count, DueLine, Leg, Missing, NoLater, Note, Overrun};
use crate::programme::{Interval, Item};
use crate::rule::{DueDay, Rule};
use crate::status::{Beyond, StatusDays};
use crate::subject::LineSubject;
use chrono::NaiveDate;

/// How the inspections of an item count: always from done, never late, with the usual notice. The notice of
/// the item itself is measured by its life, and may be longer than the repeat.
pub(crate) fn inspection_rule(item: &Item) -> Rule {
    Rule { class: item.class, ..Rule::plain() }
}

/// The line of the inspection that lets an item run on condition, from the line of its life; `None` where
/// the item asks for none.
pub(crate) fn on_condition_line<'a>(
    subject: &LineSubject<'a>,
    life: &DueLine,
    recorder: &mut impl Recorder<'a>,
) -> Option<DueLine> {
    let item = subject.item;
    let extended = Rule::from(item).beyond() == Beyond::Extension;
    let every = item.on_condition.as_ref().filter(|_| extended)?;
    recorder.step(Step::OnCondition(every));
    let counted = counted_inspections(subject, life, recorder);
    let last = counted.last().copied();
    let done: Vec<DoneOnce> = counted.iter().map(|work| subject.once(work)).collect();
    let rule = inspection_rule(item);
    let countings = repeats(&rule, every, life, &done, recorder);
    let now = subject.now();
    let legs: Vec<Leg> = if done.is_empty() {
        life.legs.iter().map(|leg| when_extension_ends(leg, &rule, now)).collect()
    } else {
        countings.iter().map(|it| leg(None, it.count, None, &rule, now)).collect()
    };
    Some(DueLine {
        title: format!("{}: inspection to run on condition", item.title),
        asked_by: AskedBy::OnCondition,
        days: legs.iter().fold(StatusDays::default(), |days, leg| days.with(leg.days)),
        notes: last.map_or_else(|| life.notes.clone(), |last| notes(last, &legs)),
        legs,
        last: last.map(|work| subject.last_done(work)),
        last_overrun: countings.iter().fold(Overrun::default(), |late, it| late.with(it.overrun())),
        last_overrun_beyond_tolerance: countings.iter().any(|it| it.last_beyond),
        ..life.clone()
    })
}

/// What a reader should know of the last inspection. Before there is one, what is noted of the life holds.
fn notes(last: &WorkRecord, legs: &[Leg]) -> Vec<Note> {
    let by_hours = legs.iter().any(|leg| matches!(leg.count, Count::Hours { .. }));
    let earlier = (by_hours && !last.read_then).then_some(Note::EarlierReading);
    earlier.into_iter().chain((!last.released).then_some(Note::NoRelease)).collect()
}

/// The inspections that were done when the life had run out.
fn counted_inspections<'a>(
    subject: &LineSubject<'a>,
    life: &DueLine,
    recorder: &mut impl Recorder<'a>,
) -> Vec<&'a WorkRecord> {
    let mut all = subject.inspections();
    all.retain(|work| {
        let done = subject.once(work);
        let run_out = life.legs.iter().any(|leg| has_run_out(leg, done));
        recorder.step(Step::Inspected { done, run_out });
        run_out
    });
    all
}

/// Whether a life had run out when something was done, by one of its legs: due, or proven to be due.
fn has_run_out(life: &Leg, done: DoneOnce) -> bool {
    match (life.count, life.no_later) {
        (Count::Hours { due, .. }, _) | (_, Some(NoLater::Hours { due, .. })) => {
            done.hours.is_some_and(|hours| hours >= due)
        }
        (Count::Calendar { due, .. }, _) | (_, Some(NoLater::Day { due, .. })) => {
            done.on.is_some_and(|on| on >= due)
        }
        (Count::Missing(..), None) => false,
    }
}

/// The first inspection, due when the extension of one leg of the life ends. What is not known of the life is
/// not known of it either.
fn when_extension_ends(life: &Leg, rule: &Rule, now: Option<(Hours, NaiveDate)>) -> Leg {
    let count = match life.count {
        Count::Hours { from, latest, .. } => Count::Hours { from, due: latest, latest },
        Count::Calendar { from, latest, .. } => Count::Calendar { from, due: latest, latest },
        missing @ Count::Missing(..) => missing,
    };
    let no_later = life.no_later.map(|bound| match bound {
        NoLater::Hours { latest, .. } => NoLater::Hours { due: latest, latest },
        NoLater::Day { latest, .. } => NoLater::Day { due: latest, latest },
    });
    leg(life.limit.clone(), count, no_later, rule, now)
}

/// Counts on from the end of the extension through the inspections, each side of the repeat by itself. Before
/// the first of them nothing repeats.
fn repeats<'a>(
    rule: &Rule,
    every: &'a Interval,
    life: &DueLine,
    done: &[DoneOnce],
    recorder: &mut impl Recorder<'a>,
) -> Vec<Counting> {
    if done.is_empty() {
        return Vec::new();
    }
    let unknown = Missing::NeverDone;
    let by_hours = every.hours.and_then(|every| {
        let end = life.latest_hours().ok_or(unknown);
        hours_from(rule, Pace::even(every), end, done, recorder)
    });
    let mut all: Vec<Counting> = by_hours.into_iter().collect();
    for span in every.spans.iter().copied() {
        if every.spans.len() > 1 {
            recorder.step(Step::Span(span));
        }
        let mode = CalendarMode::Day;
        let end = life.latest_on().ok_or(unknown);
        let begun = (end, end.map(|end| DueDay::on(end, mode)));
        all.extend(days_from(rule, mode, Pace::even(span), begun, done, recorder));
    }
    all
}

fn leg(
    limit: Option<String>,
    count: Count,
    no_later: Option<NoLater>,
    rule: &Rule,
    now: Option<(Hours, NaiveDate)>,
) -> Leg {
    let days = match count {
        Count::Missing(..) => rule.days_of_bound(no_later, now),
        count => rule.days_of(count, now),
    };
    Leg { limit, count, no_later, days }
}
