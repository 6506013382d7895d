//! What is odd about an inspection's readings: possible, accepted, and worth a second look.
//!
//! Five questions are asked of each: does it look like a slip of the unit or the point; did it go against wear
//! since the last inspection, with no work in between; do readings of one measurement that should be alike lie
//! far apart; do those of like places; and is one reading unlike all others of its group? How far is far stands in
//! the engine type, and what is unlike the others is told by how these scatter (`sure::spread`). Nothing is odd
//! that the gauges' uncertainty may explain.

use super::derive::spread;
use super::interval::Interval;
use super::quantity::{QuantityRule, Wear};
use super::ratio::Ratio;
use super::read::{Read, read, unit_of};
use super::unit::Unit;
use crate::amend::standing;
use crate::decimal::Decimal;
use crate::fact::{Content, Fact, Inspection, Measurement, Taken};
use crate::ids::{FactId, PositionId, Quantity};
use crate::programme::Action;
use crate::sheet::Bench;
use crate::sure::spread::unlike_the_others;
use chrono::NaiveDate;
use std::collections::BTreeMap;
use std::fmt;

/// One odd thing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Odd {
    /// The measurement, by its place in the report.
    pub at: usize,
    /// What is odd.
    pub kind: Oddity,
    /// In words.
    pub words: String,
}

/// What is odd.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Oddity {
    /// It would be usual in another unit, or with the point moved.
    UnitSlip,
    /// It went against wear.
    AgainstWear,
    /// Readings of one measurement lie far apart: an uneven torque, a doubtful gauge.
    Uneven,
    /// Like places lie far apart: left and right.
    FarApart,
    /// One reading is unlike all others of its group.
    Unlike,
}

impl Oddity {
    /// The word used in the API.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::UnitSlip => "unit-slip",
            Self::AgainstWear => "against-wear",
            Self::Uneven => "uneven",
            Self::FarApart => "far-apart",
            Self::Unlike => "unlike-the-others",
        }
    }
}

/// Decimal places with which readings are screened: a thousandth of a thousandth of any unit.
const SCREENED_PLACES: u32 = 6;

/// A report's own day and what it says.
type Dated<'a> = (NaiveDate, &'a Inspection);

/// What is odd about the readings of a report, in the order posted, in the light of the engine's other records.
///
/// `root` is the id that the report was first posted under: its own earlier version is no earlier inspection.
#[must_use]
pub fn odd(
    report: &Inspection,
    on: NaiveDate,
    root: FactId,
    bench: &Bench,
    facts: &[Fact],
) -> Vec<Odd> {
    let earlier = earlier(on, root, facts);
    let measured: Vec<Measured<'_>> = measured(report, bench);
    let mut found: Vec<Odd> = measured
        .iter()
        .flat_map(|it| {
            let odd = [slipped(it), against_wear(it, report, on, &earlier), uneven(it)];
            odd.into_iter().flatten()
        })
        .collect();
    found.extend(far_apart(&measured));
    found.extend(groups(&measured).filter_map(|group| unlike(&group)));
    found.sort_by_key(|odd| (odd.at, odd.kind));
    found
}

/// One measurement that can be compared with the figures of its rule.
struct Measured<'a> {
    at: usize,
    rule: &'a QuantityRule,
    read: Read<'a>,
}

impl Measured<'_> {
    fn odd(&self, kind: Oddity, words: String) -> Odd {
        Odd { at: self.at, kind, words }
    }

    fn position(&self) -> Option<&PositionId> {
        self.read.measurement.position.as_ref()
    }

    /// The reading furthest worn: the largest, unless the quantity falls.
    fn furthest(&self) -> Option<Interval> {
        furthest(self.rule, &self.read.readings)
    }
}

fn furthest(rule: &QuantityRule, readings: &[Interval]) -> Option<Interval> {
    let readings = readings.iter().copied();
    match rule.wear {
        Some(Wear::Falls) => readings.min_by_key(|it| it.value),
        _ => readings.max_by_key(|it| it.value),
    }
}

fn measured<'a>(report: &'a Inspection, bench: &'a Bench) -> Vec<Measured<'a>> {
    let numbered = report.measurements.iter().enumerate();
    let read = |(at, measurement): (usize, &'a Measurement)| {
        let rule = bench.quantity(&measurement.quantity)?;
        Some(Measured { at, rule, read: read(measurement, rule).ok()? })
    };
    numbered.filter_map(read).collect()
}

