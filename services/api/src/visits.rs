//! The visits that an engine's due lines ask for, for the API and the page alike: what each gathers and why, and what
//! becomes of that at another flying rate, or if a visit is put off.

use crate::answers::lines::worst_first;
use crate::app::App;
use crate::call::{Query, bad_parameter};
use crate::problem::Problem;
use crate::read::day;
use chrono::NaiveDate;
use gudgeon_life::hours::Hours;
use gudgeon_life::line::DueLine;
use gudgeon_life::programme::EngineType;
use gudgeon_life::sure::engine::Flying;
use gudgeon_life::sure::visit::{PlanBy, Visit, Why, explain, explain_overrun, postponed};
use gudgeon_life::sure::visits::{MONTH_HOURS_MAX, Visits};
use gudgeon_life::words;
use gudgeon_store::EngineRow;
use serde::Serialize;

/// The parameters of a plan.
pub(crate) const PARAMETERS: [&str; 3] = ["as_of", "hours_per_month", "not_before"];

/// What somebody asks of a plan.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Asked {
    pub(crate) as_of: NaiveDate,
    /// Another flying rate.
    pub(crate) hours_per_month: Option<Hours>,
    /// The day that the visits before it are put off to.
    pub(crate) not_before: Option<NaiveDate>,
}

impl Asked {
    /// What a query asks; a parameter that a form left empty asks nothing.
    pub(crate) fn of(query: &Query, today: NaiveDate) -> Result<Self, Problem> {
        let told = |name| query.get(name).filter(|text| !text.is_empty());
        let hours_per_month = told("hours_per_month").map(|text| {
            let hours = Hours::parse(text).ok();
            hours.filter(|it| (Hours::ZERO..=MONTH_HOURS_MAX).contains(it) && *it > Hours::ZERO).ok_or_else(|| {
                bad_parameter("`hours_per_month` is a number of hours above 0 and up to 400, such as 12.5")
            })
        });
        let not_before = told("not_before").map(|text| {
            day(text).ok_or_else(|| bad_parameter("`not_before` is a day such as 2026-11-25"))
        });
        Ok(Self {
            as_of: query.as_of(today)?,
            hours_per_month: hours_per_month.transpose()?,
            not_before: not_before.transpose()?,
        })
    }
}

/// The visits of one engine as clients and the page see them.
#[derive(Serialize)]
pub(crate) struct VisitsOut {
    #[serde(flatten)]
    plan: PlanOut,
    /// Lines that may be due, whose day nobody can tell: they are in no visit.
    no_day: Vec<String>,
    /// Why hours say no day, where they do not.
    no_forecast: Option<String>,
    /// What the forecasts could not rest on.
    not_on_record: Option<&'static str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    what_if: Option<WhatIf>,
    #[serde(skip_serializing_if = "Option::is_none")]
    put_off: Option<PutOff>,
}

#[derive(Serialize)]
struct PlanOut {
    visits: Vec<VisitOut>,
    /// Whether no plan wastes less; otherwise it is the best that was found.
    exact: bool,
}

#[derive(Serialize)]
struct VisitOut {
    on: String,
    on_printed: String,
    /// What is opened up.
    opens: Vec<String>,
    in_words: String,
    work: Vec<WorkOut>,
}

#[derive(Serialize)]
struct WorkOut {
    item: String,
    position: Option<String>,
    title: String,
    plan_by: String,
    /// Whether that is the early day of a forecast, or a date.
    plan_by_is: &'static str,
    days_early: u32,
    /// The share of its interval that is thrown away, rounded up.
    wasted_percent: u64,
    why: &'static str,
}

/// The plan at another flying rate, and what it moves.
#[derive(Serialize)]
struct WhatIf {
    hours_per_month: String,
    #[serde(flatten)]
    plan: PlanOut,
    moved: Vec<String>,
}

/// What happens when the visits before a day are put off to it.
#[derive(Serialize)]
struct PutOff {
    not_before: String,
    in_words: Vec<String>,
}

/// The visits of an engine.
pub(crate) fn of(app: &App, row: &EngineRow, asked: Asked) -> Result<VisitsOut, Problem> {
    let lines = app.store.due_lines(&[row.key])?.into_iter().map(|(_, line)| line).collect();
    let lines = worst_first(lines, asked.as_of);
    let engine_type = app.counted_type_of(row)?;
    Ok(told(&lines, engine_type.as_deref(), &row.flying, asked))
}

