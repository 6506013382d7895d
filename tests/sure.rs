//! The methods of "how sure" against check values from outside, case by case.

#![cfg(test)]

mod sure_special;

use serde_json::{Value, json};
use std::fs;
use std::path::PathBuf;

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
}

/// All cases of a file.
fn cases(file: &str) -> Vec<Case> {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("vectors").join(file);
    let text = fs::read_to_string(&path).expect("the check values are in tests/vectors");
    let content: Value = serde_json::from_str(&text).expect("JSON");
    let cases = content["cases"].as_array().expect("a list of cases").iter().map(|case| Case {
        id: case["id"].as_str().expect("an id").to_owned(),
        input: case["input"].clone(),
        expect: case["expect"].clone(),
    });
    let cases: Vec<Case> = cases.collect();
    assert_eq!(content["header"]["n"], json!(cases.len()), "all cases of {file}");
    cases
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

    fn none(self) {
        assert!(self.0.is_empty(), "{} wrong:\n{}", self.0.len(), self.0.join("\n"));
    }
}
