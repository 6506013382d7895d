//! What is foreseen of a post is written only while it is true; otherwise the post is worked out in its turn.

use super::batches::{SECOND, TwoVersions, bench};
use super::parts::plans_of;
use super::sample::{
    Bench, activated, aircraft, belt, engine, fitted, inspected, installed, migrate,
    numbered_engine, owned, post, read, story,
};
use super::together::{Rows, facts, rows, shuffled};
use crate::Post;
use crate::append::{self, Ready};
use crate::custody;
use crate::foresight::{Foreseen, Foresight, foresee};
use crate::locks::Locks;
use gudgeon_databases::Database;
use gudgeon_life::fact::{Fact, Host};

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
fn foreseen(bench: &Bench, post: &Post) -> Option<Foresight> {
    let ready = Ready::of(post).expect("a post that can be kept");
    match bench.store.read(|conn| foresee(conn, post, &ready, &TwoVersions)).expect("readable") {
        Foreseen::New(foresight) => foresight,
        Foreseen::Kept(kept) => panic!("it is new, and not {kept:?}"),
    }
}

/// Looks at a post, keeps other facts before its turn comes, and then keeps it by what was foreseen.
fn overtaken_by(others: Vec<Fact>) -> Rows {
    let (bench, post) = (told(), inspection());
    let mut foresight = foreseen(&bench, &post);
    assert!(foresight.is_some(), "an inspection can be foreseen");
    append_all(&bench, others);
    let ready = Ready::of(&post).expect("a post that can be kept");
    let mut locks = Locks::default();
    let kept = bench.store.write(|conn| {
        append::append(conn, &post, &ready, &TwoVersions, foresight.take(), &mut locks)
    });
    kept.expect("stored");
    rows(&bench.store)
}

/// The same facts in the order in which they were kept.
fn in_order(others: Vec<Fact>) -> Rows {
    let bench = told();
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
        assert_eq!(overtaken_by(others.clone()), in_order(others), "{case}");
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
        assert!(foreseen(&bench, &post(fact)).is_none());
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

#[test]
fn eight_writers_of_one_service_end_where_one_does() {
    let alone = Bench::with_type();
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
