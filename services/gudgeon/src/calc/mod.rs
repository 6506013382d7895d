//! `gudgeon calc NAME`: the trade's sums alone, JSON in and JSON out, over the very functions that the
//! service uses.
//!
//! One object or many on standard input, one result a line on standard output, in the same order. An input
//! that is not right is answered in its place by a problem (RFC 9457) that lists all its faults, each with
//! a JSON pointer; the others are answered all the same.

mod bench;
mod days;
mod due;
mod forecast;
mod inputs;
mod life;
mod lists;
mod spread;
mod trend;
mod unlogged;

use gudgeon_api::problem::Kind;
use gudgeon_api::read::{self, Fault, Fields, Found};
use inputs::{Input, Inputs, TEXT_BYTES_MAX};
use serde::Serialize;
use std::io::{self, BufRead, Write};

/// Reads the fields of one input and gives one line of JSON; `None` once a fault is reported.
type Sum = fn(&Fields<'_>) -> Option<String>;

const SUMS: [(&str, Sum); 14] = [
    ("due", due::due),
    ("date-code", days::date_code),
    ("hours", bench::hours),
    ("torque", bench::torque),
    ("compression", bench::compression),
    ("bore", bench::bore),
    ("calendar", days::calendar),
    ("week", days::week),
    ("copper", bench::copper),
    ("life", life::life),
    ("spread", spread::spread),
    ("unlogged", unlogged::unlogged),
    ("forecast", forecast::forecast),
    ("trend", trend::trend),
];

/// How a run ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Outcome {
    /// Every input was answered.
    Answered,
    /// At least one input was not right; its problem stands in its place.
    Refused,
    /// No sum has this name.
    UnknownName,
}

impl Outcome {
    /// The exit code that scripts rely on: 0, 3 for bad input, 2 for a bad command line.
    #[must_use]
    pub(crate) const fn exit_code(self) -> u8 {
        match self {
            Self::Answered => 0,
            Self::Refused => 3,
            Self::UnknownName => 2,
        }
    }
}

/// The names of all sums, as the command line takes them.
pub(crate) fn names() -> impl Iterator<Item = &'static str> {
    SUMS.into_iter().map(|(name, _)| name)
}

/// Answers every input with the sum of this name.
///
/// A reader that closes the output early has what it wants: that is no error.
///
/// # Errors
/// When the input cannot be read, or the output cannot be written for another reason.
pub(crate) fn run(name: &str, input: impl BufRead, mut output: impl Write) -> io::Result<Outcome> {
    let Some((_, sum)) = SUMS.into_iter().find(|(known, _)| *known == name) else {
        return Ok(Outcome::UnknownName);
    };
    let mut outcome = Outcome::Answered;
    let mut inputs = Inputs::new(input);
    while let Some(input) = inputs.next()? {
        let line = result(sum, &input).unwrap_or_else(|problem| {
            outcome = Outcome::Refused;
            problem
        });
        // Flushed at once: a program may wait for this answer before it asks the next.
        match writeln!(output, "{line}").and_then(|()| output.flush()) {
            Err(error) if error.kind() == io::ErrorKind::BrokenPipe => return Ok(outcome),
            written => written?,
        }
    }
    Ok(outcome)
}

/// The line for one input: its result, or its problem.
fn result(sum: Sum, input: &Input) -> Result<String, String> {
    let node = match input {
        Input::Text(text) => read::parse(text),
        Input::TooLarge => Err(Fault {
            pointer: String::new(),
            code: "too-large",
            detail: format!("an input holds at most {TEXT_BYTES_MAX} bytes"),
        }),
    };
    let node = node.map_err(|fault| problem(Kind::MALFORMED, &[fault]))?;
    let found = Found::default();
    // The view ends with this line, and reports the fields that nobody asked for.
    let answer = sum(&found.object(&node));
    match (answer, found.into_result()) {
        (Some(answer), Ok(_)) => Ok(answer),
        (_, faults) => Err(problem(Kind::INVALID, &faults.err().unwrap_or_default())),
    }
}

/// One line of JSON.
fn answer(out: &impl Serialize) -> Option<String> {
    // Plain texts and numbers always have a JSON form.
    serde_json::to_string(out).ok()
}

#[derive(Serialize)]
struct ProblemOut<'a> {
    r#type: String,
    title: &'a str,
    status: u16,
    errors: Vec<FaultOut<'a>>,
}

#[derive(Serialize)]
struct FaultOut<'a> {
    pointer: &'a str,
    code: &'a str,
    detail: &'a str,
}

