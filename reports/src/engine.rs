//! One engine of an owner's mail in words: its hours, what its records say wrong, its due lines.

use crate::compose::{NAME_CHARS, counted_size, counts, counts_words, in_trouble};
use crate::snapshot::EngineSnapshot;
use crate::view::{EngineBlock, Labelled, LineBlock};
use crate::witness::Witness;
use chrono::NaiveDate;
use gudgeon_life::calendar::days_between;
use gudgeon_life::hours::Hours;
use gudgeon_life::ids::PositionId;
use gudgeon_life::line::DueLine;
use gudgeon_life::status::Status;
use gudgeon_life::words::{clean, counted, day, day_from, urgency};
use gudgeon_store::EngineRow;
use std::collections::HashSet;

/// The longest a source or a contradiction may print, in characters.
pub(crate) const SENTENCE_CHARS: usize = 240;
/// From this age of the last reading on, a mail asks for one. Common practice: a reading a month.
const READING_STALE_DAYS: i64 = 30;
/// The most contradictions printed for one engine.
const CONFLICTS_SHOWN: usize = 5;

impl EngineSnapshot {
    /// The worst thing about the engine: contradicting records, or no programme to count by, are as bad as
    /// an unknown line.
    pub(crate) fn worst(&self, as_of: NaiveDate) -> Status {
        let lines = self.lines.iter().map(|line| line.status(as_of)).min();
        let blind = !self.row.conflicts.is_empty() || self.engine_type.is_none();
        let records = if blind { Status::Unknown } else { Status::NotDue };
        lines.unwrap_or(Status::NotDue).min(records)
    }

    pub(crate) fn invented(&self) -> bool {
        self.engine_type.as_ref().is_some_and(|it| it.invented)
    }

    /// The aircraft's mark, or the engine's own serial number.
    pub(crate) fn name(&self) -> String {
        name_of(&self.row)
    }

    pub(crate) fn title(&self) -> String {
        let title = match (&self.engine_type, &self.row.engine_type) {
            (Some(it), _) => it.title.as_str(),
            (None, Some(name)) => name.as_str(),
            (None, None) => "engine of unknown type",
        };
        let invented = if self.invented() { " (invented type)" } else { "" };
        let serial = self.row.serial.as_deref().unwrap_or("not on record");
        format!("{}{invented}, serial {}", clean(title, NAME_CHARS), clean(serial, NAME_CHARS))
    }

    pub(crate) fn block(&self, shown: &HashSet<usize>, as_of: NaiveDate) -> EngineBlock {
        let mut lines: Vec<(usize, &DueLine)> =
            self.lines.iter().enumerate().filter(|(_, line)| in_trouble(line, as_of)).collect();
        lines.sort_by_key(|(at, line)| (urgency(line, as_of), *at));
        let cut = lines.iter().filter(|(at, _)| !shown.contains(at));
        let cut = counts(cut.map(|(_, line)| line.status(as_of)));
        let shown = lines.iter().filter(|(at, _)| shown.contains(at));
        let lines: Vec<LineBlock> = shown.map(|(at, line)| self.line(*at, line, as_of)).collect();
        let forecast = lines.iter().any(|line| line.forecast.is_some());
        EngineBlock {
            name: self.name(),
            title: self.title(),
            facts: self.facts(as_of),
            ask: self.ask(as_of),
            remarks: self.remarks(as_of),
            lines,
            forecast_basis: self.row.flying.not_on_record().filter(|_| forecast).map(str::to_owned),
            blocks: [self.visit(as_of), self.changed(as_of), self.found(as_of)]
                .into_iter()
                .flatten()
                .collect(),
            cut: (!cut.is_empty()).then(|| format!("More, not shown: {}.", counts_words(&cut))),
            rest: self.rest(as_of),
            entered: self.entered(as_of),
            kept: self.witness.as_ref().map(Witness::words),
        }
    }

    /// Up to when directives were entered, and by which version of the programme the engine is counted.
    fn entered(&self, as_of: NaiveDate) -> Option<String> {
        let up_to = day(self.engine_type.as_ref()?.entered_up_to);
        let mut words = vec![format!("Directives and bulletins as entered up to {up_to}.")];
        words.extend(self.version_words(as_of).into_iter().next());
        Some(words.join(" "))
    }

    /// The version by which it is counted; then, if it changed lately, that it did.
    fn version_words(&self, as_of: NaiveDate) -> Vec<String> {
        let version = self.version.zip(self.row.type_digest);
        version.map_or_else(Vec::new, |(active, counted_by)| active.words(counted_by, as_of))
    }

