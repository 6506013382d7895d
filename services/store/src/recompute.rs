//! Works out anew what an engine's records amount to, and writes only the rows that differ.

use crate::FLEET;
use crate::bytes::{Digest, Id};
use crate::codec::{self, LineColumns};
use crate::custody;
use crate::days;
use crate::dialect::{self, AnyConn};
use crate::engine_types;
use crate::engines::{SpanRow, StatusRow, status_row};
use crate::error::StoreError;
use crate::facts::{self, Around};
use crate::parts;
use crate::schema::{due_line, engine_span, engine_status};
use crate::values::Programmes;
use chrono::NaiveDate;
use diesel::prelude::*;
use gudgeon_life::conflict::Conflict;
use gudgeon_life::due::due_list;
use gudgeon_life::fact::Stream;
use gudgeon_life::history::{EngineState, History, Log};
use gudgeon_life::hours::Hours;
use gudgeon_life::ids::{ComponentId, EngineId, Uid};
use gudgeon_life::line::DueLine;
use gudgeon_life::programme::EngineType;
use gudgeon_life::status::{Beyond, Status, StatusDays, worst_steps};
use std::collections::BTreeSet;
use std::sync::Arc;

/// A due line as a row.
#[derive(Clone, Debug, PartialEq, Eq, Insertable, Queryable, Selectable)]
#[diesel(table_name = due_line, treat_none_as_default_value = false)]
pub(crate) struct LineRow {
    pub(crate) fleet_id: i64,
    pub(crate) engine_id: i64,
    pub(crate) ordinal: i32,
    pub(crate) item: String,
    pub(crate) position: Option<String>,
    pub(crate) component: Option<Id>,
    pub(crate) due_on: Option<NaiveDate>,
    pub(crate) due_seconds: Option<i64>,
    pub(crate) latest_on: Option<NaiveDate>,
    pub(crate) latest_seconds: Option<i64>,
    pub(crate) unknown_from: Option<NaiveDate>,
    pub(crate) coming_from: Option<NaiveDate>,
    pub(crate) due_from: Option<NaiveDate>,
    pub(crate) late_from: Option<NaiveDate>,
    pub(crate) beyond: i16,
    pub(crate) behind_seconds: Option<i64>,
    pub(crate) type_digest: Digest,
    pub(crate) detail: String,
}

impl LineRow {
    fn of(
        status: &StatusRow,
        ordinal: usize,
        digest: [u8; 32],
        line: &DueLine,
    ) -> Result<Self, StoreError> {
        let measured = status.measured();
        let behind = measured.behind(line);
        let ordinal = i32::try_from(ordinal)
            .map_err(|error| StoreError::Refused(format!("too many due lines: {error}")))?;
        Ok(Self {
            fleet_id: FLEET,
            engine_id: status.engine_id,
            ordinal,
            item: line.item.as_str().to_owned(),
            position: line.position.as_ref().map(|at| at.as_str().to_owned()),
            component: line.component.map(|id| Id::from(id.0)),
            due_on: line.due_on().map(days::stored),
            due_seconds: line.due_hours().map(Hours::seconds),
            latest_on: line.latest_on().map(days::stored),
            latest_seconds: line.latest_hours().map(Hours::seconds),
            unknown_from: line.days.unknown_from.map(days::stored),
            coming_from: line.days.coming_from.map(days::stored),
            due_from: line.days.due_from.map(days::stored),
            late_from: line.days.late_from.map(days::stored),
            beyond: match line.days.beyond {
                Beyond::Tolerance => 0,
                Beyond::Extension => 1,
            },
            behind_seconds: behind.map(Hours::seconds),
            type_digest: Digest(digest),
            detail: codec::line_detail(line, behind.is_none()),
        })
    }

