//! Reads what `content_out` wrote.

use super::content_out::stream_word;
use super::fields::{
    Fields, as_day, as_digest, as_hours, as_slug, as_text, as_uid, as_whole, as_word,
};
use super::hardware::{read_fastening, read_matched_set};
use crate::error::StoreError;
use gudgeon_life::date_code::Scheme;
use gudgeon_life::fact::{
    Affected, AircraftRegistered, Amendment, Attribute, Code, ComponentFitted, ComponentOverhauled,
    ComponentRegistered, ComponentRemoved, Concession, Condition, Content, Custody, Described,
    EngineInstalled, EngineRegistered, EngineRemoved, Entry, Erased, Event, EventKind, Finding,
    Host, HoursAccepted, Inspection, InspectionReading, MakerRestart, Mark, Measurement,
    MeterChanged, OverhaulScope, Ownership, Papers, PartyRegistered, PartyRole, Preserved,
    ProgrammeActivated, Reading, Recheck, RemovalCause, Stream, StreamKind, Taken, WorkDone,
    WrenchUsed,
};
use gudgeon_life::hours::Basis;
use gudgeon_life::ids::{
    AircraftId, ComponentId, EngineId, FactId, ItemId, PartKind, PartyId, PositionId, Quantity,
};
use gudgeon_life::programme::Action;
use gudgeon_life::sure::rate::Owner;
use gudgeon_life::sure::season::Hemisphere;
use serde_json::Value;

const STREAM_KINDS: [StreamKind; 5] = [
    StreamKind::Party,
    StreamKind::Aircraft,
    StreamKind::Engine,
    StreamKind::Component,
    StreamKind::Fleet,
];

/// Reads the content of a kind.
pub(super) fn content(kind: &str, value: &Value) -> Result<Content, StoreError> {
    let it = Fields::of(value, kind)?;
    Ok(match kind {
        "party-registered" => Content::PartyRegistered(PartyRegistered {
            party: it.party("party")?,
            role: it.get("role", as_word(PartyRole::ALL, PartyRole::word))?,
        }),
        "aircraft-registered" => Content::AircraftRegistered(aircraft_registered(&it)?),
        "engine-registered" => Content::EngineRegistered(engine_registered(&it)?),
        "component-registered" => Content::ComponentRegistered(component_registered(&it)?),
        "ownership" => {
            Content::Ownership(Ownership { of: it.host("of")?, owner: it.party("owner")? })
        }
        "custody" => Content::Custody(custody(&it)?),
        "erased" => Content::Erased(erased(&it)?),
        "engine-removed" => Content::EngineRemoved(EngineRemoved {
            engine: it.engine()?,
            meter: it.get("meter", as_hours)?,
        }),
        "engine-installed" => Content::EngineInstalled(EngineInstalled {
            engine: it.engine()?,
            aircraft: it.aircraft()?,
            meter: it.get("meter", as_hours)?,
        }),
        "component-removed" => Content::ComponentRemoved(component_removed(&it)?),
        "component-fitted" => Content::ComponentFitted(ComponentFitted {
            component: it.component()?,
            host: it.host("host")?,
            position: it.position()?,
            meter: it.opt("meter", as_hours)?,
        }),
        "meter-changed" => Content::MeterChanged(MeterChanged {
            aircraft: it.aircraft()?,
            old_end: it.get("old_end", as_hours)?,
            new_start: it.get("new_start", as_hours)?,
        }),
        "reading" => {
            Content::Reading(Reading { of: it.host("of")?, meter: it.get("meter", as_hours)? })
        }
        "inspection" => Content::Inspection(inspection(&it)?),
        "event" => Content::Event(Event {
            of: it.affected("of")?,
            kind: it.get("kind", as_word(EventKind::ALL, EventKind::word))?,
            meter: it.opt("meter", as_hours)?,
        }),
        "preserved" => {
            Content::Preserved(Preserved { engine: it.engine()?, until: it.opt("until", as_day)? })
        }
        "concession" => Content::Concession(Concession {
            engine: it.engine()?,
            item: it.item()?,
            position: it.position()?,
            until: it.opt("until", as_day)?,
        }),
        "hours-accepted" => Content::HoursAccepted(hours_accepted(&it)?),
        "component-overhauled" => Content::ComponentOverhauled(ComponentOverhauled {
            component: it.component()?,
            released: it.opt("release", as_text)?.is_some(),
        }),
        "maker-restart" => Content::MakerRestart(MakerRestart { engine: it.engine()? }),
        "described" => Content::Described(described(&it)?),
        "programme-activated" => Content::ProgrammeActivated(programme_activated(&it)?),
        "amendment" => Content::Amendment(amendment(&it)?),
        _ => return Err(StoreError::Corrupt(format!("a fact of the unknown kind `{kind}`"))),
    })
}

