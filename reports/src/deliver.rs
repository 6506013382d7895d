//! Delivering what is due, by any number of processes at once, each mail once.
//!
//! A report is claimed for a while and composed; its mail is marked as being handed over, handed over, and
//! marked again by how that ended: no transaction is open meanwhile. A process that is killed before it began
//! to hand a mail over leaves it to others when its lease ends. One that is killed later leaves a mail of which
//! nobody can tell whether it arrived; that is told, and left to a person.

use crate::contents::{ComposeError, Composer};
use crate::hand_over::{Carrier, Folder, HandedOver, Reply};
use crate::message::message;
use crate::retry::{self, Rules};
use crate::sender::{Sender, address};
use gudgeon_life::ids::PartyId;
use gudgeon_store::{
    Answer, Begun, Claim, Claimant, Ending, Instant, NotAccepted, OutboxQuery, OutboxRow, Pace,
    ReportRow, ReportState, StoreError, Unsent,
};
use std::fmt;
use std::path::{Path, PathBuf};

/// Reports claimed at a time: what is composed and handed over well within one lease.
const CHUNK: i64 = 20;
/// Rows read at a time for a list.
const LIST_CHUNK: i64 = 500;
/// How long a claim lasts, in microseconds: longer than any hand-over takes, and than clocks differ.
pub const LEASE_MICROS: i64 = 5 * 60 * 1_000_000;

/// What one delivery run did.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct DeliverySummary {
    /// The receipts of what was accepted, in the order of sending.
    pub accepted: Vec<String>,
    /// Mails that were put off, to be tried again.
    pub deferred: usize,
    /// Mails that wait for their turn, because their domain has had enough for now.
    pub paced: usize,
    /// Reports that are not sent because there is nothing to say, or it is too late.
    pub skipped: usize,
    /// Reports that are not sent because mails to their address came back.
    pub suppressed: usize,
    /// Reports that cannot be delivered and are given up.
    pub failed: Vec<Failed>,
    /// How many of the unknown ones are so since this run.
    pub newly_unknown: usize,
    /// All reports, of this run or an earlier one, of which nobody can tell whether they were accepted. None
    /// is ever sent again by itself.
    pub unknown: Vec<Failed>,
}

impl DeliverySummary {
    /// Whether this run did anything at all.
    #[must_use]
    pub fn is_anything(&self) -> bool {
        let Self { accepted, deferred, paced, skipped, suppressed, .. } = self;
        !accepted.is_empty() || deferred + paced + skipped + suppressed > 0 || self.is_trouble()
    }

    /// Whether a person has to know of it: something failed, or is newly unknown.
    #[must_use]
    pub fn is_trouble(&self) -> bool {
        !self.failed.is_empty() || self.newly_unknown > 0
    }

    /// What this run and one beside it did.
    #[must_use]
    pub fn and(mut self, other: Self) -> Self {
        self.accepted.extend(other.accepted);
        self.deferred += other.deferred;
        self.paced += other.paced;
        self.skipped += other.skipped;
        self.suppressed += other.suppressed;
        self.newly_unknown += other.newly_unknown;
        self.failed.extend(other.failed);
        for unknown in other.unknown {
            if !self.unknown.contains(&unknown) {
                self.unknown.push(unknown);
            }
        }
        self
    }
}

/// A report that was not, or perhaps not, delivered.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Failed {
    /// Whose.
    pub recipient: PartyId,
    /// Of which week.
    pub week: String,
    /// What is wrong; not the address itself.
    pub why: String,
}

/// Why a delivery run could not go on. What was delivered before stays delivered.
#[derive(Debug)]
pub enum DeliveryError {
    /// A mail could not be composed.
    Compose(ComposeError),
    /// The folder cannot be made.
    Folder {
        /// Which.
        path: PathBuf,
        /// What the system said.
        error: std::io::Error,
    },
    /// A mail was not taken, and the next ones would not be either: what the carrier said.
    Carrier(String),
}

impl fmt::Display for DeliveryError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Compose(error) => error.fmt(f),
            Self::Folder { path, error } => {
                write!(f, "`{}` cannot be made: {error}", path.display())
            }
            Self::Carrier(why) => f.write_str(why),
        }
    }
}

impl std::error::Error for DeliveryError {}

impl From<ComposeError> for DeliveryError {
    fn from(error: ComposeError) -> Self {
        Self::Compose(error)
    }
}

