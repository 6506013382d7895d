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

/// Notes the serial number that a fact tells, for good: what is corrected later still ties the two records.
pub(crate) fn claim(conn: &mut AnyConn, stream_id: i64, content: &Content) -> QueryResult<()> {
    let (kind, name, serial) = match content {
        Content::EngineRegistered(it) => {
            (StreamKind::Engine, it.engine_type.as_str(), Some(it.serial.as_str()))
        }
        Content::ComponentRegistered(it) => {
            (StreamKind::Component, it.kind.as_str(), it.serial.as_deref())
        }
        Content::Amendment(it) => {
            return match &it.replacement {
                Some(entry) => claim(conn, stream_id, &entry.content),
                None => Ok(()),
            };
        }
        _ => return Ok(()),
    };
    if let Some(serial) = serial.and_then(serial_key) {
        let (kind, name) = (kind_number(kind), name.to_owned());
        let row = ClaimRow { fleet_id: FLEET, kind, name, serial, stream_id };
        dialect::lock_serial(conn, row.number())?;
        dialect::add_claim(conn, &row)?;
    }
    Ok(())
}

/// The streams that ever carried the serial number of any of these, themselves included.
pub(crate) fn twins(conn: &mut AnyConn, of: &Nodes) -> Result<Nodes, StoreError> {
    let keys: Vec<i64> = of.keys().copied().collect();
    let mut found = Nodes::new();
    for keys in keys.chunks(dialect::list_len_max(conn)) {
        let (mine, other) = diesel::alias!(serial_claim as mine, serial_claim as other);
        let same = mine
            .field(serial_claim::fleet_id)
            .eq(other.field(serial_claim::fleet_id))
            .and(mine.field(serial_claim::kind).eq(other.field(serial_claim::kind)))
            .and(mine.field(serial_claim::name).eq(other.field(serial_claim::name)))
            .and(mine.field(serial_claim::serial).eq(other.field(serial_claim::serial)));
        let carriers = mine
            .inner_join(other.on(same))
            .inner_join(stream::table.on(stream::id.eq(other.field(serial_claim::stream_id))))
            .filter(mine.field(serial_claim::fleet_id).eq(FLEET))
            .select((stream::id, stream::kind, stream::uid));
        let of_these = mine.field(serial_claim::stream_id);
        let rows: Vec<(i64, i16, crate::bytes::Id)> = match keys {
            [key] => carriers.filter(of_these.eq(*key)).load(conn)?,
            _ => carriers.filter(of_these.eq_any(keys)).load(conn)?,
        };
        for (key, kind, uid) in rows {
            found.insert(key, stream_of(kind, uid)?);
        }
    }
    Ok(found)
}
