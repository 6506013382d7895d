//! `gudgeon week`: plans the reports of a week, and says how many leave when.

use crate::clock;
use crate::mailing;
use crate::settings::Settings;
use chrono::NaiveDate;
use gudgeon_api::{Cache, recount_all};
use gudgeon_life::version::witness;
use gudgeon_life::week::ReportWeek;
use gudgeon_reports::plan::{WeekRun, WeekSummary, plan_week};
use gudgeon_store::{Instant, Store};
use std::error::Error;
use std::io::{self, IsTerminal, Write};

/// Plans the reports of a week, and says what came of it.
pub(crate) fn run(
    settings: &Settings,
    week: Option<ReportWeek>,
    as_of: Option<NaiveDate>,
    at_once: bool,
) -> Result<(), Box<dyn Error>> {
    let store = settings.open_store(false)?;
    let today = settings.zone()?.day(clock::now().0);
    let week = week.unwrap_or_else(|| ReportWeek::of(as_of.unwrap_or(today)));
    let as_of = as_of.or_else(|| at_once.then(|| today.max(week.monday())));
    let summary = plan(&store, settings, week, as_of, at_once)?;
    print_week(settings, (week, as_of), &summary)?;
    if let Some(reason) = &summary.held {
        mailing::tell_operator(settings, "mails are on hold", &held(reason))?;
    }
    if let Some(anchor) = store.last_anchor()? {
        let hash = witness(anchor.hash);
        writeln!(io::stdout(), "  The last anchor is {} of {}: {hash}.", anchor.seq, anchor.week)?;
    }
    Ok(())
}

/// Plans the reports of a week, once it is learnt how the types wear, and all engines are counted by that and by the
/// programmes that are active.
pub(crate) fn plan(
    store: &Store,
    settings: &Settings,
    week: ReportWeek,
    as_of: Option<NaiveDate>,
    at_once: bool,
) -> Result<WeekSummary, Box<dyn Error>> {
    let (zone, now) = (settings.zone()?, clock::now());
    store.learn_wear(zone.day(now.0))?;
    recount(store, &Cache::default())?;
    Ok(plan_week(&WeekRun { store, week, as_of, zone, now, at_once })?)
}

/// Counts all engines by the programmes that are active.
pub(crate) fn recount(store: &Store, programmes: &Cache) -> Result<(), Box<dyn Error>> {
    recount_all(store, programmes, |done| {
        // Nothing depends on the progress being seen.
        let _ = show_recounted(done);
    })?;
    Ok(())
}

/// One line that is written over again, on a terminal only.
fn show_recounted(done: usize) -> io::Result<()> {
    let mut err = io::stderr();
    if err.is_terminal() {
        write!(err, "engines counted anew: {done}\r")?;
    }
    Ok(())
}

pub(crate) fn print_week(
    settings: &Settings,
    (week, as_of): (ReportWeek, Option<NaiveDate>),
    it: &WeekSummary,
) -> Result<(), Box<dyn Error>> {
    let mut out = io::stdout();
    let as_of = as_of.map(|day| format!(", as of {day}")).unwrap_or_default();
    writeln!(out, "Week {week}{as_of}: {} recipients.", it.recipients)?;
    write!(out, "  {} reports planned, {} had theirs already", it.planned, it.already)?;
    match (it.first, it.last) {
        (Some(first), Some(last)) if it.planned > 0 => {
            let zone = settings.zone()?;
            let (from, to) = (local(settings, first)?, local(settings, last)?);
            writeln!(out, ". They leave from {from} to {to} ({zone}).")?;
            let late_max = settings.rules().late_max;
            if last.0 + late_max < clock::now().0 {
                writeln!(
                    out,
                    "  All those hours passed long ago: `--now` lets them leave at once."
                )?;
            }
        }
        _ => writeln!(out, ".")?,
    }
    writeln!(out, "  {} recipients have something due so far.", it.mails)?;
    if it.erased > 0 {
        writeln!(out, "  {} recipients were erased and are told nothing.", it.erased)?;
    }
    if let Some(reason) = &it.held {
        writeln!(out, "  {}", held(reason))?;
    }
    Ok(())
}

/// What is said of mails on hold.
pub(crate) fn held(reason: &str) -> String {
    format!(
        "No mail leaves for now: {reason}. Look at it, then `gudgeon deliver --release` lets them go."
    )
}

/// An instant as clocks of the service's zone show it.
pub(crate) fn local(settings: &Settings, at: Instant) -> Result<String, Box<dyn Error>> {
    let at =
        chrono::DateTime::from_timestamp_micros(at.0).ok_or("an instant beyond the calendar")?;
    Ok(settings.zone()?.local(at).format("%a %Y-%m-%d %H:%M").to_string())
}
