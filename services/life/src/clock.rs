//! The count of running hours on one engine or aircraft: known points in time, and the sums behind them.

use crate::hours::Hours;
use crate::ids::{AircraftId, FactId};
use chrono::NaiveDate;

/// Where a fact stands in the order of things: by day, then by the order given within the day, then by
/// kind, then by id. Never by arrival.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Moment {
    /// The day.
    pub on: NaiveDate,
    /// The order given within the day.
    pub order_in_day: u16,
    /// The rank of its kind, for facts of one day.
    pub rank: u8,
    /// The fact.
    pub fact: FactId,
}

impl Moment {
    /// The end of a day: after everything that happened on it.
    #[must_use]
    pub const fn end_of(on: NaiveDate) -> Self {
        let last = FactId(crate::ids::Uid::from_bytes([0xff; 16]));
        Self { on, order_in_day: u16::MAX, rank: u8::MAX, fact: last }
    }
}

/// One known value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Point {
    /// When.
    pub moment: Moment,
    /// The count.
    pub hours: Hours,
}

/// One piece of the sum that makes a count.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Segment {
    /// The count as a record states it; what came before it no longer matters to the sum.
    Stated(Hours, FactId),
    /// Run on the bench.
    Bench(Hours, FactId),
    /// Run in an aircraft, from one meter value to another.
    Meter {
        /// Which aircraft.
        aircraft: AircraftId,
        /// The meter at the start.
        from: Hours,
        /// The meter at the end, or at the last reading.
        to: Hours,
    },
}

impl Segment {
    /// The hours it adds.
    #[must_use]
    pub fn hours(&self) -> Hours {
        match *self {
            Self::Stated(hours, _) | Self::Bench(hours, _) => hours,
            Self::Meter { from, to, .. } => to - from,
        }
    }
}

/// A count of running hours through time.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Clock {
    points: Vec<Point>,
    segments: Vec<Segment>,
    lost_from: Option<Moment>,
    before: Option<Box<Before>>,
}

/// The count up to a restart at zero: parts that ran on the engine then still carry those hours.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Before {
    clock: Clock,
    until: Moment,
}

/// What the count stood at when a stretch of time began and when it ended, each as far as it is known.
pub(crate) type Stretch = (Option<Hours>, Option<Hours>);

impl Clock {
    /// The count now, unless it is not known.
    #[must_use]
    pub fn now(&self) -> Option<Point> {
        if self.lost_from.is_some() { None } else { self.points.last().copied() }
    }

    /// The count at a moment: the last value known by then.
    #[must_use]
    pub fn at(&self, moment: Moment) -> Option<Point> {
        if let Some(before) = self.before.as_ref().filter(|before| moment < before.until) {
            return before.clock.at(moment);
        }
        if self.lost_from.is_some_and(|lost| lost <= moment) {
            return None;
        }
        let after = self.points.partition_point(|point| point.moment <= moment);
        after.checked_sub(1).and_then(|last| self.points.get(last)).copied()
    }

    /// The count at the start and at the end of a stretch of time, cut in two wherever it was restarted.
    pub(crate) fn stretches(&self, from: Moment, to: Moment) -> Vec<Stretch> {
        let hours = |moment| self.at(moment).map(|point| point.hours);
        let cut = self.before.as_ref().filter(|before| from < before.until);
        let Some(Before { clock, until }) = cut.map(Box::as_ref) else {
            return vec![(hours(from), hours(to))];
        };
        let mut stretches = clock.stretches(from, to);
        if *until <= to {
            stretches.push((hours(*until), hours(to)));
        }
        stretches
    }

    /// All known values since the count began or was restarted, in order.
    #[must_use]
    pub fn points(&self) -> &[Point] {
        &self.points
    }

    /// The pieces of the sum, from the last stated value on.
    #[must_use]
    pub fn segments(&self) -> &[Segment] {
        let last_stated =
            self.segments.iter().rposition(|segment| matches!(segment, Segment::Stated(..)));
        self.segments.get(last_stated.unwrap_or(0)..).unwrap_or_default()
    }

    /// Whether records contradict one another, and from when.
    #[must_use]
    pub fn lost_from(&self) -> Option<Moment> {
        self.lost_from
    }

    /// Starts again at zero; what contradicted before no longer matters from here on.
    pub(crate) fn restart(&mut self, moment: Moment) {
        let clock = std::mem::take(self);
        self.before = Some(Box::new(Before { clock, until: moment }));
        self.state(Hours::ZERO, moment);
    }

    pub(crate) fn lose(&mut self, moment: Moment) {
        self.lost_from = Some(self.lost_from.map_or(moment, |lost| lost.min(moment)));
    }

    pub(crate) fn state(&mut self, hours: Hours, moment: Moment) {
        self.segments.push(Segment::Stated(hours, moment.fact));
        self.points.push(Point { moment, hours });
    }

    pub(crate) fn run_on_bench(&mut self, hours: Hours, moment: Moment) {
        self.segments.push(Segment::Bench(hours, moment.fact));
        self.mark(moment);
    }

    pub(crate) fn open(&mut self, aircraft: AircraftId, meter: Hours, moment: Moment) {
        self.segments.push(Segment::Meter { aircraft, from: meter, to: meter });
        self.mark(moment);
    }

    /// Moves the open meter segment on to a new reading. The caller has checked that it does not fall.
    pub(crate) fn advance(&mut self, meter: Hours, moment: Moment) {
        if let Some(Segment::Meter { to, .. }) = self.segments.last_mut() {
            *to = meter;
            self.mark(moment);
        }
    }

    /// A count that was never started stays unknown, however many hours are added to it.
    fn mark(&mut self, moment: Moment) {
        let started = self.segments.iter().any(|segment| matches!(segment, Segment::Stated(..)));
        if started {
            let hours = self.segments().iter().map(Segment::hours).sum();
            self.points.push(Point { moment, hours });
        }
    }
}
