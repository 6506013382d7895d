//! What is due on the engines of many recipients, in numbers: what a week is judged by before any mail of it is
//! composed. No record is read for it, only what is kept of each engine and each line by day, and so the numbers are
//! those that the mails will tell.

use crate::FLEET;
use crate::bytes::Id;
use crate::codec;
use crate::conn::Store;
use crate::custody;
use crate::days;
use crate::dialect::AnyConn;
use crate::engines::KEYS_MAX;
use crate::error::StoreError;
use crate::schema::{due_line, engine_span, engine_status, engine_type};
use chrono::NaiveDate;
use diesel::dsl::{case_when, count, count_star, exists, not};
use diesel::prelude::*;
use gudgeon_life::ids::PartyId;
use gudgeon_life::preference::ReportKind;
use gudgeon_life::status::Status;
use std::collections::{BTreeSet, HashMap};
use std::ops::AddAssign;

/// What is on record for recipients, in numbers.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct DueTally {
    /// Recipients who have something due, or records that contradict.
    pub mails: i64,
    /// All items on their engines.
    pub items: i64,
    /// Those that are overdue.
    pub overdue: i64,
}

impl AddAssign for DueTally {
    fn add_assign(&mut self, other: Self) {
        self.mails += other.mails;
        self.items += other.items;
        self.overdue += other.overdue;
    }
}

impl Store {
    /// What is on record for recipients of a kind of report as of a day, in three queries. An engine counts with each
    /// recipient who is told of it; inspectors are told of engines that are counted with their owners, and count none.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn due_tally(
        &self,
        kind: ReportKind,
        recipients: &[PartyId],
        as_of: NaiveDate,
    ) -> Result<DueTally, StoreError> {
        let day = days::stored(as_of);
        self.read(|conn| {
            let mut tally = DueTally::default();
            for chunk in recipients.chunks(KEYS_MAX) {
                let ids: Vec<Id> = chunk.iter().map(|party| Id::from(party.0)).collect();
                tally += tally_of(conn, kind, &ids, day)?;
            }
            Ok(tally)
        })
    }
}

/// See [`Store::due_tally`].
pub(crate) fn tally_of(
    conn: &mut AnyConn,
    kind: ReportKind,
    recipients: &[Id],
    day: NaiveDate,
) -> QueryResult<DueTally> {
    let engines: Vec<(Id, i64)> = match kind {
        ReportKind::Owner => owned_by(conn, recipients)?,
        ReportKind::Shop => custody::held_by(conn, recipients, day)?,
        ReportKind::Inspector => Vec::new(),
    };
    let keys: BTreeSet<i64> = engines.iter().map(|(_, engine)| *engine).collect();
    let keys: Vec<i64> = keys.into_iter().collect();
    let mut tally = DueTally::default();
    let (mut due, mut lines) = (BTreeSet::new(), HashMap::new());
    for chunk in keys.chunks(KEYS_MAX) {
        due.extend(due_among(conn, chunk, day)?);
        lines.extend(lines_of(conn, chunk, day)?);
    }
    let mut told: BTreeSet<Id> = BTreeSet::new();
    for (recipient, engine) in engines {
        // Of several engines that something is due on, the first makes the mail.
        if due.contains(&engine) && told.insert(recipient) {
            tally.mails += 1;
        }
        if let Some((items, overdue)) = lines.get(&engine) {
            tally.items += items;
            tally.overdue += overdue;
        }
    }
    Ok(tally)
}

/// The engines of owners, each with whose it is.
fn owned_by(conn: &mut AnyConn, owners: &[Id]) -> QueryResult<Vec<(Id, i64)>> {
    engine_status::table
        .filter(engine_status::fleet_id.eq(FLEET))
        .filter(engine_status::owner.eq_any(owners))
        .select((engine_status::owner.assume_not_null(), engine_status::engine_id))
        .load(conn)
}

/// Which of these engines anything is due on: a line in trouble, records that contradict, or a type of which no
/// version is active by now, so that nobody can tell.
fn due_among(conn: &mut AnyConn, engines: &[i64], day: NaiveDate) -> QueryResult<Vec<i64>> {
    let active = engine_type::table
        .filter(engine_type::fleet_id.eq(FLEET))
        .filter(engine_type::name.nullable().eq(engine_status::engine_type))
        .filter(engine_type::active_from.is_not_null());
    let in_trouble = engine_span::rank.lt(Status::OnCondition.rank());
    let contradicts = engine_status::conflicts.ne(codec::write_sentences(&[]));
    engine_status::table
        .inner_join(
            engine_span::table.on(engine_span::fleet_id
                .eq(engine_status::fleet_id)
                .and(engine_span::engine_id.eq(engine_status::engine_id))),
        )
        .filter(engine_status::fleet_id.eq(FLEET))
        .filter(engine_status::engine_id.eq_any(engines))
        .filter(engine_span::from_day.le(day))
        .filter(engine_span::until_day.ge(day))
        .filter(in_trouble.or(contradicts).or(not(exists(active))))
        .select(engine_status::engine_id)
        .load(conn)
}

/// How many items engines have, and how many of those are overdue, by engine. What is past its latest day is overdue
/// whatever else is known of it, unless an extension came before: then it is kept on condition.
fn lines_of(
    conn: &mut AnyConn,
    engines: &[i64],
    day: NaiveDate,
) -> QueryResult<impl Iterator<Item = (i64, (i64, i64))>> {
    let is_overdue = due_line::beyond.eq(0).and(due_line::late_from.le(day));
    let overdue = count(case_when(is_overdue, due_line::ordinal));
    let rows: Vec<(i64, i64, i64)> = due_line::table
        .filter(due_line::fleet_id.eq(FLEET))
        .filter(due_line::engine_id.eq_any(engines))
        .group_by(due_line::engine_id)
        .select((due_line::engine_id, count_star(), overdue))
        .load(conn)?;
    Ok(rows.into_iter().map(|(engine, items, overdue)| (engine, (items, overdue))))
}
