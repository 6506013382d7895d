//! What contradicts: kept, shown in words, never refused and never guessed away.

use crate::fact::{Stream, StreamKind};
use crate::hours::{Basis, Hours};
use crate::ids::FactId;
use chrono::NaiveDate;

/// Two records that cannot both be right, or one that waits for another.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Conflict {
    /// The thing whose record it concerns.
    pub stream: Stream,
    /// The day of the fact that brought it out.
    pub on: NaiveDate,
    /// That fact.
    pub fact: FactId,
    /// What does not fit.
    pub kind: ConflictKind,
}

/// What does not fit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ConflictKind {
    /// A meter shows less than before, and no meter change is on record.
    MeterFell {
        /// What it showed before.
        from: Hours,
        /// What it shows now.
        to: Hours,
    },
    /// Hours since new stated lower than the records already show.
    HoursFell {
        /// What the records show.
        known: Hours,
        /// What is stated.
        stated: Hours,
    },
    /// Stated hours and the meter of the same day give different totals.
    HoursDisagree {
        /// What the meter gives.
        known: Hours,
        /// What is stated.
        stated: Hours,
    },
    /// Hours since new stated for an engine that was registered without a log.
    StatedWithoutLog,
    /// Installed in an aircraft while still installed in another.
    InstalledTwice,
    /// Removed while not installed.
    RemovedWhileOff,
    /// The aircraft's meter counts other hours than the engine's record.
    BasisDiffers {
        /// What the engine is counted in.
        engine: Basis,
        /// What the aircraft's meter counts.
        aircraft: Basis,
    },
    /// A reading for an engine that was in no aircraft that day.
    ReadingUnplaced,
    /// A component fitted while still fitted elsewhere.
    FittedTwice,
    /// Two engines of one type, or two parts of one kind, carry one serial number.
    SerialTwice,
    /// Two corrections of the same version.
    RivalAmendments,
    /// A correction whose earlier version is not here yet.
    AmendmentPending,
}

impl Conflict {
    /// The contradiction in words.
    #[must_use]
    pub fn printed(&self) -> String {
        let on = self.on;
        match self.kind {
            ConflictKind::MeterFell { from, to } => format!(
                "On {on} the hour meter shows {to} h after {from} h, and no meter change is on record. Hours from then on are unknown until this is corrected."
            ),
            ConflictKind::HoursFell { known, stated } => format!(
                "On {on} the hours since new are stated as {stated} h, but the records before already show {known} h. Hours from then on are unknown until this is corrected."
            ),
            ConflictKind::HoursDisagree { known, stated } => format!(
                "On {on} the hours since new are stated as {stated} h, but the meter of that day gives {known} h. Hours from then on are unknown until this is corrected."
            ),
            ConflictKind::StatedWithoutLog => format!(
                "On {on} hours since new are stated for an engine registered without a log. Correct the registration if the log was found."
            ),
            ConflictKind::InstalledTwice => format!(
                "On {on} it was installed while the records still show it in another aircraft. Hours from then on are unknown until this is corrected."
            ),
            ConflictKind::RemovedWhileOff => {
                format!("On {on} it was removed, but the records show it in no aircraft.")
            }
            ConflictKind::BasisDiffers { engine, aircraft } => format!(
                "On {on} it went into an aircraft whose meter counts {} hours, but it is counted in {} hours. The two are not converted; hours from then on are unknown.",
                aircraft.word(),
                engine.word()
            ),
            ConflictKind::ReadingUnplaced => format!(
                "A meter reading of {on} belongs to no aircraft: the engine was not installed that day."
            ),
            ConflictKind::FittedTwice => format!(
                "On {on} it was fitted while the records still show it fitted elsewhere. Its life is unknown until this is corrected."
            ),
            ConflictKind::SerialTwice => format!(
                "Since the record of {on}, this serial number is on record twice: either it was written wrongly, or one {} has two records. Hours from then on are unknown until this is corrected.",
                if self.stream.kind == StreamKind::Engine { "engine" } else { "part" }
            ),
            ConflictKind::RivalAmendments => format!(
                "Two corrections of the same record of {on} are here. Neither is used until one of them is corrected in turn."
            ),
            ConflictKind::AmendmentPending => {
                format!("A correction of {on} waits for the record that it corrects.")
            }
        }
    }
}
