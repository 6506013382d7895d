//! Planning: one report per recipient, kind and week, for one instant. A preference that changes moves what is planned
//! and not due yet.

use crate::FLEET;
use crate::bytes::Id;
use crate::conn::Store;
use crate::deliveries::ReportState;
use crate::dialect::{self, AnyConn};
use crate::error::StoreError;
use crate::schema::report;
use crate::values::Instant;
use chrono::NaiveDate;
use diesel::prelude::*;
use gudgeon_life::ids::PartyId;
use gudgeon_life::preference::{Preference, ReportKind};
use gudgeon_life::week::ReportWeek;
use gudgeon_life::zone::Zone;

/// A report that is to leave.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NewPlan {
    /// Whom it is for.
    pub recipient: PartyId,
    /// The zone that its day is told in.
    pub zone: Zone,
    /// When it is to leave.
    pub send_at: Instant,
}

/// A plan on its way in.
#[derive(Insertable)]
#[diesel(table_name = report)]
pub(crate) struct PlanDraft<'a> {
    fleet_id: i64,
    recipient: Id,
    kind: &'static str,
    week: &'a str,
    zone: &'static str,
    send_at: i64,
    fixed_as_of: Option<NaiveDate>,
    state: &'static str,
    next_try_at: i64,
    attempts: i32,
    generation: i64,
    has_turn: bool,
}

impl Store {
    /// Plans the reports of a kind and week; gives how many are new. Those who have one of this kind and week
    /// already keep it as it is. `fixed_as_of` is the day to work them out for, if not each recipient's own.
    ///
    /// # Errors
    /// [`StoreError`] when the database fails; then none of them is planned.
    pub fn plan_reports(
        &self,
        kind: ReportKind,
        week: ReportWeek,
        fixed_as_of: Option<NaiveDate>,
        plans: &[NewPlan],
    ) -> Result<usize, StoreError> {
        let week = week.to_string();
        let drafts: Vec<PlanDraft<'_>> = plans
            .iter()
            .map(|plan| PlanDraft {
                fleet_id: FLEET,
                recipient: Id::from(plan.recipient.0),
                kind: kind.word(),
                week: &week,
                zone: plan.zone.name(),
                send_at: plan.send_at.0,
                fixed_as_of,
                state: ReportState::Planned.word(),
                next_try_at: plan.send_at.0,
                attempts: 0,
                generation: 0,
                has_turn: false,
            })
            .collect();
        self.write(|conn| Ok(dialect::add_plans(conn, &drafts)?))
    }

    /// Lets what is planned for a week and not due yet leave at this instant; gives how many.
    ///
    /// # Errors
    /// [`StoreError`] when the database fails.
    pub fn hurry_reports(&self, week: ReportWeek, at: Instant) -> Result<usize, StoreError> {
        self.write(|conn| {
            let waiting = report::table
                .filter(report::fleet_id.eq(FLEET))
                .filter(report::week.eq(week.to_string()))
                .filter(report::state.eq(ReportState::Planned.word()))
                .filter(report::send_at.gt(at.0));
            let moved = (report::send_at.eq(at.0), report::next_try_at.eq(at.0));
            Ok(diesel::update(waiting).set(moved).execute(conn)?)
        })
    }
}

/// Moves what is planned of a party and not due yet to when it wants it now; to now when that has passed.
pub(crate) fn plan_anew(
    conn: &mut AnyConn,
    party: PartyId,
    kind: ReportKind,
    (preference, at): (&Preference, Instant),
) -> Result<(), StoreError> {
    let planned: Vec<(i64, String, String)> = report::table
        .filter(report::fleet_id.eq(FLEET))
        .filter(report::recipient.eq(Id::from(party.0)))
        .filter(report::kind.eq(kind.word()))
        .filter(report::state.eq(ReportState::Planned.word()))
        .filter(report::send_at.gt(at.0))
        .select((report::id, report::week, report::zone))
        .load(conn)?;
    for (id, week, zone) in planned {
        let corrupt = |why: String| StoreError::Corrupt(format!("a planned report: {why}"));
        let week = ReportWeek::parse(&week).map_err(|why| corrupt(why.to_string()))?;
        let zone = Zone::parse(&zone).map_err(|why| corrupt(why.to_string()))?;
        let send_at = preference.leaves_at(week, zone).timestamp_micros().max(at.0);
        let moved = (
            report::zone.eq(preference.zone.unwrap_or(zone).name()),
            report::send_at.eq(send_at),
            report::next_try_at.eq(send_at),
        );
        // One that was claimed meanwhile leaves as it was planned.
        let still = report::table
            .filter(report::id.eq(id))
            .filter(report::state.eq(ReportState::Planned.word()));
        diesel::update(still).set(moved).execute(conn)?;
    }
    Ok(())
}