    fn facts(&self, as_of: NaiveDate) -> Vec<Labelled> {
        let row = &self.row;
        let hours = |name: &str, value: Option<Hours>| match value {
            Some(value) => format!("{name} {} h", value.tenths_up()),
            None => format!("{name} not on record"),
        };
        let since = format!(
            "{}, {}",
            hours("since new (TSN)", row.tsn),
            hours("since overhaul (TSO)", row.tso)
        );
        let read = match (row.meter, row.hours_on) {
            (Some(meter), Some(on)) => {
                format!("hour meter {}, read {}", meter.tenths_up(), day_from(on, as_of))
            }
            (None, Some(on)) => format!("hours as of {}", day_from(on, as_of)),
            (_, None) => "no usable reading on record".to_owned(),
        };
        let log =
            if row.logged { "logged" } else { "no log: hours before these records are not known" };
        let aircraft = row.mark.is_none().then(|| ("Aircraft", "in none on record".to_owned()));
        aircraft
            .into_iter()
            .chain([("Hours", since), ("Reading", read), ("Log", log.to_owned())])
            .map(|(label, value)| Labelled { label: label.to_owned(), value })
            .collect()
    }

    /// That a reading is wanted: nothing is counted between two of them.
    fn ask(&self, as_of: NaiveDate) -> Option<String> {
        self.row.aircraft?;
        let Some(on) = self.row.hours_on else {
            return Some("No reading of the hour meter is on record: please send one.".to_owned());
        };
        let age = days_between(on, as_of);
        (age > READING_STALE_DAYS).then(|| {
            format!(
                "The last reading is {} old: please send what the hour meter shows now.",
                counted(age, "day")
            )
        })
    }

    fn remarks(&self, as_of: NaiveDate) -> Vec<String> {
        let conflicts = &self.row.conflicts;
        let mut remarks: Vec<String> = conflicts
            .iter()
            .take(CONFLICTS_SHOWN)
            .map(|conflict| format!("Records contradict: {}", clean(conflict, SENTENCE_CHARS)))
            .collect();
        if conflicts.len() > CONFLICTS_SHOWN {
            let more = counted_size(conflicts.len() - CONFLICTS_SHOWN, "more contradiction");
            remarks.push(format!("{more} on record."));
        }
        if self.engine_type.is_none() {
            remarks.push(
                "No programme is active for this type of engine: nothing can be counted for it."
                    .to_owned(),
            );
        }
        remarks.extend(self.version_words(as_of).into_iter().skip(1));
        remarks
    }

    /// The lines not in trouble, in one sentence, with what comes next on each side.
    fn rest(&self, as_of: NaiveDate) -> Option<String> {
        let rest: Vec<&DueLine> =
            self.lines.iter().filter(|line| !in_trouble(line, as_of)).collect();
        if rest.is_empty() {
            return None;
        }
        let counts = counts(rest.iter().map(|line| line.status(as_of)));
        let waiting = || rest.iter().filter(|line| line.status(as_of) == Status::NotDue);
        let by_date =
            waiting().filter_map(|line| Some((line.due_on()?, line))).min_by_key(|(on, _)| *on);
        let by_hours = waiting()
            .filter_map(|line| Some((line.hours_left()?, line)))
            .min_by_key(|(left, _)| *left);
        let by_date = by_date.map(|(on, line)| {
            format!(" Next by date: {}, {}.", self.line_title(line), day_from(on, as_of))
        });
        let by_hours = by_hours.map(|(left, line)| {
            let meter = line.meter_due();
            let meter = meter.map(|meter| format!(" (hour meter {})", meter.tenths_down()));
            format!(
                " Next by hours: {}, {} h left at the last reading{}.",
                self.line_title(line),
                left.tenths_down(),
                meter.unwrap_or_default()
            )
        });
        Some(format!(
            "Further items: {}.{}{}",
            counts_words(&counts),
            by_date.unwrap_or_default(),
            by_hours.unwrap_or_default()
        ))
    }

    pub(crate) fn line_title(&self, line: &DueLine) -> String {
        let invented = if self.invented() { " (invented)" } else { "" };
        format!("{}{invented}", clean(&line.title, NAME_CHARS))
    }

    pub(crate) fn place(&self, line: &DueLine) -> Option<String> {
        line.position.as_ref().map(|position| self.place_named(position))
    }

    /// What people call a place on the engine.
    pub(crate) fn place_named(&self, position: &PositionId) -> String {
        let known = self.engine_type.as_ref().map_or(&[][..], |it| &it.positions);
        let named = known.iter().find(|known| known.id == *position);
        clean(named.map_or(position.as_str(), |known| &known.title), NAME_CHARS)
    }
}

/// The aircraft's mark, or the engine's own serial number.
pub(crate) fn name_of(row: &EngineRow) -> String {
    match (&row.mark, &row.serial) {
        (Some(mark), _) => clean(mark, NAME_CHARS),
        (None, Some(serial)) => format!("engine {}", clean(serial, NAME_CHARS)),
        (None, None) => "engine without a serial".to_owned(),
    }
}

/// With a capital letter and a full stop.
pub(crate) fn sentence(words: &str) -> String {
    let mut chars = words.chars();
    let first = chars.next().map(|c| c.to_uppercase().to_string()).unwrap_or_default();
    format!("{first}{}.", chars.as_str().trim_end_matches('.'))
}
