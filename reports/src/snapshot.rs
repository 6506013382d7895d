//! What is on record of one recipient's engines, as composing needs it: everything that a mail may say, and nothing
//! that would have to be looked up.

use crate::witness::Witness;
use chrono::NaiveDate;
use gudgeon_life::fact::Inspection;
use gudgeon_life::ids::{ComponentId, FactId, PartyId};
use gudgeon_life::line::DueLine;
use gudgeon_life::programme::EngineType;
use gudgeon_life::status::Status;
use gudgeon_life::sure::forecast::Forecast;
use gudgeon_life::version::ActiveVersion;
use gudgeon_store::EngineRow;
use std::collections::BTreeMap;
use std::sync::Arc;

/// An owner and what is on record about his or her engines.
#[derive(Clone, Debug)]
pub struct OwnerSnapshot {
    /// The owner's name, as registered.
    pub name: String,
    /// The engines, in any order.
    pub engines: Vec<EngineSnapshot>,
}

/// One engine with its due lines.
#[derive(Clone, Debug)]
pub struct EngineSnapshot {
    /// The engine as it stands.
    pub row: EngineRow,
    /// Its type, when a programme for it is active.
    pub engine_type: Option<Arc<EngineType>>,
    /// The version of the programme that its type is to be counted by.
    pub version: Option<ActiveVersion>,
    /// Its due lines, in the order of the programme.
    pub lines: Vec<DueLine>,
    /// What was anchored of its records; `None` before the first anchor.
    pub witness: Option<Witness>,
    /// What its records tell besides.
    pub told: Told,
}

/// What an engine's records tell besides its due lines.
#[derive(Clone, Debug, Default)]
pub struct Told {
    /// When the hours of each line will be used up, in the order of the lines; `None` where it counts no hours.
    pub forecasts: Vec<Option<Forecast>>,
    /// What its parts are called: kind, then serial number, lot or date code.
    pub parts: BTreeMap<ComponentId, String>,
    /// The workshops that released the records of work, by the record.
    pub shops: BTreeMap<FactId, String>,
    /// Its due lines as the records of an earlier day gave them; `None` for an engine that was not known then.
    pub before: Option<Before>,
    /// The last inspection on record.
    pub last: Option<LastInspection>,
}

/// Due lines as they stood.
#[derive(Clone, Debug)]
pub struct Before {
    /// On which day.
    pub on: NaiveDate,
    /// The lines that the records of that day gave.
    pub lines: Vec<DueLine>,
}

/// An inspection as it stands, corrections taken into account.
#[derive(Clone, Debug)]
pub struct LastInspection {
    /// The record.
    pub record: FactId,
    /// The day it was released.
    pub on: NaiveDate,
    /// The workshop, where its name is still kept.
    pub shop: Option<String>,
    /// What it says.
    pub inspection: Inspection,
}

/// A workshop, the engines that it holds, and what is wrong with its posts about them.
#[derive(Clone, Debug)]
pub struct ShopSnapshot {
    /// The workshop's name, as registered.
    pub name: String,
    /// The engines that it holds, in any order.
    pub engines: Vec<EngineSnapshot>,
    /// What each of the engines needs another part for, in the order of the engines.
    pub renewals: Vec<Vec<gudgeon_life::renewals::Renewal>>,
    /// Its posts that need a correction or an answer.
    pub posts: Vec<PostInDoubt>,
}

/// A post that needs a correction or an answer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PostInDoubt {
    /// The record.
    pub record: FactId,
    /// The day it was released.
    pub on: NaiveDate,
    /// The workshop's own number for the job.
    pub work_order: Option<String>,
    /// The engine that it is about: its aircraft's mark, or its serial number.
    pub engine: String,
    /// What is wrong or open, a sentence each.
    pub faults: Vec<String>,
}

/// The whole fleet as an inspector needs to see it.
#[derive(Clone, Debug, Default)]
pub struct InspectorSnapshot {
    /// The inspector's name.
    pub name: String,
    /// How many engines have each status, worst first.
    pub counts: Vec<(Status, i64)>,
    /// The worst engines with their due lines, worst first.
    pub worst: Vec<EngineSnapshot>,
    /// How many engines in an aircraft have no reading since [`crate::inspector::READING_OLD_DAYS`].
    pub unread_count: i64,
    /// Those of them whose readings are the oldest.
    pub unread: Vec<EngineRow>,
    /// How many workshops are on record.
    pub shops: usize,
    /// Those of them that posted nothing for [`crate::inspector::SILENT_DAYS`].
    pub silent: Vec<SilentShop>,
    /// Mails that did not arrive, or of which nobody can tell whether they did.
    pub mails: Vec<MailInTrouble>,
    /// Those who want no mails.
    pub muted: Vec<Muted>,
}

/// A workshop that posted nothing for long.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SilentShop {
    /// Its name.
    pub name: String,
    /// The day of its last post; `None` if it never posted.
    pub last_on: Option<NaiveDate>,
}

/// A mail that did not arrive, or perhaps not.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MailInTrouble {
    /// Whom it was for.
    pub recipient: PartyId,
    /// The recipient's name, where it is kept.
    pub name: String,
    /// Of which week.
    pub week: String,
    /// Whether it failed for certain, and not only perhaps.
    pub failed: bool,
    /// What is wrong, in words.
    pub why: String,
}

/// Somebody who wants no mails.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Muted {
    /// The name.
    pub name: String,
    /// Since which day, where that is known.
    pub since: Option<NaiveDate>,
}
