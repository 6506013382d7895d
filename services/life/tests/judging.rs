//! Reports judged by an engine type: verdicts, what is odd, and what a sheet misses, each worked by hand.

#![cfg(test)]

use chrono::NaiveDate;
use gudgeon_life::bench::Strokes;
use gudgeon_life::decimal::Decimal;
use gudgeon_life::fact::{
    Condition, Content, Entry, Fact, Finding, Inspection, Mark, Measurement, Taken, WorkDone,
    WrenchUsed,
};
use gudgeon_life::ids::{EngineId, FactId, ItemId, PartyId, PositionId, Quantity, Uid};
use gudgeon_life::measure::{
    Bounds, CorrectedBy, Correction, Derivation, Derived, Gauge, Oddity, Outcome, QuantityRule,
    Unit, Unread, Verdict, Wear, Why, impossible, judgements, odd,
};
use gudgeon_life::programme::Action;
use gudgeon_life::sheet::{Asked, Bench, Point, Readings, Sheet, SheetKind};

fn decimal(text: &str) -> Decimal {
    Decimal::parse(text).unwrap()
}

fn item(id: &str) -> ItemId {
    ItemId::new(id).unwrap()
}

fn at(id: &str) -> PositionId {
    PositionId::new(id).unwrap()
}

fn bounds(min: Option<&str>, max: Option<&str>) -> Bounds {
    Bounds { min: min.map(decimal), max: max.map(decimal) }
}

/// A quantity at both cylinders with a gauge good to 0.01 of its unit.
fn rule(id: &str, unit: Unit, range: [&str; 2]) -> QuantityRule {
    QuantityRule {
        id: Quantity::new(id).unwrap(),
        title: id.to_owned(),
        unit,
        positions: vec![at("mag"), at("pto")],
        source: "made up".to_owned(),
        new: Bounds::default(),
        limit: Bounds::default(),
        range: bounds(Some(range[0]), Some(range[1])),
        gauge: Some(Gauge { name: "gauge".to_owned(), uncertainty: decimal("0.01") }),
        wear: None,
        group: None,
        apart_max: None,
        feeds: Some(item("pistons")),
        correction: None,
        derived: None,
    }
}

fn derived(id: &str, unit: Unit, by: Derivation, of: &[&str]) -> QuantityRule {
    let of = of.iter().map(|id| Quantity::new(id).unwrap()).collect();
    let derived = Some(Derived { by, of });
    QuantityRule { range: Bounds::default(), gauge: None, derived, ..rule(id, unit, ["0", "1"]) }
}

fn bore() -> QuantityRule {
    QuantityRule {
        new: bounds(Some("67.5"), Some("67.52")),
        limit: bounds(None, Some("67.6")),
        wear: Some(Wear::Rises),
        apart_max: Some(decimal("0.05")),
        ..rule("bore", Unit::Millimetre, ["60", "80"])
    }
}

fn bench(quantities: Vec<QuantityRule>) -> Bench {
    Bench { strokes: Some(Strokes::Two), quantities, sheets: Vec::new() }
}

fn measured(quantity: &str, position: &str, readings: &[&str], unit: &str) -> Measurement {
    let readings: Vec<String> = readings.iter().map(|it| (*it).to_owned()).collect();
    Measurement {
        quantity: Quantity::new(quantity).unwrap(),
        position: Some(at(position)),
        taken: match <[String; 1]>::try_from(readings) {
            Ok([one]) => Taken::One(one),
            Err(several) => Taken::Several(several),
        },
        unit: unit.to_owned(),
        gauge: None,
        uncertainty: None,
        temperature: None,
        wrench: None,
    }
}

fn grid(position: &str, a: [&str; 3], b: [&str; 3]) -> Measurement {
    let texts = |texts: [&str; 3]| texts.map(str::to_owned).to_vec();
    let taken = Taken::Grid { a: texts(a), b: texts(b) };
    Measurement { taken, ..measured("bore", position, &["0"], "mm") }
}

fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

fn report(measurements: Vec<Measurement>) -> Inspection {
    Inspection {
        engine: EngineId(Uid::from_bytes([1; 16])),
        shop: PartyId(Uid::from_bytes([2; 16])),
        work_order: None,
        sheet: None,
        opened_on: day("2026-01-01"),
        released: true,
        readings: Vec::new(),
        tsn: None,
        findings: Vec::new(),
        measurements,
        work: Vec::new(),
        marks: Vec::new(),
        overhaul: None,
        test_run: None,
        run_in: None,
        fastenings: Vec::new(),
        matched: Vec::new(),
    }
}

