//! Mails that came back, and the addresses that are written to no more because of them.
//!
//! Each mail leaves under a return address with a tag of its own, drawn at random, so that nobody can make one up
//! who has not seen the mail; a backup keeps it. What comes back there is counted once for each mail and kind of
//! failure. An address
//! from which [`SUPPRESSED_AFTER`] mails came back for good is suppressed: the address, not the party, who may
//! have another one. It is kept as a digest. Registering another address forgets what came back from the one
//! before, an erasure forgets all, and a person can lift it.

use crate::FLEET;
use crate::bytes::{Digest, Id};
use crate::conn::Store;
use crate::dialect::{self, AnyConn};
use crate::error::StoreError;
use crate::schema::{bounce, report};
use crate::values::Instant;
use diesel::prelude::*;
use gudgeon_life::ids::{PartyId, Uid};
use gudgeon_life::version::hex;
use sha2::{Digest as _, Sha256};

/// From how many mails that came back for good an address is suppressed. One alone can be a mistake at the other
/// end.
pub const SUPPRESSED_AFTER: i64 = 2;
/// The digits of a tag: enough that nobody guesses one, few enough for a local part of 64 octets.
const TAG_DIGITS: usize = 20;
/// What the digest of an address begins with.
const ADDRESS_DOMAIN: &[u8] = b"gudgeon/address/v1\0";

/// A mail that came back, as whoever returned it tells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Returned<'a> {
    /// The tag of the address that it came back to.
    pub tag: &'a str,
    /// Whether it failed for good (a status of class 5) rather than for now (class 4).
    pub permanent: bool,
    /// The enhanced status code of RFC 3463, such as `5.1.1`.
    pub status: &'a str,
}

/// What came of a mail that came back.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ReturnNoted {
    /// It is counted.
    Counted,
    /// The same was known of the same mail, and counts once.
    Known,
    /// No mail of ours has this tag.
    NotOurs,
    /// Its recipient was erased, and nothing is kept.
    Erased,
}

/// An address that is written to no more.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SuppressedRow {
    /// The digest that stands for the address, for paging.
    pub address: [u8; 32],
    /// Whose mail came back last.
    pub recipient: PartyId,
    /// With which enhanced status code.
    pub status: String,
    /// When that was noted.
    pub since: Instant,
}

/// A mail that came back, as it is kept.
#[derive(Insertable)]
#[diesel(table_name = bounce)]
pub(crate) struct BounceRow<'a> {
    fleet_id: i64,
    recipient: Id,
    kind: &'a str,
    week: &'a str,
    permanent: bool,
    status: &'a str,
    address: Digest,
    noted_at: i64,
}

/// Recipient, kind, week and address of a composed mail.
type Mail = (Id, String, String, String);

/// A tag that no mail has.
pub(crate) fn new_tag() -> Result<String, StoreError> {
    let mut bytes = [0; 32];
    getrandom::fill(&mut bytes).map_err(|error| StoreError::Random(error.to_string()))?;
    Ok(hex(bytes).chars().take(TAG_DIGITS).collect())
}

/// What stands for an address: the same however its letters are written.
fn address_digest(address: &str) -> Digest {
    let address = address.trim().to_lowercase();
    Digest(Sha256::new().chain_update(ADDRESS_DOMAIN).chain_update(address).finalize().into())
}

