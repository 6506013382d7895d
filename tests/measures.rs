//! The published cases of measurement, torque, insulation and geometry, through the arithmetic that judges what
//! a workshop posts.

#![cfg(test)]

use gudgeon_life::decimal::Decimal;
use gudgeon_life::measure::{Bounds, Interval, Ratio, Unit, Verdict, derive, judge};
use serde_json::Value;

const VECTORS: &str = include_str!("vectors/rules.json");

/// What a case says, by its id.
fn case(id: &str) -> (Value, Value) {
    let cases: Vec<Value> = serde_json::from_str(VECTORS).expect("a list of cases");
    let case = cases.into_iter().find(|case| case["id"] == id);
    let case = case.unwrap_or_else(|| panic!("no case {id}"));
    println!("{id} {}: {}", case["rule"], case["source"]);
    (case["input"].clone(), case["expected"].clone())
}

/// A number of a case, from its own digits.
fn number(value: &Value) -> Ratio {
    Decimal::parse(&value.to_string()).unwrap().into()
}

/// A result to as many places as the case prints.
fn rounded(found: Option<Ratio>, places: u32) -> Option<Ratio> {
    found?.rounded(places).map(Ratio::from)
}

#[test]
fn the_orifice_of_the_tester_follows_the_bore() {
    for id in ["M03", "M04"] {
        let (input, expected) = case(id);
        let found = derive::tester_orifice_in(number(&input["bore_in"]));
        assert_eq!(found, Some(number(&expected["orifice_in"])), "{id}");
    }
}

#[test]
fn a_self_locking_nut() {
    let (input, expected) = case("M11");
    let pair = |value: &Value| [number(&value[0]), number(&value[1])];
    let found = derive::self_locking(pair(&input["range"]), number(&input["run_down"]));
    assert_eq!(found, Some(pair(&expected["wrench_range"])));
}

#[test]
fn insulation_at_forty_degrees() {
    let (input, expected) = case("M17");
    let reference = input["ref_T"].as_i64().and_then(|it| i32::try_from(it).ok()).unwrap();
    let found = derive::insulation(number(&input["R_Mohm"]), number(&input["T"]), reference);
    assert_eq!(found, Some(number(&expected["R_Mohm"])));
}

#[test]
fn the_polarisation_index() {
    let (input, expected) = case("M18");
    let [one, ten] = ["R_1min", "R_10min"].map(|key| Interval::exact(number(&input[key])));
    let index = derive::polarisation_index(ten, one).unwrap();
    assert_eq!(index.value, number(&expected["PI"]));
    let limits = Bounds { min: number(&expected["min"]).exactly(), max: None };
    assert_eq!(judge(index, limits) == Verdict::Within, expected["pass"] == true);
}

#[test]
fn the_ring_gap_grows_with_the_bore_and_has_a_least_by_it() {
    let (input, expected) = case("M20");
    let found = derive::ring_gap_growth(number(&input["bore_growth_mm"]));
    assert_eq!(rounded(found, 3), Some(number(&expected["gap_growth_mm"])));
    let (input, expected) = case("M21");
    let found = derive::ring_gap_min(number(&input["bore_mm"]));
    assert_eq!(found, Some(number(&expected["min_gap_mm"])));
}

/// The limit is common practice and stands in the engine type's file; here it is the case's own source.
#[test]
fn carbon_above_its_limit_is_to_come_off() {
    let (input, expected) = case("M22");
    let limits = Bounds { min: None, max: Some(Decimal::parse("0.020").unwrap()) };
    let found = judge(Interval::exact(number(&input["thickness_in"])), limits);
    assert_eq!(found == Verdict::Beyond, expected["action"] == "decarbonise");
    // The same limit as a file in millimetres has it.
    let limit = Unit::Inch.convert(number(&Value::from(20)), Unit::Micrometre);
    assert_eq!(limit.and_then(Ratio::exactly), Some(Decimal::whole(508_000)));
}

#[test]
fn an_electrode_worn_to_half() {
    let (input, expected) = case("M23");
    let worn = derive::worn_to_half(number(&input["long_mm"]), number(&input["short_mm"]));
    assert_eq!(worn, expected["action"] == "retire");
    let above = Decimal::parse("1.31").unwrap().into();
    assert!(!derive::worn_to_half(number(&input["long_mm"]), above));
}
