//! The hours of one engine that came with no log: its own measurements against those of its type's logged engines.
//!
//! [`unlogged`](super::unlogged) has the method. Here is what it is asked: which readings of an engine tell of its
//! whole life (the part they were taken of was there from the beginning, as far as the records tell), which logged
//! engines have them too, and what the answer is called.

use super::limit::real;
use super::unlogged::{Bounds, Calibrated, Cannot, ENGINES_MIN, Estimate, Fleet, INDICATORS_MAX};
use super::unlogged::{Measured, Role, Row, Warning};
use super::{decimal_hours, whole_seconds};
use crate::clock::Moment;
use crate::decimal::Decimal;
use crate::history::{EngineState, History, Log};
use crate::hours::Hours;
use crate::ids::{EngineId, PositionId, Quantity};
use crate::programme::{Action, EngineType, Subject};
use crate::series::worn_places;
use crate::subject::{LineSubject, subjects};
use chrono::NaiveDate;
use std::collections::{BTreeMap, BTreeSet};

/// Of one engine the newest so many counts with measurements tell; more would add little.
pub const COUNTS_MAX: usize = 4;
/// So many logged engines are asked, the newest on record: the method is known to hold for forty.
pub const ENGINES_MAX: usize = 40;

/// A quantity at one place.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Indicator {
    /// What is measured.
    pub quantity: Quantity,
    /// Where.
    pub position: Option<PositionId>,
}

/// What was measured of an engine's own first parts at one count of its hours.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Seen {
    /// The engine's own count.
    pub at: Hours,
    /// The furthest worn reading of each, in the unit of its rule.
    pub values: BTreeMap<Indicator, Decimal>,
}

/// What was measured of an engine, by its counts, oldest first; and of what a part was changed since.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Told {
    /// The newest [`COUNTS_MAX`] counts.
    pub seen: Vec<Seen>,
    /// What tells nothing of the whole life any more.
    pub renewed: BTreeSet<Indicator>,
}

/// What became of an indicator in an estimate.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Part {
    /// It told something.
    Used,
    /// Its part was renewed, on record or by what was said.
    Renewed,
    /// It does not change with hours on the logged engines, as far as can be seen.
    NotInformative,
    /// Too few logged engines have it, alone or together with the others.
    FewEngines,
}

impl Part {
    /// The word used in the API.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Used => "used",
            Self::Renewed => "renewed",
            Self::NotInformative => "not-informative",
            Self::FewEngines => "few-engines",
        }
    }

    /// The words printed on paper and pages.
    #[must_use]
    pub const fn printed(self) -> &'static str {
        match self {
            Self::Used => "used",
            Self::Renewed => "left out: renewed",
            Self::NotInformative => "left out: does not change with hours",
            Self::FewEngines => "left out: too few logged engines have it",
        }
    }
}

/// The estimated hours of an engine, in whole tens: lower figures rounded down, upper ones up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Interval {
    /// In 10 of 100 such engines the hours are fewer.
    pub p10: i64,
    /// The middle.
    pub p50: i64,
    /// The figures above it; `None` above the range of the logged engines, where all that is known is "at least".
    pub upper: Option<Upper>,
}

/// The upper figures.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Upper {
    /// In 10 of 100 such engines the hours are more.
    pub p90: i64,
    /// The working figure: in 5 of 100 they are more.
    pub p95: i64,
    /// For what safety hangs on: in 2.5 of 100 they are more.
    pub p97_5: i64,
}

/// Why no hours are said.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WhyNot {
    /// Its hours are logged from new.
    Logged,
    /// Nothing was measured that tells of the whole life.
    NothingMeasured,
    /// The programme of the type sets no overhaul by hours, which bounds what is looked at.
    NoOverhaulHours,
    /// What the method says.
    Method(Cannot),
    /// A figure that makes no sense.
    OutOfRange,
}

impl std::fmt::Display for WhyNot {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Logged => {
                f.write_str("cannot say: its hours are logged, so nothing is estimated")
            }
            Self::NothingMeasured => {
                f.write_str("cannot say: nothing was measured on a part that came with the engine")
            }
            Self::NoOverhaulHours => {
                f.write_str("cannot say: the programme sets no overhaul by hours to look up to")
            }
            Self::Method(why) => why.fmt(f),
            Self::OutOfRange => f.write_str("cannot say: a measured value makes no sense"),
        }
    }
}

/// An estimate with all that is owed to its reader.
#[derive(Clone, Debug, PartialEq)]
pub struct LostLog {
    /// The day of the last measurements that it rests on.
    pub measured_on: Option<NaiveDate>,
    /// The engine's own count then, from its registration.
    pub count_then: Option<Hours>,
    /// Each indicator with what was read and what became of it.
    pub indicators: Vec<(Indicator, Option<Decimal>, Part)>,
    /// Logged engines that it rests on.
    pub engines: usize,
    /// How the method does on those engines, each taken in turn as one without a log.
    pub calibrated: Option<Calibrated>,
    /// What to mind.
    pub warnings: Vec<Warning>,
    /// The hours on that day, or why none are said.
    pub answer: Result<Interval, WhyNot>,
}

