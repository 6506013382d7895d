//! Due lines as clients see them. Hours used round up and hours left round down, the cautious side; due and
//! latest hours are exact.

use super::Coded;
use super::forecast::ForecastOut;
use super::wear::WearOut;
use chrono::NaiveDate;
use gudgeon_life::hours::Hours;
use gudgeon_life::line::{
    AskedBy, Axis, Count, DueLine, Happened, LastDone, Leg, NoLater, Overrun,
};
use gudgeon_life::status::{Beyond, Status, StatusDays};
use gudgeon_life::sure::engine::{Flying, Forecasts};
use gudgeon_store::EngineRow;
use serde::Serialize;

/// A due line on a day.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct LineOut {
    item: String,
    title: String,
    asked_by: AskedByOut,
    position: Option<String>,
    component: Option<String>,
    class: &'static str,
    source: String,
    status: &'static str,
    status_printed: &'static str,
    due: PointOut,
    latest: PointOut,
    hours_now: Option<String>,
    hours_on: Option<String>,
    hours_left: Option<String>,
    governs: &'static str,
    overdue_by: OverrunOut,
    last: Option<LastOut>,
    last_overrun: OverrunOut,
    last_overrun_beyond_tolerance: bool,
    legs: Vec<LegOut>,
    days: DaysOut,
    /// When its hours will be used up, where it has any left.
    #[serde(skip_serializing_if = "Option::is_none")]
    forecast: Option<ForecastOut>,
    /// What the trends of its measured limit say; left out where it has none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    wear: Vec<WearOut>,
    notes: Vec<Coded>,
    #[serde(skip_serializing_if = "Option::is_none")]
    working: Option<Vec<String>>,
}

/// What asks for a line, and the record behind it.
#[derive(Clone, Debug, Serialize)]
struct AskedByOut {
    kind: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    record: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    happened: Option<HappenedOut>,
}

#[derive(Clone, Debug, Serialize)]
struct HappenedOut {
    kind: &'static str,
    on: String,
    hours: Option<String>,
    /// Run since then, up to the last reading; rounded up.
    hours_since: Option<String>,
}

#[derive(Clone, Debug, Serialize)]
struct PointOut {
    hours: Option<String>,
    on: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    meter: Option<String>,
}

#[derive(Clone, Debug, Serialize)]
struct OverrunOut {
    hours: String,
    days: i64,
}

#[derive(Clone, Debug, Serialize)]
struct LastOut {
    hours: Option<String>,
    on: String,
    action: &'static str,
    record: String,
}

#[derive(Clone, Debug, Serialize)]
struct LegOut {
    limit: Option<String>,
    counts: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    from: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    due: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    latest: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    missing: Option<Coded>,
    /// What the records prove all the same.
    #[serde(skip_serializing_if = "Option::is_none")]
    no_later: Option<NoLaterOut>,
}

/// Due no later than this, tolerance or extension apart.
#[derive(Clone, Debug, Serialize)]
struct NoLaterOut {
    due: String,
    latest: String,
}

#[derive(Clone, Debug, Serialize)]
struct DaysOut {
    unknown_from: Option<String>,
    coming_from: Option<String>,
    due_from: Option<String>,
    late_from: Option<String>,
    beyond: &'static str,
}

impl LineOut {
    /// A line as it stands on a day, with the words of its working where somebody asked for them.
    fn new(line: &DueLine, as_of: NaiveDate, working: Option<Vec<String>>) -> Self {
        let status = line.status(as_of);
        Self {
            item: line.item.to_string(),
            title: line.title.clone(),
            asked_by: asked_by(line),
            position: text(line.position.as_ref()),
            component: text(line.component),
            class: line.class.word(),
            source: line.source.clone(),
            status: status.word(),
            status_printed: status.printed(),
            due: PointOut {
                hours: text(line.due_hours()),
                on: text(line.due_on()),
                meter: text(line.meter_due()),
            },
            latest: PointOut {
                hours: text(line.latest_hours()),
                on: text(line.latest_on()),
                meter: None,
            },
            hours_now: line.hours_now.map(Hours::tenths_up),
            hours_on: text(line.hours_on),
            hours_left: line.hours_left().map(Hours::tenths_down),
            governs: line.governs(as_of).word(),
            overdue_by: overrun(line.overdue_by(as_of)),
            last: line.last.map(last),
            last_overrun: overrun(line.last_overrun),
            last_overrun_beyond_tolerance: line.last_overrun_beyond_tolerance,
            legs: line.legs.iter().map(leg).collect(),
            days: days(&line.days),
            forecast: None,
            wear: line.wear.iter().map(WearOut::new).collect(),
            notes: line
                .notes
                .iter()
                .map(|note| Coded { code: note.word(), detail: note.printed().to_owned() })
                .collect(),
            working,
        }
    }
}

