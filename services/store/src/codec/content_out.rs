//! What a fact says, as JSON. `content_in` reads it back; the two change together, with a new version.

use super::fields::{day, digest, hours, list, object, opt, text, uid, whole};
use super::hardware::{fastening, matched_set};
use gudgeon_life::fact::{
    Amendment, Code, ComponentFitted, ComponentRegistered, ComponentRemoved, Concession, Content,
    Described, EngineRegistered, Entry, Erased, Finding, Host, Inspection, InspectionReading, Mark,
    Measurement, Papers, PartyRole, Recheck, Stream, StreamKind, Taken, WorkDone, WrenchUsed,
};
use gudgeon_life::ids::FactId;
use gudgeon_life::sure::rate::Owner;
use gudgeon_life::sure::season::Hemisphere;
use serde_json::Value;

/// The word that a kind of fact is stored under.
pub(super) const fn kind_word(content: &Content) -> &'static str {
    match content {
        Content::PartyRegistered(_) => "party-registered",
        Content::AircraftRegistered(_) => "aircraft-registered",
        Content::EngineRegistered(_) => "engine-registered",
        Content::ComponentRegistered(_) => "component-registered",
        Content::Ownership(_) => "ownership",
        Content::Custody(_) => "custody",
        Content::Erased(_) => "erased",
        Content::EngineRemoved(_) => "engine-removed",
        Content::EngineInstalled(_) => "engine-installed",
        Content::ComponentRemoved(_) => "component-removed",
        Content::ComponentFitted(_) => "component-fitted",
        Content::MeterChanged(_) => "meter-changed",
        Content::Reading(_) => "reading",
        Content::Inspection(_) => "inspection",
        Content::Event(_) => "event",
        Content::Preserved(_) => "preserved",
        Content::Concession(_) => "concession",
        Content::HoursAccepted(_) => "hours-accepted",
        Content::ComponentOverhauled(_) => "component-overhauled",
        Content::MakerRestart(_) => "maker-restart",
        Content::Described(_) => "described",
        Content::ProgrammeActivated(_) => "programme-activated",
        Content::Amendment(_) => "amendment",
    }
}

/// The word that a role is stored under.
pub(crate) const fn role_word(role: PartyRole) -> &'static str {
    match role {
        PartyRole::Owner => "owner",
        PartyRole::Shop => "shop",
    }
}

/// The word that a kind of stream is stored under.
pub(super) const fn stream_word(kind: StreamKind) -> &'static str {
    match kind {
        StreamKind::Party => "party",
        StreamKind::Aircraft => "aircraft",
        StreamKind::Engine => "engine",
        StreamKind::Component => "component",
        StreamKind::Fleet => "fleet",
    }
}

/// One of some words; absent while the usual one holds, which is that nothing was told.
fn told<T: Copy + Default + PartialEq>(value: T, word: fn(T) -> &'static str) -> Value {
    opt(Some(value).filter(|it| *it != T::default()), |it| text(word(it)))
}

/// A whole entry: what the content digest covers, and what an amendment puts in place.
pub(super) fn entry(entry: &Entry) -> Value {
    object([
        ("content", content(&entry.content)),
        ("kind", text(kind_word(&entry.content))),
        ("on", day(entry.on)),
        ("order_in_day", whole(entry.order_in_day)),
    ])
}

