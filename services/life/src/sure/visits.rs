//! The visits that an engine's due lines ask for in the year to come, and what becomes of them if it flies more or
//! less, or a visit is put off.
//!
//! Each line goes by the day to plan by: its due day on the calendar or, where that is earlier, the early day of the
//! forecast of its hours. No visit is later than that of any of its lines, so none spends a tolerance or an extension.
//! Work at the same place of the engine shares what has to be taken apart there.

use super::decimal_hours;
use super::engine::{Flying, Forecasts};
use super::rate::{Kind, Rate};
use super::visit::{Coming, Costs, Moved, Plan, PlanBy, moved, plan};
use crate::calendar::{days_between, shift};
use crate::hours::Hours;
use crate::line::{Count, DueLine};
use crate::programme::EngineType;
use crate::status::Status;
use chrono::NaiveDate;
use std::time::Duration;

/// Visits are planned so far ahead.
pub const AHEAD_DAYS: i64 = 365;
/// The most hours a month that anybody may ask about: a little more than there are by day.
pub const MONTH_HOURS_MAX: Hours = Hours::from_whole(400);
/// Months in a mean year.
const MONTHS: f64 = 12.0;
/// The shape of a rate that somebody states: as good as certain.
const STATED_SHAPE: f64 = 1e6;
/// Days in a mean year.
const YEAR_DAYS: f64 = 365.25;
/// Seconds in a day.
const DAY_SECONDS: f64 = 86_400.0;
/// The same as a whole number.
const DAY_SECONDS_WHOLE: u64 = 86_400;

/// The visits of one engine.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Visits {
    /// The lines that come due, each with its day; [`Plan`]s name them by their place here.
    pub coming: Vec<Coming>,
    /// Their places in the list of lines.
    pub lines: Vec<usize>,
    /// The plan.
    pub plan: Plan,
    /// The places, in the list of lines, of those whose day nobody can tell, though they may be due.
    pub no_day: Vec<usize>,
}

impl Visits {
    /// Plans the lines of an engine from a day on.
    #[must_use]
    pub fn of(
        lines: &[DueLine],
        engine_type: Option<&EngineType>,
        flying: &Flying,
        as_of: NaiveDate,
    ) -> Self {
        let forecasts = Forecasts::from(*flying);
        let until = shift(as_of, 0, AHEAD_DAYS).unwrap_or(NaiveDate::MAX);
        let (mut coming, mut places) = (Vec::new(), Vec::new());
        let mut no_day = Vec::new();
        for (place, line) in lines.iter().enumerate() {
            match day_of(line, &forecasts, as_of) {
                Some((plan_by, basis)) if plan_by <= until => {
                    places.push(place);
                    coming.push(Coming {
                        title: title(line, engine_type),
                        plan_by,
                        basis,
                        strip_down: access(line, engine_type),
                        interval_days: interval_days(line, flying),
                    });
                }
                Some(_) => {}
                None if line.status(as_of) == Status::Unknown => no_day.push(place),
                None => {}
            }
        }
        let plan = plan(&coming, as_of, Costs::default());
        Self { coming, lines: places, plan, no_day }
    }

    /// What changes against another plan of the same lines: the place of each line in the list of lines, with its
    /// day in either.
    #[must_use]
    pub fn moved(&self, other: &Self) -> Vec<Moved> {
        moved(&self.by_place(), &other.by_place())
    }

    /// The plan with each line named by its place in the list of lines.
    fn by_place(&self) -> Plan {
        let mut plan = self.plan.clone();
        for planned in plan.visits.iter_mut().flat_map(|visit| &mut visit.work) {
            planned.line = self.lines.get(planned.line).copied().unwrap_or(usize::MAX);
        }
        plan
    }
}

impl Flying {
    /// The same aircraft, flown so many hours a month on average. Where nobody can say how it flies, that does not
    /// change.
    #[must_use]
    pub fn at(self, hours_per_month: Hours) -> Self {
        let per_day = decimal_hours(hours_per_month) * MONTHS / YEAR_DAYS;
        let stated =
            Kind { weight: 1.0, shape: STATED_SHAPE, exposure_days: STATED_SHAPE / per_day };
        let none = Kind { weight: 0.0, ..stated };
        Self { rate: self.rate.map(|rate| Rate { kinds: [stated, none, none], ..rate }), ..self }
    }
}

