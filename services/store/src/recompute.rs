//! Works out anew what an engine's records amount to, and writes only the rows that differ.

use crate::FLEET;
use crate::bytes::{Digest, Id};
use crate::codec::{self, LineColumns};
use crate::custody;
use crate::days;
use crate::dialect::{self, AnyConn};
use crate::engine_types;
use crate::engines::{SpanRow, StatusRow};
use crate::error::StoreError;
use crate::facts::{self, Around};
use crate::parts;
use crate::priors;
use crate::schema::{due_line, engine_span, engine_status};
use crate::values::Programmes;
use crate::wear;
use chrono::NaiveDate;
use diesel::prelude::*;
use gudgeon_life::conflict::Conflict;
use gudgeon_life::due::due_list;
use gudgeon_life::fact::{Fact, Stream};
use gudgeon_life::history::{EngineState, History, Log};
use gudgeon_life::hours::Hours;
use gudgeon_life::ids::{ComponentId, EngineId, FactId, Uid};
use gudgeon_life::line::DueLine;
use gudgeon_life::status::{Beyond, Status, StatusDays, worst_steps};
use gudgeon_life::sure::engine::{Flying, Forecasts};
use gudgeon_life::sure::prior::Evidence;

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
            detail: codec::line_detail(line, behind.is_none())?,
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

/// What an engine's records amount to, beside what is written of it.
pub(crate) struct WorkedOut {
    status: StatusRow,
    /// What was measured of it, for the hours of others.
    wear: Option<String>,
    /// What its parts tell of how its type wears.
    trends: Option<String>,
    /// How often it was worked out before, by what is written; `None` when nothing is.
    revision: Option<i64>,
    /// All spans, when any differs.
    spans: Option<Vec<SpanRow>>,
    /// The lines that differ.
    lines: Vec<LineRow>,
    /// How many lines there are, when there were more.
    lines_left: Option<i32>,
    /// The facts that it was worked out from, and what they say.
    around: Around,
}

/// Works one engine out anew from the facts that its due lines rest on, and gives those.
pub(crate) fn engine(
    conn: &mut AnyConn,
    key: i64,
    engine: EngineId,
    programmes: &dyn Programmes,
) -> Result<Around, StoreError> {
    work_out(conn, key, engine, None, programmes)?.write(conn)
}

/// What is written of an engine once `also` is one of its facts; nothing is written yet.
pub(crate) fn work_out(
    conn: &mut AnyConn,
    key: i64,
    engine: EngineId,
    also: Option<&Fact>,
    programmes: &dyn Programmes,
) -> Result<WorkedOut, StoreError> {
    let around = facts::around(conn, key, Stream::engine(engine), also)?;
    let history = &around.history;
    let state = history.engine(engine).cloned().unwrap_or_default();
    let programme = match &state.engine_type {
        Some(name) => engine_types::active_programme(conn, name, programmes)?,
        None => None,
    };
    let flying = Flying::of(history, engine);
    let evidence = match &programme {
        Some((_, programme)) => priors::newest_for(conn, programme)?,
        None => Evidence::default(),
    };
    let mut lines = programme
        .as_ref()
        .map_or_else(Vec::new, |(_, programme)| due_list(history, engine, programme, &evidence));
    let digest = programme.as_ref().map(|(digest, _)| *digest);
    let mut status = status(history, &state, engine, key, digest, &flying);
    status.wear_version = priors::followed(&state, &lines, &evidence);
    let (wear, trends) = match &programme {
        Some((_, programme)) => wear::kept(history, &state, engine, programme)?,
        None => (None, None),
    };
    let rows: Vec<LineRow> = match digest {
        Some(digest) => lines
            .iter()
            .enumerate()
            .map(|(ordinal, line)| LineRow::of(&status, ordinal, digest, line))
            .collect::<Result<_, _>>()?,
        None => Vec::new(),
    };
    // Every reading moves these days, and so they are kept with the status: the rows of the lines stay as they are.
    Forecasts::from(flying).plan(&mut lines);
    status.plan_by = plan_by(&lines);
    let spans = spans(key, &steps(programme.is_some(), &lines));
    let before = line_rows(conn, key)?;
    let lines_left = i32::try_from(rows.len()).ok().filter(|_| rows.len() < before.len());
    let differs = |(ordinal, row): &(usize, LineRow)| before.get(*ordinal) != Some(row);
    Ok(WorkedOut {
        status,
        wear,
        trends,
        revision: revision(conn, key)?,
        spans: (span_rows(conn, key)? != spans).then_some(spans),
        lines: rows.into_iter().enumerate().filter(differs).map(|(_, row)| row).collect(),
        lines_left,
        around,
    })
}