fn aircraft_registered(it: &Fields<'_>) -> Result<AircraftRegistered, StoreError> {
    let hemisphere = as_word(Hemisphere::ALL, Hemisphere::word);
    Ok(AircraftRegistered {
        aircraft: it.aircraft()?,
        mark: it.get("mark", as_text)?,
        basis: it.get("basis", as_word(Basis::ALL, Basis::word))?,
        flown_by: it.opt("flown_by", as_word(Owner::ALL, Owner::word))?.unwrap_or_default(),
        hemisphere: it.opt("hemisphere", hemisphere)?.unwrap_or_default(),
    })
}

/// The members that many kinds share.
impl Fields<'_> {
    fn party(&self, key: &str) -> Result<PartyId, StoreError> {
        self.get(key, as_uid).map(PartyId)
    }

    fn aircraft(&self) -> Result<AircraftId, StoreError> {
        self.get("aircraft", as_uid).map(AircraftId)
    }

    fn engine(&self) -> Result<EngineId, StoreError> {
        self.get("engine", as_uid).map(EngineId)
    }

    fn component(&self) -> Result<ComponentId, StoreError> {
        self.get("component", as_uid).map(ComponentId)
    }

    fn position(&self) -> Result<Option<PositionId>, StoreError> {
        self.opt("position", as_slug(PositionId::new))
    }

    fn item(&self) -> Result<ItemId, StoreError> {
        self.get("item", as_slug(ItemId::new))
    }

    fn stream(&self, key: &str) -> Result<Stream, StoreError> {
        let it = Fields::of(self.any(key)?, "a stream")?;
        Ok(Stream {
            kind: it.get("kind", as_word(STREAM_KINDS, stream_word))?,
            id: it.get("id", as_uid)?,
        })
    }

    fn host(&self, key: &str) -> Result<Host, StoreError> {
        let stream = self.stream(key)?;
        match stream.kind {
            StreamKind::Engine => Ok(Host::Engine(EngineId(stream.id))),
            StreamKind::Aircraft => Ok(Host::Aircraft(AircraftId(stream.id))),
            StreamKind::Party | StreamKind::Component | StreamKind::Fleet => {
                Err(self.unreadable(key))
            }
        }
    }

    fn affected(&self, key: &str) -> Result<Affected, StoreError> {
        let stream = self.stream(key)?;
        match stream.kind {
            StreamKind::Engine => Ok(Affected::Engine(EngineId(stream.id))),
            StreamKind::Component => Ok(Affected::Component(ComponentId(stream.id))),
            StreamKind::Party | StreamKind::Aircraft | StreamKind::Fleet => {
                Err(self.unreadable(key))
            }
        }
    }

    fn overhauled(&self) -> Result<Option<Papers>, StoreError> {
        self.part("overhauled").map(papers).transpose()
    }
}

fn papers(value: &Value) -> Result<Papers, StoreError> {
    let it = Fields::of(value, "papers of an overhaul")?;
    Ok(Papers { on: it.get("on", as_day)?, hours_since: it.get("hours_since", as_hours)? })
}

fn custody(it: &Fields<'_>) -> Result<Custody, StoreError> {
    Ok(Custody { engine: it.engine()?, shop: it.party("shop")?, until: it.opt("until", as_day)? })
}

