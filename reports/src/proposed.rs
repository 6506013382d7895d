//! The visit to a workshop that an owner's mail proposes: what falls due together, done together, none of it later
//! than its own day to plan by.

use crate::snapshot::EngineSnapshot;
use crate::view::Block;
use chrono::{Days, NaiveDate};
use gudgeon_life::calendar::days_between;
use gudgeon_life::hours::Hours;
use gudgeon_life::line::{AskedBy, Count, DueLine};
use gudgeon_life::status::Status;
use gudgeon_life::sure::forecast::{Days as Forecast, Forecast as Told};
use gudgeon_life::sure::visit::{Coming, Costs, PlanBy, explain, plan};
use gudgeon_life::words::day_from;

/// How far ahead work is gathered, and a visit proposed: a quarter. Nobody renews a part years early to save a visit.
/// Common practice.
const AHEAD_DAYS: u64 = 91;
/// The interval of work that has none, such as a finding: one year.
const INTERVAL_DAYS: u32 = 365;

impl EngineSnapshot {
    /// When a line has to be planned for; `None` when it has no day.
    pub(crate) fn plan_by(&self, at: usize, line: &DueLine, as_of: NaiveDate) -> Option<PlannedBy> {
        let past = line.days.due_from.filter(|due| *due <= as_of);
        let date = line.due_on().into_iter().chain(past).min().map(|on| (on, PlanBy::Date));
        let early = self.forecast(at).and_then(|days| days.p10).map(|on| (on, PlanBy::Forecast));
        let (on, basis) = date.into_iter().chain(early).min_by_key(|(on, _)| *on)?;
        Some(PlannedBy { on, basis })
    }

    fn forecast(&self, at: usize) -> Option<Forecast> {
        match self.told.forecasts.get(at)?.as_ref()? {
            Told::Days(days) => Some(*days),
            _ => None,
        }
    }

    /// The visit that is proposed; `None` while nothing has to be planned for yet.
    pub(crate) fn visit(&self, as_of: NaiveDate) -> Option<Block> {
        let lines = self.lines.iter().enumerate();
        let coming: Vec<Coming> =
            lines.filter_map(|(at, line)| self.coming(at, line, as_of)).collect();
        let planned = plan(&coming, as_of, Costs::default());
        let first = planned.visits.first()?;
        let mut points = vec![explain(first, &coming)];
        let forecast = first.work.iter().filter_map(|it| coming.get(it.line));
        if forecast.clone().any(|it| it.basis == PlanBy::Forecast) {
            points.push("Days that come from hours are early ones: nine times in ten the hours last longer.".to_owned());
        }
        let blind = self.lines.iter().filter(|line| line.status(as_of) == Status::Unknown);
        let blind: Vec<String> = blind.map(|line| self.titled(line)).collect();
        if !blind.is_empty() {
            points.push(format!(
                "To be looked at as well, since the records do not tell when it is due: {}.",
                blind.join("; ")
            ));
        }
        Some(Block {
            title: format!("Proposed: one visit to a workshop by {}", day_from(first.on, as_of)),
            points,
        })
    }

    fn coming(&self, at: usize, line: &DueLine, as_of: NaiveDate) -> Option<Coming> {
        let by = self.plan_by(at, line, as_of)?;
        let last = as_of.checked_add_days(Days::new(AHEAD_DAYS))?;
        let finding = matches!(line.asked_by, AskedBy::Finding(_) | AskedBy::Event(_));
        (by.on <= last).then(|| Coming {
            title: self.titled(line),
            plan_by: by.on,
            basis: by.basis,
            strip_down: None,
            interval_days: if finding { INTERVAL_DAYS } else { self.interval_days(at, line) },
        })
    }

    /// The shortest interval of a line in days; of hours, as the middle day of its forecast has them come.
    fn interval_days(&self, at: usize, line: &DueLine) -> u32 {
        let days_of = |from: Hours, due: Hours| {
            let days = self.forecast(at)?;
            let left = line.hours_left().filter(|left| *left > Hours::ZERO)?;
            let ahead = days_between(days.last_reading, days.p50?);
            Some((due - from).seconds().saturating_mul(ahead) / left.seconds())
        };
        let intervals = line.legs.iter().filter_map(|leg| match leg.count {
            Count::Hours { from, due, .. } => days_of(from, due),
            Count::Calendar { from, due, .. } => Some(days_between(from, due)),
            Count::Missing(..) => None,
        });
        let shortest = intervals.filter(|days| *days > 0).min();
        shortest.and_then(|days| u32::try_from(days).ok()).unwrap_or(INTERVAL_DAYS)
    }
}

/// The day to plan a line by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct PlannedBy {
    /// The day; past when it is due already.
    pub(crate) on: NaiveDate,
    /// What that day is.
    pub(crate) basis: PlanBy,
}
