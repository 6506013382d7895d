//! Which engines and parts carry one serial number: their records are folded together, so that it shows.

use crate::FLEET;
use crate::dialect::{self, AnyConn, on};
use crate::error::StoreError;
use crate::graph::Nodes;
use crate::schema::{serial_claim, stream};
use crate::streams::{kind_number, stream_of};
use diesel::prelude::*;
use gudgeon_life::fact::{Content, StreamKind};
use gudgeon_life::serial::serial_key;
use sha2::{Digest as _, Sha256};
use std::collections::BTreeSet;

/// One serial number as a fact tells it.
#[derive(Insertable)]
#[diesel(table_name = serial_claim, treat_none_as_default_value = false)]
pub(crate) struct ClaimRow {
    fleet_id: i64,
    kind: i16,
    name: String,
    serial: String,
    stream_id: i64,
}

/// What a fact tells of a serial number: of what kind of thing, under which name, and the number.
pub(crate) fn told(content: &Content) -> Option<(StreamKind, &str, String)> {
    let (kind, name, serial) = match content {
        Content::EngineRegistered(it) => {
            (StreamKind::Engine, it.engine_type.as_str(), Some(it.serial.as_str()))
        }
        Content::ComponentRegistered(it) => {
            (StreamKind::Component, it.kind.as_str(), it.serial.as_deref())
        }
        Content::Amendment(it) => return told(&it.replacement.as_ref()?.content),
        _ => return None,
    };
    Some((kind, name, serial.and_then(serial_key)?))
}

/// Holds the serial numbers that facts tell against others who tell them at the same time: neither could see
/// the other's claim. In one order for all, so that no two wait for one another.
pub(crate) fn hold(conn: &mut AnyConn, contents: &[&Content]) -> QueryResult<()> {
    let numbers: BTreeSet<i64> = contents.iter().filter_map(|it| number(it)).collect();
    numbers.into_iter().try_for_each(|number| dialect::lock_serial(conn, number))
}

/// A number for the serial number that a fact tells, the same for all who tell it.
fn number(content: &Content) -> Option<i64> {
    let (kind, name, serial) = told(content)?;
    let digest = Sha256::digest(format!("{} {name} {serial}", kind_number(kind)));
    Some(digest.iter().take(8).fold(0, |number, byte| number << 8 | i64::from(*byte)))
}

/// Notes the serial number that a fact tells, for good: what is corrected later still ties the two records.
pub(crate) fn claim(conn: &mut AnyConn, stream_id: i64, content: &Content) -> QueryResult<()> {
    if let Some((kind, name, serial)) = told(content) {
        let (kind, name) = (kind_number(kind), name.to_owned());
        let row = ClaimRow { fleet_id: FLEET, kind, name, serial, stream_id };
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
        let rows: Vec<(i64, i16, crate::bytes::Id)> = on!(conn, conn => match keys {
            [key] => carriers.filter(of_these.eq(*key)).load(conn)?,
            _ => carriers.filter(of_these.eq_any(keys)).load(conn)?,
        });
        for (key, kind, uid) in rows {
            found.insert(key, stream_of(kind, uid)?);
        }
    }
    Ok(found)
}
