//! Due lines as rows, and which of them a change writes anew.

use crate::FLEET;
use crate::bytes::{Digest, Id};
use crate::codec::{self, LineColumns};
use crate::days;
use crate::engines::StatusRow;
use crate::error::StoreError;
use crate::schema::due_line;
use chrono::NaiveDate;
use diesel::prelude::*;
use gudgeon_life::hours::Hours;
use gudgeon_life::ids::{ComponentId, Uid};
use gudgeon_life::line::DueLine;
use gudgeon_life::status::{Beyond, StatusDays};

/// A due line as a row.
#[derive(Clone, Debug, PartialEq, Eq, AsChangeset, Insertable, Queryable, Selectable)]
#[diesel(table_name = due_line, primary_key(fleet_id, engine_id, ordinal))]
#[diesel(treat_none_as_default_value = false, treat_none_as_null = true)]
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
    pub(crate) fn of(
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

/// The lines of an engine as they are written.
pub(crate) enum Lines {
    /// As they were read.
    Read(Vec<LineRow>),
    /// As they were worked out, and then written.
    Counted {
        /// The version of the programme that they were counted by.
        digest: [u8; 32],
        measured: Measured,
        lines: Vec<DueLine>,
    },
}

impl Lines {
    /// How many there are.
    pub(crate) fn len(&self) -> usize {
        match self {
            Self::Read(rows) => rows.len(),
            Self::Counted { lines, .. } => lines.len(),
        }
    }

    /// The rows to write so that these lines stand in place of those.
    pub(crate) fn changed(
        &self,
        status: &StatusRow,
        digest: [u8; 32],
        lines: &[DueLine],
    ) -> Result<Vec<LineRow>, StoreError> {
        let mut changed = Vec::new();
        for (ordinal, line) in lines.iter().enumerate() {
            if self.surely_has(ordinal, status, digest, line) {
                continue;
            }
            let row = LineRow::of(status, ordinal, digest, line)?;
            if !matches!(self, Self::Read(rows) if rows.get(ordinal) == Some(&row)) {
                changed.push(row);
            }
        }
        Ok(changed)
    }

    /// Whether a line that was worked out before makes the same row, by what it says.
    fn surely_has(
        &self,
        ordinal: usize,
        status: &StatusRow,
        digest: [u8; 32],
        line: &DueLine,
    ) -> bool {
        let Self::Counted { digest: before, measured, lines } = self else { return false };
        let Some(written) = lines.get(ordinal).filter(|_| *before == digest) else { return false };
        let behind = status.measured().behind(line);
        behind == measured.behind(written) && makes_the_same_row(written, line, behind.is_none())
    }
}

/// Whether two lines make the same row, but for how far they are behind the engine. Hours are in it for those
/// alone that are not read together with the engine, and the day to plan by never is.
fn makes_the_same_row(a: &DueLine, b: &DueLine, with_hours: bool) -> bool {
    let DueLine {
        item,
        title,
        asked_by,
        position,
        component,
        class,
        source,
        legs,
        hours_now,
        hours_on,
        meter_now,
        plan_by: _,
        last,
        last_overrun,
        last_overrun_beyond_tolerance,
        days,
        wear,
        notes,
    } = a;
    let hours_alike = !with_hours || (*hours_now, *hours_on) == (b.hours_now, b.hours_on);
    hours_alike
        && meter_now.is_some() == b.meter_now.is_some()
        && *days == b.days
        && *last == b.last
        && *legs == b.legs
        && (*asked_by, *class) == (b.asked_by, b.class)
        && (*last_overrun, *last_overrun_beyond_tolerance)
            == (b.last_overrun, b.last_overrun_beyond_tolerance)
        && (item, title, position, component) == (&b.item, &b.title, &b.position, &b.component)
        && (source, wear, notes) == (&b.source, &b.wear, &b.notes)
}