impl Store {
    /// Notes that a mail came back. Noting the same again changes nothing.
    ///
    /// # Errors
    /// [`StoreError`] when the database fails.
    pub fn note_return(
        &self,
        returned: &Returned<'_>,
        at: Instant,
    ) -> Result<ReturnNoted, StoreError> {
        self.write(|conn| {
            let found: Option<Mail> = report::table
                .filter(report::fleet_id.eq(FLEET))
                .filter(report::return_tag.eq(returned.tag))
                .select((
                    report::recipient,
                    report::kind,
                    report::week,
                    report::to_address.assume_not_null(),
                ))
                .get_result(conn)
                .optional()?;
            let Some((recipient, kind, week, address)) = found else {
                return Ok(ReturnNoted::NotOurs);
            };
            if address.is_empty() {
                return Ok(ReturnNoted::Erased);
            }
            let row = BounceRow {
                fleet_id: FLEET,
                recipient,
                kind: &kind,
                week: &week,
                permanent: returned.permanent,
                status: returned.status,
                address: address_digest(&address),
                noted_at: at.0,
            };
            let new = dialect::add_bounce(conn, &row)? > 0;
            Ok(if new { ReturnNoted::Counted } else { ReturnNoted::Known })
        })
    }

    /// Whether an address is to be written to no more.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn is_suppressed(&self, address: &str) -> Result<bool, StoreError> {
        self.read(|conn| Ok(is_suppressed(conn, address)?))
    }

    /// The addresses that are written to no more, in the order of their digests, after one.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn suppressed(
        &self,
        after: Option<[u8; 32]>,
        limit: i64,
    ) -> Result<Vec<SuppressedRow>, StoreError> {
        self.read(|conn| {
            let addresses: Vec<Digest> = for_good()
                .filter(bounce::address.gt(Digest(after.unwrap_or_default())))
                .group_by(bounce::address)
                .having(diesel::dsl::count_star().ge(SUPPRESSED_AFTER))
                .order(bounce::address)
                .limit(limit)
                .select(bounce::address)
                .load(conn)?;
            addresses.into_iter().map(|address| Ok(last_return(conn, address)?)).collect()
        })
    }

    /// Forgets what came back from an address, so that it is written to again; gives how many mails that were.
    ///
    /// # Errors
    /// [`StoreError`] when the database fails.
    pub fn lift_suppression(&self, address: &str) -> Result<usize, StoreError> {
        self.write(|conn| {
            let of_address = bounce::table
                .filter(bounce::fleet_id.eq(FLEET))
                .filter(bounce::address.eq(address_digest(address)));
            Ok(diesel::delete(of_address).execute(conn)?)
        })
    }
}

/// The mails that came back for good.
#[diesel::dsl::auto_type(no_type_alias)]
fn for_good() -> _ {
    let (fleet, permanent): (i64, bool) = (FLEET, true);
    bounce::table.filter(bounce::fleet_id.eq(fleet)).filter(bounce::permanent.eq(permanent))
}

/// The last mail that came back for good from an address.
fn last_return(conn: &mut AnyConn, address: Digest) -> QueryResult<SuppressedRow> {
    let (recipient, status, noted_at): (Id, String, i64) = for_good()
        .filter(bounce::address.eq(address))
        .order((bounce::noted_at.desc(), bounce::week.desc()))
        .select((bounce::recipient, bounce::status, bounce::noted_at))
        .first(conn)?;
    let recipient = PartyId(Uid::from(recipient));
    Ok(SuppressedRow { address: address.0, recipient, status, since: Instant(noted_at) })
}

/// Whether an address is to be written to no more.
pub(crate) fn is_suppressed(conn: &mut AnyConn, address: &str) -> QueryResult<bool> {
    let returned: i64 =
        for_good().filter(bounce::address.eq(address_digest(address))).count().get_result(conn)?;
    Ok(returned >= SUPPRESSED_AFTER)
}

/// Forgets what came back from a party's addresses, but for the one that is registered now.
pub(crate) fn forget_others(
    conn: &mut AnyConn,
    party: Id,
    registered: Option<&str>,
) -> QueryResult<()> {
    let of_party =
        bounce::table.filter(bounce::fleet_id.eq(FLEET)).filter(bounce::recipient.eq(party));
    match registered {
        Some(address) => {
            diesel::delete(of_party.filter(bounce::address.ne(address_digest(address))))
                .execute(conn)?
        }
        None => diesel::delete(of_party).execute(conn)?,
    };
    Ok(())
}