/// What the records tell of an engine's wear over its whole life.
#[must_use]
pub fn told(history: &History, id: EngineId, engine_type: &EngineType) -> Told {
    let all: Vec<LineSubject<'_>> = subjects(history, id, engine_type).collect();
    let Some(engine) = history.engine(id) else { return Told::default() };
    let mut counts: BTreeMap<Hours, BTreeMap<Indicator, Decimal>> = BTreeMap::new();
    let mut told = Told::default();
    for (subject, rule, place) in worn_places(&all, &engine_type.bench) {
        let series = subject.series(rule, place);
        let position = place.or(subject.position).cloned();
        let indicator = Indicator { quantity: rule.id.clone(), position };
        if series.changed {
            told.renewed.insert(indicator);
            continue;
        }
        for read in &series.readings {
            // A part that has not run as long as the engine tells nothing of it.
            let on_engine = engine.clock.at(read.moment).map(|it| it.hours);
            let (Some(at), Some(value)) = (on_engine, read.value.value.rounded(9)) else {
                continue;
            };
            if read.at == Some(at) {
                counts.entry(at).or_default().insert(indicator.clone(), value);
            }
        }
    }
    let first = counts.len().saturating_sub(COUNTS_MAX);
    told.seen = counts.into_iter().skip(first).map(|(at, values)| Seen { at, values }).collect();
    told
}

/// The hours between overhauls by the programme: the longest that it sets for the engine as a whole.
fn overhaul_hours(engine_type: &EngineType) -> Option<Hours> {
    let whole = engine_type.items.iter().filter(|item| {
        item.subject == Subject::Engine
            && item.positions.is_empty()
            && item.done_by.contains(&Action::Overhauled)
    });
    whole.flat_map(|item| &item.limits).filter_map(|limit| limit.every.hours).max()
}

/// The hours of an engine without a log, from its own measurements and those of its type's logged engines, each
/// under a number of its own. `renewed` is what the shop says was renewed before these records.
#[must_use]
pub fn lost_log(
    history: &History,
    id: EngineId,
    engine_type: &EngineType,
    fleet: &[(u64, Vec<Seen>)],
    renewed: &BTreeSet<Quantity>,
) -> LostLog {
    let own = told(history, id, engine_type);
    let engine = history.engine(id);
    let last = own.seen.last();
    let mut found = LostLog {
        measured_on: last.and_then(|it| day_of(engine?, it.at)),
        count_then: last.map(|it| it.at),
        indicators: Vec::new(),
        engines: 0,
        calibrated: None,
        warnings: Vec::new(),
        answer: Err(WhyNot::NothingMeasured),
    };
    if engine.is_none_or(|it| it.log == Log::Logged) {
        found.answer = Err(WhyNot::Logged);
        return found;
    }
    let gone: BTreeMap<_, _> = own.renewed.iter().map(|it| (it.clone(), None)).collect();
    let read = last.map(|it| it.values.iter().map(|(key, value)| (key.clone(), Some(*value))));
    let all: BTreeMap<Indicator, Option<Decimal>> =
        gone.into_iter().chain(read.into_iter().flatten()).collect();
    found.indicators = all
        .into_iter()
        .map(|(indicator, value)| {
            let gone = value.is_none() || renewed.contains(&indicator.quantity);
            (indicator, value, if gone { Part::Renewed } else { Part::FewEngines })
        })
        .collect();
    let usable = found.indicators.iter().filter(|it| it.2 == Part::FewEngines);
    let usable: Vec<&Indicator> = usable.map(|it| &it.0).take(INDICATORS_MAX).collect();
    if usable.is_empty() {
        return found;
    }
    let Some(overhaul) = overhaul_hours(engine_type) else {
        found.answer = Err(WhyNot::NoOverhaulHours);
        return found;
    };
    let chosen: Vec<Indicator> = together(usable, fleet).into_iter().cloned().collect();
    ask(&mut found, &chosen, fleet, overhaul);
    found
}

