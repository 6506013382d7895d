//! The links in mails: what stands behind one, sealed so that nobody can make or change one without the key.
//!
//! A link names a purpose, a kind of mails and who gets them, perhaps an engine, its last day and its generation,
//! and ends with the first half of the HMAC-SHA-256 (RFC 2104) of that. It is good for its own purpose alone. Nothing is
//! kept of it: whoever makes all old links useless counts the generation up. It is read before the database is
//! asked anything, so that guesses cost nothing; half of the HMAC is 128 bits, which nobody finds by guessing.

use crate::conn::Store;
use crate::error::StoreError;
use crate::parties::PartyRow;
use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use chrono::{Datelike, Days, NaiveDate};
use gudgeon_life::ids::{EngineId, PartyId, Uid};
use gudgeon_life::preference::ReportKind;
use hmac::{Hmac, KeyInit, Mac};
use sha2::Sha256;
use std::fmt;

/// What is sealed before everything else, so that the key may be used for nothing but links of this form.
const LABEL: &[u8] = b"gudgeon link 1";
/// Bytes in a key at least: as many as the hash gives (RFC 2104, section 3).
const KEY_BYTES_MIN: usize = 32;
/// Bytes of a seal: half of the hash, the least that RFC 2104, section 5, advises.
const SEAL_BYTES: usize = 16;
/// Bytes of a link about everything of a party, and of one about one engine, both without their seals.
const BODY_BYTES: [usize; 2] = [30, 46];

/// What a link is good for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Purpose {
    /// Ending the mails, and beginning them again.
    Stop,
    /// Changing when mails come and how they are written.
    Preferences,
    /// Reporting what an hour meter shows, and what happened to an engine.
    Reading,
    /// Subscribing to a calendar of what is due.
    Calendar,
}

impl Purpose {
    /// All purposes.
    pub const ALL: [Self; 4] = [Self::Stop, Self::Preferences, Self::Reading, Self::Calendar];

    const fn number(self) -> u8 {
        match self {
            Self::Stop => 1,
            Self::Preferences => 2,
            Self::Reading => 3,
            Self::Calendar => 4,
        }
    }

    /// How many days a link is good for after the day on which it was made. A mail that was kept has to be able
    /// to end the mails, and a calendar that somebody subscribed to is not asked for again: five years. What
    /// changes more is good for as long as a few mails more are sure to have come.
    #[must_use]
    pub const fn days(self) -> u64 {
        match self {
            Self::Stop | Self::Calendar => 5 * 366,
            Self::Preferences | Self::Reading => 60,
        }
    }
}

/// What stands behind a link.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Link {
    /// What it is good for.
    pub purpose: Purpose,
    /// In which mails it stands.
    pub kind: ReportKind,
    /// Who gets them.
    pub party: PartyId,
    /// The one engine that it is about; `None` for all of the party's.
    pub engine: Option<EngineId>,
    /// The last day on which it is good.
    pub until: NaiveDate,
    /// How often the links of these mails had been made useless before this one was made.
    pub generation: i64,
}

/// Who gets mails of a kind, and how often their links had been made useless.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Recipient {
    /// Which mails.
    pub kind: ReportKind,
    /// Who.
    pub party: PartyId,
    /// How often, as [`crate::PreferenceRow`] says.
    pub generation: i64,
}

impl Link {
    /// A link about everything of a party, made on a day.
    #[must_use]
    pub fn new(purpose: Purpose, of: Recipient, today: NaiveDate) -> Self {
        let Recipient { kind, party, generation } = of;
        let until = today.checked_add_days(Days::new(purpose.days())).unwrap_or(NaiveDate::MAX);
        Self { purpose, kind, party, engine: None, until, generation }
    }

    fn body(&self) -> Vec<u8> {
        let mut bytes = vec![self.purpose.number(), kind_number(self.kind)];
        bytes.extend(self.until.num_days_from_ce().to_be_bytes());
        bytes.extend(self.generation.to_be_bytes());
        bytes.extend(self.party.0.bytes());
        bytes.extend(self.engine.iter().flat_map(|engine| engine.0.bytes()));
        bytes
    }

    fn of(body: &[u8]) -> Option<Self> {
        let ([purpose, kind], rest) = body.split_first_chunk()?;
        let (until, rest) = rest.split_first_chunk()?;
        let (generation, rest) = rest.split_first_chunk()?;
        let (party, rest) = rest.split_first_chunk()?;
        let engine = match rest {
            [] => None,
            rest => Some(EngineId(Uid::from_bytes(rest.try_into().ok()?))),
        };
        Some(Self {
            purpose: Purpose::ALL.into_iter().find(|it| it.number() == *purpose)?,
            kind: ReportKind::ALL.into_iter().find(|it| kind_number(*it) == *kind)?,
            party: PartyId(Uid::from_bytes(*party)),
            engine,
            until: NaiveDate::from_num_days_from_ce_opt(i32::from_be_bytes(*until))?,
            generation: i64::from_be_bytes(*generation),
        })
    }
}

