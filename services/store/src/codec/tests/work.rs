//! What a workshop found and did, with every member that it can have, and with none.

use super::{COMPONENT, ENGINE, METER, PARTY, day, entry, write};
use gudgeon_life::decimal::Decimal;
use gudgeon_life::fact::{
    BoltFit, Condition, Content, Fastening, Finding, Inspection, InspectionReading, Length,
    LengthUnit, Locking, Mark, MatchedPart, MatchedSet, Measurement, OverhaulScope, Recheck, Seen,
    Taken, Torque, WasherFacing, WorkDone, WrenchUsed,
};
use gudgeon_life::hours::Hours;
use gudgeon_life::ids::{ItemId, PartKind, PositionId, Quantity};
use gudgeon_life::programme::Action;
use std::collections::BTreeMap;

/// Every word that a fastening can hold, and one that holds none.
fn fastenings() -> Vec<Fastening> {
    let length = |unit| Length { value: Decimal::parse("24.9").expect("a decimal"), unit };
    let [mm, inch] = LengthUnit::ALL.map(length);
    let bare = Fastening {
        item: ItemId::new("flywheel").expect("a short name"),
        position: None,
        seen: Seen::Found,
        washer: None,
        bolt: None,
        torque: None,
        compound: None,
        locking: None,
    };
    let full = |locking| Fastening {
        position: PositionId::new("mag"),
        seen: Seen::Left,
        washer: Some(WasherFacing::HollowToPart),
        bolt: Some(BoltFit { length: mm, room: inch }),
        torque: Some(Torque { value: "22.5".to_owned(), unit: "N·m".to_owned() }),
        compound: Some("copper paste".to_owned()),
        locking: Some(locking),
        ..bare.clone()
    };
    let facing = WasherFacing::HollowToNut;
    let turned = Fastening { washer: Some(facing), ..bare.clone() };
    Locking::ALL.into_iter().map(full).chain([turned, bare.clone()]).collect()
}

pub(super) fn inspection() -> Inspection {
    let position = PositionId::new("pto");
    let item = ItemId::new("ring-gap").expect("a short name");
    let part = |is_new, component| MatchedPart {
        part: PartKind::new("piston").expect("a short name"),
        mark: "P2".to_owned(),
        is_new,
        component,
    };
    let set = MatchedSet {
        position: PositionId::new("pto").expect("a short name"),
        parts: vec![part(false, Some(COMPONENT)), part(true, None)],
    };
    Inspection {
        engine: ENGINE,
        shop: PARTY,
        work_order: Some("WO \"7\"\n".to_owned()),
        sheet: ItemId::new("teardown"),
        opened_on: day("2026-02-01"),
        released: true,
        readings: vec![InspectionReading { on: day("2026-02-02"), meter: METER }],
        tsn: Some(METER),
        findings: vec![Finding {
            item: item.clone(),
            position: position.clone(),
            condition: Condition::Monitor,
            recheck: Some(Recheck { hours: Some(METER), on: None }),
            photos: vec![[7; 32], [8; 32]],
        }],
        measurements: measurements(),
        work: vec![WorkDone {
            item: item.clone(),
            positions: position.clone().into_iter().collect(),
            action: Action::Overhauled,
        }],
        marks: vec![Mark {
            item,
            position: position.clone(),
            text: "II".to_owned(),
            photos: vec![[9; 32]],
        }],
        overhaul: Some(OverhaulScope::TopEnd),
        test_run: Some(Hours::from_whole(1)),
        run_in: Some(Hours::from_whole(2)),
        fastenings: fastenings(),
        matched: vec![set],
    }
}

/// As the first measurements were written, and with everything that came later.
fn measurements() -> Vec<Measurement> {
    let texts = |texts: &[&str]| texts.iter().map(|it| (*it).to_owned()).collect::<Vec<_>>();
    let first = Measurement {
        quantity: Quantity::new("bore").expect("a short name"),
        position: PositionId::new("pto"),
        taken: Taken::One("67.52".to_owned()),
        unit: "mm".to_owned(),
        gauge: None,
        uncertainty: None,
        temperature: None,
        wrench: None,
    };
    let grid = Taken::Grid { a: texts(&["67.52", "67.51"]), b: texts(&["67.5", "67.49"]) };
    let full = Measurement {
        taken: grid,
        gauge: Some("bore gauge 3".to_owned()),
        uncertainty: Some("0.005".to_owned()),
        temperature: Some(("68".to_owned(), "°F".to_owned())),
        wrench: Some(WrenchUsed { length: "250".to_owned(), extension: "-50".to_owned() }),
        ..first.clone()
    };
    let several =
        Measurement { taken: Taken::Several(texts(&["21", "20", "22.5"])), ..first.clone() };
    vec![first, full, several]
}

/// The text of an inspection with one measurement, as version 1 wrote it before measurements had more to tell,
/// written out by hand. Facts stored then must keep it to the byte.
#[test]
fn a_fact_without_what_is_new_keeps_its_bytes() {
    let old = Inspection { measurements: measurements().drain(..1).collect(), ..bare() };
    let written = write(&entry(Content::Inspection(old)), &BTreeMap::new()).expect("writable");
    let uid = "09090909-0909-0909-0909-090909090909";
    let expected = format!(
        r#"{{"as_posted":{{}},"content":{{"engine":"{uid}","measurements":[{{"position":"pto","quantity":"bore","unit":"mm","value":"67.52"}}],"opened_on":"2026-02-01","shop":"{uid}"}}}}"#
    );
    assert_eq!(written.data, expected);
}

pub(super) fn bare() -> Inspection {
    Inspection {
        work_order: None,
        sheet: None,
        released: false,
        readings: Vec::new(),
        tsn: None,
        findings: Vec::new(),
        measurements: Vec::new(),
        work: Vec::new(),
        marks: Vec::new(),
        overhaul: None,
        test_run: None,
        run_in: None,
        fastenings: Vec::new(),
        matched: Vec::new(),
        ..inspection()
    }
}
