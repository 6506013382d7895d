//! Reading what is on record of many recipients' engines: a few queries for a chunk of them, however many engines
//! they have.

use crate::inspector::{READING_OLD_DAYS, SILENT_DAYS};
use crate::snapshot::{
    EngineSnapshot, InspectorSnapshot, MailInTrouble, Muted, OwnerSnapshot, ShopSnapshot,
    SilentShop, Told,
};
use crate::told::{CHANGED_DAYS, Records, Shops};
use crate::witness::Witness;
use chrono::{DateTime, Days, NaiveDate};
use gudgeon_life::fact::StreamKind;
use gudgeon_life::ids::{PartyId, Uid};
use gudgeon_life::line::DueLine;
use gudgeon_life::renewals::{Renewal, renewals};
use gudgeon_life::sure::prior::Evidence;
use gudgeon_life::week::ReportWeek;
use gudgeon_store::{
    ActiveProgramme, EngineRow, FleetQuery, Instant, NotAccepted, OutboxQuery, PartyRow,
    Programmes, ReportState, Store, StoreError,
};
use std::collections::HashMap;
use std::collections::hash_map::Entry;

/// Microseconds in a day.
const DAY_MICROS: i64 = 86_400_000_000;
/// The most engines told of by name in each list of an inspector's mail.
const LISTED_MAX: i64 = 40;
/// Workshops read at a time.
const CHUNK: i64 = 500;

/// Reads for some recipients: the engine types are those of its beginning.
pub struct Loader<'a> {
    store: &'a Store,
    types: HashMap<String, ActiveProgramme>,
    as_of: NaiveDate,
    /// What came in from here on is news.
    since: Instant,
}

/// What nobody but whoever delivers and plans can tell an inspector.
#[derive(Clone, Debug, Default)]
pub struct Outcomes {
    /// Mails that did not arrive, or perhaps not.
    pub mails: Vec<MailInTrouble>,
    /// Those who want no mails.
    pub muted: Vec<Muted>,
}

impl Outcomes {
    /// Reads what is on record of mails of this week and the last that did not arrive, or perhaps not, and of
    /// those who want none.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn read(store: &Store, as_of: NaiveDate) -> Result<Self, StoreError> {
        let mut found = Vec::new();
        for day in [as_of, as_of.checked_sub_days(Days::new(7)).unwrap_or(as_of)] {
            for state in [ReportState::Failed, ReportState::Unknown, ReportState::Suppressed] {
                found.extend(store.not_accepted(&OutboxQuery {
                    week: Some(ReportWeek::of(day)),
                    state: Some(state),
                    after_key: 0,
                    limit: LISTED_MAX,
                })?);
            }
        }
        let ids: Vec<PartyId> = found.iter().map(|it| it.recipient).collect();
        let names: HashMap<PartyId, String> =
            store.parties_of(&ids)?.into_iter().map(|party| (party.party, party.name)).collect();
        let mail = |report: NotAccepted| MailInTrouble {
            recipient: report.recipient,
            name: names.get(&report.recipient).cloned().unwrap_or_default(),
            week: report.week.to_string(),
            failed: report.state != ReportState::Unknown,
            why: why_not(&report),
        };
        let muted = store.muted(LISTED_MAX)?;
        let muted =
            muted.into_iter().map(|it| Muted { name: it.name, since: it.since.and_then(day_of) });
        Ok(Self { mails: found.into_iter().map(mail).collect(), muted: muted.collect() })
    }
}

/// Why a mail is in trouble, in words.
fn why_not(report: &NotAccepted) -> String {
    match (report.state, &report.reason, &report.answered) {
        (ReportState::Unknown, ..) => "nobody can tell whether it arrived".to_owned(),
        (ReportState::Suppressed, ..) => "mails to the address came back for good".to_owned(),
        (_, Some(reason), _) => reason.clone(),
        (_, None, Some((code, _))) => format!("the mail server refused it with {code}"),
        (_, None, None) => "it could not be handed over".to_owned(),
    }
}