/// The engine's inspections of earlier days as they stand, latest first.
fn earlier(on: NaiveDate, root: FactId, facts: &[Fact]) -> Vec<Dated<'_>> {
    let (standing, _) = standing(facts);
    let mut earlier: Vec<Dated<'_>> = standing
        .into_iter()
        .filter(|it| it.root != root && it.entry.on < on)
        .filter_map(|it| match &it.entry.content {
            Content::Inspection(report) => Some((it.entry.on, report)),
            _ => None,
        })
        .collect();
    earlier.sort_by_key(|(on, _)| std::cmp::Reverse(*on));
    earlier
}

/// Whether a value is twice what it may be at most, or less than half of the least: what new and limit span.
/// `None` where the engine type gives no span.
fn unusual(rule: &QuantityRule, value: Ratio) -> Option<bool> {
    let ends = [rule.new.min, rule.new.max, rule.limit.min, rule.limit.max];
    let least: Ratio = ends.iter().flatten().min().copied()?.into();
    let most: Ratio = ends.iter().flatten().max().copied()?.into();
    let twice = |it: Ratio| it.times(Ratio::whole(2));
    Some(value > twice(most)? || twice(value)? < least)
}

/// A reading that would be usual in another unit, or with the decimal point moved by one.
fn slipped(it: &Measured<'_>) -> Option<Odd> {
    let shown =
        it.read.readings.iter().find(|it_reads| unusual(it.rule, it_reads.value) == Some(true))?;
    let posted = unit_of(it.read.measurement, it.rule)?;
    let meant = slip(it.rule, posted, shown.value)?;
    let words = format!(
        "{} of {} {} is far from what is usual; {meant}",
        it.rule.title, shown.value, it.rule.unit
    );
    Some(it.odd(Oddity::UnitSlip, words))
}

/// What a value in the rule's unit was meant as, if one slip explains it: the same number in another unit than
/// the `posted` one, or the point moved by one.
#[must_use]
pub fn slip(rule: &QuantityRule, posted: Unit, value: Ratio) -> Option<String> {
    let number = rule.unit.convert(value, posted)?;
    let usual = |value: Option<Ratio>| {
        value.is_some_and(|it| rule.range.hold(it) && unusual(rule, it) == Some(false))
    };
    let own = Unit::ALL
        .into_iter()
        .filter(|unit| *unit != posted && unit.dimension() == rule.unit.dimension());
    let in_unit = own.into_iter().find(|unit| usual(unit.convert(number, rule.unit)));
    let ten = Ratio::whole(10);
    if let Some(unit) = in_unit {
        return Some(format!("was it measured in `{unit}`, and not in `{posted}`?"));
    }
    let moved = usual(value.times(ten)) || usual(value.over(ten));
    moved.then(|| "check the decimal point".to_owned())
}

