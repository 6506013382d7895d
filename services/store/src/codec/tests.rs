//! Facts and due lines come back as they went in.

mod work;

use super::*;
use crate::lines::Measured;
use chrono::NaiveDate;
use gudgeon_life::date_code::Scheme;
use gudgeon_life::fact::{
    Affected, AircraftRegistered, Amendment, Attribute, Code, ComponentFitted, ComponentOverhauled,
    ComponentRegistered, ComponentRemoved, Concession, Content, Custody, Described,
    EngineInstalled, EngineRegistered, EngineRemoved, Erased, Event, EventKind, Host,
    HoursAccepted, MakerRestart, MeterChanged, Ownership, Papers, PartyRegistered, PartyRole,
    Preserved, Reading, RemovalCause, Stream,
};
use gudgeon_life::hours::{Basis, Hours};
use gudgeon_life::ids::{
    AircraftId, ComponentId, EngineId, FactId, ItemId, PartKind, PartyId, PositionId, Quantity, Uid,
};
use gudgeon_life::line::{
    AskedBy, Axis, Count, DueLine, Happened, LastDone, Leg, Missing, NoLater, Note, Overrun,
};
use gudgeon_life::programme::{Action, Class};
use gudgeon_life::status::{Beyond, StatusDays};
use gudgeon_life::sure::rate::Owner;
use gudgeon_life::sure::season::Hemisphere;
use gudgeon_life::wear::{Basis as RestsOn, Caution, Says, Wear, WhyNot};
use work::{bare, inspection};

const UID: Uid = Uid::from_bytes([9; 16]);
const ENGINE: EngineId = EngineId(UID);
const AIRCRAFT: AircraftId = AircraftId(UID);
const COMPONENT: ComponentId = ComponentId(UID);
const PARTY: PartyId = PartyId(UID);
const METER: Hours = Hours::from_seconds(3_755_520);

fn day(text: &str) -> NaiveDate {
    text.parse().expect("a day")
}

fn entry(content: Content) -> Entry {
    Entry { on: day("2026-02-28"), order_in_day: 999, content }
}

fn registrations() -> Vec<Content> {
    let kind = PartKind::new("fan-belt").expect("a short name");
    let part = ComponentRegistered {
        component: COMPONENT,
        kind,
        serial: Some("S".to_owned()),
        lot: Some("L".to_owned()),
        maker_part: Some("Belt, 10 x 750".to_owned()),
        code: Some(Code { scheme: Scheme::TyreWeek, text: "2319".to_owned() }),
        cured_on: Some(day("2019-06-10")),
        hours: Some(Hours::ZERO),
        first_fitted_on: Some(day("2024-01-01")),
        overhauled: Some(Papers { on: day("2023-01-01"), hours_since: METER }),
    };
    let unmarked = ComponentRegistered {
        serial: None,
        lot: None,
        maker_part: None,
        code: None,
        cured_on: None,
        hours: None,
        first_fitted_on: None,
        overhauled: None,
        ..part.clone()
    };
    vec![
        Content::PartyRegistered(PartyRegistered { party: PARTY, role: PartyRole::Shop }),
        Content::AircraftRegistered(AircraftRegistered {
            aircraft: AIRCRAFT,
            mark: "X-\u{e9}".to_owned(),
            basis: Basis::Airborne,
            flown_by: Owner::Club,
            hemisphere: Hemisphere::South,
        }),
        Content::EngineRegistered(EngineRegistered {
            engine: ENGINE,
            engine_type: ItemId::new("finch-24").expect("a short name"),
            serial: String::new(),
            basis: Basis::Tach,
            tsn: None,
            made_on: None,
            overhauled: Some(Papers { on: day("2023-01-01"), hours_since: Hours::ZERO }),
        }),
        Content::ComponentRegistered(part),
        Content::ComponentRegistered(unmarked),
    ]
}

fn happenings() -> Vec<Content> {
    let item = ItemId::new("ring-gap").expect("a short name");
    let words = |words: &[&str]| words.iter().map(|word| (*word).to_owned()).collect();
    let event = |of, kind, meter| Content::Event(Event { of, kind, meter });
    let described = |of| {
        Content::Described(Described {
            of,
            values: BTreeMap::from([
                (Attribute::Use, words(&["school", "tow"])),
                (Attribute::Regime, words(&[])),
            ]),
        })
    };
    let concession = Concession {
        engine: ENGINE,
        item,
        position: PositionId::new("pto"),
        until: Some(day("2026-05-01")),
    };
    let bare = Concession { position: None, until: None, ..concession.clone() };
    let overhauled = |released| {
        Content::ComponentOverhauled(ComponentOverhauled { component: COMPONENT, released })
    };
    let mut contents: Vec<Content> = EventKind::ALL
        .into_iter()
        .map(|kind| event(Affected::Engine(ENGINE), kind, Some(METER)))
        .collect();
    contents.extend([
        event(Affected::Component(COMPONENT), EventKind::Overheat, None),
        Content::Preserved(Preserved { engine: ENGINE, until: Some(day("2026-12-31")) }),
        Content::Preserved(Preserved { engine: ENGINE, until: None }),
        Content::Concession(concession),
        Content::Concession(bare),
        Content::HoursAccepted(HoursAccepted {
            engine: ENGINE,
            hours: METER,
            until: day("2027-11-30"),
        }),
        overhauled(true),
        overhauled(false),
        Content::MakerRestart(MakerRestart { engine: ENGINE }),
        described(Host::Engine(ENGINE)),
        described(Host::Aircraft(AIRCRAFT)),
    ]);
    contents
}

