//! Writers of `SQLite` that share a commit, so that they share the wait for the disk too.
//!
//! There is one transaction at a time. Whoever writes takes its turn in it. When others wait by then, it writes for
//! those who made their work ready before, hands the transaction on to the first who did not, and waits for its end;
//! the last of them commits for all. While it does, the next gather. Nobody is answered before what it wrote is on the
//! disk: all are when the commit succeeds, and all fail alike when it fails.
//!
//! Work that was made ready can be done again, and seldom has to be: it is written straight into the transaction. When
//! one of them cannot be kept, all is taken back and written again, each in a savepoint of its own. Others write in
//! savepoints from the start, which cost a fifth of a write, for `SQLite` sets every page aside that one changes.

use crate::dialect::{self, Access, AnyConn};
use crate::error::StoreError;
use crate::pool::{Lease, Pool, WAIT_MAX};
use diesel::result::Error;
use std::collections::VecDeque;
use std::mem;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::mpsc::{self, RecvTimeoutError, Sender};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// Work that another thread can do, and do again; false when it came otherwise, and nothing of it is to be kept.
pub(crate) type Ready = Arc<dyn Fn(&mut AnyConn) -> Result<bool, StoreError> + Send + Sync>;

/// The turns of those who write to one file.
pub(crate) struct Group {
    pool: Arc<Pool>,
    /// How many writers share a commit at most, so that the first of them does not wait for ever.
    members_max: usize,
    queue: Mutex<Queue>,
}

#[derive(Default)]
struct Queue {
    /// Those who wait for their turn, in the order in which they came.
    waiting: VecDeque<Waiting>,
    /// How many ever waited.
    came: u64,
    /// Whether it is somebody's turn.
    taken: bool,
}

/// Somebody who waits.
struct Waiting {
    number: u64,
    /// What it wants to have done, if others can do it.
    ready: Option<Ready>,
    told: Sender<Told>,
}

/// What somebody who waits is told.
enum Told {
    /// That it is its turn, in the transaction that is handed on if there is one.
    Turn(Option<Box<Open>>),
    /// What became of its work: that it could not be kept, or failed.
    Undone(Result<(), StoreError>),
    /// How the transaction ended that its work is in.
    Ended(Ended),
}

/// One writer's turn. When it ends, however that came about, the transaction is handed on or ended.
struct Turn<'a> {
    group: &'a Group,
    open: Option<Box<Open>>,
}

/// A transaction that several share.
struct Open {
    lease: Lease,
    conn: AnyConn,
    /// What the database said, once nothing of this can be kept.
    lost: Option<String>,
    /// Whether each of the members wrote in a savepoint, so that what comes next can be taken back for itself.
    apart: bool,
    /// Those who wrote, and wait for the end.
    members: Vec<Member>,
}

/// A transaction that has ended.
struct Over {
    ended: Ended,
    members: Vec<Member>,
}

/// Somebody who wrote.
struct Member {
    told: Sender<Told>,
    /// What it wrote, where that can be done again.
    ready: Option<Ready>,
}

/// Whether a transaction was kept, or what the database said instead.
type Ended = Result<(), String>;

impl Group {
    /// Turns on the one connection of a pool.
    pub(crate) fn new(pool: Arc<Pool>, members_max: usize) -> Self {
        Self { pool, members_max, queue: Mutex::default() }
    }

    /// Runs `work` as if in a transaction of its own: all of it is kept, or none.
    pub(crate) fn run<T>(
        &self,
        work: impl FnOnce(&mut AnyConn) -> Result<T, StoreError>,
    ) -> Result<T, StoreError> {
        let Next::Turn(mut turn) = self.wait(None)? else { return Err(given_up()) };
        let (told, tells) = mpsc::channel();
        let value = turn.transaction()?.write(told, work)?;
        turn.go_on();
        if done(tells.recv().ok())? { Ok(value) } else { Err(given_up()) }
    }

    /// The same for work that another thread can do; false when nothing of it was kept as it came otherwise.
    pub(crate) fn run_ready(&self, work: Ready) -> Result<bool, StoreError> {
        let mut turn = match self.wait(Some(&work))? {
            Next::Turn(turn) => turn,
            Next::Done(kept) => return Ok(kept),
        };
        let (told, tells) = mpsc::channel();
        turn.transaction()?.write_ready(told, work);
        turn.go_on();
        done(tells.recv().ok())
    }