/// A reading that went against wear by more than both gauges leave open, with no work in between that would
/// explain it.
fn against_wear(
    it: &Measured<'_>,
    report: &Inspection,
    on: NaiveDate,
    earlier: &[Dated<'_>],
) -> Option<Odd> {
    let wear = it.rule.wear?;
    if worked_on(report, it.rule, it.position()) {
        return None;
    }
    let now = it.furthest()?;
    for (then_on, then) in earlier {
        let mut own = then
            .measurements
            .iter()
            .filter(|then| then.quantity == it.rule.id && then.position.as_ref() == it.position());
        let before = own.next_back().and_then(|then| read(then, it.rule).ok());
        let before = before.and_then(|read| furthest(it.rule, &read.readings));
        // Work of the same visit may have come after the measurement.
        if worked_on(then, it.rule, it.position()) {
            return None;
        }
        let Some(before) = before else { continue };
        let (against, verb) = match wear {
            Wear::Rises => (now.high < before.low, "shrank"),
            Wear::Falls => (now.low > before.high, "grew"),
        };
        let (title, unit) = (&it.rule.title, it.rule.unit);
        let words = format!(
            "{title} {verb} from {} {unit} on {then_on} to {} {unit} on {on}, with no work on record that \
             explains it; check both readings and the part",
            before.value, now.value
        );
        return against.then(|| it.odd(Oddity::AgainstWear, words));
    }
    None
}

/// Whether a report tells of work that makes a quantity start anew at a place: its item machined, renewed or
/// overhauled, or the engine overhauled.
fn worked_on(report: &Inspection, rule: &QuantityRule, position: Option<&PositionId>) -> bool {
    let changes =
        |action| matches!(action, Action::Machined | Action::Renewed | Action::Overhauled);
    let mut own = report.work.iter().filter(|work| Some(&work.item) == rule.feeds.as_ref());
    let here = |positions: &[PositionId]| {
        positions.is_empty() || position.is_none_or(|position| positions.contains(position))
    };
    report.overhaul.is_some() || own.any(|work| changes(work.action) && here(&work.positions))
}

/// Several readings of one measurement further apart than the engine type lets them be.
fn uneven(it: &Measured<'_>) -> Option<Odd> {
    let apart_max = it.rule.apart_max?;
    if !matches!(it.read.measurement.taken, Taken::Several(_)) {
        return None;
    }
    let apart = spread(&it.read.readings).filter(|apart| apart.low > apart_max.into())?;
    let unit = it.rule.unit;
    let words = format!(
        "{}: the readings lie {} {unit} apart, more than {apart_max} {unit}",
        it.rule.title, apart.value
    );
    Some(it.odd(Oddity::Uneven, words))
}

/// Measurements that are compared with one another.
fn groups<'a>(measured: &'a [Measured<'a>]) -> impl Iterator<Item = Vec<&'a Measured<'a>>> {
    let mut groups: BTreeMap<&Quantity, Vec<&Measured<'_>>> = BTreeMap::new();
    for it in measured {
        groups.entry(it.rule.group.as_ref().unwrap_or(&it.rule.id)).or_default().push(it);
    }
    groups.into_values()
}

/// Places that should be alike and are not, told of the last one posted.
fn far_apart(measured: &[Measured<'_>]) -> Vec<Odd> {
    let limited = groups(measured).map(|mut group| {
        group.retain(|it| it.rule.apart_max.is_some());
        group
    });
    limited.filter_map(|group| apart(&group)).collect()
}

/// The reading that is unlike all others of its group. A grid is of different places of one bore, which wears
/// unevenly, so that its readings are not of one kind.
fn unlike(group: &[&Measured<'_>]) -> Option<Odd> {
    let alike = group.iter().filter(|it| !matches!(it.read.measurement.taken, Taken::Grid { .. }));
    let readings: Vec<(&Measured<'_>, Interval)> =
        alike.flat_map(|it| it.read.readings.iter().map(|reading| (*it, *reading))).collect();
    let values: Option<Vec<Decimal>> =
        readings.iter().map(|(_, reading)| reading.value.rounded(SCREENED_PLACES)).collect();
    let flagged = unlike_the_others(&values?)?;
    let (it, shown) = readings.get(flagged)?;
    let mut others = readings.iter().enumerate().filter(|(at, _)| *at != flagged);
    let clear = others.all(|(_, (_, other))| shown.low > other.high || shown.high < other.low);
    let unit = it.rule.unit;
    let words = format!(
        "{}: {} is unlike the other {} readings; check it and the part",
        it.rule.title,
        Named(it.position(), *shown, unit),
        readings.len() - 1
    );
    clear.then(|| it.odd(Oddity::Unlike, words))
}

fn apart(group: &[&Measured<'_>]) -> Option<Odd> {
    let furthest = group.iter().filter_map(|it| Some((*it, it.furthest()?)));
    let least = furthest.clone().min_by_key(|(_, reading)| reading.value)?;
    let most = furthest.max_by_key(|(_, reading)| reading.value)?;
    let apart_max = least.0.rule.apart_max?;
    let apart = most.1.minus(least.1)?;
    if least.0.position() == most.0.position() || apart.low <= apart_max.into() {
        return None;
    }
    let unit = least.0.rule.unit;
    let words = format!(
        "{}: {} and {} lie {} {unit} apart, more than {apart_max} {unit}",
        least.0.rule.title,
        Named(least.0.position(), least.1, unit),
        Named(most.0.position(), most.1, unit),
        apart.value
    );
    let at = least.0.at.max(most.0.at);
    Some(Odd { at, kind: Oddity::FarApart, words })
}

/// A place and its reading: `pto (67.58 mm)`.
struct Named<'a>(Option<&'a PositionId>, Interval, Unit);

impl fmt::Display for Named<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self(position, reading, unit) = self;
        match position {
            Some(position) => write!(f, "{position} ({} {unit})", reading.value),
            None => write!(f, "{} {unit}", reading.value),
        }
    }
}
