//! Works out anew what an engine's records amount to, and writes only the rows that differ.

use crate::FLEET;
use crate::bytes::{Digest, Id};
use crate::codec;
use crate::custody;
use crate::days;
use crate::dialect::{self, AnyConn, Update, on};
use crate::engine_types;
use crate::engines::{SpanRow, StatusRow};
use crate::error::StoreError;
use crate::facts::{Around, Records};
use crate::lines::{LineRow, Lines};
use crate::parts;
use crate::priors;
use crate::retry;
use crate::schema::{due_line, engine_span, engine_status};
use crate::values::Programmes;
use crate::wear;
use chrono::NaiveDate;
use diesel::dsl::{exists, not};
use diesel::prelude::*;
use gudgeon_life::conflict::Conflict;
use gudgeon_life::due::due_list;
use gudgeon_life::fact::Stream;
use gudgeon_life::history::{EngineState, History, Log};
use gudgeon_life::hours::Hours;
use gudgeon_life::ids::{EngineId, Uid};
use gudgeon_life::line::DueLine;
use gudgeon_life::programme::EngineType;
use gudgeon_life::status::{Status, StatusDays, worst_steps};
use gudgeon_life::sure::engine::{Flying, Forecasts};
use gudgeon_life::sure::prior::Evidence;
use std::sync::Arc;

/// What an engine's records amount to, beside what is written of it.
pub(crate) struct WorkedOut {
    pub(crate) status: StatusRow,
    /// What was measured of it, for the hours of others.
    wear: Option<String>,
    /// What its parts tell of how its type wears.
    trends: Option<String>,
    /// What it was counted by.
    counted_by: Option<CountedBy>,
    /// What was written of it before.
    before: Written,
    spans: Vec<SpanRow>,
    /// The lines that differ.
    changed: Vec<LineRow>,
    /// All of them.
    lines: Vec<DueLine>,
    /// The facts that it was worked out from, and what they say.
    pub(crate) around: Around,
}

/// Works one engine out anew from the facts that its due lines rest on, and gives those.
pub(crate) fn engine(
    conn: &mut AnyConn,
    key: i64,
    engine: EngineId,
    programmes: &dyn Programmes,
) -> Result<Around, StoreError> {
    let records = Records::around(conn, key, Stream::engine(engine))?;
    let before = Written::read(conn, key)?;
    let now =
        work_out(key, engine, records, before, |_, state| CountedBy::now(conn, state, programmes))?;
    let custodian = custody::custodian(conn, key)?;
    if !now.write(conn, custodian)? {
        return Err(retry::overtaken("the engine"));
    }
    parts::put(conn, key, engine, &now.around)?;
    Ok(now.around)
}

/// What is to be written of an engine by its records; nothing is written yet.
pub(crate) fn work_out(
    key: i64,
    engine: EngineId,
    records: Records,
    before: Written,
    counted_by_of: impl FnOnce(&Written, &EngineState) -> Result<Option<CountedBy>, StoreError>,
) -> Result<WorkedOut, StoreError> {
    let around = records.told();
    let history = &around.history;
    let state = history.engine(engine).cloned().unwrap_or_default();
    let counted_by = counted_by_of(&before, &state)?;
    let flying = Flying::of(history, engine);
    let mut lines = counted_by
        .as_ref()
        .map_or_else(Vec::new, |it| due_list(history, engine, &it.programme, &it.evidence));
    let digest = counted_by.as_ref().map(|it| it.digest);
    let mut status = status(history, &state, engine, key, digest, &flying)?;
    let (wear, trends) = match &counted_by {
        Some(it) => {
            status.wear_version = priors::followed(&state, &lines, &it.evidence);
            wear::kept(history, &state, engine, &it.programme)?
        }
        None => (None, None),
    };
    let changed = match digest {
        Some(digest) => before.lines.changed(&status, digest, &lines)?,
        None => Vec::new(),
    };
    // Every reading moves these days, and so they are kept with the status: the rows of the lines stay as they are.
    let coming: Vec<Option<NaiveDate>> = lines.iter().map(|line| line.days.coming_from).collect();
    Forecasts::from(flying).plan(&mut lines);
    status.plan_by = plan_by(&lines);
    let spans = spans(key, &steps(counted_by.is_some(), &lines));
    for (line, coming_from) in lines.iter_mut().zip(coming) {
        line.days.coming_from = coming_from;
    }
    Ok(WorkedOut { status, wear, trends, counted_by, before, spans, changed, lines, around })
}

impl WorkedOut {
    /// Which engine.
    pub(crate) fn engine(&self) -> EngineId {
        EngineId(Uid::from(self.status.engine))
    }

    /// Writes what differs; false when anything else was written of the engine since it was read, another version of
    /// its type is active by now, or more is known of how that wears. Some of it may be written then.
    pub(crate) fn write(
        &self,
        conn: &mut AnyConn,
        custodian: Option<(Id, NaiveDate)>,
    ) -> QueryResult<bool> {
        let key = self.status.engine_id;
        if !self.put_status(conn, custodian)? {
            return Ok(false);
        }
        if self.before.spans != self.spans {
            dialect::execute(conn, &diesel::delete(spans_of(key)))?;
            dialect::add_spans(conn, &self.spans)?;
        }
        if self.lines.len() < self.before.lines.len() {
            let left = i32::try_from(self.lines.len()).unwrap_or(i32::MAX);
            diesel::delete(lines_of(key).filter(due_line::ordinal.ge(left))).execute(conn)?;
        }
        if !self.changed.is_empty() {
            dialect::put_lines(conn, key, &self.changed)?;
        }
        Ok(true)
    }

