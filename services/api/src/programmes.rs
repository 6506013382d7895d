//! Engine types read once: the store keeps their text, this keeps what the text says, by digest.

use gudgeon_life::programme::EngineType;
use gudgeon_store::Programmes;
use std::collections::HashMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// Engine types by the SHA-256 of their file.
///
/// It only grows by versions that the operator activated, a handful in the life of a process.
#[derive(Debug, Default)]
pub struct Cache(Mutex<HashMap<[u8; 32], Arc<EngineType>>>);

impl Cache {
    /// A panic elsewhere cannot leave a map of finished values half written.
    fn types(&self) -> MutexGuard<'_, HashMap<[u8; 32], Arc<EngineType>>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Programmes for Cache {
    fn known(&self, digest: &[u8; 32]) -> Option<Arc<EngineType>> {
        self.types().get(digest).map(Arc::clone)
    }

    fn get(&self, digest: &[u8; 32], toml: &str) -> Option<Arc<EngineType>> {
        if let Some(known) = self.known(digest) {
            return Some(known);
        }
        match gudgeon_catalogue::parse("stored engine type", toml) {
            Ok(read) => {
                let read = Arc::new(read);
                self.types().insert(*digest, Arc::clone(&read));
                Some(read)
            }
            Err(faults) => {
                let first = faults.first().map(ToString::to_string).unwrap_or_default();
                tracing::error!(
                    faults = faults.len(),
                    first,
                    "a stored engine type cannot be read"
                );
                None
            }
        }
    }
}