/// The content alone; its kind is kept beside it.
pub(super) fn content(content: &Content) -> Value {
    match content {
        Content::PartyRegistered(it) => {
            object([("party", uid(it.party.0)), ("role", text(role_word(it.role)))])
        }
        Content::AircraftRegistered(it) => object([
            ("aircraft", uid(it.aircraft.0)),
            ("basis", text(it.basis.word())),
            ("flown_by", told(it.flown_by, Owner::word)),
            ("hemisphere", told(it.hemisphere, Hemisphere::word)),
            ("mark", text(&it.mark)),
        ]),
        Content::EngineRegistered(it) => engine_registered(it),
        Content::ComponentRegistered(it) => component_registered(it),
        Content::Ownership(it) => object([("of", host(it.of)), ("owner", uid(it.owner.0))]),
        Content::Custody(it) => object([
            ("engine", uid(it.engine.0)),
            ("shop", uid(it.shop.0)),
            ("until", opt(it.until, day)),
        ]),
        Content::Erased(it) => erased(it),
        Content::EngineRemoved(it) => {
            object([("engine", uid(it.engine.0)), ("meter", hours(it.meter))])
        }
        Content::EngineInstalled(it) => object([
            ("aircraft", uid(it.aircraft.0)),
            ("engine", uid(it.engine.0)),
            ("meter", hours(it.meter)),
        ]),
        Content::ComponentRemoved(it) => component_removed(it),
        Content::ComponentFitted(it) => component_fitted(it),
        Content::MeterChanged(it) => object([
            ("aircraft", uid(it.aircraft.0)),
            ("new_start", hours(it.new_start)),
            ("old_end", hours(it.old_end)),
        ]),
        Content::Reading(it) => object([("meter", hours(it.meter)), ("of", host(it.of))]),
        Content::Inspection(it) => inspection(it),
        Content::Event(it) => object([
            ("kind", text(it.kind.word())),
            ("meter", opt(it.meter, hours)),
            ("of", stream(it.of.into())),
        ]),
        Content::Preserved(it) => {
            object([("engine", uid(it.engine.0)), ("until", opt(it.until, day))])
        }
        Content::Concession(it) => concession(it),
        Content::HoursAccepted(it) => object([
            ("engine", uid(it.engine.0)),
            ("hours", hours(it.hours)),
            ("until", day(it.until)),
        ]),
        Content::ComponentOverhauled(it) => {
            object([("component", uid(it.component.0)), ("release", recorded(it.released))])
        }
        Content::MakerRestart(it) => object([("engine", uid(it.engine.0))]),
        Content::Described(it) => described(it),
        Content::ProgrammeActivated(it) => {
            object([("digest", digest(it.digest)), ("engine_type", text(it.engine_type.as_str()))])
        }
        Content::Amendment(it) => amendment(it),
    }
}

fn engine_registered(it: &EngineRegistered) -> Value {
    object([
        ("basis", text(it.basis.word())),
        ("engine", uid(it.engine.0)),
        ("engine_type", text(it.engine_type.as_str())),
        ("made_on", opt(it.made_on, day)),
        ("overhauled", opt(it.overhauled, papers)),
        ("serial", text(&it.serial)),
        ("tsn", opt(it.tsn, hours)),
    ])
}

fn component_registered(it: &ComponentRegistered) -> Value {
    object([
        ("code", opt(it.code.as_ref(), code)),
        ("component", uid(it.component.0)),
        ("cured_on", opt(it.cured_on, day)),
        ("first_fitted_on", opt(it.first_fitted_on, day)),
        ("hours", opt(it.hours, hours)),
        ("kind", text(it.kind.as_str())),
        ("lot", opt(it.lot.as_ref(), text)),
        ("maker_part", opt(it.maker_part.as_ref(), text)),
        ("overhauled", opt(it.overhauled, papers)),
        ("serial", opt(it.serial.as_ref(), text)),
    ])
}

fn papers(papers: Papers) -> Value {
    object([("hours_since", hours(papers.hours_since)), ("on", day(papers.on))])
}

fn code(code: &Code) -> Value {
    object([("scheme", text(code.scheme.word())), ("text", text(&code.text))])
}

fn component_fitted(it: &ComponentFitted) -> Value {
    object([
        ("component", uid(it.component.0)),
        ("host", host(it.host)),
        ("meter", opt(it.meter, hours)),
        ("position", opt(it.position.as_ref(), |at| text(at.as_str()))),
    ])
}

fn component_removed(it: &ComponentRemoved) -> Value {
    object([
        ("cause", opt(it.cause, |cause| text(cause.word()))),
        ("component", uid(it.component.0)),
        ("meter", opt(it.meter, hours)),
    ])
}

fn host(host: Host) -> Value {
    stream(host.into())
}

fn stream(stream: Stream) -> Value {
    object([("id", uid(stream.id)), ("kind", text(stream_word(stream.kind)))])
}

fn inspection(it: &Inspection) -> Value {
    object([
        ("engine", uid(it.engine.0)),
        ("fastenings", list(&it.fastenings, fastening)),
        ("findings", list(&it.findings, finding)),
        ("marks", list(&it.marks, mark)),
        ("matched", list(&it.matched, matched_set)),
        ("measurements", list(&it.measurements, measurement)),
        ("opened_on", day(it.opened_on)),
        ("overhaul", opt(it.overhaul, |scope| text(scope.word()))),
        ("readings", list(&it.readings, reading)),
        ("release", recorded(it.released)),
        ("run_in", opt(it.run_in, hours)),
        ("sheet", opt(it.sheet.as_ref(), |sheet| text(sheet.as_str()))),
        ("shop", uid(it.shop.0)),
        ("test_run", opt(it.test_run, hours)),
        ("tsn", opt(it.tsn, hours)),
        ("work", list(&it.work, work)),
        ("work_order", opt(it.work_order.as_ref(), text)),
    ])
}

