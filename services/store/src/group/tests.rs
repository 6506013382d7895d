//! Several writes in one commit: what each keeps, and who is told what.

use super::{Group, Ready};
use crate::dialect::{self, Access, AnyConn};
use crate::error::StoreError;
use crate::pool::Pool;
use crate::url;
use diesel::connection::SimpleConnection;
use diesel::prelude::*;
use gudgeon_databases::Database;
use std::sync::{Arc, Mutex, mpsc};
use std::thread;
use std::time::Duration;

diesel::table! {
    fleet (id) {
        id -> BigInt,
        name -> Text,
    }
}

/// What one writer does.
type Work<'a> = dyn Fn(&mut AnyConn) -> Result<(), StoreError> + Sync + 'a;

/// The turns on a new file, and somebody who reads it meanwhile.
struct Bench {
    group: Group,
    readers: Arc<Pool>,
    _database: Database,
}

impl Bench {
    fn new(members_max: usize) -> Self {
        let database = Database::sqlite(crate::tests::migrate);
        let place = url::parse(database.url()).expect("a URL");
        let pool = |readers_only| Arc::new(Pool::new(place.clone(), readers_only, 1));
        let group = Group::new(pool(false), members_max);
        Self { group, readers: pool(true), _database: database }
    }

    /// The numbers that were committed, beside the one that is always there.
    fn committed(&self) -> Vec<i64> {
        let load = |conn: &mut AnyConn| {
            let ids = fleet::table.filter(fleet::id.gt(1)).order(fleet::id).select(fleet::id);
            Ok(ids.load(conn)?)
        };
        self.readers.run(Access::Read, load).expect("readable")
    }