/// Each judgement in words.
fn words(measurements: Vec<Measurement>, bench: &Bench) -> Vec<String> {
    let report = report(measurements);
    judgements(&report, bench).iter().map(ToString::to_string).collect()
}

// The gauge is good for 0.01 mm, the limit is 67.60. The grid's largest reading decides: 67.61 less 0.01 is the
// limit itself, so nothing is proved. Out of round at most 67.61 - 67.58 = 0.03, taper 67.61 - 67.55 = 0.06, each
// uncertain by twice 0.01: 0.05 to 0.08 is not proved to be above 0.07.
#[test]
fn a_bore_and_its_shape() {
    let shapes = |id, by| QuantityRule {
        limit: bounds(None, Some("0.07")),
        ..derived(id, Unit::Millimetre, by, &["bore"])
    };
    let bench = bench(vec![
        bore(),
        shapes("round", Derivation::OutOfRound),
        shapes("taper", Derivation::Taper),
    ]);
    let worn = grid("pto", ["67.61", "67.58", "67.55"], ["67.58", "67.57", "67.55"]);
    let found = words(vec![worn], &bench);
    let expected = [
        "bore, pto: 67.61 mm (67.6 to 67.62), at most 67.6: cannot decide, measure again",
        "round, pto: 0.03 mm (0.01 to 0.05), at most 0.07: within limit",
        "taper, pto: 0.06 mm (0.04 to 0.08), at most 0.07: cannot decide, measure again",
    ];
    assert_eq!(found, expected);
}

// 2.662 in is 67.6148 mm. Its own gauge is good to 0.0004 in, which is 0.01016 mm: 67.60464 at least, beyond 67.60.
#[test]
fn inches_are_judged_in_the_unit_of_the_limit_and_by_the_posted_gauge() {
    let own = Measurement {
        uncertainty: Some("0.0004".to_owned()),
        ..measured("bore", "mag", &["2.662"], "in")
    };
    let found = words(vec![own], &bench(vec![bore()]));
    assert_eq!(found, ["bore, mag: 67.6148 mm (67.6046 to 67.625), at most 67.6: beyond limit"]);
}

// A wrench of 250 mm with 50 mm of extension that shows 20 N·m gives the nut 20 x 300 / 250 = 24.
#[test]
fn a_torque_through_an_extension_is_judged_at_the_fastener() {
    let nuts = QuantityRule {
        limit: bounds(Some("20"), Some("23")),
        ..rule("nuts", Unit::NewtonMetre, ["1", "90"])
    };
    let wrench = WrenchUsed { length: "250".to_owned(), extension: "50".to_owned() };
    let shown =
        Measurement { wrench: Some(wrench), ..measured("nuts", "mag", &["18", "20"], "N·m") };
    let found = words(vec![shown], &bench(vec![nuts]));
    assert_eq!(
        found,
        ["nuts, mag: 24 N·m (23.99 to 24.01), at least 20, at most 23: beyond limit"]
    );
}

// 104 ohm at 40 °C are 104 x 254.5 / 274.5 = 96.4226 at 20 (IEC 60028); without its temperature nothing is said.
#[test]
fn a_winding_is_judged_at_its_reference_temperature() {
    let coil = QuantityRule {
        limit: bounds(Some("95"), Some("99")),
        correction: Some(Correction { by: CorrectedBy::Copper, to_c: 20 }),
        ..rule("coil", Unit::Ohm, ["1", "1000"])
    };
    let bench = bench(vec![coil]);
    let bare = measured("coil", "mag", &["104"], "ohm");
    let warm =
        Measurement { temperature: Some(("104".to_owned(), "°F".to_owned())), ..bare.clone() };
    let warm = report(vec![warm]);
    let found = judgements(&warm, &bench);
    assert_eq!(found[0].outcome, Outcome::Judged(Verdict::Within));
    assert_eq!(found[0].reading.map(|it| it.value.to_string()), Some("96.4226".to_owned()));
    let bare = report(vec![bare]);
    let why = Outcome::CannotSay(Why::Unread(Unread::Temperature));
    assert_eq!(judgements(&bare, &bench)[0].outcome, why);
}