fn problem(kind: &Kind, faults: &[Fault]) -> String {
    let errors =
        faults.iter().map(|Fault { pointer, code, detail }| FaultOut { pointer, code, detail });
    let out = ProblemOut {
        r#type: kind.address(),
        title: kind.title,
        status: kind.status,
        errors: errors.collect(),
    };
    answer(&out).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::{Value, json};

    fn answers(name: &str, input: &str) -> (Outcome, Vec<Value>) {
        let mut output = Vec::new();
        let outcome = run(name, input.as_bytes(), &mut output).expect("memory can be written");
        let lines = String::from_utf8(output).expect("UTF-8");
        (outcome, lines.lines().map(|line| serde_json::from_str(line).expect("JSON")).collect())
    }

    // The first day after 31 January 2025 is 663 days before 25 November 2026: counted with a calendar.
    #[test]
    fn a_due_line_of_both_sides() {
        let input = r#"{"as_of":"2026-11-25","hours_now":"1043.2",
            "item":{"every":{"hours":"100","months":12,"days":null},
                "tolerance":{"hours":"10","months":1,"days":null,"percent":null,"hours_max":null,"days_max":null},
                "calendar":"end-of-month","next":"from-due","class":"required-inspection",
                "granted":"automatic","extension_percent":null},
            "last":{"on":"2024-01-15","hours":"1032.5"},"was_due":{"on":null,"hours":"1040.0"}}"#;
        let (outcome, lines) = answers("due", input);
        assert_eq!(outcome, Outcome::Answered);
        let line = lines.first().expect("one line");
        assert_eq!(line["due"], json!({"hours": "1132.5", "on": "2025-01-31"}));
        assert_eq!(line["latest"], json!({"hours": "1142.5", "on": "2025-02-28"}));
        assert_eq!(line["last_overrun"], json!({"hours": "0.0", "days": 0}));
        assert_eq!(line["last_overrun_beyond_tolerance"], json!(false));
        assert_eq!(line["overdue_by"], json!({"hours": "0.0", "days": 663}));
        assert_eq!((&line["governs"], &line["status"]), (&json!("calendar"), &json!("overdue")));
    }

    #[test]
    fn an_hours_leg_without_hours_now_still_gives_its_due_hours() {
        let input = r#"{"as_of":"2026-11-25","item":{"every":{"hours":25},"class":"recommended"},"last":{"hours":302}}"#;
        let (outcome, lines) = answers("due", input);
        assert_eq!(outcome, Outcome::Answered);
        let line = lines.first().expect("one line");
        assert_eq!(line["due"], json!({"hours": "327.0", "on": null}));
        assert_eq!(line["status"], json!("unknown"));
    }

    // A tolerance of 1 month and 10 days, the strictest of which counts: 10 days (from 15 March 2025).
    #[test]
    fn of_several_tolerances_the_strictest_counts() {
        let input = r#"{"as_of":"2025-03-20","item":{"every":{"months":12},"class":"recommended",
            "tolerance":{"months":1,"days":10}},"last":{"on":"2024-03-15"}}"#;
        let (_, lines) = answers("due", input);
        let line = lines.first().expect("one line");
        assert_eq!(
            (&line["due"]["on"], &line["latest"]["on"]),
            (&json!("2025-03-15"), &json!("2025-03-25"))
        );
        assert_eq!(line["status"], json!("in-tolerance"));
    }

    #[test]
    fn every_fault_of_an_input_comes_at_once_and_the_others_are_answered() {
        let (outcome, lines) = answers(
            "torque",
            "{\"target\":40,\"length\":12,\"extension\":4}\n\
             {\"target\":\"x\",\"length\":0,\"extnsion\":4,\"length\":1}\n\
             {\"target\":40\n\
             {\"wrench\":60,\"length\":12,\"extension\":2}\n",
        );
        assert_eq!(outcome, Outcome::Refused);
        let [first, second, third, fourth] = lines.as_slice() else { panic!("four lines") };
        assert_eq!((first, fourth), (&json!({"wrench": 30}), &json!({"target": 70})));
        let faults = second["errors"].as_array().expect("a list");
        let found: Vec<_> =
            faults.iter().map(|fault| (&fault["pointer"], &fault["code"])).collect();
        let expected = [
            ("/extension", "missing"),
            ("/extnsion", "unknown-field"),
            ("/length", "duplicate-key"),
            ("/target", "bad-number"),
        ];
        let expected = expected.map(|(pointer, code)| (json!(pointer), json!(code)));
        assert_eq!(
            found,
            expected.iter().map(|(pointer, code)| (pointer, code)).collect::<Vec<_>>()
        );
        assert_eq!((&second["status"], &third["status"]), (&json!(422), &json!(400)));
    }

    #[test]
    fn exact_digits_come_out() {
        for (name, input, output) in [
            (
                "bore",
                r#"{"a":[67.52,67.51,67.5],"b":[67.51,67.51,67.5]}"#,
                r#"{"out_of_round":0.01,"taper":0.02}"#,
            ),
            ("torque", r#"{"target":135,"length":10,"extension":1.5}"#, r#"{"wrench":117.391}"#),
            (
                "compression",
                r#"{"supply":80,"cylinder":59,"strokes":4}"#,
                r#"{"loss_percent":26.25,"comparative_only":false,"finding":"suspect"}"#,
            ),
            (
                "hours",
                r#"{"value":"1043:12"}"#,
                r#"{"seconds":3755520,"tenths":"1043.2","h_mm":"1043:12"}"#,
            ),
        ] {
            let mut written = Vec::new();
            run(name, input.as_bytes(), &mut written).expect("memory can be written");
            assert_eq!(String::from_utf8_lossy(&written).trim_end(), output, "{name}");
        }
    }

    #[test]
    fn a_reader_that_stops_reading_is_no_error() {
        struct Closed;
        impl Write for Closed {
            fn write(&mut self, _: &[u8]) -> io::Result<usize> {
                Err(io::ErrorKind::BrokenPipe.into())
            }
            fn flush(&mut self) -> io::Result<()> {
                Ok(())
            }
        }
        let input = &br#"{"value":1}"#[..];
        assert!(matches!(run("hours", input, Closed), Ok(Outcome::Answered)));
        assert!(matches!(run("nothing", input, Closed), Ok(Outcome::UnknownName)));
    }
}
