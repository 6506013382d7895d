//! The `gudgeon` command: reads arguments and settings, owns the clock, and wires the other crates together.

mod bounces;
mod calc;
mod check;
mod clock;
mod deliver;
mod demo;
mod keys;
mod mailing;
mod owner_export;
mod preview;
mod records;
mod serve;
mod settings;
mod stop;
mod watch;
mod week;

use clap::{Parser, Subcommand};
use gudgeon_life::week::ReportWeek;
use settings::Settings;
use std::error::Error;
use std::io::{self, IsTerminal, Write};
use std::path::PathBuf;
use std::process::ExitCode;

/// Something went wrong that the caller could not have known.
const FAILED: u8 = 1;
/// The command line or the settings are not right.
const USAGE: u8 = 2;
/// What tells a mail server to pipe the mail in again later: `EX_TEMPFAIL` of `sysexits.h`.
const TRY_AGAIN: u8 = 75;
/// Some of the input was refused.
const REFUSED: u8 = 3;

/// Keeps the history of small aircraft engines, works out what is due and when, and tells their owners.
#[derive(Parser)]
#[command(version, after_help = "To see it all at work, in an empty folder: gudgeon demo")]
struct Arguments {
    /// The folder that holds gudgeon.toml.
    #[arg(long, global = true, value_name = "DIR")]
    dir: Option<PathBuf>,
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// Make a folder with an invented fleet, post its inspections, run its week, serve its pages.
    Demo {
        /// End after the mails, without serving the pages.
        #[arg(long)]
        no_serve: bool,
    },
    /// Run the service: the JSON API and the inspector's pages.
    Serve,
    /// Plan the reports of a week, each for the hour that its recipient asked for. Safe to repeat, and to run
    /// several times at once.
    Week {
        /// An ISO week, such as 2026-W48; this week if left out.
        #[arg(value_parser = ReportWeek::parse)]
        week: Option<ReportWeek>,
        /// The day to work it out for; each recipient's own day when it leaves if left out.
        #[arg(long, value_name = "YYYY-MM-DD")]
        as_of: Option<chrono::NaiveDate>,
        /// Let them leave with the next delivery, whatever hour was asked for.
        #[arg(long)]
        now: bool,
    },
    /// Compose the reports that are due and hand them over, to the mail folder or to a mail server. Safe to repeat, and to run several times at once.
    Deliver {
        /// Let mails leave again that are on hold: after a restore, or because they would surprise.
        #[arg(long)]
        release: bool,
        /// Go on until stopped: plan each week in good time, and hand every mail over at its hour.
        #[arg(long)]
        watch: bool,
    },
    /// Let mails leave again of which nobody can tell whether they arrived. One may then arrive twice.
    Resend {
        /// Say that this is what is meant.
        #[arg(long, required = true)]
        unknown: bool,
        /// Only those of an ISO week, such as 2026-W48.
        #[arg(long, value_parser = ReportWeek::parse)]
        week: Option<ReportWeek>,
        /// Only that of a recipient, by the id.
        #[arg(long, value_name = "ID")]
        recipient: Option<String>,
    },
    /// Write what somebody's report would say to a folder, and change nothing else.
    Preview {
        /// The recipient's id, a UUID.
        recipient: String,
        /// An ISO week, such as 2026-W48; that of the day if left out.
        #[arg(long, value_parser = ReportWeek::parse)]
        week: Option<ReportWeek>,
        /// The day to work it out for; today if left out.
        #[arg(long, value_name = "YYYY-MM-DD")]
        as_of: Option<chrono::NaiveDate>,
        /// The folder to write to.
        #[arg(long, value_name = "DIR", default_value = "preview")]
        folder: PathBuf,
    },
    /// Count mails that came back: those of a Maildir, or the one on standard input.
    Bounces {
        /// The Maildir. What was counted moves from `new` to `cur`.
        #[arg(long, value_name = "DIR")]
        folder: Option<PathBuf>,
        /// Instead, forget what came back from an address, and write to it again.
        #[arg(long, value_name = "ADDRESS", conflicts_with = "folder")]
        lift: Option<String>,
    },
    /// Send a mail that says TEST, the way that reports leave.
    SendTest {
        /// Whom to.
        address: String,
    },
    /// Check engine-type files.
    Check {
        /// The files.
        #[arg(required = true)]
        files: Vec<PathBuf>,
    },
    /// Do one sum: JSON objects in, one JSON result a line out.
    Calc {
        /// Which: due, date-code, hours, torque, compression, bore, calendar, week or copper.
        name: String,
    },
    /// Make a key and print it once.
    Key {
        /// What the key may do.
        role: keys::KeyRole,
        /// What to remember it by.
        #[arg(long)]
        label: String,
    },
    /// Write all that is on record about an owner to standard output, as JSON.
    OwnerExport {
        /// The owner's id, a UUID.
        id: String,
    },
    /// Bring the database up to this version.
    Migrate,
    /// Check that no record was changed or taken out: every chain and every anchor.
    #[command(after_help = records::LIMITS)]
    Verify {
        /// Check a backup alone, with no database.
        #[arg(long, value_name = "FILE")]
        export: Option<PathBuf>,
    },
    /// Write everything on record to a new file, while the service runs.
    Backup {
        /// The file to make.
        file: PathBuf,
    },
    /// Restore a backup into a new database of either kind.
    Restore {
        /// The file to read.
        file: PathBuf,
    },
}

