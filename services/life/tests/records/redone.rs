//! Every working of a random fleet, and of random sums on their own, redone by the checker of `tests/check_workings.py`, which shares no code
//! with the service.

use crate::bench_shop::Shop;
use crate::fleet::{Dice, World, random_interval, random_item};
use chrono::NaiveDate;
use gudgeon_life::calendar::CalendarMode;
use gudgeon_life::due::due_list;
use gudgeon_life::hours::Hours;
use gudgeon_life::line::{AskedBy, DueLine, Overrun};
use gudgeon_life::rule::Rule;
use gudgeon_life::sum::{DueSum, due_sum};
use gudgeon_life::sure::prior::Evidence;
use gudgeon_life::working::working;
use std::fmt::Write as _;
use std::path::Path;
use std::process::{Command, Stdio};

const ENGINES: u64 = 2_000;
const SUMS: u64 = 2_000;

#[test]
fn the_checker_redoes_every_working_of_a_random_fleet() {
    let folder = std::env::temp_dir().join(format!("gudgeon-workings-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let file = folder.join("lines.ndjson");
    let fleet = (0..ENGINES).map(|seed| printed(seed, &World::new(seed)));
    let lines: String = fleet.chain((0..SUMS).map(printed_sum)).collect();
    std::fs::write(&file, &lines).unwrap();
    let checker = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/check_workings.py");
    let input = std::fs::File::open(&file).unwrap();
    let mut python = Command::new("python3");
    python.arg("-B").arg(checker).stdin(Stdio::from(input));
    let answer = python.output().expect("python3 is needed to redo the workings");
    let said = String::from_utf8_lossy(&answer.stdout).into_owned();
    let last = said.lines().last().unwrap_or_default().to_owned();
    let shown: Vec<&str> = said.lines().take(20).collect();
    assert!(answer.status.success(), "{}\n{last}\n{}", shown.join("\n"), file.display());
    assert_eq!(last, format!("{} workings redone, 0 disagree", lines.lines().count()));
    std::fs::remove_dir_all(&folder).unwrap();
}

/// The due lines of an engine as the API prints them, one JSON object on each line.
fn printed(seed: u64, world: &World) -> String {
    let (history, engine, as_of) = (world.history(), Shop::engine_id(1), world.as_of);
    let lines = due_list(&history, engine, &world.engine_type, &Evidence::default());
    let mut text = String::new();
    for line in lines {
        let words =
            working(&history, engine, &world.engine_type, &Evidence::default(), &line, as_of);
        text += &object(seed, &line, as_of, &words);
        text.push('\n');
    }
    text
}

/// A sum without a history, by the rule of a random item.
fn printed_sum(seed: u64) -> String {
    let mut dice = Dice::new(seed);
    let item = random_item(&mut dice, 0);
    let every = random_interval(&mut dice, false);
    let as_of = dice.day("2024-01-01", 900);
    let sum = DueSum {
        as_of,
        hours_now: dice.maybe(2, |dice| dice.hours(900)),
        rule: Rule::from(&item),
        every_hours: every.hours,
        every_spans: every.spans,
        calendar: dice.pick(&CalendarMode::ALL),
        last: (
            dice.maybe(2, |dice| dice.day("2022-01-01", 900)),
            dice.maybe(2, |dice| dice.hours(800)),
        ),
        was_due: (
            dice.maybe(2, |dice| dice.day("2022-01-01", 900)),
            dice.maybe(2, |dice| dice.hours(800)),
        ),
    };
    let (line, words) = due_sum(&sum);
    let source = DueLine { source: "as given".to_owned(), ..line };
    format!("{}\n", object(seed, &source, as_of, &words))
}

fn object(seed: u64, line: &DueLine, as_of: NaiveDate, words: &[String]) -> String {
    let text = |value: &str| format!("\"{}\"", value.replace('\\', "\\\\").replace('"', "\\\""));
    let maybe = |value: Option<String>| value.map_or_else(|| "null".to_owned(), |it| text(&it));
    let point = |hours: Option<Hours>, on: Option<NaiveDate>| {
        let (hours, on) = (hours.map(|it| it.to_string()), on.map(|it| it.to_string()));
        format!("{{\"hours\":{},\"on\":{}}}", maybe(hours), maybe(on))
    };
    let overrun =
        |by: Overrun| format!("{{\"hours\":{},\"days\":{}}}", text(&by.hours.tenths_up()), by.days);
    let mut out = String::from("{");
    let mut put = |key: &str, value: String| {
        let comma = if out.len() > 1 { "," } else { "" };
        write!(out, "{comma}\"{key}\":{value}").unwrap();
    };
    put("engine", text(&seed.to_string()));
    put("item", text(line.item.as_str()));
    put("position", maybe(line.position.as_ref().map(ToString::to_string)));
    if line.asked_by != AskedBy::Programme {
        put("finding", text(&format!("{:?}", line.asked_by)));
    }
    put("as_of", text(&as_of.to_string()));
    put("title", text(&line.title));
    put("class", text(line.class.word()));
    put("source", text(&line.source));
    put("status", text(line.status(as_of).word()));
    put("due", point(line.due_hours(), line.due_on()));
    put("latest", point(line.latest_hours(), line.latest_on()));
    put("hours_left", maybe(line.hours_left().map(Hours::tenths_down)));
    put("hours_now", maybe(line.hours_now.map(Hours::tenths_up)));
    put("hours_on", maybe(line.hours_on.map(|it| it.to_string())));
    put("governs", text(line.governs(as_of).word()));
    put("overdue_by", overrun(line.overdue_by(as_of)));
    put("last_overrun", overrun(line.last_overrun));
    put("last_overrun_beyond_tolerance", line.last_overrun_beyond_tolerance.to_string());
    let words: Vec<String> = words.iter().map(|it| text(it)).collect();
    put("working", format!("[{}]", words.join(",")));
    out.push('}');
    out
}