impl<'a> Loader<'a> {
    /// Reads the engine types. Mails composed at `at` tell of changes since a week before.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn new(
        store: &'a Store,
        programmes: &dyn Programmes,
        as_of: NaiveDate,
        at: Instant,
    ) -> Result<Self, StoreError> {
        let types = store.active_programmes(programmes)?;
        let week = i64::try_from(CHANGED_DAYS).unwrap_or(0) * DAY_MICROS;
        Ok(Self { types, store, as_of, since: Instant(at.0 - week) })
    }

    /// Some owners with their engines, in their order.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn owners(&self, owners: &[PartyRow]) -> Result<Vec<OwnerSnapshot>, StoreError> {
        let ids: Vec<PartyId> = owners.iter().map(|owner| owner.party).collect();
        let rows = self.store.engines_of_owners(&ids)?;
        let records = self.records(&rows)?;
        let mut engines: HashMap<PartyId, Vec<EngineSnapshot>> = HashMap::new();
        for engine in self.engines(rows, &records)? {
            let Some(owner) = engine.row.owner else { continue };
            engines.entry(owner).or_default().push(engine);
        }
        let snapshot = |owner: &PartyRow| OwnerSnapshot {
            name: owner.name.clone(),
            engines: engines.remove(&owner.party).unwrap_or_default(),
        };
        Ok(owners.iter().map(snapshot).collect())
    }

    /// Some workshops with the engines that they hold, in their order.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn shops(&self, shops: &[PartyRow]) -> Result<Vec<ShopSnapshot>, StoreError> {
        let ids: Vec<PartyId> = shops.iter().map(|shop| shop.party).collect();
        let held = self.store.engines_of_shops(&ids, self.as_of)?;
        let rows: HashMap<i64, EngineRow> =
            held.iter().map(|(_, row)| (row.key, row.clone())).collect();
        let rows: Vec<EngineRow> = rows.into_values().collect();
        let records = self.records(&rows)?;
        let engines = self.engines(rows, &records)?;
        let by_key: HashMap<i64, EngineSnapshot> =
            engines.into_iter().map(|engine| (engine.row.key, engine)).collect();
        let mut snapshots: HashMap<PartyId, ShopSnapshot> = shops
            .iter()
            .map(|shop| {
                let name = shop.name.clone();
                let none = ShopSnapshot {
                    name,
                    engines: Vec::new(),
                    renewals: Vec::new(),
                    posts: Vec::new(),
                };
                (shop.party, none)
            })
            .collect();
        let inspections = records.inspections();
        for (shop, row) in held {
            let (Some(snapshot), Some(engine)) = (snapshots.get_mut(&shop), by_key.get(&row.key))
            else {
                continue;
            };
            snapshot.posts.extend(records.posts_in_doubt(
                shop,
                (row.engine, &engine.name()),
                engine.engine_type.as_deref(),
                &inspections,
                self.as_of,
            ));
            snapshot.renewals.push(self.renewals(engine, &records));
            snapshot.engines.push(engine.clone());
        }
        Ok(shops.iter().filter_map(|shop| snapshots.remove(&shop.party)).collect())
    }

    fn renewals(&self, engine: &EngineSnapshot, records: &Records) -> Vec<Renewal> {
        let engine_type = engine.engine_type.as_deref();
        renewals(&engine.lines, records.history(), engine_type, |line| {
            let at = engine.lines.iter().position(|it| std::ptr::eq(it, line));
            at.is_some_and(|at| engine.is_work_coming(at, self.as_of))
        })
    }

    /// The whole fleet, as every inspector sees it but for the name.
    ///
    /// # Errors
    /// [`StoreError`] when the database cannot be read.
    pub fn fleet(&self, outcomes: Outcomes) -> Result<InspectorSnapshot, StoreError> {
        let query = FleetQuery {
            as_of: self.as_of,
            sight: None,
            status: None,
            after: None,
            limit: LISTED_MAX,
        };
        let rows = self.store.fleet(&query)?.into_iter().map(|(_, row)| row).collect();
        let old = self.as_of.checked_sub_days(Days::new(READING_OLD_DAYS));
        let unread = self.store.unread_since(old.unwrap_or(NaiveDate::MIN), LISTED_MAX)?;
        let (shops, silent) = self.silent_shops()?;
        Ok(InspectorSnapshot {
            name: String::new(),
            counts: self.store.fleet_counts(self.as_of, None)?,
            worst: self.bare_engines(rows)?,
            unread_count: unread.count,
            unread: unread.oldest,
            shops,
            silent,
            mails: outcomes.mails,
            muted: outcomes.muted,
        })
    }

    /// How many workshops there are, and those that posted nothing for long, the longest first.
    fn silent_shops(&self) -> Result<(usize, Vec<SilentShop>), StoreError> {
        let since = self.as_of.checked_sub_days(Days::new(SILENT_DAYS));
        let (mut count, mut silent, mut after) = (0, Vec::new(), None);
        loop {
            let shops = self.store.last_posts(after, CHUNK)?;
            let Some(last) = shops.last() else { break };
            after = Some(last.key);
            for shop in shops {
                count += 1;
                let last_on = shop.at.and_then(day_of);
                if last_on < since {
                    silent.push(SilentShop { name: shop.name, last_on });
                }
            }
        }
        silent.sort_by(|a, b| (a.last_on, &a.name).cmp(&(b.last_on, &b.name)));
        Ok((count, silent))
    }

    fn records(&self, rows: &[EngineRow]) -> Result<Records, StoreError> {
        let keys: Vec<i64> = rows.iter().map(|row| row.key).collect();
        Ok(Records::of(self.store.records_of_engines(&keys)?, self.since))
    }

    /// Engines with all that their records tell.
    fn engines(
        &self,
        rows: Vec<EngineRow>,
        records: &Records,
    ) -> Result<Vec<EngineSnapshot>, StoreError> {
        let inspections = records.inspections();
        let parties = self.store.parties_of(&Shops::named(&inspections))?;
        let names = parties.into_iter().map(|party| (party.party, party.name)).collect();
        let shops = Shops::new(&inspections, names);
        let mut engines = self.bare_engines(rows)?;
        let mut known: HashMap<(Option<String>, Option<u32>), Evidence> = HashMap::new();
        for engine in &mut engines {
            let engine_type = engine.engine_type.clone();
            // Engines of a type follow one of a few versions of how it wears.
            let version = (engine.row.engine_type.clone(), engine.row.wear_version);
            let evidence = match known.entry(version) {
                Entry::Occupied(known) => known.into_mut(),
                Entry::Vacant(new) => new.insert(self.store.evidence_of(&engine.row)?),
            };
            engine.told = records.told(
                &engine.row,
                engine_type.as_deref(),
                evidence,
                &engine.lines,
                &shops,
                self.as_of,
            );
        }
        Ok(engines)
    }

    /// Engines with their due lines and what was anchored of them.
    fn bare_engines(&self, rows: Vec<EngineRow>) -> Result<Vec<EngineSnapshot>, StoreError> {
        let keys: Vec<i64> = rows.iter().map(|row| row.key).collect();
        let mut lines: HashMap<i64, Vec<DueLine>> = HashMap::new();
        for (key, line) in self.store.due_lines(&keys)? {
            lines.entry(key).or_default().push(line);
        }
        let mut witnesses = self.witnesses(&rows)?;
        let snapshot = |row: EngineRow| {
            let active = row.engine_type.as_ref().and_then(|name| self.types.get(name)).cloned();
            let (engine_type, version) = active.unzip();
            EngineSnapshot {
                lines: lines.remove(&row.key).unwrap_or_default(),
                witness: witnesses.remove(&row.key),
                told: Told::default(),
                engine_type,
                version,
                row,
            }
        };
        Ok(rows.into_iter().map(snapshot).collect())
    }

    /// What was anchored of some engines, by their keys.
    fn witnesses(&self, rows: &[EngineRow]) -> Result<HashMap<i64, Witness>, StoreError> {
        let engines: Vec<Uid> = rows.iter().map(|row| row.engine.0).collect();
        let aircraft: Vec<Uid> = rows.iter().filter_map(|row| Some(row.aircraft?.0)).collect();
        let engines = self.store.anchored_heads(StreamKind::Engine, &engines)?;
        let aircraft = self.store.anchored_heads(StreamKind::Aircraft, &aircraft)?;
        // Read after the heads, so that it stands for all of them whoever makes anchors at the same time.
        let Some(anchor) = self.store.last_anchor()? else { return Ok(HashMap::new()) };
        let witness = |row: &EngineRow| {
            let engine = *engines.get(&row.engine.0)?;
            let aircraft = row.aircraft.and_then(|id| aircraft.get(&id.0)).copied();
            Some((row.key, Witness { anchor: anchor.clone(), engine, aircraft }))
        };
        Ok(rows.iter().filter_map(witness).collect())
    }
}

fn day_of(at: Instant) -> Option<NaiveDate> {
    Some(DateTime::from_timestamp_micros(at.0)?.date_naive())
}
