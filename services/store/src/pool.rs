//! A bounded set of connections: handed out one at a time, opened when needed, dropped when they are lost.

use crate::connect;
use crate::dialect::{self, Access, AnyConn};
use crate::error::StoreError;
use crate::url::Place;
use diesel::QueryResult;
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

/// How long a caller waits for a connection that others hold.
pub(crate) const WAIT_MAX: Duration = Duration::from_secs(30);

/// Connections to one place, for one kind of work.
pub(crate) struct Pool {
    place: Place,
    readers_only: bool,
    connections_max: usize,
    held: Mutex<Held>,
    given_back: Condvar,
}

#[derive(Default)]
struct Held {
    idle: Vec<AnyConn>,
    /// Handed out, being opened or idle.
    open: usize,
}

/// One connection, until it is dropped.
pub(crate) struct Lease {
    pool: Arc<Pool>,
    /// Gone when the connection is lost.
    conn: Option<AnyConn>,
}

impl Pool {
    /// A pool with nothing open yet. Connections of one with `readers_only` can write nothing.
    pub(crate) fn new(place: Place, readers_only: bool, connections_max: usize) -> Self {
        let held = Mutex::default();
        Self { place, readers_only, connections_max, held, given_back: Condvar::new() }
    }

    /// Takes a connection into the pool that was opened elsewhere.
    pub(crate) fn take_in(&self, conn: AnyConn) {
        let mut held = self.held();
        held.open += 1;
        held.idle.push(conn);
    }

    /// Runs `work` in one transaction: all of it is kept, or none.
    pub(crate) fn run<T>(
        self: &Arc<Self>,
        access: Access,
        work: impl FnOnce(&mut AnyConn) -> Result<T, StoreError>,
    ) -> Result<T, StoreError> {
        let (lease, mut conn) = self.begin(access)?;
        let done = work(&mut conn).and_then(|value| {
            dialect::commit(&mut conn)?;
            Ok(value)
        });
        // Where it cannot even be taken back, the connection is lost or in a state that nobody knows.
        if done.is_ok() || dialect::roll_back(&mut conn).is_ok() {
            lease.keep(conn);
        }
        done
    }

    /// Runs `work` on a connection without a transaction.
    pub(crate) fn alone<T>(
        self: &Arc<Self>,
        work: impl FnOnce(&mut AnyConn) -> QueryResult<T>,
    ) -> Result<T, StoreError> {
        let mut lease = self.lease()?;
        let mut conn = match lease.conn.take() {
            Some(conn) => conn,
            None => connect::connect(&self.place, self.readers_only)?,
        };
        let value = work(&mut conn)?;
        lease.keep(conn);
        Ok(value)
    }

    /// A connection on which a transaction has begun. One to a server that was lost while it lay idle is
    /// replaced: nothing was asked of it yet.
    pub(crate) fn begin(self: &Arc<Self>, access: Access) -> Result<(Lease, AnyConn), StoreError> {
        loop {
            let mut lease = self.lease()?;
            let (mut conn, may_be_lost) = match lease.conn.take() {
                Some(conn) => (conn, matches!(self.place, Place::Postgres(_))),
                None => (connect::connect(&self.place, self.readers_only)?, false),
            };
            match dialect::begin(&mut conn, access) {
                Ok(()) => return Ok((lease, conn)),
                Err(_) if may_be_lost => {}
                Err(error) => return Err(error.into()),
            }
        }
    }

    /// Leave to hold one connection, with an idle one if there is any.
    fn lease(self: &Arc<Self>) -> Result<Lease, StoreError> {
        let all_busy = |held: &mut Held| held.idle.is_empty() && held.open >= self.connections_max;
        let (mut held, waited) = self
            .given_back
            .wait_timeout_while(self.held(), WAIT_MAX, all_busy)
            .unwrap_or_else(PoisonError::into_inner);
        if waited.timed_out() {
            let seconds = WAIT_MAX.as_secs();
            return Err(StoreError::Unavailable(format!(
                "all {} connections were busy for {seconds} seconds",
                self.connections_max
            )));
        }
        let conn = held.idle.pop();
        held.open += usize::from(conn.is_none());
        Ok(Lease { pool: Arc::clone(self), conn })
    }

    /// A panic while the lock is held leaves nothing half-done: no work is done under it.
    fn held(&self) -> MutexGuard<'_, Held> {
        self.held.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Lease {
    /// Gives the connection back for others.
    pub(crate) fn keep(mut self, conn: AnyConn) {
        self.conn = Some(conn);
    }
}

impl Drop for Lease {
    fn drop(&mut self) {
        let mut held = self.pool.held();
        match self.conn.take() {
            Some(conn) => held.idle.push(conn),
            None => held.open -= 1,
        }
        self.pool.given_back.notify_one();
    }
}
