//! Writers of `SQLite` that share a commit, so that they share the wait for the disk too.
//!
//! There is one transaction at a time. Whoever writes takes its turn in it, in a savepoint of its own. When others
//! wait by then, it writes for those who made their work ready before, hands the transaction on to the first who did
//! not, and waits for its end; the last of them commits for all. While it does, the next gather. Nobody is answered
//! before what it wrote is on the disk: all are when the commit succeeds, and all fail alike when it fails.

use crate::dialect::{self, Access, AnyConn};
use crate::error::StoreError;
use crate::pool::{Lease, Pool, WAIT_MAX};
use diesel::result::Error;
use std::collections::VecDeque;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::mpsc::{self, Receiver, RecvTimeoutError, Sender};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// Work that another thread can do; false when it came otherwise, and nothing of it is to be kept.
pub(crate) type Ready = Box<dyn FnOnce(&mut AnyConn) -> Result<bool, StoreError> + Send>;

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
    /// That it is its turn, in the transaction that is handed on if there is one; its work comes back.
    Turn(Option<Box<Open>>, Option<Ready>),
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
    /// Those who wrote, and wait for the end.
    members: Vec<Sender<Told>>,
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
        let mut turn = match self.wait(None)? {
            Next::Turn(turn, _) => turn,
            Next::Done(_) => return Err(given_up()),
        };
        let (member, end) = mpsc::channel();
        let value = turn.write(member, work)?;
        turn.go_on();
        ended(&end).map(|()| value)
    }

    /// The same for work that another thread can do; false when nothing of it was kept as it came otherwise.
    pub(crate) fn run_ready(&self, work: Ready) -> Result<bool, StoreError> {
        let (mut turn, work) = match self.wait(Some(work))? {
            Next::Turn(turn, Some(work)) => (turn, work),
            Next::Turn(_, None) => return Err(given_up()),
            Next::Done(kept) => return Ok(kept),
        };
        let (member, end) = mpsc::channel();
        let kept = turn.write_ready(member, work)?;
        turn.go_on();
        if kept { ended(&end).map(|()| true) } else { Ok(false) }
    }

    /// Waits for the turn, or for others to do the work.
    fn wait(&self, ready: Option<Ready>) -> Result<Next<'_>, StoreError> {
        let (told, tells) = mpsc::channel();
        let number = {
            let mut queue = self.queue();
            if !queue.taken {
                queue.taken = true;
                return Ok(Next::Turn(Turn { group: self, open: None }, ready));
            }
            queue.came += 1;
            let number = queue.came;
            queue.waiting.push_back(Waiting { number, ready, told });
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
            Some(Told::Turn(open, ready)) => Ok(Next::Turn(Turn { group: self, open }, ready)),
            Some(Told::Undone(done)) => done.map(|()| Next::Done(false)),
            Some(Told::Ended(ended)) => {
                ended.map(|()| Next::Done(true)).map_err(StoreError::Unavailable)
            }
            None => Err(given_up()),
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
    /// It is one's turn, with the work that was made ready.
    Turn(Turn<'a>, Option<Ready>),
    /// Others did the work, and whether it is kept.
    Done(bool),
}

fn given_up() -> StoreError {
    StoreError::Unavailable("a write was given up half-way".to_owned())
}

/// Waits for the end of the transaction that one's work is in.
fn ended(end: &Receiver<Told>) -> Result<(), StoreError> {
    match end.recv() {
        Ok(Told::Ended(ended)) => ended.map_err(StoreError::Unavailable),
        _ => Err(given_up()),
    }
}

impl Turn<'_> {
    /// Runs `work` in a savepoint; the end of the transaction is told to `member`.
    fn write<T>(
        &mut self,
        member: Sender<Told>,
        work: impl FnOnce(&mut AnyConn) -> Result<T, StoreError>,
    ) -> Result<T, StoreError> {
        let open = match self.open.take() {
            Some(open) => open,
            None => Box::new(Open::begin(&self.group.pool)?),
        };
        self.open.insert(open).write(member, work)
    }

    /// The same for work that may come otherwise: false, and `member` is told nothing, when it did.
    fn write_ready(&mut self, member: Sender<Told>, work: Ready) -> Result<bool, StoreError> {
        let mut kept = true;
        let written = self.write(member, |conn| {
            kept = work(conn)?;
            if kept { Ok(()) } else { Err(Error::RollbackTransaction.into()) }
        });
        match written {
            Err(_) if !kept => {
                if let Some(open) = &mut self.open {
                    open.take_back();
                }
                Ok(false)
            }
            written => written.map(|()| true),
        }
    }

    /// Writes for those who wait and made their work ready, up to the first who did not.
    fn go_on(mut self) {
        while let Some((ready, told)) = self.next_ready() {
            let member = told.clone();
            // Another's panic is not this writer's.
            let written = catch_unwind(AssertUnwindSafe(|| self.write_ready(member, ready)));
            let undone = match written {
                Ok(Ok(true)) => continue,
                Ok(Ok(false)) => Ok(()),
                Ok(Err(error)) => Err(error),
                Err(_) => Err(given_up()),
            };
            if let Some(open) = &mut self.open {
                open.take_back();
            }
            // Nobody listens any more when the thread that waited is gone.
            let _ = told.send(Told::Undone(undone));
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
        if queue.waiting.is_empty() || !open.as_deref().is_some_and(goes_on) {
            // The turn stays taken, and nobody begins another transaction meanwhile.
            drop(queue);
            if let Some(open) = open.take() {
                open.end();
            }
            queue = self.group.queue();
        }
        match queue.waiting.pop_front() {
            // It listens until it is told something, and so has the transaction now.
            Some(next) => drop(next.told.send(Told::Turn(open, next.ready))),
            None => queue.taken = false,
        }
    }
}

impl Open {
    fn begin(pool: &Arc<Pool>) -> Result<Self, StoreError> {
        let (lease, conn) = pool.begin(Access::Write)?;
        Ok(Self { lease, conn, lost: None, members: Vec::new() })
    }

    /// Whether another may write in it.
    fn takes_more(&self, members_max: usize) -> bool {
        self.lost.is_none() && self.members.len() < members_max
    }

    /// Runs `work` in a savepoint; `member` is told the end of the transaction when it comes. Without an answer, or
    /// after a panic, [`Open::take_back`] has to follow.
    fn write<T>(
        &mut self,
        member: Sender<Told>,
        work: impl FnOnce(&mut AnyConn) -> Result<T, StoreError>,
    ) -> Result<T, StoreError> {
        let Self { conn, lost, members, .. } = self;
        dialect::begin_part(conn).inspect_err(|error| *lost = Some(error.to_string()))?;
        let value = work(conn).inspect_err(|error| {
            // `SQLite` may have taken back everything, as it does when the disk is full.
            if let StoreError::Unavailable(said) = error {
                *lost = Some(said.clone());
            }
        })?;
        dialect::commit(conn).inspect_err(|error| *lost = Some(error.to_string()))?;
        members.push(member);
        Ok(value)
    }

    /// Takes back what one did whose turn ended half-way.
    fn take_back(&mut self) {
        if let Err(error) = dialect::roll_back_parts(&mut self.conn) {
            self.lost.get_or_insert(error.to_string());
        }
    }

    /// Commits, and tells all who wrote.
    fn end(mut self) {
        let ended = match self.lost {
            Some(said) => Err(said),
            None => dialect::commit(&mut self.conn).map_err(|error| error.to_string()),
        };
        // Where it cannot even be taken back, the connection is in a state that nobody knows.
        if ended.is_ok() || dialect::roll_back(&mut self.conn).is_ok() {
            self.lease.keep(self.conn);
        }
        for member in self.members {
            // Nobody listens any more when the thread that wrote is gone.
            let _ = member.send(Told::Ended(ended.clone()));
        }
    }
}

#[cfg(test)]
mod tests;
