//! `gudgeon deliver --watch`: plans each week in good time and hands every mail over at its hour, until it is asked
//! to stop.

use crate::settings::Settings;
use crate::stop::Stop;
use crate::{clock, deliver, mailing, week};
use gudgeon_life::week::ReportWeek;
use gudgeon_store::Store;
use std::error::Error;
use std::io::{self, Write as _};
use std::time::Duration;

/// How often weeks are planned, in microseconds: whoever is registered meanwhile gets a report too.
const PLANNED_EVERY: i64 = 3_600_000_000;
/// How far ahead of its Monday in UTC a week is planned, in microseconds: it begins 14 hours earlier in the east.
const PLANNED_AHEAD: i64 = 2 * 24 * 3_600_000_000;
/// How long is rested at least, while mails are due that somebody else has in hand.
const REST_MIN: Duration = Duration::from_secs(1);

/// Goes on until it is asked to stop; it may be killed at any time, too.
pub(crate) fn run(store: &Store, settings: &Settings, stop: &Stop) -> Result<(), Box<dyn Error>> {
    // What is wrong with the settings is said at once, and not every minute.
    plan_weeks(store, settings)?;
    let mut plan_at = clock::now().0 + PLANNED_EVERY;
    while !stop.is_asked() {
        let rest = round(store, settings, stop, &mut plan_at).or_else(|error| {
            // A server that is away may come back, and so may a database: but nobody knocks every second.
            writeln!(io::stderr(), "gudgeon: {error}")?;
            Ok::<_, io::Error>(settings.watch_rest())
        })?;
        stop.rest(rest);
    }
    Ok(())
}

/// Does what is to be done now, and gives how long to rest after it.
fn round(
    store: &Store,
    settings: &Settings,
    stop: &Stop,
    plan_at: &mut i64,
) -> Result<Duration, Box<dyn Error>> {
    let now = clock::now().0;
    if now >= *plan_at {
        plan_weeks(store, settings)?;
        *plan_at = now + PLANNED_EVERY;
    }
    let summary = deliver::send_due(store, settings, stop)?;
    if summary.is_anything() {
        let told = deliver::told(settings, store, &summary)?;
        io::stdout().write_all(told.as_bytes())?;
        if summary.is_trouble() {
            mailing::tell_operator(settings, "mails that failed", &told)?;
        }
    }
    let rest_max = settings.watch_rest();
    if store.mail_hold()?.is_some() {
        return Ok(rest_max);
    }
    let until = |at: i64| Duration::from_micros(u64::try_from(at - clock::now().0).unwrap_or(0));
    let next = store.next_report_at()?.map_or(rest_max, |next| until(next.0));
    Ok(next.clamp(REST_MIN, rest_max))
}

/// Plans this week and, when it is near, the next.
fn plan_weeks(store: &Store, settings: &Settings) -> Result<(), Box<dyn Error>> {
    let (zone, now) = (settings.zone()?, clock::now().0);
    for of in [now, now + PLANNED_AHEAD].map(|at| ReportWeek::of(zone.day(at))) {
        let summary = week::plan(store, settings, of, None, false)?;
        if summary.planned > 0 || summary.held.is_some() {
            week::print_week(settings, (of, None), &summary)?;
        }
        if let Some(reason) = &summary.held {
            mailing::tell_operator(settings, "mails are on hold", &week::held(reason))?;
        }
    }
    Ok(())
}
