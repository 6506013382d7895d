//! The visit plan: which coming work to do together, so that little remaining life is wasted and little is taken apart
//! twice, with nothing later than its own plan-by day.
//!
//! Each line has the day to plan by (the early day of its forecast, or a fixed date), the strip-down it needs and its
//! interval. A plan costs, in thousandths of an interval:
//!
//! - each visit, and each strip-down in a visit, what [`Costs`] says;
//! - each line done early, the share of its interval that is thrown away, rounded up.
//!
//! **The day of a visit** need only be the plan-by day of one of its lines: moved later, up to the first of them, it
//! wastes less and nothing else changes. So a plan is a set of such days, and for each strip-down the visits in which
//! it happens. With the days given, strip-downs no longer touch each other, and each line goes to the latest visit not
//! after its day in which its strip-down happens; which those are is found by dynamic programming over the sorted days,
//! from the last to the first, since what a strip-down costs up to its next time depends on these two times alone.
//!
//! What is left is which days to choose. That is hard in general (it is the joint replenishment problem, NP-hard for
//! many strip-downs), so all sets are tried up to [`DAYS_EXACT`] different days, which makes the plan the best there is;
//! beyond, days are added, taken away and moved to near ones until nothing gets better, and [`Plan::exact`] says so. The first
//! visit is on the first day in any case. Costs are whole numbers: the same lines give the same plan everywhere.

mod days;
mod words;

pub use words::{explain, explain_overrun};

use chrono::NaiveDate;
use std::collections::BTreeSet;

/// Up to so many different days the plan is the best there is.
pub const DAYS_EXACT: usize = 12;
/// The most lines of a plan; those with the earliest days are taken.
pub const LINES_MAX: usize = 60;
/// A whole interval, in the unit of costs.
const INTERVAL: u64 = 1000;

/// A coming due line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Coming {
    /// What it is called in sentences, such as "ring check".
    pub title: String,
    /// The day to plan by.
    pub plan_by: NaiveDate,
    /// What that day is.
    pub basis: PlanBy,
    /// What has to be taken apart for it, such as "cylinders off"; lines with the same text share it. For work that
    /// needs two strip-downs, the deeper one.
    pub strip_down: Option<String>,
    /// Its interval in days; 0 counts as 1.
    pub interval_days: u32,
}

/// What a plan-by day is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum PlanBy {
    /// The early day of a forecast: the hours are used up before then in 10 cases of 100.
    Forecast,
    /// A fixed date.
    Date,
}

/// What a visit and a strip-down cost, in thousandths of an interval thrown away.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Costs {
    /// Going to the shop once.
    pub visit: u32,
    /// Taking something apart once.
    pub strip_down: u32,
}

impl Default for Costs {
    /// A quarter of an interval each: common practice, no standard behind it.
    fn default() -> Self {
        Self { visit: 250, strip_down: 250 }
    }
}

/// A plan of visits.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Plan {
    /// By day.
    pub visits: Vec<Visit>,
    /// What it costs, in thousandths of an interval.
    pub cost: u64,
    /// Whether no plan costs less; otherwise it is the best that was found.
    pub exact: bool,
}

/// One visit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Visit {
    /// Its day: the plan-by day of one of its lines, or today for what is past its day.
    pub on: NaiveDate,
    /// What is taken apart.
    pub strip_downs: BTreeSet<String>,
    /// What is done, by plan-by day.
    pub work: Vec<Planned>,
}

/// One line in a visit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Planned {
    /// Its place in the list that was given.
    pub line: usize,
    /// How many days before its plan-by day.
    pub days_early: u32,
    /// The share of its interval thrown away, in thousandths, rounded up.
    pub wasted: u64,
    /// Why it is in this visit.
    pub why: Why,
}

/// Why a line is in its visit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Why {
    /// Its plan-by day is past already.
    Past,
    /// It is to be done by this very day.
    Due,
    /// What it needs taken apart is apart anyway.
    SharesStripDown,
    /// It would need a visit of its own.
    SavesVisit,
}

/// A line with the day that counts: its plan-by day, or today if that is past.
struct Task<'a> {
    line: usize,
    day: NaiveDate,
    coming: &'a Coming,
}

impl Task<'_> {
    fn days_early(&self, on: NaiveDate) -> u32 {
        u32::try_from((self.day - on).num_days()).unwrap_or_default()
    }

    fn wasted(&self, on: NaiveDate) -> u64 {
        let interval = u64::from(self.coming.interval_days.max(1));
        (u64::from(self.days_early(on)) * INTERVAL).div_ceil(interval)
    }
}

