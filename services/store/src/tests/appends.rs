//! Appending facts: once, twice, in any order, by two at once.

use super::sample::{
    Bench, DIGEST, NOW, Programme, activated, aircraft, amended, day, engine, hours, inspected,
    owner, party, post, read, registered, story, uid,
};
use crate::{Appended, EngineRow, Post, Store, StoreError, Texts};
use gudgeon_life::fact::{Host, Stream};
use gudgeon_life::ids::FactId;
use gudgeon_life::line::DueLine;
use gudgeon_life::status::Status;

fn kinds(appended: &Appended) -> &'static str {
    match appended {
        Appended::Created(_) => "created",
        Appended::Same(_) => "same",
        Appended::Differs(_) => "differs",
    }
}

fn state(store: &Store) -> (EngineRow, Vec<DueLine>) {
    let row = store.engine(engine(1)).expect("readable").expect("the engine is there");
    let lines = store.due_lines(&[row.key]).expect("readable");
    (EngineRow { key: 0, ..row }, lines.into_iter().map(|(_, line)| line).collect())
}

// By hand: 1000.0 + (532.5 - 500.0) = 1032.5 h at the inspection; next at + 100 h = 1132.5 h, or 12 months
// after 2026-02-01 = 2027-02-01. At the reading 1000.0 + (540.0 - 500.0) = 1040.0 h. The day to plan by: the method
// of the forecast, worked out a second time in Python; coming due from 30 days before.
#[test]
fn works_out_what_is_due() {
    let bench = Bench::with_type();
    for fact in story() {
        assert_eq!(kinds(&bench.append(fact)), "created");
    }
    let (row, lines) = state(&bench.store);
    assert_eq!(row.tsn, Some(hours("1040")));
    assert_eq!(row.meter, Some(hours("540")));
    assert_eq!(row.hours_on, Some(day("2026-03-01")));
    assert_eq!(row.aircraft, Some(aircraft(50)));
    assert_eq!(row.mark.as_deref(), Some("X-ABCD"));
    assert_eq!(row.owner, Some(party(70)));
    assert_eq!(row.conflicts, Vec::<String>::new());
    assert_eq!(lines.len(), 1);
    let line = lines.first().expect("one line");
    assert_eq!(line.due_hours(), Some(hours("1132.5")));
    assert_eq!(line.due_on(), Some(day("2027-02-01")));
    assert_eq!(line.last.map(|last| last.fact), Some(FactId(uid(5))));
    assert_eq!(line.plan_by, Some(day("2026-05-20")));
    assert_eq!(line.status(day("2026-04-19")), Status::NotDue);
    assert_eq!(line.status(day("2026-04-20")), Status::ComingDue);
    let on = |as_of: &str| {
        let counts = bench.store.fleet_counts(day(as_of), None).expect("an answer");
        counts.first().map(|(status, _)| *status)
    };
    assert_eq!(on("2026-04-19"), Some(Status::NotDue));
    assert_eq!(on("2026-04-20"), Some(Status::ComingDue));
    assert_eq!(line.status(day("2027-02-02")), Status::Overdue);
}

#[test]
fn any_order_of_the_same_facts_gives_the_same_state() {
    let bench = Bench::with_type();
    for fact in story() {
        bench.append(fact);
    }
    let expected = state(&bench.store);
    // Every rotation of the facts, forwards and backwards, with one of them posted twice.
    for turn in 0..story().len() {
        for backwards in [false, true] {
            let bench = Bench::with_type();
            let mut facts = story();
            facts.rotate_left(turn);
            if backwards {
                facts.reverse();
            }
            facts.extend(facts.first().cloned());
            for fact in facts {
                bench.append(fact);
            }
            assert_eq!(state(&bench.store), expected, "turned by {turn}, backwards {backwards}");
        }
    }
}

#[test]
fn the_same_post_again_writes_nothing() {
    let bench = Bench::with_type();
    let as_posted = |text: &str| Texts {
        as_posted: [("/meter".to_owned(), text.to_owned())].into(),
        ..Texts::default()
    };
    let fact = read(1, "2026-03-01", Host::Aircraft(aircraft(50)), "1043.2");
    let first = Post { texts: as_posted("1043.2"), ..post(fact) };
    let again = read(1, "2026-03-01", Host::Aircraft(aircraft(50)), "1043:12");
    let again = Post { texts: as_posted("1043:12"), ..post(again) };
    let other = post(read(1, "2026-03-01", Host::Aircraft(aircraft(50)), "1043.3"));
    let append = |post: &Post| bench.store.append(post, &Programme).expect("an answer");
    assert_eq!(kinds(&append(&first)), "created");
    assert_eq!(kinds(&append(&again)), "same");
    assert_eq!(kinds(&append(&other)), "differs");
    let kept = bench.store.facts_of(Stream::aircraft(aircraft(50))).expect("readable");
    assert_eq!(kept.len(), 1);
    let kept = kept.first().expect("one fact");
    assert_eq!(kept.fact, first.fact);
    assert_eq!(kept.texts, first.texts);
}