fn erased(it: &Fields<'_>) -> Result<Erased, StoreError> {
    Ok(Erased {
        party: it.party("party")?,
        notes: it.opt("notes", as_text)?.is_some(),
        facts: it.list_of("facts", as_uid)?.into_iter().map(FactId).collect(),
        photos: it.list_of("photos", as_digest)?.into_iter().collect(),
    })
}

fn engine_registered(it: &Fields<'_>) -> Result<EngineRegistered, StoreError> {
    Ok(EngineRegistered {
        engine: it.engine()?,
        engine_type: it.get("engine_type", as_slug(ItemId::new))?,
        serial: it.get("serial", as_text)?,
        basis: it.get("basis", as_word(Basis::ALL, Basis::word))?,
        tsn: it.opt("tsn", as_hours)?,
        made_on: it.opt("made_on", as_day)?,
        overhauled: it.overhauled()?,
    })
}

fn component_registered(it: &Fields<'_>) -> Result<ComponentRegistered, StoreError> {
    Ok(ComponentRegistered {
        component: it.component()?,
        kind: it.get("kind", as_slug(PartKind::new))?,
        serial: it.opt("serial", as_text)?,
        lot: it.opt("lot", as_text)?,
        maker_part: it.opt("maker_part", as_text)?,
        code: it.part("code").map(code).transpose()?,
        cured_on: it.opt("cured_on", as_day)?,
        hours: it.opt("hours", as_hours)?,
        first_fitted_on: it.opt("first_fitted_on", as_day)?,
        overhauled: it.overhauled()?,
    })
}

fn component_removed(it: &Fields<'_>) -> Result<ComponentRemoved, StoreError> {
    Ok(ComponentRemoved {
        component: it.component()?,
        meter: it.opt("meter", as_hours)?,
        cause: it.opt("cause", as_word(RemovalCause::ALL, RemovalCause::word))?,
    })
}

fn code(value: &Value) -> Result<Code, StoreError> {
    let it = Fields::of(value, "a date code")?;
    Ok(Code {
        scheme: it.get("scheme", as_word(Scheme::ALL, Scheme::word))?,
        text: it.get("text", as_text)?,
    })
}

fn inspection(it: &Fields<'_>) -> Result<Inspection, StoreError> {
    Ok(Inspection {
        engine: it.engine()?,
        shop: it.party("shop")?,
        work_order: it.opt("work_order", as_text)?,
        sheet: it.opt("sheet", as_slug(ItemId::new))?,
        opened_on: it.get("opened_on", as_day)?,
        released: it.opt("release", as_text)?.is_some(),
        readings: it.list("readings", reading)?,
        tsn: it.opt("tsn", as_hours)?,
        findings: it.list("findings", finding)?,
        measurements: it.list("measurements", measurement)?,
        work: it.list("work", work)?,
        marks: it.list("marks", mark)?,
        overhaul: it.opt("overhaul", as_word(OverhaulScope::ALL, OverhaulScope::word))?,
        test_run: it.opt("test_run", as_hours)?,
        run_in: it.opt("run_in", as_hours)?,
        fastenings: it.list("fastenings", read_fastening)?,
        matched: it.list("matched", read_matched_set)?,
    })
}

fn reading(value: &Value) -> Result<InspectionReading, StoreError> {
    let it = Fields::of(value, "a reading")?;
    Ok(InspectionReading { on: it.get("on", as_day)?, meter: it.get("meter", as_hours)? })
}

fn finding(value: &Value) -> Result<Finding, StoreError> {
    let it = Fields::of(value, "a finding")?;
    Ok(Finding {
        item: it.item()?,
        position: it.position()?,
        condition: it.get("condition", as_word(Condition::ALL, Condition::word))?,
        recheck: it.part("recheck").map(recheck).transpose()?,
        photos: it.list_of("photos", as_digest)?,
    })
}

fn recheck(value: &Value) -> Result<Recheck, StoreError> {
    let it = Fields::of(value, "a recheck")?;
    Ok(Recheck { hours: it.opt("hours", as_hours)?, on: it.opt("on", as_day)? })
}