    /// The line that the row holds.
    pub(crate) fn line(&self, measured: &Measured) -> Result<DueLine, StoreError> {
        let status_days = StatusDays {
            unknown_from: self.unknown_from.map(days::read),
            coming_from: self.coming_from.map(days::read),
            due_from: self.due_from.map(days::read),
            late_from: self.late_from.map(days::read),
            beyond: if self.beyond == 0 { Beyond::Tolerance } else { Beyond::Extension },
        };
        let columns = LineColumns {
            item: &self.item,
            position: self.position.as_deref(),
            component: self.component.map(|id| ComponentId(Uid::from(id))),
            days: status_days,
            measured: *measured,
            behind: self.behind_seconds.map(Hours::from_seconds),
        };
        codec::read_line_detail(&columns, &self.detail)
    }
}

/// What an engine's lines are measured against: its own count, the day of the last reading, the meter.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Measured {
    pub(crate) clock: Option<Hours>,
    pub(crate) hours_on: Option<NaiveDate>,
    pub(crate) meter: Option<Hours>,
}

impl Measured {
    /// How far a line's own count stands behind the engine's; `None` when the line is not read together
    /// with the engine, and says its hours itself.
    fn behind(&self, line: &DueLine) -> Option<Hours> {
        let together = self.hours_on == line.hours_on;
        self.clock.zip(line.hours_now).filter(|_| together).map(|(clock, now)| clock - now)
    }
}

/// Works one engine out anew from the facts that its due lines rest on, and gives those.
pub(crate) fn engine(
    conn: &mut AnyConn,
    key: i64,
    engine: EngineId,
    programmes: &dyn Programmes,
) -> Result<Around, StoreError> {
    let around = facts::around(conn, key, Stream::engine(engine))?;
    let history = &around.history;
    let state = history.engine(engine).cloned().unwrap_or_default();
    let programme = programme(conn, &state, programmes)?;
    let lines = programme
        .as_ref()
        .map_or_else(Vec::new, |(_, programme)| due_list(history, engine, programme));
    let digest = programme.as_ref().map(|(digest, _)| *digest);
    let custodian = custody::custodian(conn, key)?;
    let status = status(history, &state, engine, key, digest, custodian);
    put_status(conn, &status)?;
    put_spans(conn, key, &steps(programme.is_some(), &lines))?;
    let rows: Vec<LineRow> = match digest {
        Some(digest) => lines
            .iter()
            .enumerate()
            .map(|(ordinal, line)| LineRow::of(&status, ordinal, digest, line))
            .collect::<Result<_, _>>()?,
        None => Vec::new(),
    };
    put_lines(conn, key, rows)?;
    parts::put(conn, key, engine, &around)?;
    Ok(around)
}

/// A programme with the digest of its file.
type Programme = ([u8; 32], Arc<EngineType>);

/// The active programme of an engine's type, with its digest; `None` when it is not registered, or of a
/// type that is not here.
fn programme(
    conn: &mut AnyConn,
    state: &EngineState,
    programmes: &dyn Programmes,
) -> Result<Option<Programme>, StoreError> {
    let Some(name) = &state.engine_type else { return Ok(None) };
    let Some(row) = engine_types::active(conn, name.as_str())? else { return Ok(None) };
    let programme = programmes.get(&row.digest, &row.toml).ok_or_else(|| {
        StoreError::Corrupt(format!("the active engine type `{name}` cannot be read"))
    })?;
    Ok(Some((row.digest, programme)))
}

/// Without a programme nothing can be told of an engine: that is `unknown`, never `not-due`.
fn steps(has_programme: bool, lines: &[DueLine]) -> Vec<(NaiveDate, Status)> {
    if !has_programme {
        return vec![(NaiveDate::MIN, Status::Unknown)];
    }
    let lines: Vec<StatusDays> = lines.iter().map(|line| line.days).collect();
    worst_steps(&lines)
}

