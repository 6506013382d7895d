//! Writers of `SQLite` that share a commit, so that they share the wait for the disk too.
//!
//! There is one transaction at a time. Whoever writes takes its turn in it, in a savepoint of its own and on
//! its own thread; when others wait by then, it hands the transaction on and waits for its end, and the last
//! of them commits for all. While it does, the next gather. Nobody is answered before what it wrote is on
//! the disk: all are when the commit succeeds, and all fail alike when it fails.

use crate::dialect::{self, Access, AnyConn};
use crate::error::StoreError;
use crate::pool::{Lease, Pool, WAIT_MAX};
use std::sync::mpsc::{self, Receiver, Sender};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};

/// The turns of those who write to one file.
pub(crate) struct Group {
    pool: Arc<Pool>,
    /// How many writes share a commit at most, so that the first of them does not wait for ever.
    members_max: usize,
    queue: Mutex<Queue>,
    next: Condvar,
}

#[derive(Default)]
struct Queue {
    waiting: usize,
    /// Whether it is somebody's turn.
    taken: bool,
    /// The transaction that was handed on. Between two turns it is here only while somebody waits, whose turn
    /// comes before any waiting ends.
    open: Option<Open>,
}

/// One writer's turn. When it ends, however that came about, the transaction is handed on or ended.
struct Turn<'a> {
    group: &'a Group,
    open: Option<Open>,
}

/// A transaction that several share.
struct Open {
    lease: Lease,
    conn: AnyConn,
    /// What the database said, once nothing of this can be kept.
    lost: Option<String>,
    /// Those who wrote, and wait for the end.
    members: Vec<Sender<Ended>>,
}

/// Whether a transaction was kept, or what the database said instead.
type Ended = Result<(), String>;

impl Group {
    /// Turns on the one connection of a pool.
    pub(crate) fn new(pool: Arc<Pool>, members_max: usize) -> Self {
        Self { pool, members_max, queue: Mutex::default(), next: Condvar::new() }
    }

    /// Runs `work` as if in a transaction of its own: all of it is kept, or none.
    pub(crate) fn run<T>(
        &self,
        work: impl FnOnce(&mut AnyConn) -> Result<T, StoreError>,
    ) -> Result<T, StoreError> {
        let mut turn = self.turn()?;
        let open = match turn.open.take() {
            Some(open) => open,
            None => Open::begin(&self.pool)?,
        };
        let (value, end) = turn.open.insert(open).write(work)?;
        drop(turn);
        match end.recv() {
            Ok(Ok(())) => Ok(value),
            Ok(Err(said)) => Err(StoreError::Unavailable(said)),
            Err(_) => Err(StoreError::Unavailable("a write was given up half-way".to_owned())),
        }
    }

    /// Waits for the turn.
    fn turn(&self) -> Result<Turn<'_>, StoreError> {
        let mut queue = self.queue();
        queue.waiting += 1;
        let (mut queue, waited) = self
            .next
            .wait_timeout_while(queue, WAIT_MAX, |queue| queue.taken)
            .unwrap_or_else(PoisonError::into_inner);
        queue.waiting -= 1;
        if waited.timed_out() {
            let seconds = WAIT_MAX.as_secs();
            return Err(StoreError::Unavailable(format!(
                "others were writing for {seconds} seconds"
            )));
        }
        queue.taken = true;
        Ok(Turn { group: self, open: queue.open.take() })
    }

    /// A panic while the lock is held leaves nothing half-done: no work is done under it.
    fn queue(&self) -> MutexGuard<'_, Queue> {
        self.queue.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Drop for Turn<'_> {
    fn drop(&mut self) {
        let mut open = self.open.take();
        if let Some(open) = &mut open {
            open.take_back();
        }
        let mut queue = self.group.queue();
        let goes_on =
            |open: &Open| open.lost.is_none() && open.members.len() < self.group.members_max;
        if queue.waiting > 0 && open.as_ref().is_some_and(goes_on) {
            queue.open = open;
        } else if let Some(open) = open {
            drop(queue);
            open.end();
            queue = self.group.queue();
        }
        queue.taken = false;
        drop(queue);
        self.group.next.notify_one();
    }
}

impl Open {
    fn begin(pool: &Arc<Pool>) -> Result<Self, StoreError> {
        let (lease, conn) = pool.begin(Access::Write)?;
        Ok(Self { lease, conn, lost: None, members: Vec::new() })
    }

    /// Runs `work` in a savepoint; the end of the transaction is told when it comes. Without an answer, or
    /// after a panic, [`Open::take_back`] has to follow.
    fn write<T>(
        &mut self,
        work: impl FnOnce(&mut AnyConn) -> Result<T, StoreError>,
    ) -> Result<(T, Receiver<Ended>), StoreError> {
        let Self { conn, lost, members, .. } = self;
        dialect::begin_part(conn).inspect_err(|error| *lost = Some(error.to_string()))?;
        let value = work(conn).inspect_err(|error| {
            // `SQLite` may have taken back everything, as it does when the disk is full.
            if let StoreError::Unavailable(said) = error {
                *lost = Some(said.clone());
            }
        })?;
        dialect::commit(conn).inspect_err(|error| *lost = Some(error.to_string()))?;
        let (member, end) = mpsc::channel();
        members.push(member);
        Ok((value, end))
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
            let _ = member.send(ended.clone());
        }
    }
}

#[cfg(test)]
mod tests;
