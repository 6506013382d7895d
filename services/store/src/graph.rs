//! Which streams an engine's due lines rest on, and which engines a stream's facts touch.
//!
//! The two are one another's inverse: an engine is touched by exactly the streams of its closure. An hour
//! meter is told of its aircraft and of every engine that was ever in it, so those belong to it; and so do
//! engines and parts that carry the serial number of another.

use crate::FLEET;
use crate::bytes::Id;
use crate::dialect::{self, AnyConn, on};
use crate::error::StoreError;
use crate::schema::{link, stream};
use crate::serials::twins;
use crate::streams::{kind_number, stream_of};
use diesel::prelude::*;
use gudgeon_life::fact::{Stream, StreamKind};
use gudgeon_life::ids::EngineId;
use std::collections::BTreeMap;

/// Streams by surrogate key.
pub(crate) type Nodes = BTreeMap<i64, Stream>;

/// The streams that a stream's state and the due lines on it rest on, itself included.
pub(crate) fn closure(conn: &mut AnyConn, key: i64, of: Stream) -> Result<Nodes, StoreError> {
    let start = Nodes::from([(key, of)]);
    let aircraft = match of.kind {
        StreamKind::Party | StreamKind::Fleet => return Ok(start),
        StreamKind::Component => Nodes::new(),
        StreamKind::Aircraft => start.clone(),
        StreamKind::Engine => near(conn, &start, StreamKind::Aircraft)?,
    };
    let mut components = near(conn, &joined(&start, &aircraft), StreamKind::Component)?;
    if of.kind == StreamKind::Component {
        components.extend(start.clone());
    }
    all_around(conn, start, &aircraft, components)
}

/// The streams that the due lines of these engines rest on, themselves included.
pub(crate) fn closure_of_engines(conn: &mut AnyConn, engines: Nodes) -> Result<Nodes, StoreError> {
    let aircraft = near(conn, &engines, StreamKind::Aircraft)?;
    let components = near(conn, &joined(&engines, &aircraft), StreamKind::Component)?;
    all_around(conn, engines, &aircraft, components)
}

/// The rest of a closure, from where it starts, the aircraft there and the parts on both.
fn all_around(
    conn: &mut AnyConn,
    start: Nodes,
    aircraft: &Nodes,
    mut components: Nodes,
) -> Result<Nodes, StoreError> {
    components.extend(twins(conn, &components)?);
    let hosts = near(conn, &components, StreamKind::Engine)?;
    let doubles = twins(conn, &engines_among(&joined(&start, &hosts)))?;
    let mut meters = joined(aircraft, &near(conn, &components, StreamKind::Aircraft)?);
    meters.extend(near(conn, &hosts, StreamKind::Aircraft)?);
    let told_of = near(conn, &meters, StreamKind::Engine)?;
    Ok([start, components, hosts, doubles, meters, told_of].into_iter().flatten().collect())
}

/// The engines whose due lines may rest on a stream.
pub(crate) fn touched(conn: &mut AnyConn, key: i64, of: Stream) -> Result<Nodes, StoreError> {
    let start = Nodes::from([(key, of)]);
    match of.kind {
        StreamKind::Party | StreamKind::Fleet => Ok(Nodes::new()),
        StreamKind::Component => {
            let doubles = twins(conn, &start)?;
            carriers(conn, &joined(&start, &doubles))
        }
        StreamKind::Aircraft => sharing_meters(conn, &start, &Nodes::new()),
        StreamKind::Engine => {
            let aircraft = near(conn, &start, StreamKind::Aircraft)?;
            let doubles = twins(conn, &start)?;
            sharing_meters(conn, &aircraft, &joined(&start, &doubles))
        }
    }
}

/// The engines of `nodes` with their keys, in the order of their identifiers.
pub(crate) fn engines_in_id_order(nodes: &Nodes) -> impl Iterator<Item = (EngineId, i64)> {
    let engines = engines_among(nodes);
    let by_id: BTreeMap<EngineId, i64> =
        engines.iter().map(|(key, stream)| (EngineId(stream.id), *key)).collect();
    by_id.into_iter()
}

/// The engines that the meters of these aircraft are told of, `also` some others, and those that carried a
/// part which ran by them.
fn sharing_meters(conn: &mut AnyConn, aircraft: &Nodes, also: &Nodes) -> Result<Nodes, StoreError> {
    let engines = joined(also, &near(conn, aircraft, StreamKind::Engine)?);
    let mut components = near(conn, &joined(aircraft, &engines), StreamKind::Component)?;
    components.extend(twins(conn, &components)?);
    Ok(joined(&engines, &carriers(conn, &components)?))
}

/// The engines that carried these components, on themselves or on their aircraft.
fn carriers(conn: &mut AnyConn, components: &Nodes) -> Result<Nodes, StoreError> {
    let engines = near(conn, components, StreamKind::Engine)?;
    let aircraft = near(conn, components, StreamKind::Aircraft)?;
    Ok(joined(&engines, &near(conn, &aircraft, StreamKind::Engine)?))
}

fn engines_among(nodes: &Nodes) -> Nodes {
    let engines = nodes.iter().filter(|(_, stream)| stream.kind == StreamKind::Engine);
    engines.map(|(key, stream)| (*key, *stream)).collect()
}

fn joined(a: &Nodes, b: &Nodes) -> Nodes {
    a.iter().chain(b).map(|(key, stream)| (*key, *stream)).collect()
}

/// The streams of one kind that are linked with any of these.
pub(crate) fn near(conn: &mut AnyConn, of: &Nodes, kind: StreamKind) -> Result<Nodes, StoreError> {
    let keys: Vec<i64> = of.keys().copied().collect();
    let mut found = Nodes::new();
    for keys in keys.chunks(dialect::list_len_max(conn)) {
        let linked = linked(kind_number(kind));
        let rows: Vec<(i64, Id)> = on!(conn, conn => match keys {
            [key] => linked.filter(link::stream_id.eq(*key)).load(conn)?,
            _ => linked.filter(link::stream_id.eq_any(keys)).load(conn)?,
        });
        for (key, uid) in rows {
            found.insert(key, stream_of(kind_number(kind), uid)?);
        }
    }
    Ok(found)
}

/// The streams of one kind, by what they are linked with.
#[diesel::dsl::auto_type(no_type_alias)]
fn linked(kind: i16) -> _ {
    let fleet: i64 = FLEET;
    link::table
        .inner_join(stream::table.on(stream::id.eq(link::other_id)))
        .filter(link::fleet_id.eq(fleet))
        .filter(stream::kind.eq(kind))
        .select((stream::id, stream::uid))
}