fn main() -> ExitCode {
    let arguments = Arguments::parse();
    start_log(&arguments.command);
    let piped_in = matches!(arguments.command, Command::Bounces { folder: None, lift: None });
    match run(arguments) {
        Ok(code) => code,
        Err(error) if is_closed_pipe(error.as_ref()) => ExitCode::SUCCESS,
        Err(error) => {
            let _ = writeln!(io::stderr(), "gudgeon: {error}");
            if piped_in {
                return ExitCode::from(TRY_AGAIN);
            }
            let usage = error.is::<settings::SettingsError>();
            ExitCode::from(if usage { USAGE } else { FAILED })
        }
    }
}

fn run(arguments: Arguments) -> Result<ExitCode, Box<dyn Error>> {
    let dir = arguments.dir;
    let settings = || Settings::read(dir.as_deref().unwrap_or_else(|| ".".as_ref()));
    match arguments.command {
        Command::Demo { no_serve } => {
            demo::run(&dir.unwrap_or_else(|| PathBuf::from("gudgeon-demo")), !no_serve)?;
        }
        Command::Serve => serve::run(&settings()?)?,
        Command::Week { week, as_of, now } => week::run(&settings()?, week, as_of, now)?,
        Command::Deliver { release, watch } => deliver::run(&settings()?, release, watch)?,
        Command::Resend { unknown: _, week, recipient } => {
            deliver::resend(&settings()?, week, recipient.as_deref())?;
        }
        Command::Preview { recipient, week, as_of, folder } => {
            preview::run(&settings()?, &recipient, week, as_of, &folder)?;
        }
        Command::Bounces { folder, lift } => match lift {
            Some(address) => bounces::lift(&settings()?, &address)?,
            None => bounces::run(&settings()?, folder.as_deref())?,
        },
        Command::SendTest { address } => {
            return Ok(told(mailing::send_test(&settings()?, &address)?));
        }
        Command::Check { files } => {
            return Ok(told(check::run(&files, &mut io::stdout())?));
        }
        Command::Calc { name } => {
            let outcome = calc::run(&name, io::stdin().lock(), io::stdout().lock())?;
            if outcome == calc::Outcome::UnknownName {
                let names: Vec<&str> = calc::names().collect();
                writeln!(
                    io::stderr(),
                    "gudgeon: there is no sum `{name}`; the sums are {}",
                    names.join(", ")
                )?;
            }
            return Ok(ExitCode::from(outcome.exit_code()));
        }
        Command::Key { role, label } => keys::run(&settings()?, role, &label)?,
        Command::OwnerExport { id } => owner_export::run(&settings()?, &id)?,
        Command::Migrate => serve::migrate(&settings()?)?,
        Command::Verify { export } => {
            return Ok(told(records::verify(settings, export.as_deref())?));
        }
        Command::Backup { file } => return Ok(told(records::backup(&settings()?, &file)?)),
        Command::Restore { file } => return Ok(told(records::restore(&settings()?, &file)?)),
    }
    Ok(ExitCode::SUCCESS)
}

/// The end of a command that says itself what is wrong.
fn told(all_right: bool) -> ExitCode {
    if all_right { ExitCode::SUCCESS } else { ExitCode::from(REFUSED) }
}

/// Whoever stops reading our output early, `head` say, has what they wanted.
fn is_closed_pipe(error: &(dyn Error + 'static)) -> bool {
    error.downcast_ref::<io::Error>().is_some_and(|it| it.kind() == io::ErrorKind::BrokenPipe)
}

/// Log lines go to standard error: results belong to standard output alone. The demonstration sends itself
/// thousands of requests and would bury its own words under them.
fn start_log(command: &Command) {
    let level = match command {
        Command::Demo { .. } => tracing::Level::WARN,
        _ => tracing::Level::INFO,
    };
    tracing_subscriber::fmt()
        .with_writer(io::stderr)
        .with_ansi(io::stderr().is_terminal())
        .with_max_level(level)
        .init();
}

#[cfg(test)]
mod tests {
    use super::*;

    // What they start is a command of this program, in the folder that the README names.
    #[test]
    fn the_units_for_systemd_start_commands_that_there_are() {
        let units = [
            include_str!("../../../config/systemd/gudgeon.service"),
            include_str!("../../../config/systemd/gudgeon-deliver.service"),
        ];
        let mut started = Vec::new();
        for line in units.iter().flat_map(|unit| unit.lines()) {
            let Some((_, command)) = line.split_once('=').filter(|_| line.starts_with("Exec"))
            else {
                continue;
            };
            let parsed = Arguments::try_parse_from(command.split(' ')).unwrap();
            assert_eq!(parsed.dir.as_deref(), Some("/var/lib/gudgeon".as_ref()), "{line}");
            started.push(match parsed.command {
                Command::Migrate => "migrate",
                Command::Serve => "serve",
                Command::Deliver { release: false, watch: true } => "deliver --watch",
                _ => line,
            });
        }
        assert_eq!(started, ["migrate", "serve", "deliver --watch"]);
    }
}
