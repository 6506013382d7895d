//! What is foreseen of a post is written only while it is true; otherwise the post is worked out in its turn.

use super::batches::{SECOND, TwoVersions, bench};
use super::parts::plans_of;
use super::sample::{
    Bench, activated, aircraft, belt, engine, fitted, inspected, installed, migrate,
    numbered_engine, owned, post, read, story,
};
use super::together::{Rows, facts, rows, shuffled};
use crate::append::Ready;
use crate::custody;
use crate::foresight::{Foreseen, Foresight, foresee};
use crate::{Appended, Post, Store};
use diesel::connection::{Connection, InstrumentationEvent};
use gudgeon_databases::Database;
use gudgeon_life::fact::{Fact, Host};
use std::sync::{Arc, Mutex};

/// The sample's story, with two versions of its type to choose from.
fn told() -> Bench {
    let bench = bench();
    append_all(&bench, story());
    bench
}

fn append_all(bench: &Bench, facts: impl IntoIterator<Item = Fact>) {
    for fact in facts {
        bench.store.append(&post(fact), &TwoVersions).expect("stored");
    }
}

/// An inspection that nothing has been said about yet.
fn inspection() -> Post {
    post(inspected(90, "2026-04-01", 1, "590"))
}

/// What is foreseen of a post, if anything can be.
fn foreseen(store: &Store, post: &Post) -> Option<Box<Foresight>> {
    let ready = Ready::of(post).expect("a post that can be kept");
    match store.foresee(post, &ready, &TwoVersions).expect("readable") {
        Foreseen::New(foresight) => foresight,
        Foreseen::Kept(kept) => panic!("it is new, and not {kept:?}"),
    }
}

/// From what a post is foreseen.
#[derive(Clone, Copy, Debug)]
enum Seen {
    /// From what is committed when it arrives.
    Read,
    /// From what is remembered of the post before.
    Remembered,
    /// The same, when others have written since who do not share the memory.
    Stale,
}

/// Looks at a post, keeps other facts before its turn comes, and then keeps it by what was foreseen.
fn overtaken_by(others: Vec<Fact>, seen: Seen) -> Rows {
    let (bench, post) = (told(), inspection());
    append_all(&bench, before());
    let open = || Store::open(bench.database.url(), false).expect("it opens once more");
    let append_others = || {
        let other = open();
        for fact in others {
            other.append(&self::post(fact), &TwoVersions).expect("stored");
        }
    };
    let (store, foresight) = match seen {
        Seen::Read => {
            let store = open();
            let foresight = foreseen(&store, &post);
            append_others();
            (store, foresight)
        }
        Seen::Remembered => {
            let foresight = foreseen(&bench.store, &post);
            append_others();
            (bench.store.clone(), foresight)
        }
        Seen::Stale => {
            append_others();
            (bench.store.clone(), foreseen(&bench.store, &post))
        }
    };
    assert!(foresight.is_some(), "an inspection can be foreseen, {seen:?}");
    let ready = Ready::of(&post).expect("a post that can be kept");
    store.append_new(&post, &ready, &TwoVersions, foresight).expect("stored");
    rows(&bench.store)
}

/// The inspections before that one: the first finds what is remembered too old, the second is remembered.
fn before() -> [Fact; 2] {
    [inspected(88, "2026-03-10", 1, "560"), inspected(89, "2026-03-20", 1, "570")]
}

/// The same facts in the order in which they were kept.
fn in_order(others: Vec<Fact>) -> Rows {
    let bench = told();
    append_all(&bench, before());
    append_all(&bench, others);
    append_all(&bench, [inspection().fact]);
    rows(&bench.store)
}

#[test]
fn whatever_overtakes_a_post_is_counted_with_it() {
    let on_aircraft = Host::Aircraft(aircraft(50));
    let cases: [(&str, Vec<Fact>); 8] = [
        ("nothing", Vec::new()),
        ("a reading of its aircraft", vec![read(91, "2026-04-10", on_aircraft, "600")]),
        ("another inspection", vec![inspected(91, "2026-04-02", 1, "595")]),
        ("an owner", vec![owned(91, "2026-02-01", Host::Engine(engine(1)), 70)]),
        ("a belt", vec![belt(91, "2026-01-01", 61), fitted(92, "2026-02-01", 61, on_aircraft)]),
        ("another engine in its aircraft", vec![installed(91, "2026-05-01", 2, 50, "700")]),
        ("an engine of its number", vec![numbered_engine(91, "2026-01-01", 3, "F-1")]),
        ("another version of its type", vec![activated(251, "2026-02-01", SECOND)]),
    ];
    for (case, others) in cases {
        let expected = in_order(others.clone());
        for seen in [Seen::Read, Seen::Remembered, Seen::Stale] {
            assert_eq!(overtaken_by(others.clone(), seen), expected, "{case}, {seen:?}");
        }
    }
}

#[test]
fn what_ties_streams_together_is_not_foreseen() {
    let bench = told();
    for fact in [
        installed(91, "2026-05-01", 1, 51, "700"),
        numbered_engine(92, "2026-05-01", 9, "F-1"),
        read(93, "2026-04-10", Host::Aircraft(aircraft(50)), "600"),
    ] {
        assert!(foreseen(&bench.store, &post(fact)).is_none());
    }
}