/// Plans the coming lines from today on. Of more than [`LINES_MAX`] the later ones are left for another time.
#[must_use]
pub fn plan(lines: &[Coming], today: NaiveDate, costs: Costs) -> Plan {
    let mut tasks: Vec<Task<'_>> = lines
        .iter()
        .enumerate()
        .map(|(line, coming)| Task { line, day: coming.plan_by.max(today), coming })
        .collect();
    tasks.sort_by_key(|task| (task.day, task.coming.plan_by, task.line));
    tasks.truncate(LINES_MAX);
    let (chosen, exact) = days::choose(&tasks, costs);
    let mut visits: Vec<Visit> = chosen.iter().map(|work| visit(work)).collect();
    visits.sort_by_key(|visit| visit.on);
    let cost = visits.iter().map(|visit| visit.cost(costs)).sum();
    Plan { visits, cost, exact }
}

impl Visit {
    fn cost(&self, costs: Costs) -> u64 {
        let strip_downs = u64::try_from(self.strip_downs.len()).unwrap_or(u64::MAX);
        let wasted: u64 = self.work.iter().map(|it| it.wasted).sum();
        u64::from(costs.visit) + strip_downs * u64::from(costs.strip_down) + wasted
    }
}

/// The visit in which these are done: on the first of their days.
fn visit(tasks: &[&Task<'_>]) -> Visit {
    let on = tasks.iter().map(|task| task.day).min().unwrap_or_default();
    let shared = |task: &Task<'_>| {
        let same = tasks.iter().filter(|it| it.coming.strip_down == task.coming.strip_down);
        task.coming.strip_down.is_some() && same.count() > 1
    };
    let planned = |task: &&Task<'_>| {
        let why = if task.coming.plan_by < on {
            Why::Past
        } else if task.day == on {
            Why::Due
        } else if shared(task) {
            Why::SharesStripDown
        } else {
            Why::SavesVisit
        };
        Planned { line: task.line, days_early: task.days_early(on), wasted: task.wasted(on), why }
    };
    Visit {
        on,
        strip_downs: tasks.iter().filter_map(|task| task.coming.strip_down.clone()).collect(),
        work: tasks.iter().map(planned).collect(),
    }
}

/// What happens to one line when its visit is put off.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Overrun {
    /// Its place in the list that was given.
    pub line: usize,
    /// How many days past its plan-by day it would be.
    pub days: u32,
    /// Whether it would be overdue for certain, or only may be.
    pub certain: bool,
}

/// What becomes overdue, or may, if a visit is put off to another day. For a day before the visit: nothing new.
#[must_use]
pub fn postponed(lines: &[Coming], visit: &Visit, to: NaiveDate) -> Vec<Overrun> {
    let overrun = |planned: &Planned| {
        let coming = lines.get(planned.line)?;
        let days = u32::try_from((to - coming.plan_by).num_days()).ok().filter(|days| *days > 0)?;
        Some(Overrun { line: planned.line, days, certain: coming.basis == PlanBy::Date })
    };
    visit.work.iter().filter_map(overrun).collect()
}

/// A line that another plan does on another day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Moved {
    /// Its place in the list, which must be the same for both plans.
    pub line: usize,
    /// Its day in the first plan.
    pub from: NaiveDate,
    /// Its day in the second.
    pub to: NaiveDate,
}

/// What changes between two plans of the same lines, such as with the days of another flying rate.
#[must_use]
pub fn moved(before: &Plan, after: &Plan) -> Vec<Moved> {
    let days = |plan: &Plan| -> Vec<(usize, NaiveDate)> {
        let of = |visit: &Visit| -> Vec<(usize, NaiveDate)> {
            visit.work.iter().map(|it| (it.line, visit.on)).collect()
        };
        let mut days: Vec<(usize, NaiveDate)> = plan.visits.iter().flat_map(of).collect();
        days.sort_unstable();
        days
    };
    let after = days(after);
    let changed = days(before).into_iter().filter_map(|(line, from)| {
        let (_, to) = after.iter().find(|(other, _)| *other == line)?;
        (from != *to).then_some(Moved { line, from, to: *to })
    });
    changed.collect()
}

#[cfg(test)]
mod tests;
