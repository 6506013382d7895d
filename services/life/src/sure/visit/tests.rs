//! Visit plans by hand, and against brute force over all ways of grouping.

use super::*;
use proptest::prelude::*;

fn day(offset: i64) -> NaiveDate {
    let today: NaiveDate = "2026-11-26".parse().expect("a day");
    today + chrono::TimeDelta::days(offset)
}

fn coming(title: &str, offset: i64, strip_down: Option<&str>, interval_days: u32) -> Coming {
    Coming {
        title: title.to_owned(),
        plan_by: day(offset),
        basis: PlanBy::Forecast,
        strip_down: strip_down.map(str::to_owned),
        interval_days,
    }
}

/// The lines of each visit.
fn grouped(plan: &Plan) -> Vec<Vec<usize>> {
    plan.visits.iter().map(|visit| visit.work.iter().map(|it| it.line).collect()).collect()
}

// By hand: the ring check 20 days early of 400 wastes 50; a visit and a strip-down of its own cost 500. The hoses
// 300 days early of 1000 waste 300, a visit of their own costs 250.
#[test]
fn what_shares_a_strip_down_goes_together_and_what_wastes_much_waits() {
    let lines = [
        coming("piston check", 30, Some("cylinders off"), 400),
        coming("ring check", 50, Some("cylinders off"), 400),
        coming("fuel hoses", 330, None, 1000),
    ];
    let plan = plan(&lines, day(0), Costs::default());
    assert_eq!(grouped(&plan), [vec![0, 1], vec![2]]);
    assert_eq!((plan.cost, plan.exact), (250 + 250 + 50 + 250, true));
    let [first, second] = plan.visits.as_slice() else { panic!("two visits") };
    assert_eq!((first.on, second.on), (day(30), day(330)));
    assert_eq!(
        explain(first, &lines),
        "By 2026-12-26: piston check. Ring check comes along 20 days early (5 % of its interval): what it needs \
         (cylinders off) is done in this visit anyway."
    );
    assert_eq!(explain(second, &lines), "By 2027-10-22: fuel hoses.");
}

// Done in the order of their days, 1 and 3 would not meet: the best grouping skips the line between.
#[test]
fn a_grouping_may_skip_a_day() {
    let costs = Costs { visit: 0, strip_down: 1000 };
    let lines = [
        coming("gearbox oil seal", 10, Some("gearbox open"), 1000),
        coming("plugs", 20, None, 25),
        coming("gearbox bearing", 30, Some("gearbox open"), 1000),
    ];
    assert_eq!(grouped(&plan(&lines, day(0), costs)), [vec![0, 2], vec![1]]);
}

#[test]
fn what_is_past_its_day_is_done_today_and_said_so() {
    let lines = [coming("plugs", -5, None, 50), coming("filter", 1, None, 100)];
    let plan = plan(&lines, day(0), Costs::default());
    let [visit] = plan.visits.as_slice() else { panic!("{plan:?}") };
    assert_eq!(visit.on, day(0));
    assert_eq!(
        explain(visit, &lines),
        "Go at once: plugs is past the day to plan by. Filter comes along 1 day early (1 % of its interval): this \
         saves a visit of its own."
    );
    assert_eq!(super::plan(&[], day(0), Costs::default()).visits, []);
}

#[test]
fn a_postponed_visit_says_what_becomes_overdue() {
    let dated = Coming { basis: PlanBy::Date, ..coming("hoses", 12, None, 1800) };
    let lines = [coming("plugs", 10, None, 50), dated, coming("filter", 15, None, 100)];
    let plan = plan(&lines, day(0), Costs::default());
    let [visit] = plan.visits.as_slice() else { panic!("{plan:?}") };
    let late = postponed(&lines, visit, day(13));
    let expected =
        [Overrun { line: 0, days: 3, certain: false }, Overrun { line: 1, days: 1, certain: true }];
    assert_eq!(late, expected);
    let words: Vec<String> = late.iter().map(|it| explain_overrun(*it, &lines)).collect();
    let expected = [
        "Plugs would be 3 days past the day to plan by: it may be overdue.",
        "Hoses would be 1 day overdue.",
    ];
    assert_eq!(words, expected);
    assert_eq!(postponed(&lines, visit, day(10)), []);
}

