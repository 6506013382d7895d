//! The records of an export, as they are written. Rows that mean the same in every database are their own lines.

use crate::anchors::AnchorRow;
use crate::bytes::{Digest, Id};
use crate::calendars::CalendarRecord;
use crate::days;
use crate::deliveries::ReportState;
use crate::facts::FactBody;
use crate::packed::Packed;
use crate::preferences::PreferenceRecord;
use crate::priors::PriorRow;
use crate::schema::{api_key, attempt, bounce, engine_type, photo_sender, report};
use crate::week_runs::WeekRunRow;
use chrono::NaiveDate;
use diesel::prelude::*;
use gudgeon_life::fact::{Stream, StreamKind};
use gudgeon_life::ids::Uid;
use serde::{Deserialize, Serialize};

/// The version of the format.
pub(super) const VERSION: u32 = 1;

/// One line.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(super) enum Record {
    Export(Header),
    EngineType(TypeLine),
    Stream(StreamLine),
    Fact(Box<FactLine>),
    Anchor(AnchorRow),
    Key(KeyLine),
    Preference(PreferenceRecord),
    CalendarEntry(CalendarRecord),
    WeekRun(WeekRunRow),
    WearPrior(PriorRow),
    Report(Box<ReportLine>),
    Bounce(BounceLine),
    Photo(Box<PhotoLine>),
    End(End),
}

impl Record {
    /// Its place in the order of the sections.
    pub(super) const fn section(&self) -> u8 {
        match self {
            Self::Export(_) => 0,
            Self::EngineType(_) => 1,
            Self::Stream(_) | Self::Fact(_) => 2,
            Self::Anchor(_) => 3,
            Self::Key(_) => 4,
            Self::Preference(_) => 5,
            Self::CalendarEntry(_) => 6,
            Self::WeekRun(_) => 7,
            Self::WearPrior(_) => 8,
            Self::Report(_) => 9,
            Self::Bounce(_) => 10,
            Self::Photo(_) => 11,
            Self::End(_) => 12,
        }
    }
}

/// The first line.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Header {
    pub(super) v: u32,
    pub(super) made_at: i64,
}

/// A version of an engine type.
#[derive(Clone, Debug, Insertable, Queryable, Selectable, Serialize, Deserialize)]
#[diesel(table_name = engine_type)]
#[serde(deny_unknown_fields)]
pub(super) struct TypeLine {
    pub(super) name: String,
    pub(super) digest: Digest,
    pub(super) toml: String,
    pub(super) added_at: i64,
}

/// A stream before its facts.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct StreamLine {
    pub(super) kind: Kind,
    pub(super) id: Id,
    pub(super) facts: i64,
    pub(super) hash: Digest,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub(super) anchored: Vec<Anchored>,
}

impl StreamLine {
    pub(super) fn stream(&self) -> Stream {
        Stream { kind: self.kind.of_life(), id: Uid::from(self.id) }
    }
}

/// A head of the stream that an anchor stands for.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Anchored {
    pub(super) seq: i64,
    pub(super) hash: Digest,
    pub(super) anchor: i64,
}

/// The kinds of stream in words.
#[derive(Clone, Copy, Debug, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(super) enum Kind {
    Party,
    Aircraft,
    Engine,
    Component,
    Fleet,
}

impl Kind {
    pub(super) const fn of(kind: StreamKind) -> Self {
        match kind {
            StreamKind::Party => Self::Party,
            StreamKind::Aircraft => Self::Aircraft,
            StreamKind::Engine => Self::Engine,
            StreamKind::Component => Self::Component,
            StreamKind::Fleet => Self::Fleet,
        }
    }

    const fn of_life(self) -> StreamKind {
        match self {
            Self::Party => StreamKind::Party,
            Self::Aircraft => StreamKind::Aircraft,
            Self::Engine => StreamKind::Engine,
            Self::Component => StreamKind::Component,
            Self::Fleet => StreamKind::Fleet,
        }
    }
}

/// A fact, with its private text unless that was erased.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct FactLine {
    pub(super) body: FactBody,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) private: Option<Private>,
}

/// Private text with its salt.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Private {
    pub(super) salt: Digest,
    pub(super) body: String,
}

/// A key's digest, and what it opens.
#[derive(Clone, Debug, Insertable, Queryable, Selectable, Serialize, Deserialize)]
#[diesel(table_name = api_key)]
#[serde(deny_unknown_fields)]
pub(super) struct KeyLine {
    pub(super) hash: Digest,
    pub(super) role: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) party: Option<Id>,
    pub(super) label: String,
    pub(super) created_at: i64,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) expires_at: Option<i64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) revoked_at: Option<i64>,
}

/// A report, and every attempt to hand it over.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ReportLine {
    pub(super) row: ReportColumns,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub(super) attempts: Vec<AttemptLine>,
}

