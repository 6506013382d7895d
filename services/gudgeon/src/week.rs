//! `gudgeon week` and `gudgeon deliver`: the weekly run, in two steps that can each be repeated.

use crate::clock;
use crate::mailing;
use crate::settings::Settings;
use chrono::NaiveDate;
use gudgeon_api::{Cache, recount_all};
use gudgeon_life::version::witness;
use gudgeon_life::week::ReportWeek;
use gudgeon_reports::contents::Composer;
use gudgeon_reports::deliver::{Delivery, DeliverySummary, Failed};
use gudgeon_reports::enqueue::{WeekRun, WeekSummary, run_week};
use gudgeon_reports::render::Renderer;
use gudgeon_store::Store;
use std::error::Error;
use std::io::{self, IsTerminal, Write};

/// Composes and queues the reports of a week, and says what came of it.
pub(crate) fn run(
    settings: &Settings,
    week: Option<ReportWeek>,
    as_of: Option<NaiveDate>,
) -> Result<(), Box<dyn Error>> {
    let store = settings.open_store(false)?;
    let today = clock::day_of(clock::now());
    let week = week.unwrap_or_else(|| ReportWeek::of(as_of.unwrap_or(today)));
    let as_of = as_of.unwrap_or_else(|| today.max(week.monday()));
    let summary = queue(&store, settings, week, as_of)?;
    print_week(week, as_of, &summary)?;
    if let Some(anchor) = store.last_anchor()? {
        let hash = witness(anchor.hash);
        writeln!(io::stdout(), "  The last anchor is {} of {}: {hash}.", anchor.seq, anchor.week)?;
    }
    Ok(())
}

/// Composes and queues the reports of a week, once all engines are counted by the programmes that are active.
pub(crate) fn queue(
    store: &Store,
    settings: &Settings,
    week: ReportWeek,
    as_of: NaiveDate,
) -> Result<WeekSummary, Box<dyn Error>> {
    let programmes = Cache::default();
    recount_all(store, &programmes, |done| {
        // Nothing depends on the progress being seen.
        let _ = show_recounted(done);
    })?;
    let renderer = Renderer::with_folder(settings.mail_templates().as_deref())?;
    let summary = run_week(&WeekRun {
        composer: Composer { store, programmes: &programmes, renderer: &renderer },
        sender: &mailing::sender(settings)?,
        links: settings.links()?.as_ref(),
        week,
        as_of,
        composed_at: clock::now(),
    })?;
    Ok(summary)
}

/// One line that is written over again, on a terminal only.
fn show_recounted(done: usize) -> io::Result<()> {
    let mut err = io::stderr();
    if err.is_terminal() {
        write!(err, "engines counted anew by a changed programme: {done}\r")?;
    }
    Ok(())
}

pub(crate) fn print_week(week: ReportWeek, as_of: NaiveDate, it: &WeekSummary) -> io::Result<()> {
    let mut out = io::stdout();
    writeln!(out, "Week {week}, as of {as_of}: {} owners.", it.owners)?;
    writeln!(
        out,
        "  {} reports queued, {} had theirs already, {} owners with nothing to be told.",
        it.queued, it.already, it.quiet
    )?;
    if it.erased > 0 {
        writeln!(out, "  {} owners were erased and are told nothing.", it.erased)?;
    }
    for unreachable in &it.unreachable {
        writeln!(out, "  Owner {} cannot be reached: {}.", unreachable.owner, unreachable.why)?;
    }
    Ok(())
}

/// Hands over what is queued, and says what came of it. Mails that are on hold stay unless they
/// are to be released.
pub(crate) fn deliver(settings: &Settings, release: bool) -> Result<(), Box<dyn Error>> {
    let store = settings.open_store(false)?;
    let mut out = io::stdout();
    if release {
        store.release_mails()?;
    }
    if let Some(hold) = store.mail_hold()? {
        let queued = store.reports_queued()?;
        let since = clock::day_of(hold.since);
        writeln!(out, "{queued} mails are on hold since {since}: {}.", hold.reason)?;
        writeln!(out, "`gudgeon deliver --release` lets them go.")?;
        return Ok(());
    }
    let summary = write_mails(&store, settings)?;
    let (count, destination) = (summary.accepted.len(), mailing::destination(settings));
    writeln!(out, "{count} mails written to {destination}.")?;
    for Failed { recipient, week, why } in summary.failed.iter().chain(&summary.unknown) {
        writeln!(out, "  Owner {recipient}, {week}: {why}.")?;
    }
    Ok(())
}

/// Hands over what is queued, to the mail folder or to a mail server.
pub(crate) fn write_mails(
    store: &Store,
    settings: &Settings,
) -> Result<DeliverySummary, Box<dyn Error>> {
    let (sender, by) = (mailing::enclosing_sender(settings, store)?, process());
    let carrier = mailing::carrier(settings, &sender)?;
    let run =
        || Delivery { store, sender: &sender, by: &by, clock: &clock::now }.run(carrier.as_ref());
    std::thread::scope(|scope| {
        let beside: Vec<_> =
            (1..mailing::connections(settings)).map(|_| scope.spawn(run)).collect();
        let mut summary = run()?;
        for thread in beside {
            let done = thread.join().ok().ok_or("a thread that hands mails over has panicked")?;
            summary = summary.and(done?);
        }
        Ok(summary)
    })
}

/// This process in words, for whoever wonders which of several holds a mail.
fn process() -> String {
    // Where the system does not say its name this way, the number alone has to do.
    let host = std::fs::read_to_string("/proc/sys/kernel/hostname").unwrap_or_default();
    format!("process {} on {}", std::process::id(), host.trim())
}
