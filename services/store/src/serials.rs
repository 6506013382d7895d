//! Which engines and parts carry one serial number: their records are folded together, so that it shows.

use crate::FLEET;
use crate::dialect::{self, AnyConn};
use crate::error::StoreError;
use crate::graph::Nodes;
use crate::schema::{serial_claim, stream};
use crate::streams::{kind_number, stream_of};
use diesel::prelude::*;
use gudgeon_life::fact::{Content, StreamKind};
use gudgeon_life::serial::serial_key;
use sha2::{Digest as _, Sha256};

/// One serial number as a fact tells it.
#[derive(Insertable)]
#[diesel(table_name = serial_claim)]
pub(crate) struct ClaimRow {
    fleet_id: i64,
    kind: i16,
    name: String,
    serial: String,
    stream_id: i64,
}

impl ClaimRow {
    /// A number for the serial number, the same for all who tell it.
    fn number(&self) -> i64 {
        let told = format!("{} {} {}", self.kind, self.name, self.serial);
        let digest: [u8; 32] = Sha256::digest(told.as_bytes()).into();
        let mut first = [0; 8];
        first.copy_from_slice(&digest[..8]);
        i64::from_be_bytes(first)
    }
}

/// The serial number that a fact tells, as a row.
fn told(stream_id: i64, content: &Content) -> Option<ClaimRow> {
    let (kind, name, serial) = match content {
        Content::EngineRegistered(it) => {
            (StreamKind::Engine, it.engine_type.as_str(), Some(it.serial.as_str()))
        }
        Content::ComponentRegistered(it) => {
            (StreamKind::Component, it.kind.as_str(), it.serial.as_deref())
        }
        Content::Amendment(it) => return told(stream_id, &it.replacement.as_ref()?.content),
        _ => return None,
    };
    let serial = serial.and_then(serial_key)?;
    Some(ClaimRow {
        fleet_id: FLEET,
        kind: kind_number(kind),
        name: name.to_owned(),
        serial,
        stream_id,
    })
}

/// Keeps others from telling the serial number that a fact tells until the transaction ends.
pub(crate) fn lock(conn: &mut AnyConn, content: &Content) -> QueryResult<()> {
    // The number does not depend on the stream.
    told(0, content).map_or(Ok(()), |row| dialect::lock_serial(conn, row.number()))
}

/// Notes the serial number that a fact tells, for good: what is corrected later still ties the two records.
pub(crate) fn claim(conn: &mut AnyConn, stream_id: i64, content: &Content) -> QueryResult<()> {
    told(stream_id, content).map_or(Ok(()), |row| dialect::add_claim(conn, &row).map(|_| ()))
}

/// The streams that ever carried the serial number of any of these, themselves included.
pub(crate) fn twins(conn: &mut AnyConn, of: &Nodes) -> Result<Nodes, StoreError> {
    if of.is_empty() {
        return Ok(Nodes::new());
    }
    let (mine, other) = diesel::alias!(serial_claim as mine, serial_claim as other);
    let same = mine
        .field(serial_claim::fleet_id)
        .eq(other.field(serial_claim::fleet_id))
        .and(mine.field(serial_claim::kind).eq(other.field(serial_claim::kind)))
        .and(mine.field(serial_claim::name).eq(other.field(serial_claim::name)))
        .and(mine.field(serial_claim::serial).eq(other.field(serial_claim::serial)));
    let rows: Vec<(i64, i16, crate::bytes::Id)> = mine
        .inner_join(other.on(same))
        .inner_join(stream::table.on(stream::id.eq(other.field(serial_claim::stream_id))))
        .filter(mine.field(serial_claim::fleet_id).eq(FLEET))
        .filter(
            mine.field(serial_claim::stream_id).eq_any(of.keys().copied().collect::<Vec<i64>>()),
        )
        .select((stream::id, stream::kind, stream::uid))
        .distinct()
        .load(conn)?;
    rows.into_iter().map(|(key, kind, uid)| Ok((key, stream_of(kind, uid)?))).collect()
}
