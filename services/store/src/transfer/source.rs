//! A database as records, in chunks: whatever its size, only a chunk is held at a time.

use super::Progress;
use super::record::{
    Anchored, AttemptLine, FactLine, Kind, PhotoLine, Private, Record, ReportColumns, ReportLine,
    SenderLine, StreamLine, TypeLine,
};
use crate::FLEET;
use crate::anchors::{self, HeadRow};
use crate::bytes::{Digest, Id};
use crate::calendars::CalendarRecord;
use crate::dialect::AnyConn;
use crate::error::StoreError;
use crate::facts::{self, FactRow};
use crate::preferences::PreferenceRecord;
use crate::priors;
use crate::schema::{
    api_key, attempt, bounce, calendar_entry, engine_type, photo, photo_sender, preference, report,
    stream,
};
use crate::streams::{StreamRow, later_than, stream_of};
use crate::week_runs;
use diesel::prelude::*;
use std::collections::HashMap;

/// Rows read at a time.
const CHUNK: i64 = 500;
/// Mails read at a time: they are large.
const REPORTS: i64 = 50;

/// Takes one record after another.
type Take<'a> = &'a mut dyn FnMut(Record) -> Result<(), StoreError>;

/// Everything but the first and the last line, in the order of the file.
pub(super) fn everything(
    conn: &mut AnyConn,
    progress: Progress<'_>,
    take: Take<'_>,
) -> Result<(), StoreError> {
    let types: Vec<TypeLine> = engine_type::table
        .filter(engine_type::fleet_id.eq(FLEET))
        .order((engine_type::name, engine_type::added_at, engine_type::digest))
        .select(TypeLine::as_select())
        .load(conn)?;
    types.into_iter().try_for_each(|line| take(Record::EngineType(line)))?;
    chains(conn, progress, take)?;
    keys(conn, take)?;
    preferences(conn, take)?;
    calendar_entries(conn, take)?;
    for row in week_runs::all(conn)? {
        take(Record::WeekRun(row))?;
    }
    for row in priors::all(conn)? {
        take(Record::WearPrior(row))?;
    }
    reports(conn, take)?;
    bounces(conn, take)?;
    photos(conn, take)
}

/// The streams with their facts, and the anchors.
pub(super) fn chains(
    conn: &mut AnyConn,
    progress: Progress<'_>,
    take: Take<'_>,
) -> Result<(), StoreError> {
    let mut done = 0;
    let mut after = None;
    loop {
        let rows = some_streams(conn, after)?;
        let Some(end) = rows.last() else { break };
        after = Some((end.kind, end.uid));
        let keys: Vec<i64> = rows.iter().map(|row| row.id).collect();
        let mut heads: HashMap<i64, Vec<HeadRow>> = HashMap::new();
        for head in anchors::heads_of(conn, &keys)? {
            heads.entry(head.stream_id).or_default().push(head);
        }
        for row in &rows {
            take(stream_record(row, heads.remove(&row.id).unwrap_or_default())?)?;
            done += facts_of(conn, row.id, take)?;
        }
        progress(done);
    }
    let mut after = 0;
    loop {
        let rows = anchors::some(conn, after, CHUNK)?;
        let Some(end) = rows.last() else { return Ok(()) };
        after = end.seq;
        rows.into_iter().try_for_each(|row| take(Record::Anchor(row)))?;
    }
}

/// Streams after one in order of (kind, identifier), those without a fact too.
fn some_streams(conn: &mut AnyConn, after: Option<(i16, Id)>) -> QueryResult<Vec<StreamRow>> {
    let mut select = stream::table
        .filter(stream::fleet_id.eq(FLEET))
        .order((stream::kind, stream::uid))
        .limit(CHUNK)
        .select(StreamRow::as_select())
        .into_boxed();
    if let Some((kind, uid)) = after {
        select = select.filter(later_than(kind, uid));
    }
    select.load(conn)
}

fn stream_record(row: &StreamRow, heads: Vec<HeadRow>) -> Result<Record, StoreError> {
    let kind = Kind::of(stream_of(row.kind, row.uid)?.kind);
    let anchored = heads.into_iter().map(|head| Anchored {
        seq: head.seq,
        hash: head.hash,
        anchor: head.anchor_seq,
    });
    Ok(Record::Stream(StreamLine {
        kind,
        id: row.uid,
        facts: row.head_seq,
        hash: row.head_hash,
        anchored: anchored.collect(),
    }))
}

/// The facts of a stream; gives how many.
fn facts_of(conn: &mut AnyConn, stream_id: i64, take: Take<'_>) -> Result<u64, StoreError> {
    let mut done = 0;
    let mut after = i64::MIN;
    loop {
        let rows = facts::some_rows_of(conn, stream_id, after, CHUNK)?;
        let Some(end) = rows.last() else { return Ok(done) };
        after = end.body.seq;
        for FactRow { body, private, .. } in rows {
            let private = private.map(|(salt, body)| Private { salt, body });
            take(Record::Fact(Box::new(FactLine { body, private })))?;
            done += 1;
        }
    }
}

fn keys(conn: &mut AnyConn, take: Take<'_>) -> Result<(), StoreError> {
    let mut after = 0;
    loop {
        let rows = api_key::table
            .filter(api_key::fleet_id.eq(FLEET))
            .filter(api_key::id.gt(after))
            .order(api_key::id)
            .limit(CHUNK)
            .select((api_key::id, super::record::KeyLine::as_select()))
            .load(conn)?;
        let Some((end, _)) = rows.last() else { return Ok(()) };
        after = *end;
        rows.into_iter().try_for_each(|(_, line)| take(Record::Key(line)))?;
    }
}

