//! Facts, their chains and what is worked out from them, in a database. The only crate that knows SQL.
//!
//! Facts are appended and never changed; every other table is a projection that follows from them. All
//! calls block; an asynchronous caller runs them on its blocking threads.

mod anchors;
mod append;
mod attempts;
mod batch;
mod bytes;
mod calendars;
mod chain;
mod codec;
mod conn;
mod connect;
mod custody;
mod days;
mod deliveries;
mod dialect;
mod due_tally;
mod engine_types;
mod engines;
mod erasure;
mod error;
mod facts;
mod foresight;
mod graph;
mod group;
mod hold;
mod keys;
mod lines;
mod links;
mod locks;
mod merkle;
mod migrations;
mod of_type;
mod outbox;
mod overview;
mod ownership;
mod pace;
mod packed;
mod parties;
mod parts;
mod photos;
mod plans;
mod pool;
mod preferences;
mod priors;
mod recompute;
mod records;
mod remembered;
mod reports;
mod retry;
mod schema;
mod serials;
mod server;
mod streams;
mod suppressions;
mod transfer;
mod url;
mod values;
mod wear;
mod week_runs;

pub use anchors::{Anchor, AnchoredHead};
pub use attempts::{Answer, AttemptRow, Outcome};
pub use calendars::{CalendarEvent, WantedEvent};
pub use conn::Store;
pub use custody::Sight;
pub use deliveries::{Begun, Claim, Claimant, Ending, ReportState, Unsent};
pub use due_tally::DueTally;
pub use engine_types::{ActiveProgramme, TypeRow};
pub use engines::{EngineRow, FleetQuery};
pub use error::StoreError;
pub use hold::MailHold;
pub use keys::{NewKey, Principal, Role};
pub use links::{Link, Links, MailLinks, Purpose, Recipient, ShortKey};
pub use outbox::{NotAccepted, OutboxQuery};
pub use overview::{LastPost, MutedParty, Unread};
pub use ownership::while_owned;
pub use pace::Pace;
pub use parties::PartyRow;
pub use parts::{PartPlace, PartQuery, PartRow};
pub use photos::{PhotoState, PhotoTies, PhotoUse, Sent, SentSince, photo_digest, photos_named};
pub use plans::NewPlan;
pub use preferences::PreferenceRow;
pub use records::Received;
pub use reports::{NewMail, OutboxRow, ReportRow};
pub use suppressions::{ReturnNoted, Returned, SUPPRESSED_AFTER, SuppressedRow};
pub use transfer::{Counts, Fault, FaultAt, Verified, Written, verify_export};
pub use values::{Appended, Instant, Post, Programmes, Stored, Texts};
pub use week_runs::WeekRunRow;

/// The one fleet that a database holds today. Every key leads with it, so that more can follow.
const FLEET: i64 = 1;

#[cfg(test)]
mod tests;