const fn kind_number(kind: ReportKind) -> u8 {
    match kind {
        ReportKind::Owner => 1,
        ReportKind::Shop => 2,
        ReportKind::Inspector => 3,
    }
}

/// The addresses that a mail offers its reader.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MailLinks {
    /// Ends the mails: a page on `GET`, done on `POST`. Where `List-Unsubscribe` points (RFC 8058, section 3.1).
    pub stop: String,
    /// When mails come and how they are written.
    pub preferences: String,
    /// Where the hour meter's reading is typed; for owners alone.
    pub reading: String,
    /// The calendar to subscribe to; for owners alone.
    pub calendar: String,
}

/// A key that is too short to seal anything with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ShortKey {
    /// How many bytes it has.
    pub bytes: usize,
}

impl fmt::Display for ShortKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { bytes } = self;
        write!(
            f,
            "the key for links holds {bytes} bytes; it has to hold {KEY_BYTES_MIN} random bytes or more"
        )
    }
}

impl std::error::Error for ShortKey {}

/// Makes links and reads them.
#[derive(Clone)]
pub struct Links {
    key: Hmac<Sha256>,
    base_url: String,
}

impl fmt::Debug for Links {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Links").field("base_url", &self.base_url).finish_non_exhaustive()
    }
}

impl Links {
    /// Links under `base_url`, which has no slash at its end, sealed with `key`.
    ///
    /// # Errors
    /// [`ShortKey`] for fewer than 32 bytes.
    pub fn new(key: &[u8], base_url: &str) -> Result<Self, ShortKey> {
        let short = ShortKey { bytes: key.len() };
        let long_enough = Some(key).filter(|key| key.len() >= KEY_BYTES_MIN).ok_or(short)?;
        let mut key = Hmac::new_from_slice(long_enough).ok().ok_or(short)?;
        key.update(LABEL);
        Ok(Self { key, base_url: base_url.to_owned() })
    }

    /// A link as it stands in an address: letters, digits, `-` and `_`.
    #[must_use]
    pub fn seal(&self, link: &Link) -> String {
        let mut bytes = link.body();
        let mut key = self.key.clone();
        key.update(&bytes);
        bytes.extend(key.finalize().into_bytes().into_iter().take(SEAL_BYTES));
        URL_SAFE_NO_PAD.encode(bytes)
    }

    /// What stands behind a link of this purpose on a day. `None`, without saying why, for one that was not made
    /// here, is good for something else, or has expired. Whether it was made useless is to be asked of the store
    /// ([`Store::link_holder`]).
    #[must_use]
    pub fn open(&self, purpose: Purpose, sealed: &str, today: NaiveDate) -> Option<Link> {
        let bytes = URL_SAFE_NO_PAD.decode(sealed).ok()?;
        let (body, seal) = bytes.split_at_checked(bytes.len().checked_sub(SEAL_BYTES)?)?;
        let mut key = self.key.clone();
        key.update(body);
        // Compared in constant time: how much of a guess is right cannot be measured.
        key.verify_truncated_left(seal).ok()?;
        let link = Some(body).filter(|body| BODY_BYTES.contains(&body.len())).and_then(Link::of)?;
        (link.purpose == purpose && today <= link.until).then_some(link)
    }

    /// The addresses for a mail, made on a day.
    #[must_use]
    pub fn for_mail(&self, to: Recipient, today: NaiveDate) -> MailLinks {
        let sealed = |purpose| self.seal(&Link::new(purpose, to, today));
        let base = &self.base_url;
        MailLinks {
            stop: format!("{base}/stop/{}", sealed(Purpose::Stop)),
            preferences: format!("{base}/mails/{}", sealed(Purpose::Preferences)),
            reading: format!("{base}/reading/{}", sealed(Purpose::Reading)),
            calendar: format!("{base}/calendar/{}.ics", sealed(Purpose::Calendar)),
        }
    }
}

impl Store {
    /// Whose a link is; `None` when all links of that time were made useless, or when its holder is erased or
    /// was never registered.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn link_holder(&self, link: &Link) -> Result<Option<PartyRow>, StoreError> {
        let now = self.preference(link.party, link.kind)?.links_generation;
        let holder = self.party(link.party)?.filter(|party| party.erased_on.is_none());
        Ok(holder.filter(|_| link.generation == now))
    }
}

#[cfg(test)]
#[path = "links_tests.rs"]
mod tests;
