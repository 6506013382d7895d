//! When work has to be planned for, and the visit to a workshop that an owner's mail proposes: what falls due together,
//! done together, none of it later than its own day to plan by.

use crate::compose::NAME_CHARS;
use crate::snapshot::EngineSnapshot;
use crate::view::Block;
use chrono::{Days, NaiveDate};
use gudgeon_life::line::DueLine;
use gudgeon_life::sure::forecast::Forecast;
use gudgeon_life::sure::visit::{Coming, PlanBy, explain};
use gudgeon_life::sure::visits::Visits;
use gudgeon_life::words::{clean, day_from};

/// A visit further ahead than a quarter is not proposed yet. Common practice.
const PROPOSED_DAYS: u64 = 91;

impl EngineSnapshot {
    /// The day to plan a line by: its due day or, where that is earlier, the early day of its forecast; past when it
    /// is due already, `None` when nobody can say.
    pub(crate) fn plan_by(&self, at: usize, line: &DueLine, as_of: NaiveDate) -> Option<NaiveDate> {
        let past = line.days.due_from.filter(|due| *due <= as_of);
        let early = match self.told.forecasts.get(at) {
            Some(Some(Forecast::Days(days))) => days.p10,
            _ => None,
        };
        [line.due_on(), past, early].into_iter().flatten().min()
    }

    /// The visit that is proposed; `None` while nothing has to be planned for yet.
    pub(crate) fn visit(&self, as_of: NaiveDate) -> Option<Block> {
        let engine_type = self.engine_type.as_deref();
        let visits = Visits::of(&self.lines, engine_type, &self.row.flying, as_of);
        let first = visits.plan.visits.first()?;
        if first.on > as_of.checked_add_days(Days::new(PROPOSED_DAYS))? {
            return None;
        }
        let titled = |place: &usize| self.lines.get(*place).map(|line| self.titled(line));
        let coming: Vec<Coming> = visits
            .coming
            .iter()
            .zip(&visits.lines)
            .map(|(coming, place)| Coming {
                title: titled(place).unwrap_or_default(),
                strip_down: coming.strip_down.as_deref().map(|it| clean(it, NAME_CHARS)),
                ..*coming
            })
            .collect();
        let mut points = vec![explain(first, &coming)];
        let mut done = first.work.iter().filter_map(|it| coming.get(it.line));
        if done.any(|it| it.basis == PlanBy::Forecast) {
            points.push("Days that come from hours are early ones: nine times in ten the hours last longer.".to_owned());
        }
        let blind: Vec<String> = visits.no_day.iter().filter_map(titled).collect();
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
}
