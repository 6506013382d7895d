//! `gudgeon deliver` and `gudgeon resend`: what is due leaves.

use crate::settings::Settings;
use crate::stop::Stop;
use crate::{clock, mailing, watch, week};
use gudgeon_api::Cache;
use gudgeon_life::ids::{PartyId, Uid};
use gudgeon_life::week::ReportWeek;
use gudgeon_reports::contents::Composer;
use gudgeon_reports::deliver::{Delivery, DeliverySummary, Failed};
use gudgeon_store::Store;
use std::error::Error;
use std::fmt::Write as _;
use std::io::{self, Write as _};
use std::thread;

/// Hands over what is due, and says what came of it. Mails that are on hold stay unless they are to be released.
pub(crate) fn run(settings: &Settings, release: bool, watch: bool) -> Result<(), Box<dyn Error>> {
    let store = settings.open_store(false)?;
    if release {
        store.release_mails(clock::now(), settings.rules().late_max)?;
    }
    let stop = Stop::listen()?;
    if watch {
        return watch::run(&store, settings, &stop);
    }
    if let Some(hold) = store.mail_hold()? {
        let waiting = store.reports_waiting()?;
        let since = clock::day_of(hold.since);
        let mut out = io::stdout();
        writeln!(out, "{waiting} mails are on hold since {since}: {}.", hold.reason)?;
        writeln!(out, "`gudgeon deliver --release` lets them go.")?;
        return Ok(());
    }
    let summary = send_due(&store, settings, &stop)?;
    let told = told(settings, &store, &summary)?;
    io::stdout().write_all(told.as_bytes())?;
    if summary.is_anything() {
        mailing::tell_operator(settings, "what was delivered", &told)?;
    }
    Ok(())
}

/// Hands over what is due, to the mail folder or to a mail server, until it is asked to stop.
pub(crate) fn send_due(
    store: &Store,
    settings: &Settings,
    stop: &Stop,
) -> Result<DeliverySummary, Box<dyn Error>> {
    let (sender, by, programmes) =
        (mailing::enclosing_sender(settings, store)?, process(), Cache::default());
    week::recount(store, &programmes)?;
    let (renderer, links) = (mailing::renderer(settings)?, settings.links()?);
    let carrier = mailing::carrier(settings, &sender)?;
    let composer =
        Composer { store, programmes: &programmes, renderer: &renderer, links: links.as_ref() };
    let rules = settings.rules();
    let run = || {
        let (sender, by, clock) = (&sender, by.as_str(), &clock::now);
        let stops = &|| stop.is_asked();
        Delivery { composer, sender, rules, by, clock, stops }.run(carrier.as_ref())
    };
    thread::scope(|scope| {
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

/// What a run did, in words.
pub(crate) fn told(
    settings: &Settings,
    store: &Store,
    it: &DeliverySummary,
) -> Result<String, Box<dyn Error>> {
    let (count, destination) = (it.accepted.len(), mailing::destination(settings));
    let mut told = format!("{count} mails written to {destination}.\n");
    let counts = [
        (it.skipped, "reports are not sent: nothing to say, switched off, or too late"),
        (it.suppressed, "reports are not sent: mails to their addresses came back"),
        (it.deferred, "mails were not accepted for now and are tried again"),
        (it.paced, "mails wait for their turn: `--watch`, or another run, sends them"),
        (it.failed.len(), "reports cannot be delivered"),
        (it.newly_unknown, "mails broke off, and may have arrived"),
    ];
    for (count, words) in counts.into_iter().filter(|(count, _)| *count > 0) {
        writeln!(told, "  {count} {words}.")?;
    }
    if let Some(next) = store.next_report_at()? {
        writeln!(told, "  The next is due at {}.", week::local(settings, next)?)?;
    }
    for Failed { recipient, week, why } in it.failed.iter().chain(&it.unknown) {
        writeln!(told, "  Recipient {recipient}, {week}: {why}.")?;
    }
    Ok(told)
}

/// Lets mails leave again of which nobody can tell whether they were accepted, because a person says so.
pub(crate) fn resend(
    settings: &Settings,
    week: Option<ReportWeek>,
    recipient: Option<&str>,
) -> Result<(), Box<dyn Error>> {
    let recipient = recipient
        .map(|id| Uid::parse(id).map(PartyId).ok_or_else(|| format!("`{id}` is not a UUID")))
        .transpose()?;
    let store = settings.open_store(false)?;
    let count = store.resend_unknown(week, recipient, clock::now())?;
    writeln!(
        io::stdout(),
        "{count} mails leave again with the next `gudgeon deliver`, under the same Message-ID."
    )?;
    Ok(())
}

/// This process in words, for whoever wonders which of several holds a mail.
fn process() -> String {
    // Where the system does not say its name this way, the number alone has to do.
    let host = std::fs::read_to_string("/proc/sys/kernel/hostname").unwrap_or_default();
    format!("process {} on {}", std::process::id(), host.trim())
}
