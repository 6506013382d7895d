//! When the hours of an engine's due lines will be used up, from its own records.
//!
//! What an engine runs, its aircraft flies: the readings are the values of the aircraft's count, in which changes of
//! the meter are bridged. An engine's own count would not do, for its time on the shelf is no little flying, and
//! what it ran on a bench is none. Who flies the aircraft and where are told when it is registered; whoever shows a
//! forecast that had to do without says so, with [`Flying::not_on_record`].

use super::forecast::{Ahead, Forecast};
use super::rate::{CannotSay, Meter, Owner, Rate, Reading};
use super::season::Hemisphere;
use crate::clock::Point;
use crate::history::{EngineState, History};
use crate::hours::Hours;
use crate::ids::EngineId;
use crate::line::DueLine;
use chrono::NaiveDate;
use std::cell::RefCell;
use std::collections::BTreeMap;

/// How the aircraft of an engine flies: small enough to keep, and all that forecasts of the engine's lines need
/// beside the lines.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Flying {
    /// How fast hours come, or why nobody can say.
    pub rate: Result<Rate, CannotSay>,
    /// Who flies the aircraft, as far as that is on record.
    pub flown_by: Owner,
    /// Where it flies, as far as that is on record.
    pub hemisphere: Hemisphere,
    /// The day up to which the engine itself is counted.
    pub counted_on: Option<NaiveDate>,
}

impl Flying {
    /// What the records of an engine say.
    ///
    /// The rate is [`CannotSay::RecordsContradict`] until a contradiction about the hours is resolved,
    /// [`CannotSay::NotInAircraft`] while the engine is in none, or what [`Rate::learn`] says.
    #[must_use]
    pub fn of(history: &History, engine: EngineId) -> Self {
        let state = history.engine(engine);
        let aircraft = state.and_then(|it| history.aircraft(it.aircraft?));
        let flown_by = aircraft.map(|it| it.flown_by).unwrap_or_default();
        let hemisphere = aircraft.map(|it| it.hemisphere).unwrap_or_default();
        let lost = state.and_then(|it| it.clock.lost_from());
        let rate = match (state, lost.or_else(|| aircraft?.clock.lost_from()), aircraft) {
            (None, ..) => Err(CannotSay::NoReading),
            (_, Some(moment), _) => Err(CannotSay::RecordsContradict { from: moment.on }),
            (_, None, None) => Err(CannotSay::NotInAircraft),
            (_, None, Some(aircraft)) => {
                let readings: Vec<Reading> = aircraft.clock.points().iter().map(read).collect();
                Rate::learn(&readings, hemisphere, flown_by)
            }
        };
        Self { rate, flown_by, hemisphere, counted_on: state.and_then(EngineState::hours_on) }
    }

    /// What would make forecasts narrower, and nobody wrote down.
    #[must_use]
    pub const fn not_on_record(&self) -> Option<&'static str> {
        match (self.flown_by, self.hemisphere) {
            (Owner::Unknown, Hemisphere::Unknown) => Some(
                "Who flies the aircraft and where are not on record: forecasts allow for private, club and school \
                 flying, and for the same flying in every month.",
            ),
            (Owner::Unknown, _) => Some(
                "Who flies the aircraft is not on record: forecasts allow for private, club and school flying.",
            ),
            (_, Hemisphere::Unknown) => Some(
                "On which half of the earth the aircraft flies is not on record: forecasts allow for the same flying \
                 in every month.",
            ),
            _ => None,
        }
    }
}

fn read(point: &Point) -> Reading {
    Reading { on: point.moment.on, hours: point.hours, meter: Meter::Same }
}

/// The forecasts of an engine's lines.
#[derive(Clone, Debug)]
pub struct Forecasts {
    ahead: Result<Ahead, CannotSay>,
    counted_on: Option<NaiveDate>,
    /// What was told already: many lines of an engine have as many hours left.
    told: RefCell<BTreeMap<(Hours, NaiveDate), Forecast>>,
}

impl From<Flying> for Forecasts {
    fn from(flying: Flying) -> Self {
        let (ahead, told) = (flying.rate.map(Ahead::of), RefCell::default());
        Self { ahead, counted_on: flying.counted_on, told }
    }
}

impl Forecasts {
    /// Learns from the records of an engine.
    #[must_use]
    pub fn of(history: &History, engine: EngineId) -> Self {
        Flying::of(history, engine).into()
    }

    /// When the hours of a line will be used up, as seen on a day; `None` when it has no hours to count, or
    /// none left.
    #[must_use]
    pub fn line(&self, line: &DueLine, as_of: NaiveDate) -> Option<Forecast> {
        match self.left(line)? {
            Ok((ahead, left)) => {
                let mut told = self.told.borrow_mut();
                Some(*told.entry((left, as_of)).or_insert_with(|| ahead.reach(left, as_of)))
            }
            Err(why) => Some(Forecast::CannotSay(why)),
        }
    }

    /// The day to plan a line by; `None` where there is none within ten years, or nobody can say.
    pub(super) fn plan_by(&self, line: &DueLine) -> Option<NaiveDate> {
        let (ahead, hours_left) = self.left(line)?.ok()?;
        ahead.early_day(hours_left)
    }

    /// Gives each line the day to plan for by its hours.
    ///
    /// That day is counted from the last reading and does not move as days pass; so what is stored stays true.
    pub fn plan(&self, lines: &mut [DueLine]) {
        let Ok(ahead) = &self.ahead else { return };
        let left = |line: &DueLine| Some(self.left(line)?.ok()?.1);
        let days = ahead.early_days(lines.iter().filter_map(left));
        for line in lines {
            if let Some(Some(by)) = left(line).and_then(|left| days.get(&left)) {
                line.plan(*by);
            }
        }
    }

