//! Corrections and withdrawals of earlier facts.

use super::{Context, NOTE_CHARS_MAX, UNDATED, engines, entry, inspections};
use crate::read::Fields;
use gudgeon_life::fact::{Amendment, Content, Entry, Host, Inspection, Stream};
use gudgeon_life::ids::{EngineId, FactId};

/// `{engine, supersedes, reason, withdrawn: true | inspection: {...}}`.
pub(crate) fn of_inspection(root: FactId, fields: &Fields<'_>, context: &Context) -> Option<Entry> {
    let engine = fields.required("engine").and_then(|it| it.uid()).map(EngineId);
    let head = head(fields, context);
    let inspection = fields.optional("inspection");
    let stands = match (head.withdrawn, inspection) {
        (true, None) => Some(Stands::Nothing),
        (false, Some(value)) => {
            let replacement = inspections::inspection(&value.object(), context);
            replacement.filter(|entry| same_engine(fields, entry, engine)).map(stands_instead)
        }
        (true, Some(_)) => contradiction(fields, "inspection"),
        (false, None) => nothing(fields, "inspection"),
    };
    amendment(fields, root, engine.map(Stream::engine), head.supersedes, stands)
}

/// `{supersedes, reason, withdrawn: true | on + meter}`.
pub(crate) fn of_reading(
    of: Host,
    root: FactId,
    fields: &Fields<'_>,
    context: &Context,
) -> Option<Entry> {
    let head = head(fields, context);
    let any = fields.optional("meter").is_some() || fields.optional("on").is_some();
    let stands = match (head.withdrawn, any) {
        (true, false) => Some(Stands::Nothing),
        (false, true) => engines::reading(of, fields, context).map(stands_instead),
        (true, true) => contradiction(fields, "meter"),
        (false, false) => nothing(fields, "meter"),
    };
    amendment(fields, root, Some(of.into()), head.supersedes, stands)
}

/// `{supersedes, reason, withdrawn: true | record: {...}}`, the record as it should have been posted.
pub(crate) fn of_record(
    root: FactId,
    stream: Stream,
    fields: &Fields<'_>,
    context: &Context,
    reader: impl FnOnce(&Fields<'_>) -> Option<Entry>,
) -> Option<Entry> {
    let head = head(fields, context);
    let stands = match (head.withdrawn, fields.optional("record")) {
        (true, None) => Some(Stands::Nothing),
        (false, Some(value)) => reader(&value.object()).map(stands_instead),
        (true, Some(_)) => contradiction(fields, "record"),
        (false, None) => nothing(fields, "record"),
    };
    amendment(fields, root, Some(stream), head.supersedes, stands)
}

/// What stands once the amendment counts. (A replacement with faults is neither.)
enum Stands {
    Entry(Box<Entry>),
    Nothing,
}

fn stands_instead(entry: Entry) -> Stands {
    Stands::Entry(Box::new(entry))
}

struct Head {
    supersedes: Option<FactId>,
    withdrawn: bool,
}

fn head(fields: &Fields<'_>, context: &Context) -> Head {
    let supersedes = fields.required("supersedes").and_then(|it| it.uid()).map(FactId);
    context.private(fields.required("reason"), NOTE_CHARS_MAX);
    let withdrawn = fields.optional("withdrawn").and_then(|it| it.flag()).unwrap_or(false);
    Head { supersedes, withdrawn }
}

/// An amendment holds from no day of its own: what it puts in place has one.
fn amendment(
    fields: &Fields<'_>,
    root: FactId,
    stream: Option<Stream>,
    supersedes: Option<FactId>,
    stands: Option<Stands>,
) -> Option<Entry> {
    let on = match &stands {
        Some(Stands::Entry(entry)) => entry.on,
        Some(Stands::Nothing) | None => UNDATED,
    };
    let says = || {
        let replacement = match stands? {
            Stands::Entry(entry) => Some(entry),
            Stands::Nothing => None,
        };
        let amendment = Amendment { stream: stream?, root, supersedes: supersedes?, replacement };
        Some(Content::Amendment(amendment))
    };
    let says = says();
    entry(fields, Some(on), says)
}

fn same_engine(fields: &Fields<'_>, entry: &Entry, engine: Option<EngineId>) -> bool {
    match &entry.content {
        Content::Inspection(Inspection { engine: named, .. }) if Some(*named) != engine => {
            let detail =
                "the corrected inspection names another engine; withdraw it and post a new one";
            fields.fault("inspection", "contradiction", detail);
            false
        }
        _ => true,
    }
}

fn contradiction<T>(fields: &Fields<'_>, name: &str) -> Option<T> {
    let detail = "a withdrawn record is not replaced; leave out `withdrawn` or what follows it";
    fields.fault(name, "contradiction", detail);
    None
}

fn nothing<T>(fields: &Fields<'_>, name: &str) -> Option<T> {
    let detail = format!("say what stands now: `{name}`, or `\"withdrawn\": true` if nothing does");
    fields.fault(name, "missing", detail);
    None
}
