//! Which due lines are events, on which day, and what they say.

use crate::is_near;
use chrono::NaiveDate;
use gudgeon_life::cautions::CAUTIONS;
use gudgeon_life::ids::{PositionId, Uid};
use gudgeon_life::line::{AskedBy, DueLine};
use gudgeon_life::programme::EngineType;
use gudgeon_life::status::Status;
use gudgeon_life::sure::engine::in_words;
use gudgeon_life::sure::forecast::Forecast;
use gudgeon_life::week::ReportWeek;
use gudgeon_life::words::{clean, line_words};
use gudgeon_store::{EngineRow, WantedEvent};
use sha2::{Digest, Sha256};

/// Characters of any name in a calendar.
const NAME_CHARS: usize = 80;

/// A line that is in the calendar.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Event {
    pub(crate) wanted: WantedEvent,
    /// What is said of it, a paragraph each.
    pub(crate) description: Vec<String>,
    /// How it stands, in a word.
    pub(crate) status: &'static str,
}

impl Event {
    /// The event of a line on a day; `None` when nothing is due for long.
    pub(crate) fn of(
        row: &EngineRow,
        engine_type: Option<&EngineType>,
        line: &DueLine,
        forecast: Option<Forecast>,
        today: NaiveDate,
    ) -> Option<Self> {
        let status = line.status(today);
        let in_trouble = status < Status::OnCondition;
        let (day, estimated) = match day(line, forecast.as_ref()) {
            Some((day, estimated)) if in_trouble || is_near(day, today) => (day, estimated),
            // In trouble on no day that can be told, it stands on the Monday of this week.
            None if in_trouble => (ReportWeek::of(today).monday(), false),
            _ => return None,
        };
        let invented = if engine_type.is_some_and(|it| it.invented) { " (invented)" } else { "" };
        let about = if estimated { " (about, forecast)" } else { "" };
        let title = clean(&line.title, NAME_CHARS);
        let place = place(engine_type, line).map(|it| format!(", {it}")).unwrap_or_default();
        let summary = format!("{}: {title}{place} due{about}{invented}", name(row));
        let wanted = WantedEvent { uid: uid(row, line), day, estimated, summary };
        let description = description(line, forecast.as_ref(), estimated, today);
        Some(Self { wanted, description, status: status.printed() })
    }
}

/// The day on which a line is due, and whether that is a forecast: the day by the calendar or the one to plan by for
/// its hours, whichever comes first.
fn day(line: &DueLine, forecast: Option<&Forecast>) -> Option<(NaiveDate, bool)> {
    let told = |day: &NaiveDate| *day > NaiveDate::MIN && *day < NaiveDate::MAX;
    let known = line.due_on().or(line.days.due_from).or(line.days.unknown_from).filter(told);
    let early = match forecast {
        Some(Forecast::Days(days)) => days.p10.filter(told),
        _ => None,
    };
    match (known, early) {
        (Some(known), Some(early)) if early < known => Some((early, true)),
        (Some(known), _) => Some((known, false)),
        (None, early) => early.map(|early| (early, true)),
    }
}

/// The same for the same item at the same place, whenever it is due, and for nothing else.
fn uid(row: &EngineRow, line: &DueLine) -> Uid {
    let asked = match line.asked_by {
        AskedBy::Programme => "programme".to_owned(),
        AskedBy::OnCondition => "on-condition".to_owned(),
        AskedBy::Finding(fact) | AskedBy::Preservation(fact) => fact.to_string(),
        AskedBy::Event(happened) => happened.fact.to_string(),
    };
    let position = line.position.as_ref().map(PositionId::as_str).unwrap_or_default();
    let component = line.component.map(|it| it.to_string()).unwrap_or_default();
    let name =
        [row.engine.to_string(), line.item.to_string(), position.to_owned(), component, asked];
    let digest: [u8; 32] = Sha256::digest(name.join("\n").as_bytes()).into();
    let mut bytes = [0; 16];
    bytes.iter_mut().zip(digest).for_each(|(byte, of)| *byte = of);
    Uid::from_bytes(bytes)
}

fn name(row: &EngineRow) -> String {
    let serial = || format!("engine {}", row.serial.as_deref().unwrap_or("not on record"));
    clean(&row.mark.clone().unwrap_or_else(serial), NAME_CHARS)
}

fn place(engine_type: Option<&EngineType>, line: &DueLine) -> Option<String> {
    let position = line.position.as_ref()?;
    let known = engine_type.and_then(|it| it.positions.iter().find(|known| known.id == *position));
    Some(clean(known.map_or(position.as_str(), |known| &known.title), NAME_CHARS))
}

fn description(
    line: &DueLine,
    forecast: Option<&Forecast>,
    estimated: bool,
    today: NaiveDate,
) -> Vec<String> {
    let words = line_words(line, today);
    let status = line.status(today).printed();
    let mut said = vec![format!("{status}: {}.", words.due)];
    said.extend(words.late.map(|late| format!("{late}.")));
    said.extend(words.governing.map(|governs| format!("{governs}.")));
    said.extend(
        estimated.then(|| "The day is an estimate from the hours flown so far.".to_owned()),
    );
    said.extend(forecast.map(|forecast| format!("{}.", in_words(forecast))));
    said.extend(words.last.map(|last| format!("Last: {last}.")));
    said.extend(words.finding.map(|finding| format!("{finding}.")));
    said.push(format!("{}, {}.", line.class.printed(), line.source));
    said.push(format!("As of {today}."));
    said.extend(CAUTIONS.map(str::to_owned));
    said
}
