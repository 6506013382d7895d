//! A backup into an empty database: all of it or nothing, and only if every chain and anchor in it holds.
//!
//! Facts are kept by the same code as posts, and what rests on them is worked out once they are all there.

use super::Progress;
use super::lines::Reader;
use super::record::{Anchored, FactLine, Record, ReportLine, SenderLine, StreamLine};
use super::verify::{Verified, Verifier};
use crate::FLEET;
use crate::anchors::{self, HeadRow};
use crate::append;
use crate::codec;
use crate::conn::Store;
use crate::dialect::{self, AnyConn};
use crate::error::StoreError;
use crate::facts::{self, FactBody};
use crate::graph;
use crate::hold;
use crate::parts;
use crate::photos::{self, PhotoRow, SenderRow};
use crate::recompute;
use crate::retry;
use crate::schema::{api_key, attempt, bounce, engine_type, photo, report, stream};
use crate::streams::{self, StreamRow, kind_number, stream_of};
use crate::values::{Instant, Post, Programmes, Texts};
use diesel::prelude::*;
use gudgeon_life::fact::{Fact, StreamKind};
use gudgeon_life::ids::{EngineId, FactId, PartyId, Uid};
use std::io::BufRead;

/// Engines worked out before the next are looked up.
const ENGINES: i64 = 500;
/// Why mails are on hold afterwards.
const HOLD: &str = "this database was restored from a backup, and mails that left after the backup was made are still queued in it";

impl Store {
    /// Restores a backup. Mails are on hold afterwards, until [`Store::release_mails`].
    ///
    /// # Errors
    /// [`StoreError::Refused`] when the database is not empty, [`StoreError::Damaged`] with the line that is not
    /// right, [`StoreError::File`] when the file cannot be read; others when the database fails. Nothing of it
    /// is kept then.
    pub fn restore(
        &self,
        from: &mut dyn BufRead,
        programmes: &dyn Programmes,
        at: Instant,
        progress: Progress<'_>,
    ) -> Result<Verified, StoreError> {
        self.write_once(|conn| {
            // Every post holds the types, so that from here on none comes between.
            dialect::change_types(conn)?;
            refuse_filled(conn)?;
            let mut reader = Reader::new(from);
            let mut verifier = Verifier::default();
            let mut open = None;
            while let Some(record) = reader.next()? {
                verifier.take(&record, Some(reader.line()))?;
                keep(conn, record, &mut open)?;
                progress(reader.facts());
            }
            let found = verifier.finish().map_err(|fault| fault.on_line(Some(reader.line())))?;
            work_out(conn, programmes)?;
            work_out_unfitted(conn)?;
            hold::begin(conn, at, HOLD)?;
            Ok(found)
        })
    }
}

fn refuse_filled(conn: &mut AnyConn) -> Result<(), StoreError> {
    let rows: [i64; 5] = [
        stream::table.count().get_result(conn)?,
        engine_type::table.count().get_result(conn)?,
        api_key::table.count().get_result(conn)?,
        report::table.count().get_result(conn)?,
        photo::table.count().get_result(conn)?,
    ];
    if rows == [0; 5] {
        return Ok(());
    }
    Err(StoreError::Refused(
        "the database is not empty; a backup is restored into a new one".to_owned(),
    ))
}

/// Keeps one record. `open` is the stream whose facts are being read.
fn keep(
    conn: &mut AnyConn,
    record: Record,
    open: &mut Option<StreamRow>,
) -> Result<(), StoreError> {
    match record {
        Record::Export(_) | Record::End(_) => {}
        Record::EngineType(line) => {
            diesel::insert_into(engine_type::table)
                .values((engine_type::fleet_id.eq(FLEET), line))
                .execute(conn)?;
        }
        Record::Stream(line) => *open = Some(keep_stream(conn, &line)?),
        // A fact without a stream does not get past the verifier.
        Record::Fact(line) => {
            if let Some(stream) = open {
                keep_fact(conn, *line, stream)?;
            }
        }
        Record::Anchor(row) => {
            anchors::add(conn, &row)?;
        }
        Record::Key(line) => {
            diesel::insert_into(api_key::table)
                .values((api_key::fleet_id.eq(FLEET), line))
                .execute(conn)?;
        }
        Record::WeekRun(row) => {
            dialect::add_week_run(conn, &row)?;
        }
        Record::WearPrior(row) => {
            dialect::add_wear_prior(conn, &row)?;
        }
        // An erasure that went by has left a row already.
        Record::Preference(row) => {
            dialect::put_preference(conn, &row)?;
        }
        Record::CalendarEntry(row) => {
            dialect::put_calendar_entry(conn, &row)?;
        }
        Record::Report(line) => {
            keep_report(conn, *line)?;
        }
        Record::Bounce(line) => {
            diesel::insert_into(bounce::table)
                .values((bounce::fleet_id.eq(FLEET), line))
                .execute(conn)?;
        }
        Record::Photo(line) => {
            let (digest, received_at) = (line.digest, line.received_at);
            let senders: Vec<SenderRow> = line
                .senders
                .iter()
                .map(|SenderLine { sender, sent_at, size }| SenderRow {
                    fleet_id: FLEET,
                    digest,
                    sender: *sender,
                    sent_at: *sent_at,
                    size: *size,
                })
                .collect();
            let bytes = Some(line.bytes);
            photos::keep(
                conn,
                &PhotoRow { fleet_id: FLEET, digest, bytes, received_at },
                &senders,
            )?;
        }
    }
    Ok(())
}

