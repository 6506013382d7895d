//! What a due list costs without words: an engine of thirty items, beside the bare sums of its legs.
//!
//!     cargo bench -p gudgeon-tests --bench due_list
//!
//! Both are timed in turn in the same run; the ratio is what can be compared between machines.

#![expect(clippy::print_stdout, reason = "a bench prints what it measured")]
#![expect(clippy::float_arithmetic, reason = "durations are averaged for people to read")]

use chrono::NaiveDate;
use gudgeon_life::calendar::{CalendarMode, CalendarSpan, add};
use gudgeon_life::date_code::CodeDay;
use gudgeon_life::due::due_list;
use gudgeon_life::fact::{
    Content, EngineInstalled, EngineRegistered, Entry, Fact, Inspection, InspectionReading,
    WorkDone,
};
use gudgeon_life::history::History;
use gudgeon_life::hours::{Basis, Hours};
use gudgeon_life::ids::{AircraftId, EngineId, FactId, ItemId, PartyId, Uid};
use gudgeon_life::programme::{
    Action, Applies, Class, CountsFrom, EngineType, Granted, Interval, Item, Limit, NextPolicy,
    Notice, Subject,
};
use gudgeon_life::sheet::Bench;
use gudgeon_life::sure::prior::Evidence;
use std::hint::black_box;
use std::time::{Duration, Instant};

const ITEMS: usize = 30;
/// Six years of visits, two a year, each of which does every item.
const VISITS: u32 = 12;
const ROUNDS: usize = 2_000;

fn day(number: u32) -> NaiveDate {
    let first = NaiveDate::from_ymd_opt(2020, 1, 1).unwrap_or_default();
    add(first, CalendarSpan::months(6 * number), CalendarMode::Day)
}

fn uid(kind: u8, number: u32) -> Uid {
    let mut bytes = [0; 16];
    for (byte, value) in bytes.iter_mut().rev().zip(number.to_le_bytes()) {
        *byte = value;
    }
    if let Some(first) = bytes.first_mut() {
        *first = kind;
    }
    Uid::from_bytes(bytes)
}

fn name(number: usize) -> ItemId {
    ItemId::new(&format!("item-{number}")).unwrap_or_else(|| unreachable!("a plain word"))
}

fn programme() -> EngineType {
    let limit = Limit {
        name: None,
        counts_from: CountsFrom::New,
        once: Vec::new(),
        first: None,
        every: Interval {
            hours: Some(Hours::from_whole(100)),
            spans: vec![CalendarSpan::months(12)],
        },
        calendar: CalendarMode::EndOfMonth,
        shelf: false,
        code_day: CodeDay::First,
    };
    let item = |number| Item {
        id: name(number),
        title: format!("Item {number}"),
        subject: Subject::Engine,
        positions: Vec::new(),
        class: Class::RequiredInspection,
        source: "the bench".to_owned(),
        limits: vec![limit.clone()],
        next: NextPolicy::FromDue,
        tolerance: None,
        granted: Granted::Automatic,
        extension_percent: None,
        on_condition: None,
        trend: None,
        satisfied_by: Vec::new(),
        done_by: vec![Action::Inspected],
        until: Vec::new(),
        notice: Notice::default(),
        after: Vec::new(),
        applies: Applies::default(),
    };
    EngineType {
        name: name(0),
        title: "Bench twin".to_owned(),
        invented: true,
        basis: Basis::EngineRun,
        entered_up_to: day(0),
        positions: Vec::new(),
        items: (0..ITEMS).map(item).collect(),
        bench: Bench::default(),
    }
}

fn facts() -> Vec<Fact> {
    let engine = EngineId(uid(1, 1));
    let fact = |number, on, content| Fact {
        id: FactId(uid(9, number)),
        entry: Entry { on, order_in_day: 0, content },
    };
    let registered = Content::EngineRegistered(EngineRegistered {
        engine,
        engine_type: name(0),
        serial: "1".to_owned(),
        basis: Basis::EngineRun,
        tsn: Some(Hours::ZERO),
        made_on: Some(day(0)),
        overhauled: None,
    });
    let installed = Content::EngineInstalled(EngineInstalled {
        engine,
        aircraft: AircraftId(uid(2, 1)),
        meter: Hours::ZERO,
    });
    let visit = |number: u32| {
        let on = day(number);
        let meter = Hours::from_whole(i64::from(number) * 45);
        let done =
            |item| WorkDone { item: name(item), positions: Vec::new(), action: Action::Inspected };
        Content::Inspection(Inspection {
            engine,
            shop: PartyId(uid(4, 1)),
            work_order: None,
            sheet: None,
            opened_on: on,
            released: true,
            readings: vec![InspectionReading { on, meter }],
            tsn: None,
            findings: Vec::new(),
            measurements: Vec::new(),
            work: (0..ITEMS).map(done).collect(),
            marks: Vec::new(),
            overhaul: None,
            test_run: None,
            run_in: None,
            fastenings: Vec::new(),
            matched: Vec::new(),
        })
    };
    let visits = (1..=VISITS).map(|number| fact(10 + number, day(number), visit(number)));
    [fact(1, day(0), registered), fact(2, day(0), installed)].into_iter().chain(visits).collect()
}

/// The same sums without rules, records or reasons: every item, every visit, both sides.
fn bare_sums(every: Hours, span: CalendarSpan) -> (Hours, NaiveDate) {
    let mut last = (Hours::ZERO, day(0));
    for _ in 0..ITEMS {
        for visit in 1..=VISITS {
            let hours = Hours::from_whole(i64::from(black_box(visit)) * 45);
            last = (hours + every, add(day(visit), span, CalendarMode::EndOfMonth));
        }
    }
    last
}

fn time(mut work: impl FnMut()) -> Duration {
    let start = Instant::now();
    for _ in 0..ROUNDS {
        work();
    }
    start.elapsed()
}

fn main() {
    let (programme, facts) = (programme(), facts());
    let history = History::fold(&facts);
    let engine = EngineId(uid(1, 1));
    let (every, span) = (Hours::from_whole(100), CalendarSpan::months(12));
    let lines = time(|| {
        black_box(due_list(black_box(&history), engine, &programme, &Evidence::default()));
    });
    let floor = time(|| {
        black_box(bare_sums(black_box(every), span));
    });
    let fold = time(|| {
        black_box(History::fold(black_box(&facts)));
    });
    let micros = |took: Duration| took.as_secs_f64() * 1e6 / 2_000.0;
    println!("{ITEMS} items, {VISITS} visits, {ROUNDS} rounds, microseconds an engine:");
    println!("due list {:8.1}", micros(lines));
    println!("bare sums {:7.1}", micros(floor));
    println!("folding {:9.1}", micros(fold));
    println!("due list / bare sums {:.1}", lines.as_secs_f64() / floor.as_secs_f64());
}