fn contents() -> Vec<Content> {
    let amendment = |replacement| Amendment {
        stream: Stream::engine(ENGINE),
        root: FactId(UID),
        supersedes: FactId(UID),
        replacement,
    };
    let replacement = Box::new(entry(Content::Inspection(inspection())));
    let fitted = ComponentFitted {
        component: COMPONENT,
        host: Host::Aircraft(AIRCRAFT),
        position: PositionId::new("fan"),
        meter: Some(METER),
    };
    let mut contents = registrations();
    contents.extend(happenings());
    contents.extend(RemovalCause::ALL.map(|cause| {
        let cause = Some(cause);
        Content::ComponentRemoved(ComponentRemoved { component: COMPONENT, meter: None, cause })
    }));
    contents.extend([
        Content::Ownership(Ownership { of: Host::Engine(ENGINE), owner: PARTY }),
        Content::Custody(Custody { engine: ENGINE, shop: PARTY, until: None }),
        Content::Custody(Custody { engine: ENGINE, shop: PARTY, until: Some(day("2026-06-30")) }),
        Content::Erased(Erased { party: PARTY, notes: false, facts: [].into(), photos: [].into() }),
        Content::Erased(Erased {
            party: PARTY,
            notes: true,
            facts: [FactId(UID)].into(),
            photos: [[5; 32], [6; 32]].into(),
        }),
        Content::EngineRemoved(EngineRemoved { engine: ENGINE, meter: METER }),
        Content::EngineInstalled(EngineInstalled {
            engine: ENGINE,
            aircraft: AIRCRAFT,
            meter: METER,
        }),
        Content::ComponentRemoved(ComponentRemoved {
            component: COMPONENT,
            meter: None,
            cause: None,
        }),
        Content::ComponentFitted(fitted),
        Content::MeterChanged(MeterChanged {
            aircraft: AIRCRAFT,
            old_end: METER,
            new_start: Hours::ZERO,
        }),
        Content::Reading(Reading { of: Host::Engine(ENGINE), meter: METER }),
        Content::Inspection(inspection()),
        Content::Inspection(bare()),
        Content::Amendment(amendment(Some(replacement))),
        Content::Amendment(amendment(None)),
    ]);
    contents
}

#[test]
fn every_kind_of_fact_comes_back() {
    let as_posted = BTreeMap::from([("/meter".to_owned(), "1043:12".to_owned())]);
    for content in contents() {
        let entry = entry(content);
        let coded = write(&entry, &as_posted).expect("it can be written");
        let coding = Coding {
            v: VERSION,
            kind: coded.kind,
            day: coded.day,
            order_in_day: coded.order_in_day,
            data: &coded.data,
        };
        // Both what is kept and what is hashed, which is the whole entry, are in the form of RFC 8785.
        assert_eq!(coded.data, canonical(&parse(&coded.data).expect("it is JSON")));
        let whole = canonical(&content_out::entry(&entry));
        let digest = Sha256::new().chain_update(CONTENT_DOMAIN).chain_update(whole).finalize();
        assert_eq!(coded.content_digest, <[u8; 32]>::from(digest));
        let (read, texts) = read(coding).expect("it can be read");
        assert_eq!(read, entry);
        assert_eq!(texts, as_posted);
    }
}

// 1043.2 h are 1043.2 x 3600 = 3 755 520 s.
#[test]
fn data_is_canonical_and_the_digest_ignores_how_it_was_written() {
    let reading = entry(Content::Reading(Reading { of: Host::Engine(ENGINE), meter: METER }));
    let as_posted = |text: &str| BTreeMap::from([("/meter".to_owned(), text.to_owned())]);
    let decimal = write(&reading, &as_posted("1043.2")).expect("it can be written");
    let clock = write(&reading, &as_posted("1043:12")).expect("it can be written");
    assert_eq!(
        decimal.data,
        concat!(
            r#"{"as_posted":{"/meter":"1043.2"},"content":{"meter":{"s":3755520},"#,
            r#""of":{"id":"09090909-0909-0909-0909-090909090909","kind":"engine"}}}"#
        )
    );
    assert_ne!(decimal.data, clock.data);
    assert_eq!(decimal.content_digest, clock.content_digest);
    let later = Entry { on: day("2026-03-01"), ..reading };
    assert_ne!(content_digest(&later), decimal.content_digest);
}

