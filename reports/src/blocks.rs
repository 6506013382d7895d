//! What an owner's mail says of an engine besides its lines: the visit that is proposed, what changed, and what the
//! last inspection found.

use crate::compose::{NAME_CHARS, counted_size};
use crate::engine::{SENTENCE_CHARS, sentence};
use crate::snapshot::{EngineSnapshot, LastInspection};
use crate::view::Block;
use chrono::NaiveDate;
use gudgeon_life::changed::{Change, What, changes};
use gudgeon_life::fact::{Condition, Finding};
use gudgeon_life::ids::{ItemId, PositionId};
use gudgeon_life::line::DueLine;
use gudgeon_life::measure::{Outcome, Verdict, judgements};
use gudgeon_life::words::{clean, day, day_from, line_words, short_id};

/// The most sentences of one block; the rest is counted.
const POINTS_MAX: usize = 12;

impl EngineSnapshot {
    /// What changed since the day looked back to; `None` for an engine that was not known then.
    #[must_use]
    pub fn changes(&self, as_of: NaiveDate) -> Option<Vec<Change<'_>>> {
        let before = self.told.before.as_ref()?;
        Some(changes(&before.lines, before.on, &self.lines, as_of))
    }

    /// Whether there is news of it.
    pub(crate) fn has_changed(&self, as_of: NaiveDate) -> bool {
        self.changes(as_of).is_some_and(|changes| !changes.is_empty())
    }

    pub(crate) fn changed(&self, as_of: NaiveDate) -> Option<Block> {
        let since = self.told.before.as_ref()?.on;
        let changes = self.changes(as_of)?;
        let points = changes.iter().map(|change| self.change(*change, as_of)).collect();
        Some(match changes.len() {
            0 => {
                Block { title: format!("Nothing changed since {}", day(since)), points: Vec::new() }
            }
            _ => Block {
                title: format!("Changed since {}", day(since)),
                points: capped(points, "more change"),
            },
        })
    }

    fn change(&self, Change { line, what }: Change<'_>, as_of: NaiveDate) -> String {
        let title = self.titled(line);
        let is = line.status(as_of).printed();
        let due = line_words(line, as_of).due;
        match what {
            What::Done(was) => {
                let done = line.last.map_or_else(
                    || "done".to_owned(),
                    |last| format!("{} {}", last.action.word(), day(last.on)),
                );
                let by = self.shop(line);
                let by = by.map(|shop| format!(" by {shop}")).unwrap_or_default();
                format!("{title}: {done}{by}; was {}, now {is}, {due}.", was.printed())
            }
            What::Worse(was) | What::Better(was) => {
                format!("{title}: was {}, now {is}.", was.printed())
            }
            What::Moved => format!("{title}: {is} as before, now {due}."),
            What::Appeared => format!("{title}: new on the list, {is}."),
            What::Went(was) => format!("{title}: no longer on the list; was {}.", was.printed()),
        }
    }

    /// The title with its place.
    pub(crate) fn titled(&self, line: &DueLine) -> String {
        let place = self.place(line).map(|place| format!(", {place}")).unwrap_or_default();
        format!("{}{place}", self.line_title(line))
    }

    /// What the last inspection found that is not as it should be, and how much it looked at.
    pub(crate) fn found(&self, as_of: NaiveDate) -> Option<Block> {
        let last = self.told.last.as_ref()?;
        let by = last.shop.as_ref().map(|shop| clean(shop, NAME_CHARS));
        let by = by.filter(|shop| !shop.is_empty());
        let by = by.map(|shop| format!(" by {shop}")).unwrap_or_default();
        let mut points: Vec<String> =
            last.inspection.findings.iter().filter_map(|it| self.finding(it)).collect();
        points.extend(self.judged(last));
        let mut points = capped(points, "more finding");
        points.push(self.looked_at(last));
        Some(Block {
            title: format!(
                "Last inspection: released {}{by} (record ending {})",
                day_from(last.on, as_of),
                short_id(last.record.0)
            ),
            points,
        })
    }

    fn finding(&self, finding: &Finding) -> Option<String> {
        let words = match finding.condition {
            Condition::Serviceable => return None,
            Condition::Monitor => "fit for now, look again",
            Condition::Repair => "to be repaired",
            Condition::Renew => "to be renewed",
            Condition::Scrap => "scrap, never to be used again",
            Condition::NotInspected => "not looked at",
        };
        let again = finding.recheck.map(|recheck| {
            let hours = recheck.hours.map(|hours| format!("after {} h", hours.tenths_down()));
            let ends: Vec<String> =
                hours.into_iter().chain(recheck.on.map(|on| format!("by {}", day(on)))).collect();
            format!(" {}", ends.join(" or "))
        });
        let what = self.at(&self.named(&finding.item), finding.position.as_ref());
        Some(sentence(&format!("{what}: {words}{}", again.unwrap_or_default())))
    }

    /// What is proved to be beyond a limit, or cannot be decided.
    fn judged(&self, last: &LastInspection) -> Vec<String> {
        let Some(engine_type) = &self.engine_type else { return Vec::new() };
        let judged = judgements(&last.inspection, &engine_type.bench);
        let told = judged.iter().filter(|it| {
            matches!(it.outcome, Outcome::Judged(Verdict::Beyond | Verdict::CannotDecide))
        });
        told.map(|it| sentence(&clean(&it.to_string(), SENTENCE_CHARS))).collect()
    }

    /// How much was looked at and measured, so that nothing to tell is not taken for nothing looked at.
    fn looked_at(&self, last: &LastInspection) -> String {
        let it = &last.inspection;
        let fit = it.findings.iter().filter(|it| it.condition == Condition::Serviceable).count();
        let bench = self.engine_type.as_ref().map(|it| judgements(&last.inspection, &it.bench));
        let within = bench.into_iter().flatten();
        let within = within.filter(|it| it.outcome == Outcome::Judged(Verdict::Within)).count();
        let found = match fit {
            0 if it.findings.is_empty() => "no findings reported".to_owned(),
            0 => "no place reported fit for use".to_owned(),
            fit => format!("{} found fit for use", counted_size(fit, "place")),
        };
        let measured = match it.measurements.len() {
            0 => "nothing measured".to_owned(),
            count => format!(
                "{} within limits of {}",
                counted_size(within, "figure"),
                counted_size(count, "measurement")
            ),
        };
        let done = counted_size(it.work.len(), "item");
        sentence(&format!("{found}, {measured}, {done} reported done"))
    }

    /// What people call an item, or what a finding is about.
    pub(crate) fn named(&self, item: &ItemId) -> String {
        let known = self.engine_type.as_ref().and_then(|it| it.item(item));
        let named = known.map_or_else(|| item.as_str().replace('-', " "), |it| it.title.clone());
        clean(&named, NAME_CHARS)
    }

    fn at(&self, what: &str, position: Option<&PositionId>) -> String {
        match position {
            Some(position) => format!("{what}, {}", self.place_named(position)),
            None => what.to_owned(),
        }
    }
}

/// No more than fit; the rest counted.
fn capped(mut points: Vec<String>, more: &str) -> Vec<String> {
    if points.len() > POINTS_MAX {
        let left = points.split_off(POINTS_MAX).len();
        points.push(format!("{}.", counted_size(left, more)));
    }
    points
}