fn keep_stream(conn: &mut AnyConn, line: &StreamLine) -> Result<StreamRow, StoreError> {
    let row = streams::find_or_add(conn, line.stream())?;
    let heads: Vec<HeadRow> = line
        .anchored
        .iter()
        .map(|Anchored { seq, hash, anchor }| HeadRow {
            fleet_id: FLEET,
            stream_id: row.id,
            seq: *seq,
            hash: *hash,
            anchor_seq: *anchor,
        })
        .collect();
    if !heads.is_empty() {
        dialect::add_anchored_heads(conn, &heads)?;
    }
    Ok(row)
}

fn keep_fact(conn: &mut AnyConn, line: FactLine, stream: &mut StreamRow) -> Result<(), StoreError> {
    let body = FactBody { fleet_id: FLEET, stream_id: stream.id, ..line.body };
    let (entry, _) = codec::read(body.coding())?;
    let post = Post {
        fact: Fact { id: FactId(Uid::from(body.uid)), entry },
        texts: Texts::default(),
        by: body.posted_by.map(|by| PartyId(Uid::from(by))),
        recorded_at: body.recorded_at.map(Instant),
        received_at: Instant(body.received_at),
    };
    let private = line.private.map(|it| (it.salt, it.body));
    if !append::keep(conn, &post, stream, &body, private.as_ref(), false)? {
        return Err(retry::overtaken("the stream"));
    }
    stream.head_seq = body.seq;
    stream.head_hash = body.hash;
    Ok(())
}

/// Keeps a report as nobody has it in hand, and its attempts.
fn keep_report(conn: &mut AnyConn, line: ReportLine) -> QueryResult<()> {
    let row = line.row.at_rest();
    let same = report::table
        .filter(report::fleet_id.eq(FLEET))
        .filter(report::recipient.eq(row.recipient))
        .filter(report::kind.eq(row.kind.clone()))
        .filter(report::week.eq(row.week.clone()))
        .select(report::id);
    let free = (report::fleet_id.eq(FLEET), report::generation.eq(0), report::has_turn.eq(false));
    diesel::insert_into(report::table).values((free, row)).execute(conn)?;
    let key: i64 = same.get_result(conn)?;
    for attempt in line.attempts {
        let of = (attempt::fleet_id.eq(FLEET), attempt::report_id.eq(key));
        diesel::insert_into(attempt::table).values((of, attempt)).execute(conn)?;
    }
    Ok(())
}

/// Works out every engine.
fn work_out(conn: &mut AnyConn, programmes: &dyn Programmes) -> Result<(), StoreError> {
    let mut after = 0;
    loop {
        let engines: Vec<StreamRow> = stream::table
            .filter(stream::fleet_id.eq(FLEET))
            .filter(stream::kind.eq(kind_number(StreamKind::Engine)))
            .filter(stream::id.gt(after))
            .order(stream::id)
            .limit(ENGINES)
            .select(StreamRow::as_select())
            .load(conn)?;
        let Some(end) = engines.last() else { return Ok(()) };
        after = end.id;
        for row in engines {
            recompute::engine(conn, row.id, EngineId(Uid::from(row.uid)), programmes)?;
        }
    }
}

/// Works out the parts that no engine's lines rest on.
fn work_out_unfitted(conn: &mut AnyConn) -> Result<(), StoreError> {
    let mut after = 0;
    loop {
        let rows: Vec<StreamRow> = stream::table
            .filter(stream::fleet_id.eq(FLEET))
            .filter(stream::kind.eq(kind_number(StreamKind::Component)))
            .filter(stream::id.gt(after))
            .order(stream::id)
            .limit(ENGINES)
            .select(StreamRow::as_select())
            .load(conn)?;
        let Some(end) = rows.last() else { return Ok(()) };
        after = end.id;
        for row in rows {
            let of = stream_of(row.kind, row.uid)?;
            if graph::touched(conn, row.id, of)?.is_empty() {
                let around = facts::around(conn, row.id, of)?;
                parts::put_unfitted(conn, row.id, &around)?;
            }
        }
    }
}
