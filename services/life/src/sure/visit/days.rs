//! The search for the days of visits, and for each strip-down the visits in which it happens.

use super::{Costs, DAYS_EXACT, Task};
use chrono::NaiveDate;

/// The most rounds of getting better where not all sets of days are tried.
const ROUNDS_MAX: usize = 50;
/// How many days further a visit is moved at once.
const REACH: usize = 4;

/// The tasks that share a strip-down, or all that need none.
struct Group<'a> {
    tasks: Vec<&'a Task<'a>>,
    strip_down: u64,
}

/// For one group, the day of each of its tasks, and what that costs.
type Assigned = (u64, Vec<NaiveDate>);

/// What is searched: which of the later days are chosen.
struct Search<'a> {
    groups: Vec<Group<'a>>,
    first: NaiveDate,
    later: Vec<NaiveDate>,
    visit: u64,
}

impl<'a> Search<'a> {
    /// `None` without tasks, which are sorted by day.
    fn new(tasks: &'a [Task<'a>], costs: Costs) -> Option<Self> {
        let mut days: Vec<NaiveDate> = tasks.iter().map(|task| task.day).collect();
        days.dedup();
        let (first, later) = days.split_first()?;
        let (first, later) = (*first, later.to_vec());
        Some(Self { groups: groups(tasks, costs), first, later, visit: u64::from(costs.visit) })
    }

    fn visits(&self, chosen: &[bool]) -> Vec<NaiveDate> {
        let chosen = self.later.iter().zip(chosen).filter(|(_, is)| **is).map(|(day, _)| *day);
        std::iter::once(self.first).chain(chosen).collect()
    }

    fn cost(&self, chosen: &[bool]) -> u64 {
        let visits = self.visits(chosen);
        let count = u64::try_from(visits.len()).unwrap_or(u64::MAX);
        let work: u64 = self.groups.iter().map(|group| assigned(group, &visits).0).sum();
        count * self.visit + work
    }

    /// Every set of days is tried.
    fn best_of_all(&self) -> Vec<bool> {
        let days = self.later.len();
        let set = |mask: u32| -> Vec<bool> { (0..days).map(|at| mask >> at & 1 == 1).collect() };
        let best = (0..1_u32 << days).min_by_key(|mask| self.cost(&set(*mask)));
        set(best.unwrap_or_default())
    }

    /// From the first day alone: every change of one day, or of two near each other, that helps, until none does.
    fn better(&self) -> Vec<bool> {
        let days = self.later.len();
        let mut chosen = vec![false; days];
        let mut least = self.cost(&chosen);
        for _ in 0..ROUNDS_MAX {
            let before = least;
            let near = |one: usize| (one..days.min(one + REACH)).map(move |other| (one, other));
            for (one, other) in (0..days).flat_map(near) {
                let Some(next) = changed(&chosen, one, other) else { continue };
                let cost = self.cost(&next);
                if cost < least {
                    (least, chosen) = (cost, next);
                }
            }
            if least == before {
                break;
            }
        }
        chosen
    }
}

/// One day changed, or two exchanged; `None` where two are the same.
fn changed(chosen: &[bool], one: usize, other: usize) -> Option<Vec<bool>> {
    if one != other && chosen.get(one) == chosen.get(other) {
        return None;
    }
    let flip = |(at, day): (usize, &bool)| *day != (at == one || at == other);
    Some(chosen.iter().enumerate().map(flip).collect())
}

/// The tasks of each visit, and whether no other choice costs less.
pub(super) fn choose<'a>(tasks: &'a [Task<'a>], costs: Costs) -> (Vec<Vec<&'a Task<'a>>>, bool) {
    let Some(search) = Search::new(tasks, costs) else { return (Vec::new(), true) };
    let exact = search.later.len() < DAYS_EXACT;
    let visits = search.visits(&if exact { search.best_of_all() } else { search.better() });
    let mut work: Vec<Vec<&Task<'_>>> = vec![Vec::new(); visits.len()];
    for group in &search.groups {
        for (task, on) in group.tasks.iter().zip(assigned(group, &visits).1) {
            if let Some(visit) = visits.binary_search(&on).ok().and_then(|at| work.get_mut(at)) {
                visit.push(task);
            }
        }
    }
    work.retain(|visit| !visit.is_empty());
    for visit in &mut work {
        visit.sort_by_key(|task| (task.day, task.coming.plan_by, task.line));
    }
    (work, exact)
}

/// What the best of all sets costs, and what the search for many days finds.
#[cfg(test)]
pub(super) fn both(tasks: &[Task<'_>], costs: Costs) -> (u64, u64) {
    Search::new(tasks, costs).map_or((0, 0), |search| {
        (search.cost(&search.best_of_all()), search.cost(&search.better()))
    })
}

fn groups<'a>(tasks: &'a [Task<'a>], costs: Costs) -> Vec<Group<'a>> {
    let mut names: Vec<Option<&str>> =
        tasks.iter().map(|task| task.coming.strip_down.as_deref()).collect();
    names.sort_unstable();
    names.dedup();
    let of = |name: Option<&str>| Group {
        tasks: tasks.iter().filter(|task| task.coming.strip_down.as_deref() == name).collect(),
        strip_down: name.map_or(0, |_| u64::from(costs.strip_down)),
    };
    names.into_iter().map(of).collect()
}

/// The cheapest visits for the tasks of one group, from the last visit to the first: from each visit on, what it costs
/// to take apart there, and next at a later visit or never again.
fn assigned(group: &Group<'_>, visits: &[NaiveDate]) -> Assigned {
    let mut from: Vec<Assigned> = Vec::with_capacity(visits.len());
    for (at, on) in visits.iter().enumerate().rev() {
        let until = |next: Option<NaiveDate>| {
            let here = group
                .tasks
                .iter()
                .filter(move |task| task.day >= *on && next.is_none_or(|next| task.day < next));
            here.map(|task| task.wasted(*on)).sum::<u64>()
        };
        let mut best = (group.strip_down + until(None), vec![*on]);
        // Those after `at`, which were pushed before it, last first.
        for ((cost, days), next) in from.iter().rev().zip(visits.iter().skip(at + 1)) {
            let cost = cost + group.strip_down + until(Some(*next));
            if cost < best.0 {
                best = (cost, std::iter::once(*on).chain(days.iter().copied()).collect());
            }
        }
        from.push(best);
    }
    let earliest = group.tasks.iter().map(|task| task.day).min();
    let possible = from.into_iter().rev().zip(visits);
    let best = possible
        .filter(|(_, on)| earliest.is_none_or(|earliest| **on <= earliest))
        .map(|(best, _)| best)
        .min_by_key(|(cost, _)| *cost);
    let (cost, apart) = best.unwrap_or_default();
    let last_before = |task: &&Task<'_>| apart.iter().rev().find(|on| **on <= task.day).copied();
    (cost, group.tasks.iter().filter_map(last_before).collect())
}
