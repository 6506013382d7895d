//! When the hours of an engine's due lines will be used up, from its own records.
//!
//! The readings are the values of the engine's own count, in which changes of its meter are already bridged.
//! Neither the kind of owner nor the hemisphere is on record, so every month counts alike and the owner may be of
//! any kind; whoever shows a forecast says so, with [`NOT_ON_RECORD`].

use super::forecast::{Ahead, Forecast};
use super::rate::{CannotSay, Meter, Owner, Rate, Reading};
use super::season::Hemisphere;
use crate::clock::Point;
use crate::history::History;
use crate::ids::EngineId;
use crate::line::DueLine;
use chrono::NaiveDate;

/// What would make forecasts narrower, and nobody wrote down.
pub const NOT_ON_RECORD: &str = "The kind of owner and the hemisphere are not on record: forecasts allow for \
    private, club and school flying, and for the same flying in every month.";

/// How fast hours come on an engine.
///
/// # Errors
/// [`CannotSay::RecordsContradict`] until a contradiction about its hours is resolved,
/// [`CannotSay::NotInAircraft`] while it is in none, and those of [`Rate::learn`].
pub fn rate(history: &History, engine: EngineId) -> Result<Rate, CannotSay> {
    let state = history.engine(engine).ok_or(CannotSay::NoReading)?;
    if let Some(moment) = state.clock.lost_from() {
        return Err(CannotSay::RecordsContradict { from: moment.on });
    }
    if state.aircraft.is_none() {
        return Err(CannotSay::NotInAircraft);
    }
    let read =
        |point: &Point| Reading { on: point.moment.on, hours: point.hours, meter: Meter::Same };
    let readings: Vec<Reading> = state.clock.points().iter().map(read).collect();
    Rate::learn(&readings, Hemisphere::Unknown, Owner::Unknown)
}

/// The forecasts of an engine's lines.
#[derive(Clone, Debug)]
pub struct Forecasts(Result<Ahead, CannotSay>);

impl Forecasts {
    /// Learns from the records of an engine.
    #[must_use]
    pub fn of(history: &History, engine: EngineId) -> Self {
        Self(rate(history, engine).map(Ahead::of))
    }

    /// When the hours of a line will be used up, as seen on a day; `None` when it has no hours to count, or
    /// none left.
    #[must_use]
    pub fn line(&self, line: &DueLine, as_of: NaiveDate) -> Option<Forecast> {
        let ahead = match &self.0 {
            Ok(ahead) => ahead,
            Err(why) => {
                line.due_hours()?;
                return Some(Forecast::CannotSay(*why));
            }
        };
        let hours_left = line.hours_left()?;
        if line.hours_on != Some(ahead.rate().last) {
            return Some(Forecast::CannotSay(CannotSay::ReadApart));
        }
        match ahead.reach(hours_left, as_of) {
            Forecast::AlreadyReached => None,
            forecast => Some(forecast),
        }
    }
}

/// The sentence beside an hours leg, without its full stop.
#[must_use]
pub fn in_words(forecast: &Forecast) -> String {
    match forecast {
        Forecast::CannotSay(why) => format!("no forecast: {why}"),
        told => told.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::clock::Moment;
    use crate::history::EngineState;
    use crate::hours::Hours;
    use crate::ids::{AircraftId, Uid};

    fn moment(day: u32) -> Moment {
        Moment::end_of(NaiveDate::from_ymd_opt(2026, 6, day).expect("a day"))
    }

    /// An engine in an aircraft, stated twice.
    fn state() -> EngineState {
        let aircraft = Some(AircraftId(Uid::from_bytes([1; 16])));
        let mut state = EngineState { aircraft, ..EngineState::default() };
        state.clock.state(Hours::from_whole(500), moment(1));
        state.clock.state(Hours::from_whole(510), moment(15));
        state
    }

    fn rate_of(state: EngineState) -> Result<Rate, CannotSay> {
        let engine = EngineId(Uid::from_bytes([2; 16]));
        let mut history = History::default();
        history.engines.insert(engine, state);
        rate(&history, engine)
    }

    #[test]
    fn the_values_of_the_count_are_the_readings() {
        let rate = rate_of(state()).expect("a rate");
        assert_eq!((rate.last, rate.gaps), (moment(15).on, 1));
    }

    #[test]
    fn hours_that_contradict_say_nothing() {
        let mut state = state();
        state.clock.lose(moment(10));
        assert_eq!(rate_of(state), Err(CannotSay::RecordsContradict { from: moment(10).on }));
    }

    #[test]
    fn without_an_aircraft_or_a_value_nothing_is_said() {
        let stored = EngineState { aircraft: None, ..state() };
        assert_eq!(rate_of(stored), Err(CannotSay::NotInAircraft));
        let unread = EngineState { clock: crate::clock::Clock::default(), ..state() };
        assert_eq!(rate_of(unread), Err(CannotSay::NoReading));
    }
}