/// The day to plan a line by, and what that day is; `None` where nobody can say.
fn day_of(line: &DueLine, forecasts: &Forecasts, as_of: NaiveDate) -> Option<(NaiveDate, PlanBy)> {
    let used_up = line.hours_left().filter(|left| *left <= Hours::ZERO).and(line.hours_on);
    let now = (line.legs.is_empty() && line.status(as_of) == Status::Overdue).then_some(as_of);
    let fixed = [line.due_on(), used_up, now].into_iter().flatten().min();
    let forecast = forecasts.plan_by(line).map(|by| (by, PlanBy::Forecast));
    [fixed.map(|day| (day, PlanBy::Date)), forecast].into_iter().flatten().min_by_key(|it| it.0)
}

/// The shortest of a line's intervals in days; one of hours takes as long as the aircraft usually needs for it.
fn interval_days(line: &DueLine, flying: &Flying) -> u32 {
    let per_day = flying.rate.map_or(0.0, |rate| rate.hours_per_year() / YEAR_DAYS);
    let days = line.legs.iter().filter_map(|leg| match leg.count {
        Count::Calendar { from, due, .. } => Some(days_between(from, due)),
        Count::Hours { from, due, .. } => whole_days(decimal_hours(due - from) / per_day),
        Count::Missing(..) => None,
    });
    days.min().and_then(|days| u32::try_from(days).ok()).unwrap_or(0)
}

/// Whole days; `None` for more than a clock could count.
fn whole_days(days: f64) -> Option<i64> {
    let time = Duration::try_from_secs_f64(days * DAY_SECONDS).ok()?;
    i64::try_from(time.as_secs() / DAY_SECONDS_WHOLE).ok()
}

/// What has to be got at for a line.
fn access(line: &DueLine, engine_type: Option<&EngineType>) -> Option<String> {
    let at = line.position.as_ref()?;
    Some(format!("access to {}", place_title(engine_type, at.as_str())))
}

fn title(line: &DueLine, engine_type: Option<&EngineType>) -> String {
    match &line.position {
        Some(at) => format!("{}, {}", line.title, place_title(engine_type, at.as_str())),
        None => line.title.clone(),
    }
}

