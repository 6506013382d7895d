//! What is known from the other engines of a type when one is counted: how its quantities wear.
//!
//! It is worked out now and then from all logged engines at once, and kept as a version. A due list takes it as an
//! argument, so that it hangs on no other engine but through that: the same records and the same version give the
//! same lines, in whatever order they came in.
//!
//! Lines are told from when the part was new. A part that was renewed begins anew, on whatever count it is told; one
//! that was machined has measures of its own, so it tells nothing and is told nothing. Units are part of the name: an
//! engine type that turns to another unit begins to learn anew.

use super::decimal_hours;
use super::fleet::{Fleet, line_of_engine};
use super::limit::{real, used};
use super::line::{Fit, Point};
use super::trend::RUN_IN;
use crate::decimal::Decimal;
use crate::history::History;
use crate::hours::Hours;
use crate::ids::{EngineId, PositionId, Quantity};
use crate::measure::{QuantityRule, Unit};
use crate::programme::EngineType;
use crate::series::{Series, worn_places};
use crate::subject::{LineSubject, subjects};
use chrono::NaiveDate;
use std::collections::BTreeMap;

/// So many engines of a type are learnt from at most, which bounds what is held at a time; more would move the
/// figures by less than they are sure to.
pub const ENGINES_MAX: usize = 2000;
/// Of one part the newest so many readings are kept for it.
pub const READINGS_MAX: usize = 24;

/// What is known from other engines when one is counted.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Evidence {
    /// How its type wears; `None` while that was never worked out.
    pub wear: Option<WearPrior>,
}

/// One version of how the logged engines of a type wear.
#[derive(Clone, Debug, PartialEq)]
pub struct WearPrior {
    /// Its number, from 1.
    pub version: u32,
    /// The day on which it was worked out.
    pub on: NaiveDate,
    /// The lines of each quantity that six engines or more tell of.
    pub fleets: BTreeMap<Worn, Fleet>,
}

/// A quantity at one place of a type, in the unit that its values are in.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Worn {
    /// What is measured.
    pub quantity: Quantity,
    /// Where.
    pub position: Option<PositionId>,
    /// The unit of the values.
    pub unit: Unit,
}

/// What one engine tells of each: hours since the part was new, and the value then, in order.
pub type Told = BTreeMap<Worn, Vec<(Hours, Decimal)>>;

/// How the type wears by what one line of an engine follows.
#[derive(Clone, Copy)]
pub(crate) struct Steadying<'a> {
    pub(crate) fleet: &'a Fleet,
    pub(crate) version: u32,
    pub(crate) on: NaiveDate,
    /// When the part was new, on the line's own count.
    pub(crate) new_at: Hours,
}

impl Steadying<'_> {
    /// The type's lines on the line's own count.
    pub(crate) fn fleet_here(self) -> Fleet {
        self.fleet.begun_at(decimal_hours(self.new_at))
    }
}

impl Evidence {
    /// What steadies the readings of one place; `None` where too few engines tell, or nobody knows when the part was
    /// new.
    pub(crate) fn steadying(
        &self,
        subject: &LineSubject<'_>,
        series: &Series<'_>,
    ) -> Option<Steadying<'_>> {
        let WearPrior { version, on, fleets } = self.wear.as_ref()?;
        let fleet = fleets.get(&worn(subject, series))?;
        Some(Steadying { fleet, version: *version, on: *on, new_at: series.new_at? })
    }
}

fn worn(subject: &LineSubject<'_>, series: &Series<'_>) -> Worn {
    Worn {
        quantity: series.rule.id.clone(),
        position: series.place.or(subject.position).cloned(),
        unit: series.rule.unit,
    }
}

/// Hours of running-in of a quantity on a line: what its item sets, else what is usual.
pub(crate) fn run_in(subject: &LineSubject<'_>, rule: &QuantityRule) -> Hours {
    let follows = subject.item.trend.as_ref().filter(|it| it.quantity == rule.id);
    follows.map_or(RUN_IN, |it| it.run_in)
}

/// What an engine tells of how its type wears: the readings of the parts that are there now, since they ran in, where
/// there are enough for a line. Whether its hours are logged the caller knows.
#[must_use]
pub fn told(history: &History, id: EngineId, engine_type: &EngineType) -> Told {
    let mut told = Told::new();
    if history.engines.values().all(|it| it.measured.is_empty()) {
        return told;
    }
    let all: Vec<LineSubject<'_>> = subjects(history, id, engine_type).collect();
    for (subject, rule, place) in worn_places(&all, &engine_type.bench) {
        let series = subject.series(rule, place);
        let Some(new_at) = series.new_at else { continue };
        let read = used(&series, run_in(subject, rule)).into_iter();
        let read = read.filter_map(|it| Some((it.at? - new_at, it.value.value.rounded(9)?)));
        let mut read: Vec<(Hours, Decimal)> = read.collect();
        read.drain(..read.len().saturating_sub(READINGS_MAX));
        if line_of(&read).is_some() {
            told.entry(worn(subject, &series)).or_insert(read);
        }
    }
    told
}

fn line_of(read: &[(Hours, Decimal)]) -> Option<Fit> {
    let point = |(at, value): &(Hours, Decimal)| (decimal_hours(*at), real((*value).into()));
    let points: Vec<Point> = read.iter().map(point).collect();
    line_of_engine(&points)
}

/// Learns from one engine after another; of each its lines alone are held.
#[derive(Debug, Default)]
pub struct Learning {
    lines: BTreeMap<Worn, Vec<Fit>>,
}

impl Learning {
    /// Takes in what a logged engine [`told`]. After [`ENGINES_MAX`] nothing more is taken of a quantity.
    pub fn take(&mut self, told: Told) {
        for (worn, read) in told {
            let lines = self.lines.entry(worn).or_default();
            lines.extend(line_of(&read).filter(|_| lines.len() < ENGINES_MAX));
        }
    }

    /// The lines of each quantity that enough engines told of, in nine significant figures.
    #[must_use]
    pub fn learnt(self) -> BTreeMap<Worn, Fleet> {
        let fleets = self.lines.into_iter();
        let learnt = |(worn, lines)| Some((worn, Fleet::of_lines(lines)?.rounded()?));
        fleets.filter_map(learnt).collect()
    }
}