/// Whatever limit is set on the loss or on the pressures: on a two-stroke the figure is comparative only
/// (common practice), on a four-stroke a loss above 25 percent is beyond (AC 43.13-1B para 8-14).
#[test]
fn a_two_strokes_compression_never_yields_a_judgement() {
    let psi = |id| QuantityRule {
        limit: bounds(Some("60"), None),
        gauge: None,
        ..rule(id, Unit::Psi, ["0", "120"])
    };
    let supply = QuantityRule { positions: Vec::new(), ..psi("supply") };
    let of = ["supply", "cylinder"];
    let loss = QuantityRule {
        limit: bounds(None, Some("25")),
        ..derived("loss", Unit::Percent, Derivation::CompressionLoss, &of)
    };
    let two = bench(vec![supply, psi("cylinder"), loss]);
    let four = Bench { strokes: Some(Strokes::Four), ..two.clone() };
    let unsaid = Bench { strokes: None, ..two.clone() };
    let supplied = Measurement { position: None, ..measured("supply", "mag", &["80"], "psi") };
    for cylinder in ["0", "20", "59", "60", "80"] {
        let report =
            report(vec![supplied.clone(), measured("cylinder", "pto", &[cylinder], "psi")]);
        let outcomes = |bench: &Bench| -> Vec<Outcome> {
            judgements(&report, bench).iter().map(|it| it.outcome).collect()
        };
        assert_eq!(outcomes(&two), [Outcome::Comparative; 3], "{cylinder}");
        assert_eq!(outcomes(&unsaid), [Outcome::CannotSay(Why::Strokes); 3], "{cylinder}");
        let kept = matches!(cylinder, "60" | "80");
        let loss = if kept { Verdict::Within } else { Verdict::Beyond };
        assert_eq!(outcomes(&four)[2], Outcome::Judged(loss), "{cylinder}");
    }
}

/// What is odd about a report of the engine's second inspection: by place in the report.
fn doubts(second: &Inspection, first: Option<Inspection>) -> Vec<(usize, Oddity)> {
    let fact = |id: u8, on: &str, report: Inspection| Fact {
        id: FactId(Uid::from_bytes([id; 16])),
        entry: Entry { on: day(on), order_in_day: 0, content: Content::Inspection(report) },
    };
    let bench = bench(vec![bore()]);
    let root = FactId(Uid::from_bytes([9; 16]));
    let mut facts = vec![fact(9, "2026-03-01", second.clone())];
    facts.extend(first.map(|first| fact(8, "2026-02-01", first)));
    let found = odd(second, day("2026-03-01"), root, &bench, &facts);
    found.into_iter().map(|it| (it.at, it.kind)).collect()
}

#[test]
fn a_bore_that_shrank_is_doubted_unless_work_explains_it() {
    let of = |value: &str| report(vec![measured("bore", "pto", &[value], "mm")]);
    // Both gauges are good to 0.01: 67.55 to 67.53 may be nothing, 67.55 to 67.52 (67.53 < 67.54) is not.
    assert_eq!(doubts(&of("67.53"), Some(of("67.55"))), []);
    assert_eq!(doubts(&of("67.52"), Some(of("67.55"))), [(0, Oddity::AgainstWear)]);
    assert_eq!(doubts(&of("67.52"), None), []);
    let renewed = |positions: Vec<PositionId>, action| {
        let work = vec![WorkDone { item: item("pistons"), positions, action }];
        Inspection { work, ..of("67.55") }
    };
    let pto = vec![at("pto")];
    let mag = vec![at("mag")];
    assert_eq!(doubts(&of("67.52"), Some(renewed(pto.clone(), Action::Renewed))), []);
    assert_eq!(
        doubts(&of("67.52"), Some(renewed(mag, Action::Renewed))),
        [(0, Oddity::AgainstWear)]
    );
    assert_eq!(
        doubts(&of("67.52"), Some(renewed(pto, Action::Cleaned))),
        [(0, Oddity::AgainstWear)]
    );
}

// Left 67.50, right 67.57 by gauges good to 0.01 each: at least 67.56 - 67.51 = 0.05 apart, which is allowed; 67.58
// is not. Four nuts of one pattern likewise.
#[test]
fn cylinders_far_apart_and_readings_far_apart_are_doubted() {
    let pair = |pto: &str| {
        report(vec![
            measured("bore", "mag", &["67.5"], "mm"),
            measured("bore", "pto", &[pto], "mm"),
        ])
    };
    assert_eq!(doubts(&pair("67.57"), None), []);
    assert_eq!(doubts(&pair("67.58"), None), [(1, Oddity::FarApart)]);
    let pattern = |last| report(vec![measured("bore", "mag", &["67.5", "67.51", last], "mm")]);
    assert_eq!(doubts(&pattern("67.57"), None), []);
    assert_eq!(doubts(&pattern("67.58"), None), [(0, Oddity::Uneven)]);
}