impl From<StoreError> for DeliveryError {
    fn from(error: StoreError) -> Self {
        Self::Compose(error.into())
    }
}

/// One process that delivers.
pub struct Delivery<'a> {
    /// What composes the mails, and the database.
    pub composer: Composer<'a>,
    /// Who the mails come from.
    pub sender: &'a Sender,
    /// How late and how fast.
    pub rules: Rules,
    /// This process, in words for whoever looks for it.
    pub by: &'a str,
    /// The clock.
    pub clock: &'a dyn Fn() -> Instant,
    /// Whether it is asked to stop: the mail under way is the last.
    pub stops: &'a dyn Fn() -> bool,
}

impl Delivery<'_> {
    /// Writes every report that is due into a folder. Safe to repeat, and to run several times at once.
    ///
    /// # Errors
    /// [`DeliveryError`] when the database, a template or the folder fails.
    pub fn to_folder(&self, folder: &Path) -> Result<DeliverySummary, DeliveryError> {
        let folder = Folder::open(folder)
            .map_err(|error| DeliveryError::Folder { path: folder.to_owned(), error })?;
        self.run(&folder)
    }

    /// Hands every report that is due over to a carrier. Safe to repeat, and to run several times at once.
    ///
    /// # Errors
    /// [`DeliveryError`] when the database or a template fails, or the carrier takes nothing.
    pub fn run(&self, carrier: &dyn Carrier) -> Result<DeliverySummary, DeliveryError> {
        let mut summary = DeliverySummary::default();
        while !(self.stops)() {
            let (at, lease_until) = self.lease();
            let claimant = Claimant { by: self.by, at, lease_until };
            let claimed = self.composer.store.claim_reports(CHUNK, &claimant)?;
            if claimed.is_empty() {
                break;
            }
            let composed = match self.compose_all(&claimed, &mut summary) {
                Ok(composed) => composed,
                Err(error) => {
                    self.give_back(claimed.into_iter().map(|(claim, _)| claim));
                    return Err(error);
                }
            };
            let mut composed = composed.into_iter();
            let mut delivered = Ok(());
            while delivered.is_ok()
                && !(self.stops)()
                && let Some(ready) = composed.next()
            {
                delivered = self.deliver_one(&ready, carrier, &mut summary);
            }
            self.give_back(composed.map(|ready| ready.claim));
            delivered?;
        }
        self.add_unknown(&mut summary)?;
        Ok(summary)
    }

    fn deliver_one(
        &self,
        ready: &Ready,
        carrier: &dyn Carrier,
        summary: &mut DeliverySummary,
    ) -> Result<(), DeliveryError> {
        let (claim, mail) = (ready.claim, &ready.mail);
        let bytes = match message(mail, self.sender) {
            Ok(bytes) => bytes,
            Err(why) => return self.give_up(claim, &ready.row, &why, summary),
        };
        let domain = address(&mail.to_address).map(|address| address.domain().to_owned());
        let domain = domain.unwrap_or_default();
        let (at, lease_until) = self.lease();
        let pace = Pace { domain: &domain, a_minute: self.rules.domain_a_minute };
        match self.composer.store.begin_transmitting(claim, pace, at, lease_until)? {
            Begun::Yes => {}
            Begun::Waits(_) => {
                summary.paced += 1;
                return Ok(());
            }
            Begun::Lost => return Ok(()),
        }
        match carrier.hand_over(mail, &bytes) {
            HandedOver::Accepted(receipt) => {
                self.end(claim, Ending::Accepted(&receipt))?;
                summary.accepted.push(receipt);
            }
            HandedOver::Deferred(reply) => self.put_off(ready, &domain, &reply, summary)?,
            HandedOver::Refused(reply) => {
                self.end(claim, Ending::Refused(answer(&reply)))?;
                summary.failed.push(failed(&ready.row, refused(&reply)));
            }
            HandedOver::Unknown(why) => {
                self.end(claim, Ending::Unknown(&why))?;
                summary.newly_unknown += 1;
                tracing::warn!(recipient = %mail.recipient, week = mail.week, "nobody can tell whether a report was accepted");
            }
        }
        Ok(())
    }

    /// Puts a mail off that was not accepted for now, or gives it up when that lasts too long.
    fn put_off(
        &self,
        ready: &Ready,
        domain: &str,
        reply: &Reply,
        summary: &mut DeliverySummary,
    ) -> Result<(), DeliveryError> {
        let row = &ready.row;
        let now = (self.clock)();
        if reply.slows_domain() {
            self.composer.store.slow_domain(domain, retry::slowed_until(now))?;
        }
        let attempts = u32::try_from(row.attempts).unwrap_or(0) + 1;
        // Where nobody answered, the mail is not to blame, and the next ones would fare the same.
        let unanswered = reply.code.is_none();
        let next = retry::next_try(row.send_at, now, attempts, row.key);
        if let Some(next) = next.map(|next| if unanswered { now } else { next }) {
            self.end(ready.claim, Ending::Deferred(answer(reply), next))?;
            summary.deferred += 1;
        } else {
            self.end(ready.claim, Ending::GivenUp(answer(reply)))?;
            summary.failed.push(failed(row, "it was not accepted for two days".to_owned()));
        }
        if unanswered { Err(DeliveryError::Carrier(reply.to_string())) } else { Ok(()) }
    }

    /// Gives up a report that cannot be sent.
    pub(crate) fn give_up(
        &self,
        claim: Claim,
        row: &OutboxRow,
        why: &str,
        summary: &mut DeliverySummary,
    ) -> Result<(), DeliveryError> {
        tracing::warn!(recipient = %row.recipient, week = %row.week, why, "a report cannot be delivered");
        self.leave(claim, Unsent::Failed(why))?;
        summary.failed.push(failed(row, why.to_owned()));
        Ok(())
    }

    /// Ends a claim whose report does not leave.
    pub(crate) fn leave(&self, claim: Claim, unsent: Unsent<'_>) -> Result<(), StoreError> {
        self.composer.store.end_unsent(claim, unsent, (self.clock)())?;
        Ok(())
    }

    fn end(&self, claim: Claim, ending: Ending<'_>) -> Result<(), StoreError> {
        self.composer.store.end_delivery(claim, ending, (self.clock)())?;
        Ok(())
    }

    /// Now, and when what is claimed now may be taken over.
    fn lease(&self) -> (Instant, Instant) {
        let at = (self.clock)();
        (at, Instant(at.0 + LEASE_MICROS))
    }

    /// Gives back what was claimed and not begun, so that nobody has to wait for the lease to end.
    fn give_back(&self, claims: impl Iterator<Item = Claim>) {
        let now = (self.clock)();
        for claim in claims {
            // Where that fails too, the lease does it.
            let _ = self.leave(claim, Unsent::Until(now));
        }
    }

    /// Adds all of which nobody can tell whether they were accepted.
    fn add_unknown(&self, summary: &mut DeliverySummary) -> Result<(), DeliveryError> {
        let store = self.composer.store;
        let given_up = store.give_up_lost_reports((self.clock)())?;
        if given_up > 0 {
            tracing::warn!(given_up, "mails broke off while they were handed over");
            summary.newly_unknown += given_up;
        }
        let state = Some(ReportState::Unknown);
        let mut query = OutboxQuery { week: None, state, after_key: 0, limit: LIST_CHUNK };
        loop {
            let rows = store.not_accepted(&query)?;
            let Some(last) = rows.last() else { return Ok(()) };
            query.after_key = last.key;
            summary.unknown.extend(rows.iter().map(perhaps));
        }
    }
}

/// A report with its mail, in hand and ready to leave.
pub(crate) struct Ready {
    pub(crate) claim: Claim,
    pub(crate) row: OutboxRow,
    pub(crate) mail: ReportRow,
}

fn failed(row: &OutboxRow, why: String) -> Failed {
    Failed { recipient: row.recipient, week: row.week.to_string(), why }
}

fn perhaps(row: &NotAccepted) -> Failed {
    let why = "it broke off while it was handed over, and may have arrived; it is not sent again by itself";
    Failed { recipient: row.recipient, week: row.week.to_string(), why: why.to_owned() }
}

fn answer(reply: &Reply) -> Answer<'_> {
    Answer { code: reply.code, enhanced: reply.enhanced.as_deref(), words: &reply.words }
}

/// A refusal by its codes alone: the words may name the address.
fn refused(reply: &Reply) -> String {
    let enhanced = reply.enhanced.as_ref().map(|it| format!(" {it}")).unwrap_or_default();
    match reply.code {
        Some(code) => format!("it was refused with {code}{enhanced}"),
        None => "it was refused".to_owned(),
    }
}

#[cfg(test)]
#[path = "deliver_run_tests.rs"]
mod run_tests;