// Without figures about its tables SQLite takes the fleet alone for a narrow choice, and each post would go through
// the custody and the serial numbers of all engines. A server gathers such figures itself.
#[test]
fn no_statement_before_a_turn_goes_through_the_whole_fleet() {
    let bench = Bench::of(Database::sqlite(migrate)).with_the_type();
    append_all(&bench, story());
    let post = inspection();
    let ready = Ready::of(&post).expect("a post that can be kept");
    let key = bench.store.engine(engine(1)).expect("readable").expect("there").key;
    let plans = plans_of(&bench, |conn| {
        foresee(conn, &post, &ready, &TwoVersions)?;
        custody::custodian(conn, key)?;
        Ok(())
    });
    assert!(plans.len() > 10, "{plans:#?}");
    for plan in plans {
        assert!(!plan.contains("(fleet_id=?)") && !plan.contains("SCAN"), "{plan}");
    }
}

// Whoever reads in a turn, or has statements compiled that were before, lets all others wait for it.
#[test]
fn the_turn_of_what_was_foreseen_reads_nothing_and_keeps_its_statements_compiled() {
    let bench = told();
    append_all(&bench, before());
    // Nothing is compiled on its connections yet.
    let store = Store::open(bench.database.url(), false).expect("it opens once more");
    let foresight = foreseen(&store, &inspection()).expect("an inspection can be foreseen");
    let said: Arc<Mutex<Vec<String>>> = Arc::default();
    let compiled: Arc<Mutex<Vec<String>>> = Arc::default();
    let written = store.write(|conn| {
        let (said, compiled) = (Arc::clone(&said), Arc::clone(&compiled));
        conn.set_instrumentation(move |event: InstrumentationEvent<'_>| match event {
            InstrumentationEvent::StartQuery { query, .. } => {
                said.lock().expect("one thread").push(query.to_string());
            }
            InstrumentationEvent::CacheQuery { sql, .. } => {
                compiled.lock().expect("one thread").push(sql.to_owned());
            }
            _ => {}
        });
        let written = foresight.write(conn);
        conn.set_instrumentation(|_: InstrumentationEvent<'_>| {});
        written
    });
    assert!(written.expect("the database is there"), "nothing came between");
    let (said, compiled) = (said.lock().expect("one thread"), compiled.lock().expect("one thread"));
    assert!(said.iter().any(|it| it.starts_with("INSERT INTO")), "{said:#?}");
    assert!(!said.iter().any(|it| it.starts_with("SELECT")), "{said:#?}");
    // What was said is followed by the values.
    let kept = |said: &&String| compiled.iter().any(|sql| said.starts_with(sql.as_str()));
    // A server gets several rows in one statement, which is another for each number of them.
    let of_rows = ["INSERT INTO \"engine_span\"", "INSERT INTO \"due_line\""];
    let several = |said: &&String| of_rows.iter().any(|begins| said.starts_with(begins));
    let anew: Vec<&String> = said.iter().filter(|it| !kept(it) && !several(it)).collect();
    assert!(anew.is_empty(), "{anew:#?} beside {compiled:#?}");
}

#[test]
fn what_is_written_is_remembered_as_far_as_there_is_room() {
    let bench = told();
    append_all(&bench, before());
    let known = bench.store.remembered().take(engine(1)).expect("its own engine is known");
    assert_eq!(known.len(), 1);
    assert!(bench.store.remembered().take(engine(1)).is_none(), "it was taken out");
    let forgetful = bench.store.clone().with_remembered_mebibytes_max(0);
    forgetful.append(&inspection(), &TwoVersions).expect("stored");
    assert!(forgetful.remembered().take(engine(1)).is_none(), "there is no room");
}

#[test]
fn a_post_that_is_remembered_is_known_again() {
    let bench = told();
    append_all(&bench, before());
    let again = bench.store.append(&post(before()[1].clone()), &TwoVersions).expect("an answer");
    assert!(matches!(again, Appended::Same(_)), "{again:?}");
    let other = post(Fact { id: before()[1].id, ..inspection().fact });
    let differs = bench.store.append(&other, &TwoVersions).expect("an answer");
    assert!(matches!(differs, Appended::Differs(_)), "{differs:?}");
    // The same id under another engine's stream, which is remembered as well.
    let numbered = numbered_engine(91, "2026-01-01", 3, "F-3");
    append_all(&bench, [numbered, inspected(92, "2026-03-20", 3, "10")]);
    let elsewhere = post(Fact { id: before()[1].id, ..inspected(93, "2026-03-21", 3, "11") });
    let differs = bench.store.append(&elsewhere, &TwoVersions).expect("an answer");
    assert!(matches!(differs, Appended::Differs(_)), "{differs:?}");
}

#[test]
fn eight_writers_of_one_service_end_where_one_does() {
    // This one remembers nothing.
    let mut alone = Bench::with_type();
    alone.store = alone.store.clone().with_remembered_mebibytes_max(0);
    for fact in facts() {
        alone.append(fact);
    }
    let together = Bench::with_type();
    std::thread::scope(|scope| {
        for seed in 0..8 {
            let together = &together;
            scope.spawn(move || {
                for fact in shuffled(seed) {
                    together.append(fact);
                }
            });
        }
    });
    assert_eq!(rows(&together.store), rows(&alone.store));
}