    /// Waits for the turn, or for others to do the work.
    fn wait(&self, ready: Option<&Ready>) -> Result<Next<'_>, StoreError> {
        let (told, tells) = mpsc::channel();
        let number = {
            let mut queue = self.queue();
            if !queue.taken {
                queue.taken = true;
                return Ok(Next::Turn(Turn { group: self, open: None }));
            }
            queue.came += 1;
            let number = queue.came;
            queue.waiting.push_back(Waiting { number, ready: ready.cloned(), told });
            number
        };
        let first = match tells.recv_timeout(WAIT_MAX) {
            Err(RecvTimeoutError::Timeout) if self.queue().leave(number) => {
                let seconds = WAIT_MAX.as_secs();
                return Err(StoreError::Unavailable(format!(
                    "others were writing for {seconds} seconds"
                )));
            }
            // Somebody has begun with it just now.
            Err(RecvTimeoutError::Timeout) => tells.recv().ok(),
            told => told.ok(),
        };
        match first {
            Some(Told::Turn(open)) => Ok(Next::Turn(Turn { group: self, open })),
            told => done(told).map(Next::Done),
        }
    }

    /// A panic while the lock is held leaves nothing half-done: no work is done under it.
    fn queue(&self) -> MutexGuard<'_, Queue> {
        self.queue.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Queue {
    /// Takes somebody out who waits; false when it does not any more.
    fn leave(&mut self, number: u64) -> bool {
        let before = self.waiting.len();
        self.waiting.retain(|it| it.number != number);
        self.waiting.len() < before
    }
}

/// How waiting ended.
enum Next<'a> {
    /// It is one's turn.
    Turn(Turn<'a>),
    /// Others did the work, and whether it is kept.
    Done(bool),
}

fn given_up() -> StoreError {
    StoreError::Unavailable("a write was given up half-way".to_owned())
}

/// Whether work is kept, by what was told of it last.
fn done(told: Option<Told>) -> Result<bool, StoreError> {
    match told {
        Some(Told::Ended(ended)) => ended.map(|()| true).map_err(StoreError::Unavailable),
        Some(Told::Undone(undone)) => undone.map(|()| false),
        Some(Told::Turn(_)) | None => Err(given_up()),
    }
}

impl Turn<'_> {
    /// The transaction that others write in too, begun if there is none.
    fn transaction(&mut self) -> Result<&mut Open, StoreError> {
        let open = match self.open.take() {
            Some(open) => open,
            None => Box::new(Open::begin(&self.group.pool)?),
        };
        Ok(self.open.insert(open))
    }

    /// Writes for those who wait and made their work ready, up to the first who did not.
    fn go_on(mut self) {
        while let Some((ready, told)) = self.next_ready() {
            if let Some(open) = &mut self.open {
                open.write_ready(told, ready);
            }
        }
    }

    /// The work of the next who waits, if it is ready and goes into this transaction.
    fn next_ready(&self) -> Option<(Ready, Sender<Told>)> {
        self.open.as_ref().filter(|open| open.takes_more(self.group.members_max))?;
        let mut queue = self.group.queue();
        let next = queue.waiting.front_mut()?;
        let next = (next.ready.take()?, next.told.clone());
        queue.waiting.pop_front();
        Some(next)
    }
}

impl Drop for Turn<'_> {
    fn drop(&mut self) {
        let mut open = self.open.take();
        if let Some(open) = &mut open {
            open.take_back();
        }
        let mut queue = self.group.queue();
        let goes_on = |open: &Open| open.takes_more(self.group.members_max);
        let mut over = None;
        if queue.waiting.is_empty() || !open.as_deref().is_some_and(goes_on) {
            // The turn stays taken, and nobody begins another transaction meanwhile.
            drop(queue);
            over = open.take().map(|open| open.end());
            queue = self.group.queue();
        }
        match queue.waiting.pop_front() {
            // It listens until it is told something, and so has the transaction now.
            Some(next) => drop(next.told.send(Told::Turn(open))),
            None => queue.taken = false,
        }
        drop(queue);
        // The next one writes meanwhile.
        if let Some(over) = over {
            over.tell();
        }
    }
}

impl Open {
    fn begin(pool: &Arc<Pool>) -> Result<Self, StoreError> {
        let (lease, conn) = pool.begin(Access::Write)?;
        Ok(Self { lease, conn, lost: None, apart: false, members: Vec::new() })
    }

    /// Whether another may write in it.
    fn takes_more(&self, members_max: usize) -> bool {
        self.lost.is_none() && self.members.len() < members_max
    }