/// Asks the method about some of the indicators, and writes down what it says.
fn ask(found: &mut LostLog, chosen: &[Indicator], fleet: &[(u64, Vec<Seen>)], overhaul: Hours) {
    let rows = fleet.iter().flat_map(|(engine, seen)| {
        seen.iter().map(|it| Row {
            engine: *engine,
            hours: decimal_hours(it.at),
            values: chosen.iter().map(|key| it.values.get(key).map(number)).collect(),
        })
    });
    let rows: Vec<Row> = rows.filter(|row| row.values.iter().any(Option::is_some)).collect();
    let value = |key: &Indicator| {
        let own = found.indicators.iter().find(|it| it.0 == *key).and_then(|it| it.1);
        own.map_or(Measured::Missing, |it| Measured::Value(number(&it)))
    };
    let measured: Vec<Measured> = chosen.iter().map(value).collect();
    let asked = Fleet::new(rows, decimal_hours(overhaul)).and_then(|fleet| {
        let calibrated = fleet.calibrate();
        let fleet = match &calibrated {
            Some(it) => fleet.with_kappa(it.kappa),
            None => fleet,
        };
        Ok((fleet.estimate(&measured, Bounds::default())?, calibrated))
    });
    let Ok((Estimate { roles, engines, answer, warnings }, calibrated)) = asked else {
        found.answer = Err(WhyNot::OutOfRange);
        return;
    };
    let said = answer.is_ok();
    for (key, role) in chosen.iter().zip(roles) {
        let part = match role {
            Role::Used if said => Part::Used,
            Role::NotInformative => Part::NotInformative,
            Role::Renewed => Part::Renewed,
            Role::Used | Role::Missing => Part::FewEngines,
        };
        if let Some(it) = found.indicators.iter_mut().find(|it| it.0 == *key) {
            it.2 = part;
        }
    }
    (found.engines, found.calibrated, found.warnings) = (engines, calibrated, warnings);
    found.answer = answer.map_err(WhyNot::Method).map(|hours| Interval {
        p10: tens_down(hours.p10),
        p50: tens_down(hours.p50 + 5.0),
        upper: hours.upper().map(|it| Upper {
            p90: tens_up(it.p90),
            p95: tens_up(it.p95),
            p97_5: tens_up(it.p97_5),
        }),
    });
}

/// The most of these indicators that enough logged engines have together: those that fewest have are dropped first.
fn together<'a>(mut usable: Vec<&'a Indicator>, fleet: &[(u64, Vec<Seen>)]) -> Vec<&'a Indicator> {
    let has = |keys: &[&Indicator], seen: &Vec<Seen>| {
        seen.iter().any(|it| keys.iter().all(|key| it.values.contains_key(key)))
    };
    let engines = |keys: &[&Indicator]| fleet.iter().filter(|(_, seen)| has(keys, seen)).count();
    while usable.len() > 1 && engines(&usable) < ENGINES_MIN {
        let fewest = usable.iter().enumerate().min_by_key(|(_, key)| engines(&[*key]));
        let Some(at) = fewest.map(|(at, _)| at) else { break };
        usable.remove(at);
    }
    usable
}

/// The first day on which the engine's own count stood there.
fn day_of(engine: &EngineState, at: Hours) -> Option<NaiveDate> {
    let last = engine.measured.iter().rev().map(|it| it.moment);
    let there = |moment: &Moment| engine.clock.at(*moment).is_some_and(|it| it.hours == at);
    last.filter(there).map(|it| it.on).next()
}

fn number(value: &Decimal) -> f64 {
    real((*value).into())
}

/// Whole tens of hours, downwards.
fn tens_down(hours: f64) -> i64 {
    whole_seconds(hours).seconds().div_euclid(TEN) * 10
}

/// Whole tens of hours, upwards.
fn tens_up(hours: f64) -> i64 {
    (whole_seconds(hours).seconds() + TEN - 1).div_euclid(TEN) * 10
}

/// Seconds in ten hours.
const TEN: i64 = 36_000;

impl LostLog {
    /// The estimate in one sentence without its full stop.
    #[must_use]
    pub fn in_words(&self) -> String {
        let interval = match &self.answer {
            Err(why) => return why.to_string(),
            Ok(interval) => interval,
        };
        let Interval { p10, p50, upper } = interval;
        let engines = self.engines;
        let Some(Upper { p90, p95, .. }) = upper else {
            return format!(
                "at least {p10} h in 90 of 100 cases, above the range of our {engines} logged engines of this type"
            );
        };
        format!(
            "likely from {p10} to {p90} h (8 of 10 such engines), about {p50} h in the middle; reckon with {p95} h, which 95 of 100 do not exceed; from {engines} logged engines of this type"
        )
    }

    /// How the method does on the fleet's own engines: how many could be asked, and of these how many % lay inside
    /// their 80 % interval and not above their 95 % figure, each rounded down.
    #[must_use]
    pub fn calibration_percent(&self) -> Option<(usize, i64, i64)> {
        let Calibrated { engines, inside_80_percent, below_p95_percent, .. } = self.calibrated?;
        let whole = |percent: f64| whole_seconds(percent / 3600.0 + 1e-9).seconds();
        Some((engines, whole(inside_80_percent), whole(below_p95_percent)))
    }

    /// How the method does on the fleet's own engines, in one sentence without its full stop.
    #[must_use]
    pub fn calibration_in_words(&self) -> Option<String> {
        let (engines, inside, below) = self.calibration_percent()?;
        Some(format!(
            "each of {engines} logged engines taken in turn as one without a log: {inside} % lay inside their interval (80 % would be right), and {below} % not above their 95 % figure"
        ))
    }
}
