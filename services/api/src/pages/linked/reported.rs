//! What an owner sends from the reading page: checked, kept as a record in the owner's name, and answered with
//! what is due now.

use super::reading::{Asked, Draft, Meter, meters, new_id, page};
use super::{Holder, Shown};
use crate::answers::lines::is_pressing;
use crate::app::App;
use crate::call::day_of;
use crate::form::Form;
use crate::pages::{engine_types, place};
use crate::problem::{Kind, Problem};
use crate::read::Fault;
use crate::requests::{self, Posted, amendments, engines, happenings};
use crate::write::{self, Kept};
use gudgeon_life::calendar::days_between;
use gudgeon_life::cautions::CAUTIONS;
use gudgeon_life::fact::{Affected, Content, Entry, Host, Stream};
use gudgeon_life::hours::Hours;
use gudgeon_life::ids::{EngineId, FactId, Uid};
use gudgeon_life::line::DueLine;
use gudgeon_life::programme::EngineType;
use gudgeon_life::words::{day, line_words, urgency};
use gudgeon_store::{EngineRow, Instant, Principal, Role};
use serde::Serialize;
use serde_json::{Map, Value, json};
use std::collections::BTreeMap;

/// Lines told of each engine.
const LINES_MAX: usize = 10;
/// Hours in a day: a meter that gains more was misread, or was changed.
const DAY_HOURS: i64 = 24;

