//! How fast mails leave for one domain, by all processes together.
//!
//! Where a pace is set, each mail takes the next turn of its domain: turns are evenly apart, and as many as fit into
//! a minute may be taken at once. A domain that answers that it is too much is left alone for a while, pace or none.
//! Domains are kept by their digests: many a domain is one person's.

use crate::FLEET;
use crate::bytes::Digest;
use crate::conn::Store;
use crate::dialect::{self, AnyConn};
use crate::error::StoreError;
use crate::schema::domain_pace;
use crate::values::Instant;
use diesel::prelude::*;
use sha2::{Digest as _, Sha256};

/// A minute, in microseconds: what may be taken at once.
const BURST: i64 = 60_000_000;

/// The pace that one domain is written to at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pace<'a> {
    /// The domain of the address.
    pub domain: &'a str,
    /// How many mails a minute; `None`: as many as there are, unless it is left alone.
    pub a_minute: Option<u32>,
}

#[derive(Clone, Copy, Insertable, AsChangeset, Queryable, Selectable)]
#[diesel(table_name = domain_pace)]
pub(crate) struct PaceRow {
    fleet_id: i64,
    pub(crate) domain: Digest,
    next_turn_at: i64,
    slow_until: i64,
}

fn digest(domain: &str) -> Digest {
    Digest(Sha256::digest(domain.to_ascii_lowercase()).into())
}

fn find(conn: &mut AnyConn, domain: &str) -> QueryResult<PaceRow> {
    let new = PaceRow { fleet_id: FLEET, domain: digest(domain), next_turn_at: 0, slow_until: 0 };
    dialect::lock_pace(conn, &new)
}

/// Takes the next turn of a domain. `None` when it is now; else when it is, and the turn is taken all the same.
/// Who `has_turn` already only waits while the domain is left alone, and so does everybody where no pace is set.
pub(crate) fn take_turn(
    conn: &mut AnyConn,
    pace: Pace<'_>,
    has_turn: bool,
    at: Instant,
) -> QueryResult<Option<Instant>> {
    let Some(a_minute) = pace.a_minute else {
        return Ok(slow_until(conn, pace.domain)?.filter(|until| *until > at));
    };
    let row = find(conn, pace.domain)?;
    if has_turn && row.slow_until <= at.0 {
        return Ok(None);
    }
    let turn = row.next_turn_at.max(row.slow_until).max(at.0);
    let apart = BURST / i64::from(a_minute.max(1));
    let next = PaceRow { next_turn_at: turn + apart, ..row };
    diesel::update(domain_pace::table.find((FLEET, row.domain))).set(next).execute(conn)?;
    // A domain that is left alone is begun with slowly.
    let from = if row.slow_until > at.0 { turn } else { turn - BURST };
    Ok((from > at.0).then_some(Instant(from)))
}

/// Until when a domain is left alone, if it ever was; nobody waits for whoever is just writing that.
fn slow_until(conn: &mut AnyConn, domain: &str) -> QueryResult<Option<Instant>> {
    let row = domain_pace::table.find((FLEET, digest(domain)));
    let until: Option<i64> = row.select(domain_pace::slow_until).first(conn).optional()?;
    Ok(until.map(Instant))
}

impl Store {
    /// Leaves a domain alone until an instant, if not longer.
    ///
    /// # Errors
    /// [`StoreError`] when the database fails.
    pub fn slow_domain(&self, domain: &str, until: Instant) -> Result<(), StoreError> {
        self.write(|conn| {
            let row = find(conn, domain)?;
            let slow = PaceRow { slow_until: row.slow_until.max(until.0), ..row };
            diesel::update(domain_pace::table.find((FLEET, row.domain))).set(slow).execute(conn)?;
            Ok(())
        })
    }
}