/// That there was a release; who gave it travels beside the fact.
fn erased(it: &Erased) -> Value {
    let facts: Vec<FactId> = it.facts.iter().copied().collect();
    let photos: Vec<[u8; 32]> = it.photos.iter().copied().collect();
    object([
        ("facts", list(&facts, |fact| uid(fact.0))),
        ("notes", opt(it.notes.then_some("erased"), text)),
        ("party", uid(it.party.0)),
        ("photos", list(&photos, |photo| digest(*photo))),
    ])
}

fn recorded(released: bool) -> Value {
    opt(released.then_some("recorded"), text)
}

fn reading(it: &InspectionReading) -> Value {
    object([("meter", hours(it.meter)), ("on", day(it.on))])
}

fn finding(it: &Finding) -> Value {
    object([
        ("condition", text(it.condition.word())),
        ("item", text(it.item.as_str())),
        ("photos", list(&it.photos, |photo| digest(*photo))),
        ("position", opt(it.position.as_ref(), |at| text(at.as_str()))),
        ("recheck", opt(it.recheck, recheck)),
    ])
}

fn recheck(it: Recheck) -> Value {
    object([("hours", opt(it.hours, hours)), ("on", opt(it.on, day))])
}

/// Written by exactly one of `value`, `readings` and `grid`. What a measurement of the first days had not
/// got is left out where it is not there, so that those facts keep their bytes.
fn measurement(it: &Measurement) -> Value {
    let [mut value, mut readings, mut grid] = [Value::Null, Value::Null, Value::Null];
    match &it.taken {
        Taken::One(one) => value = text(one),
        Taken::Several(several) => readings = texts(several),
        Taken::Grid { a, b } => grid = object([("a", texts(a)), ("b", texts(b))]),
    }
    object([
        ("gauge", opt(it.gauge.as_ref(), text)),
        ("grid", grid),
        ("position", opt(it.position.as_ref(), |at| text(at.as_str()))),
        ("quantity", text(it.quantity.as_str())),
        ("readings", readings),
        ("temperature", opt(it.temperature.as_ref(), temperature)),
        ("uncertainty", opt(it.uncertainty.as_ref(), text)),
        ("unit", text(&it.unit)),
        ("value", value),
        ("wrench", opt(it.wrench.as_ref(), wrench)),
    ])
}

fn texts(values: &[String]) -> Value {
    list(values, |value| text(value))
}

fn temperature((value, unit): &(String, String)) -> Value {
    object([("unit", text(unit)), ("value", text(value))])
}

fn wrench(it: &WrenchUsed) -> Value {
    object([("extension", text(&it.extension)), ("length", text(&it.length))])
}

fn work(it: &WorkDone) -> Value {
    object([
        ("action", text(it.action.word())),
        ("item", text(it.item.as_str())),
        ("positions", list(&it.positions, |at| text(at.as_str()))),
    ])
}

fn mark(it: &Mark) -> Value {
    object([
        ("item", text(it.item.as_str())),
        ("photos", list(&it.photos, |photo| digest(*photo))),
        ("position", opt(it.position.as_ref(), |at| text(at.as_str()))),
        ("text", text(&it.text)),
    ])
}

fn concession(it: &Concession) -> Value {
    object([
        ("engine", uid(it.engine.0)),
        ("item", text(it.item.as_str())),
        ("position", opt(it.position.as_ref(), |at| text(at.as_str()))),
        ("until", opt(it.until, day)),
    ])
}

/// What was described and holds no word any more is written as an empty list, not left out.
fn described(it: &Described) -> Value {
    let values = it.values.iter().map(|(attribute, words)| {
        (attribute.word().to_owned(), Value::Array(words.iter().map(text).collect()))
    });
    object([("of", host(it.of)), ("values", Value::Object(values.collect()))])
}

/// An amendment without `replacement` withdraws.
fn amendment(it: &Amendment) -> Value {
    object([
        ("replacement", opt(it.replacement.as_deref(), entry)),
        ("root", uid(it.root.0)),
        ("stream", stream(it.stream)),
        ("supersedes", uid(it.supersedes.0)),
    ])
}