#[test]
fn another_note_is_another_content() {
    let bench = Bench::new();
    let named = |name: &str| Texts {
        private: [("/name".to_owned(), name.to_owned())].into(),
        ..Texts::default()
    };
    let append = |texts: Texts| {
        let post = Post { texts, ..post(owner(1, 70)) };
        bench.store.append(&post, &Programme).expect("an answer")
    };
    assert_eq!(kinds(&append(named("A. Invented"))), "created");
    assert_eq!(kinds(&append(named("A. Invented"))), "same");
    assert_eq!(kinds(&append(named("B. Invented"))), "differs");
    assert_eq!(kinds(&append(Texts::default())), "differs");
    let row = bench.store.party(party(70)).expect("readable").expect("the party is there");
    assert_eq!((row.name.as_str(), row.email), ("A. Invented", None));
}

#[test]
fn of_two_at_once_one_creates() {
    let bench = Bench::with_type();
    let answers: Vec<&str> = std::thread::scope(|scope| {
        let threads: Vec<_> = (0..2)
            .map(|_| {
                let store = bench.store.clone();
                scope.spawn(move || {
                    let post = post(registered(1, "2026-01-01", 1, "1000"));
                    kinds(&store.append(&post, &Programme).expect("an answer"))
                })
            })
            .collect();
        threads.into_iter().map(|thread| thread.join().expect("no panic")).collect()
    });
    assert!(answers.contains(&"created") && answers.contains(&"same"), "{answers:?}");
}

#[test]
fn without_a_programme_an_engine_is_unknown() {
    let bench = Bench::new();
    bench.append(registered(1, "2026-01-01", 1, "1000"));
    let counts = |bench: &Bench| bench.store.fleet_counts(day("2026-01-02"), None);
    assert_eq!(counts(&bench).expect("readable"), [(Status::Unknown, 1)]);
    let (row, lines) = state(&bench.store);
    assert_eq!((row.type_digest, lines.len()), (None, 0));
    // Once a version is active, its engines are worked out. Never inspected since 2020: overdue.
    bench.activate("sample", DIGEST, &Programme);
    assert_eq!(bench.store.recount_some(5, &Programme).expect("the database works"), 1);
    assert_eq!(counts(&bench).expect("readable"), [(Status::Overdue, 1)]);
    assert_eq!(bench.store.recount_some(5, &Programme).expect("nothing to do"), 0);
}

#[test]
fn an_amendment_may_come_before_what_it_amends() {
    let bench = Bench::with_type();
    let right = inspected(5, "2026-02-11", 1, "532.5");
    let amended = amended(9, 5, Stream::engine(engine(1)), Some(right));
    assert_eq!(kinds(&bench.append(amended.clone())), "created");
    for fact in story() {
        bench.append(fact);
    }
    let kept = bench.store.fact(FactId(uid(9))).expect("readable").expect("it is kept");
    assert_eq!(kept.fact, amended);
    // 12 months after the corrected day of release.
    let (_, lines) = state(&bench.store);
    assert_eq!(lines.first().and_then(DueLine::due_on), Some(day("2027-02-11")));
}

#[test]
fn a_day_beyond_the_calendar_is_refused() {
    let bench = Bench::new();
    let mut fact = registered(1, "2026-01-01", 1, "1000");
    fact.entry.on = chrono::NaiveDate::MAX;
    let refused = bench.store.append(&post(fact), &Programme);
    assert!(matches!(refused, Err(StoreError::Refused(_))), "{refused:?}");
}

// All history counts by the activation that stands last by day, in whatever order activations and files came.
#[test]
fn the_last_activation_by_day_holds_whatever_came_first() {
    let bench = Bench::new();
    let digest = |n: u8| [n; 32];
    let active = |bench: &Bench| {
        let row = bench.store.engine_type(super::sample::TYPE).expect("readable");
        row.map(|row| (row.digest[0], row.active_from, row.replaces.map(|it| it[0])))
    };
    bench.append(activated(20, "2026-03-01", digest(2)));
    assert_eq!(active(&bench), None, "its file is not here yet");
    for n in [1, 2] {
        let name = super::sample::TYPE;
        let added = bench.store.add_engine_type(name, "sample", digest(n), NOW, &Programme);
        assert!(added.expect("the version is stored"));
    }
    assert_eq!(active(&bench), Some((2, Some(day("2026-03-01")), None)));
    bench.append(activated(21, "2026-01-01", digest(1)));
    assert_eq!(active(&bench), Some((2, Some(day("2026-03-01")), Some(1))));
    bench.append(activated(22, "2026-04-01", digest(1)));
    assert_eq!(active(&bench), Some((1, Some(day("2026-04-01")), Some(2))));
}
