//! Engines as clients see them: what is known of their hours, and what contradicts.

use gudgeon_life::hours::Hours;
use gudgeon_life::words::LOST_LOG;
use gudgeon_store::EngineRow;
use serde::Serialize;

/// An engine as its records show it.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct EngineOut {
    id: String,
    engine_type: Option<String>,
    serial: Option<String>,
    aircraft: Option<String>,
    mark: Option<String>,
    owner: Option<String>,
    custodian: Option<String>,
    /// The last day of that, when an end is set.
    custodian_until: Option<String>,
    log: &'static str,
    /// What an engine without a log needs before anybody may state its total.
    #[serde(skip_serializing_if = "Option::is_none")]
    log_needs: Option<&'static str>,
    hours: HoursOut,
    conflicts: Vec<String>,
}

/// Hours used, rounded up, always with the day of the reading that they rest on.
#[derive(Clone, Debug, Serialize)]
struct HoursOut {
    since_new: Option<String>,
    since_overhaul: Option<String>,
    /// Full overhauls on record.
    overhauls: i64,
    meter: Option<String>,
    on: Option<String>,
}

impl From<&EngineRow> for EngineOut {
    fn from(row: &EngineRow) -> Self {
        let used = |hours: Option<Hours>| hours.map(Hours::tenths_up);
        Self {
            id: row.engine.to_string(),
            engine_type: row.engine_type.clone(),
            serial: row.serial.clone(),
            aircraft: row.aircraft.map(|id| id.to_string()),
            mark: row.mark.clone(),
            owner: row.owner.map(|id| id.to_string()),
            custodian: row.custodian.map(|id| id.to_string()),
            custodian_until: row.custodian_until.map(|day| day.to_string()),
            log: if row.logged { "logged" } else { "unknown" },
            log_needs: (!row.logged).then_some(LOST_LOG),
            hours: HoursOut {
                since_new: used(row.tsn),
                since_overhaul: used(row.tso),
                overhauls: row.overhauls,
                meter: row.meter.map(|hours| hours.to_string()),
                on: row.hours_on.map(|day| day.to_string()),
            },
            conflicts: row.conflicts.clone(),
        }
    }
}
