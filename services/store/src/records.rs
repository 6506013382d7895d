//! The records around many engines at once, for those who tell of many owners or workshops: a few queries,
//! however many engines.

use crate::FLEET;
use crate::bytes::Id;
use crate::codec::{self, Coding};
use crate::conn::Store;
use crate::dialect;
use crate::engines::KEYS_MAX;
use crate::error::StoreError;
use crate::graph::{self, Nodes};
use crate::schema::{fact, stream};
use crate::streams::stream_of;
use crate::values::Instant;
use chrono::NaiveDate;
use diesel::prelude::*;
use gudgeon_life::fact::Fact;
use gudgeon_life::ids::{FactId, Uid};

/// A fact, and when it came in.
#[derive(Clone, Debug)]
pub struct Received {
    /// The fact, without private text.
    pub fact: Fact,
    /// When it came in.
    pub at: Instant,
}

/// A fact as it is read here.
type Row = (Id, i32, String, NaiveDate, i32, String, i64);

impl Store {
    /// All facts that the due lines of some engines rest on, in no order. Engines are named by their keys.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn records_of_engines(&self, keys: &[i64]) -> Result<Vec<Received>, StoreError> {
        self.read(|conn| {
            let mut engines = Nodes::new();
            for chunk in keys.chunks(KEYS_MAX) {
                let rows: Vec<(i64, i16, Id)> = stream::table
                    .filter(stream::fleet_id.eq(FLEET))
                    .filter(stream::id.eq_any(chunk))
                    .select((stream::id, stream::kind, stream::uid))
                    .load(conn)?;
                for (key, kind, uid) in rows {
                    engines.insert(key, stream_of(kind, uid)?);
                }
            }
            let around = graph::closure_of_engines(conn, engines)?;
            let keys: Vec<i64> = around.keys().copied().collect();
            let mut records = Vec::new();
            for chunk in keys.chunks(dialect::list_len_max(conn).min(KEYS_MAX)) {
                let of_streams = fact::table.filter(fact::fleet_id.eq(FLEET)).select((
                    fact::uid,
                    fact::v,
                    fact::kind,
                    fact::day,
                    fact::order_in_day,
                    fact::data,
                    fact::received_at,
                ));
                let rows: Vec<Row> = match chunk {
                    [key] => of_streams.filter(fact::stream_id.eq(*key)).load(conn)?,
                    _ => of_streams.filter(fact::stream_id.eq_any(chunk)).load(conn)?,
                };
                for row in rows {
                    records.push(received(row)?);
                }
            }
            Ok(records)
        })
    }
}

fn received((uid, v, kind, day, order_in_day, data, at): Row) -> Result<Received, StoreError> {
    let coding = Coding { v, kind: &kind, day, order_in_day, data: &data };
    let (entry, _) = codec::read(coding)?;
    Ok(Received { fact: Fact { id: FactId(Uid::from(uid)), entry }, at: Instant(at) })
}