fn place_title(engine_type: Option<&EngineType>, position: &str) -> String {
    let known =
        engine_type.and_then(|it| it.positions.iter().find(|at| at.id.as_str() == position));
    known.map_or(position, |at| at.title.as_str()).to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ids::{ItemId, PositionId};
    use crate::line::{AskedBy, Axis, Leg, Missing, Overrun};
    use crate::programme::Class;
    use crate::status::StatusDays;
    use crate::sure::rate::{CannotSay, Meter, Owner, Reading};
    use crate::sure::season::Hemisphere;
    use crate::sure::visit::Why;

    fn day(text: &str) -> NaiveDate {
        text.parse().expect("a day")
    }

    fn line(title: &str, position: Option<&str>, count: Count) -> DueLine {
        DueLine {
            item: ItemId::new("an-item").expect("a slug"),
            title: title.to_owned(),
            asked_by: AskedBy::Programme,
            position: position.and_then(PositionId::new),
            component: None,
            class: Class::Recommended,
            source: "common practice".to_owned(),
            legs: vec![Leg { limit: None, count, no_later: None, days: StatusDays::default() }],
            hours_now: Some(Hours::from_whole(100)),
            hours_on: Some(day("2026-05-20")),
            meter_now: None,
            plan_by: None,
            last: None,
            last_overrun: Overrun::default(),
            last_overrun_beyond_tolerance: false,
            days: StatusDays {
                unknown_from: matches!(count, Count::Missing(..)).then_some(NaiveDate::MIN),
                ..StatusDays::default()
            },
            wear: Vec::new(),
            notes: Vec::new(),
        }
    }

    fn yearly(due: &str) -> Count {
        let due = day(due);
        let from = shift(due, -12, 0).expect("a day");
        Count::Calendar { from, due, latest: due }
    }

    fn unread() -> Flying {
        Flying {
            rate: Err(CannotSay::NoReading),
            flown_by: Owner::Unknown,
            hemisphere: Hemisphere::Unknown,
            counted_on: Some(day("2026-05-20")),
        }
    }

    fn read() -> Flying {
        let reading = |on: &str, hours| Reading {
            on: day(on),
            hours: Hours::from_whole(hours),
            meter: Meter::Same,
        };
        let readings =
            [reading("2026-01-20", 60), reading("2026-03-20", 80), reading("2026-05-20", 100)];
        Flying { rate: Rate::learn(&readings, Hemisphere::Unknown, Owner::Unknown), ..unread() }
    }

    // By hand: the plugs may come along 22 days early, 22/365 of their interval, with what is opened up anyway; the
    // hoses would lose 314 of 365 days, more than a visit costs; the belt is due after the year; nobody knows of
    // the seals.
    #[test]
    fn a_year_of_work_is_gathered() {
        let lines = [
            line("Hoses", None, yearly("2027-05-20")),
            line("Ring check", Some("mag"), yearly("2026-07-10")),
            line("Belt", Some("fan"), yearly("2027-07-01")),
            line("Plugs", Some("mag"), yearly("2026-08-01")),
            line("Seals", None, Count::Missing(Axis::Calendar, Missing::NeverDone)),
        ];
        let visits = Visits::of(&lines, None, &unread(), day("2026-06-01"));
        let found: Vec<_> = visits
            .by_place()
            .visits
            .iter()
            .map(|it| (it.on, it.work.iter().map(|work| (work.line, work.why)).collect::<Vec<_>>()))
            .collect();
        let expected = [
            (day("2026-07-10"), vec![(1, Why::Due), (3, Why::SharesStripDown)]),
            (day("2027-05-20"), vec![(0, Why::Due)]),
        ];
        assert_eq!(found, expected);
        assert_eq!(visits.no_day, [4]);
    }

    #[test]
    fn hours_go_by_their_early_day_and_what_is_used_up_at_once() {
        let hours = |due: i64| {
            let due = Hours::from_whole(due);
            Count::Hours { from: due - Hours::from_whole(50), due, latest: due }
        };
        let lines = [line("Ring check", None, hours(125)), line("Head nuts", None, hours(95))];
        let visits = Visits::of(&lines, None, &read(), day("2026-06-01"));
        let [due, past] = visits.coming.as_slice() else { panic!("{visits:?}") };
        let early = Forecasts::from(read()).line(&lines[0], day("2026-06-01"));
        let early = early.map(|it| it.to_string()).unwrap_or_default();
        assert!(early.contains(&format!("plan by {}", crate::words::day(due.plan_by))), "{early}");
        assert_eq!(
            (due.basis, past.plan_by, past.basis),
            (PlanBy::Forecast, day("2026-05-20"), PlanBy::Date)
        );
        // 50 h at about 20 h in two months: about five months.
        assert!((100..200).contains(&due.interval_days), "{due:?}");
        assert!(visits.plan.visits.iter().all(|visit| visit.work.iter().all(|it| {
            visits
                .coming
                .get(it.line)
                .is_some_and(|line| visit.on <= line.plan_by.max(day("2026-06-01")))
        })));
    }

    // 25 h at 5 h a month last 5 months, at 25 h a month one; the early day comes before that, more than a quarter
    // of the way.
    #[test]
    fn another_rate_moves_the_days() {
        let hours = Count::Hours {
            from: Hours::from_whole(75),
            due: Hours::from_whole(125),
            latest: Hours::from_whole(125),
        };
        let lines = [line("Ring check", None, hours)];
        let at = |rate| {
            let flying = read().at(Hours::from_whole(rate));
            Visits::of(&lines, None, &flying, day("2026-05-20"))
        };
        let (slow, fast) = (at(5), at(25));
        let days = |visits: &Visits| days_between(day("2026-05-20"), visits.coming[0].plan_by);
        assert!(
            (38..152).contains(&days(&slow)) && (8..31).contains(&days(&fast)),
            "{slow:?} {fast:?}"
        );
        let moved = fast.moved(&slow);
        assert_eq!(moved.len(), 1);
        assert_eq!((moved[0].from, moved[0].to), (fast.coming[0].plan_by, slow.coming[0].plan_by));
        assert_eq!(unread().at(Hours::from_whole(5)), unread());
    }
}