/// A report, how far it has come, and its mail once that is composed.
#[derive(Clone, Debug, Insertable, Queryable, Selectable, Serialize, Deserialize)]
#[diesel(table_name = report)]
#[serde(deny_unknown_fields)]
pub(super) struct ReportColumns {
    pub(super) recipient: Id,
    pub(super) kind: String,
    pub(super) week: String,
    pub(super) zone: String,
    pub(super) send_at: i64,
    #[serde(default, skip_serializing_if = "Option::is_none", with = "days::optional_text")]
    pub(super) fixed_as_of: Option<NaiveDate>,
    pub(super) state: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) reason: Option<String>,
    pub(super) next_try_at: i64,
    pub(super) attempts: i32,
    #[serde(default, skip_serializing_if = "Option::is_none", with = "days::optional_text")]
    pub(super) as_of: Option<NaiveDate>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) message_id: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) to_name: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) to_address: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) subject: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) body_text: Option<Packed>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) body_html: Option<Packed>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) digest: Option<Digest>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) composed_from: Option<Digest>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) composed_at: Option<i64>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) return_tag: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) ended_at: Option<i64>,
}

impl ReportColumns {
    /// The report as nobody has it in hand: whoever did when it was backed up knows nothing of the copy. What was
    /// being handed over then may have arrived.
    pub(super) fn at_rest(self) -> Self {
        let state = match self.state.as_str() {
            "sending" if self.attempts == 0 => ReportState::Planned.word().to_owned(),
            "sending" => ReportState::Deferred.word().to_owned(),
            "transmitting" => ReportState::Unknown.word().to_owned(),
            _ => self.state,
        };
        Self { state, ..self }
    }
}

/// A mail that came back.
#[derive(Clone, Debug, Insertable, Queryable, Selectable, Serialize, Deserialize)]
#[diesel(table_name = bounce)]
#[serde(deny_unknown_fields)]
pub(super) struct BounceLine {
    pub(super) recipient: Id,
    pub(super) kind: String,
    pub(super) week: String,
    pub(super) permanent: bool,
    pub(super) status: String,
    pub(super) address: Digest,
    pub(super) noted_at: i64,
}

/// An attempt to hand a mail over.
#[derive(Clone, Debug, Insertable, Queryable, Selectable, Serialize, Deserialize)]
#[diesel(table_name = attempt)]
#[serde(deny_unknown_fields)]
pub(super) struct AttemptLine {
    pub(super) number: i32,
    pub(super) at: i64,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) ended_at: Option<i64>,
    pub(super) outcome: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) code: Option<i32>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) enhanced: Option<String>,
    pub(super) words: String,
}

/// A photograph with who sent it; one that was erased has no line.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct PhotoLine {
    pub(super) digest: Digest,
    pub(super) received_at: i64,
    #[serde(with = "base64_text")]
    pub(super) bytes: Vec<u8>,
    pub(super) senders: Vec<SenderLine>,
}

/// Who sent a photograph.
#[derive(Clone, Debug, Queryable, Selectable, Serialize, Deserialize)]
#[diesel(table_name = photo_sender)]
#[serde(deny_unknown_fields)]
pub(super) struct SenderLine {
    pub(super) sender: Id,
    pub(super) sent_at: i64,
    pub(super) size: i64,
}

/// Bytes as text: base64 with padding (RFC 4648, section 4).
mod base64_text {
    use base64::Engine as _;
    use base64::engine::general_purpose::STANDARD;
    use serde::de::Error as _;
    use serde::{Deserialize, Deserializer, Serializer};

    pub(super) fn serialize<S: Serializer>(bytes: &[u8], to: S) -> Result<S::Ok, S::Error> {
        to.serialize_str(&STANDARD.encode(bytes))
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Vec<u8>, D::Error> {
        STANDARD.decode(String::deserialize(from)?).map_err(D::Error::custom)
    }
}

/// The last line.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct End {
    pub(super) counts: Counts,
    pub(super) sha256: Digest,
}

/// How many records there are of each kind.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Counts {
    /// Versions of engine types.
    pub engine_types: u64,
    /// Streams.
    pub streams: u64,
    /// Facts.
    pub facts: u64,
    /// Anchors.
    pub anchors: u64,
    /// Keys.
    pub keys: u64,
    /// How parties want their reports.
    pub preferences: u64,
    /// Events that calendars told.
    pub calendar_entries: u64,
    /// Weeks whose reports were planned.
    pub week_runs: u64,
    /// Versions of how types wear.
    pub wear_priors: u64,
    /// Reports.
    pub reports: u64,
    /// Mails that came back.
    pub bounces: u64,
    /// Photographs.
    pub photos: u64,
}

impl Counts {
    pub(super) const fn count(&mut self, record: &Record) {
        match record {
            Record::Export(_) | Record::End(_) => {}
            Record::EngineType(_) => self.engine_types += 1,
            Record::Stream(_) => self.streams += 1,
            Record::Fact(_) => self.facts += 1,
            Record::Anchor(_) => self.anchors += 1,
            Record::Key(_) => self.keys += 1,
            Record::Preference(_) => self.preferences += 1,
            Record::CalendarEntry(_) => self.calendar_entries += 1,
            Record::WeekRun(_) => self.week_runs += 1,
            Record::WearPrior(_) => self.wear_priors += 1,
            Record::Report(_) => self.reports += 1,
            Record::Bounce(_) => self.bounces += 1,
            Record::Photo(_) => self.photos += 1,
        }
    }
}
