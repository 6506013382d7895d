//! The methods of "how sure" against check values from outside, case by case.

#![cfg(test)]
#![expect(clippy::float_arithmetic, reason = "real numbers agree within a tolerance")]

mod sure_agreement;
mod sure_calc;
mod sure_forecast;
mod sure_line;
mod sure_special;
mod sure_trend;

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
    input: Value,
    expect: Value,
}

impl Case {
    /// A number of the input.
    fn number(&self, key: &str) -> f64 {
        self.input[key].as_f64().unwrap_or_else(|| panic!("{}: no number `{key}`", self.id))
    }

    /// A list of numbers of the input.
    fn numbers(&self, key: &str) -> Vec<f64> {
        let list = self.input[key].as_array().expect("a list");
        list.iter().map(|it| it.as_f64().expect("a number")).collect()
    }
}

/// A file of check values.
fn read(file: &str) -> Value {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("vectors").join(file);
    let text = fs::read_to_string(&path).expect("the check values are in tests/vectors");
    serde_json::from_str(&text).expect("JSON")
}

/// What a file says of itself.
fn header(file: &str) -> Value {
    read(file)["header"].take()
}

/// All cases of a file.
fn cases(file: &str) -> Vec<Case> {
    let content = read(file);
    let cases = content["cases"].as_array().expect("a list of cases").iter().map(|case| Case {
        id: case["id"].as_str().expect("an id").to_owned(),
        input: case["input"].clone(),
        expect: case["expect"].clone(),
    });
    let cases: Vec<Case> = cases.collect();
    assert_eq!(content["header"]["n"], json!(cases.len()), "all cases of {file}");
    cases
}

/// What the sum of this name says to each input, through the program that `cargo build` left, and the exit code.
fn calc_raw(name: &str, inputs: &[Value]) -> (Vec<Value>, Option<i32>) {
    let mut child = Command::new(program())
        .args(["calc", name])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("the program starts");
    let mut stdin = child.stdin.take().expect("a pipe");
    let lines = inputs.iter().map(Value::to_string).collect::<Vec<_>>().join("\n");
    // Written beside the reading: neither side can fill a pipe that the other waits for.
    let writer = thread::spawn(move || stdin.write_all(lines.as_bytes()));
    let output = child.wait_with_output().expect("the program ends");
    writer.join().expect("the writer ends").expect("the input is taken");
    let text = String::from_utf8(output.stdout).expect("UTF-8");
    let answers = text.lines().map(|line| serde_json::from_str(line).expect("JSON in each line"));
    (answers.collect(), output.status.code())
}

/// The same for cases that must all be answered.
fn calc(name: &str, cases: &[Case]) -> Vec<Value> {
    let inputs: Vec<Value> = cases.iter().map(|case| case.input.clone()).collect();
    let (answers, code) = calc_raw(name, &inputs);
    assert_eq!((answers.len(), code), (cases.len(), Some(0)), "{answers:?}");
    answers
}

/// The pointers of the faults that the sum of this name finds in an input.
fn faults_of(name: &str, input: Value) -> Vec<String> {
    let (answers, code) = calc_raw(name, &[input]);
    assert_eq!(code, Some(3), "{answers:?}");
    let faults = answers.first().and_then(|it| it["errors"].as_array()).expect("faults");
    faults.iter().map(|fault| fault["pointer"].as_str().expect("a pointer").to_owned()).collect()
}

/// What is wrong with the cases checked so far.
#[derive(Default)]
struct Faults(Vec<String>);

impl Faults {
    /// The number found is the expected one, but for a share of it.
    fn near(&mut self, case: &Case, what: &str, found: f64, expected: &Value, relative: f64) {
        let near = expected.as_f64().is_some_and(|it| (found - it).abs() <= relative * it.abs());
        if !near {
            self.0.push(format!("{} {what}: expected {expected}, found {found}", case.id));
        }
    }

    /// Every key that the case expects is in the answer, whatever its shape: numbers but for a share of them,
    /// all else exactly.
    fn agree(&mut self, case: &Case, at: &str, found: &Value, expected: &Value, relative: f64) {
        match expected {
            Value::Object(fields) => {
                for (name, expected) in fields {
                    self.agree(case, &format!("{at}/{name}"), &found[name], expected, relative);
                }
            }
            Value::Array(entries)
                if found.as_array().is_some_and(|it| it.len() == entries.len()) =>
            {
                for (number, expected) in entries.iter().enumerate() {
                    self.agree(case, &format!("{at}/{number}"), &found[number], expected, relative);
                }
            }
            Value::Number(_) if found.is_number() => {
                self.near(case, at, found.as_f64().unwrap_or(f64::MAX), expected, relative);
            }
            _ if found != expected => {
                self.0.push(format!("{} {at}: expected {expected}, found {found}", case.id));
            }
            _ => {}
        }
    }

    fn none(self) {
        assert!(self.0.is_empty(), "{} wrong:\n{}", self.0.len(), self.0.join("\n"));
    }
}
