//! What is remembered of engines between posts, so that the next post about one reads nothing of it again.
//!
//! It is only ever a guess: others may have written since, in this process or another. Whoever works by it writes on
//! the condition that the engine's revision is still the one it was remembered at (`foresight.rs`). It holds what
//! facts say and the rows worked out from them, and no private text.
//!
//! An engine is taken out to be worked with and put back as it is written then, so that nothing is copied, and what
//! turned out wrong is gone.

use crate::bytes::Id;
use crate::custody;
use crate::dialect::AnyConn;
use crate::error::StoreError;
use crate::facts::{self, Records};
use crate::graph;
use crate::parts::PartRows;
use crate::recompute::Written;
use crate::streams::StreamRow;
use chrono::NaiveDate;
use gudgeon_life::fact::Stream;
use gudgeon_life::ids::EngineId;
use std::collections::{BTreeMap, HashMap};
use std::sync::{Mutex, MutexGuard, PoisonError};

/// How many engines are remembered at most.
const ENGINES_MAX: usize = 4_000;

/// An engine's records, and what is written of it.
pub(crate) struct Known {
    pub(crate) engine: EngineId,
    pub(crate) key: i64,
    pub(crate) records: Records,
    pub(crate) written: Written,
    /// The workshop that it was last given to, and the last day of that.
    pub(crate) custodian: Option<(Id, NaiveDate)>,
    pub(crate) parts: PartRows,
    /// What a fact of its own stream is appended to, once one was.
    pub(crate) own: Option<Own>,
}

/// The stream of an engine.
#[derive(Clone)]
pub(crate) struct Own {
    pub(crate) stream: StreamRow,
    /// The engines that its facts touch, in id order.
    pub(crate) touched: Vec<(EngineId, i64)>,
    /// Whether the engine's registration is here.
    pub(crate) registered: bool,
}

impl Known {
    /// Reads what is written of an engine and its records.
    pub(crate) fn read(
        conn: &mut AnyConn,
        engine: EngineId,
        key: i64,
        own: Option<Own>,
    ) -> Result<Self, StoreError> {
        let records = Records::around(conn, key, Stream::engine(engine))?;
        Ok(Self {
            engine,
            key,
            written: Written::read(conn, key)?,
            custodian: custody::custodian(conn, key)?,
            parts: PartRows::read(conn, key, &records.streams)?,
            records,
            own,
        })
    }
}

impl Own {
    pub(crate) fn read(
        conn: &mut AnyConn,
        engine: EngineId,
        stream: StreamRow,
    ) -> Result<Self, StoreError> {
        let touched = graph::touched(conn, stream.id, Stream::engine(engine))?;
        let touched = graph::engines_in_id_order(&touched).collect();
        Ok(Self { stream, touched, registered: facts::is_here(conn, Id::from(engine.0))? })
    }
}

/// Engines, those that were put in last.
pub(crate) struct Remembered {
    /// How many bytes their facts may have, as they are kept.
    bytes_max: usize,
    engines: Mutex<Engines>,
}

#[derive(Default)]
struct Engines {
    by_id: HashMap<EngineId, (u64, Known)>,
    by_age: BTreeMap<u64, EngineId>,
    put: u64,
    bytes: usize,
}

impl Remembered {
    /// Nothing yet, and never facts of more than so many mebibytes.
    pub(crate) fn new(mebibytes_max: u16) -> Self {
        Self { bytes_max: usize::from(mebibytes_max) << 20, engines: Mutex::default() }
    }

    /// Takes out all engines that a fact of an engine's stream touches, if all of them are there; else none stays.
    pub(crate) fn take(&self, engine: EngineId) -> Option<Vec<Known>> {
        let mut engines = self.engines();
        let first = engines.take(engine)?;
        let touched = first.own.as_ref()?.touched.clone();
        let mut first = Some(first);
        touched
            .into_iter()
            .map(|(id, _)| if id == engine { first.take() } else { engines.take(id) })
            .collect()
    }

    /// Puts engines in, and forgets those put in longest ago when there are too many.
    pub(crate) fn put(&self, known: impl IntoIterator<Item = Known>) {
        let mut engines = self.engines();
        for known in known {
            engines.put(known);
        }
        while engines.bytes > self.bytes_max || engines.by_id.len() > ENGINES_MAX {
            let Some((_, oldest)) = engines.by_age.pop_first() else { return };
            engines.take(oldest);
        }
    }

    /// A panic while the lock is held leaves nothing that is not checked before it is used.
    fn engines(&self) -> MutexGuard<'_, Engines> {
        self.engines.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Engines {
    fn take(&mut self, id: EngineId) -> Option<Known> {
        let (age, known) = self.by_id.remove(&id)?;
        self.by_age.remove(&age);
        self.bytes -= known.records.bytes;
        Some(known)
    }

    fn put(&mut self, known: Known) {
        self.take(known.engine);
        self.put += 1;
        self.bytes += known.records.bytes;
        self.by_age.insert(self.put, known.engine);
        self.by_id.insert(known.engine, (self.put, known));
    }
}