impl WorkedOut {
    /// Whether it was compared with what is written now, counted by the version that is active now, and steadied by
    /// the newest of how its type wears.
    pub(crate) fn still_holds(&self, conn: &mut AnyConn) -> QueryResult<bool> {
        let digest = match &self.status.engine_type {
            Some(name) => engine_types::active_digest(conn, name)?,
            None => None,
        };
        let same_version = self.status.type_digest == digest.map(Digest);
        if let (Some(name), Some(followed)) = (&self.status.engine_type, self.status.wear_version)
            && priors::newest_version(conn, name)? != followed
        {
            return Ok(false);
        }
        Ok(same_version && self.revision == revision(conn, self.status.engine_id)?)
    }

    /// The contradictions that a fact brings out.
    pub(crate) fn brought_out_by(&self, id: FactId) -> Vec<Conflict> {
        self.around.brought_out_by(id)
    }

    /// Writes what differs, and gives what it was worked out from.
    pub(crate) fn write(mut self, conn: &mut AnyConn) -> Result<Around, StoreError> {
        let key = self.status.engine_id;
        if let Some((shop, until)) = custody::custodian(conn, key)? {
            self.status.custodian = Some(shop);
            self.status.custodian_until = Some(until).filter(|until| *until != days::LAST);
        }
        self.put_status(conn)?;
        if let Some(spans) = &self.spans {
            diesel::delete(spans_of(key)).execute(conn)?;
            dialect::add_spans(conn, spans)?;
        }
        if let Some(left) = self.lines_left {
            diesel::delete(lines_of(key).filter(due_line::ordinal.ge(left))).execute(conn)?;
        }
        if !self.lines.is_empty() {
            dialect::put_lines(conn, key, &self.lines)?;
        }
        parts::put(conn, key, EngineId(Uid::from(self.status.engine)), &self.around)?;
        Ok(self.around)
    }

    fn put_status(&self, conn: &mut AnyConn) -> QueryResult<usize> {
        let row = &self.status;
        let wear = (
            engine_status::wear.eq(self.wear.as_deref()),
            engine_status::trends.eq(self.trends.as_deref()),
        );
        match self.revision {
            Some(before) => diesel::update(engine_status::table.find((FLEET, row.engine_id)))
                .set((row, wear, engine_status::revision.eq(before + 1)))
                .execute(conn),
            None => diesel::insert_into(engine_status::table)
                .values((row, wear, engine_status::revision.eq(1)))
                .execute(conn),
        }
    }
}

/// Without a programme nothing can be told of an engine: that is `unknown`, never `not-due`.
fn steps(has_programme: bool, lines: &[DueLine]) -> Vec<(NaiveDate, Status)> {
    if !has_programme {
        return vec![(NaiveDate::MIN, Status::Unknown)];
    }
    let lines: Vec<StatusDays> = lines.iter().map(|line| line.days).collect();
    worst_steps(&lines)
}

/// The day to plan each line by, in ten characters and a space: a query takes out that of one line.
fn plan_by(lines: &[DueLine]) -> String {
    let day = |line: &DueLine| match line.plan_by.map(days::stored) {
        Some(day) => format!("{day} "),
        None => format!("{:11}", "-"),
    };
    lines.iter().map(day).collect()
}

fn status(
    history: &History,
    state: &EngineState,
    engine: EngineId,
    key: i64,
    digest: Option<[u8; 32]>,
    flying: &Flying,
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
        custodian: None,
        custodian_until: None,
        tsn_seconds: state.tsn().map(Hours::seconds),
        tso_seconds: state.tso().map(Hours::seconds),
        overhauls: i64::try_from(state.full_overhauls()).unwrap_or(i64::MAX),
        clock_seconds: state.clock.now().map(|point| point.hours.seconds()),
        hours_on: state.hours_on().map(days::stored),
        meter_seconds: history.meter_of(engine).map(|(meter, _)| meter.seconds()),
        logged: state.log == Log::Logged,
        wear_version: None,
        flying: codec::write_flying(flying),
        plan_by: String::new(),
        conflicts: codec::write_sentences(&conflicts),
    }
}

/// How often an engine was worked out, by what is written of it.
fn revision(conn: &mut AnyConn, key: i64) -> QueryResult<Option<i64>> {
    engine_status::table
        .find((FLEET, key))
        .select(engine_status::revision)
        .get_result(conn)
        .optional()
}

#[diesel::dsl::auto_type(no_type_alias)]
fn spans_of(key: i64) -> _ {
    let fleet: i64 = FLEET;
    engine_span::table
        .filter(engine_span::fleet_id.eq(fleet))
        .filter(engine_span::engine_id.eq(key))
}

fn span_rows(conn: &mut AnyConn, key: i64) -> QueryResult<Vec<SpanRow>> {
    spans_of(key).order(engine_span::from_day).select(SpanRow::as_select()).load(conn)
}

#[diesel::dsl::auto_type(no_type_alias)]
fn lines_of(key: i64) -> _ {
    let fleet: i64 = FLEET;
    due_line::table.filter(due_line::fleet_id.eq(fleet)).filter(due_line::engine_id.eq(key))
}

fn line_rows(conn: &mut AnyConn, key: i64) -> QueryResult<Vec<LineRow>> {
    lines_of(key).order(due_line::ordinal).select(LineRow::as_select()).load(conn)
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