/// The lines of one engine as clients see them, each with its forecast.
pub(crate) struct LinesOut {
    flying: Flying,
    forecasts: Forecasts,
    as_of: NaiveDate,
}

impl LinesOut {
    /// For the lines of an engine on a day.
    pub(crate) fn of(engine: &EngineRow, as_of: NaiveDate) -> Self {
        Self { flying: engine.flying, forecasts: engine.flying.into(), as_of }
    }

    /// A line, with the words of its working where somebody asked for them.
    pub(crate) fn line(&self, line: &DueLine, working: Option<Vec<String>>) -> LineOut {
        let forecast = self.forecasts.line(line, self.as_of);
        let forecast = forecast.map(|it| ForecastOut::new(&it, &self.flying));
        LineOut { forecast, ..LineOut::new(line, self.as_of, working) }
    }
}

/// The lines in the order in which they are listed: worst first, then as they were.
pub(crate) fn worst_first(mut lines: Vec<DueLine>, as_of: NaiveDate) -> Vec<DueLine> {
    lines.sort_by_key(|line| line.status(as_of));
    lines
}

/// Whether a line is worth a place in a list of a whole fleet.
pub(crate) fn is_pressing(line: &DueLine, as_of: NaiveDate) -> bool {
    line.status(as_of) != Status::NotDue
}

fn text(value: Option<impl ToString>) -> Option<String> {
    value.map(|value| value.to_string())
}

fn overrun(by: Overrun) -> OverrunOut {
    OverrunOut { hours: by.hours.tenths_up(), days: by.days }
}

fn asked_by(line: &DueLine) -> AskedByOut {
    let by = |kind, record| AskedByOut { kind, record, happened: None };
    match line.asked_by {
        AskedBy::Programme => by("programme", None),
        AskedBy::OnCondition => by("on-condition", None),
        AskedBy::Finding(fact) => by("finding", Some(fact.to_string())),
        AskedBy::Preservation(fact) => by("preservation", Some(fact.to_string())),
        AskedBy::Event(Happened { kind, on, hours, fact }) => AskedByOut {
            kind: "event",
            record: Some(fact.to_string()),
            happened: Some(HappenedOut {
                kind: kind.word(),
                on: on.to_string(),
                hours: hours.map(Hours::tenths_up),
                hours_since: line.hours_now.zip(hours).map(|(now, then)| (now - then).tenths_up()),
            }),
        },
    }
}

fn last(last: LastDone) -> LastOut {
    LastOut {
        hours: last.hours.map(Hours::tenths_up),
        on: last.on.to_string(),
        action: last.action.word(),
        record: last.fact.to_string(),
    }
}

fn leg(leg: &Leg) -> LegOut {
    let limit = leg.limit.clone();
    let counted = |counts, from: String, due: String, latest: String| LegOut {
        limit: limit.clone(),
        counts,
        from: Some(from),
        due: Some(due),
        latest: Some(latest),
        missing: None,
        no_later: None,
    };
    match leg.count {
        Count::Hours { from, due, latest } => {
            counted("hours", from.to_string(), due.to_string(), latest.to_string())
        }
        Count::Calendar { from, due, latest } => {
            counted("calendar", from.to_string(), due.to_string(), latest.to_string())
        }
        Count::Missing(axis, why) => LegOut {
            limit,
            counts: match axis {
                Axis::Hours => "hours",
                Axis::Calendar => "calendar",
            },
            from: None,
            due: None,
            latest: None,
            missing: Some(Coded { code: why.word(), detail: why.printed().to_owned() }),
            no_later: leg.no_later.map(no_later),
        },
    }
}

fn no_later(bound: NoLater) -> NoLaterOut {
    match bound {
        NoLater::Hours { due, latest } => {
            NoLaterOut { due: due.to_string(), latest: latest.to_string() }
        }
        NoLater::Day { due, latest } => {
            NoLaterOut { due: due.to_string(), latest: latest.to_string() }
        }
    }
}

fn days(days: &StatusDays) -> DaysOut {
    DaysOut {
        unknown_from: text(days.unknown_from),
        coming_from: text(days.coming_from),
        due_from: text(days.due_from),
        late_from: text(days.late_from),
        beyond: match days.beyond {
            Beyond::Tolerance => "tolerance",
            Beyond::Extension => "extension",
        },
    }
}