    /// Runs each of `works` on a thread of its own, so that they share the transaction that the first of them
    /// begins; gives whether each was answered well.
    fn together(&self, works: &[&Work<'_>]) -> Vec<bool> {
        let (first, others) = works.split_first().expect("there is work");
        thread::scope(|scope| {
            let (began, has_begun) = mpsc::channel();
            let first = scope.spawn(move || {
                self.group.run(|conn| {
                    began.send(()).expect("somebody listens");
                    while self.group.queue().waiting.len() < others.len() {
                        thread::sleep(Duration::from_millis(1));
                    }
                    first(conn)
                })
            });
            has_begun.recv().expect("it begins");
            let others: Vec<_> =
                others.iter().map(|work| scope.spawn(|| self.group.run(*work))).collect();
            let all = [first].into_iter().chain(others);
            all.map(|thread| matches!(thread.join(), Ok(Ok(())))).collect()
        })
    }
}

/// A write of one number.
fn write(id: i64) -> impl Fn(&mut AnyConn) -> Result<(), StoreError> + Sync {
    move |conn| {
        diesel::insert_into(fleet::table)
            .values((fleet::id.eq(id), fleet::name.eq("another")))
            .execute(conn)?;
        Ok(())
    }
}

#[test]
fn nobody_is_answered_before_the_one_commit() {
    let bench = Bench::new(10);
    let seen = |conn: &mut AnyConn| {
        write(3)(conn)?;
        // Whichever comes second or third, the first has written by now and waits.
        assert_eq!(bench.committed(), Vec::<i64>::new());
        Ok(())
    };
    let also = |conn: &mut AnyConn| {
        write(4)(conn)?;
        assert_eq!(bench.committed(), Vec::<i64>::new());
        Ok(())
    };
    assert_eq!(bench.together(&[&write(2), &seen, &also]), [true, true, true]);
    assert_eq!(bench.committed(), [2, 3, 4]);
}

#[test]
fn one_that_fails_or_panics_takes_no_other_with_it() {
    let bench = Bench::new(10);
    let fails = |conn: &mut AnyConn| {
        write(3)(conn)?;
        // The number is taken.
        write(1)(conn)
    };
    let panics = |conn: &mut AnyConn| {
        write(4)(conn)?;
        panic!("on purpose, in the middle of a write")
    };
    let answered = bench.together(&[&write(2), &fails, &panics, &write(5)]);
    assert_eq!(answered, [true, false, false, true]);
    assert_eq!(bench.committed(), [2, 5]);
    // The first to fail may be the first of all, too.
    assert_eq!(bench.together(&[&panics, &write(6)]), [false, true]);
    assert_eq!(bench.committed(), [2, 5, 6]);
}

#[test]
fn when_the_database_takes_everything_back_all_of_them_fail() {
    let bench = Bench::new(10);
    // As SQLite does by itself when the disk is full: https://www.sqlite.org/lang_transaction.html, section
    // "Response To Errors Within A Transaction".
    let is_lost = |conn: &mut AnyConn| {
        conn.batch_execute("ROLLBACK").map_err(StoreError::from)?;
        Err(StoreError::Unavailable("database or disk is full".to_owned()))
    };
    assert_eq!(bench.together(&[&write(2), &is_lost]), [false, false]);
    assert_eq!(bench.committed(), Vec::<i64>::new());
    assert_eq!(bench.together(&[&write(3)]), [true], "the next one is well again");
    assert_eq!(bench.committed(), [3]);
}

#[test]
fn only_so_many_share_a_commit() {
    let bench = Bench::new(2);
    // The second and the third are told apart by what they find committed.
    let second_or_third = |conn: &mut AnyConn| match bench.committed().len() {
        0 => write(3)(conn),
        committed => {
            assert_eq!(committed, 2);
            write(4)(conn)
        }
    };
    assert_eq!(bench.together(&[&write(2), &second_or_third, &second_or_third]), [true; 3]);
    assert_eq!(bench.committed(), [2, 3, 4]);
}

/// Runs each of `works`, which were made ready, in the transaction that another writer begins; gives whether each was
/// kept, or the word that its failure begins with.
fn ready_together(bench: &Bench, works: Vec<Ready>) -> Vec<Result<bool, String>> {
    thread::scope(|scope| {
        let (began, has_begun) = mpsc::channel();
        let count = works.len();
        scope.spawn(move || {
            let first = bench.group.run(|conn| {
                began.send(()).expect("somebody listens");
                while bench.group.queue().waiting.len() < count {
                    thread::sleep(Duration::from_millis(1));
                }
                write(2)(conn)
            });
            first.expect("it is kept, whatever the others do");
        });
        has_begun.recv().expect("it begins");
        let works: Vec<_> =
            works.into_iter().map(|work| scope.spawn(|| bench.group.run_ready(work))).collect();
        let said = |error: StoreError| error.to_string();
        works
            .into_iter()
            .map(|it| it.join().expect("no panic of another's").map_err(said))
            .collect()
    })
}

/// A write of one number that gives whether it is to be kept.
fn ready(id: i64, kept: bool) -> Ready {
    Arc::new(move |conn| write(id)(conn).map(|()| kept))
}

#[test]
fn what_is_made_ready_is_kept_with_the_others_or_not_at_all() {
    let bench = Bench::new(10);
    let fails: Ready = Arc::new(|conn| {
        write(5)(conn)?;
        // The number is taken.
        write(1)(conn).map(|()| true)
    });
    let panics: Ready = Arc::new(|conn| {
        write(6)(conn)?;
        panic!("on purpose, in the middle of another's write")
    });
    let answered = ready_together(
        &bench,
        vec![ready(3, true), ready(4, false), fails, panics, ready(7, true)],
    );
    let kept: Vec<Option<bool>> = answered.iter().map(|it| it.as_ref().ok().copied()).collect();
    assert_eq!(kept, [Some(true), Some(false), None, None, Some(true)], "{answered:?}");
    assert_eq!(bench.committed(), [2, 3, 7]);
}

#[test]
fn what_is_made_ready_needs_nobody_to_begin() {
    let bench = Bench::new(10);
    assert!(matches!(bench.group.run_ready(ready(2, true)), Ok(true)));
    assert!(matches!(bench.group.run_ready(ready(3, false)), Ok(false)));
    assert!(matches!(bench.group.run_ready(ready(4, true)), Ok(true)));
    assert_eq!(bench.committed(), [2, 4]);
}

#[test]
fn what_is_made_ready_fails_when_the_database_takes_everything_back() {
    let bench = Bench::new(2);
    let is_lost: Ready = Arc::new(|conn| {
        write(3)(conn)?;
        conn.batch_execute("ROLLBACK").map_err(StoreError::from)?;
        Err(StoreError::Unavailable("database or disk is full".to_owned()))
    });
    assert!(bench.group.run_ready(is_lost).is_err());
    assert_eq!(bench.committed(), Vec::<i64>::new());
    let many = (3..20).map(|id| ready(id, true)).collect();
    assert!(ready_together(&bench, many).iter().all(|it| *it == Ok(true)), "two a commit");
    assert_eq!(bench.committed().len(), 18);
}

/// Runs each of `works`, which were made ready, in the order that they are in, and in one transaction; gives whether
/// each was kept, and `None` for a failure.
fn all_ready_in_order(bench: &Bench, works: Vec<Ready>) -> Vec<Option<bool>> {
    let others = works.len() - 1;
    let waits = |count: usize| {
        while bench.group.queue().waiting.len() < count {
            thread::sleep(Duration::from_millis(1));
        }
    };
    thread::scope(|scope| {
        let (began, has_begun) = mpsc::channel();
        let (all_wait, go_on) = mpsc::channel::<()>();
        let hold = Mutex::new(Some((began, go_on)));
        let mut threads = Vec::new();
        for (place, work) in works.into_iter().enumerate() {
            let work: Ready = match place {
                0 => Arc::new({
                    let hold = Mutex::new(hold.lock().expect("whole").take());
                    move |conn| {
                        if let Some((began, go_on)) = hold.lock().expect("whole").take() {
                            began.send(()).expect("somebody listens");
                            go_on.recv().expect("the others wait");
                        }
                        work(conn)
                    }
                }),
                _ => work,
            };
            threads.push(scope.spawn(|| bench.group.run_ready(work)));
            if place == 0 {
                has_begun.recv().expect("it begins");
            }
            waits(place);
        }
        waits(others);
        all_wait.send(()).expect("the first listens");
        threads.into_iter().map(|it| it.join().expect("no panic of another's").ok()).collect()
    })
}

#[test]
fn what_others_wrote_before_one_that_cannot_be_kept_is_written_again() {
    let bench = Bench::new(10);
    let runs = Arc::new(Mutex::new(Vec::new()));
    let counted = |id: i64, kept: bool| -> Ready {
        let runs = Arc::clone(&runs);
        Arc::new(move |conn| {
            runs.lock().expect("whole").push(id);
            write(id)(conn).map(|()| kept)
        })
    };
    let panics: Ready = Arc::new(|conn| {
        write(5)(conn)?;
        panic!("on purpose, in the middle of another's write")
    });
    let works =
        vec![counted(2, true), counted(3, true), counted(4, false), panics, counted(6, true)];
    let answered = all_ready_in_order(&bench, works);
    assert_eq!(answered, [Some(true), Some(true), Some(false), None, Some(true)]);
    assert_eq!(bench.committed(), [2, 3, 6]);
    assert_eq!(*runs.lock().expect("whole"), [2, 3, 4, 2, 3, 4, 6]);
}

#[test]
fn one_that_cannot_be_kept_may_be_the_first() {
    let bench = Bench::new(10);
    let works = vec![ready(2, false), ready(3, true)];
    assert_eq!(all_ready_in_order(&bench, works), [Some(false), Some(true)]);
    assert_eq!(bench.committed(), [3]);
}

#[test]
fn one_that_panics_in_a_part_of_its_own_takes_no_other_with_it() {
    let bench = Bench::new(10);
    let panics: Ready = Arc::new(|conn| {
        dialect::begin_part(conn)?;
        write(3)(conn)?;
        panic!("on purpose, in a part of another's write")
    });
    let works = vec![ready(2, true), panics, ready(4, true)];
    assert_eq!(all_ready_in_order(&bench, works), [Some(true), None, Some(true)]);
    assert_eq!(bench.committed(), [2, 4]);
}