    /// The hours left of a line, where it has any.
    fn left(&self, line: &DueLine) -> Option<Result<(&Ahead, Hours), CannotSay>> {
        line.due_hours()?;
        let ahead = match &self.ahead {
            Ok(ahead) => ahead,
            Err(why) => return Some(Err(*why)),
        };
        let hours_left = line.hours_left().filter(|left| *left > Hours::ZERO)?;
        let together = line.hours_on == self.counted_on;
        Some(if together { Ok((ahead, hours_left)) } else { Err(CannotSay::ReadApart) })
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

/// What a registration tells of who flies an aircraft and where, in words; nothing where it does not.
pub fn flown_words(flown_by: Owner, hemisphere: Hemisphere) -> impl Iterator<Item = String> {
    let by = match flown_by {
        Owner::Private => Some("flown privately"),
        Owner::Club => Some("flown by a club"),
        Owner::School => Some("flown by a school"),
        Owner::Unknown => None,
    };
    let at = match hemisphere {
        Hemisphere::North => Some("on the northern half of the earth"),
        Hemisphere::South => Some("on the southern half of the earth"),
        Hemisphere::Equator => Some("near the equator"),
        Hemisphere::Unknown => None,
    };
    [by, at].into_iter().flatten().map(str::to_owned)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::clock::Moment;
    use crate::history::AircraftState;
    use crate::ids::{AircraftId, Uid};

    const ENGINE: EngineId = EngineId(Uid::from_bytes([2; 16]));
    const AIRCRAFT: AircraftId = AircraftId(Uid::from_bytes([1; 16]));

    fn moment(day: u32) -> Moment {
        Moment::end_of(NaiveDate::from_ymd_opt(2026, 6, day).expect("a day"))
    }

    /// An engine that came into an aircraft on the 10th, after a year on the shelf, and ran on a bench on the
    /// 20th; the aircraft was read on the 1st and the 15th.
    fn history() -> History {
        let mut engine = EngineState { aircraft: Some(AIRCRAFT), ..EngineState::default() };
        engine.clock.state(Hours::from_whole(500), Moment::end_of(NaiveDate::default()));
        engine.clock.open(AIRCRAFT, Hours::from_whole(70), moment(10));
        engine.clock.advance(Hours::from_whole(75), moment(15));
        engine.clock.run_on_bench(Hours::from_whole(1), moment(20));
        let mut aircraft = AircraftState::default();
        aircraft.clock.state(Hours::from_whole(60), moment(1));
        aircraft.clock.state(Hours::from_whole(75), moment(15));
        let mut history = History::default();
        history.engines.insert(ENGINE, engine);
        history.aircraft.insert(AIRCRAFT, aircraft);
        history
    }

    fn engine(history: &mut History) -> &mut EngineState {
        history.engines.entry(ENGINE).or_default()
    }

    fn aircraft(history: &mut History) -> &mut AircraftState {
        history.aircraft.entry(AIRCRAFT).or_default()
    }

    #[test]
    fn the_readings_are_the_aircrafts() {
        let flying = Flying::of(&history(), ENGINE);
        let rate = flying.rate.expect("a rate");
        assert_eq!((rate.last, rate.gaps), (moment(15).on, 1));
        assert_eq!(flying.counted_on, Some(moment(20).on));
        // 15 h in 14 days; with the engine's year on the shelf it would be about as much in a year.
        assert!(rate.hours_per_year() > 100.0, "{rate:?}");
    }

    #[test]
    fn hours_that_contradict_say_nothing() {
        let lost = Err(CannotSay::RecordsContradict { from: moment(10).on });
        let mut of_engine = history();
        engine(&mut of_engine).clock.lose(moment(10));
        assert_eq!(Flying::of(&of_engine, ENGINE).rate, lost);
        let mut of_aircraft = history();
        aircraft(&mut of_aircraft).clock.lose(moment(10));
        assert_eq!(Flying::of(&of_aircraft, ENGINE).rate, lost);
    }

    #[test]
    fn without_an_aircraft_or_a_value_nothing_is_said() {
        let mut stored = history();
        engine(&mut stored).aircraft = None;
        assert_eq!(Flying::of(&stored, ENGINE).rate, Err(CannotSay::NotInAircraft));
        let mut unread = history();
        aircraft(&mut unread).clock = crate::clock::Clock::default();
        assert_eq!(Flying::of(&unread, ENGINE).rate, Err(CannotSay::NoReading));
        assert_eq!(Flying::of(&History::default(), ENGINE).rate, Err(CannotSay::NoReading));
    }

    #[test]
    fn who_flies_and_where_make_forecasts_their_own() {
        let mut told = history();
        let by_anybody = Flying::of(&told, ENGINE);
        assert!(
            by_anybody
                .not_on_record()
                .is_some_and(|it| it.contains("Who flies the aircraft and where"))
        );
        aircraft(&mut told).flown_by = Owner::School;
        let by_a_school = Flying::of(&told, ENGINE);
        assert!(by_a_school.not_on_record().is_some_and(|it| !it.contains("school")));
        assert!(by_a_school.rate.is_ok_and(|it| it.kinds[2].weight > 0.999));
        aircraft(&mut told).hemisphere = Hemisphere::South;
        assert_eq!(Flying::of(&told, ENGINE).not_on_record(), None);
        assert_ne!(Flying::of(&told, ENGINE).rate, by_a_school.rate);
    }
}
