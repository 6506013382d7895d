//! Engine types read once: the store keeps their text, this keeps what the text says, by digest.

use gudgeon_life::programme::EngineType;
use gudgeon_store::Programmes;
use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

/// Engine types by the SHA-256 of their file.
///
/// It only grows by versions that the operator activated, a handful in the life of a process.
#[derive(Debug, Default)]
pub struct Cache(Mutex<HashMap<[u8; 32], Arc<EngineType>>>);

impl Programmes for Cache {
    fn get(&self, digest: &[u8; 32], toml: &str) -> Option<Arc<EngineType>> {
        // A panic elsewhere cannot leave a map of finished values half written.
        let mut types = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(known) = types.get(digest) {
            return Some(Arc::clone(known));
        }
        match gudgeon_catalogue::parse("stored engine type", toml) {
            Ok(read) => {
                let read = Arc::new(read);
                types.insert(*digest, Arc::clone(&read));
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