// The eight readings of NIST/SEMATECH e-Handbook 1.3.5.17.1, where Grubbs's test finds the last to be an outlier
// (G = 2.469 against 2.032). Among the first seven it is not, nor are three readings enough to tell.
#[test]
fn a_reading_unlike_all_others_is_doubted() {
    let nist = ["199.31", "199.53", "200.19", "200.82", "201.92", "201.95", "202.18", "245.57"];
    let bench = bench(vec![rule("coil", Unit::Ohm, ["0", "1000"])]);
    let doubted = |report: &Inspection| {
        let found = odd(report, day("2026-02-01"), FactId(Uid::from_bytes([9; 16])), &bench, &[]);
        found.iter().map(|odd| (odd.at, odd.kind.word())).collect::<Vec<_>>()
    };
    let one = |readings: &[&str]| report(vec![measured("coil", "mag", readings, "ohm")]);
    assert_eq!(doubted(&one(&nist)), [(0, "unlike-the-others")]);
    assert_eq!(doubted(&one(&nist[..7])), []);
    assert_eq!(doubted(&one(&["199.31", "199.53", "203"])), []);
    // The same eight at two places: told of the one that holds it.
    let (left, right) = nist.split_at(3);
    let two = vec![measured("coil", "mag", left, "ohm"), measured("coil", "pto", right, "ohm")];
    assert_eq!(doubted(&report(two)), [(1, "unlike-the-others")]);
    // By a gauge good to 50 ohm it may be nothing.
    let coarse =
        Measurement { uncertainty: Some("50".to_owned()), ..measured("coil", "mag", &nist, "ohm") };
    assert_eq!(doubted(&report(vec![coarse])), []);
}

/// 2.66 in read as millimetres cannot be a bore of 60 to 80; a gap of 3.0 mm can be, but as 0.30 it would be usual.
#[test]
fn slips_of_unit_and_point() {
    let bore = bore();
    let slipped = measured("bore", "mag", &["67.5", "2.66"], "mm");
    let (at, value) = impossible(&slipped, &bore).unwrap();
    assert_eq!((at, value.to_string()), (1, "2.66".to_owned()));
    assert_eq!(
        gudgeon_life::measure::slip(&bore, Unit::Millimetre, value),
        Some("was it measured in `in`, and not in `mm`?".to_owned())
    );
    let gap = QuantityRule {
        new: bounds(Some("0.2"), Some("0.4")),
        limit: bounds(None, Some("1")),
        ..rule("gap", Unit::Millimetre, ["0.01", "5"])
    };
    let root = FactId(Uid::from_bytes([9; 16]));
    let doubted = |value: &str| {
        let report = report(vec![measured("gap", "mag", &[value], "mm")]);
        let found = odd(&report, day("2026-03-01"), root, &bench(vec![gap.clone()]), &[]);
        found.first().map(|it| (it.kind, it.words.clone()))
    };
    assert_eq!(doubted("1.2"), None);
    let (kind, words) = doubted("3").unwrap();
    assert_eq!(kind, Oddity::UnitSlip);
    assert_eq!(words, "gap of 3 mm is far from what is usual; check the decimal point");
}

#[test]
fn a_sheet_misses_what_was_not_answered_at_its_place() {
    let both = vec![at("mag"), at("pto")];
    let point = |asks, positions| Point { asks, title: "x".to_owned(), positions, lines: 1 };
    let sheet = Sheet {
        id: item("teardown"),
        title: "Teardown".to_owned(),
        kind: SheetKind::Teardown,
        points: vec![
            point(Asked::Look(item("plugs")), both.clone()),
            point(Asked::Measure(bore().id, Readings::Grid(3)), both.clone()),
            point(Asked::Torque(Quantity::new("nuts").unwrap(), Readings::Count(2)), both.clone()),
            point(Asked::Mark(item("piston")), both),
            point(Asked::Photo(item("crown")), Vec::new()),
            point(Asked::Look(item("outside")), Vec::new()),
        ],
    };
    assert_eq!(sheet.entries(), 10);
    let finding = |id, position| Finding {
        item: item(id),
        position,
        condition: Condition::NotInspected,
        recheck: None,
        photos: Vec::new(),
    };
    let mut answer = report(vec![
        grid("mag", ["67.5"; 3], ["67.5"; 3]),
        measured("bore", "pto", &["67.5"], "mm"),
        measured("nuts", "mag", &["20", "21"], "N·m"),
        measured("nuts", "pto", &["20"], "N·m"),
    ]);
    answer.findings =
        vec![finding("plugs", Some(at("mag"))), finding("outside", Some(at("crankcase")))];
    answer.marks = vec![Mark {
        item: item("piston"),
        position: Some(at("pto")),
        text: "II".to_owned(),
        photos: Vec::new(),
    }];
    let open = sheet.missing(&answer);
    let open: Vec<_> =
        open.iter().map(|it| (it.number, it.position.map(PositionId::as_str))).collect();
    let expected = [(1, Some("pto")), (2, Some("pto")), (3, Some("pto")), (4, Some("mag"))];
    assert_eq!(open, expected);
}