fn status(
    history: &History,
    state: &EngineState,
    engine: EngineId,
    key: i64,
    digest: Option<[u8; 32]>,
    custodian: Option<(Id, NaiveDate)>,
) -> StatusRow {
    let aircraft = state.aircraft.and_then(|id| history.aircraft(id));
    let conflicts: Vec<String> =
        history.conflicts_of(engine).into_iter().map(Conflict::printed).collect();
    StatusRow {
        fleet_id: FLEET,
        engine_id: key,
        engine: Id::from(engine.0),
        engine_type: state.engine_type.as_ref().map(|name| name.as_str().to_owned()),
        type_digest: digest.map(Digest),
        serial: state.serial.clone(),
        aircraft: state.aircraft.map(|id| Id::from(id.0)),
        mark: aircraft.and_then(|aircraft| aircraft.mark.clone()),
        owner: history.owner_of(engine).map(|id| Id::from(id.0)),
        custodian: custodian.map(|(shop, _)| shop),
        custodian_until: custodian.map(|(_, until)| until).filter(|until| *until != days::LAST),
        tsn_seconds: state.tsn().map(Hours::seconds),
        tso_seconds: state.tso().map(Hours::seconds),
        overhauls: i64::try_from(state.full_overhauls()).unwrap_or(i64::MAX),
        clock_seconds: state.clock.now().map(|point| point.hours.seconds()),
        hours_on: state.hours_on().map(days::stored),
        meter_seconds: history.meter_of(engine).map(|(meter, _)| meter.seconds()),
        logged: state.log == Log::Logged,
        conflicts: codec::write_sentences(&conflicts),
    }
}

fn put_status(conn: &mut AnyConn, row: &StatusRow) -> QueryResult<()> {
    match status_row(conn, row.engine_id)? {
        Some(before) if before == *row => {}
        Some(_) => {
            diesel::update(engine_status::table.find((FLEET, row.engine_id)))
                .set(row)
                .execute(conn)?;
        }
        None => {
            diesel::insert_into(engine_status::table).values(row).execute(conn)?;
        }
    }
    Ok(())
}

fn put_spans(conn: &mut AnyConn, key: i64, steps: &[(NaiveDate, Status)]) -> QueryResult<()> {
    let rows = spans(key, steps);
    let of_engine = || {
        engine_span::table
            .filter(engine_span::fleet_id.eq(FLEET))
            .filter(engine_span::engine_id.eq(key))
    };
    let before: Vec<SpanRow> =
        of_engine().order(engine_span::from_day).select(SpanRow::as_select()).load(conn)?;
    if before != rows {
        diesel::delete(of_engine()).execute(conn)?;
        dialect::add_spans(conn, &rows)?;
    }
    Ok(())
}

/// Steps as rows without gap or overlap. Steps that fall together on the last storable day are left to the
/// one before it.
fn spans(key: i64, steps: &[(NaiveDate, Status)]) -> Vec<SpanRow> {
    let mut rows: Vec<SpanRow> = Vec::new();
    for (from, status) in steps {
        let from_day = days::stored(*from);
        if let Some(before) = rows.last_mut() {
            if from_day <= before.from_day {
                continue;
            }
            before.until_day = from_day.pred_opt().unwrap_or(from_day);
        }
        rows.push(SpanRow {
            fleet_id: FLEET,
            engine_id: key,
            from_day,
            until_day: days::LAST,
            rank: status.rank(),
        });
    }
    rows
}

fn put_lines(conn: &mut AnyConn, key: i64, rows: Vec<LineRow>) -> QueryResult<()> {
    let of_engine =
        || due_line::table.filter(due_line::fleet_id.eq(FLEET)).filter(due_line::engine_id.eq(key));
    let before: Vec<LineRow> =
        of_engine().order(due_line::ordinal).select(LineRow::as_select()).load(conn)?;
    let unchanged: BTreeSet<i32> = before
        .iter()
        .zip(&rows)
        .filter(|(before, after)| before == after)
        .map(|(_, after)| after.ordinal)
        .collect();
    let stale: Vec<i32> =
        before.iter().map(|row| row.ordinal).filter(|at| !unchanged.contains(at)).collect();
    let fresh: Vec<LineRow> =
        rows.into_iter().filter(|row| !unchanged.contains(&row.ordinal)).collect();
    if !stale.is_empty() {
        diesel::delete(of_engine().filter(due_line::ordinal.eq_any(stale))).execute(conn)?;
    }
    if !fresh.is_empty() {
        dialect::add_lines(conn, &fresh)?;
    }
    Ok(())
}
