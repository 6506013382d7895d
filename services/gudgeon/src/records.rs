//! `gudgeon verify`, `gudgeon backup` and `gudgeon restore`: that nothing on record is lost or changed.

use crate::clock;
use crate::settings::Settings;
use gudgeon_api::Cache;
use gudgeon_life::version::witness;
use gudgeon_life::words::counted;
use gudgeon_store::{Fault, StoreError, Verified, Written, verify_export};
use std::error::Error;
use std::fs::{self, File, OpenOptions};
use std::io::{self, BufReader, BufWriter, IsTerminal, Write};
use std::path::{Path, PathBuf};

/// The bytes that go to a file, or come from one, at a time.
const BUFFER_BYTES: usize = 256 * 1024;
/// The facts between two signs of progress.
const PROGRESS_FACTS: u64 = 1000;

/// What no chain can show, told with every result and in the help.
pub(crate) const LIMITS: &str = "A chain shows that nothing on record was changed or taken out afterwards. It cannot show that a record was true, that one was never posted, or, by itself, that whoever holds the database wrote everything anew: compare the anchor with the one printed in a mail of that week.";

/// Checks every chain and anchor, of the database or of a backup alone; false when something is wrong.
pub(crate) fn verify(
    settings: impl FnOnce() -> Result<Settings, crate::settings::SettingsError>,
    export: Option<&Path>,
) -> Result<bool, Box<dyn Error>> {
    let mut progress = Progress::new("facts checked");
    let found = match export {
        Some(path) => verify_export(&mut reader(path)?, &mut |done| progress.show(done))
            .map_err(|error| at(path, error))?,
        None => settings()?.open_store(false)?.verify(&mut |done| progress.show(done))?,
    };
    progress.end();
    match found {
        Ok(found) => {
            print_found(&found)?;
            Ok(true)
        }
        Err(fault) => {
            print_fault(&fault)?;
            Ok(false)
        }
    }
}

fn print_found(found: &Verified) -> io::Result<()> {
    let mut out = io::stdout();
    writeln!(out, "{} facts in {} streams: every link holds.", found.facts, found.streams)?;
    if found.photos > 0 {
        let photos = counted(i64::try_from(found.photos).unwrap_or(i64::MAX), "photograph");
        writeln!(out, "{photos} checked: the bytes of each make its name.")?;
    }
    if found.texts_erased > 0 {
        writeln!(
            out,
            "{} private texts were erased, as erasures on record say; their digests hold.",
            found.texts_erased
        )?;
    }
    match &found.anchor {
        Some(it) => writeln!(
            out,
            "{} checked, and right. The last, anchor {} of {}, is {}.",
            counted(it.seq, "anchor"),
            it.seq,
            it.week,
            witness(it.hash)
        )?,
        None => writeln!(out, "There is no anchor yet: `gudgeon week` makes one.")?,
    }
    writeln!(out, "{LIMITS}")
}

fn print_fault(fault: &Fault) -> io::Result<()> {
    let mut out = io::stdout();
    writeln!(out, "Something is wrong, and this is the first of it:")?;
    writeln!(out, "  {fault}")
}

/// Writes a backup, whole or not at all; false when what is on record is damaged. A file that is there is never
/// written over.
pub(crate) fn backup(settings: &Settings, path: &Path) -> Result<bool, Box<dyn Error>> {
    if path.exists() {
        return Err(format!("`{}` is there already; name a new file", path.display()).into());
    }
    let store = settings.open_store(false)?;
    let partial = partial(path);
    let file = create(&partial)?;
    let mut progress = Progress::new("facts written");
    let written = (|| {
        let mut to = BufWriter::with_capacity(BUFFER_BYTES, &file);
        let done = store.backup(&mut to, clock::now(), &mut |done| progress.show(done))?;
        to.flush()?;
        drop(to);
        file.sync_all()?;
        fs::rename(&partial, path)?;
        sync_folder(path)?;
        Ok(done)
    })();
    let Written { counts, found } = written.map_err(|error| {
        // What is left of it is worth nothing, and the error that is told is the first.
        let _ = fs::remove_file(&partial);
        at(path, error)
    })?;
    progress.end();
    writeln!(
        io::stdout(),
        "{} facts in {} streams, {} anchors, {} mails, {} photographs: written to {}.",
        counts.facts,
        counts.streams,
        counts.anchors,
        counts.reports,
        counts.photos,
        path.display()
    )?;
    if let Err(fault) = &found {
        print_fault(fault)?;
        writeln!(
            io::stdout(),
            "The backup holds what is on record all the same; `restore` refuses it."
        )?;
    }
    Ok(found.is_ok())
}

/// Restores a backup into a new or an empty database; false when the file is damaged, and then nothing is kept.
pub(crate) fn restore(settings: &Settings, path: &Path) -> Result<bool, Box<dyn Error>> {
    let mut from = reader(path)?;
    let store = settings.open_store(true)?;
    store.migrate()?;
    let mut progress = Progress::new("facts restored");
    let restored =
        store.restore(&mut from, &Cache::default(), clock::now(), &mut |done| progress.show(done));
    progress.end();
    let mut out = io::stdout();
    match restored {
        Ok(found) => {
            print_found(&found)?;
            let queued = store.reports_waiting()?;
            writeln!(
                out,
                "Restored. Mails are on hold, with {queued} in the queue: those that left after the backup was made would leave a second time. `gudgeon deliver --release` lets them go."
            )?;
            Ok(true)
        }
        Err(StoreError::Damaged(fault)) => {
            print_fault(&fault)?;
            writeln!(out, "Nothing was restored.")?;
            Ok(false)
        }
        Err(error) => Err(at(path, error).into()),
    }
}

/// An error of a file, with its name.
fn at(path: &Path, error: StoreError) -> String {
    match error {
        StoreError::File(why) => format!("`{}`: {why}", path.display()),
        error => error.to_string(),
    }
}

fn reader(path: &Path) -> Result<BufReader<File>, String> {
    let file = File::open(path).map_err(|error| at(path, error.into()))?;
    Ok(BufReader::with_capacity(BUFFER_BYTES, file))
}

/// The name that a file has until it is whole.
fn partial(path: &Path) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(".partial");
    name.into()
}

/// A new file that its owner alone may read: a backup holds names and addresses.
fn create(path: &Path) -> Result<File, String> {
    let mut options = OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options.open(path).map_err(|error| match error.kind() {
        io::ErrorKind::AlreadyExists => format!(
            "`{}` is there already: another backup is being written, or one was broken off; remove it if none is",
            path.display()
        ),
        _ => at(path, error.into()),
    })
}

/// Makes the new name of a file outlast a power cut.
fn sync_folder(path: &Path) -> io::Result<()> {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    File::open(folder.unwrap_or_else(|| Path::new(".")))?.sync_all()
}

/// One line that is written over again, on a terminal only.
struct Progress {
    what: &'static str,
    shown: u64,
}

impl Progress {
    const fn new(what: &'static str) -> Self {
        Self { what, shown: 0 }
    }

    fn show(&mut self, done: u64) {
        let mut err = io::stderr();
        if done >= self.shown + PROGRESS_FACTS && err.is_terminal() {
            self.shown = done;
            // Nothing depends on the progress being seen.
            let _ = write!(err, "{done} {}\r", self.what);
        }
    }

    fn end(&self) {
        if self.shown > 0 {
            // Nor on its being taken away.
            let _ = writeln!(io::stderr());
        }
    }
}