/// The visits that lines ask for.
pub(crate) fn told(
    lines: &[DueLine],
    engine_type: Option<&EngineType>,
    flying: &Flying,
    asked: Asked,
) -> VisitsOut {
    let plan_at = |flying: &Flying| Visits::of(lines, engine_type, flying, asked.as_of);
    let usual = plan_at(flying);
    let other = asked.hours_per_month.map(|rate| (rate, plan_at(&flying.at(rate))));
    let looked_at = other.as_ref().map_or(&usual, |(_, plan)| plan);
    VisitsOut {
        put_off: asked.not_before.map(|to| put_off(looked_at, to)),
        no_day: usual.no_day.iter().filter_map(|at| Some(lines.get(*at)?.title.clone())).collect(),
        no_forecast: flying.rate.err().map(|why| why.to_string()),
        not_on_record: flying.not_on_record(),
        what_if: other.as_ref().map(|(rate, plan)| WhatIf {
            hours_per_month: rate.to_string(),
            plan: plan_out(plan, lines),
            moved: moved(&usual, plan, lines),
        }),
        plan: plan_out(&usual, lines),
    }
}

fn plan_out(visits: &Visits, lines: &[DueLine]) -> PlanOut {
    let out = visits.plan.visits.iter().map(|visit| visit_out(visit, visits, lines));
    PlanOut { visits: out.collect(), exact: visits.plan.exact }
}

fn visit_out(visit: &Visit, visits: &Visits, lines: &[DueLine]) -> VisitOut {
    let work = visit.work.iter().filter_map(|planned| {
        let line = lines.get(*visits.lines.get(planned.line)?)?;
        let coming = visits.coming.get(planned.line)?;
        Some(WorkOut {
            item: line.item.to_string(),
            position: line.position.as_ref().map(ToString::to_string),
            title: coming.title.clone(),
            plan_by: coming.plan_by.to_string(),
            plan_by_is: match coming.basis {
                PlanBy::Forecast => "forecast",
                PlanBy::Date => "date",
            },
            days_early: planned.days_early,
            wasted_percent: planned.wasted.div_ceil(10),
            why: match planned.why {
                Why::Past => "past",
                Why::Due => "due",
                Why::SharesStripDown => "shares-access",
                Why::SavesVisit => "saves-visit",
            },
        })
    });
    VisitOut {
        on: visit.on.to_string(),
        on_printed: words::day(visit.on),
        opens: visit.strip_downs.iter().cloned().collect(),
        in_words: explain(visit, &visits.coming),
        work: work.collect(),
    }
}

fn moved(usual: &Visits, other: &Visits, lines: &[DueLine]) -> Vec<String> {
    let words = usual.moved(other).into_iter().filter_map(|it| {
        let line = lines.get(it.line)?;
        Some(format!("{}: {} instead of {}", line.title, words::day(it.to), words::day(it.from)))
    });
    words.collect()
}

fn put_off(visits: &Visits, to: NaiveDate) -> PutOff {
    let before = visits.plan.visits.iter().filter(|visit| visit.on < to);
    let mut in_words: Vec<String> = before
        .flat_map(|visit| postponed(&visits.coming, visit, to))
        .map(|overrun| explain_overrun(overrun, &visits.coming))
        .collect();
    if in_words.is_empty() {
        in_words.push(format!("No work would be past its day on {}.", words::day(to)));
    }
    PutOff { not_before: to.to_string(), in_words }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;

    /// A view in which every text is a name.
    pub(crate) fn sample(name: &str) -> VisitsOut {
        let text = || name.to_owned();
        let plan = || PlanOut {
            visits: vec![VisitOut {
                on: "2026-11-25".to_owned(),
                on_printed: text(),
                opens: vec![text()],
                in_words: text(),
                work: vec![WorkOut {
                    item: text(),
                    position: Some(text()),
                    title: text(),
                    plan_by: "2026-11-25".to_owned(),
                    plan_by_is: "forecast",
                    days_early: 1,
                    wasted_percent: 1,
                    why: "due",
                }],
            }],
            exact: true,
        };
        VisitsOut {
            plan: plan(),
            no_day: vec![text()],
            no_forecast: Some(text()),
            not_on_record: Some("a sentence"),
            what_if: Some(WhatIf { hours_per_month: text(), plan: plan(), moved: vec![text()] }),
            put_off: Some(PutOff { not_before: "2026-11-25".to_owned(), in_words: vec![text()] }),
        }
    }
}