fn preferences(conn: &mut AnyConn, take: Take<'_>) -> Result<(), StoreError> {
    let mut after: Option<(Id, String)> = None;
    loop {
        let mut select = preference::table
            .filter(preference::fleet_id.eq(FLEET))
            .order((preference::party, preference::kind))
            .limit(CHUNK)
            .select(PreferenceRecord::as_select())
            .into_boxed();
        if let Some((party, kind)) = after {
            let of_same = preference::party.eq(party).and(preference::kind.gt(kind));
            select = select.filter(preference::party.gt(party).or(of_same));
        }
        let rows: Vec<PreferenceRecord> = select.load(conn)?;
        let Some(end) = rows.last() else { return Ok(()) };
        after = Some((end.party, end.kind.clone()));
        rows.into_iter().try_for_each(|row| take(Record::Preference(row)))?;
    }
}

fn calendar_entries(conn: &mut AnyConn, take: Take<'_>) -> Result<(), StoreError> {
    let mut after: Option<(Id, Id)> = None;
    loop {
        let mut select = calendar_entry::table
            .filter(calendar_entry::fleet_id.eq(FLEET))
            .order((calendar_entry::party, calendar_entry::uid))
            .limit(CHUNK)
            .select(CalendarRecord::as_select())
            .into_boxed();
        if let Some((party, uid)) = after {
            let of_same = calendar_entry::party.eq(party).and(calendar_entry::uid.gt(uid));
            select = select.filter(calendar_entry::party.gt(party).or(of_same));
        }
        let rows: Vec<CalendarRecord> = select.load(conn)?;
        let Some(end) = rows.last() else { return Ok(()) };
        after = Some((end.party, end.uid));
        rows.into_iter().try_for_each(|row| take(Record::CalendarEntry(row)))?;
    }
}

fn reports(conn: &mut AnyConn, take: Take<'_>) -> Result<(), StoreError> {
    let mut after = 0;
    loop {
        let rows = report::table
            .filter(report::fleet_id.eq(FLEET))
            .filter(report::id.gt(after))
            .order(report::id)
            .limit(REPORTS)
            .select((report::id, ReportColumns::as_select()))
            .load(conn)?;
        let Some((end, _)) = rows.last() else { return Ok(()) };
        after = *end;
        let keys: Vec<i64> = rows.iter().map(|(key, _)| *key).collect();
        let mut attempts: HashMap<i64, Vec<AttemptLine>> = HashMap::new();
        for (key, line) in attempts_of(conn, &keys)? {
            attempts.entry(key).or_default().push(line);
        }
        for (key, row) in rows {
            let attempts = attempts.remove(&key).unwrap_or_default();
            take(Record::Report(Box::new(ReportLine { row, attempts })))?;
        }
    }
}

/// The mails that came back, those of one recipient after the other.
fn bounces(conn: &mut AnyConn, take: Take<'_>) -> Result<(), StoreError> {
    let mut after: Option<Id> = None;
    loop {
        let mut select = bounce::table
            .filter(bounce::fleet_id.eq(FLEET))
            .order(bounce::recipient)
            .limit(CHUNK)
            .select(bounce::recipient)
            .distinct()
            .into_boxed();
        if let Some(after) = after {
            select = select.filter(bounce::recipient.gt(after));
        }
        let recipients: Vec<Id> = select.load(conn)?;
        let Some(end) = recipients.last() else { return Ok(()) };
        after = Some(*end);
        let lines: Vec<super::record::BounceLine> = bounce::table
            .filter(bounce::fleet_id.eq(FLEET))
            .filter(bounce::recipient.eq_any(&recipients))
            .order((bounce::recipient, bounce::kind, bounce::week, bounce::permanent))
            .select(super::record::BounceLine::as_select())
            .load(conn)?;
        lines.into_iter().try_for_each(|line| take(Record::Bounce(line)))?;
    }
}

fn attempts_of(conn: &mut AnyConn, keys: &[i64]) -> QueryResult<Vec<(i64, AttemptLine)>> {
    attempt::table
        .filter(attempt::fleet_id.eq(FLEET))
        .filter(attempt::report_id.eq_any(keys))
        .order((attempt::report_id, attempt::number))
        .select((attempt::report_id, AttemptLine::as_select()))
        .load(conn)
}

/// The photographs in order of their digests, each read alone: they are the largest of all records.
pub(super) fn photos(conn: &mut AnyConn, take: Take<'_>) -> Result<(), StoreError> {
    let mut after: Option<Digest> = None;
    loop {
        let mut select = photo::table
            .filter(photo::fleet_id.eq(FLEET))
            .filter(photo::bytes.is_not_null())
            .order(photo::digest)
            .limit(CHUNK)
            .select((photo::digest, photo::received_at))
            .into_boxed();
        if let Some(after) = after {
            select = select.filter(photo::digest.gt(after));
        }
        let rows: Vec<(Digest, i64)> = select.load(conn)?;
        let Some((end, _)) = rows.last() else { return Ok(()) };
        after = Some(*end);
        for (digest, received_at) in rows {
            let Some(bytes) = crate::photos::bytes(conn, digest)? else { continue };
            let senders = photo_sender::table
                .filter(photo_sender::fleet_id.eq(FLEET))
                .filter(photo_sender::digest.eq(digest))
                .order(photo_sender::sender)
                .select(SenderLine::as_select())
                .load(conn)?;
            take(Record::Photo(Box::new(PhotoLine { digest, received_at, bytes, senders })))?;
        }
    }
}