#[test]
fn another_rate_moves_visits() {
    let lines = [coming("plugs", 10, None, 50), coming("rings", 300, None, 300)];
    let faster = [coming("plugs", 5, None, 50), coming("rings", 300, None, 300)];
    let [before, after] = [&lines, &faster].map(|lines| plan(lines, day(0), Costs::default()));
    assert_eq!(moved(&before, &after), [Moved { line: 0, from: day(10), to: day(5) }]);
}

// Twenty days are too many to try all sets; identical work in two clusters still makes two visits.
#[test]
fn many_days_still_make_a_plan_that_keeps_every_day() {
    let lines: Vec<Coming> = (0..20)
        .map(|at| coming("work", if at < 10 { at } else { 500 + at }, Some("apart"), 1000))
        .collect();
    let plan = plan(&lines, day(0), Costs::default());
    assert_eq!((plan.visits.len(), plan.exact), (2, false));
    let kept = |visit: &Visit| visit.work.iter().all(|it| visit.on <= lines[it.line].plan_by);
    assert!(plan.visits.iter().all(kept));
}

/// What the cheapest of all ways of grouping the lines costs, each group done on the first of its days.
fn brute_force(lines: &[Coming], today: NaiveDate, costs: Costs) -> u64 {
    fn cost(group: &[&Coming], today: NaiveDate, costs: Costs) -> u64 {
        let effective = |line: &Coming| line.plan_by.max(today);
        let on = group.iter().map(|line| effective(line)).min().expect("not empty");
        let apart: BTreeSet<&String> =
            group.iter().filter_map(|line| line.strip_down.as_ref()).collect();
        let wasted = group.iter().map(|line| {
            let early = u64::try_from((effective(line) - on).num_days()).expect("not later");
            (early * 1000).div_ceil(u64::from(line.interval_days.max(1)))
        });
        u64::from(costs.visit)
            + u64::try_from(apart.len()).expect("few") * u64::from(costs.strip_down)
            + wasted.sum::<u64>()
    }
    fn least<'a>(
        rest: &'a [Coming],
        groups: &mut Vec<Vec<&'a Coming>>,
        today: NaiveDate,
        costs: Costs,
    ) -> u64 {
        let Some((line, rest)) = rest.split_first() else {
            return groups.iter().map(|group| cost(group, today, costs)).sum();
        };
        let mut best = u64::MAX;
        for at in 0..=groups.len() {
            if at == groups.len() {
                groups.push(vec![line]);
            } else {
                groups[at].push(line);
            }
            best = best.min(least(rest, groups, today, costs));
            groups[at].pop();
            groups.retain(|group| !group.is_empty());
        }
        best
    }
    least(lines, &mut Vec::new(), today, costs)
}

fn any_line() -> impl Strategy<Value = Coming> {
    let apart = prop::option::of(prop::sample::select(vec!["cylinders", "gearbox", "carburettor"]));
    (-20..200_i64, apart, prop::sample::select(vec![0_u32, 25, 100, 365, 1800]))
        .prop_map(|(offset, strip_down, interval)| coming("work", offset, strip_down, interval))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn no_grouping_costs_less_than_the_plan(
        lines in prop::collection::vec(any_line(), 1..8),
        visit in 0..800_u32,
        strip_down in 0..800_u32,
    ) {
        let costs = Costs { visit, strip_down };
        let found = plan(&lines, day(0), costs);
        prop_assert!(found.exact);
        prop_assert_eq!(found.cost, brute_force(&lines, day(0), costs));
        let mut done: Vec<usize> = grouped(&found).concat();
        done.sort_unstable();
        prop_assert_eq!(done, (0..lines.len()).collect::<Vec<_>>());
        for visit in &found.visits {
            for work in &visit.work {
                prop_assert!(visit.on <= lines[work.line].plan_by.max(day(0)));
            }
        }
    }

    // The search for many days, held against all sets of days.
    #[test]
    fn the_search_for_many_days_is_seldom_far_off(lines in prop::collection::vec(any_line(), 1..12)) {
        let mut tasks: Vec<Task<'_>> = lines
            .iter()
            .enumerate()
            .map(|(line, coming)| Task { line, day: coming.plan_by.max(day(0)), coming })
            .collect();
        tasks.sort_by_key(|task| (task.day, task.line));
        let (exact, searched) = days::both(&tasks, Costs::default());
        prop_assert!(searched >= exact && searched <= exact + exact / 5, "{exact} {searched}");
    }
}