    /// Runs `work` in a savepoint; the end of the transaction is told to `told` when it comes. Without an answer, or
    /// after a panic, [`Open::take_back`] has to follow.
    fn write<T>(
        &mut self,
        told: Sender<Told>,
        work: impl FnOnce(&mut AnyConn) -> Result<T, StoreError>,
    ) -> Result<T, StoreError> {
        // It can be done once.
        self.apart = true;
        let value = self.in_part(|open| open.run(work))?;
        self.members.push(Member { told, ready: None });
        Ok(value)
    }

    /// Does work that was made ready, and tells what became of it once that is known.
    fn write_ready(&mut self, told: Sender<Told>, ready: Ready) {
        if !self.apart {
            match self.attempt(&ready) {
                Ok(true) => return self.members.push(Member { told, ready: Some(ready) }),
                Err(_) if self.lost.is_some() => {}
                Ok(false) | Err(_) => self.begin_again(),
            }
        }
        self.write_apart(told, ready);
    }

    /// Takes back what all wrote, and writes it again in savepoints.
    fn begin_again(&mut self) {
        self.apart = true;
        // Work that panicked may have left a part of its own open.
        let begun = dialect::roll_back_parts(&mut self.conn)
            .and_then(|()| dialect::roll_back(&mut self.conn))
            .and_then(|()| dialect::begin(&mut self.conn, Access::Write));
        self.lost = begun.err().map(|error| error.to_string());
        for Member { told, ready } in mem::take(&mut self.members) {
            if let Some(ready) = ready {
                self.write_apart(told, ready);
            }
        }
    }

    /// Does work that was made ready in a savepoint.
    fn write_apart(&mut self, told: Sender<Told>, ready: Ready) {
        let mut kept = true;
        let written = self.in_part(|open| {
            kept = open.attempt(&ready)?;
            if kept { Ok(()) } else { Err(Error::RollbackTransaction.into()) }
        });
        let undone = match written {
            Ok(()) => return self.members.push(Member { told, ready: Some(ready) }),
            Err(_) if !kept => Ok(()),
            Err(error) => Err(error),
        };
        self.take_back();
        // Nobody listens any more when the thread that waited is gone.
        let _ = told.send(Told::Undone(undone));
    }

    /// Runs `work` in a savepoint, unless all is lost.
    fn in_part<T>(
        &mut self,
        work: impl FnOnce(&mut Self) -> Result<T, StoreError>,
    ) -> Result<T, StoreError> {
        if let Some(said) = &self.lost {
            return Err(StoreError::Unavailable(said.clone()));
        }
        let begun = dialect::begin_part(&mut self.conn);
        begun.inspect_err(|error| self.lost = Some(error.to_string()))?;
        let value = work(self)?;
        let ended = dialect::commit(&mut self.conn);
        ended.inspect_err(|error| self.lost = Some(error.to_string()))?;
        Ok(value)
    }

    /// Does work that was made ready. Its panic is nobody else's, whoever does it.
    fn attempt(&mut self, ready: &Ready) -> Result<bool, StoreError> {
        let done = catch_unwind(AssertUnwindSafe(|| self.run(|conn| ready(conn))));
        done.unwrap_or_else(|_| Err(given_up()))
    }

    /// Runs `work`, and minds when the database took back everything, as `SQLite` does when the disk is full.
    fn run<T>(
        &mut self,
        work: impl FnOnce(&mut AnyConn) -> Result<T, StoreError>,
    ) -> Result<T, StoreError> {
        work(&mut self.conn).inspect_err(|error| {
            if let StoreError::Unavailable(said) = error {
                self.lost = Some(said.clone());
            }
        })
    }

    /// Takes back what one did whose turn ended half-way.
    fn take_back(&mut self) {
        if let Err(error) = dialect::roll_back_parts(&mut self.conn) {
            self.lost.get_or_insert(error.to_string());
        }
    }

    /// Commits.
    fn end(mut self) -> Over {
        let ended = match self.lost {
            Some(said) => Err(said),
            None => dialect::commit(&mut self.conn).map_err(|error| error.to_string()),
        };
        // Where it cannot even be taken back, the connection is in a state that nobody knows.
        if ended.is_ok() || dialect::roll_back(&mut self.conn).is_ok() {
            self.lease.keep(self.conn);
        }
        Over { ended, members: self.members }
    }
}

impl Over {
    /// Tells all who wrote.
    fn tell(self) {
        let Self { ended, members } = self;
        for Member { told, ready } in members {
            // Who is told wants to be the last who holds its work.
            drop(ready);
            // Nobody listens any more when the thread that wrote is gone.
            let _ = told.send(Told::Ended(ended.clone()));
        }
    }
}

#[cfg(test)]
mod tests;
