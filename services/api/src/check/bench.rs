//! What an engine type says of measurements and sheets, held against what is posted: refused where it cannot be,
//! doubted aloud where it is odd.

use super::hardware::odd_fastenings;
use super::{listed, near_to_it, programme};
use crate::answers::Warning;
use crate::app::App;
use crate::problem::Problem;
use crate::read::Fault;
use gudgeon_life::fact::{Content, Entry, Fact, Inspection, Measurement, Taken};
use gudgeon_life::ids::{FactId, PositionId};
use gudgeon_life::measure::{QuantityRule, Unit, impossible, odd, slip};
use gudgeon_life::programme::EngineType;
use std::sync::Arc;

/// An inspection as an entry tells it, be it a first post or an amendment: the id that it was first posted
/// under, and where its fields stand in the body.
pub(crate) struct Report<'a> {
    /// The id first posted.
    pub(crate) root: FactId,
    /// Its entry.
    pub(crate) entry: &'a Entry,
    /// What it says.
    pub(crate) inspection: &'a Inspection,
    place: &'static str,
}

/// The inspection that a fact tells; `None` for anything else.
pub(crate) fn report(fact: &Fact) -> Option<Report<'_>> {
    let (root, entry, place) = match &fact.entry.content {
        Content::Amendment(it) => (it.root, it.replacement.as_deref()?, "/inspection"),
        _ => (fact.id, &fact.entry, ""),
    };
    match &entry.content {
        Content::Inspection(inspection) => Some(Report { root, entry, inspection, place }),
        _ => None,
    }
}

impl Report<'_> {
    /// The engine's programme, as far as it is known.
    pub(crate) fn engine_type(&self, app: &App) -> Result<Option<Arc<EngineType>>, Problem> {
        programme(app, self.inspection.engine)
    }

    /// What is odd about its fastenings and, where a programme is active, about its measurements in the light of
    /// the engine's other records. Told when it is posted, and again whenever it is read.
    pub(crate) fn odd(
        &self,
        app: &App,
        engine_type: Option<&EngineType>,
    ) -> Result<Vec<Warning>, Problem> {
        let mut warnings = odd_fastenings(self.inspection, self.place);
        if let Some(engine_type) = engine_type {
            warnings.extend(self.odd_measurements(app, engine_type)?);
        }
        Ok(warnings)
    }

    fn odd_measurements(
        &self,
        app: &App,
        engine_type: &EngineType,
    ) -> Result<Vec<Warning>, Problem> {
        if self.inspection.measurements.is_empty() || engine_type.bench.quantities.is_empty() {
            return Ok(Vec::new());
        }
        let stored = app.store.facts_of(self.entry.content.stream())?;
        let facts: Vec<Fact> = stored.into_iter().map(|it| it.fact).collect();
        let bench = &engine_type.bench;
        let mut warnings = self.unknown(engine_type);
        let found = odd(self.inspection, self.entry.on, self.root, bench, &facts);
        warnings.extend(found.into_iter().map(|it| Warning {
            code: it.kind.word(),
            detail: it.words,
            pointer: Some(format!("{}/measurements/{}", self.place, it.at)),
        }));
        Ok(warnings)
    }

    /// Quantities that the engine type does not name: kept, and compared with nothing.
    fn unknown(&self, engine_type: &EngineType) -> Vec<Warning> {
        let numbered = self.inspection.measurements.iter().enumerate();
        let unknown = numbered.filter(|(_, it)| engine_type.bench.quantity(&it.quantity).is_none());
        let warning = |(at, measurement): (usize, &Measurement)| {
            let known = engine_type.bench.quantities.iter().map(|it| it.id.as_str());
            let near = near_to_it(measurement.quantity.as_str(), known);
            Warning {
                code: "unknown-quantity",
                detail: format!(
                    "`{}` has no quantity `{}`; it is kept and not judged{near}",
                    engine_type.name, measurement.quantity
                ),
                pointer: Some(format!("{}/measurements/{at}/quantity", self.place)),
            }
        };
        unknown.map(warning).collect()
    }
}

/// What cannot be: a sheet that the engine type has not got, a quantity in another kind of unit or at a strange
/// place, a reading outside what the quantity can be at all.
pub(super) fn faults(
    inspection: &Inspection,
    engine_type: &EngineType,
    prefix: &str,
) -> Vec<Fault> {
    let mut faults = Vec::new();
    let bench = &engine_type.bench;
    if let Some(sheet) = inspection.sheet.as_ref().filter(|it| bench.sheet(it).is_none()) {
        let near = near_to_it(sheet.as_str(), bench.sheets.iter().map(|it| it.id.as_str()));
        let all = listed(bench.sheets.iter().map(|it| it.id.as_str()));
        faults.push(Fault {
            pointer: format!("{prefix}/sheet"),
            code: "unknown-sheet",
            detail: format!(
                "`{}` has no sheet `{sheet}`{near}; its sheets: {all}",
                engine_type.name
            ),
        });
    }
    for (at, measurement) in inspection.measurements.iter().enumerate() {
        let Some(rule) = bench.quantity(&measurement.quantity) else { continue };
        let place = format!("{prefix}/measurements/{at}");
        faults.extend(position_fault(measurement, rule, &place));
        faults.extend(value_fault(measurement, rule, &place));
    }
    faults
}

fn position_fault(measurement: &Measurement, rule: &QuantityRule, place: &str) -> Option<Fault> {
    let allowed = || listed(rule.positions.iter().map(PositionId::as_str));
    let (code, detail) = match &measurement.position {
        None if rule.positions.is_empty() => return None,
        None => {
            ("missing", format!("`{}` is measured at positions; name one: {}", rule.id, allowed()))
        }
        Some(named) if rule.positions.contains(named) => return None,
        Some(_) if rule.positions.is_empty() => (
            "unknown-position",
            format!("`{}` is measured once for the engine; leave `position` out", rule.id),
        ),
        Some(named) => (
            "unknown-position",
            format!("`{named}` is not where `{}` is measured: {}", rule.id, allowed()),
        ),
    };
    Some(Fault { pointer: format!("{place}/position"), code, detail })
}

fn value_fault(measurement: &Measurement, rule: &QuantityRule, place: &str) -> Option<Fault> {
    let dimension = rule.unit.dimension();
    let posted = Unit::parse(&measurement.unit).filter(|unit| unit.dimension() == dimension);
    let Some(posted) = posted else {
        return Some(Fault {
            pointer: format!("{place}/unit"),
            code: "unknown-unit",
            detail: format!(
                "`{}` is not a unit of `{}`; write {}",
                measurement.unit,
                rule.id,
                Unit::listed(dimension)
            ),
        });
    };
    let (at, value) = impossible(measurement, rule)?;
    let meant = slip(rule, posted, value).map(|it| format!("; {it}")).unwrap_or_default();
    Some(Fault {
        pointer: format!("{place}/{}", reading_pointer(&measurement.taken, at)),
        code: "out-of-range",
        detail: format!("{value} {} cannot be: `{}` is {}{meant}", rule.unit, rule.id, rule.range),
    })
}

/// Where a reading stands in the body, by its place in the order of all.
fn reading_pointer(taken: &Taken, at: usize) -> String {
    match taken {
        Taken::One(_) => "value".to_owned(),
        Taken::Several(_) => format!("readings/{at}"),
        Taken::Grid { a, .. } => match at.checked_sub(a.len()) {
            None => format!("grid/a/{at}"),
            Some(at) => format!("grid/b/{at}"),
        },
    }
}
