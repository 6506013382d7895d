//! No case of `vectors/rules.json` is passed over in silence: a test reads it, or it stands here with the
//! reason why none does yet.

#![cfg(test)]

use serde_json::Value;

const VECTORS: &str = include_str!("vectors/rules.json");

/// The tests that read cases, each of which fails when one that it names is not there. They name a case by
/// its id, or all of one kind by their rule.
const READERS: [(&str, &str); 4] = [
    ("calc_rules.rs", include_str!("calc_rules.rs")),
    ("lives.rs", include_str!("lives.rs")),
    ("measures.rs", include_str!("measures.rs")),
    ("rules.rs", include_str!("rules.rs")),
];

/// What no test reads yet, and why.
const WAITING: [(&[&str], &str); 2] = [
    (
        &["U04"],
        "a tachometer's hours from its speed: hours of one basis are never converted into another",
    ),
    (
        &["U05"],
        "time in service from taxi and air time: nobody posts flights, only hours of one basis",
    ),
];

/// What a case that is read expects besides, which no test asks for yet, and why.
const WAITING_ANSWERS: [(&str, &str, &str); 2] = [
    ("T05", "projected_hours_date", "a mean rate carried on: a forecast never shows one"),
    ("T07", "projected_hours_date", "a mean rate of nothing: a forecast never shows one"),
];

fn cases() -> Vec<Value> {
    serde_json::from_str(VECTORS).expect("a list of cases")
}

/// The tests whose code names the case or its rule; what only a comment names is not read.
fn readers(case: &Value) -> Vec<&'static str> {
    let names = [&case["id"], &case["rule"]].map(Value::to_string);
    let reads = |text: &str| {
        let mut code = text.lines().filter(|line| !line.trim_start().starts_with("//"));
        code.any(|line| names.iter().any(|name| line.contains(name)))
    };
    READERS.into_iter().filter(|(_, text)| reads(text)).map(|(file, _)| file).collect()
}

#[test]
fn every_case_is_read_by_a_test_or_waits_for_a_reason() {
    let mut faults = Vec::new();
    for case in cases() {
        let reason = WAITING.iter().find(|(ids, _)| ids.iter().any(|id| case["id"] == *id));
        let readers = readers(&case);
        match (reason, readers.as_slice()) {
            (None, []) => faults.push(format!("{case} is neither read nor listed")),
            (Some(_), [_, ..]) => faults.push(format!("{case} is listed, and read by {readers:?}")),
            (Some((_, why)), []) => println!("{} {}: {why}", case["id"], case["rule"]),
            (None, _) => println!("{} {}: {}", case["id"], case["rule"], readers.join(", ")),
        }
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[test]
fn what_is_listed_is_in_the_file() {
    let cases = cases();
    let listed = WAITING.iter().flat_map(|(ids, _)| ids.iter().map(|id| (*id, None)));
    let answers = WAITING_ANSWERS.iter().map(|(id, answer, _)| (*id, Some(*answer)));
    for (id, answer) in listed.chain(answers) {
        let case = cases.iter().find(|case| case["id"] == id);
        let case = case.unwrap_or_else(|| panic!("no case {id}"));
        assert!(
            answer.is_none_or(|answer| case["expected"].get(answer).is_some()),
            "{id} {answer:?}"
        );
    }
}
