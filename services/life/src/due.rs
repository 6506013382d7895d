//! The due list of one engine: a pure function of its history, its programme and what is known of its type.

use crate::applies::{Applicability, applicability};
use crate::asked::{event_line, preservation_line};
use crate::calendar::day_after;
use crate::count::{Counting, Recorder, Step, count_days, count_hours, count_steps};
use crate::finding::finding_lines;
use crate::history::History;
use crate::hours::Hours;
use crate::ids::EngineId;
use crate::line::{AskedBy, Axis, Count, DueLine, Leg, Missing, Note, Overrun};
use crate::on_condition::on_condition_line;
use crate::part_finding::part_finding_lines;
use crate::programme::{Action, Class, CountsFrom, EngineType, Granted, Item, Limit};
use crate::rule::Rule;
use crate::start::start_of;
use crate::status::StatusDays;
use crate::subject::{LineSubject, subjects};
use crate::sure::limit;
use crate::sure::prior::Evidence;
use crate::wear::Wear;
use chrono::NaiveDate;

/// Every due line of an engine: the programme's in its order, each after what happened that it asks about and
/// before the inspection that lets it run on condition; then a preservation, then the open findings,
/// then those that came with a part.
#[must_use]
pub fn due_list(
    history: &History,
    id: EngineId,
    engine_type: &EngineType,
    evidence: &Evidence,
) -> Vec<DueLine> {
    let Some(engine) = history.engine(id) else { return Vec::new() };
    let mut lines: Vec<DueLine> = Vec::new();
    for subject in subjects(history, id, engine_type) {
        if applicability(&subject) == Applicability::No || subject.is_ended() {
            continue;
        }
        lines.extend(event_line(&subject));
        if !subject.item.limits.is_empty() {
            let life = line(&subject, evidence, &mut ());
            let inspection = on_condition_line(&subject, &life, &mut ());
            lines.push(life);
            lines.extend(inspection);
        }
    }
    lines.extend(preservation_line(engine));
    lines.extend(finding_lines(engine, engine_type));
    lines.extend(part_finding_lines(history, id, engine_type));
    lines
}

/// Counts one line; the recorder sees every step.
pub(crate) fn line<'a>(
    subject: &LineSubject<'a>,
    evidence: &Evidence,
    recorder: &mut impl Recorder<'a>,
) -> DueLine {
    let item = subject.item;
    let rule = Rule::from(item);
    let now = subject.now();
    let beyond = StatusDays { beyond: rule.beyond(), ..StatusDays::default() };
    let mut tally = Tally { days: beyond, ..Tally::default() };
    let applies = applicability(subject) == Applicability::Yes;
    if !applies {
        recorder.step(Step::Missing(Axis::Hours, Missing::Applicability));
        let counting = Counting::missing(Axis::Hours, Missing::Applicability);
        tally.add(None, counting, rule.days_of(counting.count, None));
    }
    for limit in item.limits.iter().filter(|_| applies) {
        recorder.step(Step::Limit(limit));
        let (start, since) = start_of(subject, limit);
        let done = subject.done_since(limit, since);
        let hours = if limit.once.is_empty() {
            count_hours(&rule, limit.hours_pace(), start, &done, recorder)
        } else {
            count_steps(&rule, limit, start, &done, recorder)
        };
        if let Some(counting) = hours {
            let by_estimate = start.estimated.is_some() && counting.no_later.is_some();
            tally.note(by_estimate, Note::EstimatedHours);
            tally.take(subject, limit, counting, recorder);
        }
        let several = limit.day_paces().count() > 1;
        for pace in limit.day_paces() {
            if several && let Some(span) = pace.then.or(pace.first) {
                recorder.step(Step::Span(span));
            }
            let counting = count_days(&rule, limit.calendar, pace, start, &done, recorder);
            let Some(counting) = counting else { continue };
            match subject.shelf_kept(counting.count).filter(|_| limit.shelf) {
                Some(kept) => recorder.step(kept),
                None => tally.take(subject, limit, counting, recorder),
            }
        }
    }
    let wear = if applies { limit::wear(subject, evidence) } else { Vec::new() };
    for (wear, due) in wear.iter().filter_map(|it| Some((it, it.due()?))) {
        tally.worn(&rule, wear, due, now);
    }
    let last = subject.done_since_ever().last().copied();
    DueLine {
        item: item.id.clone(),
        title: item.title.clone(),
        asked_by: AskedBy::Programme,
        position: subject.position.cloned(),
        component: subject.component(),
        class: item.class,
        source: item.source.clone(),
        notes: notes(subject, &rule, &tally),
        wear,
        days: tally.days,
        legs: tally.legs,
        hours_now: now.map(|(hours, _)| hours),
        hours_on: now.map(|(_, on)| on),
        meter_now: subject.history.meter_of(subject.id).map(|(meter, _)| meter),
        plan_by: None,
        last: last.map(|work| subject.last_done(work)),
        last_overrun: tally.overrun,
        last_overrun_beyond_tolerance: tally.beyond,
    }
}

