//! What the records around some engines tell beside their due lines: forecasts, who did the work, how the lines stood
//! a week ago, what the last inspection found, and which posts are in doubt.
//!
//! A change since last week is a difference between what the records received by then gave and what all records give
//! now, both by the programme of now and by what is known of the type now; a changed programme is told apart. So a
//! correction counts as news on the day on which it came in, whatever day it is about, and nothing has to be kept of
//! what a mail once said.

use crate::compose::counted_size;
use crate::snapshot::{Before, LastInspection, PostInDoubt, Told};
use chrono::{Days, NaiveDate};
use gudgeon_life::amend::{StandingInspection, standing_inspections};
use gudgeon_life::conflict::Conflict;
use gudgeon_life::due::due_list;
use gudgeon_life::fact::Fact;
use gudgeon_life::history::{ComponentState, History};
use gudgeon_life::ids::{EngineId, FactId, PartyId};
use gudgeon_life::line::DueLine;
use gudgeon_life::measure::odd;
use gudgeon_life::programme::EngineType;
use gudgeon_life::sure::engine::Forecasts;
use gudgeon_life::sure::prior::Evidence;
use gudgeon_life::words::clean;
use gudgeon_store::{EngineRow, Instant, Received};
use std::collections::{BTreeMap, HashMap, HashSet};

/// How far back a mail looks for what changed.
pub const CHANGED_DAYS: u64 = 7;
/// How long a post is asked about that leaves something open or is odd. A contradiction is asked about until it is
/// resolved.
pub const POST_DAYS: u64 = 91;
/// The longest a sentence about a post may print, in characters.
const SENTENCE_CHARS: usize = 240;
/// The most points or doubts of one kind told of one post.
const NAMED_MAX: usize = 3;
/// The longest a name may print, in characters.
const NAME_CHARS: usize = 80;

/// The records around some engines, folded.
#[derive(Debug)]
pub(crate) struct Records {
    facts: Vec<Fact>,
    history: History,
    /// What the records received before the day looked back to amounted to; `None` if none came in since.
    earlier: Option<History>,
}

/// The inspections that stand, by engine, in order.
pub(crate) type Inspections<'a> = BTreeMap<EngineId, Vec<StandingInspection<'a>>>;

impl Records {
    /// Folds what is on record, and what was received before an instant.
    pub(crate) fn of(received: Vec<Received>, since: Instant) -> Self {
        let before = |it: &&Received| it.at < since;
        let earlier: Vec<Fact> = received.iter().filter(before).map(|it| it.fact.clone()).collect();
        let facts: Vec<Fact> = received.into_iter().map(|it| it.fact).collect();
        let earlier = (earlier.len() < facts.len()).then(|| History::fold(&earlier));
        Self { history: History::fold(&facts), facts, earlier }
    }

    /// What they amount to.
    pub(crate) const fn history(&self) -> &History {
        &self.history
    }