    fn put_status(
        &self,
        conn: &mut AnyConn,
        custodian: Option<(Id, NaiveDate)>,
    ) -> QueryResult<bool> {
        struct PutCounted;
        struct PutUncounted;
        let row = &self.status.clone().in_custody(custodian);
        let told = (
            engine_status::wear.eq(self.wear.as_deref()),
            engine_status::trends.eq(self.trends.as_deref()),
        );
        let Some(revision) = self.before.revision else {
            let first = (row, told, engine_status::revision.eq(1));
            return diesel::insert_into(engine_status::table)
                .values(first)
                .execute(conn)
                .map(|_| true);
        };
        let set = (row, told, engine_status::revision.eq(revision + 1));
        let same = engine_status::fleet_id
            .eq(FLEET)
            .and(engine_status::engine_id.eq(row.engine_id))
            .and(engine_status::revision.eq(revision));
        let changed = match (&row.engine_type, row.type_digest) {
            (Some(name), Some(digest)) => {
                let is_active = exists(engine_types::active_as(name, digest));
                let is_newest = not(exists(priors::later_than(name, row.wear_version)));
                let same = same.and(is_active).and(is_newest);
                dialect::execute(conn, &Update::of(PutCounted, &engine_status::table, set, same))?
            }
            _ => {
                dialect::execute(conn, &Update::of(PutUncounted, &engine_status::table, set, same))?
            }
        };
        Ok(changed == 1)
    }

    /// The records, and what is written of them, once this is.
    pub(crate) fn written(self) -> (Records, Written) {
        let Self { status, counted_by, before, spans, lines, around, .. } = self;
        let measured = status.measured();
        let lines = match &counted_by {
            Some(it) => Lines::Counted { digest: it.digest, measured, lines },
            None => Lines::Read(Vec::new()),
        };
        let revision = Some(before.revision.map_or(1, |revision| revision + 1));
        (around.records, Written { revision, counted_by, spans, lines })
    }
}

/// What is written of an engine.
pub(crate) struct Written {
    /// How often it was worked out; `None` when it never was.
    revision: Option<i64>,
    /// What it was counted by, when that is remembered.
    counted_by: Option<CountedBy>,
    spans: Vec<SpanRow>,
    lines: Lines,
}

impl Written {
    pub(crate) fn read(conn: &mut AnyConn, key: i64) -> QueryResult<Self> {
        let status = engine_status::table.find((FLEET, key)).select(engine_status::revision);
        let revision = on!(conn, conn => status.get_result(conn)).optional()?;
        let lines = Lines::Read(line_rows(conn, key)?);
        Ok(Self { revision, counted_by: None, spans: span_rows(conn, key)?, lines })
    }

    /// What it was counted by, as far as that is remembered and is of its type.
    pub(crate) fn counted_by(&self, state: &EngineState) -> Option<CountedBy> {
        let of_type = |it: &&CountedBy| state.engine_type.as_ref() == Some(&it.programme.name);
        self.counted_by.as_ref().filter(of_type).cloned()
    }
}

/// What an engine is counted by: the active version of its type, and what is known of how the type wears.
#[derive(Clone)]
pub(crate) struct CountedBy {
    /// Of the type's file.
    digest: [u8; 32],
    programme: Arc<EngineType>,
    evidence: Arc<Evidence>,
}

impl CountedBy {
    /// What engines in a state are counted by now; `None` when the engine is not registered, or of a type that is not
    /// here.
    pub(crate) fn now(
        conn: &mut AnyConn,
        state: &EngineState,
        programmes: &dyn Programmes,
    ) -> Result<Option<Self>, StoreError> {
        let Some(name) = &state.engine_type else { return Ok(None) };
        let Some((digest, programme)) = engine_types::active_programme(conn, name, programmes)?
        else {
            return Ok(None);
        };
        let evidence = Arc::new(priors::newest_for(conn, &programme)?);
        Ok(Some(Self { digest, programme, evidence }))
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
    let mut text = String::with_capacity(11 * lines.len());
    for line in lines {
        match line.plan_by.map(days::stored) {
            Some(day) => text.push_str(&days::iso(day)),
            None => text.push_str("-         "),
        }
        text.push(' ');
    }
    text
}

fn status(
    history: &History,
    state: &EngineState,
    engine: EngineId,
    key: i64,
    digest: Option<[u8; 32]>,
    flying: &Flying,
) -> Result<StatusRow, StoreError> {
    let aircraft = state.aircraft.and_then(|id| history.aircraft(id));
    let conflicts: Vec<String> =
        history.conflicts_of(engine).into_iter().map(Conflict::printed).collect();
    Ok(StatusRow {
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
        flying: codec::write_flying(flying)?,
        plan_by: String::new(),
        conflicts: codec::write_sentences(&conflicts),
    })
}

#[diesel::dsl::auto_type(no_type_alias)]
fn spans_of(key: i64) -> _ {
    let fleet: i64 = FLEET;
    engine_span::table
        .filter(engine_span::fleet_id.eq(fleet))
        .filter(engine_span::engine_id.eq(key))
}

fn span_rows(conn: &mut AnyConn, key: i64) -> QueryResult<Vec<SpanRow>> {
    let rows = spans_of(key).order(engine_span::from_day);
    on!(conn, conn => rows.select(SpanRow::as_select()).load(conn))
}

#[diesel::dsl::auto_type(no_type_alias)]
fn lines_of(key: i64) -> _ {
    let fleet: i64 = FLEET;
    due_line::table.filter(due_line::fleet_id.eq(fleet)).filter(due_line::engine_id.eq(key))
}

fn line_rows(conn: &mut AnyConn, key: i64) -> QueryResult<Vec<LineRow>> {
    let rows = lines_of(key).order(due_line::ordinal);
    on!(conn, conn => rows.select(LineRow::as_select()).load(conn))
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
