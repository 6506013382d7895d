//! One due line of an owner's mail in words: how it stands, why, and where each figure comes from.

use crate::compose::NAME_CHARS;
use crate::engine::{SENTENCE_CHARS, sentence};
use crate::snapshot::EngineSnapshot;
use crate::view::{Labelled, LegBlock, LineBlock};
use chrono::NaiveDate;
use gudgeon_life::line::{AskedBy, Count, DueLine};
use gudgeon_life::sure::engine::in_words;
use gudgeon_life::words::{LineWords, clean, day_from, line_words, short_id};

impl EngineSnapshot {
    /// The line at a place of the snapshot.
    pub(crate) fn line(&self, at: usize, line: &DueLine, as_of: NaiveDate) -> LineBlock {
        let words = line_words(line, as_of);
        let status = line.status(as_of);
        let forecast = self.told.forecasts.get(at).and_then(Option::as_ref).map(in_words);
        let details = self.details(line, &words, as_of);
        // A forecast stands where else it is said that there is none.
        let no_date = words.no_date.filter(|_| forecast.is_none());
        LineBlock {
            key: status.word().to_owned(),
            status: status.printed().to_owned(),
            title: self.line_title(line),
            place: self.place(line),
            due: sentence(&words.due),
            governing: words.governing.map(|governing| match no_date {
                Some(no_date) => sentence(&format!("{governing}; {no_date}")),
                None => sentence(&governing),
            }),
            late: words.late.map(|late| sentence(&late)),
            forecast: forecast.map(|words| sentence(&words)),
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
            details,
        }
    }

    /// Rule, last work, part, reading, what asks for it, notes.
    fn details(&self, line: &DueLine, words: &LineWords, as_of: NaiveDate) -> Vec<Labelled> {
        let rule = format!("{}; {}", line.class.printed(), clean(&line.source, SENTENCE_CHARS));
        let last = words.last.as_ref().map(|last| {
            let shop = self.shop(line);
            shop.map_or_else(|| last.clone(), |shop| format!("{last}, by {shop}"))
        });
        let asked = match line.asked_by {
            AskedBy::Programme | AskedBy::OnCondition | AskedBy::Finding(_) => "Finding",
            AskedBy::Event(_) => "What happened",
            AskedBy::Preservation(_) => "Storage",
        };
        let mut details = vec![("Rule", rule)];
        details.extend(last.map(|last| ("Last done", last)));
        details.extend(self.part(line).map(|part| ("Part", part)));
        details.extend(hours_read(line, as_of).map(|read| ("Hours read", read)));
        details.extend(words.finding.clone().map(|words| (asked, words)));
        details.extend(line.notes.iter().map(|note| ("Note", note.printed().to_owned())));
        details.into_iter().map(|(label, value)| Labelled::new(label, sentence(&value))).collect()
    }

    /// The workshop that did a line's last work.
    pub(crate) fn shop(&self, line: &DueLine) -> Option<String> {
        let shop = clean(self.told.shops.get(&line.last?.fact)?, NAME_CHARS);
        (!shop.is_empty()).then_some(shop)
    }

    /// The part that a line is about: its kind and its serial number or lot.
    pub(crate) fn part(&self, line: &DueLine) -> Option<String> {
        let id = line.component?;
        let label = self.told.parts.get(&id).map(|label| clean(label, NAME_CHARS));
        Some(label.unwrap_or_else(|| format!("record ending {}", short_id(id.0))))
    }
}

/// The day of the reading that its hours rest on, for a line that counts any.
fn hours_read(line: &DueLine, as_of: NaiveDate) -> Option<String> {
    let counts = |leg: &gudgeon_life::line::Leg| matches!(leg.count, Count::Hours { .. });
    let on = line.hours_on.filter(|_| line.legs.iter().any(counts))?;
    Some(day_from(on, as_of))
}
