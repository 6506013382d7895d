//! Delivering what is queued, by any number of processes at once, each mail once.
//!
//! A mail is claimed for a while, made, marked as being handed over, handed over, and marked again by how
//! that ended: no transaction is open meanwhile. A process that is killed before it began to hand a mail over
//! leaves it to others when its lease ends. One that is killed later leaves a mail of which nobody can tell
//! whether it arrived; that is told, and left to a person.

use crate::hand_over::{Carrier, Folder, HandedOver};
use crate::message::{Enclosed, message};
use crate::sender::Sender;
use gudgeon_life::ids::PartyId;
use gudgeon_store::{Claim, Claimant, Ending, Instant, ReportRow, ReportState, Store, StoreError};
use std::fmt;
use std::path::{Path, PathBuf};

/// Mails claimed at a time: what is handed over well within one lease.
const CHUNK: i64 = 20;
/// Rows read at a time for a list.
const LIST_CHUNK: i64 = 500;
/// How long a claim lasts, in microseconds: longer than any hand-over takes, and than clocks differ.
pub const LEASE_MICROS: i64 = 5 * 60 * 1_000_000;

/// What one delivery run did.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct DeliverySummary {
    /// The receipts of what was accepted, in the order of the queue.
    pub accepted: Vec<String>,
    /// Reports that cannot be delivered; they stay queued.
    pub failed: Vec<Failed>,
    /// All reports, of this run or an earlier one, of which nobody can tell whether they were accepted. None
    /// is ever sent again by itself.
    pub unknown: Vec<Failed>,
}

impl DeliverySummary {
    /// What this run and one beside it did.
    #[must_use]
    pub fn and(mut self, other: Self) -> Self {
        self.accepted.extend(other.accepted);
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

impl Failed {
    fn of(report: &ReportRow, why: impl Into<String>) -> Self {
        Self { recipient: report.recipient, week: report.week.clone(), why: why.into() }
    }
}

/// Why a delivery run could not go on. What was delivered before stays delivered.
#[derive(Debug)]
pub enum DeliveryError {
    /// The database.
    Store(StoreError),
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
            Self::Store(error) => error.fmt(f),
            Self::Folder { path, error } => {
                write!(f, "`{}` cannot be made: {error}", path.display())
            }
            Self::Carrier(why) => f.write_str(why),
        }
    }
}

impl std::error::Error for DeliveryError {}

impl From<StoreError> for DeliveryError {
    fn from(error: StoreError) -> Self {
        Self::Store(error)
    }
}

/// One process that delivers.
pub struct Delivery<'a> {
    /// Where the reports are.
    pub store: &'a Store,
    /// Who the mails come from.
    pub sender: &'a Sender,
    /// This process, in words for whoever looks for it.
    pub by: &'a str,
    /// The clock.
    pub clock: &'a dyn Fn() -> Instant,
}

/// How one claimed mail went.
enum Step {
    Accepted(String),
    Failed(String),
    /// It is another process's by now, or nobody can tell how it went.
    Unsettled,
}

impl Delivery<'_> {
    /// Writes every queued report into a folder. Safe to repeat, and to run several times at once.
    ///
    /// # Errors
    /// [`DeliveryError`] when the database or the folder fails.
    pub fn to_folder(&self, folder: &Path) -> Result<DeliverySummary, DeliveryError> {
        let folder = Folder::open(folder)
            .map_err(|error| DeliveryError::Folder { path: folder.to_owned(), error })?;
        self.run(&folder)
    }

    /// Hands every queued report over to a carrier. Safe to repeat, and to run several times at once.
    ///
    /// # Errors
    /// [`DeliveryError`] when the database fails, or the carrier does not take a mail.
    pub fn run(&self, carrier: &dyn Carrier) -> Result<DeliverySummary, DeliveryError> {
        let mut summary = DeliverySummary::default();
        let mut after = 0;
        loop {
            let (at, lease_until) = self.lease();
            let claimant = Claimant { by: self.by, at, lease_until };
            let claimed = self.store.claim_reports(after, CHUNK, &claimant)?;
            let Some((_, last)) = claimed.last() else { break };
            after = last.key;
            let mut claimed = claimed.into_iter();
            while let Some((claim, report)) = claimed.next() {
                match self.deliver_one(claim, &report, carrier) {
                    Ok(Step::Accepted(receipt)) => summary.accepted.push(receipt),
                    Ok(Step::Failed(why)) => summary.failed.push(Failed::of(&report, why)),
                    Ok(Step::Unsettled) => {}
                    Err(error) => {
                        self.give_back(claimed.map(|(claim, _)| claim));
                        return Err(error);
                    }
                }
            }
        }
        summary.unknown = self.unknown()?;
        Ok(summary)
    }

    fn deliver_one(
        &self,
        claim: Claim,
        report: &ReportRow,
        carrier: &dyn Carrier,
    ) -> Result<Step, DeliveryError> {
        let message = match message(report, self.sender, &Enclosed::default()) {
            Ok(message) => message,
            Err(why) => {
                tracing::warn!(recipient = %report.recipient, week = report.week, why, "a report cannot be delivered");
                self.store.end_delivery(claim, Ending::NotAccepted, (self.clock)())?;
                return Ok(Step::Failed(why));
            }
        };
        let (at, lease_until) = self.lease();
        if !self.store.begin_transmitting(claim, at, lease_until)? {
            return Ok(Step::Unsettled);
        }
        let handed_over = carrier.hand_over(report, &message);
        let ending = match handed_over {
            HandedOver::Accepted(_) => Ending::Accepted,
            HandedOver::Deferred(_) | HandedOver::Refused(_) => Ending::NotAccepted,
            HandedOver::Unknown(_) => Ending::Unknown,
        };
        self.store.end_delivery(claim, ending, (self.clock)())?;
        match handed_over {
            HandedOver::Accepted(receipt) => Ok(Step::Accepted(receipt)),
            HandedOver::Deferred(reply) | HandedOver::Refused(reply) => {
                Err(DeliveryError::Carrier(reply.to_string()))
            }
            HandedOver::Unknown(why) => {
                tracing::warn!(recipient = %report.recipient, week = report.week, why, "nobody can tell whether a report was accepted");
                Ok(Step::Unsettled)
            }
        }
    }

    /// Now, and when what is claimed now may be taken over.
    fn lease(&self) -> (Instant, Instant) {
        let at = (self.clock)();
        (at, Instant(at.0 + LEASE_MICROS))
    }

    /// Gives back what was claimed and not begun, so that nobody has to wait for the lease to end.
    fn give_back(&self, claims: impl Iterator<Item = Claim>) {
        for claim in claims {
            // Where that fails too, the lease does it.
            let _ = self.store.end_delivery(claim, Ending::NotAccepted, (self.clock)());
        }
    }

    /// All of which nobody can tell whether they were accepted.
    fn unknown(&self) -> Result<Vec<Failed>, DeliveryError> {
        let given_up = self.store.give_up_lost_reports((self.clock)())?;
        if given_up > 0 {
            tracing::warn!(given_up, "mails broke off while they were handed over");
        }
        let mut unknown = Vec::new();
        let mut after = 0;
        loop {
            let rows = self.store.reports_in(ReportState::Unknown, after, LIST_CHUNK)?;
            let Some(last) = rows.last() else { return Ok(unknown) };
            after = last.key;
            let why = "it broke off while it was handed over, and may have arrived; it is not sent again by itself";
            unknown.extend(rows.iter().map(|report| Failed::of(report, why)));
        }
    }
}

#[cfg(test)]
#[path = "deliver_run_tests.rs"]
mod run_tests;
