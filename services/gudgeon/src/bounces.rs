//! `gudgeon bounces`: reads mails that came back, from a Maildir or piped in by a mail server, counts them, and
//! tells which addresses are written to no more.

use crate::clock;
use crate::mailing;
use crate::settings::Settings;
use gudgeon_reports::bounce::{Incoming, read};
use gudgeon_reports::sender::Sender;
use gudgeon_store::{ReturnNoted, Returned, Store};
use std::error::Error;
use std::fs;
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

/// The largest mail that is read, in bytes: a notification quotes ours, which are smaller.
const MAIL_BYTES_MAX: u64 = 10 * 1024 * 1024;
/// Addresses told of at a time.
const CHUNK: i64 = 500;
/// What a Maildir's file name ends with once somebody has seen it.
const SEEN: &str = ":2,S";

/// What came of the mails that were read.
#[derive(Default)]
struct Tally {
    read: u64,
    permanent: u64,
    transient: u64,
    known: u64,
    nothing: u64,
}

/// Reads the mails that came back: those of a Maildir, or the one on standard input.
pub(crate) fn run(settings: &Settings, folder: Option<&Path>) -> Result<(), Box<dyn Error>> {
    let store = settings.open_store(false)?;
    let sender = mailing::sender(settings)?;
    let mut tally = Tally::default();
    match folder {
        Some(folder) => {
            for (path, seen) in arrived(folder)? {
                take(&store, &sender, &mut fs::File::open(&path)?, &mut tally)?;
                // Only what is counted leaves the new ones: whoever is stopped before counts it again, once.
                fs::rename(&path, &seen)?;
            }
        }
        None => take(&store, &sender, &mut io::stdin().lock(), &mut tally)?,
    }
    tell(&store, &tally)
}

/// Writes to an address again from which mails came back.
pub(crate) fn lift(settings: &Settings, address: &str) -> Result<(), Box<dyn Error>> {
    let forgotten = settings.open_store(false)?.lift_suppression(address)?;
    let mut out = io::stdout();
    match forgotten {
        0 => writeln!(out, "Nothing ever came back from {address}.")?,
        _ => writeln!(
            out,
            "{address} is written to again; {forgotten} returned mails are forgotten."
        )?,
    }
    Ok(())
}

/// The mails in `new/` of a Maildir, oldest name first, with the names in `cur/` that they get.
fn arrived(folder: &Path) -> Result<Vec<(PathBuf, PathBuf)>, Box<dyn Error>> {
    let new = folder.join("new");
    let entries = fs::read_dir(&new)
        .map_err(|error| format!("`{}` is no folder of a Maildir: {error}", new.display()))?;
    let mut mails = Vec::new();
    for entry in entries {
        let name = entry?.file_name();
        let mut seen = name.clone();
        seen.push(SEEN);
        mails.push((new.join(name), folder.join("cur").join(seen)));
    }
    fs::create_dir_all(folder.join("cur"))?;
    mails.sort();
    Ok(mails)
}

fn take(
    store: &Store,
    sender: &Sender,
    from: &mut dyn Read,
    tally: &mut Tally,
) -> Result<(), Box<dyn Error>> {
    let mut mail = Vec::new();
    from.take(MAIL_BYTES_MAX).read_to_end(&mut mail)?;
    tally.read += 1;
    let Incoming::Failed { tag, permanent, status } = read(&mail, sender.returns()) else {
        tally.nothing += 1;
        return Ok(());
    };
    let returned = Returned { tag: &tag, permanent, status: &status };
    *match store.note_return(&returned, clock::now())? {
        ReturnNoted::Counted if permanent => &mut tally.permanent,
        ReturnNoted::Counted => &mut tally.transient,
        ReturnNoted::Known => &mut tally.known,
        ReturnNoted::NotOurs | ReturnNoted::Erased => &mut tally.nothing,
    } += 1;
    Ok(())
}

fn tell(store: &Store, tally: &Tally) -> Result<(), Box<dyn Error>> {
    let Tally { read, permanent, transient, known, nothing } = tally;
    let mut out = io::stdout();
    writeln!(
        out,
        "{read} mails read: {permanent} say that one failed for good, {transient} that one failed for now, {known} were known, {nothing} say nothing of a mail of ours."
    )?;
    let mut after = None;
    loop {
        let rows = store.suppressed(after, CHUNK)?;
        let Some(last) = rows.last() else { return Ok(()) };
        after = Some(last.address);
        for row in rows {
            let since = clock::day_of(row.since);
            writeln!(
                out,
                "  {} is written to no more at this address since {since} ({}).",
                row.recipient, row.status
            )?;
        }
    }
}