#[derive(Serialize)]
pub(super) struct Reported {
    title: &'static str,
    /// What was kept, in words.
    kept: String,
    /// Whether it was here already.
    again: bool,
    warnings: Vec<String>,
    engines: Vec<EngineDue>,
    /// What takes it back.
    take_back: Option<TakeBack>,
    cautions: [&'static str; CAUTIONS.len()],
}

#[derive(Serialize)]
struct EngineDue {
    name: String,
    conflicts: Vec<String>,
    lines: Vec<Line>,
    /// How many more lines there are.
    more: usize,
}

#[derive(Serialize)]
struct Line {
    key: &'static str,
    status: &'static str,
    title: String,
    place: Option<String>,
    due: String,
    late: Option<String>,
}

#[derive(Serialize)]
struct TakeBack {
    /// The identifier of the correction.
    id: String,
    engine: String,
    /// The record that is taken back.
    root: String,
    what: &'static str,
}

/// What a form is for.
#[derive(Clone, Copy, PartialEq, Eq)]
enum What {
    Reading,
    Event,
    Withdrawal,
}

/// Keeps what was filled in and answers with what is due now; or shows the page again and says why not.
pub(super) fn keep(
    app: &App,
    holder: &Holder,
    form: &Form,
    now: Instant,
) -> Result<Shown, Problem> {
    let asked = Asked::of(app, holder, now)?;
    let what = match form.get("what") {
        "event" => What::Event,
        "withdrawal" => What::Withdrawal,
        _ => What::Reading,
    };
    let mut draft = drafted(form);
    let engine = Uid::parse(&draft.engine).map(EngineId);
    let meters = meters(app, &holder.link)?;
    let found = engine.and_then(|id| Some((id, meters.iter().find(|meter| meter.has(id))?)));
    let Some((engine, meter)) = found else { return Shown::no_link(app) };
    let again = |draft: &Draft| -> Result<Shown, Problem> {
        let none = Draft::default();
        let (reading, event) = if what == What::Event { (&none, draft) } else { (draft, &none) };
        Ok(page(app, holder, asked, reading, event)?.not_done())
    };
    draft.faults = blanks(&draft, what);
    if !draft.faults.is_empty() {
        return again(&draft);
    }
    let posted = match read(&draft, what, engine, form, asked) {
        Ok(posted) => posted,
        Err(problem) => {
            draft.faults = by_field(&problem);
            return again(&draft);
        }
    };
    // Somebody is sure of one number on one day, and not of what was typed after that.
    if form.get("sure") != format!("{} {}", draft.on, draft.meter).trim() {
        draft.doubt = doubt(meter, &posted.fact.entry);
        if draft.doubt.is_some() {
            return again(&draft);
        }
    }
    match write::keep(app, &principal(holder), posted, now) {
        Ok(kept) => done(app, meter, asked, &kept, what),
        Err(problem) if problem.kind == Kind::DIFFERENT_CONTENT => {
            draft.id = new_id(now)?;
            draft.doubt = Some("This form was sent before with something else in it, and that was kept. Send it again only if this is one more.".to_owned());
            again(&draft)
        }
        Err(problem) if problem.kind == Kind::NOT_FOUND && what != What::Withdrawal => {
            let detail = "on that day this engine was not yours on record; check the day, or ask your workshop to put the ownership right";
            draft.faults.insert("on".to_owned(), detail.to_owned());
            again(&draft)
        }
        Err(problem) => Err(problem),
    }
}

fn drafted(form: &Form) -> Draft {
    let text = |name: &str| form.get(name).to_owned();
    Draft {
        id: text("id"),
        engine: text("engine"),
        meter: text("meter"),
        on: text("on"),
        kind: text("kind"),
        note: text("note"),
        faults: BTreeMap::new(),
        doubt: None,
    }
}

/// What was left empty, in the words of the page.
fn blanks(draft: &Draft, what: What) -> BTreeMap<String, String> {
    let meter = "type what the hour meter shows, such as 1043.2 or 1043:12";
    let on = "say on which day, such as 2026-11-25";
    let kind = "choose what happened";
    let needed = match what {
        What::Reading => vec![("meter", &draft.meter, meter), ("on", &draft.on, on)],
        What::Event => vec![("kind", &draft.kind, kind), ("on", &draft.on, on)],
        What::Withdrawal => Vec::new(),
    };
    let empty = needed.into_iter().filter(|(_, typed, _)| typed.is_empty());
    empty.map(|(name, _, words)| (name.to_owned(), words.to_owned())).collect()
}

/// The record that a form tells, read as a post of the same to the API is.
fn read(
    draft: &Draft,
    what: What,
    engine: EngineId,
    form: &Form,
    asked: Asked,
) -> Result<Posted, Problem> {
    // A form of ours always has an identifier; one that was made by hand is kept as often as it is sent.
    let id = match Uid::parse(&draft.id) {
        Some(id) => Some(id),
        None => Uid::parse(&new_id(asked.now)?),
    };
    let today = day_of(asked.now);
    let root = FactId(Uid::parse(form.get("root")).unwrap_or(engine.0));
    let body = body(draft, what, root)?.to_string();
    requests::read(body.as_bytes(), id.map(FactId), today, None, |fields, context| match what {
        What::Reading => engines::reading(Host::Engine(engine), fields, context),
        What::Event => happenings::event(Affected::Engine(engine), fields, context),
        What::Withdrawal => {
            // A withdrawal puts nothing in the place of the record, whatever its kind.
            amendments::of_record(root, Stream::engine(engine), fields, context, |_| None)
        }
    })
}

fn body(draft: &Draft, what: What, root: FactId) -> Result<Value, Problem> {
    if what == What::Withdrawal {
        let reason = "taken back by the owner who told it";
        return Ok(json!({ "supersedes": root.to_string(), "reason": reason, "withdrawn": true }));
    }
    let mut fields = Map::new();
    fields.insert("on".to_owned(), json!(draft.on));
    if !draft.meter.is_empty() {
        fields.insert("meter".to_owned(), json!(plain_hours(&draft.meter)?));
    }
    if what == What::Event {
        fields.insert("kind".to_owned(), json!(draft.kind));
        if !draft.note.is_empty() {
            fields.insert("note".to_owned(), json!(draft.note));
        }
    }
    Ok(Value::Object(fields))
}

/// Hours as people type them on a phone, with a point as the decimal mark: `1043,2` is 1043.2. Three digits
/// after the mark are refused: they may be thousands.
fn plain_hours(typed: &str) -> Result<String, Problem> {
    let joined: String = typed.chars().filter(|c| !c.is_whitespace()).collect();
    let plain = joined.replacen(',', ".", 1);
    let thousands = plain.split_once('.').is_some_and(|(_, tenths)| tenths.len() == 3);
    if !thousands {
        return Ok(plain);
    }
    let detail = format!(
        "`{typed}` may be thousands or parts of an hour; write whole hours without a mark, and one digit after it, such as 1043.2"
    );
    Err(Problem::invalid(vec![Fault { pointer: "/meter".to_owned(), code: "bad-hours", detail }]))
}

/// The faults that a reader found, by the name of the field.
fn by_field(problem: &Problem) -> BTreeMap<String, String> {
    let faults = problem.faults.iter().map(|fault| {
        let name = fault.pointer.trim_start_matches('/').to_owned();
        (name, fault.detail.clone())
    });
    faults.collect()
}

/// Why what the meter is said to show is to be looked at again; it is never refused for that.
fn doubt(meter: &Meter, entry: &Entry) -> Option<String> {
    let shown = match &entry.content {
        Content::Reading(it) => it.meter,
        Content::Event(it) => it.meter?,
        _ => return None,
    };
    let (last, last_on) = meter.last()?;
    let days = days_between(last_on, entry.on);
    let gained = shown - last;
    let on = day(last_on);
    if days >= 0 && gained < Hours::ZERO {
        Some(format!(
            "{shown} is less than the {last} that the meter showed on {on}. Was the meter changed? Then tell your workshop."
        ))
    } else if days < 0 && gained > Hours::ZERO {
        Some(format!("{shown} is more than the {last} that the meter showed later, on {on}."))
    } else if days >= 0 && gained > Hours::from_whole(DAY_HOURS * (days + 1)) {
        Some(format!(
            "{shown} is {} h more than on {on}: more than there are hours since. Is the decimal mark in its place?",
            gained.tenths_up()
        ))
    } else {
        None
    }
}

/// Who posts through the link.
fn principal(holder: &Holder) -> Principal {
    let party = Some(holder.party.party);
    Principal { key: None, role: Role::Owner, party, label: String::new() }
}

fn done(app: &App, meter: &Meter, asked: Asked, kept: &Kept, what: What) -> Result<Shown, Problem> {
    let fact = &kept.stored.fact;
    let of = EngineId(kept.stored.stream.id);
    let (title, words) = match &fact.entry.content {
        Content::Reading(it) => {
            ("Reading saved", format!("{}: {} on {}", meter.name(), it.meter, day(fact.entry.on)))
        }
        Content::Event(it) => (
            "Report saved",
            format!("{}: {} on {}", meter.name_of(of), it.kind.printed(), day(fact.entry.on)),
        ),
        _ => ("Taken back", format!("{}: what you sent does not count any more", meter.name())),
    };
    let take_back = (what != What::Withdrawal).then(|| {
        Ok::<_, Problem>(TakeBack {
            id: new_id(asked.now)?,
            engine: of.to_string(),
            root: fact.id.to_string(),
            what: if what == What::Reading { "this reading" } else { "this report" },
        })
    });
    let view = Reported {
        title,
        kept: words,
        again: !kept.created,
        warnings: kept.warnings.iter().map(|it| it.detail.clone()).collect(),
        engines: due(app, meter, kept, asked)?,
        take_back: take_back.transpose()?,
        cautions: CAUTIONS,
    };
    Shown::page(app, "reported.html", title, &view)
}

/// What is due now on the engines that a record bears on.
fn due(app: &App, meter: &Meter, kept: &Kept, asked: Asked) -> Result<Vec<EngineDue>, Problem> {
    let types = engine_types(app)?;
    let mut out = Vec::new();
    for id in &kept.engines {
        let Some(row) = app.store.engine(*id)? else { continue };
        let engine_type = row.engine_type.as_ref().and_then(|name| types.get(name));
        out.push(engine_due(app, meter, &row, engine_type.map(AsRef::as_ref), asked)?);
    }
    Ok(out)
}

fn engine_due(
    app: &App,
    meter: &Meter,
    row: &EngineRow,
    engine_type: Option<&EngineType>,
    asked: Asked,
) -> Result<EngineDue, Problem> {
    let lines = app.store.due_lines(&[row.key])?.into_iter().map(|(_, line)| line);
    let mut pressing: Vec<DueLine> = lines.collect();
    pressing.retain(|line| is_pressing(line, asked.today));
    pressing.sort_by_key(|line| urgency(line, asked.today));
    let told = pressing.iter().take(LINES_MAX).map(|line| {
        let words = line_words(line, asked.today);
        let status = line.status(asked.today);
        Line {
            key: status.word(),
            status: status.printed(),
            title: line.title.clone(),
            place: line.position.as_ref().map(|it| place(engine_type, it.as_str())),
            due: words.due,
            late: words.late,
        }
    });
    let lines: Vec<Line> = told.collect();
    Ok(EngineDue {
        name: meter.name_of(row.engine),
        conflicts: row.conflicts.clone(),
        more: pressing.len() - lines.len(),
        lines,
    })
}

#[cfg(test)]
pub(super) fn sample(text: &str) -> Reported {
    let line = Line {
        key: "overdue",
        status: "overdue",
        title: text.to_owned(),
        place: Some(text.to_owned()),
        due: text.to_owned(),
        late: Some(text.to_owned()),
    };
    Reported {
        title: "Reading saved",
        kept: text.to_owned(),
        again: true,
        warnings: vec![text.to_owned()],
        engines: vec![EngineDue {
            name: text.to_owned(),
            conflicts: vec![text.to_owned()],
            lines: vec![line],
            more: 3,
        }],
        take_back: Some(TakeBack {
            id: "x".to_owned(),
            engine: "x".to_owned(),
            root: "x".to_owned(),
            what: "this reading",
        }),
        cautions: CAUTIONS,
    }
}
