//! One engine of an owner's mail in words: its hours, what its records say wrong, its due lines.

use crate::compose::{EngineSnapshot, NAME_CHARS, counted_size, counts, counts_words, in_trouble};
use crate::view::{EngineBlock, Labelled, LegBlock, LineBlock};
use crate::witness::Witness;
use chrono::NaiveDate;
use gudgeon_life::hours::Hours;
use gudgeon_life::line::{AskedBy, DueLine};
use gudgeon_life::status::Status;
use gudgeon_life::words::{clean, day, day_from, line_words, short_id, urgency};
use std::collections::HashSet;

/// The longest a source or a contradiction may print, in characters.
const SENTENCE_CHARS: usize = 240;
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
        match (&self.row.mark, &self.row.serial) {
            (Some(mark), _) => clean(mark, NAME_CHARS),
            (None, Some(serial)) => format!("engine {}", clean(serial, NAME_CHARS)),
            (None, None) => "engine without a serial".to_owned(),
        }
    }

    fn title(&self) -> String {
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
        EngineBlock {
            name: self.name(),
            title: self.title(),
            facts: self.facts(as_of),
            remarks: self.remarks(as_of),
            lines: lines
                .iter()
                .filter(|(at, _)| shown.contains(at))
                .map(|(_, line)| self.line(line, as_of))
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
        let position = line.position.as_ref()?;
        let named = self
            .engine_type
            .as_ref()
            .and_then(|it| it.positions.iter().find(|known| known.id == *position));
        Some(clean(named.map_or(position.as_str(), |known| &known.title), NAME_CHARS))
    }

    fn line(&self, line: &DueLine, as_of: NaiveDate) -> LineBlock {
        let words = line_words(line, as_of);
        let status = line.status(as_of);
        let mut details = vec![(
            "Rule",
            format!("{}; {}", line.class.printed(), clean(&line.source, SENTENCE_CHARS)),
        )];
        details.extend(words.last.map(|last| ("Last done", last)));
        details.extend(
            line.component.map(|part| ("Part", format!("record ending {}", short_id(part.0)))),
        );
        let asked = match line.asked_by {
            AskedBy::Programme | AskedBy::OnCondition | AskedBy::Finding(_) => "Finding",
            AskedBy::Event(_) => "What happened",
            AskedBy::Preservation(_) => "Storage",
        };
        details.extend(words.finding.map(|words| (asked, words)));
        details.extend(line.notes.iter().map(|note| ("Note", note.printed().to_owned())));
        LineBlock {
            key: status.word().to_owned(),
            status: status.printed().to_owned(),
            title: self.line_title(line),
            place: self.place(line),
            due: sentence(&words.due),
            governing: words.governing.map(|governing| match words.no_date {
                Some(no_date) => sentence(&format!("{governing}; {no_date}")),
                None => sentence(&governing),
            }),
            late: words.late.map(|late| sentence(&late)),
            legs: words
                .legs
                .into_iter()
                // A leg that says no more than the headline is left out.
                .filter(|leg| leg.words != words.due)
                .map(|leg| LegBlock {
                    name: clean(&leg.name, NAME_CHARS)
                        + if leg.governs { " (governs)" } else { "" },
                    words: sentence(&leg.words),
                })
                .collect(),
            details: details
                .into_iter()
                .map(|(label, value)| Labelled { label: label.to_owned(), value: sentence(&value) })
                .collect(),
        }
    }
}

/// With a capital letter and a full stop.
fn sentence(words: &str) -> String {
    let mut chars = words.chars();
    let first = chars.next().map(|c| c.to_uppercase().to_string()).unwrap_or_default();
    format!("{first}{}.", chars.as_str().trim_end_matches('.'))
}
