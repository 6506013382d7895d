//! `gudgeon calc` against check values from outside, case by case, through the real program.
//!
//! The program is the one that `GUDGEON_BIN` names, or else `target/<profile>/gudgeon` beside these tests:
//! run `cargo build -p gudgeon` first. Every case prints its id and source; a failure names the id.

#![cfg(test)]

mod calc_bench;
mod calc_rules;

use gudgeon_tests::program;
use serde_json::{Value, json};
use std::fs;
use std::io::Write;
use std::path::PathBuf;
use std::process::{Command, Stdio};
use std::thread;

/// One check value.
struct Case {
    id: String,
    source: String,
    input: Value,
    expect: Value,
    /// The rule it belongs to; empty in files about one sum.
    rule: String,
}

impl Case {
    /// Hours of the input as text, in tenths: the form that answers have.
    fn hours(&self, key: &str) -> Value {
        tenths(&self.input[key])
    }

    /// Whether the case expects anything under a key.
    fn has(&self, key: &str) -> bool {
        self.expect.get(key).is_some()
    }

    /// What the case expects under a key is exactly this.
    fn expects(&self, key: &str, found: &Value, faults: &mut Faults) {
        faults.same(self, key, found, &self.expect[key]);
    }

    /// What the case expects under a key is these hours, in tenths.
    fn expects_hours(&self, key: &str, found: &Value, faults: &mut Faults) {
        faults.same(self, key, found, &tenths(&self.expect[key]));
    }
}

/// A number as hours in tenths, which every case of hours is exact in.
fn tenths(value: &Value) -> Value {
    value.as_f64().map_or(Value::Null, |hours| json!(format!("{hours:.1}")))
}

/// What is wrong with the cases checked so far.
#[derive(Default)]
struct Faults(Vec<String>);

impl Faults {
    /// The answer must be exactly this.
    fn same(&mut self, case: &Case, what: &str, found: &Value, expected: &Value) {
        if found != expected {
            self.0.push(format!("{} {what}: expected {expected}, found {found}", case.id));
        }
    }

    fn none(self) {
        assert!(self.0.is_empty(), "{} wrong:\n{}", self.0.len(), self.0.join("\n"));
    }
}

/// What the sum of this name says to each input, and the exit code.
fn calc_raw(name: &str, input: &str) -> (Vec<Value>, Option<i32>) {
    let mut child = Command::new(program())
        .args(["calc", name])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("the program starts");
    let mut stdin = child.stdin.take().expect("a pipe");
    let input = input.to_owned();
    // Written beside the reading: neither side can fill a pipe that the other waits for.
    let writer = thread::spawn(move || stdin.write_all(input.as_bytes()));
    let output = child.wait_with_output().expect("the program ends");
    writer.join().expect("the writer ends").expect("the input is taken");
    let text = String::from_utf8(output.stdout).expect("UTF-8");
    let answers = text.lines().map(|line| serde_json::from_str(line).expect("JSON in each line"));
    (answers.collect(), output.status.code())
}

/// What the sum of this name says to one input that must be answered.
fn calc_one(name: &str, input: &Value) -> Value {
    calc(name, std::slice::from_ref(input)).pop().expect("an answer")
}

/// The same for inputs that must all be answered.
fn calc(name: &str, inputs: &[Value]) -> Vec<Value> {
    let lines: Vec<String> = inputs.iter().map(Value::to_string).collect();
    let (answers, code) = calc_raw(name, &lines.join("\n"));
    assert_eq!(answers.len(), inputs.len(), "one line for each input");
    assert_eq!(code, Some(0), "{answers:?}");
    answers
}

fn read(file: &str) -> Value {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("vectors").join(file);
    let text = fs::read_to_string(&path).expect("the check values are in tests/vectors");
    serde_json::from_str(&text).expect("JSON")
}

fn text(value: &Value) -> String {
    value.as_str().unwrap_or_default().to_owned()
}

/// The cases of a file about one sum.
fn cases(file: &str) -> Vec<Case> {
    let content = read(file);
    let source =
        format!("{} / {}", text(&content["header"]["library"]), text(&content["header"]["source"]));
    let cases = content["cases"].as_array().expect("a list of cases").iter().map(|case| Case {
        id: text(&case["id"]),
        source: source.clone(),
        input: case["input"].clone(),
        expect: case["expect"].clone(),
        rule: String::new(),
    });
    let cases: Vec<Case> = cases.collect();
    assert_eq!(content["header"]["n"], json!(cases.len()), "all cases of {file}");
    cases
}

/// Every key that a case expects, compared exactly.
fn exactly(sum: &str, file: &str) {
    let cases = cases(file);
    let inputs: Vec<Value> = cases.iter().map(|case| case.input.clone()).collect();
    let mut faults = Faults::default();
    for (case, answer) in cases.iter().zip(calc(sum, &inputs)) {
        println!("{}: {}", case.id, case.source);
        for (key, expected) in case.expect.as_object().expect("an object") {
            faults.same(case, key, &answer[key], expected);
        }
    }
    faults.none();
}

#[test]
fn calendar_shifts_agree_with_dateutil() {
    exactly("calendar", "13_calendar.json");
}

#[test]
fn weeks_agree_with_isocalendar() {
    exactly("week", "14_iso_weeks.json");
}

#[test]
fn copper_agrees_with_the_formulas() {
    let cases = cases("15_copper_temperature.json");
    let inputs: Vec<Value> = cases.iter().map(|case| case.input.clone()).collect();
    let tolerance = read("15_copper_temperature.json")["header"]["tolerance"]["rel"].as_f64();
    let tolerance = tolerance.expect("a relative tolerance");
    let mut wrong = Vec::new();
    for (case, answer) in cases.iter().zip(calc("copper", &inputs)) {
        println!("{}: {}", case.id, case.source);
        for (key, expected) in case.expect.as_object().expect("an object") {
            let expected = expected.as_f64().expect("a number");
            let near = answer[key]
                .as_f64()
                .is_some_and(|found| (found - expected).abs() <= tolerance * expected.abs());
            if !near {
                wrong
                    .push(format!("{} {key}: expected {expected}, found {}", case.id, answer[key]));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn bad_inputs_are_answered_in_their_place_with_exit_code_3() {
    let input =
        "{\"value\":\"1043:12\"}\n{\"value\":-1,\"x\":1}\nnot json\n{\n \"value\": 0.5\n}\n";
    let (answers, code) = calc_raw("hours", input);
    assert_eq!(code, Some(3));
    let [first, second, third, fourth] = answers.as_slice() else { panic!("four lines") };
    assert_eq!((&first["tenths"], &fourth["seconds"]), (&json!("1043.2"), &json!(1800)));
    assert_eq!((&second["status"], &third["status"]), (&json!(422), &json!(400)));
    let pointers: Vec<&Value> = second["errors"]
        .as_array()
        .expect("a list of faults")
        .iter()
        .map(|fault| &fault["pointer"])
        .collect();
    assert_eq!(pointers, [&json!("/value"), &json!("/x")]);
}