fn measurement(value: &Value) -> Result<Measurement, StoreError> {
    let it = Fields::of(value, "a measurement")?;
    Ok(Measurement {
        quantity: it.get("quantity", as_slug(Quantity::new))?,
        position: it.position()?,
        taken: taken(&it)?,
        unit: it.get("unit", as_text)?,
        gauge: it.opt("gauge", as_text)?,
        uncertainty: it.opt("uncertainty", as_text)?,
        temperature: it.part("temperature").map(temperature).transpose()?,
        wrench: it.part("wrench").map(wrench).transpose()?,
    })
}

fn taken(it: &Fields<'_>) -> Result<Taken, StoreError> {
    if let Some(grid) = it.part("grid") {
        let it = Fields::of(grid, "a grid")?;
        return Ok(Taken::Grid { a: it.list_of("a", as_text)?, b: it.list_of("b", as_text)? });
    }
    let several = it.list_of("readings", as_text)?;
    if several.is_empty() {
        return it.get("value", as_text).map(Taken::One);
    }
    Ok(Taken::Several(several))
}

fn temperature(value: &Value) -> Result<(String, String), StoreError> {
    let it = Fields::of(value, "a temperature")?;
    Ok((it.get("value", as_text)?, it.get("unit", as_text)?))
}

fn wrench(value: &Value) -> Result<WrenchUsed, StoreError> {
    let it = Fields::of(value, "a wrench")?;
    Ok(WrenchUsed { length: it.get("length", as_text)?, extension: it.get("extension", as_text)? })
}

fn work(value: &Value) -> Result<WorkDone, StoreError> {
    let it = Fields::of(value, "work done")?;
    Ok(WorkDone {
        item: it.item()?,
        positions: it.list_of("positions", as_slug(PositionId::new))?,
        action: it.get("action", as_word(Action::ALL, Action::word))?,
    })
}

fn mark(value: &Value) -> Result<Mark, StoreError> {
    let it = Fields::of(value, "a mark")?;
    Ok(Mark {
        item: it.item()?,
        position: it.position()?,
        text: it.get("text", as_text)?,
        photos: it.list_of("photos", as_digest)?,
    })
}

fn hours_accepted(it: &Fields<'_>) -> Result<HoursAccepted, StoreError> {
    Ok(HoursAccepted {
        engine: it.engine()?,
        hours: it.get("hours", as_hours)?,
        until: it.get("until", as_day)?,
    })
}

fn described(it: &Fields<'_>) -> Result<Described, StoreError> {
    let values = Fields::of(it.any("values")?, "a description")?;
    let told = Attribute::ALL.into_iter().filter(|it| values.part(it.word()).is_some());
    let words = |attribute: Attribute| values.list_of(attribute.word(), as_text);
    let values = told.map(|it| Ok((it, words(it)?.into_iter().collect())));
    Ok(Described { of: it.host("of")?, values: values.collect::<Result<_, StoreError>>()? })
}

fn programme_activated(it: &Fields<'_>) -> Result<ProgrammeActivated, StoreError> {
    Ok(ProgrammeActivated {
        engine_type: it.get("engine_type", as_slug(ItemId::new))?,
        digest: it.get("digest", as_digest)?,
    })
}

fn amendment(it: &Fields<'_>) -> Result<Amendment, StoreError> {
    Ok(Amendment {
        stream: it.stream("stream")?,
        root: it.get("root", as_uid).map(FactId)?,
        supersedes: it.get("supersedes", as_uid).map(FactId)?,
        replacement: it.part("replacement").map(entry).transpose()?.map(Box::new),
    })
}

fn entry(value: &Value) -> Result<Entry, StoreError> {
    let it = Fields::of(value, "a replacement")?;
    let kind = it.get("kind", as_text)?;
    Ok(Entry {
        on: it.get("on", as_day)?,
        order_in_day: it.get("order_in_day", |value| u16::try_from(as_whole(value)?).ok())?,
        content: content(&kind, it.any("content")?)?,
    })
}