/// What the legs of a line come to together.
#[derive(Default)]
struct Tally {
    legs: Vec<Leg>,
    days: StatusDays,
    overrun: Overrun,
    beyond: bool,
    /// What the legs themselves give notice of.
    noted: Vec<Note>,
}

impl Tally {
    fn take<'a>(
        &mut self,
        subject: &LineSubject<'a>,
        limit: &Limit,
        counting: Counting,
        recorder: &mut impl Recorder<'a>,
    ) {
        let (count, now) = (counting.count, subject.now());
        let (rule, given) = subject.permitted(count);
        if Rule::from(subject.item).needs_permission() && !matches!(count, Count::Missing(..)) {
            let at = given.and_then(|it| subject.hours_at(it.moment));
            recorder.step(Step::Permission { count, given, at });
        }
        self.note(given.is_some(), Note::Permitted);
        let mut days = match count {
            Count::Missing(..) => rule.days_of_bound(counting.no_later, now),
            count => rule.days_of(count, now),
        };
        if let (Some(until), Some(due_from)) = (given.and_then(|it| it.until), days.due_from) {
            let ends = day_after(until).max(due_from);
            days.late_from = Some(days.late_from.map_or(ends, |late| late.min(ends)));
        }
        let calendar = matches!(count, Count::Calendar { .. });
        let past_shelf = limit.shelf && calendar && subject.first_fitted().is_some();
        self.note(past_shelf, Note::FittedPastShelfLife);
        self.add(limit.name.clone(), counting, days);
    }

    /// The leg of a measured limit, counted from the last reading: it takes no tolerance and no permission.
    fn worn(&mut self, rule: &Rule, wear: &Wear, due: Hours, now: Option<(Hours, NaiveDate)>) {
        let from = wear.last.unwrap_or(due);
        let count = Count::Hours { from, due, latest: due };
        let strict = Rule { tolerance: None, granted: Granted::Automatic, ..*rule };
        let counting = Counting::plain(count);
        self.add(Some(wear.name()), counting, strict.days_of(count, now));
    }

    fn note(&mut self, holds: bool, note: Note) {
        self.noted.extend(holds.then_some(note));
    }

    fn add(&mut self, limit: Option<String>, counting: Counting, days: StatusDays) {
        self.days = self.days.with(days);
        self.overrun = self.overrun.with(counting.overrun());
        self.beyond |= counting.last_beyond;
        self.note(counting.skipped, Note::SkippedIntervals);
        let Counting { count, no_later, .. } = counting;
        self.legs.push(Leg { limit, count, no_later, days });
    }
}

/// What a reader should know besides the figures.
fn notes(subject: &LineSubject<'_>, rule: &Rule, tally: &Tally) -> Vec<Note> {
    let counts_from_overhaul =
        subject.item.limits.iter().any(|limit| limit.counts_from == CountsFrom::Overhaul);
    let last = subject.done_since_ever().last().copied();
    let by_hours = tally.legs.iter().any(|leg| matches!(leg.count, Count::Hours { .. }));
    let unfinished = subject.overhauled_without_test_run();
    let unknown = |leg: &Leg| matches!(leg.count, Count::Missing(_, why) if why.loses_a_life());
    let none_left = is_life_limit(subject.item) && tally.legs.iter().any(unknown);
    let noted = |note: Note| tally.noted.contains(&note);
    let permission = match rule.granted {
        Granted::EnRoute => Some(Note::EnRouteOnly),
        Granted::BeforeDue if noted(Note::Permitted) => Some(Note::Permitted),
        Granted::BeforeDue => Some(Note::NoGrant),
        Granted::Automatic => None,
    };
    let when = |holds: bool, note: Note| holds.then_some(note);
    [
        when(counts_from_overhaul && subject.never_overhauled(), Note::CountedFromNew),
        when(noted(Note::SkippedIntervals), Note::SkippedIntervals),
        when(by_hours && last.is_some_and(|work| !work.read_then), Note::EarlierReading),
        permission.filter(|_| rule.extension_percent.is_none() && rule.tolerates()),
        when(noted(Note::FittedPastShelfLife), Note::FittedPastShelfLife),
        when(none_left, Note::NoneLeft),
        when(last.is_some_and(|work| !work.released), Note::NoRelease),
        when(counts_from_overhaul && unfinished, Note::NoTestRun),
        when(noted(Note::EstimatedHours), Note::EstimatedHours),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// Whether an item is the limit of a life: one that only another part begins again.
fn is_life_limit(item: &Item) -> bool {
    let ends = item.done_by.iter().all(|action| *action == Action::Renewed);
    item.class == Class::AirworthinessLimitation && ends
}
