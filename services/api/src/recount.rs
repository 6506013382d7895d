//! After an engine type changed, its engines are worked out anew in the background: a few at a time, between
//! posts. Until then their lines say which version they follow. So are those that follow what was known of their
//! type's wear long ago.

use crate::programmes::Cache;
use actix_web::{rt, web};
use gudgeon_store::{Store, StoreError};
use std::sync::Arc;
use std::time::Duration;

/// Engines worked out between two looks at how far it is.
const CHUNK: usize = 50;
/// How often to look whether another replica activated something, or a failure left something over.
const EVERY: Duration = Duration::from_mins(1);

/// Works out anew all engines that are not counted by the active version of their type, or not by what is known of
/// its wear, and tells `progress` how many are done.
///
/// # Errors
/// [`StoreError`] when the database fails; what was worked out before stays.
pub fn recount_all(
    store: &Store,
    programmes: &Cache,
    mut progress: impl FnMut(usize),
) -> Result<usize, StoreError> {
    let mut done = 0;
    loop {
        let counted = store.recount_some(CHUNK, programmes)?;
        if counted == 0 {
            return Ok(done);
        }
        done += counted;
        progress(done);
    }
}

/// Keeps all engines counted by the active versions, for as long as the service runs.
pub async fn keep_counted(store: Store, programmes: Arc<Cache>) {
    loop {
        in_background(store.clone(), Arc::clone(&programmes)).await;
        rt::time::sleep(EVERY).await;
    }
}

/// Recounts until nothing is left, and logs what came of it. Each chunk is a call of its own on a blocking
/// thread, so that a service which is asked to stop waits for no more than one.
pub(crate) async fn in_background(store: Store, programmes: Arc<Cache>) {
    let mut engines = 0;
    loop {
        let (store, programmes) = (store.clone(), Arc::clone(&programmes));
        match web::block(move || store.recount_some(CHUNK, &*programmes)).await {
            // None is left, or the service is ending and the next one goes on.
            Ok(Ok(0)) | Err(_) => break,
            Ok(Ok(counted)) => engines += counted,
            Ok(Err(error)) => {
                tracing::error!(%error, "engines could not be counted anew");
                break;
            }
        }
    }
    if engines > 0 {
        tracing::info!(engines, "counted anew by what is known of their types now");
    }
}