    /// The inspections that stand.
    pub(crate) fn inspections(&self) -> Inspections<'_> {
        let mut by_engine: Inspections<'_> = BTreeMap::new();
        for it in standing_inspections(&self.facts) {
            by_engine.entry(it.inspection.engine).or_default().push(it);
        }
        by_engine
    }

    /// What they tell of one engine.
    pub(crate) fn told(
        &self,
        row: &EngineRow,
        engine_type: Option<&EngineType>,
        evidence: &Evidence,
        lines: &[DueLine],
        shops: &Shops<'_>,
        as_of: NaiveDate,
    ) -> Told {
        let forecasts = Forecasts::from(row.flying);
        let parts = lines.iter().filter_map(|line| line.component);
        let label = |id| Some((id, self.history.component(id).map(ComponentState::label)?));
        let work = lines.iter().filter_map(|line| Some(line.last?.fact));
        Told {
            forecasts: lines.iter().map(|line| forecasts.line(line, as_of)).collect(),
            parts: parts.filter_map(label).collect(),
            shops: work.filter_map(|fact| Some((fact, shops.of_record(fact)?))).collect(),
            before: self.before(row.engine, engine_type.zip(Some(evidence)), lines, as_of),
            last: shops.last_inspection(row.engine),
        }
    }

    fn before(
        &self,
        engine: EngineId,
        counted_by: Option<(&EngineType, &Evidence)>,
        lines: &[DueLine],
        as_of: NaiveDate,
    ) -> Option<Before> {
        let on = as_of.checked_sub_days(Days::new(CHANGED_DAYS))?;
        let lines = match &self.earlier {
            None => lines.to_vec(),
            Some(history) => {
                history.engine(engine)?.engine_type.as_ref()?;
                let (engine_type, evidence) = counted_by?;
                let mut lines = due_list(history, engine, engine_type, evidence);
                Forecasts::of(history, engine).plan(&mut lines);
                lines
            }
        };
        Some(Before { on, lines })
    }

    /// The posts of a workshop about one engine that need a correction or an answer, by day.
    pub(crate) fn posts_in_doubt(
        &self,
        shop: PartyId,
        engine: (EngineId, &str),
        engine_type: Option<&EngineType>,
        inspections: &Inspections<'_>,
        as_of: NaiveDate,
    ) -> Vec<PostInDoubt> {
        let (engine, name) = engine;
        let own = inspections.get(&engine).map_or(&[][..], Vec::as_slice);
        let since = as_of.checked_sub_days(Days::new(POST_DAYS)).unwrap_or(NaiveDate::MIN);
        let post = |it: &StandingInspection<'_>| {
            let mut faults = self.contradictions(engine, it.root);
            if it.on >= since {
                faults.extend(left_open(it, engine_type));
                faults.extend(self.doubts(it, engine_type));
            }
            (!faults.is_empty()).then(|| PostInDoubt {
                record: it.root,
                on: it.on,
                work_order: it.inspection.work_order.clone(),
                engine: name.to_owned(),
                faults: faults.iter().map(|fault| clean(fault, SENTENCE_CHARS)).collect(),
            })
        };
        own.iter().filter(|it| it.inspection.shop == shop).filter_map(post).collect()
    }

    fn contradictions(&self, engine: EngineId, record: FactId) -> Vec<String> {
        let of_record = self.history.conflicts_of(engine).into_iter();
        of_record.filter(|it| it.fact == record).map(Conflict::printed).collect()
    }

    /// What is odd about its measurements.
    fn doubts(&self, it: &StandingInspection<'_>, engine_type: Option<&EngineType>) -> Vec<String> {
        let Some(engine_type) = engine_type.filter(|_| !it.inspection.measurements.is_empty())
        else {
            return Vec::new();
        };
        let odd = odd(it.inspection, it.on, it.root, &engine_type.bench, &self.facts);
        odd.into_iter().take(NAMED_MAX).map(|it| it.words).collect()
    }
}

/// What a post leaves open: its release, and the points of its sheet.
fn left_open(it: &StandingInspection<'_>, engine_type: Option<&EngineType>) -> Vec<String> {
    let mut open = Vec::new();
    if !it.inspection.released {
        open.push("No release is recorded with it.".to_owned());
    }
    let sheet = it.inspection.sheet.as_ref();
    let sheet = sheet.and_then(|id| engine_type?.bench.sheet(id));
    if let Some(sheet) = sheet {
        let missing = sheet.missing(it.inspection);
        let named: Vec<String> = missing
            .iter()
            .take(NAMED_MAX)
            .map(|it| format!("{}. {}", it.number, it.point.title))
            .collect();
        let more = if missing.len() > NAMED_MAX { " and more" } else { "" };
        if !missing.is_empty() {
            let count = counted_size(missing.len(), "point");
            open.push(format!("{} leaves {count} open: {}{more}.", sheet.title, named.join("; ")));
        }
    }
    open
}

/// Who released which record, for engines whose records were read together.
#[derive(Debug)]
pub(crate) struct Shops<'a> {
    names: HashMap<PartyId, String>,
    by_record: HashMap<FactId, PartyId>,
    inspections: &'a Inspections<'a>,
}

impl<'a> Shops<'a> {
    /// The workshops of these inspections; `names` are those still kept.
    pub(crate) fn new(inspections: &'a Inspections<'a>, names: HashMap<PartyId, String>) -> Self {
        let all = inspections.values().flatten();
        let by_record = all.map(|it| (it.root, it.inspection.shop)).collect();
        Self { names, by_record, inspections }
    }

    /// Whose names are needed.
    pub(crate) fn named(inspections: &Inspections<'_>) -> Vec<PartyId> {
        let shops: HashSet<PartyId> =
            inspections.values().flatten().map(|it| it.inspection.shop).collect();
        shops.into_iter().collect()
    }

    fn name(&self, shop: PartyId) -> Option<String> {
        let name = clean(self.names.get(&shop)?, NAME_CHARS);
        (!name.is_empty()).then_some(name)
    }

    fn of_record(&self, record: FactId) -> Option<String> {
        self.name(*self.by_record.get(&record)?)
    }

    fn last_inspection(&self, engine: EngineId) -> Option<LastInspection> {
        let it = self.inspections.get(&engine)?.last()?;
        Some(LastInspection {
            record: it.root,
            on: it.on,
            shop: self.name(it.inspection.shop),
            inspection: it.inspection.clone(),
        })
    }
}