#[test]
fn another_version_is_not_guessed_at() {
    let coding =
        Coding { v: 2, kind: "reading", day: day("2026-01-01"), order_in_day: 0, data: "{}" };
    assert!(matches!(read(coding), Err(StoreError::Corrupt(_))));
}

// What was written before these fields were there has none of them.
#[test]
fn fields_that_are_not_there_read_as_none() {
    let data = r#"{"as_posted":{},"content":{"basis":"tach","engine":"09090909-0909-0909-0909-090909090909","engine_type":"finch-24","serial":"7"}}"#;
    let kind = "engine-registered";
    let coding = Coding { v: VERSION, kind, day: day("2026-01-01"), order_in_day: 0, data };
    let (entry, _) = read(coding).expect("it can be read");
    assert!(matches!(
        entry.content,
        Content::EngineRegistered(EngineRegistered { overhauled: None, tsn: None, .. })
    ));
}

#[test]
fn a_due_line_comes_back() {
    let happened = Happened {
        kind: EventKind::Seizure,
        on: day("2026-01-01"),
        hours: None,
        fact: FactId(UID),
    };
    for asked_by in [
        AskedBy::Programme,
        AskedBy::OnCondition,
        AskedBy::Finding(FactId(UID)),
        AskedBy::Preservation(FactId(UID)),
        AskedBy::Event(happened),
        AskedBy::Event(Happened { hours: Some(METER), ..happened }),
    ] {
        comes_back(&due_line(asked_by));
    }
}

fn comes_back(line: &DueLine) {
    let columns = LineColumns {
        item: line.item.as_str(),
        position: line.position.as_ref().map(PositionId::as_str),
        component: line.component,
        days: line.days,
        measured: Measured::default(),
        behind: None,
    };
    let read = read_line_detail(&columns, &line_detail(line, true).expect("it can be written"))
        .expect("it can be read");
    assert_eq!(read, *line);
}

/// One trend for each thing that a trend can say.
fn wears() -> Vec<Wear> {
    let said = [
        Says::Reaches { bound: METER, point: Some(METER) },
        Says::Reaches { bound: METER, point: None },
        Says::MeasureAgain,
        Says::Reached,
        Says::NotWithin(METER),
        Says::NoWear,
    ];
    let all = said.into_iter().chain(WhyNot::ALL.map(Says::CannotSay));
    let wear = |(readings, says): (usize, Says)| Wear {
        quantity: Quantity::new("bore").expect("a short name"),
        title: "Bore".to_owned(),
        position: PositionId::new("mag").filter(|_| readings > 3),
        limit: "at most 67.62 mm".to_owned(),
        readings,
        last: Some(METER).filter(|_| readings > 0),
        says,
        basis: match readings % 2 {
            0 => RestsOn::Own,
            _ => RestsOn::Fleet { engines: 14, version: 3, on: day("2026-11-23") },
        },
        cautions: Caution::ALL.into_iter().take(readings).collect(),
    };
    all.enumerate().map(wear).collect()
}

fn due_line(asked_by: AskedBy) -> DueLine {
    let days = StatusDays {
        unknown_from: Some(NaiveDate::MIN),
        coming_from: Some(day("2026-01-01")),
        due_from: None,
        late_from: Some(NaiveDate::MAX),
        beyond: Beyond::Extension,
    };
    let hours = Count::Hours { from: Hours::ZERO, due: METER, latest: METER };
    let calendar =
        Count::Calendar { from: NaiveDate::MIN, due: day("2026-01-02"), latest: NaiveDate::MAX };
    let lost = |axis, why| Count::Missing(axis, why);
    let by_hours = NoLater::Hours { due: METER, latest: METER };
    let by_day = NoLater::Day { due: day("2026-01-02"), latest: NaiveDate::MAX };
    let legs = [
        (hours, None),
        (calendar, None),
        (lost(Axis::Calendar, Missing::Applicability), None),
        (lost(Axis::Hours, Missing::NeverDone), Some(by_hours)),
        (lost(Axis::Calendar, Missing::NoCode), Some(by_day)),
    ];
    let leg = |(count, no_later)| Leg { limit: Some("total".to_owned()), count, no_later, days };
    DueLine {
        item: ItemId::new("fan-belt").expect("a short name"),
        title: "Fan belt".to_owned(),
        asked_by,
        position: PositionId::new("fan"),
        component: Some(COMPONENT),
        class: Class::Directive,
        source: "invented".to_owned(),
        legs: legs.into_iter().map(leg).collect(),
        hours_now: Some(-METER),
        hours_on: Some(day("2026-01-01")),
        meter_now: None,
        plan_by: None,
        last: Some(LastDone {
            on: day("2025-01-01"),
            hours: None,
            action: Action::Renewed,
            fact: FactId(UID),
        }),
        last_overrun: Overrun { hours: METER, days: 3 },
        last_overrun_beyond_tolerance: true,
        days,
        wear: wears(),
        notes: vec![Note::NoGrant, Note::EnRouteOnly, Note::Permitted],
    }
}
