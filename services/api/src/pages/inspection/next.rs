//! What comes next for the engine of a report: what is due and why, and the parts to renew.

use super::named;
use crate::app::App;
use crate::pages::place;
use crate::problem::Problem;
use chrono::NaiveDate;
use gudgeon_life::fact::Stream;
use gudgeon_life::history::{ComponentState, History};
use gudgeon_life::ids::{ComponentId, FactId, PositionId};
use gudgeon_life::line::{AskedBy, DueLine};
use gudgeon_life::programme::EngineType;
use gudgeon_life::renewals::{Reason, Renewal, renewals};
use gudgeon_life::status::Status;
use gudgeon_life::words::{day, line_words, urgency};
use gudgeon_store::EngineRow;
use serde::Serialize;

/// What is due on the engine and what is to be renewed, as of a day.
#[derive(Serialize)]
pub(super) struct Next {
    as_of: String,
    /// Whether a programme is active for its type.
    counted: bool,
    due: Vec<Due>,
    parts: Vec<Part>,
    entered: Option<String>,
}

#[derive(Serialize)]
struct Due {
    key: &'static str,
    status: &'static str,
    title: String,
    place: String,
    when: String,
    why: String,
}

/// One row of the parts list.
#[derive(Serialize)]
struct Part {
    what: String,
    quantity: usize,
    places: String,
    why: String,
}

/// What comes next for an engine; the lines that the inspection `id` set are marked.
pub(super) fn of(
    app: &App,
    row: &EngineRow,
    id: FactId,
    today: NaiveDate,
) -> Result<Next, Problem> {
    let engine_type = app.counted_type_of(row)?;
    let history = app.store.history_of(Stream::engine(row.engine))?;
    let mut lines: Vec<DueLine> =
        app.store.due_lines(&[row.key])?.into_iter().map(|(_, line)| line).collect();
    lines.sort_by_key(|line| urgency(line, today));
    let teller = Teller { engine_type: engine_type.as_deref(), history: &history, today };
    let due = lines.iter().filter(|line| pressing(line, today) || set_by(line, id));
    Ok(Next {
        as_of: day(today),
        counted: engine_type.is_some(),
        due: due.map(|line| teller.due(line, id)).collect(),
        parts: teller.parts(&lines),
        entered: engine_type.as_deref().map(|it| day(it.entered_up_to)),
    })
}

/// Whether an owner has to do or to find out something soon.
fn pressing(line: &DueLine, today: NaiveDate) -> bool {
    !matches!(line.status(today), Status::NotDue | Status::OnCondition)
}

/// Whether an inspection set a line: its work is the last, or its finding asks for it.
fn set_by(line: &DueLine, id: FactId) -> bool {
    line.last.is_some_and(|last| last.fact == id) || line.asked_by == AskedBy::Finding(id)
}

/// What is needed to put lines in words.
struct Teller<'a> {
    engine_type: Option<&'a EngineType>,
    history: &'a History,
    today: NaiveDate,
}

impl Teller<'_> {
    fn due(&self, line: &DueLine, id: FactId) -> Due {
        let status = line.status(self.today);
        let words = line_words(line, self.today);
        let last = words.last.map(|last| format!("last done: {last}"));
        let set = set_by(line, id).then(|| "set by this inspection".to_owned());
        let why = [Some(format!("{}, {}", line.class.printed(), line.source)), last, set];
        let why = why.into_iter().flatten();
        let why: Vec<String> =
            why.chain(line.notes.iter().map(|note| note.printed().to_owned())).collect();
        Due {
            key: status.word(),
            status: status.printed(),
            title: line.title.clone(),
            place: self.spot(line.position.as_ref(), line.component),
            when: words.late.into_iter().chain([words.due]).collect::<Vec<_>>().join("; "),
            why: why.join("; "),
        }
    }

    fn spot(&self, position: Option<&PositionId>, component: Option<ComponentId>) -> String {
        let at = position.map(|it| place(self.engine_type, it.as_str()));
        let part = component.and_then(|id| self.history.component(id)).map(ComponentState::label);
        match (at, part) {
            (Some(at), Some(part)) => format!("{at} ({part})"),
            (Some(told), None) | (None, Some(told)) => told,
            (None, None) => "engine".to_owned(),
        }
    }

    /// Everything to renew, the worst first: one row for each thing, with all its places.
    fn parts(&self, lines: &[DueLine]) -> Vec<Part> {
        let overdue = |line: &DueLine| line.status(self.today) == Status::Overdue;
        let renewals = renewals(lines, self.history, self.engine_type, overdue);
        renewals.iter().map(|it| self.part(it)).collect()
    }

    fn part(&self, it: &Renewal) -> Part {
        let places: Vec<String> =
            it.spots.iter().map(|(position, part)| self.spot(position.as_ref(), *part)).collect();
        let why: Vec<String> = it.why.iter().map(|reason| why(*reason)).collect();
        Part {
            what: named(&it.item, self.engine_type),
            quantity: it.spots.len(),
            places: places.join(", "),
            why: why.join("; "),
        }
    }
}

fn why(reason: Reason) -> String {
    match reason {
        Reason::Programme => "overdue by the programme".to_owned(),
        Reason::FoundToRenew(on) => format!("found to be renewed at the inspection released {on}"),
        Reason::FoundScrap(on) => format!("found scrap at the inspection released {on}"),
    }
}

#[cfg(test)]
pub(in crate::pages) mod tests {
    use super::*;

    pub(in crate::pages) fn sample(name: &str) -> Next {
        let text = || name.to_owned();
        let due = Due {
            key: "overdue",
            status: "overdue",
            title: text(),
            place: text(),
            when: text(),
            why: text(),
        };
        Next {
            as_of: text(),
            counted: true,
            due: vec![due],
            parts: vec![Part { what: text(), quantity: 2, places: text(), why: text() }],
            entered: Some(text()),
        }
    }
}
